/**
 * Delivery: what waits goes to the office, what others recorded comes back, and nothing leaves unless it was named.
 *
 * One tab delivers at a time (a Web Lock). It tries on focus, when the page becomes visible, on `online`, after every
 * act, and by a timer, because the first three lie or are missed; after a failure it waits longer each time.
 */

import { OfficeProblem } from './office_link.js';
import { instantText } from './instants.js';
import { said } from './said.js';

/** @typedef {import('./store.js').AtTheOffice} AtTheOffice */
/** @typedef {import('./store.js').Settled} Settled */
/** @typedef {import('./store.js').Store} Store */
/** @typedef {import('./store.js').Waiting} Waiting */
/** @typedef {import('./office_link.js').OfficeLink} OfficeLink */
/** @typedef {import('./office_link.js').DeliveryAnswer} DeliveryAnswer */
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
    const answer = await this.link.whoAmI(await this.store.lastMade(device), instantText(now, zone));
    const lost = await this.store.confirmedOf(device, answer.last_sequence);
    if (lost.length) await this.store.takeBack(lost);
    this.askedWho = now;
    await this.around.tell({ device: answer, taken_back: lost.length });
  }

  /** Everything that waits, as long as the office names something of each lot. */
  async deliverAll() {
    while (await this.deliverOnce()) {
      // some of a lot were not named: once more from the first
    }
  }

  /** What waits, once through. The office works on the next lot while the disk settles the last.
   *  @returns {Promise<boolean>} Whether some were sent and not named. */
  async deliverOnce() {
    const { device, zone } = this.around.who();
    let someLeft = false;
    /** @type {Promise<void>} */
    let settling = Promise.resolve();
    try {
      for (let lot = await this.lotAfter(device, 0); lot.length; ) {
        await this.around.tell({ outbox: { state: 'sending' } });
        const { survey } = /** @type {Waiting} */ (lot[0]);
        const { sequence: last } = /** @type {Waiting} */ (lot.at(-1));
        const lastMade = await this.store.lastMade(device);
        const sentAt = instantText(this.around.now(), zone);
        const asked = this.link.deliver(survey, lot.map((one) => one.entry), lastMade, sentAt);
        const [answer, following] = await Promise.all([asked, this.lotAfter(device, last)]);
        await settling;
        const isNamed = (/** @type {Waiting} */ { entry: { id } }) => id in answer.receipts || id in answer.refused;
        settling = this.settle(lot, answer);
        if (!lot.some(isNamed)) {
          throw new OfficeProblem(0, said('The office answered, and named no entry. All stay on this device.'));
        }
        someLeft ||= !lot.every(isNamed);
        lot = following;
      }
    } finally {
      await settling;
    }
    return someLeft;
  }

  /** @param {Waiting[]} lot @param {DeliveryAnswer} answer @returns {Promise<void>} */
  async settle(lot, answer) {
    /** @type {Parameters<Surroundings['tell']>[0]} */
    const change = { settled: await this.store.settle(lot, answer, this.around.now()) };
    if (answer.clock_ahead_s !== null) change.clock_ahead_s = answer.clock_ahead_s;
    await this.around.tell(change);
  }

  /** The next entries that go in one delivery: of one survey, not refused before, not too large together.
   *  @param {string} device @param {number} after @returns {Promise<Waiting[]>} */
  async lotAfter(device, after) {
    for (;;) {
      const rows = await this.store.waitingOf(device, after, AT_ONCE);
      const lot = lotOf(rows.filter((one) => !one.refusal));
      if (lot.length || rows.length < AT_ONCE) return lot;
      after = /** @type {Waiting} */ (rows.at(-1)).sequence;
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
    /** @type {Promise<void>} */
    let receiving = Promise.resolve();
    try {
      for (let more = true; more; ) {
        const answer = await this.link.day(survey, after); // while the disk takes in the one before
        await receiving;
        receiving = this.received(survey, answer.entries);
        ({ last_receipt: after, more } = answer);
      }
    } finally {
      await receiving;
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
    const own = said('Something went wrong on this device ({why}). Everything stays on it.', { why: String(why) });
    const problem = told?.words ?? own;
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
  for (const one of waiting) {
    size += JSON.stringify(one.entry).length;
    if (one.survey !== waiting[0]?.survey || (lot.length && size > LARGEST)) break;
    lot.push(one);
  }
  return lot;
}
