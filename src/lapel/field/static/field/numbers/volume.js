/** Litres: drawn so far, the most a sampler may see, the least that is of use, and when a port gets there. */

import { msOf } from '../instants.js';
import { flowByRule } from './flow.js';

/** @typedef {import('../types.js').FlowRound} FlowRound */
/** @typedef {import('../types.js').PackLimit} PackLimit */
/** @typedef {import('../types.js').PackMethod} PackMethod */
/** @typedef {import('../types.js').RoundFlow} RoundFlow */
/** @typedef {import('../types.js').SampleRun} SampleRun */

/** A run nobody stopped for this long is taken as one whose stop was not recorded, not as one that goes on. [h] */
const FORGOTTEN_H = 24;

/** Whether a sampler draws at an instant, as far as the log tells.
 *  @param {SampleRun} run @param {number} now @returns {boolean} */
export function isDrawing(run, now) {
  const last = run.segments.at(-1);
  return !!last && last.stop === null && !last.ended_by && now - msOf(last.start) <= FORGOTTEN_H * 3600_000;
}

/** Minutes and litres drawn by an instant. Minutes are null where a stop was not recorded, litres also where a segment
 *  has no flow before it; `sure` once every segment was read before and after.
 *  @param {SampleRun} run @param {number} now @param {(round: FlowRound) => RoundFlow | null} flowOf
 *  @param {'mean' | 'lower' | 'higher' | 'pre' | 'post'} rule
 *  @returns {{minutes: number | null, litres: number | null, sure: boolean}} */
export function drawnSoFar(run, now, flowOf, rule = 'mean') {
  /** @type {number | null} */
  let minutes = run.segments.length ? 0 : null;
  /** @type {number | null} */
  let litres = minutes;
  let sure = run.segments.length > 0;
  const drawing = isDrawing(run, now);
  for (const segment of run.segments) {
    const drawn = segment.minutes ?? (drawing ? (now - msOf(segment.start)) / 60000 : null);
    minutes = minutes === null || drawn === null ? null : minutes + drawn;
    const before = segment.before && flowOf(segment.before)?.mean_lpm;
    const after = segment.after && flowOf(segment.after)?.mean_lpm;
    const both = before && after && before > 0 && after > 0;
    const flow = both ? flowByRule(before, after, rule) : before;
    sure &&= !!both && segment.stop !== null;
    litres = litres === null || drawn === null || !(drawn > 0) || !flow || !(flow > 0) ? null : litres + flow * drawn;
  }
  return { minutes, litres, sure };
}

/** The most a sampler may see by its methods; null where none says. [L] @param {PackMethod[]} methods */
export function largestVolume(methods) {
  const stated = methods.flatMap((method) => method.volume_max_l ?? []);
  return stated.length ? Math.min(...stated) : null;
}

/** Least volume in which a wanted share of the limit still gives a mass the laboratory reports:
 *  V = LOQ / (f·L), EN 482 and ISO 20581. [L]
 *  @param {number} loqUg @param {number} limitMgM3 @param {number} fraction @returns {number} */
export function requiredVolume(loqUg, limitMgM3, fraction) {
  return loqUg / (fraction * limitMgM3);
}

/** The least that is of use for all that is wanted of a sampler; null where nothing says. [L]
 *  @param {PackMethod[]} methods @param {PackLimit[]} limits @param {string} purpose @param {number | null} fraction
 *  @returns {number | null} */
export function leastUsefulVolume(methods, limits, purpose, fraction) {
  const kinds = purpose === 'short term' ? ['STEL', 'ceiling'] : purpose === 'ceiling' ? ['ceiling', 'STEL'] : ['TWA'];
  const wanted = methods.flatMap((method) => {
    const needs = method.volume_min_l === null ? [] : [method.volume_min_l];
    const applying = limits.filter((limit) => limit.agent === method.agent && kinds.includes(limit.kind));
    const binding = applying.some((limit) => limit.binding) ? applying.filter((limit) => limit.binding) : applying;
    const values = binding.flatMap((limit) => limit.mg_m3 ?? []);
    if (values.length && fraction && method.reporting_limit_ug) {
      needs.push(requiredVolume(method.reporting_limit_ug, Math.min(...values), fraction));
    }
    return needs;
  });
  return wanted.length ? Math.max(...wanted) : null;
}

/** When a port that draws reaches a volume; an instant gone by where it has. Milliseconds, or null.
 *  @param {number | null} wanted @param {number | null} litres @param {number | null} flow @param {number} now */
export function reachedAt(wanted, litres, flow, now) {
  if (wanted === null || litres === null || !flow || !(flow > 0)) return null;
  return now + ((wanted - litres) / flow) * 60000;
}
