/** The kit sheet of whoever supplied the pumps, as every screen says it: in words, with what differs, and as entries. */

import * as acts from './acts.js';
import { message } from './parts.js';
import { changeText } from './telling.js';
import { say } from './words.js';
import { isKitCode, readKitCode } from '../kit_code.js';
import { awayFromSupplier, differences, hereOn, saidOf } from '../now/kit.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../kit_code.js').KitCode} KitCode */
/** @typedef {import('../now/kit.js').Difference} Difference */
/** @typedef {import('../types.js').Act} Act */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').TrainNow} TrainNow */

/** Where the sheet and a port differ, with a tube or sampler in hand; nothing where no sheet speaks of it.
 *  @param {Desk} desk @param {TrainNow} train @param {PortNow} port @param {{medium?: string, lot?: string}} [inHand]
 *  @returns {Difference[]} */
export function kitDifferences(desk, train, port, inHand = {}) {
  const said = saidOf(desk.view.day, train, port.port);
  return said ? differences(said, hereOn(desk.view.pack, train, port, inHand)) : [];
}

/** One line a difference, as in “Lot: CH-1 on the sheet, CH-2 here”. @param {Difference[]} found @returns {string[]} */
export function differenceLines(found) {
  return found.map(({ what, sheet, here }) => say(`kit.differs-${what}`, { sheet, here }));
}

/** @param {string} port @param {Difference[]} found @returns {Piece} */
export function differenceMessage(port, found) {
  return found.length > 0 && message('care', say('kit.differs', { port }), ...differenceLines(found));
}

/** The note that somebody saw what differs and went on; nothing where the same was noted before.
 *  @param {Desk} desk @param {TrainNow} train @param {string} port @param {Difference[]} found @returns {Act[]} */
export function seenNote(desk, train, port, found) {
  if (found.length === 0 || isSeen(desk, train, port, found)) return [];
  return [acts.kitDiffers(train.code, port, found)];
}

/** @param {Desk} desk @param {TrainNow} train @param {string} port @param {Difference[]} found */
export function isSeen(desk, train, port, found) {
  const wanted = acts.kitDiffers(train.code, port, found).fields.text;
  return desk.view.day.notes.some((note) => note.about === train.code && note.text === wanted);
}

/** Our reading beside the supplier's own; nothing where either is missing. @param {Desk} desk @param {TrainNow} train
 *  @param {PortNow} port @returns {string} */
export function againstSupplier(desk, train, port) {
  const away = awayFromSupplier(saidOf(desk.view.day, train, port.port), port);
  return away === null ? '' : say('kit.against', { change: changeText(away) });
}

/** The sheet that was scanned for a train and is not kept yet. @param {Desk} desk @param {TrainNow} train */
export function scannedOf(desk, train) {
  return desk.draft(`kit-scanned/${train.code}`, { read: /** @type {KitCode | null} */ (null) });
}

/** Take what a scanner read as the kit sheet of a train, to be looked at on its screen; say where it is none.
 *  @param {Desk} desk @param {TrainNow} train @param {string} text */
export function scanKitSheet(desk, train, text) {
  const read = readKitCode(text);
  if (!isKitCode(text)) desk.tell('care', say('kit.no-sheet'), [], [say('kit.not-read-do')]);
  else if (!read) desk.tell('stop', say('kit.not-read'), [], [say('kit.not-read-do')]);
  else {
    scannedOf(desk, train).read = read;
    desk.go('kit', train.code);
  }
}
