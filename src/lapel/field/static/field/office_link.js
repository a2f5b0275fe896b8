/** What the page says to the office and hears from it, over HTTP; the device's key authenticates, no cookie goes along. */

import { said } from './said.js';

/** @typedef {import('./types.js').Entry} Entry */
/** @typedef {import('./types.js').EntryProblem} EntryProblem */
/** @typedef {import('./types.js').Pack} Pack */
/** @typedef {import('./types.js').SurveyName} SurveyName */

/**
 * @typedef {object} DeviceAnswer
 * @property {string} code
 * @property {string} name
 * @property {string} site
 * @property {string} zone
 * @property {number} last_sequence
 * @property {string} last_hash
 * @property {SurveyName[]} surveys
 *
 * @typedef {object} DeliveryAnswer
 * @property {string} received_at
 * @property {number | null} clock_ahead_s
 * @property {string[]} confirmed
 * @property {Record<string, number>} receipts
 * @property {Record<string, {number: number, problems: EntryProblem[], kept_receipt: number | null}>} refused
 *
 * @typedef {object} DayAnswer
 * @property {number} last_receipt
 * @property {boolean} more
 * @property {{receipt: number, entry: Entry}[]} entries
 */

/** Seconds without an answer after which the office counts as unreachable. */
const PATIENCE_S = 15;

/** The office did not take it: not reached (`status` 0), or answered with words. */
export class OfficeProblem extends Error {
  /** @param {number} status @param {string} words @param {number} retryAfterS */
  constructor(status, words, retryAfterS = 0) {
    super(words);
    this.name = 'OfficeProblem';
    this.status = status;
    this.words = words;
    this.retryAfterS = retryAfterS;
  }

  /** Whether the key opens nothing any longer. */
  get isTurnedAway() {
    return this.status === 401 || this.status === 403;
  }
}

export class OfficeLink {
  /** @param {() => string} key The device's key. @param {() => number} now @param {string} base */
  constructor(key, now, base = '/api/v1/') {
    this.key = key;
    this.now = now;
    this.base = base;
    /** @type {(aheadS: number) => void} */
    this.heardClock = () => {};
  }

  /** @param {string} code @returns {Promise<{key: string, device: DeviceAnswer}>} */
  async pair(code) {
    return (await this.ask('pair', { body: { code } })).json();
  }

  /** @param {number} lastMade @param {string} sentAt @returns {Promise<DeviceAnswer>} */
  async whoAmI(lastMade, sentAt) {
    const query = new URLSearchParams({ last_made: String(lastMade), sent_at: sentAt });
    return (await this.ask(`device?${query}`)).json();
  }

  /** @param {string} survey @param {Entry[]} entries @param {number} lastMade @param {string} sentAt
   *  @returns {Promise<DeliveryAnswer>} */
  async deliver(survey, entries, lastMade, sentAt) {
    const body = { survey, sent_at: sentAt, last_made: lastMade, entries };
    return (await this.ask('entries', { body })).json();
  }

  /** @param {string} survey @param {number} after @returns {Promise<DayAnswer>} */
  async day(survey, after) {
    return (await this.ask(`day/${address(survey)}?after=${after}`)).json();
  }

  /** The day pack; null where it is still the one with this hash.
   *  @param {string} survey @param {string} hash @returns {Promise<Pack | null>} */
  async pack(survey, hash) {
    const known = hash ? `?known=${hash}` : '';
    const response = await this.ask(`pack/${address(survey)}${known}`);
    return response.status === 204 ? null : response.json();
  }

  /** @param {string} path @param {{body?: unknown}} more @returns {Promise<Response>} */
  async ask(path, more = {}) {
    /** @type {Record<string, string>} */
    const headers = { Accept: 'application/json' };
    const key = this.key();
    if (key && path !== 'pair') headers['Authorization'] = `Bearer ${key}`;
    /** @type {RequestInit} */
    const request = {
      headers,
      credentials: 'omit',
      cache: 'no-store',
      redirect: 'error',
      signal: AbortSignal.timeout(PATIENCE_S * 1000),
    };
    if (more.body !== undefined) {
      request.method = 'POST';
      request.body = JSON.stringify(more.body);
      headers['Content-Type'] = 'application/json';
    }
    const asked = this.now();
    let response;
    try {
      response = await fetch(this.base + path, request);
    } catch {
      throw new OfficeProblem(0, said('The office cannot be reached. Everything stays on this device until it can.'));
    }
    this.measureClock(response, asked);
    if (!response.ok) throw await problemOf(response);
    return response;
  }

  /** The office's clock by its answer, to about a second: half the way there and back, half of the last digit.
   *  @param {Response} response @param {number} asked */
  measureClock(response, asked) {
    const office = Date.parse(response.headers.get('Date') ?? '');
    const heard = this.now();
    if (Number.isFinite(office) && heard >= asked && heard - asked < 5000) {
      this.heardClock(((asked + heard) / 2 - office - 500) / 1000);
    }
  }
}

/** A survey's code as a path; its slashes stay slashes. @param {string} survey @returns {string} */
function address(survey) {
  return survey.split('/').map(encodeURIComponent).join('/');
}

/** @param {Response} response @returns {Promise<OfficeProblem>} */
async function problemOf(response) {
  const { status } = response;
  let words = said('The office answered {status}. Everything stays on this device.', { status });
  try {
    const { detail } = await response.json();
    if (typeof detail === 'string') words = detail;
  } catch {
    // no words came along; the status says it
  }
  return new OfficeProblem(status, words, Number(response.headers.get('Retry-After')) || 0);
}
