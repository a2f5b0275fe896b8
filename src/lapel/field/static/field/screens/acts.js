/**
 * What each thing done in the field amounts to in the log: the entries to record, as plain data. Fields are texts as
 * typed; an empty one is left out. Every word written here is part of the record and stays in English.
 */

/** @typedef {import('../types.js').Act} Act */
/** @typedef {import('./place.js').Place} Place */

/** @param {string} kind @param {Record<string, string>} fields @returns {Act} */
function act(kind, fields) {
  return { kind, fields: Object.fromEntries(Object.entries(fields).filter(([, text]) => text.trim() !== '')) };
}

/** @param {string[]} ports @param {string[]} all @returns {string} Empty where it concerns every port of the train. */
function portsText(ports, all) {
  return ports.length === all.length ? '' : ports.join(' ');
}

/** @param {{train: string, pump: string, splitter: string, warm_up_min: string, charged_at: string, battery: string,
 *  place: string}} given */
export const trainPrepared = (given) => act('train_prepared', given);

/** @param {string} train @param {string} port Empty: all inlets plugged at once. @param {boolean} passed */
export const leakChecked = (train, port, passed) => act('leak_checked', { train, port, passed: passed ? 'yes' : 'no' });

/** @param {{train: string, port: string, tube: string, medium: string, lot: string, target: string,
 *  target_unit: string}} given */
export const portPrepared = (given) => act('port_prepared', given);

/** What the kit sheet of whoever supplied the pumps says of a port.
 *  @param {{train: string, port: string, pump: string, medium: string, catalogue: string, lot: string, intended: string,
 *  intended_unit: string, supplier: string, supplier_unit: string, how: 'scanned' | 'typed'}} given */
export const kitSheet = (given) => act('kit_sheet', given);

/** Somebody saw where the kit sheet and a port differ, and went on.
 *  @param {string} train @param {string} port @param {import('../now/kit.js').Difference[]} found */
export function kitDiffers(train, port, found) {
  const said = found.map(({ what, sheet, here }) => `${what} ${sheet} on the sheet, ${here} here`);
  return noted(train, `Kit sheet, port ${port}: ${said.join('; ')}. Seen, and gone on.`);
}

/** One reading, with the air it was read in.
 *  @param {{train: string, port: string, phase: string}} where @param {Record<string, string>} read @param {Place} place */
export function flowRead(where, read, place) {
  const { meter, basis, temperature, temperature_unit, pressure, pressure_unit, humidity_percent } = place;
  return act('flow_read', {
    ...where,
    meter,
    ...read,
    basis,
    temperature,
    temperature_unit: temperature && temperature_unit,
    pressure,
    pressure_unit: pressure && pressure_unit,
    humidity_percent,
  });
}

/** @param {string} train @param {string[]} ports */
export const closingRound = (train, ports) =>
  act('closing_round', { train, ports: ports.join(' '), valve_touched: 'no' });

/** @param {string} train @param {string} port @param {string} why */
export const valveTouched = (train, port, why) => act('valve_touched', { train, port, why });

/** @param {string} train @param {Record<'valve_touched' | 'recharged' | 'battery_changed' | 'same_tubes', boolean>} answers */
export function postRound(train, answers) {
  const said = Object.fromEntries(Object.entries(answers).map(([name, yes]) => [name, yes ? 'yes' : 'no']));
  return act('post_round', { train, ...said });
}

/** @param {string} train @param {string} worker @param {string} side */
export const trainHung = (train, worker, side) => act('train_hung', { train, worker, side, zone: 'collar' });

/** @param {{train: string, port: string, sampler: string, medium: string, lot: string, expiry: string,
 *  how: 'scanned' | 'keypad' | 'typed'}} given */
export const samplerFitted = (given) => act('sampler_fitted', given);

/** Another sampler of the same medium than the plan has there; where the plan had it, as in “T2 A”.
 *  @param {{train: string, port: string}} where @param {string} fitted @param {string} planned @param {string} elsewhere */
export const fittedInstead = ({ train, port }, fitted, planned, elsewhere) =>
  noted(
    fitted,
    `Train ${train}, port ${port}: planned ${planned}, fitted ${fitted} of the same medium` +
      `${elsewhere ? `, planned for ${elsewhere}` : ''}.`,
  );

/** @param {string} train @param {string} port @param {string} sampler @param {string} why */
export const samplerRemoved = (train, port, sampler, why) => act('sampler_removed', { train, port, sampler, why });

/** @param {string} train @param {string[]} ports @param {string[]} all @param {string} counter_min */
export const pumpStarted = (train, ports, all, counter_min) =>
  act('pump_started', { train, ports: portsText(ports, all), counter_min });

/** @param {string} train @param {string} counter_min */
export const pumpResumed = (train, counter_min) => act('pump_resumed', { train, counter_min });

/** @param {string} train @param {string} why @param {string} counter_min */
export const pumpHeld = (train, why, counter_min) => act('pump_held', { train, why, counter_min });

/** @param {string} train @param {string[]} ports @param {string[]} all
 *  @param {'shift end' | 'tube change' | 'fault' | 'early' | 'other'} why @param {string} counter_min
 *  @param {boolean} [itself] Nobody was there when it stopped. */
export const pumpStopped = (train, ports, all, why, counter_min, itself = false) =>
  act('pump_stopped', { train, ports: portsText(ports, all), counter_min, why, stopped_itself: itself ? 'yes' : '' });

/** @param {string} train @param {boolean} running @param {string} counter_min @param {string} remark */
export const pumpChecked = (train, running, counter_min, remark) =>
  act('pump_checked', { train, running: running ? 'yes' : 'no', counter_min, remark });

/** The flow on the pump's own display, seen while it runs. @param {string} train @param {string} display @param {string} display_unit */
export const pumpDisplayed = (train, display, display_unit) =>
  act('pump_checked', { train, running: 'yes', display, display_unit });

/** @param {string} blank @param {'field' | 'media' | 'transport'} use @param {string} medium @param {string} lot @param {string} place */
export const blankOpened = (blank, use, medium, lot, place) => act('blank_opened', { blank, use, medium, lot, place });

/** @param {string} blank */
export const blankClosed = (blank) => act('blank_closed', { blank });

/** A blank whose method keeps it capped: it was there with its samplers, and nothing was opened.
 *  @param {import('../types.js').PlannedBlank} blank @param {string} place */
export const blankKeptCapped = (blank, place) => [
  blankOpened(blank.code, 'field', blank.medium, blank.lot, place),
  blankClosed(blank.code),
  noted(blank.code, 'Stayed capped, as its method wants.'),
];

/** @param {string} worker @param {string} task @param {string} [until] */
export const taskBegun = (worker, task, until = '') => act('task', { worker, task, until });

/** @param {string} about @param {string} text */
export const noted = (about, text) => act('note', { about, text });

/** @param {string} about @param {string} file @param {string} sha256 */
export const photographed = (about, file, sha256) => act('photo', { about, file, sha256 });

/** @param {Place} place */
export const airRead = (place) =>
  act('conditions', {
    place: place.place,
    temperature: place.temperature,
    temperature_unit: place.temperature && place.temperature_unit,
    pressure: place.pressure,
    pressure_unit: place.pressure && place.pressure_unit,
    humidity_percent: place.humidity_percent,
  });

/** @param {{parcel: string, samplers: string, seal: string, temperature: string, temperature_unit: string}} given */
export const parcelSealed = (given) => act('parcel_sealed', given);

/** @param {{parcel: string, from: string, from_signature: string, to: string, to_firm: string, to_signature: string,
 *  seal_intact: string, temperature: string, temperature_unit: string}} given */
export const custodyHanded = (given) => act('custody_handed', given);
