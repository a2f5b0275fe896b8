/**
 * From readings as typed to the flow of ambient air: the meter's curve, the rotameter's density, standard flow.
 *
 * The same values as lapel.assessment.bench gives; the uncertainties are the office's.
 */

import { said } from '../said.js';
import { NTP, PlaceAir } from './air.js';
import { canonical } from './units.js';

/** @typedef {import('../types.js').Air} Air */
/** @typedef {import('../types.js').FlowReading} FlowReading */
/** @typedef {import('../types.js').PackMeter} PackMeter */
/** @typedef {import('../types.js').RoundFlow} RoundFlow */

/** The float of a rotameter nobody has checked: between viscosity (0) and density (0.5) controlled. */
const UNKNOWN_EXPONENT = 0.25;

const NO_FLOW = said('a reading showed no flow; left as read');

/** Flow as shown, before any correction; NaN where nothing readable was typed. [L/min]
 *  @param {Pick<FlowReading, 'reading' | 'unit' | 'volume' | 'volume_unit' | 'seconds'>} reading @returns {number} */
export function indicatedLpm(reading) {
  if (reading.reading) return canonical(reading.reading, reading.unit, 'flow');
  return (60 * canonical(reading.volume, reading.volume_unit, 'volume')) / Number(reading.seconds || NaN);
}

/** Flow of ambient air behind one reading.
 *  @param {FlowReading} reading @param {PackMeter | null} meter null: not in the register, taken as reading actual flow.
 *  @param {PlaceAir} placeAir @returns {{lpm: number | null, notes: string[]}} */
export function readingLpm(reading, meter, placeAir = new PlaceAir(null, [])) {
  /** @type {string[]} */
  const notes = [];
  let lpm = indicatedLpm(reading);
  if (!Number.isFinite(lpm)) return { lpm: null, notes };
  if (!meter) {
    notes.push(
      said('the meter {code} is not on the register: taken as reading actual flow, and nobody knows how well', {
        code: reading.meter,
      }),
    );
  }
  if (lpm <= 0) return { lpm, notes: [NO_FLOW] };
  const [first, last] = [meter?.curve[0], meter?.curve.at(-1)];
  if (meter && first && last) {
    if (first[0] <= lpm && lpm <= last[0]) lpm = onCurve(lpm, meter.curve);
    else notes.push(said("a reading lies off the certificate's curve of {meter}; left as read", { meter: meter.code }));
  }
  if (meter?.kind === 'rotameter') {
    const calibrated = calibratedAt(meter);
    if (!calibrated) return { lpm, notes };
    const air = placeAir.ofReading(reading, notes);
    if (meter.exponent === null) {
      notes.push(said('float exponent of {meter} not known: 0 to 0.5 carried as uncertainty', { meter: meter.code }));
    }
    return { lpm: rotameterLpm(lpm, calibrated, air, meter.exponent ?? UNKNOWN_EXPONENT), notes };
  }
  if ((reading.basis || meter?.reads) === 'standard') {
    const standard = meter ? calibratedAt(meter) : null;
    const stated = { meter: meter?.code ?? reading.meter };
    if (!standard) notes.push(said('{meter} reads standard flow, at a condition nobody stated; left as read', stated));
    else lpm = standardToAmbientLpm(lpm, standard, placeAir.ofReading(reading, notes));
  }
  return { lpm, notes };
}

/** Flow of ambient air through a rotameter whose scale was made in other air; NMAM, chapter D.
 *  @param {number} indicated @param {Air} calibrated @param {Air} used @param {number} exponent @returns {number} */
export function rotameterLpm(indicated, calibrated, used, exponent = 0.5) {
  const ratio = (calibrated.pressure_kpa * used.temperature_k) / (used.pressure_kpa * calibrated.temperature_k);
  return indicated * ratio ** exponent;
}

/** Flow of ambient air from a flow stated at a standard condition; ideal gas law.
 *  @param {number} slpm @param {Air} standard @param {Air} ambient @returns {number} */
export function standardToAmbientLpm(slpm, standard, ambient) {
  return slpm * ((standard.pressure_kpa / ambient.pressure_kpa) * (ambient.temperature_k / standard.temperature_k));
}

/** @param {PackMeter} meter @returns {Air | null} */
function calibratedAt(meter) {
  const { calibrated_at_k: kelvin, calibrated_at_kpa: kpa } = meter;
  return kelvin === null || kpa === null ? null : { temperature_k: kelvin, pressure_kpa: kpa };
}

/** By a straight line between the two neighbouring points of the certificate.
 *  @param {number} shown @param {[number, number][]} curve @returns {number} */
function onCurve(shown, curve) {
  let right = curve.findIndex(([indicated]) => indicated >= shown);
  right = Math.min(Math.max(right, 1), curve.length - 1);
  const [q1, flow1] = /** @type {[number, number]} */ (curve[right - 1]);
  const [q2, flow2] = /** @type {[number, number]} */ (curve[right]);
  return flow1 + ((shown - q1) * (flow2 - flow1)) / (q2 - q1);
}

/** The flow of one round of readings: their mean and how far apart they are; null where none is readable.
 *  @param {FlowReading[]} readings @param {Map<string, PackMeter>} meters @param {PlaceAir} placeAir
 *  @returns {RoundFlow | null} */
export function roundFlow(readings, meters, placeAir = new PlaceAir(null, [])) {
  const shown = readings.map(indicatedLpm);
  if (!readings.length || !shown.every(Number.isFinite)) return null;
  const codes = [...new Set(readings.map((reading) => reading.meter))];
  if (Math.min(...shown) <= 0) return summary(shown, codes, [NO_FLOW]);
  const found = readings.map((reading) => readingLpm(reading, meters.get(reading.meter) ?? null, placeAir));
  const assumptions = [...new Set(found.flatMap((one) => one.notes))];
  return summary(found.map((one) => one.lpm ?? NaN), codes, assumptions);
}

/** @param {number[]} flows @param {string[]} meters @param {string[]} assumptions @returns {RoundFlow} */
function summary(flows, meters, assumptions) {
  const mean = flows.reduce((sum, flow) => sum + flow, 0) / flows.length;
  const [least, most] = [Math.min(...flows), Math.max(...flows)];
  const spread = mean > 0 ? (most - least) / mean : 0;
  return { mean_lpm: mean, spread, n: flows.length, least_lpm: least, most_lpm: most, meters, assumptions };
}

/** Change of flow during the run, as a fraction: negative when it fell; null where a flow is not above 0.
 *  @param {number} pre @param {number} post @param {'pre' | 'post' | 'mean'} basis @returns {number | null} */
export function flowChange(pre, post, basis = 'pre') {
  if (!(pre > 0) || !(post > 0)) return null;
  if (basis === 'mean') return (2 * (post - pre)) / (post + pre);
  return (post - pre) / (basis === 'post' ? post : pre);
}

/** The flow that stands for a run under the rule book's rule.
 *  @param {number} pre @param {number} post @param {'mean' | 'lower' | 'higher' | 'pre' | 'post'} rule @returns {number} */
export function flowByRule(pre, post, rule = 'mean') {
  switch (rule) {
    case 'lower':
      return Math.min(pre, post);
    case 'higher':
      return Math.max(pre, post);
    case 'pre':
      return pre;
    case 'post':
      return post;
    default:
      return (pre + post) / 2;
  }
}

export { NTP, PlaceAir };
