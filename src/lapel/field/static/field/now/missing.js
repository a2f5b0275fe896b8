/** What a train still lacks before it may be started, in words; the office's preparation page asks the same. */

import { msOf } from '../instants.js';
import { limitOf, TARGET_SHARE } from '../numbers/verdict.js';

/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').Preparation} Preparation */
/** @typedef {import('./ports.js').Around} Around */

/** @param {Preparation} preparation @param {PortNow[]} ports @param {Around} around @returns {string[]} */
export function stillMissing(preparation, ports, around) {
  return [...ofTheTrain(preparation, ports, around), ...ports.flatMap((port) => [...ofAPort(port, around)])];
}

/** @param {Preparation} preparation @param {PortNow[]} ports @param {Around} around @returns {Generator<string>} */
function* ofTheTrain(preparation, ports, { pack }) {
  if (!preparation.entry_id) {
    yield 'Nobody recorded how this train was put together.';
    return;
  }
  const rules = pack?.rules ?? null;
  const warmUp = limitOf('warm_up', rules);
  if (preparation.warm_up_min === null) yield 'Warm-up is not recorded.';
  else if (warmUp !== null && preparation.warm_up_min < warmUp) {
    yield `Warm-up of ${preparation.warm_up_min} min; at least ${warmUp} min is wanted.`;
  }
  const longest = limitOf('hours_since_charge', rules);
  if (preparation.charged_at === null) yield 'The last full charge is not recorded.';
  else if (longest !== null && preparation.at !== null) {
    const hours = (msOf(preparation.at) - msOf(preparation.charged_at)) / 3600_000;
    if (hours > longest) yield `Charged ${hours.toFixed(0)} h before; no more than ${longest} h is wanted.`;
  }
  if (!preparation.leak_checks.length) yield 'No leak check is recorded.';
  else if (leaksStill(preparation)) yield 'A leak check failed, and none passed after it.';
  const flows = ports.flatMap((port) => (port.closing && port.closing.mean_lpm > 0 ? [port.closing.mean_lpm] : []));
  const splitter = pack?.splitters.find((one) => one.code === preparation.splitter);
  const total = flows.reduce((sum, flow) => sum + flow, 0);
  if (splitter?.total_max_lpm && total > splitter.total_max_lpm) {
    yield `The ports draw ${flowText(total)} together; splitter ${splitter.code} takes ${flowText(splitter.total_max_lpm)}.`;
  }
  const ratio = limitOf('port_flow_ratio', rules);
  if (ratio !== null && flows.length > 1 && Math.max(...flows) > ratio * Math.min(...flows)) {
    const found = (Math.max(...flows) / Math.min(...flows)).toPrecision(2);
    yield `The largest port flow is ${found} times the smallest; no more than ${ratio} times is wanted.`;
  }
}

/** @param {Preparation} preparation @returns {boolean} */
function leaksStill(preparation) {
  const failed = preparation.leak_checks.filter((check) => !check.passed).at(-1);
  if (!failed) return false;
  return !preparation.leak_checks.some((check) => {
    return check.passed && msOf(check.at) > msOf(failed.at) && (check.port === '' || check.port === failed.port);
  });
}

/** @param {PortNow} port @param {Around} around @returns {Generator<string>} */
function* ofAPort(port, { pack, now }) {
  const where = `Port ${port.port}: `;
  if (!port.tube) yield `${where}no calibration tube is recorded.`;
  else if (!port.target_text) yield `${where}no wanted flow is recorded.`;
  if (!port.closing || !port.closing_stands) {
    yield `${where}not read in a closing round that stands. Read every port once more, with no valve touched.`;
    return;
  }
  const rules = pack?.rules ?? null;
  const { mean_lpm: lpm, n, spread, meters } = port.closing;
  const fewest = limitOf('replicate_count', rules);
  if (fewest !== null && n < fewest) yield `${where}${n} ${n === 1 ? 'reading' : 'readings'}; at least ${fewest} are wanted.`;
  const widest = limitOf('replicate_spread', rules);
  if (widest !== null && 100 * spread > widest) {
    yield `${where}the readings differ by ${(100 * spread).toFixed(1)} % of their mean; no more than ${widest} % is wanted.`;
  }
  const methods = (pack?.methods ?? []).filter((method) => port.methods.includes(method.code));
  const low = Math.max(...methods.flatMap((method) => method.flow_min_lpm ?? []));
  const high = Math.min(...methods.flatMap((method) => method.flow_max_lpm ?? []));
  if (lpm < low) yield `${where}${flowText(lpm)} is below the method's ${flowText(low)}.`;
  if (lpm > high) yield `${where}${flowText(lpm)} is above the method's ${flowText(high)}.`;
  if (port.target_lpm !== null && Math.abs(lpm - port.target_lpm) > TARGET_SHARE * port.target_lpm) {
    yield `${where}${flowText(lpm)} is more than a tenth away from the ${flowText(port.target_lpm)} wanted.`;
  }
  for (const code of meters) {
    const meter = pack?.meters.find((one) => one.code === code);
    if (pack && !meter) yield `${where}read with meter ${code}, which is not in the register.`;
    else if (meter && !meter.due_on) yield `${where}meter ${code} has no certificate date.`;
    else if (meter && msOf(`${meter.due_on}T23:59:59Z`) < now) {
      yield `${where}the certificate of meter ${code} ran out on ${meter.due_on}.`;
    }
  }
}

/** @param {number} lpm @returns {string} */
function flowText(lpm) {
  return lpm < 1 ? `${Number((1000 * lpm).toPrecision(3))} mL/min` : `${Number(lpm.toPrecision(3))} L/min`;
}
