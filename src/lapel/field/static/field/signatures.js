/** What can stand for a person's hand at a hand-over; the same answers as lapel.fieldlog.signatures gives. */

import { said } from './said.js';
import { isPrintable, strip } from './texts.js';

const WIDE = 600;
const HIGH = 200;
const LONGEST = 4000;
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
  const lines = text.slice('drawn '.length).split(';').map((line) => line.split(' ').map(pointIn));
  if (lines.some((line) => line.some(({ x, y }) => x > WIDE || y > HIGH))) {
    return said('points on a field of {wide} by {high}', { wide: WIDE, high: HIGH });
  }
  return lengthOf(lines) < LEAST ? said("a line long enough to be somebody's hand") : '';
}

/** @param {string} text */
function pointIn(text) {
  const [x, y] = text.split(',').map(Number);
  return { x: x ?? 0, y: y ?? 0 };
}

/** Length of all lines, each step by its longer side. @param {{x: number, y: number}[][]} lines @returns {number} */
function lengthOf(lines) {
  let length = 0;
  for (const line of lines) {
    let was = line[0];
    for (const point of line) {
      if (was) length += Math.max(Math.abs(point.x - was.x), Math.abs(point.y - was.y));
      was = point;
    }
  }
  return length;
}
