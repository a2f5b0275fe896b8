/** Preparing a train: calibration tubes, leak checks, flow readings and rounds, and whom it is hung on. */

import { portsIn, yesOrNo } from '../checks.js';
import { minutesBetweenMicros, utcText } from '../instants.js';
import { said } from '../said.js';
import { recordedTwice } from './findings.js';
import { declaredClosing, declaredPost, readingOf } from './rounds.js';
import { Supplied } from './kit.js';
import { PreparationLog } from './train_state.js';

/** @typedef {import('../types.js').TrainRound} TrainRound */
/** @typedef {import('./order.js').Act} Act */

/** A sampler not drawn on for longer than this when its train is prepared anew is taken as gone: another day. [h] */
const LEFT_ON_H = 8;

/** What happens to a train before and after the run; a method named like a kind takes one entry of it. */
export class Preparing extends Supplied {
  /** @param {Act} act */
  train_prepared(act) {
    const before = this.preparations.at(-1);
    if (before?.act && this.isSamePreparation(before, before.act, act)) {
      this.findings.conflicts.push(recordedTwice([before.act, act]));
      return;
    }
    if (this.drawing.anywhere(this.ports)) this.foundPreparedWhileDrawing(act);
    const made = new PreparationLog(this.preparations.length, act);
    this.preparations.push(made);
    this.takeKitAlong(made, before ?? null);
    this.drawsNothing();
    this.foundStopped = [];
    for (const port of this.ports.values()) {
      port.flows.prepareAnew();
      this.endHold(port, act);
      const run = port.fitted;
      if (run && run.fittedAt !== null) {
        const stops = run.segments.flatMap((segment) => (segment.stop === null ? [] : [segment.stop]));
        const last = Math.max(run.fittedAt, ...stops);
        if (minutesBetweenMicros(last, act.at) > 60 * LEFT_ON_H) this.offWithoutRecord(port, act);
      }
    }
  }

  /** @param {Act} act */
  port_prepared(act) {
    const port = this.port(act);
    this.preparation(act).ports[port.letter] = {
      entry_id: act.id,
      at: utcText(act.at),
      port: port.letter,
      tube: act.value('tube'),
      medium: act.value('medium'),
      lot: act.value('lot'),
      target: act.value('target'),
      target_unit: act.value('target_unit'),
    };
    this.holdAgainstKit(port.letter, act.id, said('the calibration tube'), act.value('medium'), act.value('lot'));
  }

  /** @param {Act} act */
  leak_checked(act) {
    const passed = act.value('passed') === 'yes';
    this.preparation(act).leakChecks.push({ entry_id: act.id, at: utcText(act.at), port: act.value('port'), passed });
  }

  /** A reading; one of phase “setting” means that the valve was turned. @param {Act} act */
  flow_read(act) {
    const port = this.port(act);
    const reading = readingOf(act);
    this.preparation(act).readings.push(reading);
    if (reading.phase === 'setting') this.touch(port, act, said('the flow was set'));
    else if (reading.phase === 'closing') port.flows.pendingClosing.push(reading);
    else if (reading.phase === 'check') port.segment?.checks.push(reading);
    else {
      port.flows.pendingPost.push(reading);
      if (port.segment && port.fitted) {
        const words = said('Port {port} was read as after the run, and no stop is recorded before it.', {
          port: port.letter,
        });
        this.remark('read after the run while drawing', [act], words, [port]);
      }
    }
  }

  /** @param {Act} act */
  valve_touched(act) {
    this.touch(this.port(act), act, said('the valve was touched'));
  }

  /** @param {Act} act */
  closing_round(act) {
    const letters = portsIn(act.value('ports'));
    for (const letter of letters) this.portNamed(letter);
    const preparation = this.preparation(act);
    const repeated = this.standingRound(letters);
    if (repeated && this.isRepeatedRound(repeated, act)) return;
    const made = declaredClosing(act, this.flows, letters);
    preparation.closingRounds.push(made);
    for (const letter of Object.keys(made.ports)) {
      const port = this.portNamed(letter);
      port.touchesElsewhereAtRound = this.touches - port.touches;
    }
    if (made.ports_without_reading.length) {
      const listed = made.ports_without_reading.join(', ');
      const words = said('The closing round lists port {ports}, and no closing reading of it stands: read it again.', {
        ports: listed,
      });
      this.remark('closing round without reading', [act], words);
    }
  }

  /** @param {Act} act */
  post_round(act) {
    const preparation = this.preparation(act);
    const nothingNew = ![...this.flows.values()].some((flows) => flows.pendingPost.length || flows.waiting.length);
    const last = preparation.postRounds.at(-1);
    if (nothingNew && last && this.isRepeatedRound(last, act)) return;
    const made = declaredPost(act, this.flows);
    preparation.postRounds.push(made);
    if (made.ports_without_reading.length || !Object.keys(made.ports).length) {
      const listed = made.ports_without_reading.join(', ');
      const words = listed
        ? said('The round after the run has no reading of port {ports}.', { ports: listed })
        : said('The round after the run has no reading of port any port.');
      this.remark('post round without reading', [act], words);
    }
  }

  /** @param {Act} act */
  train_hung(act) {
    const { hung } = this.preparation(act);
    const worker = act.value('worker');
    const drawing = this.allPorts().filter((port) => port.segment && port.fitted);
    const last = hung.at(-1);
    if (drawing.length && last && last.worker !== worker) {
      const words = said('Train {train} was on {worker} and went to {next} while it drew.', {
        train: this.code,
        worker: last.worker,
        next: worker,
      });
      this.conflict('two workers', [last.entry_id, act.id], words, drawing);
    }
    hung.push({ entry_id: act.id, at: utcText(act.at), worker, side: act.value('side'), zone: act.value('zone') });
    for (const { fitted } of drawing) if (fitted && !fitted.workers.includes(worker)) fitted.workers.push(worker);
  }

  /** @param {Act} act */
  foundPreparedWhileDrawing(act) {
    const drawing = this.allPorts().filter((port) => port.segment);
    if (drawing.length) {
      const words = said('Train {train} was prepared anew while it drew: its stop is not recorded.', {
        train: this.code,
      });
      this.conflict('prepared while drawing', [drawing[0]?.started ?? null, act], words, drawing);
    }
    for (const port of drawing) this.end(port, null, 'other', act);
    this.pumpRun = null;
  }

  /** Whether another device says the same of a train that has not run since.
   *  @param {PreparationLog} before @param {Act} first @param {Act} act @returns {boolean} */
  isSamePreparation(before, first, act) {
    const same = first.device !== act.device && first.saysTheSame(act) && !before.hasRun;
    return same && !this.findings.areDistinct(first, act);
  }

  /** The last closing round if it stands, covers just these ports and nothing was read since.
   *  @param {string[]} letters @returns {TrainRound | null} */
  standingRound(letters) {
    const last = this.preparations.at(-1)?.closingRounds.at(-1);
    if (!last) return null;
    const covered = new Set([...Object.keys(last.ports), ...last.ports_without_reading]);
    if (covered.size !== letters.length || !letters.every((letter) => covered.has(letter))) return null;
    const stands = Object.keys(last.ports).every((letter) => {
      return this.flows.get(letter)?.closing?.entry_id === last.entry_id;
    });
    return stands && !letters.some((letter) => this.flows.get(letter)?.pendingClosing.length) ? last : null;
  }

  /** Whether the round was declared before; it then changes nothing but what has to be settled.
   *  @param {TrainRound} repeated @param {Act} act @returns {boolean} */
  isRepeatedRound(repeated, act) {
    if (this.findings.distinct.has(repeated.entry_id, act.id)) return false;
    const answers = /** @type {const} */ (['valve_touched', 'recharged', 'battery_changed', 'same_tubes']);
    const same = answers.every((name) => !act.value(name) || yesOrNo(act.value(name)) === repeated[name]);
    const about = same ? 'recorded twice' : 'two answers for one round';
    const where = { train: this.code, first: repeated.entry_id, second: act.id };
    const phase = { phase: repeated.phase };
    const words = same
      ? said('The {phase} round of train {train} was declared in {first} and in {second}.', where, phase)
      : said(
          'The {phase} round of train {train} was declared in {first} and in {second}, with different answers. ' +
            'The first counts.',
          where,
          phase,
        );
    this.conflict(about, [repeated.entry_id, act.id], words, this.allPorts());
    return true;
  }
}
