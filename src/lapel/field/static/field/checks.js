/** Whether one entry can be read as its kind: every fault at once. The same answers as lapel.fieldlog.checks gives. */

import { microsOf } from './instants.js';
import { KINDS, UNITS } from './kinds.js';
import { said } from './said.js';
import { signatureWanted } from './signatures.js';
import { byCodePoint, isBlank, isPrintable, partsOf, quoted, strip } from './texts.js';

/** @typedef {import('./types.js').Entry} Entry */
/** @typedef {import('./types.js').EntryProblem} EntryProblem */
/** @typedef {import('./types.js').FieldSpec} FieldSpec */
/** @typedef {import('./types.js').KindSpec} KindSpec */

const NUMBER = /^[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,2})?$/;
const PORT = /^[A-Z]$/;
const SHA256 = /^[0-9a-f]{64}$/;
/** Fields nobody corrects: they stand for a person's hand. */
const SIGNED = new Set(
  Object.values(KINDS).flatMap((kind) =>
    Object.values(kind.fields).flatMap((field) => (field.type === 'signature' ? [field.name] : [])),
  ),
);
const DATE = /^(\d{4})-(\d{2})-(\d{2})$/;

/** What is found where there is nothing. */
const NOTHING = said('nothing');

/** Every fault of an entry, in the order of its kind's fields; empty when it can be used.
 *  @param {Entry} entry @returns {EntryProblem[]} */
export function checkEntry(entry) {
  const problems = [...ofTheEnvelope(entry)];
  const spec = KINDS[entry.kind];
  if (!spec) {
    problems.push({ field: 'kind', found: quoted(entry.kind), wanted: oneOf(Object.keys(KINDS)) });
    return problems;
  }
  problems.push(...checkFields(entry.kind, entry.fields));
  if (entry.kind === 'correction') problems.push(...ofACorrection(entry));
  return problems;
}

/** Every fault of the fields alone, before there is an entry.
 *  @param {string} kind @param {Record<string, string>} fields @returns {EntryProblem[]} */
export function checkFields(kind, fields) {
  const spec = KINDS[kind];
  if (!spec) return [{ field: 'kind', found: quoted(kind), wanted: oneOf(Object.keys(KINDS)) }];
  const filled = filledOf(fields);
  /** @type {EntryProblem[]} */
  const problems = [];
  for (const [name, value] of filled) {
    if (!Object.hasOwn(spec.fields, name)) {
      const names = Object.keys(spec.fields).join(', ');
      problems.push({ field: name, found: quoted(value), wanted: said('a field of {kind}: {names}', { names }, { kind }) });
    }
  }
  for (const [name, field] of Object.entries(spec.fields)) {
    const value = filled.get(name);
    if (value === undefined) {
      if (field.needed) problems.push({ field: name, found: NOTHING, wanted: field.words });
    } else {
      const wanted = wantedOf(field, strip(value));
      if (wanted) problems.push({ field: name, found: quoted(value), wanted });
    }
  }
  problems.push(...ofFieldsTogether(spec, filled));
  return problems;
}

/** @param {EntryProblem} problem @returns {string} */
export function problemText(problem) {
  const { field, found, wanted } = problem;
  return said('{field}: found {found}; wanted {wanted}', {}, { field, found, wanted });
}

/** @param {string[]} names @returns {string} */
const oneOf = (names) => said('one of {names}', { names: names.join(', ') });

/** The number typed, or null where nothing was. @param {string} text @returns {number | null} */
export function numberIn(text) {
  return text ? Number(text) : null;
}

/** @param {string} text @returns {boolean} */
export function isNumber(text) {
  return NUMBER.test(strip(text));
}

/** The answer typed, or null where nothing was. @param {string} text @returns {boolean | null} */
export function yesOrNo(text) {
  return text === 'yes' ? true : text === 'no' ? false : null;
}

/** The port letters of “A B C”, each once, in alphabetical order. @param {string} text @returns {string[]} */
export function portsIn(text) {
  return [...new Set(partsOf(text))].filter(Boolean).sort(byCodePoint);
}

/** The codes of a list, each once, in the order given. @param {string} text @returns {string[]} */
export function codesIn(text) {
  return [...new Set(partsOf(text).filter(Boolean))];
}

/** @param {Record<string, string>} fields @returns {Map<string, string>} */
function filledOf(fields) {
  return new Map(Object.entries(fields).filter(([, value]) => !isBlank(value)));
}

/** @param {Entry} entry @returns {Generator<EntryProblem>} */
function* ofTheEnvelope(entry) {
  if (!entry.id) yield { field: 'id', found: NOTHING, wanted: said('an id of its own') };
  if (!entry.device) {
    yield { field: 'device', found: NOTHING, wanted: said('the device or the paper sheet it was recorded on') };
  }
  if (!entry.author) yield { field: 'author', found: NOTHING, wanted: said('who recorded it') };
  if (entry.sequence < 0) {
    yield { field: 'sequence', found: String(entry.sequence), wanted: said("the device's count from 1, or 0 for paper") };
  }
  if (entry.kind === 'correction') {
    if (!entry.corrects) yield { field: 'corrects', found: NOTHING, wanted: said('the id of the entry it corrects') };
    else if (entry.corrects === entry.id) {
      yield { field: 'corrects', found: said('its own id'), wanted: said('the id of another entry') };
    }
    if (!strip(entry.reason ?? '')) yield { field: 'reason', found: NOTHING, wanted: said('why it is corrected') };
  } else if (entry.corrects) {
    yield { field: 'corrects', found: quoted(entry.corrects), wanted: said('nothing: only a correction corrects') };
  }
}

/** @param {KindSpec} spec @param {Map<string, string>} filled @returns {Generator<EntryProblem>} */
function* ofFieldsTogether(spec, filled) {
  const fields = Object.entries(spec.fields);
  for (const [name, field] of fields) {
    const unit = spec.fields[field.unit_in];
    if (unit && filled.has(name) && !filled.has(field.unit_in)) {
      const wanted = said('the unit of {field}: {units}', { units: unitsOf(unit) }, { field: name });
      yield { field: field.unit_in, found: NOTHING, wanted };
    }
    if (field.type === 'unit' && filled.has(name)) {
      const numbers = fields.filter(([, one]) => one.unit_in === name).map(([other]) => other);
      if (!numbers.some((other) => filled.has(other))) {
        const wanted = said('a number in {unit}, or no unit', { unit: quoted(filled.get(name) ?? '') });
        const either = numbers.reduce((before, next) => said('{before} or {next}', {}, { before, next }));
        yield { field: either, found: NOTHING, wanted };
      }
    }
  }
  if (spec.one_of.length && !spec.one_of.some((group) => group.every((name) => filled.has(name)))) {
    const groups = spec.one_of
      .map((group) => group.reduce((before, next) => said('{before} with {next}', {}, { before, next })))
      .reduce((before, next) => said('{before}, or {next}', {}, { before, next }));
    yield { field: spec.one_of[0]?.[0] ?? '', found: NOTHING, wanted: groups };
  }
}

/** @param {Entry} entry @returns {Generator<EntryProblem>} */
function* ofACorrection(entry) {
  const filled = filledOf(entry.fields);
  if (filled.get('withdraw') === 'no') yield { field: 'withdraw', found: '“no”', wanted: said('“yes”, or nothing') };
  const purposes = ['field', 'withdraw', 'distinct_from'].filter((name) => filled.has(name));
  const second = purposes[1];
  if (second) {
    const wanted = said('one purpose a correction; it has {field} too', {}, { field: purposes[0] ?? '' });
    yield { field: second, found: quoted(filled.get(second) ?? ''), wanted };
  }
  if (filled.has('value') && !filled.has('field')) {
    yield { field: 'field', found: NOTHING, wanted: said('the name of the field the value is for') };
  }
  const corrected = filled.get('field');
  if (corrected !== undefined && SIGNED.has(corrected)) {
    const wanted = said('another field: withdraw the hand-over and sign a new one');
    yield { field: 'field', found: quoted(corrected), wanted };
  }
  if (entry.corrects && filled.get('distinct_from') === entry.corrects) {
    yield { field: 'distinct_from', found: quoted(entry.corrects), wanted: said('the id of the other entry') };
  }
}

/** What a field wants where its value is not that; empty where it is. @param {FieldSpec} field @param {string} value */
function wantedOf(field, value) {
  switch (field.type) {
    case 'number':
      return numberWanted(field, value);
    case 'code':
      return isPrintable(value) ? '' : said('a code of printable characters');
    case 'codes':
      return codesIn(value).length && isPrintable(value) ? '' : said('codes parted by spaces, as in “S-1 S-2”');
    case 'unit':
      if (isUnit(field, value)) return '';
      return said('a unit of {kind}: {units}', { units: unitsOf(field) }, { kind: field.unit_kind ?? '' });
    case 'yes/no':
      return value === 'yes' || value === 'no' ? '' : said('“yes” or “no”');
    case 'choice':
      return field.choices.includes(value) ? '' : oneOf(field.choices);
    case 'port':
      return PORT.test(value) ? '' : said('one port letter, as in A');
    case 'ports': {
      const ports = portsIn(value);
      const right = ports.length && ports.every((port) => PORT.test(port));
      return right ? '' : said('port letters parted by spaces, as in “A C”');
    }
    case 'instant':
      return isInstant(value) ? '' : said('a date and time with its offset, as in 2026-03-29T05:10+02:00');
    case 'date':
      return isDate(value) ? '' : said('a date, as in 2027-08-31');
    case 'sha256':
      return SHA256.test(value) ? '' : said('64 digits 0-9 a-f');
    case 'signature':
      return signatureWanted(value);
    default:
      return '';
  }
}

/** @param {FieldSpec} field @param {string} value @returns {string} */
function numberWanted(field, value) {
  if (!NUMBER.test(value)) {
    if (value.includes(',')) return said('a number with a decimal point; a comma could mean decimals or thousands');
    return said('a number with a decimal point, as in 0.25');
  }
  const number = Number(value);
  if (!Number.isFinite(number)) return said('a finite number');
  if (field.above !== null && !(number > field.above)) return said('a number above {number}', { number: field.above });
  if (field.least !== null && number < field.least) return said('a number of {number} or more', { number: field.least });
  if (field.most !== null && number > field.most) return said('a number of {number} or less', { number: field.most });
  return '';
}

/** @param {FieldSpec} field @returns {string} */
function unitsOf(field) {
  return (UNITS[field.unit_kind ?? ''] ?? []).join(', ');
}

/** @param {FieldSpec} field @param {string} value @returns {boolean} */
function isUnit(field, value) {
  const spelled = value.replaceAll(' ', '').toLowerCase();
  return (UNITS[field.unit_kind ?? ''] ?? []).some((unit) => unit.toLowerCase() === spelled);
}

/** Whether a text is an instant with its offset. @param {string} text @returns {boolean} */
export function isInstant(text) {
  try {
    microsOf(text);
    return true;
  } catch {
    return false;
  }
}

/** @param {string} text @returns {boolean} */
function isDate(text) {
  const found = DATE.exec(text);
  return found !== null && isInstant(`${text}T00:00Z`);
}
