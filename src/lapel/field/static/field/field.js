/**
 * The field page without its screens: one object that records, remembers, folds, and delivers when it can.
 *
 * Screens read `view` and ask for acts; they know neither the disk nor the office.
 */

import { Delivery } from './delivery.js';
import { filesOf, receiptsIn } from './export_file.js';
import { fold } from './fold/day.js';
import { instantText } from './instants.js';
import { Listeners } from './listeners.js';
import { OfficeLink, OfficeProblem } from './office_link.js';
import { said } from './said.js';
import { DiskProblem, openStore } from './store.js';
import { viewOf } from './view.js';
import { Writing } from './writing.js';

export { DiskProblem } from './store.js';
export { RecordProblem } from './writing.js';

/** @typedef {import('./types.js').Act} Act */
/** @typedef {import('./types.js').DeviceIdentity} DeviceIdentity */
/** @typedef {import('./types.js').Entry} Entry */
/** @typedef {import('./types.js').ExportFile} ExportFile */
/** @typedef {import('./types.js').Field} FieldShape */
/** @typedef {import('./types.js').Pack} Pack */
/** @typedef {import('./types.js').PlannedTrain} PlannedTrain */
/** @typedef {import('./types.js').SurveyName} SurveyName */
/** @typedef {import('./types.js').View} View */
/** @typedef {import('./office_link.js').DeviceAnswer} DeviceAnswer */
/** @typedef {import('./store.js').ChainEnd} ChainEnd */
/** @typedef {import('./store.js').Store} Store */
/** @typedef {import('./store.js').Waiting} Waiting */

/** The device was not paired; `words` are for the person. */
export class PairingProblem extends Error {
  /** @param {string} words */
  constructor(words) {
    super(words);
    this.name = 'PairingProblem';
    this.words = words;
  }
}

/** @typedef {object} Options For tests: another database, another clock, another office.
 *  @property {string} [database]
 *  @property {() => number} [now]
 *  @property {string} [office]
 *  @property {string} [pairingCode] */

/** @param {Options} options @returns {Promise<Field>} */
export async function openField(options = {}) {
  /** @type {Field | undefined} */
  let field;
  const store = await openStore(options.database ?? 'lapel-field', () => field?.lostTheDisk());
  field = new Field(store, options);
  await field.load();
  field.delivery.start();
  return field;
}

/** @implements {FieldShape} */
export class Field {
  /** @param {Store} store @param {Options} options */
  constructor(store, options) {
    this.store = store;
    this.clockNow = options.now ?? (() => Date.now());
    this.key = '';
    /** @type {DeviceIdentity | null} */
    this.device = null;
    /** @type {SurveyName[]} */
    this.surveys = [];
    this.survey = '';
    this.author = '';
    /** @type {Pack | null} */
    this.pack = null;
    this.packAt = 0;
    /** @type {PlannedTrain[]} */
    this.planned = [];
    /** Entries of the survey by id: as the office has them, else as this device keeps them. @type {Map<string, Entry>} */
    this.entries = new Map();
    /** @type {Waiting[]} */
    this.waitingNow = [];
    /** @type {import('./view.js').Known['sending']} */
    this.sending = { state: 'idle', last_confirmed_at: '', problem: '', next_try_at: null };
    /** @type {View['clock']} */
    this.clock = { ahead_s: null, measured_at: '' };
    /** @type {View['storage']} */
    this.storage = { persisted: null, full: false, problem: '' };
    this.updateOffered = false;
    this.pairingCode = options.pairingCode ?? '';
    this.takeOver = () => {};
    /** @type {Listeners<View>} */
    this.listeners = new Listeners(() => this.view);
    /** @type {View | null} */
    this.made = null;
    /** @type {import('./types.js').Day | null} */
    this.folded = null;
    /** @type {Promise<void> | null} */
    this.loading = null;
    this.loadAgain = false;
    this.link = new OfficeLink(() => this.key, this.clockNow, options.office);
    this.link.heardClock = (ahead) => this.heardClock(ahead);
    this.writing = new Writing(store, () => this.clockNow());
    this.delivery = new Delivery(store, this.link, {
      now: () => this.clockNow(),
      who: () => ({
        device: this.device?.code ?? '',
        zone: this.device?.zone ?? '',
        survey: this.survey,
        paired: this.key !== '',
      }),
      tell: (change) => this.heard(change),
    });
    this.tabs = new BroadcastChannel(`lapel-field ${options.database ?? ''}`);
    this.tabs.onmessage = ({ data }) => this.otherTab(data);
  }

  // ------------------------------------------------------------------------------------------------ what is shown

  /** The newest state, never changed once made. @returns {View} */
  get view() {
    this.folded ??= fold(this.entries.values());
    this.made ??= viewOf(this, this.folded);
    return this.made;
  }

  /** @param {(view: View) => void} listener @returns {() => void} */
  subscribe(listener) {
    return this.listeners.add(listener);
  }

  now() {
    return this.clockNow();
  }

  /** Something changed: the next look makes the view anew, and the listeners are told soon. */
  changed() {
    this.made = null;
    this.listeners.tellSoon();
  }

  // ------------------------------------------------------------------------------------------------ acts

  /** Resolves once the entry is on disk; only then may a screen say “kept”.
   *  @param {string} kind @param {Record<string, string>} fields @param {Omit<Act, 'kind' | 'fields'>} more
   *  @returns {Promise<Entry>} */
  async record(kind, fields, more = {}) {
    const [entry] = await this.recordAll([{ kind, fields, ...more }]);
    return /** @type {Entry} */ (entry);
  }

  /** All of them, or none. @param {Act[]} acts @returns {Promise<Entry[]>} */
  async recordAll(acts) {
    const { device, survey, author } = this;
    if (!device || !survey || !author) {
      throw new Error(said('Pair this device, choose the survey and say who records first.'));
    }
    try {
      const entries = await this.writing.write(acts, { device: device.code, zone: device.zone, author, survey });
      const made = entries.map((entry) => {
        return { device: device.code, sequence: entry.sequence, survey, entry, refusal: null };
      });
      if (this.storage.full || this.storage.problem) this.storage = { ...this.storage, full: false, problem: '' };
      this.take(made);
      this.tabs.postMessage(made);
      this.delivery.nudge();
      return entries;
    } catch (why) {
      if (why instanceof DiskProblem) {
        this.storage = { ...this.storage, full: why.full, problem: why.words };
        this.changed();
      }
      throw why;
    }
  }

  /** Entries that were just kept, in this tab or another, without reading the disk again. @param {Waiting[]} made */
  take(made) {
    for (const one of made) {
      if (one.survey === this.survey && !this.entries.has(one.entry.id)) this.entries.set(one.entry.id, one.entry);
      this.waitingNow.push(one);
    }
    this.folded = null;
    this.changed();
  }

  /** Another tab has written: entries come along, of anything else it only says so. @param {Waiting[] | string} data */
  otherTab(data) {
    if (Array.isArray(data)) this.writing.metAnother();
    if (Array.isArray(data) && !this.loading) this.take(data);
    else void this.load();
  }

  /** Says, in a new entry, what an earlier one should say; undo is `{ withdraw: true }`.
   *  @param {string} entryId @param {Record<string, string> | { withdraw: true }} what @param {string} reason
   *  @returns {Promise<Entry>} */
  correct(entryId, what, reason) {
    const fields = 'withdraw' in what && what.withdraw ? { withdraw: 'yes' } : /** @type {Record<string, string>} */ (what);
    return this.record('correction', fields, { corrects: entryId, reason });
  }

  /** @param {{survey?: string, author?: string}} chosen @returns {Promise<void>} */
  async choose(chosen) {
    const survey = chosen.survey ?? this.survey;
    const author = chosen.author ?? this.author;
    await this.store.keepSettings({ choice: { survey, author } });
    this.tabs.postMessage('changed');
    await this.load();
    this.delivery.plan(0);
  }

  /** @param {PlannedTrain[]} trains @returns {Promise<void>} */
  async setPlanned(trains) {
    await this.store.keepSettings({ [`planned ${this.survey}`]: trains });
    this.planned = trains;
    this.changed();
    this.tabs.postMessage('changed');
  }

  // ------------------------------------------------------------------------------------------------ the office

  /** Pairs this device by the code of a pairing link; what waits stays, under the device it was made on.
   *  @param {string} code @returns {Promise<void>} */
  async pair(code) {
    let answer;
    try {
      answer = await this.link.pair(code);
    } catch (why) {
      throw new PairingProblem(why instanceof OfficeProblem ? why.words : String(why));
    }
    const { key, device } = answer;
    const known = await this.store.setting('chain', /** @type {ChainEnd | null} */ (null));
    const office = { device: device.code, sequence: device.last_sequence, hash: device.last_hash };
    // what this device made and the office has not seen is the end of its chain, if it is the same device
    const chain = known && known.device === device.code && known.sequence >= office.sequence ? known : office;
    const { code: deviceCode, name, site, zone, surveys } = device;
    await this.store.keepSettings({ key, device: { code: deviceCode, name, site, zone }, surveys, chain });
    this.pairingCode = '';
    this.delivery.anew();
    this.tabs.postMessage('changed');
    await this.load();
    void this.askPersist();
    this.delivery.plan(0);
  }

  async sync() {
    this.delivery.anew();
    await this.delivery.run();
  }

  /** What waits and what was refused, as files for the office; all of it stays here too. @returns {Promise<ExportFile[]>} */
  async exportWaiting() {
    return filesOf(await this.store.waiting(), instantText(this.now(), this.device?.zone ?? ''));
  }

  /** Takes in the office's receipts for a file it was given. @param {string} text
   *  @returns {Promise<number>} How many entries need wait no longer. */
  async takeReceipts(text) {
    const receipts = receiptsIn(text);
    const { confirmed } = await this.store.settle(await this.store.waiting(), receipts, this.now());
    await this.load();
    this.tabs.postMessage('changed');
    return confirmed.size;
  }

  /** @param {Parameters<Delivery['around']['tell']>[0]} change @returns {Promise<void>} */
  async heard(change) {
    if (change.outbox) this.sending = { ...this.sending, ...change.outbox };
    if (change.clock_ahead_s !== undefined) this.heardClock(change.clock_ahead_s);
    if (change.settled) this.settled(change.settled);
    if (change.received) this.received(change.received);
    if (change.device) {
      const { code, name, site, zone, surveys } = change.device;
      await this.store.keepSettings({ device: { code, name, site, zone }, surveys });
    }
    if (change.device || change.taken_back !== undefined || change.pack) await this.load();
    else this.changed();
    if (change.device || change.settled || change.received || change.pack) this.tabs.postMessage('changed');
  }

  /** @param {import('./store.js').Settled} settled */
  settled({ confirmed, refused }) {
    const why = new Map(refused.map((one) => [one.entry.id, one]));
    const left = this.waitingNow.filter((one) => !confirmed.has(one.entry.id));
    this.waitingNow = left.map((one) => why.get(one.entry.id) ?? one);
    if (confirmed.size) this.sending.last_confirmed_at = new Date(this.now()).toISOString();
  }

  /** @param {import('./store.js').AtTheOffice[]} rows */
  received(rows) {
    for (const { survey, entry } of rows) if (survey === this.survey) this.entries.set(entry.id, entry);
    this.folded = null;
  }

  /** @param {number} aheadS */
  heardClock(aheadS) {
    this.clock = { ahead_s: aheadS, measured_at: new Date(this.now()).toISOString() };
    void this.store.keepSettings({ clock: this.clock }).catch(() => {});
    this.changed();
  }

  // ------------------------------------------------------------------------------------------------ the device

  /** Reads everything from the disk, as after a start or when another tab has written; what is asked for while it
   *  reads is read once more, and once only. @returns {Promise<void>} */
  async load() {
    if (this.loading) {
      this.loadAgain = true;
      return this.loading;
    }
    this.loading = (async () => {
      do {
        this.loadAgain = false;
        await this.read();
      } while (this.loadAgain);
    })().finally(() => {
      this.loading = null;
    });
    return this.loading;
  }

  async read() {
    const { store } = this;
    const choice = await store.setting('choice', { survey: '', author: '' });
    const [key, device, surveys, pack, packAt, planned, clock, waiting, confirmed] = await Promise.all([
      store.setting('key', ''),
      store.setting('device', /** @type {DeviceIdentity | null} */ (null)),
      store.setting('surveys', /** @type {SurveyName[]} */ ([])),
      store.setting(`pack ${choice.survey}`, /** @type {Pack | null} */ (null)),
      store.setting(`pack at ${choice.survey}`, 0),
      store.setting(`planned ${choice.survey}`, /** @type {PlannedTrain[]} */ ([])),
      store.setting('clock', this.clock),
      store.waiting(),
      store.confirmed(),
    ]);
    const office = await store.atTheOffice(choice.survey);
    Object.assign(this, { key, device, surveys, pack, packAt, planned, clock });
    this.survey = choice.survey;
    this.author = choice.author;
    const own = [...confirmed, ...waiting].filter((one) => one.survey === choice.survey);
    this.entries = new Map([...own, ...office].map((one) => [one.entry.id, one.entry]));
    this.waitingNow = waiting;
    this.folded = null;
    this.changed();
  }

  /** Asks the browser not to clear this page's disk when it needs room. @returns {Promise<boolean>} */
  async askPersist() {
    const persisted = (await navigator.storage?.persist?.()) ?? false;
    this.storage = { ...this.storage, persisted };
    this.changed();
    return persisted;
  }

  /** A new version of the page waits. @param {() => void} takeOver */
  offerUpdate(takeOver) {
    this.updateOffered = true;
    this.takeOver = takeOver;
    this.changed();
  }

  /** Changes to the new version, in all tabs; not while a pump runs. */
  applyUpdate() {
    const { update } = this.view;
    if (update.offered && !update.blocked) this.takeOver();
  }

  lostTheDisk() {
    const problem = said('A newer version of this page is open in another tab. Reload this one.');
    this.storage = { ...this.storage, problem };
    this.changed();
  }

  close() {
    this.delivery.stop();
    this.tabs.close();
    this.store.close();
  }
}
