/** Which pump, and which holder is on it: chosen from those the day knows. */

import { list } from './parts.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */

/** @param {Desk} desk @param {Record<string, any>} draft @param {(pump: string) => boolean} [isFree] */
export function pumpAndHolder(desk, draft, isFree = () => true) {
  const { pack } = desk.view;
  const pumps = (pack?.pumps ?? []).filter((one) => isFree(one.code));
  return [
    list(
      say('pump.pump'),
      [{ value: '', text: '–' }, ...pumps.map((one) => ({ value: one.code, text: one.code }))],
      draft.pump,
      (code) => ((draft.pump = code), desk.redraw()),
      'pump',
    ),
    list(
      say('pump.holder'),
      [
        { value: '', text: say('pump.no-holder') },
        ...(pack?.splitters ?? []).map((one) => ({ value: one.code, text: `${one.code} (${one.ports.join(' ')})` })),
      ],
      draft.splitter,
      (code) => ((draft.splitter = code), desk.redraw()),
      'holder',
    ),
  ];
}
