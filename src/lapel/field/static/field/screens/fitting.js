/** What speaks against a sampler on a port, before it is opened: in words, each to be read before going on. */

import { instantText } from '../instants.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('../now/planned.js').Label} Label */
/** @typedef {import('../types.js').Pack} Pack */

/** @param {Pack | null} pack @param {string} medium */
export function lotsFor(pack, medium) {
  return (pack?.media ?? []).filter((one) => !medium || one.medium === medium);
}

/** The lot there is no choice about; empty where there is one. @param {{lot: string}[]} lots @returns {string} */
export function onlyLot(lots) {
  return lots.length === 1 ? (lots[0]?.lot ?? '') : '';
}

/** What speaks against the label itself, whatever its lot.
 *  @param {Desk} desk @param {Label | undefined} known What the office has told of the label.
 *  @param {string} code @param {string} medium What the port wants. @returns {string[]} */
export function labelObjections(desk, known, code, medium) {
  const isBlank = known?.as === 'blank' || desk.view.day.blanks[code] !== undefined;
  return [
    known === undefined && !isBlank && say('fit.unknown', { code }),
    isBlank && say('fit.is-blank', { code }),
    known?.medium &&
      medium &&
      known.medium !== medium &&
      say('fit.other-medium', { found: known.medium, wanted: medium }),
  ].filter((words) => typeof words === 'string');
}

/** @param {Desk} desk @param {Label | undefined} known What the office has told of the label.
 *  @param {{code: string, medium: string, lot: string, expiry: string, isUsed: boolean}} given @returns {string[]} */
export function objections(desk, known, { code, medium, lot, expiry, isUsed }) {
  const today = instantText(desk.now, desk.zone).slice(0, 10);
  return [
    ...labelObjections(desk, known, code, medium),
    isUsed && say('fit.used', { code }),
    expiry !== '' && expiry < today && say('fit.expired', { day: expiry }),
    !lot && say('fit.no-lot'),
  ].filter((words) => typeof words === 'string');
}
