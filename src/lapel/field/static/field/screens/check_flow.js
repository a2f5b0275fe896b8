/** A flow read in mid-run: it says something about the port, and costs it a moment; so it is a reading of its own kind. */

import { h } from './drawing.js';
import { button, head, message } from './parts.js';
import { takeReadings } from './readings.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').TrainNow} TrainNow */

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
export function checkFlowScreen(desk, train) {
  return [
    head(desk, say('check-flow.title'), {
      back: ['run', train.code],
      under: [train.code, train.worker].filter(Boolean).join(' · '),
    }),
    message('plain', say('check-flow.note')),
    ...takeReadings(desk, train, { phase: 'check', ports: train.ports, wanted: 1, done: () => false }),
    h(
      'div',
      { class: 'pair' },
      button(say('done'), () => desk.go('run', train.code), { kind: 'quiet' }),
    ),
  ];
}
