/**
 * The fold: from any entries, in any order and with any repetitions, to the one day they amount to.
 *
 * The same day as lapel.fieldlog.fold makes of them at the office, as plain values; tests run both on the same logs.
 */

import { microsOf, utcText } from '../instants.js';
import { said } from '../said.js';
import { counting } from './corrections.js';
import { BlankLog, ParcelLog } from './custody.js';
import { plainEntry } from './entry.js';
import { conflict, Findings } from './findings.js';
import { Pumping } from './pumping.js';
import { withoutRepetitions } from './repetitions.js';

/** @typedef {import('../types.js').Conditions} Conditions */
/** @typedef {import('../types.js').Conflict} Conflict */
/** @typedef {import('../types.js').Day} Day */
/** @typedef {import('../types.js').Entry} Entry */
/** @typedef {import('../types.js').FlowReading} FlowReading */
/** @typedef {import('../types.js').FlowRound} FlowRound */
/** @typedef {import('../types.js').Note} Note */
/** @typedef {import('../types.js').Task} Task */
/** @typedef {import('../types.js').Train} Train */
/** @typedef {import('./corrections.js').Counting} Counting */
/** @typedef {import('./order.js').Act} Act */
/** @typedef {import('./runs.js').RunLog} RunLog */
/** @typedef {import('./train_state.js').PortLog} PortLog */
/** @typedef {Map<string, [number, Conflict][]>} Index */

/** What stands open at a port when the entries end; no part of the day, which waits for nothing.
 *  @typedef {object} OpenPort
 *  @property {string} sampler The one on it; empty for none.
 *  @property {boolean} held
 *  @property {FlowRound | null} closing The closing round that stands.
 *  @property {string} closing_lost Why none does.
 *  @property {FlowReading[]} pending_closing
 *  @property {FlowReading[]} pending_post
 *  @property {boolean} waits_for_post Whether something was drawn since the last flow after a run. */

/** @type {WeakMap<Day, Record<string, Record<string, OpenPort>>>} */
const OPEN = new WeakMap();

/** @param {Iterable<Entry>} entries All that is known. @returns {Day} */
export function fold(entries) {
  const counts = counting(entries);
  const { left, conflicts } = withoutRepetitions(counts.acts, counts.distinct);
  const log = new Log(new Findings([...counts.conflicts, ...conflicts], counts.remarks, counts.distinct));
  for (const act of left) log.take(act);
  const open = mapped(log.trains, (train) => mapped(train.ports, openPort));
  log.end();
  const day = log.frozen(counts);
  OPEN.set(day, open);
  return day;
}

/** What stands open at a train's ports, by letter. @param {Day} day @param {string} train */
export function openPorts(day, train) {
  return OPEN.get(day)?.[train] ?? {};
}

/** @param {PortLog} port @returns {OpenPort} */
function openPort(port) {
  return {
    sampler: port.fitted?.sampler ?? '',
    held: port.heldSince !== null,
    closing: port.flows.closing,
    closing_lost: port.flows.closing ? '' : port.flows.closingLost,
    pending_closing: [...port.flows.pendingClosing],
    pending_post: [...port.flows.pendingPost],
    waits_for_post: port.flows.waiting.length > 0,
  };
}

/** A train while the log goes on. */
class TrainLog extends Pumping {
  endOfLog() {
    for (const port of this.ports.values()) {
      port.flows.endOfLog();
      if (port.segment) port.segment.neighbourTouches = this.neighbourTouches(port, port.segment);
    }
  }

  /** @returns {Train} */
  frozen() {
    const preparations = this.preparations.map((one) => one.frozen(this.code));
    return { code: this.code, preparations, kit_ahead: Object.fromEntries(this.kitAhead) };
  }

  /** Who wore the train first in the sample's preparation; for a train hung after its start. @param {RunLog} run */
  workerAfter(run) {
    return this.preparations[run.preparation]?.hung[0]?.worker ?? '';
  }
}

/** @typedef {'train_prepared' | 'kit_sheet' | 'port_prepared' | 'leak_checked' | 'flow_read' | 'valve_touched' | 'closing_round' |
 *  'post_round' | 'train_hung' | 'sampler_fitted' | 'sampler_removed' | 'pump_started' | 'pump_resumed' | 'pump_held' |
 *  'pump_stopped' | 'pump_checked'} TrainKind */

/** Everything while the log goes on. */
class Log {
  /** @param {Findings} findings */
  constructor(findings) {
    this.findings = findings;
    /** @type {Map<string, TrainLog>} */
    this.trains = new Map();
    /** @type {Map<string, BlankLog>} */
    this.blanks = new Map();
    /** @type {Map<string, ParcelLog>} */
    this.parcels = new Map();
    /** @type {Map<string, string>} */
    this.parcelOf = new Map();
    /** @type {Conditions[]} */
    this.conditions = [];
    /** @type {Task[]} */
    this.tasks = [];
    /** @type {Note[]} */
    this.notes = [];
  }

  /** @param {Act} act */
  take(act) {
    const code = act.value('train');
    if (code) {
      let train = this.trains.get(code);
      if (!train) this.trains.set(code, (train = new TrainLog(code, this.findings)));
      train[/** @type {TrainKind} */ (act.kind)](act);
      return;
    }
    if (act.kind === 'blank_opened') this.blank(act).open(act, this.findings);
    else if (act.kind === 'blank_closed') this.blank(act).close(act, this.findings);
    else if (act.kind === 'parcel_sealed') this.parcelSealed(act);
    else if (act.kind === 'custody_handed') this.parcel(act).hand(act);
    else if (act.kind === 'conditions') this.conditions.push(conditionsOf(act));
    else if (act.kind === 'task') this.tasks.push(taskOf(act));
    else this.notes.push(noteOf(act));
  }

  /** @param {Act} act */
  parcelSealed(act) {
    const parcel = this.parcel(act);
    if (!parcel.seal(act, this.findings)) return;
    for (const code of parcel.samplers) {
      const other = this.parcelOf.get(code);
      if (other !== undefined) {
        const words = said('{sampler} is packed in parcel {parcel} and in parcel {other}.', {
          sampler: code,
          parcel: other,
          other: parcel.code,
        });
        const ids = [this.parcels.get(other)?.sealing?.id, act.id].flatMap((id) => id ?? []);
        this.findings.conflicts.push(conflict('in two parcels', ids, words, { samplers: [code] }));
        continue;
      }
      this.parcelOf.set(code, parcel.code);
      const on = this.findings.runs.get(code)?.on;
      if (on) this.trains.get(on[0])?.packed(act, on[1]);
    }
  }

  /** Settles what can only be said when the entries end. */
  end() {
    for (const train of this.trains.values()) train.endOfLog();
    for (const [code, run] of this.findings.runs) {
      const worker = run.workers.length ? '' : (this.trains.get(run.train)?.workerAfter(run) ?? '');
      if (worker) run.workers.push(worker);
      const blank = this.blanks.get(code);
      if (blank) {
        const words = said('{sampler} was handled as a blank and fitted to port {port} of train {train}.', {
          sampler: code,
          port: run.port,
          train: run.train,
        });
        const ids = [...blank.entryIds, ...(run.fitEntry ? [run.fitEntry.id] : [])];
        this.findings.conflicts.push(conflict('blank and sample', ids, words, { samplers: [code] }));
      }
    }
    this.endTasksWithTheNext();
  }

  endTasksWithTheNext() {
    /** @type {Map<string, Task>} */
    const nextStart = new Map();
    this.tasks = this.tasks
      .reverse()
      .map((task) => {
        const following = nextStart.get(task.worker);
        nextStart.set(task.worker, task);
        return task.until === null && following ? { ...task, until: following.at } : task;
      })
      .reverse();
  }

  /** @param {Counting} counts @returns {Day} */
  frozen(counts) {
    const settle = byWhatTheyConcern(this.findings.conflicts);
    const know = byWhatTheyConcern(this.findings.remarks);
    const parcelOf = (/** @type {string} */ code) => this.parcelOf.get(code) ?? '';
    return {
      trains: mapped(this.trains, (train) => train.frozen()),
      runs: mapped(this.findings.runs, (run, code) => {
        const ids = run.involvedIds();
        return run.frozen(concerning(settle, code, ids), concerning(know, code, ids), parcelOf(code));
      }),
      blanks: mapped(this.blanks, (blank, code) => {
        return blank.frozen(concerning(settle, code, blank.entryIds), parcelOf(code));
      }),
      parcels: mapped(this.parcels, (parcel) => {
        return parcel.frozen(concerning(settle, '', new Set(parcel.sealing ? [parcel.sealing.id] : [])));
      }),
      conditions: this.conditions,
      tasks: this.tasks,
      notes: this.notes,
      conflicts: this.findings.conflicts,
      remarks: this.findings.remarks,
      clocks: counts.clocks,
      amendments: counts.amendments,
      unusable: counts.unusable,
      rivals: counts.rivals.map(plainEntry),
      entry_count: counts.entryCount,
    };
  }

  /** @param {Act} act @returns {BlankLog} */
  blank(act) {
    const code = act.value('blank');
    let blank = this.blanks.get(code);
    if (!blank) this.blanks.set(code, (blank = new BlankLog(code)));
    return blank;
  }

  /** @param {Act} act @returns {ParcelLog} */
  parcel(act) {
    const code = act.value('parcel');
    let parcel = this.parcels.get(code);
    if (!parcel) this.parcels.set(code, (parcel = new ParcelLog(code)));
    return parcel;
  }
}

/** @param {Act} act @returns {Conditions} */
function conditionsOf(act) {
  return {
    entry_id: act.id,
    at: utcText(act.at),
    place: act.value('place'),
    temperature: act.value('temperature'),
    temperature_unit: act.value('temperature_unit'),
    pressure: act.value('pressure'),
    pressure_unit: act.value('pressure_unit'),
    humidity_percent: act.value('humidity_percent'),
  };
}

/** @param {Act} act @returns {Task} */
function taskOf(act) {
  const until = act.value('until');
  const ended = until ? utcText(microsOf(until)) : null;
  return { entry_id: act.id, at: utcText(act.at), until: ended, worker: act.value('worker'), task: act.value('task') };
}

/** @param {Act} act @returns {Note} */
function noteOf(act) {
  return {
    entry_id: act.id,
    at: utcText(act.at),
    author: act.author,
    about: act.value('about'),
    text: act.value('text'),
    file: act.value('file'),
    sha256: act.value('sha256'),
  };
}

/** @template T, U @param {Map<string, T>} map @param {(item: T, code: string) => U} change @returns {Record<string, U>} */
function mapped(map, change) {
  return Object.fromEntries([...map].map(([code, item]) => [code, change(item, code)]));
}

/** Indexes conflicts or remarks by the samplers and the entries they name. @param {Conflict[]} found @returns {Index} */
function byWhatTheyConcern(found) {
  /** @type {Index} */
  const index = new Map();
  found.forEach((one, number) => {
    for (const key of [...one.samplers.map((code) => 'sampler ' + code), ...one.entry_ids.map((id) => 'entry ' + id)]) {
      const known = index.get(key);
      if (known) known.push([number, one]);
      else index.set(key, [[number, one]]);
    }
  });
  return index;
}

/** What concerns one sampler, by its number or by an entry of its own, each once and in order.
 *  @param {Index} index @param {string} sampler @param {Set<string>} entryIds @returns {Conflict[]} */
function concerning(index, sampler, entryIds) {
  if (!index.size) return [];
  /** @type {Map<number, Conflict>} */
  const hits = new Map();
  for (const key of ['sampler ' + sampler, ...[...entryIds].map((id) => 'entry ' + id)]) {
    for (const [number, one] of index.get(key) ?? []) hits.set(number, one);
  }
  return [...hits.keys()].sort((one, other) => one - other).flatMap((number) => hits.get(number) ?? []);
}
