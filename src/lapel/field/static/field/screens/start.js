/** Hang and start: the worker, a sampler on every port by its label, the reminders, and the start to the minute. */

import * as acts from './acts.js';
import { bindPort } from './binding.js';
import { blankBar } from './blanks.js';
import { h } from './drawing.js';
import { pad } from './pad.js';
import { button, chip, choices, head, list, message, reminders, somePorts } from './parts.js';
import { stepOf } from './prepare.js';
import { minutesText, timeText } from './telling.js';
import { byDay, portsWaiting } from './trains_of_day.js';
import { atOf, momentOf, when } from './when.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').TrainNow} TrainNow */

const STARTED = new Set(['running', 'held', 'stopped', 'post read', 'done']);

/** @param {Desk} desk @returns {Piece[]} */
export function startScreen(desk) {
  const train = desk.train(desk.route[1]);
  return train ? oneTrain(desk, train) : board(desk);
}

/** @param {Desk} desk */
function walk(desk) {
  return byDay(desk).today.filter((train) => !isStarted(train));
}

/** Whether nothing of the train waits to be started. @param {TrainNow} train */
function isStarted(train) {
  return STARTED.has(train.stage) && portsWaiting(train).length === 0;
}

/** Whether the train hangs and every port has its sampler. @param {TrainNow} train */
function isHung(train) {
  return train.stage === 'hung' && train.ports.every((port) => port.sampler && port.run);
}

/** @param {Desk} desk @returns {Piece[]} */
function board(desk) {
  const { today } = byDay(desk);
  const left = walk(desk);
  const hung = left.filter(isHung);
  const draft = desk.draft('start-all', { back: 0 });
  return [
    head(desk, say('start.title'), { under: say('start.under', { left: left.length, n: today.length }) }),
    blankBar(desk),
    today.length === 0 && message('plain', say('prepare.none'), say('prepare.none-do')),
    hung.length > 1 &&
      h(
        'div',
        { class: 'together' },
        when(desk, draft, say('start.when')),
        button(
          say('start.all', { n: hung.length }),
          () =>
            desk.keep(
              hung.map((train) => ({
                ...startOf(
                  train,
                  train.ports.map((port) => port.port),
                  '0',
                ),
                ...atOf(desk, draft),
              })),
              say('start.all-kept', { n: hung.length, time: timeText(momentOf(desk, draft).toISOString(), desk.zone) }),
            ),
          { hint: hung.map((train) => train.code).join(' · ') },
        ),
      ),
    h(
      'div',
      { class: 'rows' },
      today.map((train) =>
        h(
          'button',
          {
            type: 'button',
            class: 'row',
            key: train.code,
            on: { click: () => (isStarted(train) ? desk.go('run', train.code) : desk.go('start', train.code)) },
          },
          h(
            'span',
            { class: 'row-name' },
            train.code,
            h('small', null, [train.worker, train.pump].filter(Boolean).join(' · ')),
          ),
          h(
            'span',
            { class: 'row-scale', 'aria-hidden': 'true' },
            train.ports.map((port) => h('i', { class: port.run ? 'tick full' : 'tick' })),
          ),
          isStarted(train)
            ? chip('plain', say('start.since', { time: timeText(train.running_since, desk.zone) }))
            : STARTED.has(train.stage)
              ? chip('care', say('start.rest', { ports: portsWaiting(train).join(' ') }))
              : isHung(train)
                ? chip('good', say('start.hung'))
                : stepOf(desk, train) === 'ready'
                  ? h('span', { class: 'row-next' }, say('start.hang'))
                  : chip('care', say('start.not-ready')),
        ),
      ),
    ),
  ];
}

/** @param {TrainNow} train @param {string[]} ports @param {string} counter */
function startOf(train, ports, counter) {
  return acts.pumpStarted(
    train.code,
    ports,
    train.ports.map((port) => port.port),
    counter,
  );
}

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
function oneTrain(desk, train) {
  const draft = desk.draft(`start/${train.code}/${train.preparation}`, {
    worker: train.worker,
    other: false,
    port: '',
    back: 0,
    some: /** @type {string[]} */ ([]),
    single: false,
    counter: '',
    typing: false,
    text: '',
  });
  const title = head(desk, say('train', { train: train.code }), {
    back: ['start'],
    under: [train.worker, train.pump, train.splitter].filter(Boolean).join(' · '),
  });
  const hung = desk.view.day.trains[train.code]?.preparations[train.preparation]?.hung.at(-1);
  if (train.preparation < 0)
    return [
      title,
      message('care', say('start.not-prepared'), say('start.not-prepared-do')),
      button(say('prepare.title'), () => desk.go('prepare', train.code)),
    ];
  if (!hung) return [title, ...whoAndWhere(desk, train, draft)];
  const open = train.ports.find((port) => port.port === draft.port) ?? train.ports.find((port) => !port.run);
  if (draft.port || open) return [title, ...bind(desk, train, /** @type {PortNow} */ (open), draft)];
  return [title, ...go(desk, train, draft)];
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @returns {Piece[]} */
function whoAndWhere(desk, train, draft) {
  const workers = desk.view.pack?.workers ?? [];
  const hang = (/** @type {string} */ side) =>
    desk.keep(
      [acts.trainHung(train.code, draft.worker, side)],
      say('start.hung-kept', { worker: draft.worker, side: say(side === 'left' ? 'left' : 'right').toLowerCase() }),
    );
  const unready = stepOf(desk, train) !== 'ready';
  return [
    unready && message('care', say('start.no-round'), say('start.no-round-do')),
    draft.worker && !draft.other
      ? [
          h('p', { class: 'asked' }, say('start.worker')),
          h(
            'p',
            { class: 'great-code' },
            draft.worker,
            h('small', null, workers.find((one) => one.code === draft.worker)?.group ?? ''),
          ),
        ]
      : [
          list(
            say('start.worker'),
            [
              { value: '', text: '–' },
              ...workers.map((one) => ({ value: one.code, text: `${one.code} ${one.group}` })),
            ],
            draft.worker,
            (code) => ((draft.worker = code), (draft.other = false), desk.redraw()),
            'worker',
          ),
        ],
    h('p', { class: 'asked' }, say('start.side')),
    h(
      'div',
      { class: 'pair tall' },
      button(say('left'), () => hang('left'), { off: !draft.worker }),
      button(say('right'), () => hang('right'), { off: !draft.worker }),
    ),
    reminders(['remind.explain', 'remind.zone', 'remind.side']),
    button(say('start.another-worker'), () => ((draft.other = true), desk.redraw()), { kind: 'quiet' }),
  ].flat();
}

/** The next port's sampler. @param {Desk} desk @param {TrainNow} train @param {PortNow} port @param {Record<string, any>} draft @returns {Piece[]} */
function bind(desk, train, port, draft) {
  return bindPort(desk, train, port, draft, () => {
    draft.port = '';
    desk.redraw();
  });
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @returns {Piece[]} */
function go(desk, train, draft) {
  const waiting = portsWaiting(train);
  const isPartly = STARTED.has(train.stage) && waiting.length > 0;
  const all = isPartly ? waiting : train.ports.map((port) => port.port);
  const isSingle = draft.single && all.length > 1;
  const ports = isSingle ? draft.some : all;
  const counter = draft.counter || (isPartly ? '' : '0');
  const start = () =>
    desk.keep(
      [{ ...startOf(train, ports, counter), ...atOf(desk, draft) }],
      say('start.kept', { train: train.code, time: timeText(momentOf(desk, draft).toISOString(), desk.zone) }),
      () => {
        const rest = walk(desk);
        const next = rest.find((one) => one.code > train.code) ?? rest[0];
        if (ports.length < all.length) {
          draft.some = [];
          draft.counter = ''; // the pump runs: its counter stands at zero no more
          desk.redraw();
        } else if (next) desk.go('start', next.code);
        else desk.go('run');
      },
    );
  if (draft.typing) {
    return [
      h('p', { class: 'asked' }, say('start.counter')),
      pad(desk, {
        draft,
        unit: 'min',
        label: say('start.counter'),
        point: false,
        keep: (text) => ((draft.counter = text), (draft.typing = false), desk.redraw()),
      }),
    ];
  }
  return [
    h(
      'ul',
      { class: 'flows' },
      train.ports.map((port) =>
        h(
          'li',
          { key: port.port },
          h('span', { class: 'port-letter' }, port.port),
          h(
            'span',
            { class: 'flow' },
            h('strong', null, port.sampler),
            h('small', null, [port.medium, port.lot, port.expiry].filter(Boolean).join(' · ')),
          ),
          h(
            'button',
            {
              type: 'button',
              class: 'small-action',
              on: { click: () => desk.go('trouble', train.code, 'wrong-tube', port.port) },
            },
            say('start.wrong'),
          ),
        ),
      ),
    ),
    blankBar(desk, train.code),
    when(desk, draft, say('start.when')),
    isSingle && somePorts(desk, draft, all),
    button(say('start.go', { time: timeText(momentOf(desk, draft).toISOString(), desk.zone) }), start, {
      off: ports.length === 0,
      hint: counter ? say('start.counter-at', { n: minutesText(Number(counter)) }) : '',
      key: 'go',
    }),
    reminders(['remind.watch', 'remind.respirator']),
    h(
      'div',
      { class: 'pair' },
      all.length > 1 &&
        button(
          say(!isSingle ? 'start.some-ports' : isPartly ? 'start.rest-ports' : 'start.all-ports'),
          () => ((draft.single = !draft.single), (draft.some = []), desk.redraw()),
          { kind: 'quiet' },
        ),
      button(
        say(isPartly ? 'start.counter' : 'start.counter-change'),
        () => ((draft.typing = true), desk.redraw()),
        { kind: 'quiet' },
      ),
    ),
  ];
}
