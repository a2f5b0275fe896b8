/** The minute something happened: now, unless somebody steps back. The page never steps ahead of the clock. */

import { h } from './drawing.js';
import { timeText } from './telling.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */

/** @param {Desk} desk @param {Record<string, any>} draft Minutes before now. @returns {Date} */
export function momentOf(desk, draft) {
  return new Date(desk.now - draft.back * 60000);
}

/** Fields of an act for that moment: nothing when it is now. @param {Desk} desk @param {Record<string, any>} draft */
export function atOf(desk, draft) {
  return draft.back ? { at: momentOf(desk, draft) } : {};
}

/** @param {Desk} desk @param {Record<string, any>} draft @param {string} question */
export function when(desk, draft, question) {
  const step = (/** @type {number} */ minutes) => () => {
    draft.back = Math.max(0, draft.back + minutes);
    desk.redraw();
  };
  return h(
    'div',
    { class: 'when', role: 'group', 'aria-label': question },
    h('span', { class: 'when-asked' }, question),
    h('button', { type: 'button', class: 'step', 'aria-label': say('when.earlier'), on: { click: step(1) } }, '−'),
    h(
      'output',
      { class: 'when-time', 'aria-live': 'polite' },
      timeText(momentOf(desk, draft).toISOString(), desk.zone),
    ),
    h(
      'button',
      {
        type: 'button',
        class: 'step',
        'aria-label': say('when.later'),
        disabled: draft.back === 0,
        on: { click: step(-1) },
      },
      '+',
    ),
  );
}
