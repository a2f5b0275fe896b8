/** What the whole log shares: samples by number, what to settle, what to know; and how one act by two people reads. */

import { said } from '../said.js';

/** @typedef {import('../types.js').Conflict} Conflict */
/** @typedef {import('./order.js').Act} Act */
/** @typedef {import('./runs.js').RunLog} RunLog */

/** Pairs of entries that somebody said are two acts. */
export class Distinct {
  constructor() {
    /** @type {Set<string>} */
    this.pairs = new Set();
  }

  /** @param {string} one @param {string} other */
  add(one, other) {
    this.pairs.add(pair(one, other));
  }

  /** @param {string} one @param {string} other @returns {boolean} */
  has(one, other) {
    return this.pairs.size > 0 && this.pairs.has(pair(one, other));
  }
}

/** @param {string} one @param {string} other @returns {string} */
function pair(one, other) {
  return JSON.stringify([one, other].sort());
}

export class Findings {
  /** @param {Conflict[]} conflicts @param {Conflict[]} remarks @param {Distinct} distinct */
  constructor(conflicts, remarks, distinct) {
    this.conflicts = conflicts;
    this.remarks = remarks;
    this.distinct = distinct;
    /** @type {Map<string, RunLog>} */
    this.runs = new Map();
  }

  /** @param {Act} one @param {Act} other @returns {boolean} */
  areDistinct(one, other) {
    return this.distinct.has(one.id, other.id);
  }
}

/** @param {string} about @param {string[]} entryIds @param {string} words
 *  @param {{train?: string, port?: string, samplers?: string[]}} where @returns {Conflict} */
export function conflict(about, entryIds, words, where = {}) {
  const { train = '', port = '', samplers = [] } = where;
  return { about, entry_ids: entryIds, words, train, port, samplers };
}

/** Words the conflict of one act recorded on several devices.
 *  @param {Act[]} acts @param {string[]} samplers @returns {Conflict} */
export function recordedTwice(acts, samplers = []) {
  const first = /** @type {Act} */ (acts[0]);
  const listed = acts
    .map((act) => `${act.id} (${act.author}, ${act.device})`)
    .reduce((before, act) => said('{before} and {act}', { act }, { before }));
  const subject = [first.value('train'), first.value('port')].filter(Boolean).join(' ');
  const kind = subject ? said('{kind} {subject}', { subject }, { kind: first.kind }) : first.kind;
  const words = said(
    '{kind}: {acts} look like one act. The first counts. Withdraw one, or say that they are two acts.',
    {},
    { kind, acts: listed },
  );
  const named = samplers.length ? samplers : [first.value('sampler')].filter(Boolean);
  const where = { train: first.value('train'), port: first.value('port'), samplers: named };
  return conflict('recorded twice', acts.map((act) => act.id), words, where);
}
