/** Reading the pattern across the ports of a splitter after a run; as lapel.planning.port_pattern. A lead, not a proof. */

import { said, small } from '../said.js';
import { byCodePoint } from '../texts.js';

/** @typedef {import('../types.js').Diagnosis} Diagnosis */
/** @typedef {Record<string, number>} Flows */

/** Readings at the inlet below this share of before count as nothing drawn. */
const NOTHING_DRAWN = 0.1;

/** Likely causes behind inlet readings before and after; empty when every port is within tolerance.
 *  @param {Flows} before @param {Flows} after Of the same ports, before above 0. [L/min]
 *  @param {{pumpBefore?: number | null, pumpAfter?: number | null, tolerance?: number}} more @returns {Diagnosis[]} */
export function portPattern(before, after, more = {}) {
  const { pumpBefore = null, pumpAfter = null, tolerance = 0.05 } = more;
  const names = Object.keys(before).sort(byCodePoint);
  if (!names.length) return [];
  const change = Object.fromEntries(names.map((name) => [name, (after[name] ?? 0) / (before[name] ?? NaN) - 1]));
  const pump = pumpBefore === null || pumpAfter === null ? null : pumpAfter / pumpBefore - 1;
  const swapped = swappedPorts(names, before, after, tolerance);
  if (swapped) return [swapped];
  const of = (/** @type {string} */ name) => change[name] ?? 0;
  const nothing = names.filter((name) => of(name) <= NOTHING_DRAWN - 1);
  const down = names.filter((name) => NOTHING_DRAWN - 1 < of(name) && of(name) < -tolerance);
  const up = names.filter((name) => of(name) > tolerance);
  if (nothing.length === names.length && names.length > 1) return [allZero(nothing, pump, tolerance)];
  const found = nothing.map((name) => zero(name, pump, tolerance));
  if (names.length > 1 && down.length === names.length) found.push(allMoved('all down', down, change, tolerance));
  else if (names.length > 1 && up.length === names.length) found.push(allMoved('all up', up, change, tolerance));
  else found.push(...singlePorts(down, up, nothing, change));
  return found;
}

/** @param {number} a @param {number} b @param {number} share @returns {boolean} */
function isClose(a, b, share) {
  return Math.abs(a - b) <= share * Math.max(Math.abs(a), Math.abs(b));
}

/** Two ports whose readings have changed places, when neither could be taken for itself.
 *  @param {string[]} names @param {Flows} before @param {Flows} after @param {number} tolerance @returns {Diagnosis | null} */
function swappedPorts(names, before, after, tolerance) {
  for (const [place, first] of names.entries()) {
    for (const second of names.slice(place + 1)) {
      const [b1 = 0, b2 = 0, a1 = 0, a2 = 0] = [before[first], before[second], after[first], after[second]];
      if (!isClose(b1, b2, 2 * tolerance) && isClose(a1, b2, tolerance) && isClose(a2, b1, tolerance)) {
        const words = said(
          "Ports {first} and {second} read each other's flow: labels or tubes may have been swapped. " +
            'Settle which sampler sat on which port before anything is computed.',
          { first, second },
        );
        return diagnosis('swapped ports', [first, second], words, ['labels', 'tubes']);
      }
    }
  }
  return null;
}

/** @param {string} name @param {number | null} pump @param {number} tolerance @returns {Diagnosis} */
function zero(name, pump, tolerance) {
  if (pump !== null && Math.abs(pump) <= tolerance) {
    const words = said(
      "Port {port} draws nothing at its inlet while the pump's flow is unchanged: room air enters behind the tube. " +
        'Tube slipped off or hose leaks; the time it began is not known.',
      { port: name },
    );
    return diagnosis('leak behind the tube', [name], words, ['tube seat', 'hose']);
  }
  const words =
    pump === null
      ? said(
          'Port {port} draws nothing: tube or valve blocked, hose kinked. ' +
            "Read the flow on the pump's side: unchanged means a leak behind the tube.",
          { port: name },
        )
      : said('Port {port} draws nothing: tube or valve blocked, hose kinked.', { port: name });
  return diagnosis(pump === null ? 'nothing at the inlet' : 'port blocked', [name], words, ['tube', 'valve', 'hose']);
}

/** @param {string[]} names @param {number | null} pump @param {number} tolerance @returns {Diagnosis} */
function allZero(names, pump, tolerance) {
  if (pump !== null && Math.abs(pump) <= tolerance) {
    const words = said("No port draws and the pump's flow is unchanged: the line between splitter and pump is open.");
    return diagnosis('leak before the splitter', names, words, ['line to the pump']);
  }
  const words = said('No port draws: pump stopped, or the line between pump and splitter shut. One pump, all samples.');
  return diagnosis('pump stopped', names, words, ['pump', 'line to the pump']);
}

/** @param {string} kind @param {string[]} names @param {Flows} change @param {number} tolerance @returns {Diagnosis} */
function allMoved(kind, names, change, tolerance) {
  const changes = Object.values(change);
  const alike = Math.max(...changes) - Math.min(...changes) <= 2 * tolerance;
  const down = alike ? said('Every port reads lower by nearly the same share') : said('Every port reads lower');
  const up = alike ? said('Every port reads higher by nearly the same share') : said('Every port reads higher');
  const words = said(
    "{moved}: look at what they share, the controller's suction, the pump or its battery, and the meter with its " +
      'temperature and pressure, before any single tube.',
    {},
    { moved: kind === 'all down' ? down : up },
  );
  return diagnosis(kind, names, words, ['controller', 'pump', 'battery', 'meter']);
}

/** @param {string[]} down @param {string[]} up @param {string[]} nothing @param {Flows} change @returns {Diagnosis[]} */
function singlePorts(down, up, nothing, change) {
  const percent = (/** @type {string} */ name) => (100 * Math.abs(change[name] ?? 0)).toFixed(0);
  const found = down.map((name) => {
    const words = said(
      'Port {port} alone is down by {percent} %: its tube has gained resistance (wet, dusty, another type or lot) ' +
        'or its valve has moved.',
      { port: name, percent: percent(name) },
    );
    return diagnosis('one port down', [name], words, ['tube', 'valve']);
  });
  if (up.length && (down.length || nothing.length)) {
    const words = said(
      '{up} up while {down} down: the total is held, not the suction. Constant-flow mode, or a controller that sags.',
      {},
      { up: portsText(up), down: small(portsText([...down, ...nothing])) },
    );
    found.push(diagnosis('ports trade flow', up, words, ['pump mode', 'controller']));
  } else {
    found.push(
      ...up.map((name) => {
        const words = said(
          'Port {port} alone is up by {percent} %: its tube has lost resistance (other type, channelled, loose in the ' +
            'holder) or its valve has moved.',
          { port: name, percent: percent(name) },
        );
        return diagnosis('one port up', [name], words, ['tube', 'valve']);
      }),
    );
  }
  return found;
}

/** @param {string[]} names @returns {string} */
function portsText(names) {
  const listed = { names: names.join(', ') };
  return names.length === 1 ? said('Port {names}', listed) : said('Ports {names}', listed);
}

/** @param {string} pattern @param {string[]} ports @param {string} words @param {string[]} lookAt @returns {Diagnosis} */
function diagnosis(pattern, ports, words, lookAt) {
  return { pattern, ports, words, look_at: lookAt };
}
