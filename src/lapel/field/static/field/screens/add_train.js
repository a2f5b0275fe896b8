/** A train the plan does not know: which pump, which holder, what on each port, for whom. Kept beside the day's plan. */

import { h } from './drawing.js';
import { button, head, list, message } from './parts.js';
import { pumpAndHolder } from './pump_and_holder.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */

/** @param {Desk} desk @returns {Piece[]} */
export function addTrainScreen(desk) {
  const pack = desk.view.pack;
  const known = desk.trains.map((train) => train.code);
  const draft = desk.draft('add-train', {
    code: nextCode(known),
    pump: '',
    splitter: '',
    worker: '',
    media: /** @type {Record<string, string>} */ ({}),
  });
  const ports = pack?.splitters.find((one) => one.code === draft.splitter)?.ports ?? ['A'];
  const media = [...new Set((pack?.media ?? []).map((one) => one.medium))];
  const busy = new Set(
    desk.trains.filter((train) => ['running', 'held'].includes(train.stage)).map((train) => train.pump),
  );
  const none = { value: '', text: '–' };
  const keep = async () => {
    const train = {
      train: draft.code,
      worker: draft.worker,
      pump: draft.pump,
      splitter: draft.splitter,
      ports: ports
        .filter((port) => draft.media[port])
        .map((port) => ({
          port,
          medium: draft.media[port] ?? '',
          sampler: '',
          methods: methodsOf(pack, draft.media[port] ?? ''),
          target_lpm: null,
          target_unit: 'mL/min',
        })),
      source: /** @type {const} */ ('typed'),
    };
    await desk.field.setPlanned([...desk.view.planned.filter((one) => one.train !== train.train), train]);
    desk.forget('add-train');
    desk.tell('good', say('add.kept', { train: train.train }));
    desk.go('prepare', train.train);
  };
  const chosen = ports.some((port) => draft.media[port]);
  return [
    head(desk, say('prepare.add'), { back: ['prepare'], under: say('add.under', { train: draft.code }) }),
    !pack && message('care', say('add.no-pack')),
    ...pumpAndHolder(desk, draft, (pump) => !busy.has(pump)),
    ...ports.map((port) =>
      list(
        say('add.medium', { port }),
        [{ value: '', text: say('add.unused') }, ...media.map((one) => ({ value: one, text: one }))],
        draft.media[port] ?? '',
        (medium) => ((draft.media[port] = medium), desk.redraw()),
        `medium-${port}`,
      ),
    ),
    list(
      say('start.worker'),
      [none, ...(pack?.workers ?? []).map((one) => ({ value: one.code, text: `${one.code} ${one.group}` }))],
      draft.worker,
      (code) => ((draft.worker = code), desk.redraw()),
      'worker',
    ),
    button(say('add.keep', { train: draft.code }), () => void keep(), { off: !draft.pump || !chosen }),
    h('p', { class: 'under' }, say('add.note')),
  ];
}

/** @param {string[]} known */
function nextCode(known) {
  const found = known.map((code) => /^(.*?)(\d+)$/.exec(code)).filter((match) => match !== null);
  const last = found.at(-1);
  if (!last) return 'T-1';
  const most = Math.max(...found.map((match) => Number(match[2])));
  return `${last[1]}${String(most + 1).padStart((last[2] ?? '').length, '0')}`;
}

/** @param {import('../types.js').Pack | null} pack @param {string} medium */
function methodsOf(pack, medium) {
  return (pack?.methods ?? []).filter((method) => method.medium === medium).map((method) => method.code);
}
