/**
 * Delivery: what waits goes to the office, what others recorded comes back, and nothing leaves unless it was named.
 *
 * One tab delivers at a time (a Web Lock). It tries on focus, when the page becomes visible, on `online`, after every
 * act, and by a timer, because the first three lie or are missed; after a failure it waits longer each time.
 */

import { OfficeProblem } from './office_link.js';
import { instantText } from './instants.js';

/** @typedef {import('./store.js').AtTheOffice} AtTheOffice */
/** @typedef {import('./store.js').Settled} Settled */
/** @typedef {import('./store.js').Store} Store */
/** @typedef {import('./store.js').Waiting} Waiting */
/** @typedef {import('./office_link.js').OfficeLink} OfficeLink */
/** @typedef {import('./office_link.js').DeviceAnswer} DeviceAnswer */
/** @typedef {import('./types.js').Entry} Entry */
/** @typedef {import('./types.js').OutboxView} OutboxView */
/** @typedef {import('./types.js').Pack} Pack */

/** Entries in one delivery, and characters: the office takes 200 and 2 MB. */
const AT_ONCE = 200;
const LARGEST = 1_000_000;

/** Milliseconds between looks at the office while all is well, between first and last tries after a fault. */
const EVERY = 30_000;
const FIRST_AGAIN = 1_000;
const LAST_AGAIN = 120_000;

/** Milliseconds after which the office is asked again who this is, and for a newer day pack. */
const ASK_AGAIN = 5 * 60_000;

/**
 * @typedef {object} Surroundings What delivery needs to know, and whom it tells.
 * @property {() => {device: string, zone: string, survey: string, paired: boolean}} who
 * @property {() => number} now
 * @property {(change: {outbox?: Partial<OutboxView>, settled?: Settled, received?: AtTheOffice[], taken_back?: number,
 *   device?: DeviceAnswer, pack?: Pack, clock_ahead_s?: number}) => Promise<void>} tell
 */

export class Delivery {
  /** @param {Store} store @param {OfficeLink} link @param {Surroundings} around */
  constructor(store, link, around) {
    this.store = store;
    this.link = link;
    this.around = around;
    this.failures = 0;
    this.askedWho = -Infinity;
    this.askedPack = { survey: '', at: -Infinity };
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    this.timer = undefined;
    /** @type {Promise<void> | null} */
    this.running = null;
    this.again = false;
    this.stopped = false;
    this.soon = () => this.plan(0);
    this.seen = () => {
      if (document.visibilityState === 'visible') this.plan(0);
    };
  }

  start() {
    addEventListener('online', this.soon);
    addEventListener('focus', this.soon);
    document.addEventListener('visibilitychange', this.seen);
    this.plan(0);
  }

  stop() {
    this.stopped = true;
    clearTimeout(this.timer);
    removeEventListener('online', this.soon);
    removeEventListener('focus', this.soon);
    document.removeEventListener('visibilitychange', this.seen);
  }

  /** An act was kept: deliver soon, but not while the office is known to be away. */
  nudge() {
    if (this.failures === 0) this.plan(200);
  }

  /** @param {number} ms */
  plan(ms) {
    if (this.stopped) return;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.run(), ms);
  }

  /** Forget what was asked before: the device was paired or a survey chosen. */
  anew() {
    this.failures = 0;
    this.askedWho = -Infinity;
    this.askedPack = { survey: '', at: -Infinity };
  }

  /** Deliver now; resolves when it is through or has failed, which the view then says. @returns {Promise<void>} */
  async run() {
    if (this.running) {
      this.again = true;
      return this.running;
    }
    this.running = this.underLock().finally(() => {
      this.running = null;
    });
    await this.running;
    if (this.again) {
      this.again = false;
      this.plan(0);
    }
  }

  async underLock() {
    if (this.stopped || !this.around.who().paired) return;
    await navigator.locks.request('lapel-delivery', { ifAvailable: true }, async (lock) => {
      if (lock) await this.tryOnce();
      else this.plan(EVERY);
    });
  }

  async tryOnce() {
    try {
      await this.askWho();
      await this.deliverAll();
      await this.fetchDay();
      await this.fetchPack();
      this.failures = 0;
      await this.around.tell({ outbox: { state: 'idle', problem: '', next_try_at: null } });
      this.plan(EVERY);
    } catch (why) {
      await this.failed(why);
    }
  }

  async askWho() {
    const now = this.around.now();
    if (now - this.askedWho < ASK_AGAIN && now >= this.askedWho) return;
    const { device, zone } = this.around.who();
    const [waiting, confirmed] = await Promise.all([this.store.waiting(), this.store.confirmed()]);
    const lastMade = Math.max(0, ...[...waiting, ...confirmed].filter((one) => one.device === device).map((one) => one.sequence));
    const answer = await this.link.whoAmI(lastMade, instantText(now, zone));
    const lost = confirmed.filter((one) => one.device === device && one.sequence > answer.last_sequence);
    if (lost.length) await this.store.takeBack(lost);
    this.askedWho = now;
    await this.around.tell({ device: answer, taken_back: lost.length });
  }

  async deliverAll() {
    for (;;) {
      const { device, zone } = this.around.who();
      const all = (await this.store.waiting()).filter((one) => one.device === device);
      const waiting = all.filter((one) => !one.refusal);
      const first = waiting[0];
      if (!first) return;
      await this.around.tell({ outbox: { state: 'sending' } });
      const lot = lotOf(waiting.filter((one) => one.survey === first.survey));
      const lastMade = all.at(-1)?.sequence ?? 0;
      const sentAt = instantText(this.around.now(), zone);
      const answer = await this.link.deliver(first.survey, lot.map((one) => one.entry), lastMade, sentAt);
      const settled = await this.store.settle(lot, answer, this.around.now());
      /** @type {Parameters<Surroundings['tell']>[0]} */
      const change = { settled };
      if (answer.clock_ahead_s !== null) change.clock_ahead_s = answer.clock_ahead_s;
      await this.around.tell(change);
      if (!settled.confirmed.size && !settled.refused.length) throw new OfficeProblem(0, 'The office answered, and named no entry. All stay on this device.');
    }
  }

  async fetchDay() {
    const { survey } = this.around.who();
    if (!survey) return;
    const last = await this.store.lastAtTheOffice(survey);
    let after = last?.receipt ?? 0;
    if (last) {
      // one is asked for again: where the office was restored from a backup, it is another or none
      const again = await this.link.day(survey, last.receipt - 1);
      const same = again.entries[0]?.receipt === last.receipt && again.entries[0].entry.id === last.entry.id;
      if (!same) {
        await this.store.forgetTheOffice(survey);
        await this.around.tell({ taken_back: 0 });
        after = 0;
      } else if (!again.more) {
        await this.received(survey, again.entries.slice(1));
        return;
      }
    }
    for (let more = true; more; ) {
      const answer = await this.link.day(survey, after);
      await this.received(survey, answer.entries);
      after = answer.last_receipt;
      more = answer.more;
    }
  }

  /** @param {string} survey @param {{receipt: number, entry: Entry}[]} entries */
  async received(survey, entries) {
    if (!entries.length) return;
    const rows = entries.map(({ receipt, entry }) => ({ survey, receipt, entry }));
    await this.store.keepFromTheOffice(rows);
    await this.around.tell({ received: rows });
  }

  async fetchPack() {
    const { survey } = this.around.who();
    const now = this.around.now();
    const recent = this.askedPack.survey === survey && now - this.askedPack.at < ASK_AGAIN && now >= this.askedPack.at;
    if (!survey || recent) return;
    const known = await this.store.setting(`pack ${survey}`, /** @type {Pack | null} */ (null));
    const pack = await this.link.pack(survey, known?.hash ?? '');
    this.askedPack = { survey, at: now };
    if (pack) await this.store.keepSettings({ [`pack ${survey}`]: pack, [`pack at ${survey}`]: now });
    if (pack) await this.around.tell({ pack });
  }

  /** @param {unknown} why */
  async failed(why) {
    this.failures += 1;
    const told = why instanceof OfficeProblem ? why : null;
    const wait = Math.max(backOff(this.failures), 1000 * (told?.retryAfterS ?? 0));
    /** @type {OutboxView['state']} */
    const state = told?.isTurnedAway ? 'pair again' : told?.status === 404 ? 'survey unknown' : told?.status ? 'waiting' : 'unreachable';
    const problem = told?.words ?? `Something went wrong on this device (${why}). Everything stays on it.`;
    if (told?.isTurnedAway) this.askedWho = -Infinity;
    await this.around.tell({ outbox: { state, problem, next_try_at: this.around.now() + wait } });
    this.plan(wait);
  }
}

/** Milliseconds to wait after so many failures: twice as long each time, and at random, so that phones spread out.
 *  @param {number} failures @param {() => number} random @returns {number} */
export function backOff(failures, random = Math.random) {
  const longest = Math.min(LAST_AGAIN, FIRST_AGAIN * 2 ** (failures - 1));
  return longest * (0.5 + random() / 2);
}

/** The first entries that go in one delivery. @param {Waiting[]} waiting @returns {Waiting[]} */
function lotOf(waiting) {
  let size = 0;
  const lot = [];
  for (const one of waiting.slice(0, AT_ONCE)) {
    size += JSON.stringify(one.entry).length;
    if (lot.length && size > LARGEST) break;
    lot.push(one);
  }
  return lot;
}
