/**
 * The kit sheet of whoever supplied the pumps: what they say is on each port, and what they measured themselves.
 *
 * The log has no kind of its own for somebody else's word: it is a note about the train, in one fixed form, which this
 * module writes and reads. It is never the before flow of a sample.
 */

/** @typedef {{port: string, medium: string, catalogue: string, lot: string, intended: string, supplier: string, unit: string}} KitPort */
/** @typedef {import('../types.js').Day} Day */

const NAMES = /** @type {const} */ (['medium', 'catalogue', 'lot', 'intended', 'supplier', 'unit']);

/** @param {KitPort} sheet @returns {string} As in “Kit sheet, port A: medium=charcoal 100/50; lot=CH-7715”. */
export function kitSheetText(sheet) {
  const said = NAMES.filter((name) => sheet[name]).map((name) => `${name}=${sheet[name].replaceAll(';', ',')}`);
  return `Kit sheet, port ${sheet.port}: ${said.join('; ')}`;
}

/** @param {string} text @returns {KitPort | null} Nothing where the note is another one. */
export function kitSheetIn(text) {
  const found = /^Kit sheet, port ([A-Z]): (.*)$/.exec(text);
  if (!found) return null;
  const said = Object.fromEntries((found[2] ?? '').split('; ').map((part) => part.split(/=(.*)/s).slice(0, 2)));
  const of = (/** @type {string} */ name) => String(said[name] ?? '');
  return {
    port: found[1] ?? '',
    medium: of('medium'),
    catalogue: of('catalogue'),
    lot: of('lot'),
    intended: of('intended'),
    supplier: of('supplier'),
    unit: of('unit'),
  };
}

/** What the sheet says of a port, the last word counting. @param {Day} day @param {string} train @param {string} port */
export function kitSheetOf(day, train, port) {
  for (const note of [...day.notes].reverse()) {
    if (note.about !== train) continue;
    const sheet = kitSheetIn(note.text);
    if (sheet?.port === port) return sheet;
  }
  return null;
}
