/** What the plan has on a port and with a train, beside what the log says so far. */

import { instantText } from '../instants.js';
import { said } from '../said.js';

/** @typedef {import('../types.js').Day} Day */
/** @typedef {import('../types.js').FlowWindow} FlowWindow */
/** @typedef {import('../types.js').Pack} Pack */
/** @typedef {import('../types.js').PlannedBlank} PlannedBlank */
/** @typedef {import('../types.js').PlannedPort} PlannedPort */
/** @typedef {import('../types.js').PlannedTrain} PlannedTrain */

/** The sampler a port waits for: the first of its samplers that is on no record yet; '' where the plan names none.
 *  @param {PlannedPort | null} planned @param {Day} day @returns {string} */
export function expectedOn(planned, day) {
  return samplersOf(planned).find((code) => !day.runs[code]) ?? '';
}

/** @param {PlannedPort | null} planned @returns {string[]} */
function samplersOf(planned) {
  return planned?.samplers?.length ? planned.samplers : planned?.sampler ? [planned.sampler] : [];
}

/** A window no wider than the one the plan chose the flow from.
 *  @param {FlowWindow} window @param {PlannedPort | null} planned @returns {FlowWindow} */
export function withinThePlan(window, planned) {
  const low = planned?.low_lpm ?? null;
  const high = planned?.high_lpm ?? null;
  if (low === null && high === null) return window;
  return {
    ...window,
    low_lpm: low === null ? window.low_lpm : Math.max(low, window.low_lpm ?? low),
    high_lpm: high === null ? window.high_lpm : Math.min(high, window.high_lpm ?? high),
    why: [window.why, said('the window of the plan')].filter(Boolean).reduce(both),
  };
}

/** @param {string} before @param {string} next */
const both = (before, next) => said('{before} and {next}', {}, { before, next });

/** @typedef {object} Label What is known of the number on a label.
 *  @property {string} code
 *  @property {'ordered' | 'planned' | 'spare' | 'blank'} as
 *  @property {string} medium
 *  @property {string} lot
 *  @property {string} where Train and port it is planned for, as in “T1 A”; for a blank its train.
 *  @property {import('../types.js').PackSampler | null} order */

/** Every label the office has told of, by its code.
 *  @param {Pack | null} pack @param {PlannedTrain[]} typed Trains planned on the device. @returns {Map<string, Label>} */
export function labels(pack, typed) {
  /** @type {Map<string, Label>} */
  const known = new Map();
  for (const one of pack?.spares ?? []) {
    known.set(one.code, { code: one.code, as: 'spare', medium: one.medium, lot: one.lot, where: '', order: null });
  }
  for (const one of pack?.samplers ?? []) {
    const as = one.purpose === 'blank' ? 'blank' : 'ordered';
    known.set(one.code, { code: one.code, as, medium: one.medium, lot: '', where: '', order: one });
  }
  for (const train of [...(pack?.trains ?? []), ...typed]) {
    for (const port of train.ports) {
      for (const code of samplersOf(port)) {
        const before = known.get(code);
        const medium = before?.medium || port.medium;
        const where = `${train.train} ${port.port}`;
        known.set(code, { code, as: 'planned', medium, lot: port.lot ?? '', where, order: before?.order ?? null });
      }
    }
  }
  for (const one of pack?.blanks ?? []) {
    known.set(one.code, { code: one.code, as: 'blank', medium: one.medium, lot: one.lot, where: one.train, order: null });
  }
  return known;
}

/** Blanks of the day: those opened, those capped again, and those still to be handled.
 *  @param {Day} day @param {Pack | null} pack @param {number} now Milliseconds since 1970.
 *  @returns {{opened: string[], closed: string[], due: PlannedBlank[]}} */
export function blanksNow(day, pack, now) {
  const handled = Object.values(day.blanks).filter((blank) => blank.opened_at);
  const known = new Set(Object.keys(day.blanks));
  const today = instantText(now, pack?.survey.zone ?? '').slice(0, 10);
  const planned = (pack?.planned_for ?? '') <= today ? (pack?.blanks ?? []) : [];
  const named = new Set(planned.map((one) => one.code));
  const ordered = (pack?.samplers ?? [])
    .filter((one) => one.purpose === 'blank' && !named.has(one.code))
    .map((one) => ({ code: one.code, medium: one.medium, lot: '', catalogue: '', opened: true, train: '' }));
  return {
    opened: handled.map((blank) => blank.blank),
    closed: handled.filter((blank) => blank.closed_at).map((blank) => blank.blank),
    due: [...planned, ...ordered].filter((one) => !known.has(one.code)),
  };
}
