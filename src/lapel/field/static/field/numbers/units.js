/** Units: what was typed becomes L/min, L, K or kPa, exactly as the office converts it. */

import { CONVERSIONS } from './conversions.js';

/** @typedef {{digits: bigint, exponent: number}} Decimal */

const NUMBER = /^([+-]?)(\d*)\.?(\d*)(?:[eE]([+-]?\d+))?$/;

/** A typed number in its unit, in the canonical unit of what it measures: 102.1 mL/min is 0.1021 and no neighbour of it.
 *  @param {string} text @param {string} unit @param {'flow' | 'volume' | 'temperature' | 'pressure'} kind
 *  @returns {number} NaN where the unit or the number is none. */
export function canonical(text, unit, kind) {
  const conversion = CONVERSIONS[kind]?.[unit.replaceAll(' ', '').toLowerCase()];
  const value = decimalOf(text.trim());
  if (!conversion || !value) return NaN;
  const [scale, offset] = conversion.map(decimalOf);
  if (!scale || !offset) return NaN;
  const scaled = { digits: value.digits * scale.digits, exponent: value.exponent + scale.exponent };
  const exponent = Math.min(scaled.exponent, offset.exponent);
  const digits = shifted(scaled, exponent) + shifted(offset, exponent);
  return Number(`${digits}e${exponent}`);
}

/** @param {string} text @returns {Decimal | null} */
function decimalOf(text) {
  const found = NUMBER.exec(text);
  if (!found) return null;
  const [, sign = '', whole = '', part = '', power = '0'] = found;
  if (!whole && !part) return null;
  return { digits: BigInt(`${sign === '-' ? '-' : ''}${whole}${part}`), exponent: Number(power) - part.length };
}

/** @param {Decimal} value @param {number} exponent @returns {bigint} */
function shifted(value, exponent) {
  return value.digits * 10n ** BigInt(value.exponent - exponent);
}

/** @param {number} value @param {string} unit @returns {number} */
export function toLpm(value, unit) {
  return canonical(String(value), unit, 'flow');
}

/** @param {number} lpm @param {string} unit @returns {number} */
export function fromLpm(lpm, unit) {
  return lpm / toLpm(1, unit);
}

/** @param {string} text @param {string} unit @returns {number} */
export function toKelvin(text, unit) {
  return canonical(text, unit, 'temperature');
}

/** @param {string} text @param {string} unit @returns {number} */
export function toKpa(text, unit) {
  return canonical(text, unit, 'pressure');
}
