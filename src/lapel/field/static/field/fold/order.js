/** The order of acts: by instant, after what receipts tell of each device's clock; see lapel.fieldlog.order. */

import { KINDS } from '../kinds.js';
import { byCodePoint, strip } from '../texts.js';

/** @typedef {import('../types.js').DeviceClock} DeviceClock */
/** @typedef {import('./entry.js').Recorded} Recorded */
/** @typedef {[at: number, device: string, sequence: number, rank: number, id: string]} Key */

/** A clock less than this ahead of the office's is taken as right: acts are kept to the minute. [s] */
const TOLERATED_AHEAD_S = 60;

const RANK = Object.fromEntries(Object.entries(KINDS).map(([kind, spec]) => [kind, 10 * spec.rank]));
/** @type {Record<string, number>} */
const RANK_OF_READING = {
  // a reading of the same minute goes before the round it belongs to, and after what made it necessary
  check: (RANK['pump_checked'] ?? 0) - 1,
  post: (RANK['post_round'] ?? 0) - 1,
  setting: (RANK['valve_touched'] ?? 0) + 1,
  closing: (RANK['valve_touched'] ?? 0) + 2,
};

/** An entry as it counts: corrected, its instant by the measured clock, values read without outer blanks. */
export class Act {
  /** @param {Recorded} entry @param {Key} key */
  constructor(entry, key) {
    this.id = entry.id;
    this.kind = entry.kind;
    this.at = key[0];
    this.device = entry.device;
    this.author = entry.author;
    this.fields = entry.fields;
    this.key = key;
  }

  /** What was typed in a field; empty when nothing was. @param {string} name @returns {string} */
  value(name) {
    const typed = this.fields[name];
    return typed === undefined ? '' : strip(typed);
  }

  /** Whether two acts have the same values, whatever blanks were typed around them. @param {Act} other */
  saysTheSame(other) {
    const names = [...Object.keys(this.fields), ...Object.keys(other.fields)];
    return names.every((name) => this.value(name) === other.value(name));
  }
}

/** Measures the clock of every device that has receipts.
 *  @param {Iterable<Recorded>} entries @returns {Record<string, DeviceClock>} */
export function deviceClocks(entries) {
  /** @type {Map<string, {least: number, received: number}>} */
  const lags = new Map();
  for (const { device, at, received_at: received } of entries) {
    if (received === null) continue;
    const known = lags.get(device);
    if (known) {
      known.received += 1;
      known.least = Math.min(known.least, received - at);
    } else lags.set(device, { least: received - at, received: 1 });
  }
  const devices = [...lags.keys()].sort(byCodePoint);
  return Object.fromEntries(devices.map((device) => [device, clock(device, lags.get(device))]));
}

/** @param {string} device @param {{least: number, received: number} | undefined} lag @returns {DeviceClock} */
function clock(device, lag) {
  const least = (lag?.least ?? 0) / 1e6;
  const ahead = least < 0 ? -least : 0;
  return {
    device,
    received: lag?.received ?? 0,
    ahead_s: ahead,
    behind_at_most_s: ahead ? null : least,
    shift_s: ahead > TOLERATED_AHEAD_S ? -ahead : 0,
  };
}

/** What an entry is ordered by: instant, device, sequence, rank of its kind, id.
 *  @param {Recorded} entry @param {Record<string, DeviceClock>} clocks @param {boolean} atCorrected @returns {Key} */
export function orderKey(entry, clocks, atCorrected = false) {
  let { at } = entry;
  const shift = clocks[entry.device]?.shift_s;
  if (shift && !atCorrected) at += Math.round(shift * 1e6);
  let rank = RANK[entry.kind] ?? 10 * Object.keys(KINDS).length;
  if (entry.kind === 'flow_read') rank = RANK_OF_READING[strip(entry.fields['phase'] ?? '')] ?? rank;
  return [at, entry.sequence ? entry.device : '', entry.sequence, rank, entry.id];
}

/** @param {Key} one @param {Key} other @returns {number} */
export function byKey(one, other) {
  return (
    one[0] - other[0] ||
    byCodePoint(one[1], other[1]) ||
    one[2] - other[2] ||
    one[3] - other[3] ||
    byCodePoint(one[4], other[4])
  );
}
