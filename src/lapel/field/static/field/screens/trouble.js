/** Trouble: five things that go wrong, each ending or beginning a segment as it should. */

import * as acts from './acts.js';
import { counterNear, counterPad } from './counter.js';
import { h } from './drawing.js';
import { box, button, choices, head, list, message } from './parts.js';
import { bindPort } from './binding.js';
import { labelObjections } from './fitting.js';
import { timeText } from './telling.js';
import { atOf, momentOf, when } from './when.js';
import { say } from './words.js';
import { labels } from '../now/planned.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').TrainNow} TrainNow */

export const TROUBLES = /** @type {const} */ (['pump-died', 'tube-broke', 'worker-left', 'wrong-tube', 'task']);

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
export function troubleScreen(desk, train) {
  const kind = /** @type {(typeof TROUBLES)[number] | undefined} */ (TROUBLES.find((one) => one === desk.route[2]));
  if (!kind) return [head(desk, say('trouble.title'), { back: ['run', train.code] })];
  const draft = desk.draft(`trouble/${train.code}/${kind}`, {
    text: '',
    port: desk.route[3] ?? '',
    step: '',
    back: 0,
    task: '',
  });
  const screens = {
    'pump-died': pumpDied,
    'tube-broke': tubeBroke,
    'worker-left': workerLeft,
    'wrong-tube': wrongTube,
    task: unplannedTask,
  };
  return [
    head(desk, say(`trouble.${kind}`), {
      back: ['run', train.code],
      under: [train.code, train.worker, train.pump].filter(Boolean).join(' · '),
    }),
    ...screens[kind](desk, train, draft),
  ];
}

/** @param {TrainNow} train */
const lettersOf = (train) => train.ports.map((port) => port.port);

/** @param {Desk} desk @param {TrainNow} train @param {string} kind @param {string[]} route */
function done(desk, train, kind, ...route) {
  desk.forget(`trouble/${train.code}/${kind}`);
  desk.go(...route);
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @returns {Piece[]} */
function pumpDied(desk, train, draft) {
  if (train.stage !== 'running' || draft.step === 'after') {
    return [
      message('care', say('died.recorded'), say('died.recorded-do')),
      button(
        say('died.again'),
        () =>
          desk.keep(
            [acts.pumpStarted(train.code, lettersOf(train), lettersOf(train), '')],
            say('died.started', { train: train.code }),
            () => done(desk, train, 'pump-died', 'run', train.code),
          ),
        { kind: 'quiet', hint: say('died.again-hint') },
      ),
      button(say('died.other-pump'), () => done(desk, train, 'pump-died', 'prepare', train.code, 'pump'), {
        kind: 'quiet',
        hint: say('died.other-pump-hint'),
      }),
      button(say('died.end'), () => done(desk, train, 'pump-died', 'stop', train.code), { hint: say('died.end-hint') }),
    ];
  }
  const keep = (/** @type {string} */ counter) =>
    desk.keep(
      [
        {
          ...acts.pumpStopped(train.code, lettersOf(train), lettersOf(train), 'fault', counter, true),
          ...atOf(desk, draft),
        },
      ],
      say('died.kept', { train: train.code }),
      () => ((draft.step = 'after'), desk.redraw()),
    );
  return [
    h('p', { class: 'asked great' }, say('died.counter')),
    h('p', { class: 'under' }, say('died.why')),
    when(desk, draft, say('died.found')),
    counterPad(desk, draft, { word: draft.text ? say('keep') : say('died.dark'), keep }),
    draft.text === '' && message('plain', say('died.dark-note')),
  ];
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @returns {Piece[]} */
function tubeBroke(desk, train, draft) {
  const port = train.ports.find((one) => one.port === draft.port);
  if (!port || draft.step === '') {
    return [
      h('p', { class: 'asked' }, say('broke.which')),
      h(
        'div',
        { class: 'pair tall' },
        train.ports
          .filter((one) => one.sampler)
          .map((one) =>
            button(
              say('port', { port: one.port }),
              () =>
                desk.keep(
                  [acts.samplerRemoved(train.code, one.port, one.sampler, 'tube broken')],
                  say('broke.kept', { code: one.sampler, port: one.port }),
                  () => ((draft.port = one.port), (draft.step = 'new'), desk.redraw()),
                ),
              { kind: 'stop', hint: one.sampler, key: one.port },
            ),
          ),
      ),
      message('care', say('broke.glass'), say('broke.glass-do')),
    ];
  }
  return [
    message('plain', say('broke.neighbours')),
    ...bindPort(desk, train, port, draft, () => done(desk, train, 'tube-broke', 'run', train.code)),
    button(
      say('broke.none'),
      () =>
        desk.keep(
          [
            acts.noted(
              train.code,
              `Port ${port.port} was plugged after its tube broke; no sampler on it from here on.`,
            ),
          ],
          say('broke.none-kept'),
          () => done(desk, train, 'tube-broke', 'run', train.code),
        ),
      { kind: 'quiet' },
    ),
  ];
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @returns {Piece[]} */
function workerLeft(desk, train, draft) {
  if (draft.step === '') {
    return [
      h('p', { class: 'asked great' }, say('left.back')),
      h(
        'div',
        { class: 'pair tall' },
        button(say('left.yes'), () => ((draft.step = 'hold'), desk.redraw()), {
          kind: 'quiet',
          hint: say('left.yes-hint'),
        }),
        button(say('left.no'), () => ((draft.step = 'early'), desk.redraw()), { hint: say('left.no-hint') }),
      ),
    ];
  }
  const early = draft.step === 'early';
  const keep = (/** @type {string} */ counter) => {
    const act = early
      ? acts.pumpStopped(train.code, lettersOf(train), lettersOf(train), 'early', counter)
      : acts.pumpHeld(train.code, 'worker left the area', counter);
    return desk.keep(
      [{ ...act, ...atOf(desk, draft) }],
      say(early ? 'left.stopped' : 'hold.kept', { train: train.code }),
      () => done(desk, train, 'worker-left', ...(early ? ['stop', train.code] : ['run', train.code])),
    );
  };
  return [
    when(desk, draft, say(early ? 'left.when-stopped' : 'hold.when')),
    h('p', { class: 'asked' }, say('counter.shows')),
    counterPad(desk, draft, {
      near: counterNear(train, draft.back),
      word: draft.text ? say('keep') : say('check.no-counter'),
      keep,
    }),
  ];
}

/** The entry that put a sampler on a port, as it counts now. @param {Desk} desk @param {TrainNow} train @param {PortNow} port */
function fittingOf(desk, train, port) {
  return desk.view.entries.findLast((entry) => {
    if (entry.kind !== 'sampler_fitted') return false;
    const amended = desk.view.day.amendments[entry.id];
    const fields = amended ? amended.counts?.fields : entry.fields;
    return fields?.train === train.code && fields.port === port.port && fields.sampler === port.sampler;
  });
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @returns {Piece[]} */
function wrongTube(desk, train, draft) {
  // A tube that came off leaves its port waiting for the right one; anything else begins with the port that is asked for.
  const asked = desk.route[3] ?? (draft.step === 'tube' ? draft.port : '');
  if (asked !== draft.port) Object.assign(draft, { port: asked, step: '', text: '', doubt: '' });
  const port = train.ports.find((one) => one.port === asked);
  if (!port) {
    return [
      h('p', { class: 'asked' }, say('wrong.which')),
      h(
        'div',
        { class: 'pair tall' },
        train.ports
          .filter((one) => one.sampler)
          .map((one) =>
            button(say('port', { port: one.port }), () => desk.go('trouble', train.code, 'wrong-tube', one.port), {
              kind: 'quiet',
              hint: one.sampler,
              key: one.port,
            }),
          ),
      ),
    ];
  }
  if (draft.step === '') {
    return [
      h('p', { class: 'asked great' }, say('wrong.what', { port: port.port, code: port.sampler })),
      button(say('wrong.record'), () => ((draft.step = 'record'), desk.redraw()), { hint: say('wrong.record-hint') }),
      button(
        say('wrong.tube'),
        () =>
          desk.keep(
            [acts.samplerRemoved(train.code, port.port, port.sampler, 'wrong sampler')],
            say('tube.off', { code: port.sampler, port: port.port }),
            () => ((draft.step = 'tube'), desk.redraw()),
          ),
        { kind: 'stop', hint: say('wrong.tube-hint') },
      ),
    ];
  }
  if (draft.step === 'tube')
    return bindPort(desk, train, port, draft, () => done(desk, train, 'wrong-tube', 'run', train.code));
  return wrongRecord(desk, train, port, draft);
}

/** Another sampler hangs on the port than was recorded: lot, expiry and an earlier use are no question of the label.
 *  @param {Desk} desk @param {TrainNow} train @param {PortNow} port @param {Record<string, any>} draft @returns {Piece[]} */
function wrongRecord(desk, train, port, draft) {
  const fitting = fittingOf(desk, train, port);
  const fitted = new Set(Object.keys(desk.view.day.runs));
  const names = [
    ...train.ports.map((one) => one.sampler),
    ...(desk.view.pack?.samplers ?? []).filter((one) => !fitted.has(one.code)).map((one) => one.code),
  ].filter((code) => code && code !== port.sampler);
  const known = labels(desk.view.pack, desk.view.planned);
  const correct = (/** @type {string} */ code) => {
    if (desk.busy) return;
    if (!fitting) return desk.tell('stop', say('wrong.no-entry'));
    const against = labelObjections(desk, known.get(code), code, port.medium);
    if (against.length > 0 && draft.doubt !== code) {
      Object.assign(draft, { doubt: code, against });
      desk.tell('stop', say('fit.stop', { code }), [], against);
      return;
    }
    draft.doubt = '';
    void desk.keep(
      [
        {
          kind: 'correction',
          fields: { field: 'sampler', value: code },
          corrects: fitting.id,
          reason: 'another sampler is on the port than was recorded',
        },
      ],
      say('wrong.corrected', { port: port.port, code }),
      () => done(desk, train, 'wrong-tube', 'run', train.code),
    );
  };
  desk.onScan = correct;
  return [
    h('p', { class: 'asked' }, say('wrong.really', { port: port.port })),
    draft.doubt && message('stop', say('fit.stop', { code: draft.doubt }), ...draft.against, say('wrong.stop-do')),
    draft.doubt &&
      button(say('wrong.all-the-same', { code: draft.doubt, port: port.port }), () => correct(draft.doubt), {
        kind: 'stop',
      }),
    h('p', { class: 'scan-line', role: 'status' }, say('fit.scan')),
    choices(
      say('wrong.really', { port: port.port }),
      names.slice(0, 12).map((code) => ({ value: code, text: code })),
      '',
      correct,
      { wide: true },
    ),
    message('plain', say('wrong.swap')),
  ];
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @returns {Piece[]} */
function unplannedTask(desk, train, draft) {
  const tasks = desk.view.pack?.tasks ?? [];
  const keep = () =>
    desk.keep(
      [{ ...acts.taskBegun(train.worker, draft.task.trim()), ...atOf(desk, draft) }],
      say('task.kept', { worker: train.worker, time: timeText(momentOf(desk, draft).toISOString(), desk.zone) }),
      () => done(desk, train, 'task', 'run', train.code),
    );
  return [
    when(desk, draft, say('task.when')),
    tasks.length > 0 &&
      tasks.length <= 8 &&
      choices(
        say('task.which'),
        tasks.map((one) => ({ value: one, text: one })),
        draft.task,
        (task) => ((draft.task = task), desk.redraw()),
        { wide: true },
      ),
    tasks.length > 8 &&
      list(
        say('task.which'),
        [{ value: '', text: '–' }, ...tasks.map((one) => ({ value: one, text: one }))],
        draft.task,
        (task) => ((draft.task = task), desk.redraw()),
        'task',
      ),
    box(say('task.words'), draft.task, (text) => ((draft.task = text), desk.redraw()), {
      name: 'task-words',
      hint: say('task.hint'),
    }),
    button(say('task.keep'), keep, { off: !draft.task.trim() || !train.worker }),
    button(say('task.and-tube'), () => desk.go('tube', train.code), { kind: 'quiet', hint: say('task.and-tube-hint') }),
  ];
}
