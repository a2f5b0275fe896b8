/** The calibration tubes: a marked one on every port, never sampled with, kept for the readings after the run. */

import * as acts from './acts.js';
import { h } from './drawing.js';
import { button, choices, list, message } from './parts.js';
import { differenceMessage, isSeen, kitDifferences, seenNote } from './kit_sheet.js';
import { fromLpm } from '../numbers/units.js';
import { plainText } from './telling.js';
import { say } from './words.js';
import { preparationOf } from './trains_of_day.js';
import { pad } from './pad.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').TrainNow} TrainNow */
/** @typedef {import('../types.js').Pack} Pack */

/** Whether one calibration tube may serve ports of two lots: its catalogue number must be theirs.
 *  @param {Pack | null} pack @param {string} oneLot @param {string} otherLot */
export function mayServe(pack, oneLot, otherLot) {
  if (!oneLot || !otherLot) return false;
  if (oneLot === otherLot) return true;
  const catalogue = (/** @type {string} */ lot) => pack?.media.find((one) => one.lot === lot)?.catalogue ?? '';
  return catalogue(oneLot) !== '' && catalogue(oneLot) === catalogue(otherLot);
}

/** Every calibration tube in use, with the lot it is of. @param {Desk} desk @returns {Map<string, string>} */
function tubesKnown(desk) {
  /** @type {Map<string, string>} */
  const known = new Map();
  for (const train of Object.values(desk.view.day.trains)) {
    for (const preparation of train.preparations) {
      for (const port of Object.values(preparation.ports)) if (port.tube) known.set(port.tube, port.lot);
    }
  }
  return known;
}

/** The next mark nobody has used. @param {Iterable<string>} known */
export function nextMark(known) {
  const numbers = [...known].map((mark) => Number(/^CAL-(\d+)$/.exec(mark)?.[1] ?? 0));
  return `CAL-${Math.max(0, ...numbers) + 1}`;
}

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
export function tubesStep(desk, train) {
  const draft = desk.draft(`tubes/${train.code}/${train.preparation}`, {
    port: '',
    lots: /** @type {Record<string, string>} */ ({}),
    targets: /** @type {Record<string, string>} */ ({}),
    typing: false,
    text: '',
    asked: '',
  });
  const prepared = preparationOf(desk, train)?.ports ?? {};
  const port =
    train.ports.find((one) => one.port === draft.port) ??
    train.ports.find((one) => !prepared[one.port]?.tube) ??
    train.ports[0];
  if (!port) return [message('care', say('tubes.no-ports'), say('tubes.no-ports-do'))];
  const pack = desk.view.pack;
  const lots = (pack?.media ?? []).filter((one) => !port.medium || one.medium === port.medium);
  const lot = draft.lots[port.port] ?? (port.lot || (lots.length === 1 ? (lots[0]?.lot ?? '') : ''));
  const medium = port.medium || lots.find((one) => one.lot === lot)?.medium || '';
  const unit = port.target_text.split(' ').slice(1).join(' ') || 'mL/min';
  const planned = port.target_lpm === null ? '' : plainText(fromLpm(port.target_lpm, unit));
  const target = draft.targets[port.port] ?? (port.target_text.split(' ')[0] || planned);
  if (draft.typing) {
    return [
      h('p', { class: 'asked' }, say('tubes.target', { port: port.port })),
      pad(desk, {
        draft,
        unit,
        label: say('tubes.target', { port: port.port }),
        near: planned,
        keep: (text) => ((draft.targets[port.port] = text), (draft.typing = false), desk.redraw()),
      }),
    ];
  }
  const known = tubesKnown(desk);
  const here = new Map(train.ports.filter((one) => one.tube).map((one) => [one.tube, one.port]));
  const fit = [...known].filter(([, of]) => mayServe(pack, of, lot)).map(([mark]) => mark);
  const options = [
    ...fit
      .filter((mark) => !here.has(mark))
      .slice(-4)
      .map((mark) => ({ value: mark, text: mark, hint: say('tubes.same-catalogue') })),
    ...fit
      .filter((mark) => here.has(mark) && here.get(mark) !== port.port)
      .slice(-2)
      .map((mark) => ({ value: mark, text: mark, hint: say('tubes.moved', { port: here.get(mark) ?? '' }) })),
    { value: nextMark(known.keys()), text: nextMark(known.keys()), hint: say('tubes.new') },
  ];
  const found = kitDifferences(desk, train, port, { medium, lot });
  const isAsked = found.length > 0 && !isSeen(desk, train, port.port, found);
  const choose = (/** @type {string} */ tube) => {
    if (isAsked) {
      draft.asked = tube;
      desk.tell('care', say('kit.differs', { port: port.port }));
    } else void keep(tube);
  };
  const keep = (/** @type {string} */ tube) =>
    desk.keep(
      [
        acts.portPrepared({
          train: train.code,
          port: port.port,
          tube,
          medium,
          lot,
          target,
          target_unit: target ? unit : '',
        }),
        ...seenNote(desk, train, port.port, found),
      ],
      say('tubes.kept', { port: port.port, tube }),
      () => {
        draft.port = '';
        draft.asked = '';
        if (train.ports.every((one) => one.tube || one.port === port.port)) desk.go('prepare', train.code);
      },
    );
  return [
    h(
      'div',
      { class: 'ports', role: 'group', 'aria-label': say('read.which-port') },
      train.ports.map((one) =>
        h(
          'button',
          {
            type: 'button',
            class: 'port-tab',
            key: one.port,
            'aria-pressed': String(one === port),
            on: { click: () => ((draft.port = one.port), desk.redraw()) },
          },
          h('span', { class: 'port-letter' }, one.port),
          h('span', { class: 'dots' }, prepared[one.port]?.tube ?? ''),
        ),
      ),
    ),
    h('p', { class: 'asked great' }, say('tubes.which', { port: port.port })),
    h('p', { class: 'under' }, medium, target && ` · ${say('read.target', { target: `${target} ${unit}` })}`),
    differenceMessage(port.port, found),
    isAsked && draft.asked && h('p', { class: 'asked' }, say('kit.differs-ask')),
    isAsked &&
      draft.asked &&
      button(say('kit.tube-differs', { tube: draft.asked }), () => void keep(draft.asked), { kind: 'stop' }),
    lots.length > 1 &&
      lots.length <= 4 &&
      choices(
        say('lot'),
        lots.map((one) => ({ value: one.lot, text: one.lot, hint: one.expiry })),
        lot,
        (chosen) => ((draft.lots[port.port] = chosen), desk.redraw()),
      ),
    lots.length > 4 &&
      list(
        say('lot'),
        [{ value: '', text: '–' }, ...lots.map((one) => ({ value: one.lot, text: `${one.lot} ${one.medium}` }))],
        lot,
        (chosen) => ((draft.lots[port.port] = chosen), desk.redraw()),
        'lot',
      ),
    lot === ''
      ? message('plain', say('tubes.lot-first'))
      : choices(say('tubes.mark'), options, isAsked ? draft.asked : '', choose, { wide: true }),
    h('p', { class: 'under' }, say('tubes.why')),
    button(say('tubes.change-target'), () => ((draft.typing = true), desk.redraw()), {
      kind: 'quiet',
      hint: target ? `${target} ${unit}` : say('not.chosen'),
    }),
  ];
}
