/** Hang and start: the worker, a sampler on every port by its label, the reminders, and the start to the minute. */

import * as acts from './acts.js';
import { blankBar } from './blanks.js';
import { h } from './drawing.js';
import { pad } from './pad.js';
import { button, chip, choices, head, list, message } from './parts.js';
import { cameraButton } from './scan.js';
import { stepOf } from './prepare.js';
import { minutesText, timeText } from './telling.js';
import { byDay } from './trains_of_day.js';
import { lotsFor, objections } from './fitting.js';
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
  return byDay(desk).today.filter((train) => !STARTED.has(train.stage));
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
            on: { click: () => (STARTED.has(train.stage) ? desk.go('run', train.code) : desk.go('start', train.code)) },
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
          STARTED.has(train.stage)
            ? chip('plain', say('start.since', { time: timeText(train.running_since, desk.zone) }))
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
    counter: '0',
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

/** @param {(import('./words.js').Key)[]} keys */
function reminders(keys) {
  return h(
    'ul',
    { class: 'reminders' },
    keys.map((key) => h('li', null, say(key))),
  );
}

/** A sampler on a port: by its label, or chosen by its number among the day's samplers; never as free text.
 *  @param {Desk} desk @param {TrainNow} train @param {PortNow} port @param {Record<string, any>} draft @returns {Piece[]} */
function bind(desk, train, port, draft) {
  return bindPort(desk, train, port, draft, () => {
    draft.port = '';
    desk.redraw();
  });
}

/** @param {Desk} desk @param {TrainNow} train @param {PortNow} port @param {Record<string, any>} draft @param {() => void} then
 *  @returns {Piece[]} */
export function bindPort(desk, train, port, draft, then) {
  const pack = desk.view.pack;
  const used = new Set(
    Object.values(desk.view.day.runs)
      .filter((run) => run.fitted_at)
      .map((run) => run.sampler),
  );
  const planned =
    desk.view.planned
      .concat(pack?.trains ?? [])
      .find((one) => one.train === train.code)
      ?.ports.find((one) => one.port === port.port)?.sampler ?? '';
  const samplers = (pack?.samplers ?? []).filter((one) => !used.has(one.code));
  const typedDigits = draft.text;
  const shown = samplers
    .filter((one) => typedDigits === '' || one.code.replace(/\D/g, '').endsWith(typedDigits))
    .map((one) => ({
      one,
      rank:
        one.code === planned
          ? 0
          : one.worker === train.worker && one.medium === port.medium
            ? 1
            : one.medium === port.medium
              ? 2
              : 3,
    }))
    .sort((a, b) => a.rank - b.rank || a.one.code.localeCompare(b.one.code))
    .slice(0, typedDigits ? 8 : 4);
  const lots = lotsFor(pack, port.medium);
  const lot =
    draft.lot && lots.some((one) => one.lot === draft.lot)
      ? draft.lot
      : port.lot && lots.some((one) => one.lot === port.lot)
        ? port.lot
        : lots.length === 1
          ? (lots[0]?.lot ?? '')
          : '';
  const expiry = lots.find((one) => one.lot === lot)?.expiry ?? '';
  const take = (/** @type {string} */ code, /** @type {'scanned' | 'keypad'} */ how) => {
    if (desk.busy) return;
    // A label names its port by the plan: scanned for another port of this train, it goes where it belongs.
    const elsewhere =
      how === 'scanned'
        ? train.ports.find((one) => one !== port && !one.run && plannedOn(desk, train, one) === code)
        : undefined;
    const to = elsewhere ?? port;
    const found = lotsFor(pack, to.medium);
    const toLot = to === port ? lot : to.lot || (found.length === 1 ? (found[0]?.lot ?? '') : '');
    const toExpiry = found.find((one) => one.lot === toLot)?.expiry ?? '';
    const against = objections(desk, { code, medium: to.medium, lot: toLot, expiry: toExpiry, used });
    if (against.length > 0 && !(draft.doubt === code && how === draft.doubtHow)) {
      draft.doubt = code;
      draft.doubtHow = how;
      draft.against = against;
      desk.tell('stop', say('fit.stop', { code }), [], against);
      return;
    }
    draft.doubt = '';
    draft.text = '';
    void desk.keep(
      [
        acts.samplerFitted({
          train: train.code,
          port: to.port,
          sampler: code,
          medium: to.medium,
          lot: toLot,
          expiry: toExpiry,
          how,
        }),
      ],
      say('fit.kept', { code, port: to.port }),
      then,
    );
  };
  desk.onScan = (code) => take(code, 'scanned');
  return [
    h('p', { class: 'asked great' }, say('fit.which', { port: port.port })),
    h(
      'p',
      { class: 'under' },
      [port.medium, lot, expiry && say('fit.expires', { day: expiry })].filter(Boolean).join(' · '),
    ),
    lots.length > 1 &&
      choices(
        say('lot'),
        lots.slice(0, 4).map((one) => ({ value: one.lot, text: one.lot, hint: one.expiry })),
        lot,
        (chosen) => ((draft.lot = chosen), desk.redraw()),
      ),
    draft.doubt && message('stop', say('fit.stop', { code: draft.doubt }), ...draft.against, say('fit.stop-do')),
    draft.doubt &&
      button(say('fit.all-the-same', { code: draft.doubt }), () => take(draft.doubt, draft.doubtHow), { kind: 'stop' }),
    h('p', { class: 'scan-line', role: 'status' }, say('fit.scan')),
    cameraButton(desk, (code) => take(code, 'scanned')),
    h(
      'div',
      { class: 'options wide', role: 'group', 'aria-label': say('fit.choose') },
      shown.map(({ one }) =>
        h(
          'button',
          {
            type: 'button',
            class: one.code === planned ? 'option planned' : 'option',
            key: one.code,
            on: { click: () => take(one.code, 'keypad') },
          },
          h('span', null, one.code),
          h(
            'small',
            null,
            [one.code === planned ? say('fit.planned') : '', one.medium === port.medium ? '' : one.medium]
              .filter(Boolean)
              .join(' · ') ||
              one.task ||
              one.purpose,
          ),
        ),
      ),
    ),
    shown.length === 0 && message('plain', say('fit.none'), say('fit.none-do')),
    h(
      'details',
      { class: 'by-number', key: 'by-number' },
      h('summary', null, say('fit.by-number')),
      pad(desk, {
        draft,
        unit: '',
        label: say('fit.by-number'),
        point: false,
        aside: true,
        word: say('fit.look'),
        keep: (text) => ((draft.text = text), desk.redraw()),
      }),
    ),
    reminders(['remind.open', 'remind.arrow', 'remind.upright']),
  ];
}

/** @param {Desk} desk @param {TrainNow} train @param {PortNow} port */
function plannedOn(desk, train, port) {
  return desk.view.planned
    .concat(desk.view.pack?.trains ?? [])
    .find((one) => one.train === train.code)
    ?.ports.find((one) => one.port === port.port)?.sampler;
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @returns {Piece[]} */
function go(desk, train, draft) {
  const all = train.ports.map((port) => port.port);
  const ports = draft.single ? draft.some : all;
  const start = () =>
    desk.keep(
      [{ ...startOf(train, ports, draft.counter), ...atOf(desk, draft) }],
      say('start.kept', { train: train.code, time: timeText(momentOf(desk, draft).toISOString(), desk.zone) }),
      () => {
        const rest = walk(desk);
        const next = rest.find((one) => one.code > train.code) ?? rest[0];
        if (draft.single && ports.length < all.length) desk.redraw();
        else if (next) desk.go('start', next.code);
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
    when(desk, draft, say('start.when')),
    draft.single &&
      h(
        'div',
        { class: 'options', role: 'group', 'aria-label': say('start.which-ports') },
        all.map((letter) =>
          h(
            'button',
            {
              type: 'button',
              class: 'option',
              key: letter,
              'aria-pressed': String(draft.some.includes(letter)),
              on: {
                click: () => {
                  draft.some = draft.some.includes(letter)
                    ? draft.some.filter((/** @type {string} */ one) => one !== letter)
                    : [...draft.some, letter].sort();
                  desk.redraw();
                },
              },
            },
            letter,
          ),
        ),
      ),
    button(say('start.go', { time: timeText(momentOf(desk, draft).toISOString(), desk.zone) }), start, {
      off: ports.length === 0,
      hint: say('start.counter-at', { n: minutesText(Number(draft.counter)) }),
      key: 'go',
    }),
    reminders(['remind.watch', 'remind.respirator']),
    h(
      'div',
      { class: 'pair' },
      all.length > 1 &&
        button(
          say(draft.single ? 'start.all-ports' : 'start.some-ports'),
          () => ((draft.single = !draft.single), (draft.some = []), desk.redraw()),
          { kind: 'quiet' },
        ),
      button(say('start.counter-change'), () => ((draft.typing = true), desk.redraw()), { kind: 'quiet' }),
    ),
  ];
}
