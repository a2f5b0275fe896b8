/** What every screen is handed: the newest view, the trains as they stand, where we are, and how to keep what is done. */

import { trainsNow } from '../now/trains.js';
import { msOf } from '../instants.js';
import { placeKept } from './place.js';
import { codeText, say, tell } from './words.js';

/** @typedef {import('../types.js').Act} Act */
/** @typedef {import('../types.js').Entry} Entry */
/** @typedef {import('../types.js').Field} Field */
/** @typedef {import('../types.js').TrainNow} TrainNow */
/** @typedef {import('../types.js').View} View */
/** @typedef {'good' | 'care' | 'stop'} Level */
/** @typedef {{level: Level, words: string, entries: string[], more: string[]}} Told */

const TREMBLE = { good: [35], care: [70, 60, 70], stop: [220, 90, 220, 90, 220] };

/** The trains are worked out anew when the log changed, or when the clock moved on by this much. [ms] */
const STANDS_MS = 5000;

export class Desk {
  /** @param {Field} field @param {() => void} redraw */
  constructor(field, redraw) {
    this.field = field;
    this.redraw = redraw;
    /** @type {string[]} */
    this.route = [];
    /** @type {Map<string, Record<string, any>>} */
    this.drafts = new Map();
    /** @type {Told | null} */
    this.told = null;
    this.busy = false;
    /** @type {((code: string) => void) | null} Set by a screen that reads labels. */
    this.onScan = null;
    /** @type {{type: (sign: string) => void, erase: () => void, keep: () => void} | null} Set by the pad on screen. */
    this.pad = null;
    /** Whether the pad is what the screen is about, and the rest makes room. */
    this.wantsRoom = false;
    /** @type {{view: View, at: number, trains: TrainNow[]} | null} */
    this.worked = null;
  }

  /** @returns {View} */
  get view() {
    return this.field.view;
  }

  /** @returns {number} */
  get now() {
    return this.field.now();
  }

  /** Now on the clock the day is told in: a device whose clock is ahead has its instants set back by the fold. [ms] */
  get dayNow() {
    const own = this.view.day.clocks[this.view.device?.code ?? ''];
    return this.now + 1000 * (own?.shift_s ?? 0);
  }

  get zone() {
    return this.view.pack?.survey.zone || this.view.device?.zone || '';
  }

  get place() {
    return placeKept();
  }

  /** Every train known to plan or log, as it stands. @returns {TrainNow[]} */
  get trains() {
    const { view, worked, dayNow: now } = this;
    if (worked && worked.view === view && Math.abs(now - worked.at) < STANDS_MS) return worked.trains;
    const trains = trainsNow(view.day, view.pack, view.planned, now);
    this.worked = { view, at: now, trains };
    return trains;
  }

  /** @param {string | undefined} code @returns {TrainNow | undefined} */
  train(code) {
    return this.trains.find((train) => train.code === code);
  }

  /** What is being made up on a screen and is not recorded yet. @template {Record<string, any>} T
   *  @param {string} key @param {T} initial @returns {T} */
  draft(key, initial) {
    const kept = this.drafts.get(key);
    if (kept) return /** @type {T} */ (kept);
    this.drafts.set(key, initial);
    return initial;
  }

  /** @param {string} key */
  forget(key) {
    this.drafts.delete(key);
  }

  /** Go to a screen. @param {...string} route */
  go(...route) {
    const hash = '#/' + route.map(encodeURIComponent).join('/');
    if (location.hash === hash) this.redraw();
    else location.hash = hash;
  }

  /** Say something in words, colour and vibration together. @param {Level} level @param {string} words
   *  @param {Entry[]} [entries] What can be undone. @param {string[]} [more] */
  tell(level, words, entries = [], more = []) {
    this.told = { level, words, entries: entries.map((entry) => entry.id), more };
    navigator.vibrate?.(TREMBLE[level]);
    this.redraw();
  }

  /** Record acts, all or none; say “kept” only once they are on disk. While it lasts nothing else is taken.
   *  @param {Act[]} acts @param {string} words @param {(entries: Entry[]) => void} [then]
   *  @returns {Promise<boolean>} Whether they were kept. */
  async keep(acts, words, then) {
    if (this.busy || acts.length === 0) return false;
    this.busy = true;
    this.redraw();
    try {
      const at = new Date(this.now); // what one tap does, happened at one instant
      const entries = await this.field.recordAll(acts.map((act) => ({ at, ...act })));
      this.busy = false;
      this.tell('good', words, entries);
      then?.(entries);
      this.redraw();
      return true;
    } catch (problem) {
      this.busy = false;
      this.tell('stop', say('kept.not'), [], reasonsOf(problem));
      return false;
    }
  }

  /** Take back what was just kept: each entry stays, and a correction says that it does not count.
   *  @param {string[]} entryIds @param {string} [reason] */
  async undo(entryIds, reason = 'tapped by mistake') {
    if (this.busy) return;
    this.busy = true;
    try {
      const acts = [...entryIds]
        .reverse()
        .map((id) => ({ kind: 'correction', fields: { withdraw: 'yes' }, corrects: id, reason }));
      await this.field.recordAll(acts);
      this.busy = false;
      this.tell('care', say('undone', { n: entryIds.length }));
    } catch (problem) {
      this.busy = false;
      this.tell('stop', say('kept.not'), [], reasonsOf(problem));
    }
  }

  /** Minutes from an instant until now. @param {string} instant */
  since(instant) {
    return (this.dayNow - msOf(instant)) / 60000;
  }
}

/** @param {any} problem @returns {string[]} */
export function reasonsOf(problem) {
  if (Array.isArray(problem?.problems)) {
    return problem.problems.map(problemText);
  }
  return [tell(String(problem?.words ?? problem?.message ?? problem))];
}

/** @param {import('../types.js').EntryProblem} problem */
export function problemText({ field, found, wanted }) {
  return say('problem', { field: codeText(field), found: tell(found), wanted: tell(wanted) });
}
