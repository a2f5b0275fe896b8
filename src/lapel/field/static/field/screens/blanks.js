/** Blanks: opened where and when the samplers are, capped at once, and never a word on the label that they are blanks. */

import * as acts from './acts.js';
import { h } from './drawing.js';
import { button, choices, head, message } from './parts.js';
import { pad } from './pad.js';
import { cameraButton } from './scan.js';
import { lotsFor } from './fitting.js';
import { blanksNow } from '../now/trains.js';
import { timeText } from './telling.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */

/** The bar over the start screens: what stands open now, and what is to be opened. @param {Desk} desk @returns {Piece} */
export function blankBar(desk) {
  const open = Object.values(desk.view.day.blanks).filter(
    (one) => one.opened_at && !one.closed_at && desk.since(one.opened_at) < 24 * 60,
  );
  if (open.length > 0) {
    return h(
      'div',
      { class: 'blank-bar' },
      h(
        'p',
        null,
        say('blank.open', {
          codes: open.map((one) => one.blank).join(', '),
          time: timeText(open[0]?.opened_at ?? '', desk.zone),
        }),
      ),
      button(
        say('blank.cap', { n: open.length }),
        () =>
          desk.keep(
            open.map((one) => acts.blankClosed(one.blank)),
            say('blank.capped'),
          ),
        { key: 'cap' },
      ),
    );
  }
  const { due } = blanksNow(desk.view.day, desk.view.pack);
  return h(
    'div',
    { class: 'blank-bar' },
    due.length > 0 &&
      button(
        say('blank.open-due', { n: due.length }),
        () =>
          desk.keep(
            due.map((code) => openingOf(desk, code)),
            say('blank.opened', { codes: due.join(', ') }),
          ),
        { key: 'open-due', hint: due.join(' · ') },
      ),
    button(say('blank.title'), () => desk.go('blank'), { kind: 'quiet' }),
  );
}

/** @param {Desk} desk @param {string} code */
function openingOf(desk, code) {
  const known = desk.view.pack?.samplers.find((one) => one.code === code);
  const lots = lotsFor(desk.view.pack, known?.medium ?? '');
  return acts.blankOpened(
    code,
    'field',
    known?.medium ?? '',
    lots.length === 1 ? (lots[0]?.lot ?? '') : '',
    desk.place.place,
  );
}

/** Open another blank: its lot, its number, opened now. @param {Desk} desk @returns {Piece[]} */
export function blankScreen(desk) {
  const draft = desk.draft('blank', {
    lot: '',
    use: /** @type {'field' | 'media' | 'transport'} */ ('field'),
    text: '',
  });
  const media = desk.view.pack?.media ?? [];
  const lot = media.find((one) => one.lot === draft.lot);
  const codes = Object.keys(desk.view.day.runs).concat((desk.view.pack?.samplers ?? []).map((one) => one.code));
  const stem = /^(.*?)\d+$/.exec(codes[0] ?? '')?.[1] ?? 'B-';
  const taken = new Set([...codes, ...Object.keys(desk.view.day.blanks)]);
  const open = (/** @type {string} */ code) => {
    if (!lot) return desk.tell('care', say('blank.lot-first'));
    if (taken.has(code) && !desk.view.pack?.samplers.some((one) => one.code === code && !desk.view.day.runs[code]))
      return desk.tell('stop', say('fit.used', { code }));
    return desk.keep(
      [acts.blankOpened(code, draft.use, lot.medium, lot.lot, desk.place.place)],
      say('blank.opened', { codes: code }),
      () => desk.go('start'),
    );
  };
  desk.onScan = open;
  return [
    head(desk, say('blank.title'), { back: ['start'], under: say('blank.under') }),
    choices(
      say('lot'),
      media.map((one) => ({ value: one.lot, text: one.lot, hint: one.medium })),
      draft.lot,
      (chosen) => ((draft.lot = chosen), desk.redraw()),
      { wide: true },
    ),
    choices(
      say('blank.use'),
      [
        { value: 'field', text: say('blank.field'), hint: say('blank.field-hint') },
        { value: 'transport', text: say('blank.transport'), hint: say('blank.transport-hint') },
        { value: 'media', text: say('blank.media'), hint: say('blank.media-hint') },
      ],
      draft.use,
      (use) => ((draft.use = /** @type {typeof draft.use} */ (use)), desk.redraw()),
      { wide: true },
    ),
    message('plain', say('blank.method'), say('blank.method-do')),
    h('p', { class: 'scan-line', role: 'status' }, say('blank.scan')),
    cameraButton(desk, open),
    pad(desk, {
      draft,
      unit: `${stem}…`,
      label: say('blank.number'),
      point: false,
      word: say('blank.open-now'),
      keep: (text) => open(stem + text),
    }),
  ];
}
