/** The kit sheet of whoever supplied the pumps: what it says of each port, held against what was then put there. */

import { utcText } from '../instants.js';
import { said } from '../said.js';
import { conflict } from './findings.js';
import { samplersOn, TrainState } from './train_state.js';

/** @typedef {import('../types.js').PortSupplied} PortSupplied */
/** @typedef {import('./order.js').Act} Act */
/** @typedef {import('./train_state.js').PreparationLog} PreparationLog */

/** What the supplier says of a train; a method named like a kind takes one entry of it. */
export class Supplied extends TrainState {
  /** A sheet's word on a port: for the preparation going on, or for the next where its pump has stopped. @param {Act} act */
  kit_sheet(act) {
    const sheet = sheetIn(act);
    const goingOn = this.preparations.at(-1);
    if (!goingOn || goingOn.isOver) {
      this.kitAhead.set(sheet.port, sheet);
      return;
    }
    goingOn.kit[sheet.port] = sheet;
    this.holdPumpAgainst(sheet, goingOn);
    const prepared = goingOn.ports[sheet.port];
    if (prepared) {
      this.holdAgainstKit(sheet.port, prepared.entry_id, said('the calibration tube'), prepared.medium, prepared.lot);
    }
    const run = this.ports.get(sheet.port)?.fitted;
    if (run?.fitEntry) this.holdAgainstKit(sheet.port, run.fitEntry.id, samplerText(run.sampler), run.medium, run.lot);
  }

  /** What was said ahead of a new preparation; one put together anew before it ran loses nothing.
   *  @param {PreparationLog} made @param {PreparationLog | null} before */
  takeKitAlong(made, before) {
    if (before && !before.hasRun) made.kit = { ...before.kit };
    Object.assign(made.kit, Object.fromEntries(this.kitAhead));
    this.kitAhead.clear();
    for (const sheet of Object.values(made.kit)) this.holdPumpAgainst(sheet, made);
  }

  /** @param {PortSupplied} sheet @param {PreparationLog} preparation */
  holdPumpAgainst(sheet, preparation) {
    const pump = preparation.value('pump');
    if (sheet.pump && pump && sheet.pump !== pump && preparation.act) {
      const words = said('The kit sheet of port {port} is that of pump {other}; train {train} has pump {pump}.', {
        port: sheet.port,
        other: sheet.pump,
        train: this.code,
        pump,
      });
      this.noteDifference(sheet, preparation.act.id, words);
    }
  }

  /** A calibration tube or sampler beside the sheet's word on its port; what is empty says nothing.
   *  @param {string} letter @param {string} entryId @param {string} what @param {string} medium @param {string} lot */
  holdAgainstKit(letter, entryId, what, medium, lot) {
    const sheet = this.preparations.at(-1)?.kit[letter];
    if (!sheet) return;
    const where = { train: this.code, port: letter };
    if (medium && sheet.medium && medium !== sheet.medium) {
      const words = said(
        'Train {train}, port {port}: the kit sheet says medium {sheet}; {what} is of medium {found}.',
        { ...where, sheet: sheet.medium, found: medium },
        { what },
      );
      this.noteDifference(sheet, entryId, words);
    }
    if (lot && sheet.lot && lot !== sheet.lot) {
      const words = said(
        'Train {train}, port {port}: the kit sheet says lot {sheet}; {what} is of lot {found}.',
        { ...where, sheet: sheet.lot, found: lot },
        { what },
      );
      this.noteDifference(sheet, entryId, words);
    }
  }

  /** @param {PortSupplied} sheet @param {string} entryId @param {string} words */
  noteDifference(sheet, entryId, words) {
    const port = this.ports.get(sheet.port);
    const where = { train: this.code, port: sheet.port, samplers: samplersOn(port ? [port] : []) };
    this.findings.remarks.push(conflict('differs from the kit sheet', [sheet.entry_id, entryId], words, where));
  }
}

/** A sampler, as part of a sentence. @param {string} sampler @returns {string} */
export function samplerText(sampler) {
  return said('sampler {sampler}', { sampler });
}

/** @param {Act} act @returns {PortSupplied} */
function sheetIn(act) {
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
