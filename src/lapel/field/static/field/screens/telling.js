/** Numbers and instants as the field reads them. Rounding happens here, last, and only for the eye. */

import { clockText, msOf } from '../instants.js';
import { fromLpm } from '../numbers/units.js';
import { say } from './words.js';

/** @param {number} value @param {number} digits Significant digits. @returns {string} */
export function significant(value, digits = 3) {
  if (value === 0) return '0';
  const decimals = Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(value))));
  return value.toFixed(Math.min(decimals, 6));
}

/** A planned number as a person would write it: three digits at most, no zeros that say nothing. @param {number} value */
export const plainText = (value) => String(Number(value.toPrecision(3)));

/** A flow in the unit of its port. @param {number | null | undefined} lpm @param {string} [unit] */
export function flowText(lpm, unit = 'mL/min') {
  if (lpm === null || lpm === undefined) return '–';
  const shown = unit || 'mL/min';
  return `${significant(fromLpm(lpm, shown), 3)}\u00a0${shown}`;
}

/** @param {number} fraction @returns {string} With its sign, as in −14 %. */
export function changeText(fraction) {
  const percent = 100 * fraction;
  const sign = percent > 0 ? '+' : percent < 0 ? '−' : '';
  return `${sign}${Math.abs(percent).toFixed(1)}\u00a0%`;
}

/** @param {number} fraction */
export const percentText = (fraction) => `${(100 * fraction).toFixed(1)}\u00a0%`;

/** @param {number | null | undefined} litres */
export function litresText(litres) {
  return litres === null || litres === undefined ? '–\u00a0L' : `${significant(litres, litres < 1 ? 2 : 3)}\u00a0L`;
}

/** @param {number | null | undefined} minutes Whole minutes, as a clock counts them. */
export function minutesText(minutes) {
  return minutes === null || minutes === undefined ? '–' : String(Math.floor(minutes + 1e-6));
}

/** How long until then, in words. @param {number} minutes */
export function spanText(minutes) {
  const whole = Math.round(Math.abs(minutes));
  if (whole < 100) return say('span.minutes', { n: whole });
  return say('span.hours', { hours: Math.floor(whole / 60), minutes: String(whole % 60).padStart(2, '0') });
}

/** @param {string} instant @param {string} zone */
export function timeText(instant, zone) {
  return instant ? clockText(instant, zone) : '–';
}

/** Time, and the day where it is another one than today. @param {string} instant @param {string} zone @param {number} now */
export function dayTimeText(instant, zone, now) {
  if (!instant) return '–';
  const day = (/** @type {number} */ ms) => new Date(ms).toLocaleDateString('en-CA', zone ? { timeZone: zone } : {});
  const on = day(msOf(instant));
  return on === day(now) ? clockText(instant, zone) : `${on} ${clockText(instant, zone)}`;
}
