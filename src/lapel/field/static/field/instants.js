/**
 * Instants: read and written as the office writes them, to the microsecond inside, with an offset always.
 *
 * Inside the fold an instant is a whole number of microseconds since 1970, which a double holds until the year 2255:
 * so differences come out as they do at the office.
 */

const INSTANT =
  /^(\d{4})-?(\d{2})-?(\d{2})[^](\d{2})(?::?(\d{2})(?::?(\d{2})(?:[.,](\d+))?)?)?(Z|[+-]\d{2}(?::?\d{2}(?::?\d{2}(?:\.\d+)?)?)?)$/;

/** Microseconds since 1970 of an ISO 8601 instant with its offset.
 *  @param {string} text
 *  @returns {number}
 *  @throws {RangeError} It is none, or says nothing of its offset: nothing is guessed. */
export function microsOf(text) {
  const found = INSTANT.exec(text);
  if (!found) throw new RangeError(`found “${text}”; wanted an instant with its offset, as in 2026-03-29T05:10+02:00`);
  const [, year, month, day, hour, minute = '0', second = '0', fraction = '', offset = 'Z'] = found;
  const parts = [year, month, day, hour, minute, second].map(Number);
  const [y = 0, mo = 0, d = 0, h = 0, mi = 0, s = 0] = parts;
  const date = new Date(0);
  date.setUTCFullYear(y, mo - 1, d);
  if (y < 1 || date.getUTCMonth() !== mo - 1 || date.getUTCDate() !== d || h > 23 || mi > 59 || s > 59) {
    throw new RangeError(`found “${text}”; there is no such date or time`);
  }
  const clock = date.getTime() + ((h * 60 + mi) * 60 + s) * 1000;
  return clock * 1000 + Number((fraction + '000000').slice(0, 6)) - offsetSeconds(offset) * 1e6;
}

/** @param {string} offset @returns {number} */
function offsetSeconds(offset) {
  if (offset === 'Z') return 0;
  const [hours = 0, minutes = 0, seconds = 0] = (offset.slice(1).replaceAll(':', '').match(/../g) ?? []).map(Number);
  if (hours > 23 || minutes > 59 || seconds > 59) throw new RangeError(`found the offset “${offset}”; there is none such`);
  return (offset[0] === '-' ? -1 : 1) * ((hours * 60 + minutes) * 60 + seconds);
}

/** An instant in UTC as the day shows it: to the millisecond, finer only where it was given finer.
 *  @param {number} micros @returns {string} */
export function utcText(micros) {
  const ms = Math.floor(micros / 1000);
  const rest = micros - ms * 1000;
  const text = new Date(ms).toISOString();
  return rest ? text.replace('Z', `${String(rest).padStart(3, '0')}Z`) : text;
}

/** An instant to the minute, in UTC, as in words about the log.
 *  @param {number} micros @returns {string} */
export function minuteText(micros) {
  const text = new Date(Math.floor(micros / 1000)).toISOString();
  return `${text.slice(0, 10)} ${text.slice(11, 16)} UTC`;
}

/** Minutes from one instant to another.
 *  @param {number} start @param {number} stop Microseconds. */
export function minutesBetweenMicros(start, stop) {
  return (stop - start) / 1e6 / 60;
}

/** Milliseconds since 1970 of an instant.
 *  @param {string | number | Date} instant @returns {number} */
export function msOf(instant) {
  if (typeof instant === 'number') return instant;
  if (instant instanceof Date) return instant.getTime();
  return microsOf(instant) / 1000;
}

/** Minutes from one instant to another.
 *  @param {string | number | Date} start @param {string | number | Date} stop @returns {number} */
export function minutesBetween(start, stop) {
  return (msOf(stop) - msOf(start)) / 60000;
}

/** @type {Map<string, Intl.DateTimeFormat>} */
const FORMATS = new Map();

/** Offset of a zone from UTC at an instant; of this device's own zone where the name is empty or unknown. [min]
 *  @param {number} ms @param {string} zone @returns {number} */
export function offsetMinutes(ms, zone) {
  if (zone) {
    try {
      const format = zoneFormat(zone);
      const parts = Object.fromEntries(format.formatToParts(ms).map((part) => [part.type, Number(part.value)]));
      const { year = 0, month = 1, day = 1, hour = 0, minute = 0, second = 0 } = parts;
      const wall = Date.UTC(year, month - 1, day, hour, minute, second);
      return Math.round((wall - Math.floor(ms / 1000) * 1000) / 60000);
    } catch {
      // a zone this browser does not know: its own is written, and said by the offset
    }
  }
  return -new Date(ms).getTimezoneOffset();
}

/** @param {string} zone @returns {Intl.DateTimeFormat} */
function zoneFormat(zone) {
  let format = FORMATS.get(zone);
  if (!format) {
    format = new Intl.DateTimeFormat('en-GB', {
      timeZone: zone,
      hourCycle: 'h23',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
    });
    FORMATS.set(zone, format);
  }
  return format;
}

/** An instant with the offset of a zone, to the millisecond, as it goes into an entry.
 *  @param {number} ms @param {string} zone @returns {string} */
export function instantText(ms, zone) {
  const offset = offsetMinutes(ms, zone);
  const wall = new Date(Math.round(ms) + offset * 60000).toISOString().slice(0, 23);
  const size = Math.abs(offset);
  const hours = String(Math.floor(size / 60)).padStart(2, '0');
  return `${wall}${offset < 0 ? '-' : '+'}${hours}:${String(size % 60).padStart(2, '0')}`;
}

/** The time on the wall clock of a zone, as in 05:10.
 *  @param {string | number | Date} instant @param {string} zone @returns {string} */
export function clockText(instant, zone) {
  return instantText(msOf(instant), zone).slice(11, 16);
}
