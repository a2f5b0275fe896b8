/** The kit sheet, typed or scanned port by port, each held against what the plan wants there. */

import * as acts from './acts.js';
import { h } from './drawing.js';
import { kitSheetOf, kitSheetText } from './kit_sheet.js';
import { pad } from './pad.js';
import { box, button, chip, facts, head, list, message } from './parts.js';
import { cameraButton } from './scan.js';
import { say } from './words.js';
import { fromLpm, toLpm } from '../numbers/units.js';
import { changeText, plainText } from './telling.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */

/** @param {Desk} desk @returns {Piece[]} */
export function kitScreen(desk) {
  const train = desk.train(desk.route[1]);
  if (!train) return [head(desk, say('kit.title'), { back: ['prepare'] })];
  const draft = desk.draft(`kit/${train.code}`, {
    port: '',
    typing: '',
    text: '',
    medium: '',
    catalogue: '',
    lot: '',
    intended: '',
    supplier: '',
    unit: 'mL/min',
  });
  const port = train.ports.find((one) => one.port === draft.port);
  if (!port) {
    return [
      head(desk, say('kit.of', { train: train.code }), { back: ['prepare', train.code], under: say('kit.under') }),
      h(
        'div',
        { class: 'rows' },
        train.ports.map((one) => {
          const sheet = kitSheetOf(desk.view.day, train.code, one.port);
          const agrees = sheet && sheet.medium === one.medium;
          return h(
            'button',
            {
              type: 'button',
              class: 'row',
              key: one.port,
              on: {
                click: () => {
                  Object.assign(draft, {
                    port: one.port,
                    medium: sheet?.medium || one.medium,
                    catalogue: sheet?.catalogue ?? '',
                    lot: sheet?.lot ?? '',
                    intended:
                      sheet?.intended || (one.target_lpm === null ? '' : plainText(fromLpm(one.target_lpm, 'mL/min'))),
                    supplier: sheet?.supplier ?? '',
                  });
                  desk.redraw();
                },
              },
            },
            h(
              'span',
              { class: 'row-name' },
              say('port', { port: one.port }),
              h(
                'small',
                null,
                sheet ? [sheet.medium, sheet.catalogue, sheet.lot].filter(Boolean).join(' · ') : one.medium,
              ),
            ),
            sheet
              ? chip(agrees ? 'good' : 'care', say(agrees ? 'kit.agrees' : 'kit.differs-short'))
              : h('span', { class: 'row-next' }, say('kit.enter')),
          );
        }),
      ),
      button(say('next'), () => desk.go('prepare', train.code)),
    ];
  }
  const typing = (/** @type {'intended' | 'supplier'} */ name) => () => (
    (draft.typing = name),
    (draft.text = ''),
    desk.redraw()
  );
  if (draft.typing) {
    const name = /** @type {'intended' | 'supplier'} */ (draft.typing);
    return [
      head(desk, say('port', { port: port.port }), { back: ['kit', train.code] }),
      h('p', { class: 'asked' }, say(`kit.${name}`)),
      pad(desk, {
        draft,
        unit: draft.unit,
        label: say(`kit.${name}`),
        near: draft.intended,
        keep: (text) => ((draft[name] = text), (draft.typing = ''), desk.redraw()),
      }),
    ];
  }
  const scanned = (/** @type {string} */ code) => {
    const media = desk.view.pack?.media.find((one) => one.lot === code || one.catalogue === code);
    if (media) Object.assign(draft, { medium: media.medium, catalogue: media.catalogue, lot: media.lot });
    else draft.catalogue = code;
    desk.redraw();
  };
  desk.onScan = scanned;
  const media = [...new Set((desk.view.pack?.media ?? []).map((one) => one.medium))];
  const away = draft.intended && draft.supplier ? Number(draft.supplier) / Number(draft.intended) - 1 : null;
  const window = port.window;
  const supplierLpm = draft.supplier ? toLpm(Number(draft.supplier), draft.unit) : null;
  const outside =
    supplierLpm !== null &&
    ((window.low_lpm !== null && supplierLpm < window.low_lpm) ||
      (window.high_lpm !== null && supplierLpm > window.high_lpm));
  const keep = () =>
    desk.keep(
      [
        acts.noted(
          train.code,
          kitSheetText({ ...draft, port: port.port, unit: draft.supplier || draft.intended ? draft.unit : '' }),
        ),
      ],
      say('kit.kept', { port: port.port }),
      () => {
        const index = train.ports.indexOf(port);
        draft.port = '';
        const next = train.ports[index + 1];
        if (!next) desk.redraw();
      },
    );
  return [
    head(desk, say('kit.port', { port: port.port }), {
      back: ['kit', train.code],
      under: `${train.code} · ${train.pump}`,
    }),
    list(
      say('kit.medium'),
      [{ value: '', text: '–' }, ...media.map((one) => ({ value: one, text: one }))],
      draft.medium,
      (one) => ((draft.medium = one), desk.redraw()),
      'medium',
    ),
    draft.medium !== port.medium &&
      port.medium !== '' &&
      message('care', say('kit.not-planned', { medium: port.medium }), say('kit.not-planned-do')),
    box(say('kit.catalogue'), draft.catalogue, (text) => (draft.catalogue = text), { name: 'catalogue' }),
    box(say('lot'), draft.lot, (text) => (draft.lot = text), { name: 'lot' }),
    cameraButton(desk, scanned),
    h(
      'div',
      { class: 'pair' },
      button(say('kit.intended'), typing('intended'), {
        kind: 'quiet',
        hint: draft.intended ? `${draft.intended} ${draft.unit}` : '–',
      }),
      button(say('kit.supplier'), typing('supplier'), {
        kind: 'quiet',
        hint: draft.supplier ? `${draft.supplier} ${draft.unit}` : '–',
      }),
    ),
    away !== null && facts([[say('kit.away'), changeText(away)]]),
    outside && message('care', say('kit.outside')),
    h('p', { class: 'under' }, say('kit.never-before')),
    button(say('keep'), keep, { off: !draft.medium }),
  ];
}
