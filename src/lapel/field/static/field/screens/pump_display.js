/** The flow on the pump's own display: beside the inlets it tells a leak behind a tube from a port that is blocked. */

import * as acts from './acts.js';
import { h } from './drawing.js';
import { pad } from './pad.js';
import { button, choices, head } from './parts.js';
import { preparationOf } from './trains_of_day.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').TrainNow} TrainNow */

const UNITS = ['L/min', 'mL/min'];

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
export function pumpDisplayScreen(desk, train) {
  const last = displaysOf(desk, train).at(-1);
  const draft = desk.draft(`pump-display/${train.code}`, { text: '', unit: last?.display_unit ?? 'L/min' });
  const back = [train.stage === 'ready' ? 'prepare' : isOut(train) ? 'run' : 'stop', train.code];
  return [
    head(desk, say('display.title'), { back, under: [train.code, train.pump].filter(Boolean).join(' · ') }),
    h('p', { class: 'under' }, say('display.why')),
    choices(
      say('unit'),
      UNITS.map((unit) => ({ value: unit, text: unit })),
      draft.unit,
      (unit) => ((draft.unit = unit), desk.redraw()),
    ),
    pad(desk, {
      draft,
      unit: draft.unit,
      label: say('display.shows'),
      near: last && last.display_unit === draft.unit ? last.display : '',
      keep: (text) =>
        desk.keep(
          [acts.pumpDisplayed(train.code, text, draft.unit)],
          say('display.kept', { pump: train.pump, reading: `${text} ${draft.unit}` }),
          () => (desk.forget(`pump-display/${train.code}`), desk.go(...back)),
        ),
    }),
  ];
}

/** The way here from another screen. @param {Desk} desk @param {TrainNow} train @returns {Piece} */
export function displayButton(desk, train) {
  return button(say('display.title'), () => desk.go('pump-display', train.code), {
    kind: 'quiet',
    hint: shownSoFar(desk, train),
    key: 'display',
  });
}

/** What the display showed since the train was put together: first and last.
 *  @param {Desk} desk @param {TrainNow} train @returns {string} */
function shownSoFar(desk, train) {
  const shown = displaysOf(desk, train);
  if (shown.length === 0) return say('not.read');
  return [shown[0], ...(shown.length > 1 ? shown.slice(-1) : [])]
    .map((one) => `${one?.display} ${one?.display_unit}`)
    .join(' → ');
}

/** @param {Desk} desk @param {TrainNow} train */
function displaysOf(desk, train) {
  return (preparationOf(desk, train)?.checks ?? []).filter((check) => check.display && check.display_unit);
}

/** @param {TrainNow} train */
function isOut(train) {
  return train.stage === 'running' || train.stage === 'held' || train.stage === 'hung';
}
