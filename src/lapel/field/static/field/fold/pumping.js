/** The pump: started, held, resumed, checked, stopped, or found to have stopped by itself. */

import { numberIn, portsIn, yesOrNo } from '../checks.js';
import { minuteText, utcText } from '../instants.js';
import { said } from '../said.js';
import { Drawing } from './drawing.js';
import { Fitting } from './fitting.js';

/** @typedef {import('./order.js').Act} Act */
/** @typedef {import('./train_state.js').PortLog} PortLog */

/** What happens to the pump of a train; a method named like a kind takes one entry of it. */
export class Pumping extends Fitting {
  /** @param {Act} act */
  pump_started(act) {
    const named = portsIn(act.value('ports'));
    const concerned = this.namedOrAll(named);
    const already = concerned.filter((port) => this.drawing.on(port.letter) && port.fitted);
    if (already.length && already.length === concerned.filter((port) => port.fitted).length) {
      const first = already.find((port) => port.started)?.started ?? null;
      this.again(first, act, said('started while drawing'), already);
      return;
    }
    this.foundStopped = [];
    this.draw(named, act, numberIn(act.value('counter_min')), true);
  }

  /** @param {Act} act */
  pump_resumed(act) {
    const named = portsIn(act.value('ports'));
    let counter = numberIn(act.value('counter_min'));
    if (!this.held) {
      const concerned = this.namedOrAll(named);
      const drawn = concerned.filter((port) => port.segment);
      if (drawn.length) {
        this.again(drawn[0]?.started ?? null, act, said('resumed while drawing'), drawn);
        return;
      }
      const words = said('Train {train} was resumed, and no hold is recorded before it: taken as a start.', {
        train: this.code,
      });
      const fitted = concerned.filter((port) => port.fitted);
      this.remark('resumed without a hold', [act], words, fitted);
      this.draw(named, act, counter, true);
      return;
    }
    // a held pump's counter stands still
    if (counter === null && this.heldBy && !this.drawing.anywhere(this.ports)) {
      counter = numberIn(this.heldBy.value('counter_min'));
    }
    if (named.length) {
      this.draw(named, act, counter, false);
      return;
    }
    const { held } = this;
    const letters = [...this.ports.keys()].filter((letter) => held.on(letter) || this.drawing.on(letter));
    const every = held.everywhere && !this.drawing.exceptions.size && !held.exceptions.size;
    if (every || letters.length) this.draw(every ? [] : letters, act, counter, false);
  }

  /** @param {Act} act */
  pump_held(act) {
    const named = portsIn(act.value('ports'));
    const concerned = this.namedOrAll(named);
    const drawing = concerned.filter((port) => this.drawing.on(port.letter));
    if (!drawing.length && !(!this.ports.size && this.drawing.everywhere)) {
      if (this.held && this.heldBy) this.again(this.heldBy, act, said('held twice'), concerned);
      else this.withoutAStart(concerned, act, 'held');
      return;
    }
    const heldBefore = [...this.ports.keys()].filter((letter) => this.held?.on(letter));
    const held = named.length ? new Drawing() : this.drawing.copy();
    const nowHeld = [...heldBefore, ...drawing.map((port) => port.letter)];
    if (nowHeld.length) held.start(nowHeld);
    this.holds(held, act);
    const counter = numberIn(act.value('counter_min'));
    for (const port of drawing) {
      this.end(port, act.at, 'hold', act, { counter });
      port.heldSince = act.at;
      port.stopped = act;
    }
    this.stopDrawing(named, act.at, counter);
  }

  /** @param {Act} act */
  pump_stopped(act) {
    const named = portsIn(act.value('ports'));
    const concerned = this.namedOrAll(named);
    const drawing = concerned.filter((port) => this.drawing.on(port.letter));
    const held = concerned.filter((port) => port.heldSince !== null);
    for (const port of held) {
      this.endHold(port, act);
      port.stopped = act;
      this.held?.stop([port.letter]);
    }
    if (!named.length) this.holds(null);
    if (!drawing.length) {
      if (this.foundStopped.length) this.stopFoundEarlier(act);
      else if (!held.length) this.withoutAStart(concerned, act, 'stopped');
      return;
    }
    const counter = numberIn(act.value('counter_min'));
    const alone = yesOrNo(act.value('stopped_itself')) === true;
    const stop = alone ? this.stopByCounter(counter, act) : act.at;
    const endedBy = act.value('why');
    for (const port of drawing) {
      this.end(port, stop, endedBy, act, { counter, fromCounter: alone });
      port.stopped = act;
      if (port.fitted && (alone || endedBy === 'fault')) port.fitted.faults += 1;
    }
    this.stopDrawing(named, stop, counter);
  }

  /** @param {Act} act */
  pump_checked(act) {
    const counter = numberIn(act.value('counter_min'));
    const runs = act.value('running') === 'yes';
    const check = {
      entry_id: act.id,
      at: utcText(act.at),
      running: runs,
      counter_min: counter,
      display: act.value('display'),
      display_unit: act.value('display_unit'),
      remark: act.value('remark'),
    };
    this.preparation(act).checks.push(check);
    const fitted = this.allPorts().filter((port) => port.fitted);
    const drawing = fitted.filter((port) => port.segment);
    for (const port of drawing) {
      port.fitted?.checks.push(check);
      port.fitted?.saw(act);
    }
    if (runs && drawing.length) {
      if (counter !== null) this.anchor = { at: act.at, counter };
    } else if (runs && fitted.length && !this.held) {
      const words = said('Train {train} was seen running at {time}, and no start is recorded before it.', {
        train: this.code,
        time: minuteText(act.at),
      });
      this.remark('running without a start', [act], words, fitted);
    } else if (!runs && drawing.length) this.foundStoppedNow(drawing, counter, act);
  }

  /** @param {string[]} named @param {number | null} stop @param {number | null} counter */
  stopDrawing(named, stop, counter) {
    this.drawing.stop(named);
    if (this.drawing.anywhere(this.ports)) return;
    this.endPumpRun(stop, counter);
  }

  /** When a pump stopped that nobody saw stop; null where its counter was not read before.
   *  @param {number | null} counter @param {Act} act @returns {number | null} */
  stopByCounter(counter, act) {
    if (counter === null || !this.anchor || counter < this.anchor.counter) return null;
    const stop = this.anchor.at + Math.round((counter - this.anchor.counter) * 60e6);
    if (stop > act.at) {
      const words = said(
        "Train {train}: the pump's counter gives a stop at {stop}, after it was found stopped at {found}; the latter " +
          'is taken.',
        { train: this.code, stop: minuteText(stop), found: minuteText(act.at) },
      );
      this.remark('counter ahead of the clock', [act], words, this.allPorts());
      return act.at;
    }
    return stop;
  }

  /** @param {PortLog[]} drawing @param {number | null} counter @param {Act} act */
  foundStoppedNow(drawing, counter, act) {
    this.anchorWhenFound = this.anchor;
    const stop = this.stopByCounter(counter, act);
    this.foundStopped = drawing.flatMap((port) => port.segment ?? []);
    for (const port of drawing) {
      this.end(port, stop, 'fault', act, { counter, fromCounter: true });
      port.stopped = act;
      if (port.fitted) port.fitted.faults += 1;
    }
    this.stopDrawing([], stop, counter);
  }

  /** Takes a stop recorded after the pump was found stopped: it tells why, and perhaps the counter. @param {Act} act */
  stopFoundEarlier(act) {
    this.anchor = this.anchorWhenFound;
    const counter = numberIn(act.value('counter_min'));
    const stop = this.stopByCounter(counter, act);
    const preparation = this.preparation(act);
    for (const port of this.ports.values()) {
      const run = port.fitted;
      if (!run) continue;
      for (const segment of [...run.segments.slice(-1), ...run.strays.slice(-1)]) {
        if (!this.foundStopped.includes(segment)) continue;
        segment.endedBy = act.value('why');
        run.saw(act);
        port.stopped = act;
        if (segment.stop === null && stop !== null) {
          segment.stop = Math.max(Math.min(stop, segment.notAfter ?? stop), segment.start);
          segment.stopFromCounter = true;
          segment.notAfter = null;
          segment.counterStop = counter;
          segment.stopEntry = act.id;
          run.missing.splice(run.missing.indexOf('stop'), 1);
        }
      }
    }
    const last = preparation.pumpRuns.at(-1);
    if (last && last.stop === null && stop !== null) {
      last.stop = stop;
      last.counterStop = counter;
    }
    this.foundStopped = [];
  }

  /** @param {PortLog[]} concerned @param {Act} act @param {'held' | 'stopped'} did */
  withoutAStart(concerned, act, did) {
    const at = { train: this.code, time: minuteText(act.at) };
    const fitted = concerned.filter((port) => port.fitted);
    const stopped = fitted.filter((port) => port.stopped);
    if (stopped.length && stopped.length === fitted.length) {
      const about = did === 'held' ? said('held twice') : said('stopped twice');
      this.again(stopped[0]?.stopped ?? null, act, about, stopped);
    } else if (fitted.length) {
      const words =
        did === 'held'
          ? said('Train {train} was held at {time}, and no start is recorded before it.', at)
          : said('Train {train} was stopped at {time}, and no start is recorded before it.', at);
      this.conflict(`${did} without a start`, [act], words, fitted);
      for (const port of fitted) {
        if (port.fitted && !port.stopped) {
          port.fitted.missing.push('start');
          port.fitted.saw(act);
        }
      }
    } else if (!concerned.some((port) => port.removed)) {
      const words =
        did === 'held'
          ? said('Train {train} was held at {time} with no sampler on it and no start before it.', at)
          : said('Train {train} was stopped at {time} with no sampler on it and no start before it.', at);
      this.remark(`${did} without a start`, [act], words);
    }
  }
}
