/** What a kit sheet says of a port, beside what is on it. The supplier's own reading is shown and never becomes ours. */

import { fromLpm, toLpm } from '../numbers/units.js';

/** @typedef {import('../types.js').Day} Day */
/** @typedef {import('../types.js').FlowWindow} FlowWindow */
/** @typedef {import('../types.js').Pack} Pack */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').PortSupplied} PortSupplied */
/** @typedef {import('../types.js').TrainNow} TrainNow */
/** @typedef {Pick<PortSupplied, 'pump' | 'medium' | 'catalogue' | 'lot' | 'intended' | 'intended_unit'>} Said */
/** @typedef {{what: 'pump' | 'medium' | 'catalogue' | 'lot' | 'flow', sheet: string, here: string}} Difference */
/** @typedef {{pump: string, medium: string, lot: string, catalogues: string[], window: FlowWindow}} Here */

/** What the sheet says of a port in the preparation going on, else in the one to come; null where nothing.
 *  @param {Day} day @param {TrainNow} train @param {string} port @returns {PortSupplied | null} */
export function saidOf(day, train, port) {
  const log = day.trains[train.code];
  const goesOn = train.preparation >= 0 && train.stage !== 'done';
  const kit = goesOn ? log?.preparations[train.preparation]?.kit : log?.kit_ahead;
  return kit?.[port] ?? null;
}

/** What is on a port by plan and record; a lot in hand goes before the one known.
 *  @param {Pack | null} pack @param {TrainNow} train @param {PortNow} port @param {{medium?: string, lot?: string}} inHand
 *  @returns {Here} */
export function hereOn(pack, train, port, inHand = {}) {
  const medium = inHand.medium ?? port.medium;
  const lot = inHand.lot ?? port.lot;
  const media = pack?.media ?? [];
  const known = lot ? media.filter((one) => one.lot === lot) : media.filter((one) => one.medium === medium);
  const catalogues = [...new Set(known.map((one) => one.catalogue).filter(Boolean))];
  return { pump: train.pump, medium, lot, catalogues, window: port.window };
}

/** Where sheet and port differ; what either leaves empty is no difference.
 *  @param {Said} said @param {Here} here @returns {Difference[]} */
export function differences(said, here) {
  /** @type {Difference[]} */
  const found = [];
  for (const what of /** @type {const} */ (['pump', 'medium', 'lot'])) {
    if (said[what] && here[what] && said[what] !== here[what]) found.push({ what, sheet: said[what], here: here[what] });
  }
  if (said.catalogue && here.catalogues.length > 0 && !here.catalogues.includes(said.catalogue)) {
    found.push({ what: 'catalogue', sheet: said.catalogue, here: here.catalogues.join(' / ') });
  }
  const { low_lpm: low, high_lpm: high } = here.window;
  const meant = said.intended ? toLpm(Number(said.intended), said.intended_unit) : NaN;
  if ((low !== null && meant < low * (1 - 1e-9)) || (high !== null && meant > high * (1 + 1e-9))) {
    const ends = [low, high].map((end) => (end === null ? '–' : String(inUnit(end, said.intended_unit))));
    found.push({ what: 'flow', sheet: `${said.intended} ${said.intended_unit}`, here: `${ends.join('–')} ${said.intended_unit}` });
  }
  return found;
}

/** How far our reading lies from the supplier's own, as a fraction of theirs; null where there is none of either.
 *  @param {PortSupplied | null} said @param {PortNow} port @returns {number | null} */
export function awayFromSupplier(said, port) {
  const ours = port.closing ?? port.pending_flow ?? port.setting_flow;
  const theirs = said?.supplier ? toLpm(Number(said.supplier), said.supplier_unit) : NaN;
  return ours && theirs > 0 ? ours.mean_lpm / theirs - 1 : null;
}

/** @param {number} lpm @param {string} unit */
const inUnit = (lpm, unit) => Number(fromLpm(lpm, unit).toPrecision(3));
