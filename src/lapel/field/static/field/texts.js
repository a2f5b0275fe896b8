/** Texts as the office reads them: its blanks, its order, its printable characters. */

const BLANKS = '\\t\\n\\v\\f\\r\\x1c-\\x1f \\x85\\xa0\\u1680\\u2000-\\u200a\\u2028\\u2029\\u202f\\u205f\\u3000';
const OUTER = new RegExp(`^[${BLANKS}]+|[${BLANKS}]+$`, 'gu');
const ONLY_BLANKS = new RegExp(`^[${BLANKS}]+$`, 'u');
const UNPRINTABLE = /[\p{C}\p{Zl}\p{Zp}]|(?! )\p{Zs}/u;
const SEPARATORS = new RegExp(`[${BLANKS},;]+`, 'u');

/** @param {string} text @returns {string} */
export function strip(text) {
  return text.replace(OUTER, '');
}

/** @param {string} text @returns {boolean} */
export function isBlank(text) {
  return text === '' || ONLY_BLANKS.test(text);
}

/** @param {string} text @returns {boolean} */
export function isPrintable(text) {
  return !UNPRINTABLE.test(text);
}

/** The parts of a list parted by blanks, commas or semicolons.
 *  @param {string} text @returns {string[]} */
export function partsOf(text) {
  return strip(text).split(SEPARATORS);
}

/** Order by code point, as the office sorts; plain comparison goes by halves of pairs.
 *  @param {string} one @param {string} other @returns {number} */
export function byCodePoint(one, other) {
  if (one === other) return 0;
  const length = Math.min(one.length, other.length);
  for (let place = 0; place < length; place += 1) {
    const a = one.charCodeAt(place);
    const b = other.charCodeAt(place);
    if (a !== b) return rank(a) - rank(b);
  }
  return one.length - other.length;
}

/** Half of a pair stands for a character beyond all that need no pair.
 *  @param {number} unit @returns {number} */
function rank(unit) {
  return unit >= 0xd800 && unit <= 0xdfff ? unit + 0x10000 : unit;
}

/** @template T @param {T[]} list @param {(item: T) => string} key @returns {T[]} */
export function sortedBy(list, key) {
  return [...list].sort((one, other) => byCodePoint(key(one), key(other)));
}

/** @param {string} value @returns {string} */
export function quoted(value) {
  return `“${value}”`;
}
