/** Taking readings, port after port: the same screen for setting, for the closing round, for checks and afterwards. */

import * as acts from './acts.js';
import { benchFirst } from './bench.js';
import { h } from './drawing.js';
import { pad } from './pad.js';
import { chip, choices, levelOf, shape } from './parts.js';

import { changeText, flowText, percentText } from './telling.js';
import { say } from './words.js';
import { readingLpm } from '../numbers/flow.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').TrainNow} TrainNow */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').FlowReading} FlowReading */

/** How far from the wanted flow a port is still called set; a judgement of ours, and it voids nothing. */
export const SET_WITHIN = 0.1;

/** Readings of this port in the open round of a phase. @param {PortNow} port @param {string} phase @returns {FlowReading[]} */
export function readingsSoFar(port, phase) {
  if (phase === 'closing') return port.pending;
  if (phase === 'post') return port.post_pending;
  return phase === 'setting' ? port.setting : [];
}

/** The last reading of a port in one of some phases. @param {Desk} desk @param {TrainNow} train @param {string} port
 *  @param {string[]} phases @returns {FlowReading | undefined} */
export function lastReading(desk, train, port, phases) {
  const readings = desk.view.day.trains[train.code]?.preparations[train.preparation]?.readings ?? [];
  return readings.findLast((one) => one.port === port && phases.includes(one.phase));
}

/** @param {Desk} desk @param {TrainNow} train @param {PortNow} port */
export function unitOf(desk, train, port) {
  const last = lastReading(desk, train, port.port, ['setting', 'closing', 'check', 'post']);
  return last?.unit || port.target_text.split(' ').slice(1).join(' ') || 'mL/min';
}

/** The text the near keys lie around: what this port read last, else what it is wanted to read.
 *  @param {Desk} desk @param {TrainNow} train @param {PortNow} port @param {string} phase */
function nearOf(desk, train, port, phase) {
  const order = {
    setting: ['setting', 'closing'],
    closing: ['setting', 'closing'],
    check: ['check', 'closing'],
    post: ['post', 'check', 'closing'],
  };
  const last = lastReading(desk, train, port.port, order[/** @type {keyof typeof order} */ (phase)]);
  if (last?.reading) return last.reading;
  const wanted = port.target_text.split(' ')[0] ?? '';
  if (!/^\d+(\.\d+)?$/.test(wanted)) return '';
  const unit = unitOf(desk, train, port);
  const same = desk.view.entries.findLast(
    (one) => one.kind === 'flow_read' && one.fields.unit === unit && one.fields.meter === desk.place.meter,
  );
  const decimals = (same?.fields.reading?.split('.')[1] ?? wanted.split('.')[1] ?? '').length;
  return Number(wanted).toFixed(decimals);
}

/** Whether the newest reading lies where the port should be. @param {Desk} desk @param {PortNow} port @param {FlowReading} reading */
export function isSet(desk, port, reading) {
  const lpm = lpmOf(desk, reading);
  if (lpm === null) return true;
  const { low_lpm: low, high_lpm: high } = port.window;
  if ((low !== null && lpm < low) || (high !== null && lpm > high)) return false;
  return port.target_lpm === null || Math.abs(lpm / port.target_lpm - 1) <= SET_WITHIN;
}

/** @param {Desk} desk @param {FlowReading} reading @returns {number | null} */
function lpmOf(desk, reading) {
  const meter = desk.view.pack?.meters.find((one) => one.code === reading.meter) ?? null;
  return readingLpm(reading, meter).lpm;
}

/** The screen of one phase: which port, what it read, the pad.
 *  @param {Desk} desk @param {TrainNow} train
 *  @param {{phase: 'setting' | 'closing' | 'check' | 'post', ports: PortNow[], wanted: number, done?: (port: PortNow) => boolean}} given
 *  @returns {Piece[]} */
export function takeReadings(desk, train, { phase, ports, wanted, done }) {
  const bench = benchFirst(desk);
  if (bench) return bench;
  const isDone = done ?? ((port) => readingsSoFar(port, phase).length >= wanted);
  const draft = desk.draft(`read/${train.code}/${train.preparation}/${phase}`, { text: '', port: '', volume: '100' });
  const port =
    ports.find((one) => one.port === draft.port) ??
    ports.find((one) => !isDone(one)) ??
    /** @type {PortNow} */ (ports[0]);
  const unit = unitOf(desk, train, port);
  const meter = desk.view.pack?.meters.find((one) => one.code === desk.place.meter);
  const timed = meter?.kind === 'burette';
  const keep = (/** @type {string} */ text) => {
    /** @type {Record<string, string>} */
    const read = timed ? { volume: draft.volume, volume_unit: 'mL', seconds: text } : { reading: text, unit };
    const act = acts.flowRead({ train: train.code, port: port.port, phase }, read, desk.place);
    const shown = timed ? `${draft.volume} mL / ${text} s` : `${text} ${unit}`;
    return desk.keep([act], say('read.kept', { port: port.port, reading: shown }), () =>
      afterwards(desk, train, port.port, phase, draft),
    );
  };
  return [
    h(
      'div',
      { class: 'ports', role: 'group', 'aria-label': say('read.which-port') },
      ports.map((one) =>
        portTab(
          one,
          one === port,
          readingsSoFar(one, phase).length,
          wanted,
          isDone(one),
          () => ((draft.port = one.port), (draft.text = ''), desk.redraw()),
        ),
      ),
    ),
    h(
      'div',
      { class: 'reading' },
      h(
        'div',
        { class: 'reading-facts' },
        h(
          'p',
          { class: 'about-port' },
          h('strong', null, say('port', { port: port.port })),
          ' ',
          [port.medium, port.lot].filter(Boolean).join(' · '),
        ),
        h('p', { class: 'about-port' }, wantedText(port, unit)),
        readSoFar(desk, port, phase),
        meter && h('p', { class: 'with-meter' }, say('read.with', { meter: meter.code })),
      ),
      timed &&
        choices(
          say('read.volume'),
          ['10', '50', '100', '500'].map((ml) => ({ value: ml, text: `${ml} mL` })),
          draft.volume,
          (ml) => ((draft.volume = ml), desk.redraw()),
        ),
      pad(desk, {
        draft,
        unit: timed ? 's' : unit,
        label: say(timed ? 'read.seconds' : 'read.flow', { port: port.port }),
        near: timed ? '' : nearOf(desk, train, port, phase),
        keep,
      }),
    ),
  ];
}

/** @param {PortNow} port @param {boolean} here @param {number} count @param {number} wanted @param {boolean} done @param {() => void} choose */
function portTab(port, here, count, wanted, done, choose) {
  const read = say('read.count', { n: count, wanted });
  return h(
    'button',
    {
      type: 'button',
      class: 'port-tab',
      key: port.port,
      'aria-pressed': String(here),
      'aria-label': `${say('port', { port: port.port })}, ${read}`,
      on: { click: choose },
    },
    h('span', { class: 'port-letter' }, port.port),
    h(
      'span',
      { class: 'dots', 'aria-hidden': 'true' },
      done
        ? shape('good')
        : Array.from({ length: Math.max(wanted, count) }, (_, index) =>
            h('i', { class: index < count ? 'dot full' : 'dot' }),
          ),
    ),
  );
}

/** @param {PortNow} port @param {string} unit */
function wantedText(port, unit) {
  const { low_lpm: low, high_lpm: high } = port.window;
  const window =
    low !== null && high !== null
      ? say('read.window', { low: flowText(low, unit).replace(`\u00a0${unit}`, ''), high: flowText(high, unit) })
      : '';
  return [port.target_text && say('read.target', { target: port.target_text }), window].filter(Boolean).join(' · ');
}

/** @param {Desk} desk @param {PortNow} port @param {string} phase @returns {Piece} */
function readSoFar(desk, port, phase) {
  const readings = readingsSoFar(port, phase);
  const last = readings.at(-1);
  const spread = phase === 'closing' ? port.pending_spread : null;
  const flow = phase === 'closing' ? port.pending_flow : null;
  const off = last !== undefined && phase !== 'post' && !isSet(desk, port, last);
  return h(
    'div',
    { class: 'so-far', 'aria-live': 'polite' },
    readings.map((one) =>
      h(
        'span',
        { class: 'one-reading', key: one.entry_id },
        one.reading || `${one.volume} ${one.volume_unit} / ${one.seconds} s`,
      ),
    ),
    flow &&
      flow.n > 1 &&
      spread &&
      chip(levelOf(spread.effect), say('read.spread', { spread: percentText(flow.spread) })),
    off && chip('care', say(phase === 'setting' ? 'read.turn' : 'read.off')),
    phase === 'post' &&
      last &&
      port.change !== null &&
      port.change_tier &&
      chip(levelOf(port.change_tier.effect), say('read.change', { change: changeText(port.change) })),
  );
}

/** After a reading is on disk: say at once when it is not where it should be.
 *  @param {Desk} desk @param {TrainNow} train @param {string} letter @param {string} phase @param {Record<string, any>} draft */
function afterwards(desk, train, letter, phase, draft) {
  draft.port = '';
  const port = desk.train(train.code)?.ports.find((one) => one.port === letter);
  const last = port && readingsSoFar(port, phase).at(-1);
  if (!port || !last) return;
  const told = desk.told?.entries ?? [];
  if (phase === 'closing' && port.pending_spread && levelOf(port.pending_spread.effect) === 'care') {
    desk.told = { level: 'care', words: say('read.disagree', { port: letter }), entries: told, more: [] };
    navigator.vibrate?.([70, 60, 70]);
  } else if ((phase === 'setting' || phase === 'closing') && !isSet(desk, port, last)) {
    desk.told = {
      level: 'care',
      words: say('read.not-there', { port: letter, reading: last.reading, unit: last.unit }),
      entries: told,
      more: [],
    };
    navigator.vibrate?.([70, 60, 70]);
  } else if (phase === 'post' && port.change_tier?.effect) {
    desk.told = {
      level: levelOf(port.change_tier.effect) === 'stop' ? 'stop' : 'care',
      words: say('read.changed', { port: letter, change: changeText(port.change ?? 0) }),
      entries: told,
      more: [],
    };
    navigator.vibrate?.([220, 90, 220]);
  }
}

/** @param {Desk} desk */
export function readingsWanted(desk) {
  return desk.place.readings;
}
