/** Blanks and parcels: what was opened when, what was packed with what, and through whose hands it went. */

import { codesIn, yesOrNo } from '../checks.js';
import { microsOf, minutesBetweenMicros, utcText } from '../instants.js';
import { said } from '../said.js';
import { conflict, recordedTwice } from './findings.js';

/** @typedef {import('../types.js').BlankRun} BlankRun */
/** @typedef {import('../types.js').Conflict} Conflict */
/** @typedef {import('../types.js').CustodyGap} CustodyGap */
/** @typedef {import('../types.js').CustodyHop} CustodyHop */
/** @typedef {import('../types.js').Parcel} Parcel */
/** @typedef {import('./findings.js').Findings} Findings */
/** @typedef {import('./order.js').Act} Act */

export class BlankLog {
  /** @param {string} blank */
  constructor(blank) {
    this.blank = blank;
    /** @type {Act | null} */
    this.opened = null;
    /** @type {Act | null} */
    this.closed = null;
    /** @type {Set<string>} */
    this.entryIds = new Set();
  }

  /** Twice is one act by two people, or one too many. @param {Act} act @param {Findings} findings */
  open(act, findings) {
    this.entryIds.add(act.id);
    if (this.opened) findings.conflicts.push(repeated(this.opened, act, this.blank, findings));
    else this.opened = act;
  }

  /** @param {Act} act @param {Findings} findings */
  close(act, findings) {
    this.entryIds.add(act.id);
    if (this.closed) findings.conflicts.push(repeated(this.closed, act, this.blank, findings));
    else this.closed = act;
    if (!this.opened) {
      const words = said('Blank {blank} was closed, and its opening is not recorded before it.', { blank: this.blank });
      findings.remarks.push(conflict('closed before opened', [act.id], words, { samplers: [this.blank] }));
    }
  }

  /** @param {Conflict[]} conflicts @param {string} parcel @returns {BlankRun} */
  frozen(conflicts, parcel) {
    const { opened, closed } = this;
    const value = (/** @type {string} */ name) => opened?.value(name) ?? '';
    return {
      blank: this.blank,
      use: value('use') || 'field',
      medium: value('medium'),
      lot: value('lot'),
      place: value('place'),
      opened_at: opened ? utcText(opened.at) : null,
      closed_at: closed ? utcText(closed.at) : null,
      open_min: opened && closed && closed.at >= opened.at ? minutesBetweenMicros(opened.at, closed.at) : null,
      conflicts,
      parcel,
      entry_ids: [...this.entryIds],
    };
  }
}

export class ParcelLog {
  /** @param {string} code */
  constructor(code) {
    this.code = code;
    /** @type {Act | null} */
    this.sealing = null;
    /** @type {string[]} */
    this.samplers = [];
    /** @type {CustodyHop[]} */
    this.hops = [];
  }

  /** @param {Act} act @param {Findings} findings @returns {boolean} Whether this is its first sealing. */
  seal(act, findings) {
    if (!this.sealing) {
      this.sealing = act;
      this.samplers = codesIn(act.value('samplers'));
      const first = this.hops[0];
      if (first) {
        const words = said('Parcel {parcel} was handed on before it was sealed.', { parcel: this.code });
        findings.remarks.push(conflict('handed on before sealed', [first.entry_id, act.id], words));
      }
      return true;
    }
    const added = codesIn(act.value('samplers')).filter((code) => !this.samplers.includes(code));
    findings.conflicts.push(repeated(this.sealing, act, '', findings, [...this.samplers, ...added]));
    return false;
  }

  /** @param {Act} act */
  hand(act) {
    this.hops.push({
      entry_id: act.id,
      at: utcText(act.at),
      giver: act.value('from'),
      receiver: act.value('to'),
      seal_intact: yesOrNo(act.value('seal_intact')),
      temperature: act.value('temperature'),
      temperature_unit: act.value('temperature_unit'),
    });
  }

  /** @param {Conflict[]} conflicts @returns {Parcel} */
  frozen(conflicts) {
    const seen = this.hops.map((hop) => hop.seal_intact).filter((intact) => intact !== null);
    const value = (/** @type {string} */ name) => this.sealing?.value(name) ?? '';
    return {
      code: this.code,
      samplers: this.samplers,
      seal: value('seal'),
      sealed_at: this.sealing ? utcText(this.sealing.at) : null,
      sealed_by: this.sealing?.author ?? '',
      temperature: value('temperature'),
      temperature_unit: value('temperature_unit'),
      hops: this.hops,
      gaps: this.gaps(),
      seal_broken: seen.length ? !seen.every(Boolean) : null,
      conflicts,
    };
  }

  /** The hand-overs whose giver is not the one who took the parcel before. @returns {CustodyGap[]} */
  gaps() {
    return this.hops.slice(1).flatMap((after, place) => {
      const before = /** @type {CustodyHop} */ (this.hops[place]);
      if (foldedCase(before.receiver) === foldedCase(after.giver)) return [];
      const hours = minutesBetweenMicros(microsOf(before.at), microsOf(after.at)) / 60;
      const [last, next] = [before.receiver, after.giver];
      return [{ after: before.at, until: after.at, hours, last_holder: last, next_giver: next }];
    });
  }
}

/** A name without its case, as far as a page can tell: “ß” is “ss”. @param {string} name @returns {string} */
function foldedCase(name) {
  return name.toUpperCase().toLowerCase();
}

/** @param {Act} first @param {Act} act @param {string} blank @param {Findings} findings @param {string[]} samplers
 *  @returns {Conflict} */
function repeated(first, act, blank, findings, samplers = []) {
  const named = samplers.length ? samplers : [blank];
  if (first.device !== act.device && !findings.areDistinct(first, act)) return recordedTwice([first, act], named);
  const subject = blank || act.value('parcel');
  const words = said(
    '{kind} of {subject} is recorded in {first} and in {second}. The first counts.',
    { subject, first: first.id, second: act.id },
    { kind: act.kind },
  );
  return conflict('done twice', [first.id, act.id], words, { samplers: named });
}
