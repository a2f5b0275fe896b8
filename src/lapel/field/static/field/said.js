/**
 * A sentence that still knows what it was made of, so that a screen can say it in another language; as lapel.said.
 *
 * It is the English text, wherever it is compared, kept or sent. What it was made of stands apart, under that text:
 * as many as there are different sentences, which is a few for every entry.
 */

/** @typedef {{template: string, values: Record<string, string>, parts: Record<string, string>, small: boolean}} Made */

/** @type {Map<string, Made>} */
const MADE = new Map();

const NAME = /\{(\w+)\}/g;

/** Make a sentence.
 *  @param {string} template English, with {names}.
 *  @param {Record<string, string | number>} [values] What stays as it is in every language: codes, numbers, times.
 *  @param {Record<string, string>} [parts] Sentences in it, told in turn. @returns {string} */
export function said(template, values = {}, parts = {}) {
  const kept = Object.fromEntries(Object.entries(values).map(([name, value]) => [name, String(value)]));
  const text = filled(template, { ...kept, ...parts });
  MADE.set(text, { template, values: kept, parts, small: false });
  return text;
}

/** The same sentence in small letters. @param {string} sentence @returns {string} */
export function small(sentence) {
  const made = MADE.get(sentence);
  if (made) MADE.set(sentence.toLowerCase(), { ...made, small: true });
  return sentence.toLowerCase();
}

/** Say a sentence in other words; a text that was not made here is looked up as it stands.
 *  @param {string} sentence @param {(template: string) => string} translated The template itself, where there is no other.
 *  @returns {string} */
export function toldIn(sentence, translated) {
  const made = MADE.get(sentence);
  if (!made) return translated(sentence);
  const parts = Object.entries(made.parts).map(([name, part]) => [name, toldIn(part, translated)]);
  const text = filled(translated(made.template), { ...made.values, ...Object.fromEntries(parts) });
  return made.small ? text.charAt(0).toLowerCase() + text.slice(1) : text;
}

/** @param {string} template @param {Record<string, string>} values */
function filled(template, values) {
  return template.replace(NAME, (name, inner) => values[inner] ?? name);
}
