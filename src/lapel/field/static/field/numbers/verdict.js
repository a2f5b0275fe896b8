/** What a rule book makes of a number: the furthest tier that is crossed, as lapel.hygiene.findings finds it. */

import { said } from '../said.js';

/** @typedef {import('../types.js').FlowWindow} FlowWindow */
/** @typedef {import('../types.js').PackMethod} PackMethod */
/** @typedef {import('../types.js').PackRule} PackRule */
/** @typedef {import('../types.js').PackRules} PackRules */
/** @typedef {import('../types.js').Tier} Tier */
/** @typedef {import('../types.js').TierFound} TierFound */

/** A number at a tier's edge up to what rounding may do to it is on the mild side. */
const ROUNDING_SLACK = 1e-9;

/** A flow set is wanted within this share of the flow that was wanted; judgement, as the office's preparation page. */
export const TARGET_SHARE = 0.1;

/** @type {TierFound} */
export const WITHIN = {
  effect: '',
  words: '',
  remedy: '',
  wanted: '',
  limit: null,
  document: '',
  section: '',
  certainty: '',
  clause_unread: false,
};

/** What a rule book says of a measure's value; `effect` is '' where nothing is crossed or the book has no such rule.
 *  @param {string} measure @param {number | null} value In the measure's unit. @param {PackRules | null} rules
 *  @returns {TierFound} */
export function tierOf(measure, value, rules) {
  const rule = rules?.rules[measure];
  if (!rule || value === null || Number.isNaN(value)) return WITHIN;
  const crossed = rule.tiers.filter((tier) => isCrossed(tier, value));
  const furthest = crossed.reduce(
    (/** @type {Tier | null} */ far, tier) => (far === null || reach(tier) > reach(far) ? tier : far),
    null,
  );
  const first = rule.tiers[0];
  const limit = first ? first.value : null;
  if (!furthest) return { ...WITHIN, wanted: rule.wanted, limit };
  const { effect, words, remedy, document, section, certainty, clause_unread } = furthest;
  return { effect, words, remedy, wanted: rule.wanted, limit: furthest.value, document, section, certainty, clause_unread };
}

/** How far out a tier is. @param {Tier} tier @returns {number} */
function reach(tier) {
  return tier.value === null ? 0 : tier.bound === 'below' ? -tier.value : tier.value;
}

/** @param {Tier} tier @param {number} value @returns {boolean} */
function isCrossed(tier, value) {
  if (tier.value === null) return tier.bound === 'is' && value > 0.5;
  const slack = ROUNDING_SLACK * Math.abs(tier.value);
  if (tier.bound === 'from') return value > tier.value - slack - 1e-300;
  if (tier.bound === 'below') return -value > -tier.value + slack;
  return value > tier.value + slack;
}

/** The mildest number a rule states on a measure; null where the book has none.
 *  @param {string} measure @param {PackRules | null} rules @returns {number | null} */
export function limitOf(measure, rules) {
  return rules?.rules[measure]?.tiers[0]?.value ?? null;
}

/** The change from before to after the run. @param {number | null} change A fraction. @param {PackRules | null} rules */
export function changeTier(change, rules) {
  return tierOf('flow_change', change === null ? null : 100 * Math.abs(change), rules);
}

/** How far repeated readings lie apart. @param {number | null} spread A fraction of their mean.
 *  @param {PackRules | null} rules */
export function spreadTier(spread, rules) {
  return tierOf('replicate_spread', spread === null ? null : 100 * spread, rules);
}

/** The flows all methods allow that are wanted of a port, as near to the wanted flow as it is set; an end nobody states
 *  is null. @param {number | null} target @param {PackMethod[]} methods @returns {FlowWindow} */
export function targetWindow(target, methods) {
  const lows = methods.flatMap((method) => method.flow_min_lpm ?? []);
  const highs = methods.flatMap((method) => method.flow_max_lpm ?? []);
  const why = [];
  if (target !== null) {
    lows.push((1 - TARGET_SHARE) * target);
    highs.push((1 + TARGET_SHARE) * target);
    why.push(said('a tenth round the flow wanted'));
  }
  if (methods.length) why.push(said('what {methods} allows', { methods: methods.map((one) => one.code).join(', ') }));
  return {
    low_lpm: lows.length ? Math.max(...lows) : null,
    high_lpm: highs.length ? Math.min(...highs) : null,
    methods: methods.map((method) => method.code),
    why: why.length ? why.reduce((before, next) => said('{before} and {next}', {}, { before, next })) : '',
  };
}
