/** How one port of a train stands at an instant. */

import { PlaceAir, flowChange, roundFlow } from '../numbers/flow.js';
import { canonical } from '../numbers/units.js';
import { changeTier, limitOf, spreadTier, targetWindow } from '../numbers/verdict.js';
import { drawnSoFar, isDrawing, largestVolume, leastUsefulVolume, reachedAt } from '../numbers/volume.js';
import { msOf } from '../instants.js';
import { expectedOn, withinThePlan } from './planned.js';

/** @typedef {import('../types.js').FlowReading} FlowReading */
/** @typedef {import('../types.js').FlowRound} FlowRound */
/** @typedef {import('../types.js').Pack} Pack */
/** @typedef {import('../types.js').PackMethod} PackMethod */
/** @typedef {import('../types.js').PlannedPort} PlannedPort */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').Preparation} Preparation */
/** @typedef {import('../types.js').RoundFlow} RoundFlow */
/** @typedef {import('../types.js').SampleRun} SampleRun */
/** @typedef {import('../fold/day.js').OpenPort} OpenPort */

/** @typedef {object} Around What every port is seen with.
 *  @property {import('../types.js').Day} day
 *  @property {Pack | null} pack
 *  @property {PlaceAir} placeAir
 *  @property {Map<string, import('../types.js').PackMeter>} meters
 *  @property {number} now */

/** @param {string} letter @param {PlannedPort | null} planned @param {Preparation | null} preparation
 *  @param {SampleRun[]} runs Of this port and preparation. @param {OpenPort | null} open @param {Around} around
 *  @returns {PortNow} */
export function portNow(letter, planned, preparation, runs, open, around) {
  const { pack, placeAir, meters, now } = around;
  const rules = pack?.rules ?? null;
  const prepared = preparation?.ports[letter] ?? null;
  const run = runs.find((one) => one.sampler === open?.sampler) ?? latest(runs);
  const sampler = open?.sampler ?? '';
  const order = pack?.samplers.find((one) => one.code === (sampler || run?.sampler || planned?.sampler)) ?? null;
  const medium = run?.medium || prepared?.medium || planned?.medium || order?.medium || '';
  const methods = methodsOf(pack, order?.methods ?? planned?.methods ?? [], medium);
  const target = prepared?.target ? canonical(prepared.target, prepared.target_unit, 'flow') : (planned?.target_lpm ?? null);
  const flowOf = (/** @type {FlowReading[]} */ readings) => roundFlow(readings, meters, placeAir);
  const ofRound = (/** @type {FlowRound | null | undefined} */ round) => (round ? flowOf(round.readings) : null);

  const lastClosing = preparation?.closing_rounds.filter((round) => round.ports[letter]).at(-1)?.ports[letter] ?? null;
  const closing = open?.closing ?? lastClosing;
  const setting = settingsSinceClosing(preparation, letter);
  const pending = open?.pending_closing ?? [];
  const pendingFlow = flowOf(pending);
  const segment = run?.segments.at(-1) ?? null;
  const before = ofRound(segment?.before);
  const after = segment?.after?.phase === 'post' ? segment.after : preparation?.post_rounds.at(-1)?.ports[letter];
  const post = ofRound(after);
  const change = worstChange(run, ofRound, rules?.change_basis ?? 'pre') ?? changeBetween(before, post, rules);

  const drawing = !!run && isDrawing(run, now);
  const drawn = run
    ? drawnSoFar(run, now, (round) => ofRound(round), rules?.flow_rule ?? 'mean')
    : { minutes: null, litres: null, sure: false };
  const flow = drawing ? before : null;
  const most = largestVolume(methods);
  const share = limitOf('reporting_limit_share', rules);
  const useful = leastUsefulVolume(methods, pack?.limits ?? [], order?.purpose ?? '', share === null ? null : share / 100);
  const maxAt = drawing ? reachedAt(most, drawn.litres, flow?.mean_lpm ?? null, now) : null;
  const usefulAt = drawing ? reachedAt(useful, drawn.litres, flow?.mean_lpm ?? null, now) : null;
  const expected = expectedOn(planned, around.day);
  const next = drawing && expected !== sampler ? expected : '';
  const isTimed = next !== '' && planned?.minutes != null && drawn.minutes !== null;
  const changeAt = isTimed ? now + ((planned?.minutes ?? 0) - (drawn.minutes ?? 0)) * 60000 : null;
  return {
    port: letter,
    sampler,
    run: run ?? null,
    medium,
    lot: run?.lot || prepared?.lot || planned?.lot || '',
    expiry: run?.expiry ?? '',
    tube: prepared?.tube ?? '',
    target_lpm: target,
    target_text: prepared?.target ? `${prepared.target} ${prepared.target_unit}` : '',
    expected,
    minutes_planned: planned?.minutes ?? null,
    next_sampler: next,
    change_at: isoText(changeAt),
    methods: methods.map((method) => method.code),
    window: withinThePlan(targetWindow(target, methods), planned),
    closing: ofRound(closing),
    closing_stands: !!open?.closing,
    closing_lost: open?.closing_lost ?? '',
    setting,
    setting_flow: flowOf(setting),
    pending,
    pending_flow: pendingFlow,
    pending_spread: pendingFlow ? spreadTier(pendingFlow.spread, rules) : null,
    before,
    post,
    post_pending: open?.pending_post ?? [],
    change,
    change_tier: change === null ? null : changeTier(change, rules),
    drawing,
    held: open?.held ?? false,
    segments: run?.segments.length ?? 0,
    minutes: drawn.minutes,
    litres: drawn.litres,
    litres_sure: drawn.sure,
    volume_max_l: most,
    volume_max_at: isoText(maxAt),
    minutes_left: maxAt === null ? null : (maxAt - now) / 60000,
    over_max: most !== null && drawn.litres !== null && drawn.litres > most * (1 + 1e-9),
    volume_useful_l: useful,
    useful_at: isoText(usefulAt),
    reached_useful: useful !== null && drawn.litres !== null && drawn.litres >= useful * (1 - 1e-9),
  };
}

/** The sampler that was on it last. @param {SampleRun[]} runs @returns {SampleRun | undefined} */
function latest(runs) {
  const at = (/** @type {SampleRun} */ run) => (run.fitted_at ? msOf(run.fitted_at) : 0);
  return runs.reduce((/** @type {SampleRun | undefined} */ last, run) => (!last || at(run) >= at(last) ? run : last), undefined);
}

/** The methods wanted of a port: those ordered, else all for its medium.
 *  @param {Pack | null} pack @param {string[]} codes @param {string} medium @returns {PackMethod[]} */
function methodsOf(pack, codes, medium) {
  const ordered = (pack?.methods ?? []).filter((method) => codes.includes(method.code));
  return ordered.length || !medium ? ordered : (pack?.methods ?? []).filter((method) => method.medium === medium);
}

/** The readings while its valve was turned, after the last reading of another phase.
 *  @param {Preparation | null} preparation @param {string} letter @returns {FlowReading[]} */
function settingsSinceClosing(preparation, letter) {
  const readings = (preparation?.readings ?? []).filter((reading) => reading.port === letter);
  const other = readings.findLastIndex((reading) => reading.phase !== 'setting');
  return readings.slice(other + 1);
}

/** The largest change over the sample's segments that were read before and after, as a fraction.
 *  @param {SampleRun | undefined} run @param {(round: FlowRound | null | undefined) => RoundFlow | null} flowOf
 *  @param {'pre' | 'post' | 'mean'} basis @returns {number | null} */
function worstChange(run, flowOf, basis) {
  /** @type {number | null} */
  let worst = null;
  for (const segment of run?.segments ?? []) {
    const [before, after] = [flowOf(segment.before), flowOf(segment.after)];
    const change = before && after ? flowChange(before.mean_lpm, after.mean_lpm, basis) : null;
    if (change !== null && (worst === null || Math.abs(change) > Math.abs(worst))) worst = change;
  }
  return worst;
}

/** @param {RoundFlow | null} before @param {RoundFlow | null} after @param {Pack['rules'] | null} rules */
function changeBetween(before, after, rules) {
  return before && after ? flowChange(before.mean_lpm, after.mean_lpm, rules?.change_basis ?? 'pre') : null;
}

/** @param {number | null} ms @returns {string} */
function isoText(ms) {
  return ms === null || !Number.isFinite(ms) ? '' : new Date(ms).toISOString();
}
