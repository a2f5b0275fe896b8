/** Stop and read again: the counter before anything is touched, tubes off by their labels, then the ports as they are. */

import * as acts from './acts.js';
import { blanksLeft } from './blanks.js';
import { counterNear, counterPad } from './counter.js';
import { h } from './drawing.js';
import { button, chip, choices, facts, head, levelOf, message, reminders, somePorts, verdict, yesNo } from './parts.js';
import { displayButton } from './pump_display.js';
import { readingsSoFar, readingsWanted, takeReadings, unitOf } from './readings.js';
import { changeText, flowText, minutesText, spanText, timeText } from './telling.js';
import { byDay } from './trains_of_day.js';
import { atOf, momentOf, when } from './when.js';
import { say, tell } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').TrainNow} TrainNow */
/** @typedef {import('../types.js').PortNow} PortNow */

const OVER = new Set(['running', 'held', 'stopped', 'post read', 'done']);

/** Clock and counter this far apart are worth a word while the worker is still there. [min] */
const APART_MIN = 2;

/** @param {Desk} desk @returns {Piece[]} */
export function stopScreen(desk) {
  const train = desk.train(desk.route[1]);
  return train ? oneTrain(desk, train) : board(desk);
}

/** @param {Desk} desk @returns {Piece[]} */
function board(desk) {
  const trains = byDay(desk).today.filter((train) => OVER.has(train.stage));
  return [
    head(desk, say('stop.title'), { under: say('stop.under') }),
    trains.length > 0 && blanksLeft(desk, { isAside: true }),
    trains.length === 0 && message('plain', say('stop.none')),
    h(
      'div',
      { class: 'rows' },
      trains.map((train) => {
        const worst =
          train.ports.map((port) => port.change_tier?.effect ?? '').sort((a, b) => grave(b) - grave(a))[0] ?? '';
        return h(
          'button',
          { type: 'button', class: 'row', key: train.code, on: { click: () => desk.go('stop', train.code) } },
          h(
            'span',
            { class: 'row-name' },
            train.code,
            h('small', null, [train.worker, train.pump].filter(Boolean).join(' · ')),
          ),
          train.stage === 'done' || train.stage === 'post read'
            ? chip(levelOf(worst), say(worst ? 'stop.changed' : 'stop.steady'))
            : h('span', { class: 'row-next' }, say(`stop.next-${nextOf(train)}`)),
        );
      }),
    ),
  ];
}

/** @param {string} effect */
const grave = (effect) => ({ good: 0, plain: 1, care: 2, stop: 3 })[levelOf(effect)];

/** @param {TrainNow} train @returns {'stop' | 'off' | 'post'} */
function nextOf(train) {
  if (train.stage === 'running' || train.stage === 'held') return 'stop';
  return train.ports.some((port) => port.run && !port.run.removed_at) ? 'off' : 'post';
}

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
function oneTrain(desk, train) {
  const draft = desk.draft(`stop/${train.code}/${train.preparation}`, {
    text: '',
    back: 0,
    why: 'shift end',
    single: false,
    some: /** @type {string[]} */ ([]),
    again: false,
    asked: false,
    answers: /** @type {Record<string, boolean | null>} */ ({
      same_tubes: null,
      valve_touched: null,
      recharged: null,
      battery_changed: null,
    }),
  });
  const title = head(desk, say('train', { train: train.code }), {
    back: ['stop'],
    under: [train.worker, train.pump, train.splitter].filter(Boolean).join(' · '),
  });
  const finished = train.stage === 'done' && !draft.again;
  if (finished) return [title, ...outcome(desk, train, draft, true)];
  const next = nextOf(train);
  if (next === 'stop') return [title, ...stopNow(desk, train, draft)];
  if (next === 'off') return [title, ...tubesOff(desk, train)];
  return [title, ...afterwards(desk, train, draft)];
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @returns {Piece[]} */
function stopNow(desk, train, draft) {
  const all = train.ports.map((port) => port.port);
  const ports = draft.single ? draft.some : all;
  const keep = (/** @type {string} */ counter) => {
    if (ports.length === 0) return desk.tell('care', say('stop.ports-first'));
    return desk.keep(
      [{ ...acts.pumpStopped(train.code, ports, all, draft.why, counter), ...atOf(desk, draft) }],
      say('stop.kept', { train: train.code, time: timeText(momentOf(desk, draft).toISOString(), desk.zone) }),
      () => {
        draft.single = false;
        draft.some = [];
        desk.redraw();
      },
    );
  };
  return [
    h('p', { class: 'asked great' }, say('stop.counter')),
    h('p', { class: 'under' }, say('stop.before-touching')),
    when(desk, draft, say('stop.when')),
    draft.single && somePorts(desk, draft, all),
    counterPad(desk, draft, {
      near: counterNear(train, draft.back),
      word: draft.text ? say('stop.now') : say('stop.now-no-counter'),
      keep,
    }),
    choices(
      say('stop.why'),
      [
        { value: 'shift end', text: say('stop.shift-end') },
        { value: 'early', text: say('stop.early') },
        { value: 'other', text: say('other') },
      ],
      draft.why,
      (why) => ((draft.why = why), desk.redraw()),
    ),
    all.length > 1 &&
      button(
        say(draft.single ? 'start.all-ports' : 'start.some-ports'),
        () => ((draft.single = !draft.single), desk.redraw()),
        { kind: 'quiet' },
      ),
  ];
}

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
function tubesOff(desk, train) {
  const on = train.ports.filter((port) => port.run && !port.run.removed_at && port.sampler);
  const off = (/** @type {PortNow[]} */ ports) =>
    desk.keep(
      ports.map((port) => acts.samplerRemoved(train.code, port.port, port.sampler, 'shift end')),
      say('off.kept', { codes: ports.map((port) => port.sampler).join(', ') }),
    );
  return [
    clockAgainstCounter(train),
    h('p', { class: 'asked great' }, say('off.question')),
    h(
      'ul',
      { class: 'flows' },
      on.map((port) =>
        h(
          'li',
          { key: port.port },
          h('span', { class: 'port-letter' }, port.port),
          h('span', { class: 'flow' }, h('strong', null, port.sampler), h('small', null, port.medium)),
          h(
            'button',
            {
              type: 'button',
              class: 'small-action',
              on: { click: () => desk.go('trouble', train.code, 'wrong-tube', port.port) },
            },
            say('off.not-this'),
          ),
        ),
      ),
    ),
    button(say('off.all', { n: on.length }), () => off(on), { hint: say('off.hint') }),
    reminders(['remind.cap', 'remind.ask']),
  ].filter(Boolean);
}

/** @param {TrainNow} train @returns {Piece} */
function clockAgainstCounter(train) {
  const { counter_min: counter, clock_min: clock } = train;
  if (clock === null) return null;
  if (counter === null) return message('care', say('stop.no-counter'), say('stop.no-counter-do'));
  const apart = Math.abs(counter - clock);
  const most = Math.max(APART_MIN, 0.01 * clock);
  const words = say('stop.clock-counter', { clock: minutesText(clock), counter: minutesText(counter) });
  return apart > most ? message('stop', words, say('stop.apart', { span: spanText(apart) })) : message('good', words);
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @returns {Piece[]} */
function afterwards(desk, train, draft) {
  const answers = /** @type {Record<string, boolean | null>} */ (draft.answers);
  if (!draft.asked) return questions(desk, train, draft, answers);
  const wanted = readingsWanted(desk);
  const ports = train.ports.filter((port) => port.closing || port.run || port.tube);
  const complete = ports.every((port) => readingsSoFar(port, 'post').length >= wanted);
  if (!complete || draft.more) {
    return [
      h('p', { class: 'asked' }, say('post.how')),
      ...takeReadings(desk, train, { phase: 'post', ports, wanted }),
      complete && button(say('post.look'), () => ((draft.more = false), desk.redraw())),
    ];
  }
  return outcome(desk, train, draft, false);
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @param {Record<string, boolean | null>} answers
 *  @returns {Piece[]} */
function questions(desk, train, draft, answers) {
  const meters = new Set(train.ports.flatMap((port) => port.closing?.meters ?? []));
  const tubes = train.ports.filter((port) => port.tube).map((port) => `${port.port} ${port.tube}`);
  const otherMeter = meters.size > 0 && desk.place.meter && !meters.has(desk.place.meter);
  const set = (/** @type {string} */ name) => (/** @type {boolean} */ yes) => {
    answers[name] = yes;
    desk.redraw();
  };
  const all = Object.values(answers).every((answer) => answer !== null);
  return [
    clockAgainstCounter(train),
    h('p', { class: 'asked great' }, say('post.before')),
    otherMeter &&
      message(
        'care',
        say('post.other-meter', { before: [...meters].join(', '), now: desk.place.meter }),
        say('post.other-meter-do'),
      ),
    otherMeter && button(say('bench.change-meter'), () => desk.go('bench'), { kind: 'quiet' }),
    yesNo(say('post.same-tubes', { tubes: tubes.join(', ') }), answers.same_tubes, set('same_tubes')),
    answers.same_tubes === false && message('care', say('post.same-tubes-do')),
    yesNo(say('post.valve'), answers.valve_touched, set('valve_touched')),
    answers.valve_touched && message('stop', say('post.valve-do')),
    yesNo(say('post.recharged'), answers.recharged, set('recharged')),
    yesNo(say('post.battery'), answers.battery_changed, set('battery_changed')),
    (answers.recharged || answers.battery_changed) && message('care', say('post.recharged-do')),
    button(say('post.read'), () => ((draft.asked = true), desk.redraw()), { off: !all, key: 'read' }),
  ];
}

/** Before and after, port by port, with what the change means; while the round is open it can still be read again.
 *  @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @param {boolean} closed @returns {Piece[]} */
function outcome(desk, train, draft, closed) {
  const answers = /** @type {Record<'valve_touched' | 'recharged' | 'battery_changed' | 'same_tubes', boolean>} */ (
    draft.answers
  );
  const close = () =>
    desk.keep([acts.postRound(train.code, answers)], say('post.closed', { train: train.code }), () =>
      window.scrollTo(0, 0),
    );
  const rest = byDay(desk).today.filter(
    (one) => one.code !== train.code && ['running', 'held', 'stopped'].includes(one.stage),
  );
  return [
    closed && clockAgainstCounter(train),
    train.diagnosis &&
      train.diagnosis.pattern !== 'none' &&
      message(
        'care',
        say('post.pattern'),
        tell(train.diagnosis.words),
        train.diagnosis.look_at.length > 0 &&
          h('p', null, say('post.look-at', { parts: train.diagnosis.look_at.map(tell).join(', ') })),
        h('p', { class: 'source' }, say('post.pattern-lead')),
      ),
    ...train.ports.map((port) => portOutcome(desk, train, port)),
    !closed && displayButton(desk, train),
    !closed && button(say('post.close'), close, { hint: say('post.close-hint'), key: 'close' }),
    !closed && button(say('post.again'), () => ((draft.more = true), desk.redraw()), { kind: 'quiet' }),
    closed &&
      (rest[0]
        ? button(say('prepare.next', { train: rest[0].code }), () => desk.go('stop', rest[0]?.code ?? ''))
        : button(say('post.to-parcel'), () => desk.go('parcel'))),
    closed &&
      button(
        say('post.read-again'),
        () => ((draft.again = true), (draft.asked = false), (draft.more = true), desk.redraw()),
        { kind: 'quiet', hint: say('post.read-again-hint') },
      ),
  ].filter(Boolean);
}

/** @param {Desk} desk @param {TrainNow} train @param {PortNow} port @returns {Piece} */
function portOutcome(desk, train, port) {
  const unit = unitOf(desk, train, port);
  const line = say('post.line', {
    port: port.port,
    before: flowText(port.closing?.mean_lpm, unit),
    after: flowText(port.post?.mean_lpm ?? null, unit),
  });
  if (port.change === null) return message('care', line, say(port.closing ? 'post.no-after' : 'post.no-before'));
  const title = `${line} · ${changeText(port.change)}`;
  const tier = port.change_tier;
  return h(
    'div',
    { class: 'port-outcome', key: port.port },
    tier ? verdict(tier, title) : message('plain', title),
    facts([
      [say('sampler'), port.sampler || port.run?.sampler || '–'],
      [say('litres'), port.litres === null ? '–' : `${port.litres_sure ? '' : '≈ '}${port.litres.toFixed(2)} L`],
    ]),
  );
}
