/**
 * What holds for the bench until somebody says otherwise: the meter in hand, the air it reads in, when the batteries
 * came off the charger. Kept on this device beside the log; each entry still carries its own copy, as read.
 */

const KEY = 'lapel-field-place';

/** How old a reading of the air may be before the page asks for a new one. [min] */
export const AIR_STANDS_MIN = 180;

/** @typedef {object} Place
 *  @property {string} place @property {string} meter @property {'actual' | 'standard' | ''} basis
 *  @property {string} temperature @property {string} temperature_unit
 *  @property {string} pressure @property {string} pressure_unit @property {string} humidity_percent
 *  @property {string} air_at @property {string} charged_at @property {string} warm_up_min @property {string} battery
 *  @property {number} readings */

/** @type {Place} */
const EMPTY = {
  place: '',
  meter: '',
  basis: '',
  temperature: '',
  temperature_unit: '°C',
  pressure: '',
  pressure_unit: 'kPa',
  humidity_percent: '',
  air_at: '',
  charged_at: '',
  warm_up_min: '',
  battery: '',
  readings: 3,
};

/** @returns {Place} */
export function placeKept() {
  try {
    return { ...EMPTY, ...JSON.parse(localStorage.getItem(KEY) ?? '{}') };
  } catch {
    return { ...EMPTY };
  }
}

/** @param {Partial<Place>} changes @returns {Place} */
export function keepPlace(changes) {
  const place = { ...placeKept(), ...changes };
  try {
    localStorage.setItem(KEY, JSON.stringify(place));
  } catch {
    // a full disk loses a convenience, no record: every entry carries its own copy
  }
  return place;
}

/** Whether meter and air are known well enough to take a reading. @param {Place} place @param {number} nowMs */
export function placeLacks(place, nowMs) {
  if (!place.meter) return 'meter';
  if (!place.temperature || !place.pressure) return 'air';
  if (!place.air_at || nowMs - Date.parse(place.air_at) > AIR_STANDS_MIN * 60000) return 'old air';
  return '';
}
