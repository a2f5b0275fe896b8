/**
 * The number pad. It needs no keyboard of the system, takes gloves, and keeps what was typed as it was typed.
 *
 * Above it lie the near keys: the nine values around what this port read last, at the same fineness. A reading that is
 * one of them is one tap. None of them is ever chosen beforehand, and the one in the middle looks like the others.
 */

import { h } from './drawing.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */

const LONGEST = 7;

/** Nine values around one, one step of its last digit apart; none below zero. @param {string} text @returns {string[]} */
export function nearValues(text) {
  if (!/^\d+(\.\d+)?$/.test(text)) return [];
  const decimals = text.includes('.') ? text.length - text.indexOf('.') - 1 : 0;
  const scale = 10 ** decimals;
  const middle = Math.round(Number(text) * scale);
  const first = Math.max(0, middle - 4);
  return Array.from({ length: 9 }, (_, index) => ((first + index) / scale).toFixed(decimals));
}

/** What the text becomes when one more sign is typed. @param {string} text @param {string} sign */
export function typed(text, sign) {
  if (sign === '.') return text.includes('.') || text.length >= LONGEST ? text : (text || '0') + '.';
  if (text === '0') return sign;
  return text.replace('.', '').length >= LONGEST - 1 ? text : text + sign;
}

/** @param {string} text */
export const isWhole = (text) => /^\d+(\.\d+)?$/.test(text);

/** @param {Desk} desk
 *  @param {{draft: Record<string, any>, unit: string, label: string, near?: string, keep: (text: string) => void,
 *  word?: string, allowEmpty?: boolean, point?: boolean, aside?: boolean}} given `aside`: the screen is about something else. */
export function pad(
  desk,
  { draft, unit, label, near = '', keep, word = say('keep'), allowEmpty = false, point = true, aside = false },
) {
  const type = (/** @type {string} */ sign) => {
    draft.text = typed(draft.text, sign);
    desk.redraw();
  };
  const erase = () => {
    draft.text = draft.text.slice(0, -1);
    desk.redraw();
  };
  const ready = isWhole(draft.text) || (allowEmpty && draft.text === '');
  const done = () => {
    if (!ready || desk.busy) return;
    const text = draft.text;
    draft.text = '';
    keep(text);
  };
  desk.wantsRoom ||= !aside;
  desk.pad = { type, erase, keep: done };
  const values = nearValues(near);
  const key = (/** @type {string} */ sign, /** @type {() => void} */ act, /** @type {string} */ name) =>
    h('button', { type: 'button', class: 'key', key: sign, 'aria-label': name, on: { click: act } }, sign);
  return h(
    'div',
    { class: 'pad', role: 'group', 'aria-label': label },
    h(
      'output',
      { class: draft.text ? 'shown' : 'shown nothing', 'aria-live': 'polite', 'aria-label': label },
      h('span', { class: 'shown-number' }, draft.text || '0'),
      h('span', { class: 'shown-unit' }, unit),
    ),
    values.length > 0 &&
      h(
        'div',
        { class: 'near', role: 'group', 'aria-label': say('pad.near') },
        values.map((value) =>
          h(
            'button',
            {
              type: 'button',
              class: 'near-key',
              key: value,
              'aria-label': say('pad.near-one', { value, unit }),
              on: {
                click: () => {
                  if (desk.busy) return;
                  draft.text = '';
                  keep(value);
                },
              },
            },
            value,
          ),
        ),
      ),
    h(
      'div',
      { class: 'keys' },
      ['7', '8', '9', '4', '5', '6', '1', '2', '3'].map((sign) => key(sign, () => type(sign), sign)),
      point ? key('.', () => type('.'), say('pad.point')) : h('span', { key: '.' }),
      key('0', () => type('0'), '0'),
      key('⌫', erase, say('pad.erase')),
    ),
    h(
      'button',
      { type: 'button', class: 'action main keep', disabled: !ready || desk.busy, on: { click: done } },
      h('span', { class: 'action-text' }, word),
    ),
  );
}
