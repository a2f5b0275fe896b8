/** What a train still lacks before it may be started, in words; the office's preparation page asks the same. */

import { msOf } from '../instants.js';
import { limitOf, TARGET_SHARE } from '../numbers/verdict.js';
import { said } from '../said.js';

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
    yield said('Nobody recorded how this train was put together.');
    return;
  }
  const rules = pack?.rules ?? null;
  const warmUp = limitOf('warm_up', rules);
  if (preparation.warm_up_min === null) yield said('Warm-up is not recorded.');
  else if (warmUp !== null && preparation.warm_up_min < warmUp) {
    yield said('Warm-up of {minutes} min; at least {least} min is wanted.', {
      minutes: preparation.warm_up_min,
      least: warmUp,
    });
  }
  const longest = limitOf('hours_since_charge', rules);
  if (preparation.charged_at === null) yield said('The last full charge is not recorded.');
  else if (longest !== null && preparation.at !== null) {
    const hours = (msOf(preparation.at) - msOf(preparation.charged_at)) / 3600_000;
    if (hours > longest) {
      yield said('Charged {hours} h before; no more than {most} h is wanted.', { hours: hours.toFixed(0), most: longest });
    }
  }
  if (!preparation.leak_checks.length) yield said('No leak check is recorded.');
  else if (leaksStill(preparation)) yield said('A leak check failed, and none passed after it.');
  const flows = ports.flatMap((port) => (port.closing && port.closing.mean_lpm > 0 ? [port.closing.mean_lpm] : []));
  const splitter = pack?.splitters.find((one) => one.code === preparation.splitter);
  const total = flows.reduce((sum, flow) => sum + flow, 0);
  if (splitter?.total_max_lpm && total > splitter.total_max_lpm) {
    yield said('The ports draw {flow} together; splitter {splitter} takes {most}.', {
      flow: flowText(total),
      splitter: splitter.code,
      most: flowText(splitter.total_max_lpm),
    });
  }
  const ratio = limitOf('port_flow_ratio', rules);
  if (ratio !== null && flows.length > 1 && Math.max(...flows) > ratio * Math.min(...flows)) {
    const found = (Math.max(...flows) / Math.min(...flows)).toPrecision(2);
    yield said('The largest port flow is {times} times the smallest; no more than {most} times is wanted.', {
      times: found,
      most: ratio,
    });
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
function* ofAPort(port, around) {
  for (const words of lackingOn(port, around)) yield said('Port {port}: {words}', { port: port.port }, { words });
}

/** @param {PortNow} port @param {Around} around @returns {Generator<string>} */
function* lackingOn(port, { pack, now }) {
  if (!port.tube) yield said('no calibration tube is recorded.');
  else if (!port.target_text) yield said('no wanted flow is recorded.');
  if (!port.closing || !port.closing_stands) {
    yield said('not read in a closing round that stands. Read every port once more, with no valve touched.');
    return;
  }
  const rules = pack?.rules ?? null;
  const { mean_lpm: lpm, n, spread, meters } = port.closing;
  const fewest = limitOf('replicate_count', rules);
  if (fewest !== null && n < fewest) {
    yield n === 1
      ? said('{n} reading; at least {least} are wanted.', { n, least: fewest })
      : said('{n} readings; at least {least} are wanted.', { n, least: fewest });
  }
  const widest = limitOf('replicate_spread', rules);
  if (widest !== null && 100 * spread > widest) {
    yield said('the readings differ by {spread} % of their mean; no more than {most} % is wanted.', {
      spread: (100 * spread).toFixed(1),
      most: widest,
    });
  }
  const methods = (pack?.methods ?? []).filter((method) => port.methods.includes(method.code));
  const low = Math.max(...methods.flatMap((method) => method.flow_min_lpm ?? []));
  const high = Math.min(...methods.flatMap((method) => method.flow_max_lpm ?? []));
  const flow = flowText(lpm);
  if (lpm < low) yield said("{flow} is below the method's {least}.", { flow, least: flowText(low) });
  if (lpm > high) yield said("{flow} is above the method's {most}.", { flow, most: flowText(high) });
  if (port.target_lpm !== null && Math.abs(lpm - port.target_lpm) > TARGET_SHARE * port.target_lpm) {
    yield said('{flow} is more than a tenth away from the {target} wanted.', { flow, target: flowText(port.target_lpm) });
  }
  for (const code of meters) {
    const meter = pack?.meters.find((one) => one.code === code);
    if (pack && !meter) yield said('read with meter {meter}, which is not in the register.', { meter: code });
    else if (meter && !meter.due_on) yield said('meter {meter} has no certificate date.', { meter: code });
    else if (meter && msOf(`${meter.due_on}T23:59:59Z`) < now) {
      yield said('the certificate of meter {meter} ran out on {day}.', { meter: code, day: meter.due_on });
    }
  }
}

/** @param {number} lpm @returns {string} */
function flowText(lpm) {
  return lpm < 1 ? `${Number((1000 * lpm).toPrecision(3))} mL/min` : `${Number(lpm.toPrecision(3))} L/min`;
}
