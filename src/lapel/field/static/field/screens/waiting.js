/** What still waits on this device, why, and how to get it to the office when there will be no network at all. */

import { h } from './drawing.js';
import { problemText, reasonsOf } from './desk.js';
import { button, facts, head, message } from './parts.js';
import { download } from './notes.js';
import { dayTimeText, spanText } from './telling.js';
import { codeText, say, tell } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */

/** How the outbox stands, in a few words. @param {Desk} desk */
export function sendingText(desk) {
  const { outbox } = desk.view;
  if (outbox.refused.length > 0) return say('sync.refused', { n: outbox.refused.length });
  if (outbox.state === 'pair again') return say('sync.pair-again');
  if (outbox.waiting === 0) return say('sync.none');
  if (outbox.state === 'sending') return say('sync.sending', { n: outbox.waiting });
  return say('sync.waiting', { n: outbox.waiting });
}

/** @param {Desk} desk @returns {'good' | 'care' | 'stop' | 'plain'} */
export function sendingLevel(desk) {
  const { outbox, storage } = desk.view;
  if (outbox.refused.length > 0 || storage.full || storage.problem) return 'stop';
  if (outbox.state === 'pair again' || outbox.state === 'survey unknown') return 'care';
  return outbox.waiting === 0 ? 'good' : 'plain';
}

/** @param {Desk} desk @returns {Piece[]} */
export function waitingScreen(desk) {
  const { outbox, storage, update, clock } = desk.view;
  const next = outbox.next_try_at ? Math.max(0, (outbox.next_try_at - desk.now) / 60000) : null;
  const states = /** @type {const} */ ({
    idle: 'sync.idle',
    sending: 'sync.is-sending',
    waiting: 'sync.is-waiting',
    unreachable: 'sync.unreachable',
    'pair again': 'sync.pair-again',
    'survey unknown': 'sync.survey-unknown',
  });
  const exported = async () => {
    for (const file of await desk.field.exportWaiting()) {
      download(file.name, new Blob([file.text], { type: 'application/jsonl' }));
      desk.tell('good', say('sync.exported', { n: file.count, name: file.name }));
    }
  };
  const takeIn = async (/** @type {Event} */ event) => {
    const file = /** @type {HTMLInputElement} */ (event.target).files?.[0];
    if (!file) return;
    try {
      desk.tell('good', say('sync.taken-in', { n: await desk.field.takeReceipts(await file.text()) }));
    } catch (problem) {
      desk.tell('stop', say('sync.not-receipts'), [], reasonsOf(problem));
    }
  };
  return [
    head(desk, say('waiting.title'), { back: ['more'], under: say('waiting.under') }),
    h('p', { class: 'great-number' }, String(outbox.waiting), h('small', null, say('waiting.entries'))),
    outbox.waiting === 0 && outbox.refused.length === 0
      ? message('good', say('sync.none'))
      : message(outbox.state === 'pair again' ? 'care' : 'plain', say(states[outbox.state]), tell(outbox.problem)),
    facts([
      [
        say('sync.last'),
        outbox.last_confirmed_at ? dayTimeText(outbox.last_confirmed_at, desk.zone, desk.now) : say('sync.never'),
      ],
      [say('sync.next'), next === null ? '–' : spanText(next)],
      [
        say('sync.clock'),
        clock.ahead_s === null
          ? say('sync.not-measured')
          : say('sync.clock-off', { seconds: Math.round(clock.ahead_s) }),
      ],
      [say('sync.keeps'), storage.persisted ? say('sync.promised') : say('sync.not-promised')],
    ]),
    button(say('sync.now'), () => void desk.field.sync(), { off: outbox.state === 'sending' }),
    outbox.state === 'pair again' && button(say('more.pair'), () => desk.go('pairing'), { kind: 'quiet' }),
    storage.full && message('stop', say('storage.full'), say('storage.full-do')),
    !storage.persisted &&
      button(
        say('sync.ask-keep'),
        async () =>
          (await desk.field.askPersist())
            ? desk.tell('good', say('sync.promised'))
            : desk.tell('care', say('sync.still-not-promised')),
        { kind: 'quiet' },
      ),
    ...outbox.refused.map((one) =>
      message(
        'stop',
        say('sync.refused-one', { kind: codeText(one.entry.kind), number: one.number }),
        ...one.problems.map(problemText),
        say('sync.refused-do'),
      ),
    ),
    h(
      'section',
      { class: 'worst-day' },
      h('h2', null, say('export.title')),
      h('p', null, say('export.why')),
      button(
        say('export.go', { n: outbox.waiting + outbox.refused.length + outbox.elsewhere }),
        () => void exported(),
        { kind: 'quiet', off: outbox.waiting + outbox.refused.length + outbox.elsewhere === 0 },
      ),
      h(
        'div',
        { class: 'box' },
        h('label', { for: 'receipts', class: 'file-label' }, say('export.receipts')),
        h('input', {
          id: 'receipts',
          type: 'file',
          accept: '.json,application/json',
          on: { change: (/** @type {Event} */ event) => void takeIn(event) },
        }),
        h('p', { class: 'hint' }, say('export.receipts-hint')),
      ),
    ),
    update.offered && message('plain', say('update.title'), update.blocked ? tell(update.why) : say('update.do')),
    update.offered && !update.blocked && button(say('update.go'), () => desk.field.applyUpdate()),
  ];
}
