/** Samplers on and off the ports: which sampler was where, and what cannot be. */

import { said } from '../said.js';
import { recordedTwice } from './findings.js';
import { samplerText } from './kit.js';
import { Preparing } from './preparing.js';
import { RunLog } from './runs.js';

/** @typedef {import('./order.js').Act} Act */
/** @typedef {import('./train_state.js').PortLog} PortLog */
/** @typedef {import('./train_state.js').PreparationLog} PreparationLog */

/** What happens to samplers on a train; a method named like a kind takes one entry of it. */
export class Fitting extends Preparing {
  /** @param {Act} act */
  sampler_fitted(act) {
    const port = this.port(act);
    const code = act.value('sampler');
    const preparation = this.preparation(act);
    let run = this.findings.runs.get(code);
    if (run && port.fitted === run) {
      this.fittedAgain(port, run, act);
      return;
    }
    if (!run) run = this.newRun(code, port, preparation);
    else if (run.fitEntry && (run.train !== this.code || run.port !== port.letter)) this.onAnotherPort(port, run, act);
    if (!run.fitEntry) {
      run.medium = act.value('medium');
      run.lot = act.value('lot');
      run.expiry = act.value('expiry');
      run.how = act.value('how');
      run.fittedAt = act.at;
      run.fitEntry = act;
    }
    run.saw(act);
    if (port.fitted) this.anotherIsOn(port, port.fitted, act);
    port.fitted = run;
    port.lastFitted = act;
    port.started = port.stopped = null;
    if (!run.on) run.on = [this.code, port.letter];
    run.removedAt = null;
    this.holdAgainstKit(port.letter, act.id, samplerText(code), act.value('medium'), act.value('lot'));
    if (this.held?.on(port.letter)) port.heldSince = act.at;
    if (this.drawing.on(port.letter)) this.begin(port, act);
  }

  /** @param {Act} act */
  sampler_removed(act) {
    const port = this.port(act);
    const code = act.value('sampler');
    const onIt = port.fitted;
    if (onIt && onIt.sampler === code) {
      this.takeOff(port, act);
      return;
    }
    let run = this.findings.runs.get(code);
    if (!run) {
      run = this.newRun(code, port, this.preparation(act));
      run.missing.push('fitting');
    }
    run.saw(act);
    if (onIt) {
      const words = said(
        'Port {port} of train {train} had sampler {sampler}; {other} was recorded as taken off it. ' +
          'Were two samplers swapped?',
        { port: port.letter, train: this.code, sampler: onIt.sampler, other: code },
      );
      const about = 'another sampler was on this port';
      this.conflict(about, [port.lastFitted, act], words, [port], [onIt.sampler, code]);
      this.takeOff(port, act);
    } else if (port.removed && port.removed.value('sampler') === code) {
      this.again(port.removed, act, said('removed twice'), [port], [code]);
    } else if (run.fitEntry) {
      const words = said('Sampler {sampler} was taken off port {port} of train {train}, where it was not.', {
        sampler: code,
        port: port.letter,
        train: this.code,
      });
      this.conflict('removed where it was not', [run.fitEntry, act], words, [port], [code]);
    }
    run.removal = act;
    if (!run.on || run.isOn(this.code, port.letter)) run.removedAt = act.at;
  }

  /** Opens the record of a sampler nobody named before, on this port of the train as it is put together now.
   *  @param {string} code @param {PortLog} port @param {PreparationLog} preparation @returns {RunLog} */
  newRun(code, port, preparation) {
    const [pump, splitter] = [preparation.value('pump'), preparation.value('splitter')];
    const run = new RunLog(code, this.code, port.letter, preparation.number, pump, splitter);
    this.findings.runs.set(code, run);
    return run;
  }

  /** The sampler on a port is in a sealed parcel, and so no longer on the port. @param {Act} act @param {string} letter */
  packed(act, letter) {
    const port = this.portNamed(letter);
    if (port.fitted && !port.segment) this.offWithoutRecord(port, act);
    else if (port.fitted) {
      const words = said('Sampler {sampler} is packed in parcel {parcel}, and train {train} has no stop before.', {
        sampler: port.fitted.sampler,
        parcel: act.value('parcel'),
        train: this.code,
      });
      this.conflict('packed while drawing', [port.started, act], words, [port]);
    }
  }

  /** @param {PortLog} port @param {Act} act */
  takeOff(port, act) {
    const run = port.fitted;
    if (!run) return;
    this.endHold(port, act);
    this.end(port, act.at, 'sampler removed', act);
    run.saw(act);
    run.removedAt = act.at;
    run.removal = act;
    if (run.isOn(this.code, port.letter)) run.on = null;
    port.fitted = null;
    port.removed = act;
    port.stopped = null;
  }

  /** Takes the sampler that is on the port as gone: the next one is on.
   *  @param {PortLog} port @param {RunLog} run @param {Act} act */
  anotherIsOn(port, run, act) {
    if (!port.segment && run.hasDrawn) {
      this.offWithoutRecord(port, act);
      return;
    }
    const code = act.value('sampler');
    const words = said(
      'Port {port} of train {train} had sampler {sampler} when {other} was fitted, and its removal is not recorded.',
      { port: port.letter, train: this.code, sampler: run.sampler, other: code },
    );
    this.conflict('two samplers on one port', [port.lastFitted, act], words, [port], [run.sampler, code]);
    this.end(port, null, 'another sampler fitted', act);
    run.on = null;
    port.fitted = null;
  }

  /** @param {PortLog} port @param {RunLog} run @param {Act} act */
  fittedAgain(port, run, act) {
    const first = port.lastFitted;
    run.saw(act);
    if (first && first.device !== act.device && !this.findings.areDistinct(first, act)) {
      this.findings.conflicts.push(recordedTwice([first, act]));
    } else {
      const words = said('Sampler {sampler} was on port {port} already.', { sampler: run.sampler, port: port.letter });
      this.remark('fitted twice', [act], words, [port]);
    }
  }

  /** @param {PortLog} port @param {RunLog} run @param {Act} act */
  onAnotherPort(port, run, act) {
    const about = run.on ? 'sampler on two ports' : 'sampler moved to another port';
    const words = said(
      'Sampler {sampler} was fitted to port {port} of train {train} and to port {other} of train {second}. ' +
        'One sample is one sampler on one port: which is right?',
      { sampler: run.sampler, port: run.port, train: run.train, other: port.letter, second: this.code },
    );
    this.conflict(about, [run.fitEntry, act], words, [port], [run.sampler]);
  }
}
