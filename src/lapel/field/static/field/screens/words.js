/**
 * The words of the page, by key, in the language of the page. A language is one catalogue in words/; what a catalogue
 * lacks is said in English. Words that go into the log are never taken from here: the log reads the same everywhere.
 */

import { EN } from './words/en.js';

/** @typedef {string | {one: string, other: string}} Phrase */
/** @typedef {keyof typeof EN} Key */

/** @type {Record<string, Partial<Record<Key, Phrase>>>} */
const CATALOGUES = { en: EN };

let language = 'en';
let plural = new Intl.PluralRules('en');

/** Choose the language; an unknown one is English. @param {string} wanted */
export function speak(wanted) {
  const base = wanted.split('-')[0] ?? '';
  language = base in CATALOGUES ? base : 'en';
  plural = new Intl.PluralRules(language);
}

/** Say a phrase, with what its braces name; a phrase with a plural chooses by `n`.
 *  @param {Key} key @param {Record<string, string | number>} [given] @returns {string} */
export function say(key, given = {}) {
  const phrase = /** @type {Phrase} */ (CATALOGUES[language]?.[key] ?? EN[key]);
  const text =
    typeof phrase === 'string' ? phrase : plural.select(Number(given.n)) === 'one' ? phrase.one : phrase.other;
  return text.replace(/\{(\w+)\}/g, (_, name) => String(given[name] ?? ''));
}
