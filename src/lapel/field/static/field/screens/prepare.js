/** Prepare: the day's trains, and one train from the pump to a closing round that stands. */

import { say, tell } from './words.js';
import { h } from './drawing.js';
import * as acts from './acts.js';
import { button, chip, head, levelOf, message, shape, verdict } from './parts.js';
import { displayButton } from './pump_display.js';
import { pumpStep } from './prepare_pump.js';
import { tubesStep } from './prepare_tubes.js';
import { isSet, readingsSoFar, readingsWanted, takeReadings, unitOf } from './readings.js';
import { againstSupplier } from './kit_sheet.js';
import { flowText, percentText } from './telling.js';
import { byDay, preparationOf } from './trains_of_day.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').TrainNow} TrainNow */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {'pump' | 'leak' | 'tubes' | 'set' | 'round' | 'ready'} Step */

const STEPS = /** @type {const} */ (['pump', 'leak', 'tubes', 'set', 'round']);
const LATER = new Set(['hung', 'running', 'held', 'stopped', 'post read']);

/** @param {Desk} desk @returns {Piece[]} */
export function prepareScreen(desk) {
  const code = desk.route[1];
  if (code === 'add') return [head(desk, say('prepare.add'), { back: ['prepare'] })];
  const train = desk.train(code);
  if (!train) return board(desk);
  return oneTrain(desk, train, /** @type {Step | undefined} */ (desk.route[2]));
}

/** @param {Desk} desk @returns {Piece[]} */
function board(desk) {
  const { today, earlier } = byDay(desk);
  const open = today.filter((train) => stepOf(desk, train) !== 'ready' && !LATER.has(train.stage));
  return [
    head(desk, say('prepare.title'), { under: say('prepare.under', { n: today.length, left: open.length }) }),
    desk.view.pack?.plan_words && message('care', say('prepare.plan-not-read'), tell(desk.view.pack.plan_words)),
    today.length === 0 && message('plain', say('prepare.none'), say('prepare.none-do')),
    h(
      'div',
      { class: 'rows' },
      today.map((train) => row(desk, train)),
    ),
    h(
      'div',
      { class: 'pair' },
      button(say('prepare.add'), () => desk.go('add-train'), { kind: 'quiet' }),
      button(say('bench.title'), () => desk.go('bench'), {
        kind: 'quiet',
        hint: desk.place.meter || say('not.chosen'),
      }),
    ),
    earlier.length > 0 &&
      h(
        'details',
        { class: 'earlier' },
        h('summary', null, say('prepare.earlier', { n: earlier.length })),
        h(
          'div',
          { class: 'rows' },
          earlier.map((train) => row(desk, train)),
        ),
      ),
  ];
}

/** @param {Desk} desk @param {TrainNow} train */
function row(desk, train) {
  const step = stepOf(desk, train);
  const at = step === 'ready' ? STEPS.length : STEPS.indexOf(/** @type {any} */ (step));
  const later = LATER.has(train.stage) || train.stage === 'done';
  return h(
    'button',
    { type: 'button', class: 'row', key: train.code, on: { click: () => desk.go('prepare', train.code) } },
    h(
      'span',
      { class: 'row-name' },
      train.code,
      h('small', null, [train.worker, train.pump, train.splitter].filter(Boolean).join(' · ')),
    ),
    h(
      'span',
      { class: 'row-scale', 'aria-hidden': 'true' },
      STEPS.map((_, index) => h('i', { class: index < at || later ? 'tick full' : 'tick' })),
    ),
    later
      ? chip('plain', say(`stage.${train.stage}`))
      : step === 'ready'
        ? chip('good', say('prepare.ready'))
        : h('span', { class: 'row-next' }, say(`step.${step}`)),
  );
}

/** What has to be done next on a train before it can be hung. @param {Desk} desk @param {TrainNow} train @returns {Step} */
export function stepOf(desk, train) {
  const preparation = preparationOf(desk, train);
  if (!preparation || !preparation.entry_id || train.stage === 'done') return 'pump';
  const skipped = desk.draft(`skipped/${train.code}/${train.preparation}`, { leak: false, set: false });
  if (!skipped.leak && leaksLeft(desk, train).length > 0 && !train.ports.some((port) => port.closing_stands))
    return 'leak';
  if (train.ports.some((port) => !port.tube && !port.closing_stands)) return 'tubes';
  if (train.ports.every((port) => port.closing_stands)) return 'ready';
  const set = (/** @type {PortNow} */ port) => {
    const last = port.setting.at(-1);
    return port.closing !== null || port.pending.length > 0 || (last !== undefined && isSet(desk, port, last));
  };
  if (!skipped.set && !train.ports.every(set)) return 'set';
  return 'round';
}

/** Leak checks nobody has answered: all inlets at once ('') and each port alone. @param {Desk} desk @param {TrainNow} train */
function leaksLeft(desk, train) {
  const asked = train.ports.length > 1 ? ['', ...train.ports.map((port) => port.port)] : [''];
  const answered = new Set(
    (preparationOf(desk, train)?.leak_checks ?? []).filter((one) => one.passed).map((one) => one.port),
  );
  return asked.filter((port) => !answered.has(port));
}

/** @param {Desk} desk @param {TrainNow} train @param {Step | undefined} asked @returns {Piece[]} */
function oneTrain(desk, train, asked) {
  const next = stepOf(desk, train);
  const reached = next === 'ready' ? STEPS.length : STEPS.indexOf(/** @type {any} */ (next));
  const step = asked && asked !== 'ready' && STEPS.indexOf(asked) <= reached ? asked : next;
  const body = { pump: pumpStep, leak: leakStep, tubes: tubesStep, set: setStep, round: roundStep, ready: readyStep }[
    step
  ];
  const under = [train.worker, train.pump, train.splitter].filter(Boolean).join(' · ');
  return [
    head(desk, say('train', { train: train.code }), { back: ['prepare'], under }),
    h(
      'nav',
      { class: 'steps', 'aria-label': say('prepare.steps') },
      STEPS.map((one, index) =>
        h(
          'button',
          {
            type: 'button',
            key: one,
            class: 'step-tab',
            disabled: index > reached,
            'aria-current': one === step ? 'step' : undefined,
            on: { click: () => desk.go('prepare', train.code, one) },
          },
          index < reached ? shape('good') : null,
          h('span', null, say(`tab.${one}`)),
        ),
      ),
    ),
    ...body(desk, train),
  ];
}

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
function leakStep(desk, train) {
  const left = leaksLeft(desk, train);
  const checks = preparationOf(desk, train)?.leak_checks ?? [];
  const failed = checks.findLast((one) => !one.passed);
  const port = left[0];
  const done = () => desk.go('prepare', train.code);
  if (port === undefined) return [message('good', say('leak.all-good')), button(say('next'), done)];
  const words = port === '' ? (train.ports.length > 1 ? say('leak.all') : say('leak.one')) : say('leak.port', { port });
  const answer = (/** @type {boolean} */ passed) => () =>
    desk.keep(
      [acts.leakChecked(train.code, port, passed)],
      say(passed ? 'leak.passed' : 'leak.failed', { port: port || say('leak.all-short') }),
    );
  return [
    h('p', { class: 'asked great' }, words),
    h('p', { class: 'under' }, say('leak.how')),
    failed && failed.port === port && message('stop', say('leak.failed-title'), say('leak.failed-do')),
    h(
      'div',
      { class: 'pair tall' },
      button(say('leak.no'), answer(false), { kind: 'stop' }),
      button(say('leak.yes'), answer(true)),
    ),
    h('p', { class: 'progress' }, say('leak.left', { n: left.length })),
    button(
      say('leak.skip'),
      () => {
        desk.draft(`skipped/${train.code}/${train.preparation}`, { leak: false, set: false }).leak = true;
        desk.go('prepare', train.code);
      },
      { kind: 'quiet' },
    ),
  ];
}

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
function setStep(desk, train) {
  const done = (/** @type {PortNow} */ port) => {
    const last = port.setting.at(-1);
    return last !== undefined && isSet(desk, port, last);
  };
  return [
    h('p', { class: 'asked' }, say('set.how')),
    ...takeReadings(desk, train, { phase: 'setting', ports: train.ports, wanted: 1, done }),
    button(
      say('set.skip'),
      () => {
        desk.draft(`skipped/${train.code}/${train.preparation}`, { leak: false, set: false }).set = true;
        desk.go('prepare', train.code, 'round');
      },
      { kind: 'quiet' },
    ),
  ];
}

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
function roundStep(desk, train) {
  const wanted = readingsWanted(desk);
  const draft = desk.draft(`round/${train.code}/${train.preparation}`, { more: false, touched: false });
  const complete = train.ports.every((port) => readingsSoFar(port, 'closing').length >= wanted);
  if (draft.touched) return touchedQuestion(desk, train, draft);
  if (!complete || draft.more) {
    return [
      h('p', { class: 'asked' }, say('round.how')),
      ...takeReadings(desk, train, { phase: 'closing', ports: train.ports, wanted }),
      h(
        'div',
        { class: 'pair' },
        button(say('round.touched'), () => ((draft.touched = true), desk.redraw()), { kind: 'quiet' }),
        complete && button(say('round.look'), () => ((draft.more = false), desk.redraw()), { kind: 'quiet' }),
      ),
    ];
  }
  const close = () =>
    desk.keep(
      [
        acts.closingRound(
          train.code,
          train.ports.map((port) => port.port),
        ),
      ],
      say('round.closed', { train: train.code }),
      () => desk.go('prepare', train.code),
    );
  const bad = train.ports.filter(
    (port) =>
      port.pending_spread &&
      levelOf(port.pending_spread.effect) !== 'good' &&
      levelOf(port.pending_spread.effect) !== 'plain',
  );
  return [
    h('p', { class: 'asked great' }, say('round.question')),
    flowsOf(desk, train, 'pending'),
    ...bad.map(
      (port) => port.pending_spread && verdict(port.pending_spread, say('read.disagree', { port: port.port })),
    ),
    button(say('round.none-touched'), close, { hint: say('round.none-touched-hint') }),
    h(
      'div',
      { class: 'pair' },
      button(say('round.touched'), () => ((draft.touched = true), desk.redraw()), { kind: 'quiet' }),
      button(say('round.more'), () => ((draft.more = true), desk.redraw()), { kind: 'quiet' }),
    ),
  ];
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @returns {Piece[]} */
function touchedQuestion(desk, train, draft) {
  return [
    h('p', { class: 'asked great' }, say('round.which')),
    h('p', { class: 'under' }, say('round.reopens')),
    h(
      'div',
      { class: 'pair tall' },
      train.ports.map((port) =>
        button(
          say('port', { port: port.port }),
          () =>
            desk.keep(
              [acts.valveTouched(train.code, port.port, 'turned before the closing round was complete')],
              say('round.touched-kept', { port: port.port }),
              () => {
                draft.touched = false;
                draft.more = false;
                desk.go('prepare', train.code);
              },
            ),
          { kind: 'stop' },
        ),
      ),
    ),
    button(say('cancel'), () => ((draft.touched = false), desk.redraw()), { kind: 'quiet' }),
  ];
}

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
function readyStep(desk, train) {
  const draft = desk.draft(`round/${train.code}/${train.preparation}`, { more: false, touched: false });
  if (draft.touched) return touchedQuestion(desk, train, draft);
  const { today } = byDay(desk);
  const next = today.find((one) => one.code !== train.code && stepOf(desk, one) !== 'ready' && !LATER.has(one.stage));
  return [
    message('good', say('prepare.ready-title'), say('prepare.ready-do')),
    flowsOf(desk, train, 'closing'),
    train.missing.length > 0 &&
      h(
        'ul',
        { class: 'lines' },
        train.missing.map((words) => h('li', null, tell(words))),
      ),
    next
      ? button(say('prepare.next', { train: next.code }), () => desk.go('prepare', next.code))
      : button(say('prepare.to-start'), () => desk.go('start')),
    h(
      'div',
      { class: 'pair' },
      button(say('round.touched'), () => ((draft.touched = true), desk.redraw()), { kind: 'quiet' }),
      button(say('kit.title'), () => desk.go('kit', train.code), { kind: 'quiet' }),
    ),
    displayButton(desk, train),
    button(say('prepare.again'), () => desk.go('prepare', train.code, 'pump'), { kind: 'quiet' }),
  ];
}

/** The ports with their flow of a round, and the supplier's own beside it. @param {Desk} desk @param {TrainNow} train
 *  @param {'pending' | 'closing'} which */
function flowsOf(desk, train, which) {
  return h(
    'ul',
    { class: 'flows' },
    train.ports.map((port) => {
      const flow = which === 'pending' ? port.pending_flow : port.closing;
      const unit = unitOf(desk, train, port);
      const supplier = againstSupplier(desk, train, port);
      const off = flow && port.target_lpm !== null && Math.abs(flow.mean_lpm / port.target_lpm - 1) > 0.1;
      const outside =
        flow &&
        ((port.window.low_lpm !== null && flow.mean_lpm < port.window.low_lpm) ||
          (port.window.high_lpm !== null && flow.mean_lpm > port.window.high_lpm));
      return h(
        'li',
        { key: port.port },
        h('span', { class: 'port-letter' }, port.port),
        h(
          'span',
          { class: 'flow' },
          h('strong', null, flowText(flow?.mean_lpm, unit)),
          h('small', null, flow ? say('round.of', { n: flow.n, spread: percentText(flow.spread) }) : ''),
          supplier && flow ? h('small', null, supplier) : null,
        ),
        outside
          ? chip('care', say('read.off'))
          : off
            ? chip('plain', say('round.off-target'))
            : chip('good', say('round.fits')),
      );
    }),
  );
}
