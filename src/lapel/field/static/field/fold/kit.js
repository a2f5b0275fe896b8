/** The kit sheet of whoever supplied the pumps: what it says of each port, held against what was then put there. */

import { utcText } from '../instants.js';
import { conflict } from './findings.js';
import { samplersOn, TrainState } from './train_state.js';

/** @typedef {import('../types.js').PortSupplied} PortSupplied */
/** @typedef {import('./order.js').Act} Act */
/** @typedef {import('./train_state.js').PreparationLog} PreparationLog */

/** What the supplier says of a train; a method named like a kind takes one entry of it. */
export class Supplied extends TrainState {
  /** A sheet's word on a port: for the preparation going on, or for the next where its pump has stopped. @param {Act} act */
  kit_sheet(act) {
    const said = saidIn(act);
    const goingOn = this.preparations.at(-1);
    if (!goingOn || goingOn.isOver) {
      this.kitAhead.set(said.port, said);
      return;
    }
    goingOn.kit[said.port] = said;
    this.holdPumpAgainst(said, goingOn);
    const prepared = goingOn.ports[said.port];
    if (prepared) {
      this.holdAgainstKit(said.port, prepared.entry_id, 'the calibration tube', prepared.medium, prepared.lot);
    }
    const run = this.ports.get(said.port)?.fitted;
    if (run?.fitEntry) this.holdAgainstKit(said.port, run.fitEntry.id, `sampler ${run.sampler}`, run.medium, run.lot);
  }

  /** What was said ahead of a new preparation; one put together anew before it ran loses nothing.
   *  @param {PreparationLog} made @param {PreparationLog | null} before */
  takeKitAlong(made, before) {
    if (before && !before.hasRun) made.kit = { ...before.kit };
    Object.assign(made.kit, Object.fromEntries(this.kitAhead));
    this.kitAhead.clear();
    for (const said of Object.values(made.kit)) this.holdPumpAgainst(said, made);
  }

  /** @param {PortSupplied} said @param {PreparationLog} preparation */
  holdPumpAgainst(said, preparation) {
    const pump = preparation.value('pump');
    if (said.pump && pump && said.pump !== pump && preparation.act) {
      const words = `The kit sheet of port ${said.port} is that of pump ${said.pump}; train ${this.code} has pump ${pump}.`;
      this.noteDifference(said, preparation.act.id, words);
    }
  }

  /** A calibration tube or sampler beside the sheet's word on its port; what is empty says nothing.
   *  @param {string} letter @param {string} entryId @param {string} what @param {string} medium @param {string} lot */
  holdAgainstKit(letter, entryId, what, medium, lot) {
    const said = this.preparations.at(-1)?.kit[letter];
    if (!said) return;
    const pairs = /** @type {const} */ ([['medium', medium, said.medium], ['lot', lot, said.lot]]);
    for (const [name, found, onSheet] of pairs) {
      if (!found || !onSheet || found === onSheet) continue;
      const words =
        `Train ${this.code}, port ${letter}: the kit sheet says ${name} ${onSheet}; ${what} is of ${name} ${found}.`;
      this.noteDifference(said, entryId, words);
    }
  }

  /** @param {PortSupplied} said @param {string} entryId @param {string} words */
  noteDifference(said, entryId, words) {
    const port = this.ports.get(said.port);
    const where = { train: this.code, port: said.port, samplers: samplersOn(port ? [port] : []) };
    this.findings.remarks.push(conflict('differs from the kit sheet', [said.entry_id, entryId], words, where));
  }
}

/** @param {Act} act @returns {PortSupplied} */
function saidIn(act) {
  const value = (/** @type {string} */ name) => act.value(name);
  return {
    entry_id: act.id,
    at: utcText(act.at),
    port: value('port'),
    pump: value('pump'),
    medium: value('medium'),
    catalogue: value('catalogue'),
    lot: value('lot'),
    intended: value('intended'),
    intended_unit: value('intended_unit'),
    supplier: value('supplier'),
    supplier_unit: value('supplier_unit'),
    how: value('how'),
  };
}
