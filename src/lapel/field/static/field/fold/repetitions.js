/** One act recorded by two people, seen by likeness: the first in order counts; see lapel.fieldlog.conflicts. */

import { SAME_ACT } from '../kinds.js';
import { recordedTwice } from './findings.js';

/** @typedef {import('../types.js').Conflict} Conflict */
/** @typedef {import('./findings.js').Distinct} Distinct */
/** @typedef {import('./order.js').Act} Act */

/** @param {Act[]} acts In order. @param {Distinct} distinct @returns {{left: Act[], conflicts: Conflict[]}} */
export function withoutRepetitions(acts, distinct) {
  /** @type {Act[]} */
  const left = [];
  /** @type {Map<string, Act>} */
  const firstOf = new Map();
  /** @type {Map<string, Act[]>} */
  const repeated = new Map();
  for (const act of acts) {
    const rule = SAME_ACT[act.kind];
    if (!rule) {
      left.push(act);
      continue;
    }
    const likeness = JSON.stringify([act.kind, ...rule.fields.map((name) => act.value(name))]);
    const first = firstOf.get(likeness);
    if (
      first &&
      first.device !== act.device &&
      (act.at - first.at) / 1e6 <= 60 * rule.minutes &&
      !distinct.has(first.id, act.id)
    ) {
      const group = repeated.get(first.id);
      if (group) group.push(act);
      else repeated.set(first.id, [first, act]);
    } else {
      firstOf.set(likeness, act);
      left.push(act);
    }
  }
  return { left, conflicts: [...repeated.values()].map((group) => recordedTwice(group)) };
}
