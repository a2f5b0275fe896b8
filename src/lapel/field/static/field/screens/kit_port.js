/** One port of a kit sheet, typed: what stands there as a list to choose from, the flows on the number pad. */

import * as acts from './acts.js';
import { cameraButton } from './camera.js';
import { h } from './drawing.js';
import { differenceMessage, seenNote } from './kit_sheet.js';
import { lotsFor } from './fitting.js';
import { pad } from './pad.js';
import { box, button, choices, head, list } from './parts.js';
import { plainText } from './telling.js';
import { say } from './words.js';
import { differences, hereOn, saidOf } from '../now/kit.js';
import { fromLpm } from '../numbers/units.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').TrainNow} TrainNow */

const UNIT = 'mL/min';

/** @param {Desk} desk @param {TrainNow} train @param {PortNow} port @returns {Piece[]} */
export function kitPortScreen(desk, train, port) {
  const said = saidOf(desk.view.day, train, port.port);
  const key = `kit/${train.code}/${port.port}`;
  const draft = desk.draft(key, {
    typing: '',
    text: '',
    medium: said?.medium || port.medium,
    catalogue: said?.catalogue ?? '',
    lot: said?.lot ?? '',
    intended: said?.intended ?? '',
    supplier: said?.supplier ?? '',
    unit: said?.intended_unit || said?.supplier_unit || UNIT,
  });
  if (draft.typing) return flowByPad(desk, train, port, draft);
  const { pack } = desk.view;
  const scanned = (/** @type {string} */ code) => {
    const media = pack?.media.find((one) => one.lot === code || one.catalogue === code);
    if (media) Object.assign(draft, { medium: media.medium, catalogue: media.catalogue, lot: media.lot });
    else draft.catalogue = code;
    desk.redraw();
  };
  desk.onScan = scanned;
  const media = [...new Set((pack?.media ?? []).map((one) => one.medium))];
  const lots = draft.medium ? lotsFor(pack, draft.medium) : [];
  const typed = {
    pump: train.pump,
    medium: draft.medium,
    catalogue: draft.catalogue.trim(),
    lot: draft.lot.trim(),
    intended: draft.intended,
    intended_unit: draft.intended && draft.unit,
    supplier: draft.supplier,
    supplier_unit: draft.supplier && draft.unit,
  };
  const found = differences(typed, hereOn(pack, train, port));
  const keep = () =>
    desk.keep(
      [
        acts.kitSheet({ train: train.code, port: port.port, ...typed, how: 'typed' }),
        ...seenNote(desk, train, port.port, found),
      ],
      say('kit.kept', { port: port.port }),
      () => {
        desk.forget(key);
        const next = train.ports[train.ports.indexOf(port) + 1];
        desk.go('kit', train.code, ...(next ? [next.port] : []));
      },
    );
  const flow = (/** @type {'intended' | 'supplier'} */ name) =>
    button(say(`kit.${name}`), () => ((draft.typing = name), (draft.text = ''), desk.redraw()), {
      kind: 'quiet',
      hint: draft[name] ? `${draft[name]} ${draft.unit}` : '–',
    });
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
    lots.length > 0 &&
      choices(
        say('lot'),
        lots.slice(0, 6).map((one) => ({ value: one.lot, text: one.lot, hint: one.catalogue })),
        draft.lot,
        (lot) => {
          Object.assign(draft, { lot, catalogue: lots.find((one) => one.lot === lot)?.catalogue || draft.catalogue });
          desk.redraw();
        },
      ),
    box(say('kit.catalogue'), draft.catalogue, (text) => ((draft.catalogue = text), desk.redraw()), { name: 'catalogue' }),
    box(say('kit.lot'), draft.lot, (text) => ((draft.lot = text), desk.redraw()), { name: 'lot' }),
    cameraButton(desk, scanned),
    h('div', { class: 'pair' }, flow('intended'), flow('supplier')),
    differenceMessage(port.port, found),
    found.length > 0 && h('p', { class: 'asked' }, say('kit.differs-ask')),
    button(say(found.length ? 'kit.keep-differs' : 'keep'), keep, {
      off: !draft.medium,
      kind: found.length ? 'stop' : 'main',
    }),
    h('p', { class: 'under' }, say('kit.never-before')),
  ];
}

/** @param {Desk} desk @param {TrainNow} train @param {PortNow} port @param {Record<string, any>} draft @returns {Piece[]} */
function flowByPad(desk, train, port, draft) {
  const name = /** @type {'intended' | 'supplier'} */ (draft.typing);
  const wanted = port.target_lpm === null ? '' : plainText(fromLpm(port.target_lpm, draft.unit));
  return [
    head(desk, say('port', { port: port.port }), { back: ['kit', train.code] }),
    h('p', { class: 'asked' }, say(`kit.${name}`)),
    pad(desk, {
      draft,
      unit: draft.unit,
      label: say(`kit.${name}`),
      near: draft.intended || wanted,
      keep: (text) => ((draft[name] = text), (draft.typing = ''), desk.redraw()),
    }),
  ];
}
