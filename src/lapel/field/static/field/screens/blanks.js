/** Blanks: opened where and when the samplers are, capped at once, and never a word on the label that they are blanks. */

import * as acts from './acts.js';
import { cameraButton } from './camera.js';
import { h } from './drawing.js';
import { button, choices, head, message } from './parts.js';
import { pad } from './pad.js';
import { lotsFor, onlyLot } from './fitting.js';
import { blanksNow } from '../now/planned.js';
import { timeText } from './telling.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').PlannedBlank} PlannedBlank */

/** The bar over the start screens: what stands open now, and what is to be handled.
 *  @param {Desk} desk @param {string} [train] Only its blanks, on its own screen. @returns {Piece} */
export function blankBar(desk, train = '') {
  const left = blanksLeft(desk, { train });
  if (left || train) return left;
  return h(
    'div',
    { class: 'blank-bar' },
    button(say('blank.title'), () => desk.go('blank'), { kind: 'quiet' }),
  );
}

/** Blanks that stand open, else those of the day nobody has handled; nothing where there is none.
 *  @param {Desk} desk @param {{train?: string, isAside?: boolean}} [which] Those of one train; on a screen about something
 *  else. @returns {Piece} */
export function blanksLeft(desk, { train = '', isAside = false } = {}) {
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
  const due = blanksNow(desk.view.day, desk.view.pack, desk.dayNow).due.filter((one) => !train || one.train === train);
  if (due.length === 0) return null;
  const kind = isAside ? 'quiet' : 'main';
  return h(
    'div',
    { class: 'blank-bar' },
    h('p', null, train ? say('blank.with-train', { n: due.length }) : say('blank.due', { n: due.length })),
    [...new Set(due.map((one) => one.train))].flatMap((code) =>
      [true, false].map((opened) =>
        handledButton(
          desk,
          due.filter((one) => one.train === code && one.opened === opened),
          kind,
        ),
      ),
    ),
    !train && !isAside && button(say('blank.title'), () => desk.go('blank'), { kind: 'quiet' }),
  );
}

/** Blanks of one train, all opened or all kept capped; nothing where there are none.
 *  @param {Desk} desk @param {PlannedBlank[]} blanks @param {'main' | 'quiet'} kind @returns {Piece} */
function handledButton(desk, blanks, kind) {
  const [first] = blanks;
  if (!first) return null;
  return button(
    say(first.opened ? 'blank.open-due' : 'blank.stayed-capped', { n: blanks.length }),
    () =>
      desk.keep(
        blanks.flatMap((one) => handlingOf(desk, one)),
        keptWords(blanks),
      ),
    { key: `${first.opened ? 'open' : 'capped'} ${first.train}`, kind, hint: namesOf(blanks) },
  );
}

/** @param {PlannedBlank[]} blanks All opened or all kept capped. */
const keptWords = (blanks) =>
  say(blanks[0]?.opened ? 'blank.opened' : 'blank.kept-capped', { codes: blanks.map((one) => one.code).join(', ') });

/** As in “T1: M26-0002 (charcoal 100/50, CH-8120)”. @param {PlannedBlank[]} blanks */
function namesOf(blanks) {
  const named = blanks.map(({ code, medium, lot }) => {
    const what = [medium, lot].filter(Boolean).join(', ');
    return what ? `${code} (${what})` : code;
  });
  const train = blanks[0]?.train ? `${blanks[0].train}: ` : '';
  return train + named.join(' · ');
}

/** What is done with a blank: opened now, or kept capped as its method wants. @param {Desk} desk @param {PlannedBlank} blank */
function handlingOf(desk, blank) {
  if (!blank.opened) return acts.blankKeptCapped(blank, desk.place.place);
  const { code, medium, lot } = blank;
  return [
    acts.blankOpened(code, 'field', medium, lot || onlyLot(lotsFor(desk.view.pack, medium)), desk.place.place),
  ];
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
    const planned = desk.view.pack?.blanks?.find((one) => one.code === code && !desk.view.day.blanks[code]);
    if (planned) {
      return desk.keep(handlingOf(desk, planned), keptWords([planned]), () => desk.go('start'));
    }
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
