/** What is known of one train at one point of the log, and what a begin, an end or a touch changes in it. */

import { numberIn } from '../checks.js';
import { microsOf, minutesBetweenMicros, minuteText, utcText } from '../instants.js';
import { said } from '../said.js';
import { Drawing } from './drawing.js';
import { conflict, recordedTwice } from './findings.js';
import { PortFlows } from './rounds.js';
import { PumpRunLog, SegmentLog } from './runs.js';

/** @typedef {import('../types.js').FlowReading} FlowReading */
/** @typedef {import('../types.js').Hung} Hung */
/** @typedef {import('../types.js').LeakCheck} LeakCheck */
/** @typedef {import('../types.js').PortPrepared} PortPrepared */
/** @typedef {import('../types.js').PortSupplied} PortSupplied */
/** @typedef {import('../types.js').Preparation} Preparation */
/** @typedef {import('../types.js').PumpCheck} PumpCheck */
/** @typedef {import('../types.js').TrainRound} TrainRound */
/** @typedef {import('./findings.js').Findings} Findings */
/** @typedef {import('./order.js').Act} Act */
/** @typedef {import('./runs.js').RunLog} RunLog */
/** @typedef {{at: number, counter: number}} Anchor A running pump's counter as it was read at an instant. */

export class PreparationLog {
  /** @param {number} number @param {Act | null} act */
  constructor(number, act) {
    this.number = number;
    this.act = act;
    /** @type {Record<string, PortPrepared>} */
    this.ports = {};
    /** @type {LeakCheck[]} */
    this.leakChecks = [];
    /** @type {TrainRound[]} */
    this.closingRounds = [];
    /** @type {TrainRound[]} */
    this.postRounds = [];
    /** @type {Hung[]} */
    this.hung = [];
    /** @type {PumpCheck[]} */
    this.checks = [];
    /** @type {PumpRunLog[]} */
    this.pumpRuns = [];
    /** @type {FlowReading[]} */
    this.readings = [];
    /** @type {Record<string, PortSupplied>} */
    this.kit = {};
    this.hasRun = false;
  }

  /** Whether its pump ran and has stopped. @returns {boolean} */
  get isOver() {
    const last = this.pumpRuns.at(-1);
    return last !== undefined && last.stop !== null;
  }

  /** What the preparing entry says; empty without one. @param {string} name @returns {string} */
  value(name) {
    return this.act ? this.act.value(name) : '';
  }

  /** @param {string} train @returns {Preparation} */
  frozen(train) {
    const chargedAt = this.value('charged_at');
    return {
      train,
      number: this.number,
      entry_id: this.act?.id ?? '',
      at: this.act ? utcText(this.act.at) : null,
      pump: this.value('pump'),
      splitter: this.value('splitter'),
      warm_up_min: numberIn(this.value('warm_up_min')),
      charged_at: chargedAt ? utcText(microsOf(chargedAt)) : null,
      battery: this.value('battery'),
      place: this.value('place'),
      ports: this.ports,
      leak_checks: this.leakChecks,
      closing_rounds: this.closingRounds,
      post_rounds: this.postRounds,
      hung: this.hung,
      checks: this.checks,
      pump_runs: this.pumpRuns.map((run) => run.frozen()),
      readings: this.readings,
      kit: this.kit,
    };
  }
}

/** A port while the log goes on. */
export class PortLog {
  /** @param {string} letter @param {number} touchesElsewhere */
  constructor(letter, touchesElsewhere) {
    this.letter = letter;
    this.flows = new PortFlows(letter);
    /** @type {RunLog | null} */
    this.fitted = null;
    /** @type {SegmentLog | null} */
    this.segment = null;
    /** @type {number | null} */
    this.heldSince = null;
    /** @type {Act | null} */
    this.started = null;
    /** @type {Act | null} */
    this.stopped = null;
    /** @type {Act | null} */
    this.removed = null;
    /** @type {Act | null} */
    this.lastFitted = null;
    this.touches = 0;
    this.touchesElsewhereAtRound = touchesElsewhere;
  }
}

export class TrainState {
  /** @param {string} code @param {Findings} findings */
  constructor(code, findings) {
    this.code = code;
    this.findings = findings;
    /** @type {PreparationLog[]} */
    this.preparations = [];
    /** What a kit sheet said of ports for the next preparation. @type {Map<string, PortSupplied>} */
    this.kitAhead = new Map();
    /** @type {Map<string, PortLog>} */
    this.ports = new Map();
    /** @type {Map<string, PortFlows>} */
    this.flows = new Map();
    this.drawing = new Drawing();
    /** @type {Drawing | null} */
    this.held = null;
    /** @type {Act | null} */
    this.heldBy = null;
    this.touches = 0;
    /** @type {Anchor | null} */
    this.anchor = null;
    /** @type {PumpRunLog | null} */
    this.pumpRun = null;
    /** @type {SegmentLog[]} */
    this.foundStopped = [];
    /** @type {Anchor | null} */
    this.anchorWhenFound = null;
  }

  /** @param {Act} act @returns {PreparationLog} */
  preparation(act) {
    let last = this.preparations.at(-1);
    if (!last) {
      last = new PreparationLog(0, null);
      this.preparations.push(last);
      const words = said('Train {train} was never recorded as prepared: pump, holder and warm-up are not known.', {
        train: this.code,
      });
      this.remark('train not prepared', [act], words);
    }
    return last;
  }

  /** @param {Act} act @returns {PortLog} */
  port(act) {
    return this.portNamed(act.value('port'));
  }

  /** @param {string} letter @returns {PortLog} */
  portNamed(letter) {
    let port = this.ports.get(letter);
    if (!port) {
      port = new PortLog(letter, this.touches);
      this.ports.set(letter, port);
      this.flows.set(letter, port.flows);
    }
    return port;
  }

  /** @param {string[]} named @returns {PortLog[]} */
  namedOrAll(named) {
    return (named.length ? named : [...this.ports.keys()]).map((letter) => this.portNamed(letter));
  }

  /** @returns {PortLog[]} */
  allPorts() {
    return [...this.ports.values()];
  }

  /** Nothing draws, and nothing is on hold: the train is put together anew. */
  drawsNothing() {
    this.drawing = new Drawing();
    this.holds(null);
    this.heldBy = null;
    this.anchor = null;
  }

  /** @param {Drawing | null} held What is on hold. @param {Act | null} act Who says so; the last to say so, if left out. */
  holds(held, act = this.heldBy) {
    this.held = held;
    this.heldBy = act;
  }

  /** @param {number | null} stop @param {number | null} counter */
  endPumpRun(stop, counter) {
    if (this.pumpRun) {
      this.pumpRun.stop = stop;
      this.pumpRun.counterStop = counter;
    }
    this.pumpRun = null;
  }

  /** @param {string[]} named @param {Act} act @param {number | null} counter @param {boolean} isStart */
  draw(named, act, counter, isStart) {
    const preparation = this.preparation(act);
    preparation.hasRun = true;
    if (!this.drawing.anywhere(this.ports)) {
      this.pumpRun = new PumpRunLog(act.at, counter);
      preparation.pumpRuns.push(this.pumpRun);
      this.anchor = counter === null ? null : { at: act.at, counter };
    } else if (counter !== null) this.anchor = { at: act.at, counter };
    this.drawing.start(named);
    for (const port of this.namedOrAll(named)) {
      if (port.fitted && !port.segment) {
        if (isStart && port.heldSince === null && port.stopped) port.fitted.restarts += 1;
        this.endHold(port, act);
        this.begin(port, act, counter);
      }
      port.started = port.started ?? act;
      if (this.held) this.held.stop([port.letter]);
    }
    if (this.held && (!named.length || !this.held.anywhere(this.ports))) this.held = this.heldBy = null;
  }

  /** @param {PortLog} port @param {Act} act @param {number | null} counter */
  begin(port, act, counter = null) {
    const run = port.fitted;
    if (!run) return;
    const preparation = this.preparation(act);
    const hadRound = port.flows.closing !== null;
    if (port.flows.begin()) {
      const words = said('Port {port} has closing readings after its declared closing round. They do not count.', {
        port: port.letter,
      });
      this.remark('closing readings not declared', [act], words, [port]);
    }
    if (!hadRound) port.touchesElsewhereAtRound = this.touches - port.touches;
    const before = port.flows.closing;
    port.segment = new SegmentLog({
      train: this.code,
      port: port.letter,
      preparation: preparation.number,
      pump: preparation.value('pump'),
      start: act.at,
      before,
      beforeLost: before ? '' : port.flows.closingLost,
      neighboursAtStart: port.touchesElsewhereAtRound,
      startEntry: act.id,
      counterStart: counter,
    });
    port.started = act;
    port.stopped = null;
    run.saw(act);
    run.begin(port.segment, this.pumpRun, preparation.hung.at(-1)?.worker ?? '');
  }

  /** @param {PortLog} port @param {number | null} stop @param {string} endedBy @param {Act} act
   *  @param {{counter?: number | null, fromCounter?: boolean}} how */
  end(port, stop, endedBy, act, how = {}) {
    const { segment, fitted: run } = port;
    if (!segment || !run) return;
    if (stop === null) {
      segment.notAfter = act.at;
      run.missing.push('stop');
    } else if (stop < segment.start) {
      stop = segment.start;
      const words = said('By its counter the pump had stopped before sampler {sampler} was drawn on.', {
        sampler: run.sampler,
      });
      this.remark('stopped before the segment', [act], words, [port]);
    }
    segment.stop = stop;
    segment.endedBy = endedBy;
    segment.stopFromCounter = (how.fromCounter ?? false) && stop !== null;
    segment.counterStop = how.counter ?? null;
    segment.stopEntry = act.id;
    segment.neighbourTouches = this.neighbourTouches(port, segment);
    run.saw(act);
    port.flows.waiting.push(segment);
    port.segment = null;
  }

  /** @param {PortLog} port @param {Act} act */
  endHold(port, act) {
    if (port.heldSince !== null && port.fitted) port.fitted.heldMin += minutesBetweenMicros(port.heldSince, act.at);
    port.heldSince = null;
  }

  /** Moves a valve: the port's round no longer stands, other ports' readings of an open round neither.
   *  @param {PortLog} port @param {Act} act @param {string} how */
  touch(port, act, how) {
    const wasDrawing = port.segment;
    const counterStart = wasDrawing ? wasDrawing.counterStart : null;
    if (port.segment && port.fitted) {
      port.fitted.touchedInRun = true;
      this.end(port, act.at, 'valve touched', act);
    }
    this.touches += 1;
    port.touches += 1;
    port.flows.touch(act.at, said('{how} ({id})', { id: act.id }, { how }));
    for (const other of this.ports.values()) other.flows.pendingClosing = [];
    if (wasDrawing) {
      wasDrawing.goesOnInNext = true;
      this.begin(port, act, counterStart);
      if (port.segment) port.segment.counterStart = counterStart;
    }
  }

  /** @param {PortLog} port @param {SegmentLog} segment @returns {number} */
  neighbourTouches(port, segment) {
    return this.touches - port.touches - segment.neighboursAtStart;
  }

  /** @param {PortLog} port @param {Act} act */
  offWithoutRecord(port, act) {
    const run = port.fitted;
    if (!run) return;
    const words = said('Nobody recorded that sampler {sampler} was taken off port {port} of train {train}.', {
      sampler: run.sampler,
      port: port.letter,
      train: this.code,
    });
    this.remark('removal not recorded', [act], words, [port]);
    run.on = null;
    port.fitted = null;
    port.stopped = null;
  }

  /** Raises what was already the case: one act by two people, or a contradiction.
   *  @param {Act | null} first @param {Act} act @param {string} about @param {PortLog[]} ports @param {string[]} samplers */
  again(first, act, about, ports, samplers = []) {
    const named = samplers.length ? samplers : samplersOn(ports);
    const byTwo = first && first.kind === act.kind && first.device !== act.device;
    if (first && byTwo && !this.findings.areDistinct(first, act)) {
      this.findings.conflicts.push(recordedTwice([first, act], named));
      return;
    }
    const at = { train: this.code, time: minuteText(act.at) };
    const what = { kind: act.kind, about };
    const words = first
      ? said(
          'Train {train}, {kind} at {time}: {about}; the first was at {earlier}.',
          { ...at, earlier: minuteText(first.at) },
          what,
        )
      : said('Train {train}, {kind} at {time}: {about}.', at, what);
    this.conflict(about, [first, act], words, ports, named);
  }

  /** @param {string} about @param {(Act | string | null)[]} acts @param {string} words @param {PortLog[]} ports
   *  @param {string[]} samplers */
  conflict(about, acts, words, ports, samplers = []) {
    const ids = acts.flatMap((act) => (act === null ? [] : [typeof act === 'string' ? act : act.id]));
    const port = ports.length === 1 ? (ports[0]?.letter ?? '') : '';
    const named = samplers.length ? samplers : samplersOn(ports);
    this.findings.conflicts.push(conflict(about, ids, words, { train: this.code, port, samplers: named }));
  }

  /** @param {string} about @param {Act[]} acts @param {string} words @param {PortLog[]} ports */
  remark(about, acts, words, ports = []) {
    const port = ports.length === 1 ? (ports[0]?.letter ?? '') : '';
    const where = { train: this.code, port, samplers: samplersOn(ports) };
    this.findings.remarks.push(conflict(about, acts.map((act) => act.id), words, where));
  }
}

/** The samplers fitted to these ports. @param {PortLog[]} ports @returns {string[]} */
export function samplersOn(ports) {
  return ports.flatMap((port) => (port.fitted ? [port.fitted.sampler] : []));
}
