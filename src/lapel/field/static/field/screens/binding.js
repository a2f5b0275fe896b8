/** A sampler on a port: by its label, or chosen by its number among the day's samplers; never as free text. */

import * as acts from './acts.js';
import { cameraButton } from './camera.js';
import { h } from './drawing.js';
import { lotsFor, objections, onlyLot } from './fitting.js';
import { differenceLines, isSeen, kitDifferences, seenNote } from './kit_sheet.js';
import { pad } from './pad.js';
import { button, choices, message, reminders } from './parts.js';
import { say, tell } from './words.js';
import { labels } from '../now/planned.js';

/** @typedef {import('../now/planned.js').Label} Label */
/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').TrainNow} TrainNow */

/** @param {Desk} desk @param {TrainNow} train @param {PortNow} port @param {Record<string, any>} draft @param {() => void} then
 *  @returns {Piece[]} */
export function bindPort(desk, train, port, draft, then) {
  const pack = desk.view.pack;
  const known = labels(pack, desk.view.planned);
  const used = new Set(
    Object.values(desk.view.day.runs)
      .filter((run) => run.fitted_at)
      .map((run) => run.sampler),
  );
  const typedDigits = draft.text;
  const shown = [...known.values()]
    .filter((one) => !used.has(one.code) && one.as !== 'blank' && !desk.view.day.blanks[one.code])
    .filter((one) => typedDigits === '' || one.code.replace(/\D/g, '').endsWith(typedDigits))
    .map((one) => ({ one, rank: rankOf(one, train, port) }))
    .sort((a, b) => a.rank - b.rank || a.one.code.localeCompare(b.one.code))
    .slice(0, typedDigits ? 8 : 4);
  const lots = lotsFor(pack, port.medium);
  const lot =
    draft.lot && lots.some((one) => one.lot === draft.lot)
      ? draft.lot
      : port.lot && lots.some((one) => one.lot === port.lot)
        ? port.lot
        : onlyLot(lots);
  const expiry = lots.find((one) => one.lot === lot)?.expiry ?? '';
  const take = (/** @type {string} */ code, /** @type {'scanned' | 'keypad'} */ how) => {
    if (desk.busy) return;
    // A label names its port by the plan: scanned for another port of this train, it goes where it belongs.
    const elsewhere =
      how === 'scanned' ? train.ports.find((one) => one !== port && !one.run && one.expected === code) : undefined;
    const to = elsewhere ?? port;
    const found = lotsFor(pack, to.medium);
    const toLot = to === port ? lot : to.lot || onlyLot(found);
    const toExpiry = found.find((one) => one.lot === toLot)?.expiry ?? '';
    const against = objections(desk, known.get(code), {
      code,
      medium: to.medium,
      lot: toLot,
      expiry: toExpiry,
      isUsed: used.has(code),
    });
    const differ = kitDifferences(desk, train, to, { medium: to.medium, lot: toLot });
    if (differ.length > 0 && !isSeen(desk, train, to.port, differ)) {
      against.push(say('kit.differs', { port: to.port }), ...differenceLines(differ));
    }
    if (against.length > 0 && !(draft.doubt === code && how === draft.doubtHow)) {
      draft.doubt = code;
      draft.doubtHow = how;
      draft.against = against;
      desk.tell('stop', say('fit.stop', { code }), [], against);
      return;
    }
    draft.doubt = '';
    draft.text = '';
    const where = { train: train.code, port: to.port };
    const fitted = acts.samplerFitted({ ...where, sampler: code, medium: to.medium, lot: toLot, expiry: toExpiry, how });
    const instead = to.expected && to.expected !== code ? to.expected : '';
    void desk.keep(
      [
        fitted,
        ...(instead ? [acts.fittedInstead(where, code, instead, known.get(code)?.where ?? '')] : []),
        ...seenNote(desk, train, to.port, differ),
      ],
      instead
        ? say('fit.instead', { code, port: to.port, planned: instead })
        : say('fit.kept', { code, port: to.port }),
      then,
    );
  };
  desk.onScan = (code) => take(code, 'scanned');
  return [
    h('p', { class: 'asked great' }, say('fit.which', { port: port.port })),
    h(
      'p',
      { class: 'under' },
      [port.medium, lot, expiry && say('fit.expires', { day: expiry })].filter(Boolean).join(' · '),
    ),
    port.expected &&
      h('p', { class: 'great-code' }, port.expected, h('small', null, say('fit.expected', { port: port.port }))),
    lots.length > 1 &&
      choices(
        say('lot'),
        lots.slice(0, 4).map((one) => ({ value: one.lot, text: one.lot, hint: one.expiry })),
        lot,
        (chosen) => ((draft.lot = chosen), desk.redraw()),
      ),
    draft.doubt && message('stop', say('fit.stop', { code: draft.doubt }), ...draft.against, say('fit.stop-do')),
    draft.doubt &&
      button(say('fit.all-the-same', { code: draft.doubt }), () => take(draft.doubt, draft.doubtHow), { kind: 'stop' }),
    h('p', { class: 'scan-line', role: 'status' }, say('fit.scan')),
    cameraButton(desk, (code) => take(code, 'scanned')),
    h(
      'div',
      { class: 'options wide', role: 'group', 'aria-label': say('fit.choose') },
      shown.map(({ one }) =>
        h(
          'button',
          {
            type: 'button',
            class: one.code === port.expected ? 'option planned' : 'option',
            key: one.code,
            on: { click: () => take(one.code, 'keypad') },
          },
          h('span', null, one.code),
          h('small', null, whatItIs(one, port)),
        ),
      ),
    ),
    shown.length === 0 && message('plain', say('fit.none'), say('fit.none-do')),
    h(
      'details',
      { class: 'by-number', key: 'by-number' },
      h('summary', null, say('fit.by-number')),
      pad(desk, {
        draft,
        unit: '',
        label: say('fit.by-number'),
        point: false,
        aside: true,
        word: say('fit.look'),
        keep: (text) => ((draft.text = text), desk.redraw()),
      }),
    ),
    reminders(['remind.open', 'remind.arrow', 'remind.upright']),
  ];
}

/** How near a label is to what the port waits for. @param {Label} label @param {TrainNow} train @param {PortNow} port */
function rankOf(label, train, port) {
  if (label.code === port.expected) return 0;
  if (label.medium !== port.medium) return 5;
  if (label.where.startsWith(`${train.code} `)) return 1;
  if (label.order?.worker === train.worker) return 2;
  return label.as === 'spare' ? 3 : 4;
}

/** @param {Label} label @param {PortNow} port */
function whatItIs(label, port) {
  const said = [
    label.code === port.expected ? say('fit.planned') : label.where && say('fit.planned-for', { where: label.where }),
    label.as === 'spare' && say('fit.spare'),
    label.medium === port.medium ? '' : label.medium,
  ].filter(Boolean);
  return said.join(' · ') || label.order?.task || tell(label.order?.purpose ?? '');
}
