/** The first step: pump and holder in hand, warm, charged. One question after the other; the last answer records it. */

import { instantText, offsetMinutes } from '../instants.js';
import * as acts from './acts.js';
import { h } from './drawing.js';
import { kitDifferences, scanKitSheet } from './kit_sheet.js';
import { pad } from './pad.js';
import { button, choices, message } from './parts.js';
import { keepPlace } from './place.js';
import { pumpAndHolder } from './pump_and_holder.js';
import { dayTimeText, spanText } from './telling.js';
import { say } from './words.js';
import { saidOf } from '../now/kit.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').TrainNow} TrainNow */

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
export function pumpStep(desk, train) {
  const draft = desk.draft(`pump/${train.code}`, {
    pump: train.pump,
    splitter: train.splitter,
    sure: false,
    other: false,
    warm: '',
    warming: 0,
    charged: '',
    typing: '',
    text: '',
    day: 'yesterday',
  });
  if (draft.typing === 'charged') return chargeByPad(desk, draft);
  if (draft.typing === 'warm') return warmByPad(desk, draft);
  if (!draft.sure) return whichPump(desk, train, draft);
  if (!draft.warm) return howWarm(desk, draft);
  if (!draft.charged) return whenCharged(desk, draft);
  return whatBattery(desk, train, draft);
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @returns {Piece[]} */
function whichPump(desk, train, draft) {
  const pack = desk.view.pack;
  const pump = pack?.pumps.find((one) => one.code === draft.pump);
  const splitter = pack?.splitters.find((one) => one.code === draft.splitter);
  desk.onScan = (text) => scanKitSheet(desk, train, text);
  if (draft.other || !draft.pump) {
    return [
      ...pumpAndHolder(desk, draft),
      button(say('pump.these'), () => ((draft.other = false), (draft.sure = true), desk.redraw()), {
        off: !draft.pump,
      }),
    ];
  }
  return [
    h('p', { class: 'asked' }, say('pump.in-hand')),
    h(
      'p',
      { class: 'great-code' },
      draft.pump,
      draft.splitter && h('small', null, say('pump.in-holder', { splitter: draft.splitter })),
    ),
    pump?.service_due_on &&
      pump.service_due_on < instantText(desk.now, desk.zone).slice(0, 10) &&
      message('care', say('pump.service-over', { day: pump.service_due_on })),
    pump && !pump.area_certificate && h('p', { class: 'under' }, say('pump.no-certificate')),
    splitter?.total_max_lpm && totalOver(train, splitter.total_max_lpm) && message('care', say('pump.too-much')),
    h(
      'div',
      { class: 'pair tall' },
      button(say('pump.other'), () => ((draft.other = true), desk.redraw()), { kind: 'quiet' }),
      button(say('pump.these'), () => ((draft.sure = true), desk.redraw())),
    ),
    button(say('kit.title'), () => desk.go('kit', train.code), { kind: 'quiet', hint: kitHint(desk, train) }),
  ];
}

/** How far the kit sheet is in, and whether it agrees. @param {Desk} desk @param {TrainNow} train */
function kitHint(desk, train) {
  const said = train.ports.filter((port) => saidOf(desk.view.day, train, port.port));
  if (said.length === 0) return say('kit.hint');
  const differ = said.filter((port) => kitDifferences(desk, train, port).length > 0).length;
  return say(differ ? 'kit.hint-differs' : 'kit.hint-agrees', { n: said.length, differ });
}

/** @param {TrainNow} train @param {number} most */
function totalOver(train, most) {
  return train.ports.reduce((sum, port) => sum + (port.target_lpm ?? 0), 0) > most;
}

/** @param {Desk} desk @param {Record<string, any>} draft @returns {Piece[]} */
function howWarm(desk, draft) {
  const wanted = desk.view.pack?.rules.rules.warm_up?.tiers[0]?.value ?? 5;
  const ran = draft.warming ? Math.floor((desk.now - draft.warming) / 60000) : -1;
  const answers = ran >= wanted ? [String(ran)] : ['5', '10', '15'];
  return [
    choices(
      say('pump.warm'),
      [
        ...answers.map((n) => ({ value: n, text: say('span.minutes', { n: Number(n) }) })),
        { value: 'pad', text: say('other') },
      ],
      draft.warm,
      (n) => {
        if (n === 'pad') draft.typing = 'warm';
        else draft.warm = n;
        desk.redraw();
      },
    ),
    h('p', { class: 'under' }, say('pump.warm-wanted', { n: wanted })),
    ran >= 0
      ? message(
          ran >= wanted ? 'good' : 'plain',
          ran >= wanted ? say('pump.is-warm') : say('pump.warming', { span: spanText(wanted - ran) }),
        )
      : button(say('pump.switched-on'), () => ((draft.warming = desk.now), desk.redraw()), { kind: 'quiet' }),
  ];
}

/** @param {Desk} desk @param {Record<string, any>} draft @returns {Piece[]} */
function warmByPad(desk, draft) {
  return [
    h('p', { class: 'asked' }, say('pump.warm')),
    pad(desk, {
      draft,
      unit: 'min',
      label: say('pump.warm'),
      point: false,
      keep: (text) => ((draft.warm = text), (draft.typing = ''), desk.redraw()),
    }),
  ];
}

/** @param {Desk} desk @param {Record<string, any>} draft @returns {Piece[]} */
function whenCharged(desk, draft) {
  const { place, zone, now } = desk;
  const known = place.charged_at
    ? [{ value: place.charged_at, text: dayTimeText(place.charged_at, zone, now), hint: say('pump.as-before') }]
    : [];
  return [
    choices(
      say('pump.charged'),
      [...known, { value: 'pad', text: say('pump.other-time') }, { value: 'unknown', text: say('pump.not-known') }],
      draft.charged,
      (value) => {
        if (value === 'pad') draft.typing = 'charged';
        else draft.charged = value;
        desk.redraw();
      },
      { wide: true },
    ),
  ];
}

/** @param {Desk} desk @param {Record<string, any>} draft @returns {Piece[]} */
function chargeByPad(desk, draft) {
  const shown = draft.text.padEnd(4, '–');
  return [
    choices(
      say('pump.charged-day'),
      [
        { value: 'yesterday', text: say('yesterday') },
        { value: 'today', text: say('today') },
      ],
      draft.day,
      (day) => ((draft.day = day), desk.redraw()),
    ),
    h('p', { class: 'asked' }, say('pump.charged-at', { time: `${shown.slice(0, 2)}:${shown.slice(2, 4)}` })),
    pad(desk, {
      draft,
      unit: say('pump.hhmm'),
      label: say('pump.charged'),
      point: false,
      keep: (text) => {
        const at = wallInstant(desk, text, draft.day);
        if (!at) return desk.tell('care', say('pump.no-such-time', { text }));
        draft.charged = at;
        draft.typing = '';
        keepPlace({ charged_at: at });
        desk.redraw();
      },
    }),
  ];
}

/** An instant of the wall clock, today or the day before; never ahead of now. @param {Desk} desk @param {string} text
 *  @param {string} day @returns {string} Empty where there is none. */
function wallInstant(desk, text, day) {
  const found = /^(\d{1,2})(\d{2})$/.exec(text);
  if (!found || Number(found[1]) > 23 || Number(found[2]) > 59) return '';
  const base = instantText(desk.now - (day === 'yesterday' ? 86400000 : 0), desk.zone).slice(0, 10);
  const wall = Date.parse(`${base}T${(found[1] ?? '').padStart(2, '0')}:${found[2]}:00Z`);
  const ms = wall - offsetMinutes(wall, desk.zone) * 60000;
  return ms > desk.now ? '' : instantText(ms, desk.zone);
}

/** @param {Desk} desk @param {TrainNow} train @param {Record<string, any>} draft @returns {Piece[]} */
function whatBattery(desk, train, draft) {
  const keep = (/** @type {string} */ battery) => {
    if (draft.charged !== 'unknown') keepPlace({ charged_at: draft.charged });
    const given = {
      train: train.code,
      pump: draft.pump,
      splitter: draft.splitter,
      warm_up_min: draft.warm,
      charged_at: draft.charged === 'unknown' ? '' : draft.charged,
      battery: battery === 'none' ? '' : battery,
      place: desk.place.place,
    };
    desk.keep([acts.trainPrepared(given)], say('pump.kept', { train: train.code }), () => {
      desk.forget(`pump/${train.code}`);
      desk.go('prepare', train.code);
    });
  };
  return [
    choices(
      say('pump.battery'),
      [
        { value: 'full', text: say('pump.full') },
        { value: 'three quarters', text: say('pump.most') },
        { value: 'half or less', text: say('pump.half') },
        { value: 'none', text: say('pump.shows-nothing') },
      ],
      '',
      keep,
    ),
    h('p', { class: 'under' }, say('pump.under-load')),
  ];
}
