/** The flow rounds of one port: which readings speak for which segment; see lapel.fieldlog.rounds. */

import { yesOrNo } from '../checks.js';
import { minuteText, utcText } from '../instants.js';
import { said } from '../said.js';
import { byCodePoint } from '../texts.js';

/** @typedef {import('../types.js').FlowReading} FlowReading */
/** @typedef {import('../types.js').FlowRound} FlowRound */
/** @typedef {import('../types.js').TrainRound} TrainRound */
/** @typedef {import('./order.js').Act} Act */
/** @typedef {{after: FlowRound | null, afterLost: string}} WaitingSegment */

const NO_ROUND = said('no closing round since the train was prepared');

/** A ``flow_read`` as the reading it is. @param {Act} act @returns {FlowReading} */
export function readingOf(act) {
  return {
    entry_id: act.id,
    at: utcText(act.at),
    train: act.value('train'),
    port: act.value('port'),
    phase: act.value('phase'),
    meter: act.value('meter'),
    reading: act.value('reading'),
    unit: act.value('unit'),
    volume: act.value('volume'),
    volume_unit: act.value('volume_unit'),
    seconds: act.value('seconds'),
    basis: act.value('basis'),
    temperature: act.value('temperature'),
    temperature_unit: act.value('temperature_unit'),
    pressure: act.value('pressure'),
    pressure_unit: act.value('pressure_unit'),
    humidity_percent: act.value('humidity_percent'),
    author: act.author,
  };
}

/** @param {'closing' | 'post'} phase @param {string} port @param {string} at @param {FlowReading[]} readings
 *  @param {Partial<FlowRound>} more @returns {FlowRound} */
function flowRound(phase, port, at, readings, more) {
  return {
    phase,
    port,
    at,
    readings,
    declared: false,
    entry_id: '',
    valve_touched: null,
    recharged: null,
    battery_changed: null,
    same_tubes: null,
    ...more,
  };
}

/** The rounds of one port as the log goes on. */
export class PortFlows {
  /** @param {string} port */
  constructor(port) {
    this.port = port;
    /** @type {FlowRound | null} */
    this.closing = null;
    this.closingLost = NO_ROUND;
    /** @type {FlowReading[]} */
    this.pendingClosing = [];
    /** @type {FlowReading[]} */
    this.pendingPost = [];
    /** @type {WaitingSegment[]} */
    this.waiting = [];
    this.touchedSinceStop = '';
  }

  /** Forgets flows of an earlier preparation; segments of it that still wait have no flow after them. */
  prepareAnew() {
    this.takeUndeclaredPost();
    this.loseWaiting(said('the train was prepared anew before the port was read again'));
    this.closing = null;
    this.closingLost = NO_ROUND;
    this.pendingClosing = [];
    this.touchedSinceStop = '';
  }

  /** The valve moved: the closing round no longer stands. @param {number} at @param {string} how */
  touch(at, how) {
    const words = said('{how} at {time}', { time: minuteText(at) }, { how });
    if (this.closing || this.pendingClosing.length || this.closingLost === NO_ROUND) {
      this.closingLost = said('{touched}, and no closing round since', {}, { touched: words });
    }
    this.closing = null;
    this.pendingClosing = [];
    this.touchedSinceStop = this.touchedSinceStop || words;
  }

  /** Drawing begins: what was read and not declared counts as far as it goes.
   *  @returns {boolean} Whether closing readings are left over after a declared round, and so count for nothing. */
  begin() {
    this.takeUndeclaredPost();
    const leftOver = this.pendingClosing.length > 0 && this.closing !== null && this.closing.declared;
    if (this.pendingClosing.length && !leftOver) {
      const readings = [...this.pendingClosing];
      this.close(flowRound('closing', this.port, readings.at(-1)?.at ?? '', readings, {}));
    }
    this.pendingClosing = [];
    if (this.touchedSinceStop) this.loseWaiting(touchedBefore(this.touchedSinceStop));
    this.touchedSinceStop = '';
    return leftOver;
  }

  /** A closing round stands; it is also the flow after segments since which no valve moved. @param {FlowRound} made */
  close(made) {
    this.closing = made;
    this.pendingClosing = [];
    if (this.touchedSinceStop) this.loseWaiting(touchedBefore(this.touchedSinceStop));
    else this.answerWaiting(made);
  }

  /** @param {FlowRound} made */
  takeDeclaredPost(made) {
    this.pendingPost = [];
    this.answerWaiting(made);
  }

  /** Post readings that nobody declared a round speak for the segments that wait. */
  takeUndeclaredPost() {
    if (!this.pendingPost.length) return;
    const readings = [...this.pendingPost];
    const touched = this.touchedSinceStop ? true : null;
    this.takeDeclaredPost(flowRound('post', this.port, readings.at(-1)?.at ?? '', readings, { valve_touched: touched }));
  }

  endOfLog() {
    this.takeUndeclaredPost();
    this.loseWaiting(said('the port was not read after it'));
  }

  /** @param {FlowRound} made */
  answerWaiting(made) {
    for (const segment of this.waiting) {
      segment.after = made;
      segment.afterLost = '';
    }
    this.waiting = [];
  }

  /** @param {string} why */
  loseWaiting(why) {
    for (const segment of this.waiting) segment.afterLost = why;
    this.waiting = [];
  }
}

/** @param {string} touched @returns {string} */
function touchedBefore(touched) {
  return said('{touched}, before the port was read again', {}, { touched });
}

/** Closes the round over the listed ports; one in which a valve was touched stands for none of them.
 *  @param {Act} act @param {Map<string, PortFlows>} flows @param {string[]} ports @returns {TrainRound} */
export function declaredClosing(act, flows, ports) {
  const touched = yesOrNo(act.value('valve_touched'));
  const at = utcText(act.at);
  /** @type {Record<string, FlowRound>} */
  const made = {};
  for (const port of ports) {
    const pending = flows.get(port)?.pendingClosing ?? [];
    if (pending.length) {
      const said = { declared: true, entry_id: act.id, valve_touched: touched };
      made[port] = flowRound('closing', port, at, [...pending], said);
    }
  }
  for (const [port, one] of Object.entries(made)) {
    if (touched) flows.get(port)?.touch(act.at, said('a valve was touched in the closing round'));
    else flows.get(port)?.close(one);
  }
  const unread = ports.filter((port) => !made[port]);
  return trainRound('closing', at, act.id, made, unread, { valve_touched: touched });
}

/** Completes the post round over every port that was read or waits to be.
 *  @param {Act} act @param {Map<string, PortFlows>} flows @returns {TrainRound} */
export function declaredPost(act, flows) {
  const at = utcText(act.at);
  const said = {
    valve_touched: yesOrNo(act.value('valve_touched')),
    recharged: yesOrNo(act.value('recharged')),
    battery_changed: yesOrNo(act.value('battery_changed')),
    same_tubes: yesOrNo(act.value('same_tubes')),
  };
  /** @type {Record<string, FlowRound>} */
  const made = {};
  /** @type {string[]} */
  const unread = [];
  for (const port of [...flows.keys()].sort(byCodePoint)) {
    const one = /** @type {PortFlows} */ (flows.get(port));
    if (one.pendingPost.length) {
      const moved = one.touchedSinceStop ? true : said.valve_touched;
      const more = { ...said, valve_touched: moved, declared: true, entry_id: act.id };
      const round = flowRound('post', port, at, [...one.pendingPost], more);
      made[port] = round;
      one.takeDeclaredPost(round);
    } else if (one.waiting.length) unread.push(port);
  }
  return trainRound('post', at, act.id, made, unread, said);
}

/** @param {'closing' | 'post'} phase @param {string} at @param {string} entryId @param {Record<string, FlowRound>} ports
 *  @param {string[]} unread @param {Partial<TrainRound>} said @returns {TrainRound} */
function trainRound(phase, at, entryId, ports, unread, said) {
  return {
    phase,
    at,
    entry_id: entryId,
    ports,
    ports_without_reading: unread,
    valve_touched: null,
    recharged: null,
    battery_changed: null,
    same_tubes: null,
    ...said,
  };
}
