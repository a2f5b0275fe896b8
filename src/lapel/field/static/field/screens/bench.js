/** The bench: which meter is in hand, the air it reads in, how many readings a port gets. Asked once, carried on. */

import { instantText } from '../instants.js';
import * as acts from './acts.js';
import { h } from './drawing.js';
import { pad } from './pad.js';
import { button, choices, facts, head, list, message } from './parts.js';
import { keepPlace, placeLacks } from './place.js';
import { dayTimeText } from './telling.js';
import { say, tell } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */

/** The questions of the bench in the order they are asked. */
const AIR = /** @type {const} */ ([
  ['temperature', 'bench.temperature', 'temperature_unit', ['°C', '°F']],
  ['pressure', 'bench.pressure', 'pressure_unit', ['kPa', 'hPa', 'mmHg']],
  ['humidity_percent', 'bench.humidity', '', []],
]);

/** What of the bench is still to be asked before a reading can be taken; nothing when all is known.
 *  @param {Desk} desk @returns {Piece[] | null} */
export function benchFirst(desk) {
  const lacks = placeLacks(desk.place, desk.now);
  if (!lacks) return null;
  return lacks === 'meter' ? meterQuestion(desk) : airQuestion(desk, lacks === 'old air');
}

/** @param {Desk} desk @returns {Piece[]} */
export function meterQuestion(desk) {
  const meters = desk.view.pack?.meters ?? [];
  const today = instantText(desk.now, desk.zone).slice(0, 10);
  return [
    choices(
      say('bench.meter'),
      meters.map((meter) => {
        const over = meter.due_on && meter.due_on < today;
        const until = over ? say('bench.certificate-over', { day: meter.due_on }) : meter.due_on;
        return { value: meter.code, text: meter.code, hint: [tell(meter.kind), until].filter(Boolean).join(' · ') };
      }),
      desk.place.meter,
      (code) => {
        const meter = meters.find((one) => one.code === code);
        keepPlace({ meter: code, basis: meter?.reads === 'standard' ? 'standard' : 'actual' });
        desk.redraw();
      },
      { wide: true },
    ),
    meters.length === 0 && message('care', say('bench.no-meters'), say('bench.no-meters-do')),
  ];
}

/** @param {Desk} desk @param {boolean} old @returns {Piece[]} */
export function airQuestion(desk, old) {
  const draft = desk.draft('air', { at: 0, text: '', values: /** @type {Record<string, string>} */ ({}) });
  const step = AIR[draft.at] ?? AIR[0];
  const [name, question, unitName, units] = step;
  const { place } = desk;
  const unit = unitName ? place[unitName] : '%';
  const answered = async (/** @type {string} */ text) => {
    draft.values[name] = text;
    draft.at += 1;
    if (draft.at < AIR.length) return desk.redraw();
    const next = keepPlace({ ...draft.values, air_at: new Date(desk.now).toISOString() });
    desk.forget('air');
    await desk.keep([acts.airRead(next)], say('bench.air-kept'));
  };
  const last = place[name];
  return [
    h('p', { class: 'asked' }, say(question)),
    old &&
      draft.at === 0 &&
      h('p', { class: 'under' }, say('bench.air-old', { time: dayTimeText(place.air_at, desk.zone, desk.now) })),
    units.length > 0 &&
      choices(
        say('unit'),
        units.map((one) => ({ value: one, text: one })),
        unit,
        (chosen) => {
          keepPlace({ [unitName]: chosen });
          desk.redraw();
        },
      ),
    pad(desk, {
      draft,
      unit,
      label: say(question),
      near: last,
      allowEmpty: name === 'humidity_percent',
      word: name === 'humidity_percent' && draft.text === '' ? say('bench.not-measured') : say('keep'),
      keep: answered,
    }),
  ];
}

/** The screen that shows and changes all of it. @param {Desk} desk @returns {Piece[]} */
export function benchScreen(desk) {
  const { place } = desk;
  const asked = desk.draft('bench', { ask: '', meter: '', air_at: '' });
  const ask = (/** @type {string} */ what) => () => {
    asked.ask = what;
    desk.redraw();
  };
  const back = asked.ask ? ['bench'] : ['more'];
  if (asked.ask === 'meter' && place.meter !== asked.meter) {
    asked.ask = '';
    asked.meter = '';
  }
  if (asked.ask === 'air' && place.air_at !== asked.air_at) asked.ask = '';
  if (asked.ask === 'meter') {
    return [headBack(desk, say('bench.title'), asked), ...meterQuestion(desk)];
  }
  if (asked.ask === 'air') return [headBack(desk, say('bench.title'), asked), ...airQuestion(desk, false)];
  const places = [...new Set([place.place, ...desk.view.day.conditions.map((one) => one.place)].filter(Boolean))];
  return [
    head(desk, say('bench.title'), { back, under: say('bench.under') }),
    facts([
      [say('bench.meter-short'), place.meter || say('not.chosen')],
      [
        say('bench.air'),
        place.temperature
          ? `${place.temperature} ${place.temperature_unit}, ${place.pressure} ${place.pressure_unit}${place.humidity_percent ? `, ${place.humidity_percent} %` : ''}`
          : say('not.read'),
      ],
      [say('bench.air-at'), place.air_at ? dayTimeText(place.air_at, desk.zone, desk.now) : '–'],
    ]),
    h(
      'div',
      { class: 'pair' },
      button(say('bench.change-meter'), () => ((asked.meter = place.meter), ask('meter')()), { kind: 'quiet' }),
      button(say('bench.read-air'), () => ((asked.air_at = place.air_at), ask('air')()), { kind: 'quiet' }),
    ),
    choices(
      say('bench.readings'),
      ['2', '3', '5'].map((n) => ({ value: n, text: n })),
      String(place.readings),
      (n) => {
        keepPlace({ readings: Number(n) });
        desk.redraw();
      },
    ),
    places.length > 1
      ? list(
          say('bench.place'),
          places.map((one) => ({ value: one, text: one })),
          place.place,
          (one) => (keepPlace({ place: one }), desk.redraw()),
          'place-known',
        )
      : null,
    placeBox(desk),
  ];
}

/** @param {Desk} desk */
function placeBox(desk) {
  return h(
    'div',
    { class: 'box' },
    h('label', { for: 'box-place' }, say('bench.place')),
    h('input', {
      id: 'box-place',
      type: 'text',
      autocomplete: 'off',
      value: desk.place.place,
      on: {
        input: (/** @type {Event} */ event) =>
          keepPlace({ place: /** @type {HTMLInputElement} */ (event.target).value }),
      },
    }),
  );
}

/** @param {Desk} desk @param {string} title @param {Record<string, any>} asked */
function headBack(desk, title, asked) {
  return h(
    'header',
    { class: 'head' },
    h(
      'button',
      {
        type: 'button',
        class: 'back',
        'aria-label': say('back'),
        on: { click: () => ((asked.ask = ''), desk.redraw()) },
      },
      h('svg', { viewBox: '0 0 20 20', class: 'shape', 'aria-hidden': 'true' }, h('path', { d: 'M13 3 6 10l7 7' })),
    ),
    h('div', { class: 'head-words' }, h('h1', { tabindex: '-1' }, title)),
  );
}
