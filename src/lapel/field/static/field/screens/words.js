/**
 * The words of the page, in the language of the page. A phrase of a screen is found by its key, a sentence of the day by
 * its English; what a language lacks is said in English. Words that go into the log are never taken from here: the log
 * reads the same everywhere.
 */

import { toldIn } from '../said.js';
import { EN } from './words/en.js';
import { ES } from './words/es.js';
import { ES_CODES } from './words/es_codes.js';
import { ES_RULES } from './words/es_rules.js';
import { ES_SENTENCES } from './words/es_sentences.js';

/** @typedef {string | {one: string, other: string}} Phrase */
/** @typedef {keyof typeof EN} Key */

/** @type {Record<string, Partial<Record<Key, Phrase>>>} */
const CATALOGUES = { en: EN, es: ES };

/** Sentences by their English. @type {Record<string, Record<string, string>>} */
const SENTENCES = { en: {}, es: { ...ES_RULES, ...ES_CODES, ...ES_SENTENCES } };

/** Every language of the page, by its own name. */
export const LANGUAGES = { en: 'English', es: 'Español' };

const LANGUAGE_KEY = 'lapel-language';

let language = 'en';
let plural = new Intl.PluralRules('en');

/** The language somebody chose on this device; empty for the browser's own. @returns {string} */
export function languageKept() {
  try {
    const kept = localStorage.getItem(LANGUAGE_KEY) ?? '';
    return Object.hasOwn(LANGUAGES, kept) ? kept : '';
  } catch {
    return '';
  }
}

/** Choose a language for this device. @param {string} wanted Empty for the browser's own. */
export function keepLanguage(wanted) {
  try {
    localStorage.setItem(LANGUAGE_KEY, wanted);
  } catch {
    // a full disk: the language holds until the page is closed
  }
  speak(wanted ? [wanted] : navigator.languages);
}

/** Speak the language chosen here, else the first of the browser's that the page has. */
export function speakAsChosen() {
  const kept = languageKept();
  speak(kept ? [kept] : navigator.languages);
}

/** Speak the first of these languages that the page has, else English. @param {readonly string[]} wanted */
export function speak(wanted) {
  const known = wanted.map((tag) => tag.split('-')[0]?.toLowerCase() ?? '').find((base) => Object.hasOwn(LANGUAGES, base));
  language = known ?? 'en';
  plural = new Intl.PluralRules(language);
  document.documentElement.lang = language;
  document.title = say('title');
}

/** Say a phrase, with what its braces name; a phrase with a plural chooses by `n`.
 *  @param {Key} key @param {Record<string, string | number>} [given] @returns {string} */
export function say(key, given = {}) {
  const phrase = /** @type {Phrase} */ (CATALOGUES[language]?.[key] ?? EN[key]);
  const text =
    typeof phrase === 'string' ? phrase : plural.select(Number(given.n)) === 'one' ? phrase.one : phrase.other;
  return text.replace(/\{(\w+)\}/g, (_, name) => String(given[name] ?? ''));
}

/** Tell a sentence of the day, of a rule book of ours or of the office; what a person wrote is never given to this.
 *  @param {string} sentence @returns {string} */
export function tell(sentence) {
  const known = SENTENCES[language] ?? {};
  return toldIn(sentence, (template) => (Object.hasOwn(known, template) ? known[template] : null) ?? template);
}

/** A code of the log (a kind, a field, an answer) in words. @param {string} code @returns {string} */
export function codeText(code) {
  return tell(code).replaceAll('_', ' ');
}
