/** A pump's own minutes: what its counter shows, typed, tapped near what it should show, or left out. */

import { pad } from './pad.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('../types.js').TrainNow} TrainNow */

/** What the counter should show about now: the text the near keys lie around. @param {TrainNow} train @param {number} [back] */
export function counterNear(train, back = 0) {
  return train.minutes === null ? '' : String(Math.max(0, Math.floor(train.minutes - back)));
}

/** @param {Desk} desk @param {Record<string, any>} draft
 *  @param {{keep: (counter: string) => void, word: string, near?: string, label?: string}} given
 *    `word` stands on the key; `near` is what the counter should show. */
export function counterPad(desk, draft, { keep, word, near = '', label = say('counter.shows') }) {
  return pad(desk, { draft, unit: 'min', label, near, point: false, allowEmpty: true, word, keep });
}
