/** One sample as the log goes on: a sampler, its port, and the segments it drew; see lapel.fieldlog.runs. */

import { minutesBetweenMicros, utcText } from '../instants.js';

/** @typedef {import('../types.js').Conflict} Conflict */
/** @typedef {import('../types.js').FlowReading} FlowReading */
/** @typedef {import('../types.js').FlowRound} FlowRound */
/** @typedef {import('../types.js').PumpCheck} PumpCheck */
/** @typedef {import('../types.js').PumpRun} PumpRun */
/** @typedef {import('../types.js').SampleRun} SampleRun */
/** @typedef {import('../types.js').Segment} Segment */
/** @typedef {import('./order.js').Act} Act */

/** A pump's running time while it goes on; counters are null where nobody read them. */
export class PumpRunLog {
  /** @param {number} start @param {number | null} counterStart */
  constructor(start, counterStart) {
    this.start = start;
    this.counterStart = counterStart;
    /** @type {number | null} */
    this.stop = null;
    /** @type {number | null} */
    this.counterStop = null;
  }

  get clockMin() {
    return this.stop === null ? null : minutesBetweenMicros(this.start, this.stop);
  }

  /** Null also where it went backwards, so that it must have been set anew. */
  get counterMin() {
    return counted(this.counterStart, this.counterStop);
  }

  /** @returns {PumpRun} */
  frozen() {
    const stop = this.stop === null ? null : utcText(this.stop);
    return { start: utcText(this.start), stop, clock_min: this.clockMin, counter_min: this.counterMin };
  }
}

export class SegmentLog {
  /** @param {{train: string, port: string, preparation: number, pump: string, start: number, before: FlowRound | null,
   *    beforeLost: string, neighboursAtStart: number, startEntry: string, counterStart: number | null}} begun */
  constructor(begun) {
    this.train = begun.train;
    this.port = begun.port;
    this.preparation = begun.preparation;
    this.pump = begun.pump;
    this.start = begun.start;
    this.before = begun.before;
    this.beforeLost = begun.beforeLost;
    this.neighboursAtStart = begun.neighboursAtStart;
    this.startEntry = begun.startEntry;
    this.counterStart = begun.counterStart;
    /** @type {number | null} */
    this.stop = null;
    this.endedBy = '';
    this.stopFromCounter = false;
    /** @type {number | null} */
    this.notAfter = null;
    /** @type {FlowRound | null} */
    this.after = null;
    this.afterLost = '';
    this.neighbourTouches = 0;
    this.stopEntry = '';
    /** @type {number | null} */
    this.counterStop = null;
    this.goesOnInNext = false;
    /** @type {FlowReading[]} */
    this.checks = [];
  }

  /** @returns {Segment} */
  frozen() {
    return {
      train: this.train,
      port: this.port,
      preparation: this.preparation,
      pump: this.pump,
      start: utcText(this.start),
      stop: this.stop === null ? null : utcText(this.stop),
      minutes: this.stop === null ? null : minutesBetweenMicros(this.start, this.stop),
      ended_by: this.endedBy,
      stop_from_counter: this.stopFromCounter,
      not_after: this.notAfter === null ? null : utcText(this.notAfter),
      before: this.before,
      after: this.after,
      before_lost: this.beforeLost,
      after_lost: this.afterLost,
      neighbour_touches: this.neighbourTouches,
      checks: this.checks,
      start_entry: this.startEntry,
      stop_entry: this.stopEntry,
    };
  }
}

export class RunLog {
  /** @param {string} sampler @param {string} train @param {string} port @param {number} preparation
   *  @param {string} pump @param {string} splitter */
  constructor(sampler, train, port, preparation, pump, splitter) {
    this.sampler = sampler;
    this.train = train;
    this.port = port;
    this.preparation = preparation;
    this.pump = pump;
    this.splitter = splitter;
    this.medium = '';
    this.lot = '';
    this.expiry = '';
    this.how = '';
    /** @type {number | null} */
    this.fittedAt = null;
    /** @type {number | null} */
    this.removedAt = null;
    /** Where it is: train and port. @type {[string, string] | null} */
    this.on = null;
    /** @type {Act | null} */
    this.fitEntry = null;
    /** @type {Act | null} */
    this.removal = null;
    /** @type {SegmentLog[]} */
    this.segments = [];
    /** @type {SegmentLog[]} */
    this.strays = [];
    /** @type {string[]} */
    this.workers = [];
    /** @type {PumpRunLog[]} */
    this.pumpRuns = [];
    /** @type {PumpCheck[]} */
    this.checks = [];
    this.faults = 0;
    this.restarts = 0;
    this.heldMin = 0;
    this.touchedInRun = false;
    /** @type {string[]} */
    this.missing = [];
    /** @type {Set<string>} */
    this.entryIds = new Set();
  }

  /** Whether air was drawn through it, as far as the log tells. */
  get hasDrawn() {
    return this.segments.length + this.strays.length > 0;
  }

  /** @param {Act} act */
  saw(act) {
    this.entryIds.add(act.id);
  }

  /** @param {string} train @param {string} port @returns {boolean} */
  isOn(train, port) {
    return this.on !== null && this.on[0] === train && this.on[1] === port;
  }

  /** Adds a segment; one on a port that is not the sample's own strays.
   *  @param {SegmentLog} segment @param {PumpRunLog | null} pumpRun @param {string} worker */
  begin(segment, pumpRun, worker) {
    const own = segment.train === this.train && segment.port === this.port;
    if (own && !this.segments.length) {
      this.preparation = segment.preparation;
      this.pump = segment.pump;
    }
    (own ? this.segments : this.strays).push(segment);
    if (pumpRun && this.pumpRuns.at(-1) !== pumpRun) this.pumpRuns.push(pumpRun);
    if (worker && !this.workers.includes(worker)) this.workers.push(worker);
  }

  /** The ids of all entries the sample's numbers rest on, its readings included. @returns {Set<string>} */
  involvedIds() {
    const ids = new Set(this.entryIds);
    for (const segment of [...this.segments, ...this.strays]) {
      for (const made of [segment.before, segment.after]) {
        if (!made) continue;
        ids.add(made.entry_id);
        for (const reading of made.readings) ids.add(reading.entry_id);
      }
    }
    return ids;
  }

  /** @param {Conflict[]} conflicts @param {Conflict[]} remarks @param {string} parcel @returns {SampleRun} */
  frozen(conflicts, remarks, parcel) {
    const segments = this.segments.map((segment) => segment.frozen());
    const comparable = this.comparablePumpRuns();
    return {
      sampler: this.sampler,
      train: this.train,
      port: this.port,
      preparation: this.preparation,
      pump: this.pump,
      splitter: this.splitter,
      worker: this.workers[0] ?? '',
      workers: this.workers,
      medium: this.medium,
      lot: this.lot,
      expiry: this.expiry,
      how: this.how,
      fitted_at: this.fittedAt === null ? null : utcText(this.fittedAt),
      removed_at: this.removedAt === null ? null : utcText(this.removedAt),
      segments,
      stray_segments: this.strays.map((segment) => segment.frozen()),
      checks: this.checks,
      faults: this.faults,
      restarts: this.restarts,
      held_min: this.heldMin,
      clock_min: total(segments.map((segment) => segment.minutes)),
      counter_min: this.counterMin(),
      pump_clock_min: total(comparable.map((run) => run.clockMin)),
      pump_counter_min: total(comparable.map((run) => run.counterMin)),
      touched_in_run: this.touchedInRun,
      missing: [...new Set(this.missing)],
      conflicts,
      remarks,
      parcel,
      entry_ids: [...this.entryIds],
    };
  }

  /** Adds up the counter over the segments; one that a touched valve split counts where it ends. */
  counterMin() {
    const ends = this.segments.filter((segment) => !segment.goesOnInNext);
    return total(ends.map((segment) => counted(segment.counterStart, segment.counterStop)));
  }

  /** @returns {PumpRunLog[]} */
  comparablePumpRuns() {
    return this.pumpRuns.every((run) => run.clockMin !== null && run.counterMin !== null) ? this.pumpRuns : [];
  }
}

/** How far a counter advanced; null if it was not read, or went back and so was set anew.
 *  @param {number | null} start @param {number | null} stop @returns {number | null} */
export function counted(start, stop) {
  return start === null || stop === null || stop < start ? null : stop - start;
}

/** Adds up; null where a part is missing or there is none. @param {(number | null)[]} parts @returns {number | null} */
export function total(parts) {
  let sum = 0;
  for (const part of parts) {
    if (part === null) return null;
    sum += part;
  }
  return parts.length ? sum : null;
}
