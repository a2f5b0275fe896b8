/** The worst day: what waits as a file for the office, and the office's file of receipts taken in. */

import { said } from './said.js';

/** @typedef {import('./store.js').Waiting} Waiting */
/** @typedef {import('./types.js').ExportFile} ExportFile */
/** @typedef {import('./office_link.js').DeliveryAnswer} DeliveryAnswer */

/** One file a survey and device, as JSON Lines: a head, then an entry a line. Nothing leaves the outbox by it.
 *  @param {Waiting[]} waiting @param {string} sentAt @returns {ExportFile[]} */
export function filesOf(waiting, sentAt) {
  /** @type {Map<string, Waiting[]>} */
  const groups = new Map();
  for (const one of waiting) {
    const key = JSON.stringify([one.survey, one.device]);
    groups.set(key, [...(groups.get(key) ?? []), one]);
  }
  return [...groups.entries()].map(([key, some]) => {
    const [survey, device] = JSON.parse(key);
    const head = { lapel: 'entries', version: 1, survey, device, sent_at: sentAt, last_made: some.at(-1)?.sequence ?? 0 };
    const lines = [head, ...some.map((one) => one.entry)].map((one) => JSON.stringify(one));
    const stamp = sentAt.slice(0, 19).replaceAll(':', '');
    const name = `lapel-entries-${`${survey}-${device}-${stamp}`.replace(/[^A-Za-z0-9._-]+/g, '-')}.jsonl`;
    return { name, text: lines.join('\n') + '\n', count: some.length, survey };
  });
}

/** What the office says of a file it took in.
 *  @param {string} text @returns {Pick<DeliveryAnswer, 'receipts' | 'refused'>}
 *  @throws {Error} It is no such file; `message` is for the person. */
export function receiptsIn(text) {
  const unreadable = new Error(said('This is no file of receipts from the office. Nothing was changed.'));
  let given;
  try {
    given = JSON.parse(text);
  } catch {
    throw unreadable;
  }
  if (given?.lapel !== 'receipts' || given.version !== 1 || typeof given.receipts !== 'object' || !given.receipts) {
    throw unreadable;
  }
  return { receipts: given.receipts, refused: given.refused ?? {} };
}
