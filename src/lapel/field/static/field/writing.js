/**
 * From an act to an entry on the disk: checked, numbered, chained and written, before anybody is told it is kept.
 *
 * Acts that come while another is being written are written together. The transaction looks that the chain ends where
 * the new entries go on; a tab that has met another one takes turns with it by a Web Lock besides, so that neither has
 * to try again.
 */

import { entryHash, newEntryId } from './chain.js';
import { checkEntry } from './checks.js';
import { instantText, msOf } from './instants.js';
import { said } from './said.js';
import { isBlank } from './texts.js';

/** @typedef {import('./types.js').Act} Act */
/** @typedef {import('./types.js').Entry} Entry */
/** @typedef {import('./types.js').EntryProblem} EntryProblem */
/** @typedef {import('./store.js').ChainEnd} ChainEnd */
/** @typedef {import('./store.js').Store} Store */
/** @typedef {import('./store.js').Waiting} Waiting */

/** An act cannot be read as its kind; `problems` says why, by field. Nothing was kept. */
export class RecordProblem extends Error {
  /** @param {EntryProblem[]} problems */
  constructor(problems) {
    super(problems.map((one) => `${one.field}: found ${one.found}; wanted ${one.wanted}`).join('; '));
    this.name = 'RecordProblem';
    this.problems = problems;
  }
}

/** Who writes, into what. @typedef {{device: string, zone: string, author: string, survey: string}} Writer */

/** @typedef {object} Job
 *  @property {Act[]} acts
 *  @property {Writer} writer
 *  @property {(entries: Entry[]) => void} kept
 *  @property {(why: unknown) => void} failed */

export class Writing {
  /** @param {Store} store @param {() => number} now */
  constructor(store, now) {
    this.store = store;
    this.now = now;
    /** @type {Job[]} */
    this.jobs = [];
    this.atWork = false;
    /** Where the chain ended when this tab wrote last; the disk has the last word. @type {ChainEnd | null} */
    this.end = null;
    /** Whether no other tab was seen to write. */
    this.alone = true;
  }

  /** Another tab writes too. */
  metAnother() {
    this.alone = false;
    this.end = null;
  }

  /** Resolves with the entries once all are on disk; rejects, and nothing is kept, if one cannot be.
   *  @param {Act[]} acts @param {Writer} writer @returns {Promise<Entry[]>} */
  write(acts, writer) {
    return new Promise((kept, failed) => {
      this.jobs.push({ acts, writer, kept, failed });
      if (!this.atWork) void this.work();
    });
  }

  async work() {
    this.atWork = true;
    try {
      while (this.jobs.length) {
        const jobs = this.jobs.splice(0);
        const write = () => this.writeTogether(jobs);
        await (this.alone ? write() : navigator.locks.request('lapel-chain', write));
      }
    } finally {
      this.atWork = false;
    }
  }

  /** @param {Job[]} jobs @returns {Promise<void>} */
  async writeTogether(jobs) {
    /** @type {{job: Job, drafts: Entry[]}[]} */
    const sound = [];
    for (const job of jobs) {
      const drafts = job.acts.map((act) => this.draft(act, job.writer));
      const problems = drafts.flatMap(checkEntry);
      if (problems.length) job.failed(new RecordProblem(problems));
      else if (drafts.length) sound.push({ job, drafts });
      else job.kept([]);
    }
    if (!sound.length) return;
    try {
      await this.chain(sound);
      for (const { job, drafts } of sound) job.kept(drafts);
    } catch (why) {
      for (const { job } of sound) job.failed(why);
    }
  }

  /** @param {{job: Job, drafts: Entry[]}[]} sound @returns {Promise<void>} */
  async chain(sound) {
    const device = sound[0]?.job.writer.device ?? '';
    for (;;) {
      if (this.end?.device !== device) {
        this.end = await this.store.setting('chain', { device, sequence: 0, hash: '' });
      }
      const before = this.end;
      if (sound.some(({ job }) => job.writer.device !== before.device)) {
        throw new Error(said('This device was paired anew in another tab. Reload.'));
      }
      const { made, after } = await linked(sound, before);
      const kept = await this.store.keep(made, before, after);
      if (kept) {
        this.end = after;
        return;
      }
      this.metAnother();
    }
  }

  /** An entry without its place in the chain. @param {Act} act @param {Writer} writer @returns {Entry} */
  draft(act, writer) {
    const now = this.now();
    const { at } = act;
    /** @type {Entry} */
    const entry = {
      id: newEntryId(now),
      kind: act.kind,
      at: instantText(at === undefined ? now : msOf(at), writer.zone),
      device: writer.device,
      sequence: 1,
      author: writer.author,
      fields: Object.fromEntries(Object.entries(act.fields).filter(([, value]) => !isBlank(value))),
    };
    if (act.corrects) entry.corrects = act.corrects;
    if (act.reason) entry.reason = act.reason;
    return entry;
  }
}

/** Numbers and chains drafts after the end of the chain.
 *  @param {{job: Job, drafts: Entry[]}[]} sound @param {ChainEnd} before
 *  @returns {Promise<{made: Waiting[], after: ChainEnd}>} */
async function linked(sound, before) {
  const after = { ...before };
  /** @type {Waiting[]} */
  const made = [];
  for (const { job, drafts } of sound) {
    for (const entry of drafts) {
      entry.sequence = after.sequence + 1;
      if (after.hash) entry.previous_hash = after.hash;
      else delete entry.previous_hash;
      entry.hash = await entryHash(entry);
      after.sequence = entry.sequence;
      after.hash = entry.hash;
      made.push({ device: before.device, sequence: entry.sequence, survey: job.writer.survey, entry, refusal: null });
    }
  }
  return { made, after };
}
