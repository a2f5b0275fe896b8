/** What speaks against a sampler on a port, before it is opened: in words, each to be read before going on. */

import { instantText } from '../instants.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('../types.js').Pack} Pack */

/** @param {Pack | null} pack @param {string} medium */
export function lotsFor(pack, medium) {
  return (pack?.media ?? []).filter((one) => !medium || one.medium === medium);
}

/** @param {Desk} desk @param {{code: string, medium: string, lot: string, expiry: string, used: Set<string>}} given
 *  @returns {string[]} */
export function objections(desk, { code, medium, lot, expiry, used }) {
  const known = desk.view.pack?.samplers.find((one) => one.code === code);
  const today = instantText(desk.now, desk.zone).slice(0, 10);
  return [
    known === undefined && say('fit.unknown', { code }),
    used.has(code) && say('fit.used', { code }),
    known &&
      known.medium &&
      medium &&
      known.medium !== medium &&
      say('fit.other-medium', { found: known.medium, wanted: medium }),
    expiry && expiry < today && say('fit.expired', { day: expiry }),
    !lot && say('fit.no-lot'),
  ].filter((words) => typeof words === 'string');
}
