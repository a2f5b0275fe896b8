/** Which air a flow was read in: as recorded, else the conditions nearest to it, else the site's usual, and said so. */

import { msOf } from '../instants.js';
import { said } from '../said.js';
import { toKelvin, toKpa } from './units.js';

/** @typedef {import('../types.js').Air} Air */
/** @typedef {import('../types.js').Conditions} Conditions */
/** @typedef {import('../types.js').FlowReading} FlowReading */
/** @typedef {import('../types.js').PackSurvey} PackSurvey */

/** @type {Air} */
export const NTP = { temperature_k: 298.15, pressure_kpa: 101.325 };

/** Conditions recorded longer ago or later than this say nothing about a reading. [h] */
const STALE_H = 12;

const USUAL = said("air not recorded with it: the site's usual temperature and pressure taken");
const ASSUMED = said('air neither recorded nor stated for the site: 25 °C and 101.3 kPa taken');

/** Finds the air for readings; what had to be assumed is added to the list it is given. */
export class PlaceAir {
  /** @param {PackSurvey | null} survey @param {Conditions[]} conditions In order. */
  constructor(survey, conditions) {
    this.conditions = conditions;
    const { temperature_c: celsius = null, pressure_kpa: kpa = null } = survey ?? {};
    /** @type {Air | null} */
    this.site = celsius === null || kpa === null ? null : { temperature_k: celsius + 273.15, pressure_kpa: kpa };
  }

  /** @param {FlowReading} reading @param {string[]} assumptions @returns {Air} */
  ofReading(reading, assumptions) {
    return this.from(reading, assumptions) ?? this.around(msOf(reading.at), assumptions);
  }

  /** @param {number} ms @param {string[]} assumptions @returns {Air} */
  around(ms, assumptions) {
    /** @type {Conditions | null} */
    let best = null;
    let away = Infinity;
    for (const record of this.conditions) {
      const far = Math.abs(msOf(record.at) - ms);
      if (far < away) [best, away] = [record, far];
    }
    const found = best && away <= STALE_H * 3600_000 ? this.from(best, assumptions) : null;
    return found ?? this.usual(assumptions);
  }

  /** @param {FlowReading | Conditions} record @param {string[]} assumptions @returns {Air | null} */
  from(record, assumptions) {
    const { temperature, pressure } = record;
    if (!temperature && !pressure) return null;
    const usual = temperature && pressure ? NTP : this.usual(assumptions);
    return {
      temperature_k: temperature ? toKelvin(temperature, record.temperature_unit) : usual.temperature_k,
      pressure_kpa: pressure ? toKpa(pressure, record.pressure_unit) : usual.pressure_kpa,
    };
  }

  /** @param {string[]} assumptions @returns {Air} */
  usual(assumptions) {
    assumptions.push(this.site ? USUAL : ASSUMED);
    return this.site ?? NTP;
  }
}
