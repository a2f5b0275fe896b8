/** How the trains of the day stand at an instant: what the screens draw, already worked out. */

import { openPorts } from '../fold/day.js';
import { minutesBetween, msOf } from '../instants.js';
import { PlaceAir } from '../numbers/air.js';
import { portPattern } from '../numbers/splitter.js';
import { canonical } from '../numbers/units.js';
import { limitOf } from '../numbers/verdict.js';
import { byCodePoint } from '../texts.js';
import { portNow } from './ports.js';
import { stillMissing } from './missing.js';

/** @typedef {import('../types.js').Day} Day */
/** @typedef {import('../types.js').Diagnosis} Diagnosis */
/** @typedef {import('../types.js').Pack} Pack */
/** @typedef {import('../types.js').PlannedTrain} PlannedTrain */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').Preparation} Preparation */
/** @typedef {import('../types.js').SampleRun} SampleRun */
/** @typedef {import('../types.js').Stage} Stage */
/** @typedef {import('../types.js').TrainNow} TrainNow */

/** What was put together longer ago than this, and does not draw, is of another day. [h] */
const ANOTHER_DAY_H = 16;

/** Every train that is planned or was prepared today, by code.
 *  @param {Day} day @param {Pack | null} pack @param {PlannedTrain[]} planned Typed on the device; they go before the pack's.
 *  @param {number} now Milliseconds since 1970. @returns {TrainNow[]} */
export function trainsNow(day, pack, planned, now) {
  /** @type {Map<string, PlannedTrain>} */
  const plans = new Map([...(pack?.trains ?? []), ...planned].map((one) => [one.train, one]));
  const placeAir = new PlaceAir(pack?.survey ?? null, day.conditions);
  const meters = new Map((pack?.meters ?? []).map((meter) => [meter.code, meter]));
  /** @type {Map<string, SampleRun[]>} */
  const runs = new Map();
  for (const run of Object.values(day.runs)) runs.set(run.train, [...(runs.get(run.train) ?? []), run]);
  const codes = [...new Set([...plans.keys(), ...Object.keys(day.trains)])].sort(byCodePoint);
  const around = { day, pack, placeAir, meters, now };
  return codes.flatMap((code) => {
    const train = trainNow(code, plans.get(code) ?? null, runs.get(code) ?? [], around);
    return train.preparation >= 0 || plans.has(code) ? [train] : [];
  });
}

/** @typedef {import('./ports.js').Around} Around */

/** @param {string} code @param {PlannedTrain | null} plan @param {SampleRun[]} allRuns @param {Around} around
 *  @returns {TrainNow} */
function trainNow(code, plan, allRuns, around) {
  const { day, pack, now } = around;
  const last = day.trains[code]?.preparations.at(-1) ?? null;
  const preparation = last && isOfToday(last, now) ? last : null;
  const open = preparation ? openPorts(day, code) : {};
  const isHere = (/** @type {SampleRun} */ run) =>
    run.preparation === preparation?.number ||
    run.segments.some((segment) => segment.preparation === preparation?.number) ||
    (open[run.port]?.sampler === run.sampler && waitsForAPump(run, now));
  const runs = preparation ? allRuns.filter(isHere) : [];
  const splitter = pack?.splitters.find((one) => one.code === (preparation?.splitter || plan?.splitter));
  const letters = new Set([
    ...(plan?.ports ?? []).map((port) => port.port),
    ...Object.keys(preparation?.ports ?? {}),
    ...runs.map((run) => run.port),
    ...(preparation?.readings ?? []).map((reading) => reading.port),
  ]);
  const used = letters.size ? letters : new Set(splitter?.ports ?? []);
  const ports = [...used].sort(byCodePoint).map((letter) => {
    const planned = plan?.ports.find((port) => port.port === letter) ?? null;
    const ofPort = runs.filter((run) => run.port === letter);
    return portNow(letter, planned, preparation, ofPort, open[letter] ?? null, around);
  });
  const worker = preparation?.hung.at(-1)?.worker ?? '';
  const present = preparation?.pump_runs.at(-1) ?? null;
  const running = ports.some((port) => port.drawing);
  const runningSince = running && present && present.stop === null ? present.start : '';
  const finished = preparation?.pump_runs.filter((run) => run.stop !== null).at(-1) ?? null;
  const drawing = ports.filter((port) => port.drawing);
  const diagnoses = preparation ? diagnosesOf(ports, preparation) : [];
  const leaks = (preparation?.leak_checks ?? []).filter((check) => !check.port);
  return {
    code,
    worker: worker || (preparation?.hung.length ? '' : (plan?.worker ?? '')),
    pump: preparation?.pump || plan?.pump || '',
    splitter: preparation?.splitter || plan?.splitter || '',
    preparation: preparation?.number ?? -1,
    stage: stageOf(preparation, ports),
    warm_up_min: preparation?.warm_up_min ?? null,
    charged_at: preparation?.charged_at ?? '',
    leak: leaks.length ? (leaks.at(-1)?.passed ? 'passed' : 'failed') : 'not recorded',
    ports,
    running_since: runningSince,
    minutes: runningSince ? minutesBetween(runningSince, now) : null,
    ...checksOf(preparation, runningSince, around),
    earliest_useful_stop: extreme(drawing.map((port) => port.useful_at), Math.max),
    latest_safe_stop: extreme(drawing.map((port) => port.volume_max_at).filter(Boolean), Math.min),
    missing: preparation ? stillMissing(preparation, ports, around) : [],
    counter_min: finished?.counter_min ?? null,
    clock_min: finished?.clock_min ?? null,
    diagnosis: diagnoses[0] ?? null,
    diagnoses,
  };
}

/** @param {Preparation} preparation @param {number} now @returns {boolean} */
function isOfToday(preparation, now) {
  const run = preparation.pump_runs.at(-1);
  if (run && run.stop === null && minutesBetween(run.start, now) <= 24 * 60) return true;
  const acts = [preparation.at, run?.stop, preparation.readings.at(-1)?.at, preparation.checks.at(-1)?.at];
  const instants = [...acts, preparation.hung.at(-1)?.at].flatMap((at) => at ?? []);
  return !instants.length || instants.some((at) => minutesBetween(at, now) <= ANOTHER_DAY_H * 60);
}

/** Whether a sampler hangs on after its pump died, so that another pump may draw on through it.
 *  @param {SampleRun} run @param {number} now @returns {boolean} */
function waitsForAPump(run, now) {
  if (run.segments.at(-1)?.ended_by !== 'fault' || !run.fitted_at) return false;
  return minutesBetween(run.fitted_at, now) <= ANOTHER_DAY_H * 60;
}

/** @param {Preparation | null} preparation @param {PortNow[]} ports @returns {Stage} */
function stageOf(preparation, ports) {
  if (!preparation) return 'planned';
  if (ports.some((port) => port.drawing)) return 'running';
  if (ports.some((port) => port.held)) return 'held';
  const ran = ports.filter((port) => port.run?.segments.some((one) => one.preparation === preparation.number));
  if (ran.length) {
    const unread = ran.some((port) => !port.post);
    if (unread || !preparation.post_rounds.length) return 'stopped';
    return ports.some((port) => port.sampler) ? 'post read' : 'done';
  }
  if (preparation.hung.length) return 'hung';
  const prepared = ports.filter((port) => port.tube || port.closing || port.pending.length);
  if (prepared.length && prepared.every((port) => port.closing_stands)) return 'ready';
  return ports.some((port) => port.pending.length) ? 'round open' : 'preparing';
}

/** When somebody looked last, and when somebody must look again.
 *  @param {Preparation | null} preparation @param {string} runningSince @param {Around} around
 *  @returns {Pick<TrainNow, 'last_check' | 'next_check_at' | 'check_overdue_min'>} */
function checksOf(preparation, runningSince, { pack, now }) {
  const looks = (preparation?.checks ?? []).filter((check) => {
    return runningSince && msOf(check.at) >= msOf(runningSince) && msOf(check.at) <= now;
  });
  const last = looks.at(-1) ?? null;
  const limit = runningSince ? limitOf(last ? 'check_gap' : 'first_check', pack?.rules ?? null) : null;
  if (limit === null) return { last_check: last, next_check_at: '', check_overdue_min: null };
  const due = msOf(last?.at ?? runningSince) + limit * 60000;
  return { last_check: last, next_check_at: new Date(due).toISOString(), check_overdue_min: (now - due) / 60000 };
}

/** @param {string[]} instants @param {(...values: number[]) => number} which @returns {string} '' where one is missing. */
function extreme(instants, which) {
  if (!instants.length || instants.includes('')) return '';
  return new Date(which(...instants.map(msOf))).toISOString();
}

/** @param {PortNow[]} ports @param {Preparation} preparation @returns {Diagnosis[]} */
function diagnosesOf(ports, preparation) {
  const read = ports.filter((port) => port.before && port.post && port.before.mean_lpm > 0);
  if (!read.length) return [];
  const before = Object.fromEntries(read.map((port) => [port.port, port.before?.mean_lpm ?? 0]));
  const after = Object.fromEntries(read.map((port) => [port.port, port.post?.mean_lpm ?? 0]));
  const shown = preparation.checks.flatMap(({ display, display_unit: unit }) => {
    return display && unit ? [canonical(display, unit, 'flow')] : [];
  });
  const [pumpBefore, pumpAfter] = [shown[0], shown.at(-1)];
  return portPattern(before, after, shown.length > 1 && pumpBefore ? { pumpBefore, pumpAfter } : {});
}
