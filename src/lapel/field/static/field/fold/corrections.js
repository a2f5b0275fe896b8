/** What counts of the entries: each once, corrected, and readable as its kind; see lapel.fieldlog.corrections. */

import { checkEntry, problemText } from '../checks.js';
import { microsOf } from '../instants.js';
import { KINDS } from '../kinds.js';
import { said } from '../said.js';
import { byCodePoint, isPrintable, quoted, sortedBy, strip } from '../texts.js';
import { contentOf, entryOf, plainEntry, recordedOf } from './entry.js';
import { conflict, Distinct } from './findings.js';
import { Act, byKey, deviceClocks, orderKey } from './order.js';

/** @typedef {import('../types.js').Amendment} Amendment */
/** @typedef {import('../types.js').Conflict} Conflict */
/** @typedef {import('../types.js').Entry} Entry */
/** @typedef {import('../types.js').Unusable} Unusable */
/** @typedef {import('./entry.js').Recorded} Recorded */

/** The acts that count, in order, and everything found on the way to them. */
export class Counting {
  constructor() {
    /** @type {Act[]} */
    this.acts = [];
    /** @type {Record<string, import('../types.js').DeviceClock>} */
    this.clocks = {};
    /** @type {Conflict[]} */
    this.conflicts = [];
    /** @type {Conflict[]} */
    this.remarks = [];
    /** @type {Record<string, Amendment>} */
    this.amendments = {};
    /** @type {Unusable[]} */
    this.unusable = [];
    /** @type {Recorded[]} */
    this.rivals = [];
    this.distinct = new Distinct();
    this.entryCount = 0;
  }
}

/** The faults of an entry as it counts; of those that were not corrected they are kept.
 *  @type {WeakMap<Recorded, string[]>} */
const FAULTS = new WeakMap();

/** @param {Iterable<Entry>} entries In any order, with any repetitions. @returns {Counting} */
export function counting(entries) {
  const found = new Counting();
  const byId = eachOnce(entries, found);
  found.entryCount += byId.size;
  found.clocks = deviceClocks(byId.values());
  remarkSequencesUsedTwice(byId, found);
  const { counts, atCorrected } = corrected(byId, found);
  for (const [id, entry] of counts) {
    if (entry.kind === 'correction') continue;
    const faults = faultsOf(entry);
    if (faults.length) found.unusable.push(unusable(entry, faults));
    else found.acts.push(new Act(entry, orderKey(entry, found.clocks, atCorrected.has(id))));
  }
  found.unusable = sortedBy(found.unusable, (one) => one.entry_id);
  found.acts.sort((one, other) => byKey(one.key, other.key));
  return found;
}

/** @param {Recorded} entry @returns {string[]} */
function faultsOf(entry) {
  let faults = FAULTS.get(entry);
  if (!faults) {
    faults = checkEntry(entryOf(entry)).map(problemText);
    FAULTS.set(entry, faults);
  }
  return faults;
}

/** Keeps one entry an id: the one received first; copies of it change nothing, another content is a conflict.
 *  @param {Iterable<Entry>} entries @param {Counting} found @returns {Map<string, Recorded>} */
function eachOnce(entries, found) {
  /** @type {Map<string, Recorded>} */
  const byId = new Map();
  /** @type {Map<string, Recorded[]>} */
  const copies = new Map();
  for (const entry of entries) {
    const recorded = readable(entry, found);
    if (!recorded) continue;
    const known = byId.get(recorded.id);
    if (!known) byId.set(recorded.id, recorded);
    else if (known !== recorded && !areEqual(known, recorded)) {
      const several = copies.get(recorded.id);
      if (several) several.push(recorded);
      else copies.set(recorded.id, [known, recorded]);
    }
  }
  for (const id of [...copies.keys()].sort(byCodePoint)) {
    /** @type {Map<string, Recorded[]>} */
    const contents = new Map();
    for (const copy of copies.get(id) ?? []) {
      const content = contentOf(copy);
      contents.set(content, [...(contents.get(content) ?? []), copy]);
    }
    const ranked = [...contents.entries()].sort(([text, same], [otherText, others]) => {
      return receivedFirst(same) - receivedFirst(others) || byCodePoint(text, otherText);
    });
    const [kept, ...others] = ranked.map(([, same]) => joined(same));
    if (!kept) continue;
    byId.set(id, kept);
    if (others.length) {
      found.rivals.push(...others);
      found.conflicts.push(sameId(kept, others));
    }
  }
  return byId;
}

/** @param {Entry} entry @param {Counting} found @returns {Recorded | null} */
function readable(entry, found) {
  try {
    return recordedOf(entry);
  } catch {
    const problem = said('at: found {found}; wanted an instant with its offset', { found: quoted(entry.at) });
    found.unusable.push({ entry_id: entry.id, kind: entry.kind, origin: '', problems: [problem] });
    found.entryCount += 1;
    return null;
  }
}

/** @param {Recorded} one @param {Recorded} other @returns {boolean} */
function areEqual(one, other) {
  const same = one.received_at === other.received_at && one.hash === other.hash;
  return same && one.previous_hash === other.previous_hash && contentOf(one) === contentOf(other);
}

/** @param {Recorded[]} copies @returns {number} The first receipt; endless where there is none. */
function receivedFirst(copies) {
  const receipts = copies.flatMap((copy) => (copy.received_at === null ? [] : [copy.received_at]));
  return receipts.length ? Math.min(...receipts) : Number.MAX_VALUE;
}

/** Joins copies of one entry that differ only in what the office added to it. @param {Recorded[]} copies */
function joined(copies) {
  const first = /** @type {Recorded} */ (copies[0]);
  const receipts = copies.flatMap((copy) => (copy.received_at === null ? [] : [copy.received_at]));
  const links = copies.map((copy) => /** @type {[string, string]} */ ([copy.previous_hash, copy.hash]));
  links.sort(([one, own], [other, others]) => byCodePoint(one, other) || byCodePoint(own, others));
  const [previousHash, hash] = links[0] ?? ['', ''];
  const received = receipts.length ? Math.min(...receipts) : null;
  return { ...first, received_at: received, previous_hash: previousHash, hash };
}

/** @param {Recorded} kept @param {Recorded[]} others @returns {Conflict} */
function sameId(kept, others) {
  const all = [kept, ...others];
  const listed = all
    .map((one) => {
      const values = { fields: dictionaryText(one.fields), author: one.author };
      return said('{kind} {fields} by {author}', values, { kind: one.kind });
    })
    .reduce((before, one) => said('{before}; {one}', {}, { before, one }));
  const words = said(
    'Entry {id} exists with {n} contents: {contents}. The first counts. Withdraw it and record what happened again.',
    { id: kept.id, n: all.length },
    { contents: listed },
  );
  const samplers = new Set(all.flatMap((one) => (one.fields['sampler'] === undefined ? [] : [strip(one.fields['sampler'])])));
  return conflict('same id, other content', [kept.id], words, {
    train: strip(kept.fields['train'] ?? ''),
    port: strip(kept.fields['port'] ?? ''),
    samplers: [...samplers].sort(byCodePoint),
  });
}

/** Fields as the office words them in a sentence. @param {Record<string, string>} fields @returns {string} */
function dictionaryText(fields) {
  const names = Object.keys(fields).sort(byCodePoint);
  return `{${names.map((name) => `${literal(name)}: ${literal(fields[name] ?? '')}`).join(', ')}}`;
}

/** @param {string} text @returns {string} */
function literal(text) {
  const quote = text.includes("'") && !text.includes('"') ? '"' : "'";
  /** @type {Record<string, string>} */
  const named = { '\\': '\\\\', '\n': '\\n', '\r': '\\r', '\t': '\\t', [quote]: `\\${quote}` };
  const letters = Array.from(text, (letter) => {
    if (named[letter] !== undefined) return named[letter];
    if (isPrintable(letter)) return letter;
    const code = letter.codePointAt(0) ?? 0;
    const hex = code.toString(16);
    if (code < 0x100) return `\\x${hex.padStart(2, '0')}`;
    return code < 0x10000 ? `\\u${hex.padStart(4, '0')}` : `\\U${hex.padStart(8, '0')}`;
  });
  return quote + letters.join('') + quote;
}

/** @param {Map<string, Recorded>} byId @param {Counting} found */
function remarkSequencesUsedTwice(byId, found) {
  /** @type {Map<string, Map<number, string[]>>} */
  const places = new Map();
  for (const { id, device, sequence } of byId.values()) {
    if (!sequence) continue;
    let ofDevice = places.get(device);
    if (!ofDevice) places.set(device, (ofDevice = new Map()));
    const there = ofDevice.get(sequence);
    if (there) there.push(id);
    else ofDevice.set(sequence, [id]);
  }
  for (const device of [...places.keys()].sort(byCodePoint)) {
    const twice = [...(places.get(device) ?? [])].filter(([, ids]) => ids.length > 1);
    for (const [sequence, ids] of twice.sort(([one], [other]) => one - other)) {
      const same = ids.sort(byCodePoint);
      const words = said(
        'Device {device} numbered {n} entries {number}: {ids}. Is there a second device under this name?',
        { device, n: same.length, number: sequence, ids: same.join(', ') },
      );
      found.remarks.push(conflict('sequence used twice', same, words));
    }
  }
}

/** Applies every correction that leads to an entry.
 *  @param {Map<string, Recorded>} byId @param {Counting} found
 *  @returns {{counts: Map<string, Recorded>, atCorrected: Set<string>}} */
function corrected(byId, found) {
  /** @type {Map<string, Recorded>} */
  const corrections = new Map();
  for (const [id, entry] of byId) if (entry.kind === 'correction' && entry.corrects) corrections.set(id, entry);
  const counts = new Map(byId);
  /** @type {Set<string>} */
  const atCorrected = new Set();
  if (!corrections.size) return { counts, atCorrected };
  const depth = distanceToWhatIsCorrected(corrections, byId, found);
  /** @type {Map<string, string[]>} */
  const byTarget = new Map();
  for (const id of depth.keys()) {
    const target = corrections.get(id)?.corrects ?? '';
    byTarget.set(target, [...(byTarget.get(target) ?? []), id]);
  }
  const targets = [...byTarget.keys()].sort((one, other) => {
    return (depth.get(other) ?? 0) - (depth.get(one) ?? 0) || byCodePoint(one, other);
  });
  /** @param {Recorded[]} some */
  const inOrder = (some) => {
    return some.sort((one, other) => byKey(orderKey(one, found.clocks), orderKey(other, found.clocks)));
  };
  for (const targetId of targets) {
    const ids = byTarget.get(targetId) ?? [];
    const applied = inOrder(ids.flatMap((id) => counts.get(id) ?? []));
    const recorded = /** @type {Recorded} */ (byId.get(targetId));
    const usable = applied.filter((one) => isUsable(one, recorded, found));
    const changed = apply(recorded, usable, atCorrected, found);
    if (changed) counts.set(targetId, changed);
    else counts.delete(targetId);
    const said = inOrder(ids.flatMap((id) => byId.get(id) ?? []));
    found.amendments[targetId] = {
      recorded: plainEntry(recorded),
      counts: changed ? plainEntry(changed) : null,
      corrections: said.map(plainEntry),
    };
  }
  return { counts, atCorrected };
}

/** Counts the steps from each correction to the entry it finally corrects; leaves out those that lead nowhere.
 *  @param {Map<string, Recorded>} corrections @param {Map<string, Recorded>} byId @param {Counting} found
 *  @returns {Map<string, number>} */
function distanceToWhatIsCorrected(corrections, byId, found) {
  /** @type {Map<string, number>} */
  const depth = new Map();
  /** @type {Set<string>} */
  const nowhere = new Set();
  for (const start of [...corrections.keys()].sort(byCodePoint)) {
    /** @type {string[]} */
    const path = [];
    let here = start;
    while (corrections.has(here) && !depth.has(here) && !nowhere.has(here) && !path.includes(here)) {
      path.push(here);
      here = corrections.get(here)?.corrects ?? '';
    }
    if (path.includes(here)) {
      const circle = path.slice(path.indexOf(here)).sort(byCodePoint);
      const words = said('The corrections {ids} correct one another in a circle. None of them counts.', {
        ids: circle.join(', '),
      });
      found.conflicts.push(conflict('corrections in a circle', circle, words));
      path.forEach((id) => nowhere.add(id));
    } else if (nowhere.has(here) || (!depth.has(here) && !byId.has(here))) {
      const last = path.at(-1);
      if (last !== undefined && !nowhere.has(here)) {
        const words = said('Correction {id} corrects entry {entry}, which is not in the log (yet).', {
          id: last,
          entry: here,
        });
        found.remarks.push(conflict('corrects an entry not in the log', [last], words));
      }
      path.forEach((id) => nowhere.add(id));
    } else {
      let steps = depth.get(here) ?? 0;
      for (const id of path.reverse()) depth.set(id, (steps += 1));
    }
  }
  return depth;
}

/** @param {Recorded} correction @param {Recorded} target @param {Counting} found @returns {boolean} */
function isUsable(correction, target, found) {
  const problems = checkEntry(entryOf(correction)).map(problemText);
  const name = strip(correction.fields['field'] ?? '');
  const spec = KINDS[target.kind];
  if (name && name !== 'at' && spec && !Object.hasOwn(spec.fields, name)) {
    const names = Object.keys(spec.fields).join(', ');
    const values = { found: quoted(name), names };
    problems.push(said('field: found {found}; wanted at or a field of {kind}: {names}', values, { kind: target.kind }));
  }
  if (name === 'at') {
    const value = correction.fields['value'] ?? '';
    try {
      microsOf(strip(value));
    } catch {
      const found = quoted(value);
      problems.push(
        said('value: found {found}; wanted an instant with its offset, as in 2026-03-29T05:10+02:00', { found }),
      );
    }
  }
  if (problems.length) found.unusable.push(unusable(correction, problems));
  return !problems.length;
}

/** The target with its corrections, the latest last; null when one withdraws it.
 *  @param {Recorded} target @param {Recorded[]} corrections @param {Set<string>} atCorrected @param {Counting} found
 *  @returns {Recorded | null} */
function apply(target, corrections, atCorrected, found) {
  /** @type {Map<string, Recorded[]>} */
  const said = new Map();
  for (const correction of corrections) {
    const value = (/** @type {string} */ name) => strip(correction.fields[name] ?? '');
    if (value('withdraw') === 'yes') return null;
    if (value('distinct_from')) found.distinct.add(target.id, value('distinct_from'));
    const name = value('field');
    if (name) said.set(name, [...(said.get(name) ?? []), correction]);
  }
  const fields = { ...target.fields };
  let { at } = target;
  for (const [name, several] of said) {
    const value = several.at(-1)?.fields['value'] ?? '';
    if (name === 'at') {
      at = microsOf(strip(value));
      atCorrected.add(target.id);
    } else if (strip(value)) fields[name] = value;
    else delete fields[name];
    const values = new Set(several.map((one) => strip(one.fields['value'] ?? '')));
    if (values.size > 1 && new Set(several.map((one) => one.device)).size > 1) {
      found.conflicts.push(disagreeing(target, name, several));
    }
  }
  return { ...target, fields, at };
}

/** @param {Recorded} target @param {string} name @param {Recorded[]} several @returns {Conflict} */
function disagreeing(target, name, several) {
  const values = several.map((one) => `“${one.fields['value'] ?? ''}” (${one.id}, ${one.author})`).join('; ');
  const words = said(
    '{field} of entry {id} was corrected to {values}. The last counts. Withdraw the wrong one.',
    { id: target.id, values },
    { field: name },
  );
  return conflict('corrections disagree', [target.id, ...several.map((one) => one.id)], words, {
    train: strip(target.fields['train'] ?? ''),
    port: strip(target.fields['port'] ?? ''),
    samplers: [strip(target.fields['sampler'] ?? '')].filter(Boolean),
  });
}

/** @param {Recorded} entry @param {string[]} problems @returns {Unusable} */
function unusable(entry, problems) {
  return { entry_id: entry.id, kind: entry.kind, origin: '', problems };
}
