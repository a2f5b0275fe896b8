/** An entry inside the fold: its instants as microseconds, everything optional filled in. */

import { canonicalText } from '../chain.js';
import { microsOf, utcText } from '../instants.js';

/** @typedef {import('../types.js').Entry} Entry */
/** @typedef {import('../types.js').FoldedEntry} FoldedEntry */

/** @typedef {object} Recorded
 *  @property {string} id
 *  @property {string} kind
 *  @property {number} at
 *  @property {string} device
 *  @property {number} sequence
 *  @property {string} author
 *  @property {Record<string, string>} fields
 *  @property {string} corrects
 *  @property {string} reason
 *  @property {number | null} received_at
 *  @property {string} previous_hash
 *  @property {string} hash */

/** Entries never change, and a day is folded again after every act: what was read of one is kept with it.
 *  @type {WeakMap<Entry, Recorded>} */
const KNOWN = new WeakMap();

/** @param {Entry} entry @returns {Recorded} @throws {RangeError} Its instant cannot be read. */
export function recordedOf(entry) {
  let found = KNOWN.get(entry);
  if (!found) {
    found = {
      id: entry.id,
      kind: entry.kind,
      at: microsOf(entry.at),
      device: entry.device,
      sequence: entry.sequence,
      author: entry.author,
      fields: entry.fields,
      corrects: entry.corrects ?? '',
      reason: entry.reason ?? '',
      received_at: entry.received_at ? microsOf(entry.received_at) : null,
      previous_hash: entry.previous_hash ?? '',
      hash: entry.hash ?? '',
    };
    KNOWN.set(entry, found);
  }
  return found;
}

/** @param {Recorded} entry @returns {Entry} */
export function entryOf(entry) {
  const { received_at: received, ...rest } = entry;
  const at = utcText(entry.at).replace('Z', '+00:00');
  return received === null ? { ...rest, at } : { ...rest, at, received_at: utcText(received) };
}

/** What two copies must share to be one entry: all but the offset it was written with and its place in a chain.
 *  @param {Recorded} entry @returns {string} */
export function contentOf(entry) {
  return canonicalText({ ...entryOf(entry), previous_hash: '' });
}

/** @param {Recorded} entry @returns {FoldedEntry} */
export function plainEntry(entry) {
  const { corrects, received_at: received } = entry;
  return {
    ...entry,
    at: utcText(entry.at),
    corrects: corrects || null,
    received_at: received === null ? null : utcText(received),
    origin: '',
  };
}
