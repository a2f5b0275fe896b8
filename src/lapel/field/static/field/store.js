/**
 * The disk of the page: an IndexedDB database with the outbox, what was confirmed, what the office has, and settings.
 *
 * An entry lies in `outbox` until the office has named its id, then for a while in `confirmed`: should the office be
 * restored from an older backup, it is sent again. Every write of an entry is made with strict durability: when the
 * promise resolves, the entry is on the disk, not in a buffer.
 */

import { said } from './said.js';
import { openDB } from './vendor/idb.js';

/** @typedef {import('./types.js').Entry} Entry */
/** @typedef {import('./types.js').EntryProblem} EntryProblem */

/**
 * @typedef {object} Waiting An entry in the outbox; `refusal` says why the office did not take it.
 * @property {string} device
 * @property {number} sequence
 * @property {string} survey
 * @property {Entry} entry
 * @property {{number: number, problems: EntryProblem[]} | null} refusal
 *
 * @typedef {object} Confirmed
 * @property {string} device
 * @property {number} sequence
 * @property {string} survey
 * @property {Entry} entry
 * @property {number} receipt
 * @property {number} confirmed_at Milliseconds since 1970.
 *
 * @typedef {object} AtTheOffice An entry the office has, of any device.
 * @property {string} survey
 * @property {number} receipt
 * @property {Entry} entry
 *
 * @typedef {object} ChainEnd The device's last entry, from which its chain goes on.
 * @property {string} device
 * @property {number} sequence
 * @property {string} hash
 *
 * @typedef {object} Settled What became of entries that were sent.
 * @property {Set<string>} confirmed Their ids.
 * @property {Waiting[]} refused
 *
 * @typedef {import('./vendor/idb.js').IDBPDatabase<any>} Database
 */

/** Days a confirmed entry is kept on the device. */
export const KEPT_DAYS = 60;

const STRICT = /** @type {const} */ ({ durability: 'strict' });

/** Nothing was kept: the disk is full, or the browser refuses to write; `words` are for the person. */
export class DiskProblem extends Error {
  /** @param {string} words @param {unknown} cause */
  constructor(words, cause) {
    super(words, { cause });
    this.name = 'DiskProblem';
    this.words = words;
    this.full = isFull(cause);
  }
}

/** Opens the database; `closed` is called when a newer page in another tab needs it closed.
 *  @param {string} name @param {() => void} closed @returns {Promise<Store>} */
export async function openStore(name, closed) {
  const database = await openDB(name, 1, {
    upgrade(made) {
      made.createObjectStore('outbox', { keyPath: ['device', 'sequence'] });
      made.createObjectStore('confirmed', { keyPath: ['device', 'sequence'] });
      made.createObjectStore('office', { keyPath: ['survey', 'receipt'] });
      made.createObjectStore('settings');
    },
    blocking() {
      database.close();
      closed();
    },
    terminated: closed,
  });
  return new Store(database);
}

export class Store {
  /** @param {Database} database */
  constructor(database) {
    this.database = database;
  }

  close() {
    this.database.close();
  }

  /** @template T @param {string} name @param {T} otherwise @returns {Promise<T>} */
  async setting(name, otherwise) {
    const found = await this.database.get('settings', name);
    return found === undefined ? otherwise : found;
  }

  /** @param {Record<string, unknown>} values Several at once, or none. @returns {Promise<void>} */
  async keepSettings(values) {
    await written(async () => {
      const tx = this.database.transaction('settings', 'readwrite', STRICT);
      await Promise.all([...Object.entries(values).map(([name, value]) => tx.store.put(value, name)), tx.done]);
    });
  }

  /** @returns {Promise<Waiting[]>} In the order of the device's sequence. */
  waiting() {
    return this.database.getAll('outbox');
  }

  /** The next ones of a device. @param {string} device @param {number} after Only sequences above this.
   *  @param {number} most @returns {Promise<Waiting[]>} In the order of the sequence. */
  waitingOf(device, after, most) {
    return this.database.getAll('outbox', sequencesAbove(device, after), most);
  }

  /** @returns {Promise<Confirmed[]>} */
  confirmed() {
    return this.database.getAll('confirmed');
  }

  /** @param {string} device @param {number} after Only sequences above this. @returns {Promise<Confirmed[]>} */
  confirmedOf(device, after) {
    return this.database.getAll('confirmed', sequencesAbove(device, after));
  }

  /** The highest sequence a device has made here, sent or not. @param {string} device @returns {Promise<number>} */
  async lastMade(device) {
    const end = await this.setting('chain', /** @type {ChainEnd | null} */ (null));
    return end?.device === device ? end.sequence : 0;
  }

  /** @param {string} survey @param {number} after Only receipts above this. @returns {Promise<AtTheOffice[]>} */
  atTheOffice(survey, after = -1) {
    return this.database.getAll('office', IDBKeyRange.bound([survey, after], [survey, Infinity], true));
  }

  /** @param {string} survey @returns {Promise<AtTheOffice | undefined>} */
  async lastAtTheOffice(survey) {
    const tx = this.database.transaction('office');
    const cursor = await tx.store.openCursor(IDBKeyRange.bound([survey, -1], [survey, Infinity]), 'prev');
    return cursor?.value;
  }

  /** Resolves once the entries are on disk; only then may the page say “kept”.
   *  The end of the chain moves in the same transaction: should another tab have moved it meanwhile, nothing is kept.
   *  @param {Waiting[]} made @param {ChainEnd} before @param {ChainEnd} after
   *  @returns {Promise<boolean>} Whether the chain still ended where these go on. */
  async keep(made, before, after) {
    return written(async () => {
      const tx = this.database.transaction(['outbox', 'settings'], 'readwrite', STRICT);
      const [outbox, settings] = [tx.objectStore('outbox'), tx.objectStore('settings')];
      tx.done.catch(() => {}); // heard below
      try {
        // all is asked in one go: the answer to the first comes before the others', and lets them stand or not
        const end = settings.get('chain');
        for (const one of made) outbox.add(one).catch(() => {}); // what goes wrong ends `tx`, which then says so
        settings.put(after, 'chain').catch(() => {});
        if (isElsewhere(await end, before)) {
          tx.abort();
          return false;
        }
        tx.commit();
      } catch (cause) {
        abort(tx);
        throw cause;
      }
      await tx.done;
      return true;
    });
  }

  /** What became of entries that were sent: those confirmed move over, those refused stay, with why; others stay.
   *  @param {Waiting[]} sent
   *  @param {{receipts: Record<string, number>, refused: Record<string, {number: number, problems: EntryProblem[]}>}} answer
   *  @param {number} now @returns {Promise<Settled>} */
  async settle(sent, answer, now) {
    return written(async () => {
      const tx = this.database.transaction(['outbox', 'confirmed'], 'readwrite', STRICT);
      const outbox = tx.objectStore('outbox');
      const confirmed = tx.objectStore('confirmed');
      /** @type {Settled} */
      const settled = { confirmed: new Set(), refused: [] };
      /** @type {Promise<unknown>[]} */
      const writes = [];
      /** @type {Waiting[]} */
      const gone = [];
      for (const one of sent) {
        const receipt = answer.receipts[one.entry.id];
        const refusal = answer.refused[one.entry.id];
        if (receipt !== undefined) {
          const { device, sequence, survey, entry } = one;
          writes.push(confirmed.put({ device, sequence, survey, entry, receipt, confirmed_at: now }));
          gone.push(one);
          settled.confirmed.add(entry.id);
        } else if (refusal) {
          const row = { ...one, refusal: { number: refusal.number, problems: refusal.problems } };
          writes.push(outbox.put(row));
          settled.refused.push(row);
        }
      }
      for (const range of unbroken(gone)) writes.push(outbox.delete(range));
      await Promise.all([...writes, tx.done]);
      return settled;
    });
  }

  /** The office no longer has what it confirmed: those entries wait again, and what is known of it is forgotten.
   *  @param {Confirmed[]} lost @returns {Promise<void>} */
  async takeBack(lost) {
    await written(async () => {
      const tx = this.database.transaction(['outbox', 'confirmed', 'office'], 'readwrite', STRICT);
      const writes = lost.flatMap(({ device, sequence, survey, entry }) => [
        tx.objectStore('outbox').put({ device, sequence, survey, entry, refusal: null }),
        tx.objectStore('confirmed').delete([device, sequence]),
      ]);
      await Promise.all([...writes, tx.objectStore('office').clear(), tx.done]);
    });
  }

  /** @param {AtTheOffice[]} entries @returns {Promise<void>} */
  async keepFromTheOffice(entries) {
    await written(async () => {
      const tx = this.database.transaction('office', 'readwrite');
      await Promise.all([...entries.map((one) => tx.store.put(one)), tx.done]);
    });
  }

  /** @param {string} survey @returns {Promise<void>} */
  async forgetTheOffice(survey) {
    await this.database.delete('office', IDBKeyRange.bound([survey, -1], [survey, Infinity]));
  }

  /** Confirmed entries go after their time, so that a phone does not fill up over the years. @param {number} now */
  async forgetOld(now) {
    const old = now - KEPT_DAYS * 24 * 3600 * 1000;
    const tx = this.database.transaction('confirmed', 'readwrite');
    for await (const cursor of tx.store) {
      if (/** @type {Confirmed} */ (cursor.value).confirmed_at < old) await cursor.delete();
    }
    await tx.done;
  }
}

/** @param {string} device @param {number} after @returns {IDBKeyRange} */
function sequencesAbove(device, after) {
  return IDBKeyRange.bound([device, after], [device, Infinity], true);
}

/** The keys of rows: one range for each unbroken run of a device's sequence, as few as may be where the rows come in
 *  its order. @param {Waiting[]} rows @returns {IDBKeyRange[]} */
function unbroken(rows) {
  /** @type {{device: string, first: number, last: number}[]} */
  const runs = [];
  for (const { device, sequence } of rows) {
    const run = runs.at(-1);
    if (run?.device === device && sequence === run.last + 1) run.last = sequence;
    else runs.push({ device, first: sequence, last: sequence });
  }
  return runs.map(({ device, first, last }) => IDBKeyRange.bound([device, first], [device, last]));
}

/** @param {ChainEnd | undefined} end @param {ChainEnd} wanted @returns {boolean} */
function isElsewhere(end, wanted) {
  return end !== undefined && (end.device !== wanted.device || end.sequence !== wanted.sequence || end.hash !== wanted.hash);
}

/** Nothing of it is kept; it may have ended by itself. @param {{abort: () => void}} tx */
function abort(tx) {
  try {
    tx.abort();
  } catch {
    // it had
  }
}

/** @template T @param {() => Promise<T>} write @returns {Promise<T>} */
async function written(write) {
  try {
    return await write();
  } catch (cause) {
    const words = isFull(cause)
      ? said('This device is full. Nothing of the last act was kept: write it down, and make room on the device.')
      : said('This device could not write to its disk ({why}). Nothing of the last act was kept: write it down.', {
          why: cause instanceof Error ? cause.message : String(cause),
        });
    throw new DiskProblem(words, cause);
  }
}

/** @param {unknown} cause @returns {boolean} */
function isFull(cause) {
  return cause instanceof DOMException && (cause.name === 'QuotaExceededError' || cause.name === 'UnknownError');
}
