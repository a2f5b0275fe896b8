/** What can stand for a person's hand at a hand-over; the same answers as lapel.fieldlog.signatures gives. */

import { said } from './said.js';
import { isPrintable, strip } from './texts.js';

/** @typedef {[number, number][]} Line */

export const WIDE = 600;
export const HIGH = 200;
export const LONGEST = 4000;
const LEAST = 60;
const DRAWN = /^drawn \d{1,3},\d{1,3}(?:[ ;]\d{1,3},\d{1,3})*$/;
const ACCOUNT = /^account [^ ]{1,150}$/u;

/** What is wanted where a text can be nobody's signature; empty where it can. @param {string} value */
export function signatureWanted(value) {
  const text = strip(value);
  if (text === '' || text === 'paper' || (ACCOUNT.test(text) && isPrintable(text))) return '';
  if ([...text].length > LONGEST) return said('a drawing of at most {n} characters', { n: LONGEST });
  if (!DRAWN.test(text)) {
    return said('“account NAME”, “paper”, or “drawn” and its points, as in “drawn 10,40 90,60;95,20 99,80”');
  }
  const lines = linesIn(text);
  if (lines.some((line) => line.some(([x, y]) => x > WIDE || y > HIGH))) {
    return said('points on a field of {wide} by {high}', { wide: WIDE, high: HIGH });
  }
  return lengthOf(lines) < LEAST ? said("a line long enough to be somebody's hand") : '';
}

/** Lines as an entry keeps them; empty without any. @param {Line[]} lines @returns {string} */
export function drawnText(lines) {
  return lines.length ? `drawn ${lines.map((line) => line.map((point) => point.join(',')).join(' ')).join(';')}` : '';
}

/** The lines of a drawing. @param {string} text @returns {Line[]} */
export function linesIn(text) {
  return strip(text)
    .slice('drawn '.length)
    .split(';')
    .map((line) => line.split(' ').map(pointIn));
}

/** @param {string} text @returns {[number, number]} */
function pointIn(text) {
  const [x, y] = text.split(',').map(Number);
  return [x ?? 0, y ?? 0];
}

/** Length of all lines, each step by its longer side. @param {Line[]} lines @returns {number} */
function lengthOf(lines) {
  let length = 0;
  for (const line of lines) {
    let was = line[0];
    for (const point of line) {
      if (was) length += Math.max(Math.abs(point[0] - was[0]), Math.abs(point[1] - was[1]));
      was = point;
    }
  }
  return length;
}
