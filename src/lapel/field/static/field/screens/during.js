/** What is recorded while a pump runs: a look at it, a hold, the end of a hold, a tube changed while the rest runs on. */

import * as acts from './acts.js';
import { h } from './drawing.js';
import { counterNear, counterPad } from './counter.js';
import { button, choices, head, message, several } from './parts.js';
import { bindPort } from './binding.js';
import { displayButton } from './pump_display.js';
import { atOf, momentOf, when } from './when.js';
import { timeText } from './telling.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').TrainNow} TrainNow */

/** @param {Desk} desk @param {(desk: Desk, train: TrainNow) => Piece[]} screen @returns {Piece[]} */
export function forTrain(desk, screen) {
  const train = desk.train(desk.route[1]);
  return train ? screen(desk, train) : [head(desk, say('nothing-here'), { back: ['run'] })];
}

/** The three-tap check: the tile, “Look at the pump”, the minutes on its counter. @param {Desk} desk @param {TrainNow} train */
export function checkScreen(desk, train) {
  const draft = desk.draft(`check/${train.code}`, { text: '', seen: /** @type {string[]} */ ([]) });
  const keep = (/** @type {string} */ counter) =>
    desk.keep(
      [acts.pumpChecked(train.code, true, counter, draft.seen.join('; '))],
      say('check.kept', { train: train.code, time: timeText(new Date(desk.now).toISOString(), desk.zone) }),
      () => {
        desk.forget(`check/${train.code}`);
        desk.go('run');
      },
    );
  const sights = /** @type {const} */ (['tubing', 'inlet', 'wet', 'respirator', 'fan']);
  return [
    head(desk, say('check.title'), {
      back: ['run', train.code],
      under: [train.code, train.worker].filter(Boolean).join(' · '),
    }),
    h('p', { class: 'asked' }, say('check.runs')),
    counterPad(desk, draft, {
      label: say('check.counter'),
      near: counterNear(train),
      word: draft.text ? say('keep') : say('check.no-counter'),
      keep,
    }),
    several(
      say('check.seen'),
      sights.map((sight) => ({ value: SIGHTS[sight], text: say(`check.${sight}`) })),
      draft.seen,
      (seen) => ((draft.seen = seen), desk.redraw()),
      { wide: true },
    ),
    h(
      'div',
      { class: 'pair' },
      button(say('check.stopped'), () => desk.go('trouble', train.code, 'pump-died'), { kind: 'stop' }),
      button(say('check.flow'), () => desk.go('check-flow', train.code), { kind: 'quiet' }),
    ),
    displayButton(desk, train),
  ];
}

/** What was seen, as the log says it. */
const SIGHTS = {
  tubing: 'tubing was kinked, straightened',
  inlet: 'inlet was out of the breathing zone, put right',
  wet: 'sampler wet or dirty',
  respirator: 'worker wears a respirator',
  fan: 'extraction is off',
};

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
export function holdScreen(desk, train) {
  const draft = desk.draft(`hold/${train.code}`, { text: '', why: '', back: 0 });
  const title = head(desk, say('hold.title'), {
    back: ['run', train.code],
    under: [train.code, train.worker].filter(Boolean).join(' · '),
  });
  const reasons = {
    break: 'break',
    away: 'worker away from the area',
    drill: 'drill or alarm',
    fault: 'looking for a fault',
  };
  if (!draft.why) {
    return [
      title,
      choices(
        say('hold.why'),
        /** @type {(keyof typeof reasons)[]} */ (Object.keys(reasons)).map((key) => ({
          value: reasons[key],
          text: say(`hold.${key}`),
        })),
        '',
        (why) => ((draft.why = why), desk.redraw()),
        { wide: true },
      ),
      message('plain', say('hold.note'), say('hold.note-do')),
    ];
  }
  return [
    title,
    when(desk, draft, say('hold.when')),
    h('p', { class: 'asked' }, say('counter.shows')),
    counterPad(desk, draft, {
      near: counterNear(train, draft.back),
      word: draft.text ? say('keep') : say('check.no-counter'),
      keep: (counter) =>
        desk.keep(
          [{ ...acts.pumpHeld(train.code, draft.why, counter), ...atOf(desk, draft) }],
          say('hold.kept', { train: train.code }),
          () => (desk.forget(`hold/${train.code}`), desk.go('run', train.code)),
        ),
    }),
  ];
}

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
export function resumeScreen(desk, train) {
  const draft = desk.draft(`resume/${train.code}`, { text: '', back: 0 });
  const time = timeText(momentOf(desk, draft).toISOString(), desk.zone);
  return [
    head(desk, say('resume.title'), {
      back: ['run', train.code],
      under: [train.code, train.worker].filter(Boolean).join(' · '),
    }),
    when(desk, draft, say('resume.when')),
    h('p', { class: 'asked' }, say('counter.shows')),
    counterPad(desk, draft, {
      word: draft.text ? say('resume.go', { time }) : say('resume.no-counter', { time }),
      keep: (counter) =>
        desk.keep(
          [{ ...acts.pumpResumed(train.code, counter), ...atOf(desk, draft) }],
          say('resume.kept', { train: train.code, time }),
          () => (desk.forget(`resume/${train.code}`), desk.go('run', train.code)),
        ),
    }),
  ];
}

/** A tube changed on one port while the pump draws on through the others. @param {Desk} desk @param {TrainNow} train
 *  @returns {Piece[]} */
export function tubeScreen(desk, train) {
  const draft = desk.draft(`tube/${train.code}`, { port: '', text: '' });
  const title = head(desk, say('tube.title'), {
    back: ['run', train.code],
    under: [train.code, train.worker].filter(Boolean).join(' · '),
  });
  const port = train.ports.find((one) => one.port === draft.port);
  if (!port) {
    return [
      title,
      h('p', { class: 'asked' }, say('tube.which')),
      h(
        'div',
        { class: 'pair tall' },
        train.ports
          .filter((one) => one.sampler && one.run && !one.run.removed_at)
          .map((one) =>
            button(
              say('port', { port: one.port }),
              () =>
                desk.keep(
                  [acts.samplerRemoved(train.code, one.port, one.sampler, 'tube change')],
                  say('tube.off', { code: one.sampler, port: one.port }),
                  () => ((draft.port = one.port), desk.redraw()),
                ),
              { hint: one.sampler, key: one.port },
            ),
          ),
      ),
      message('plain', say('tube.note'), say('tube.note-do')),
    ];
  }
  return [
    title,
    ...bindPort(desk, train, port, draft, () => (desk.forget(`tube/${train.code}`), desk.go('run', train.code))),
  ];
}
