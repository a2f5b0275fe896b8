/** Pack and hand over: which samplers are in the parcel, under which seal, and through whose hands it goes. */

import * as acts from './acts.js';
import { cameraButton } from './camera.js';
import { h } from './drawing.js';
import { box, button, chip, head, message, yesNo } from './parts.js';
import { signatureQuestion, signatureShown } from './signing.js';
import { timeText } from './telling.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */

/** @param {Desk} desk @returns {Piece[]} */
export function parcelScreen(desk) {
  const code = desk.route[1];
  const { day } = desk.view;
  const parcel = code ? day.parcels[code] : undefined;
  if (parcel) return handOver(desk, parcel);
  const loose = [
    ...Object.values(day.runs)
      .filter((run) => run.removed_at && !run.parcel)
      .map((run) => ({ code: run.sampler, at: run.removed_at ?? '' })),
    ...Object.values(day.blanks)
      .filter((blank) => blank.closed_at && !blank.parcel)
      .map((blank) => ({ code: blank.blank, at: blank.closed_at ?? '' })),
  ].sort((a, b) => a.code.localeCompare(b.code));
  const draft = desk.draft('parcel', {
    parcel: nextParcel(Object.keys(day.parcels)),
    seal: '',
    in: /** @type {string[]} */ ([]),
    temperature: '',
  });
  const put = (/** @type {string} */ one) => {
    if (!loose.some((sampler) => sampler.code === one))
      return desk.tell('stop', say('parcel.not-loose', { code: one }));
    if (!draft.in.includes(one)) draft.in.push(one);
    desk.tell('good', say('parcel.put', { code: one, n: draft.in.length }));
  };
  desk.onScan = put;
  return [
    head(desk, say('parcel.title'), { back: ['more'], under: say('parcel.under', { n: loose.length }) }),
    Object.values(day.parcels).length > 0 &&
      h(
        'div',
        { class: 'rows' },
        Object.values(day.parcels).map((one) =>
          h(
            'button',
            { type: 'button', class: 'row', key: one.code, on: { click: () => desk.go('parcel', one.code) } },
            h(
              'span',
              { class: 'row-name' },
              one.code,
              h('small', null, say('parcel.holds', { n: one.samplers.length })),
            ),
            h('span', { class: 'row-next' }, one.hops.at(-1)?.receiver ?? one.sealed_by),
          ),
        ),
      ),
    h('p', { class: 'scan-line', role: 'status' }, say('parcel.scan', { n: draft.in.length })),
    cameraButton(desk, put),
    h(
      'div',
      { class: 'options wide' },
      loose.map((one) => {
        const on = draft.in.includes(one.code);
        return h(
          'button',
          {
            type: 'button',
            class: 'option',
            key: one.code,
            'aria-pressed': String(on),
            on: {
              click: () => (
                (draft.in = on
                  ? draft.in.filter((/** @type {string} */ code) => code !== one.code)
                  : [...draft.in, one.code]),
                desk.redraw()
              ),
            },
          },
          one.code,
        );
      }),
    ),
    box(say('parcel.code'), draft.parcel, (text) => (draft.parcel = text), { name: 'parcel' }),
    box(say('parcel.seal'), draft.seal, (text) => (draft.seal = text), { name: 'seal' }),
    box(say('parcel.temperature'), draft.temperature, (text) => (draft.temperature = text), {
      name: 'parcel-temperature',
      mode: 'decimal',
      hint: say('parcel.temperature-hint'),
    }),
    message('plain', say('parcel.bulk')),
    button(
      say('parcel.seal-it', { n: draft.in.length }),
      () =>
        desk.keep(
          [
            acts.parcelSealed({
              parcel: draft.parcel.trim(),
              samplers: [...draft.in].sort().join(' '),
              seal: draft.seal.trim(),
              ...warmth(draft.temperature),
            }),
          ],
          say('parcel.sealed', { parcel: draft.parcel }),
          () => {
            const sealed = draft.parcel.trim();
            desk.forget('parcel');
            desk.go('parcel', sealed);
          },
        ),
      { off: draft.in.length === 0 || !draft.parcel.trim() },
    ),
  ];
}

/** @param {string} typed */
function warmth(typed) {
  const temperature = typed.trim();
  return { temperature, temperature_unit: temperature && '°C' };
}

/** @param {string[]} known */
function nextParcel(known) {
  return `K-${Math.max(0, ...known.map((code) => Number(/^K-(\d+)$/.exec(code)?.[1] ?? 0))) + 1}`;
}

/** @param {Desk} desk @param {import('../types.js').Parcel} parcel @returns {Piece[]} */
function handOver(desk, parcel) {
  const holder = parcel.hops.at(-1)?.receiver ?? parcel.sealed_by;
  const draft = desk.draft(`hand/${parcel.code}`, {
    to: '',
    firm: '',
    giver: { signed: '' },
    taker: { signed: '' },
    whole: /** @type {boolean | null} */ (null),
    temperature: '',
  });
  const taker = draft.to.trim() || say('sign.taker');
  const isSameHand = draft.giver.signed.startsWith('drawn ') && draft.giver.signed === draft.taker.signed;
  const keep = () =>
    desk.keep(
      [
        acts.custodyHanded({
          parcel: parcel.code,
          from: holder,
          from_signature: draft.giver.signed,
          to: draft.to.trim(),
          to_firm: draft.firm.trim(),
          to_signature: draft.taker.signed,
          seal_intact: draft.whole ? 'yes' : 'no',
          ...warmth(draft.temperature),
        }),
      ],
      say('parcel.handed', { to: draft.to }),
      () => (desk.forget(`hand/${parcel.code}`), desk.redraw()),
    );
  return [
    head(desk, say('parcel.one', { parcel: parcel.code }), { back: ['parcel'], under: parcel.samplers.join(' ') }),
    h(
      'ol',
      { class: 'log' },
      h(
        'li',
        null,
        h(
          'p',
          { class: 'log-line' },
          h('time', null, timeText(parcel.sealed_at ?? '', desk.zone)),
          h(
            'span',
            { class: 'log-words' },
            say('parcel.sealed-by', { who: parcel.sealed_by, seal: parcel.seal || '–' }),
          ),
        ),
      ),
      parcel.hops.map((hop) =>
        h(
          'li',
          { key: hop.entry_id },
          h(
            'p',
            { class: 'log-line' },
            h('time', null, timeText(hop.at, desk.zone)),
            h('span', { class: 'log-words' }, `${hop.giver} → ${hop.receiver}`, hands(desk, hop)),
            hop.seal_intact === false && chip('stop', say('parcel.broken')),
          ),
        ),
      ),
    ),
    box(say('parcel.to'), draft.to, (text) => ((draft.to = text), desk.redraw()), {
      name: 'to',
      hint: say('parcel.from', { holder }),
    }),
    box(say('parcel.firm'), draft.firm, (text) => (draft.firm = text), { name: 'to-firm' }),
    signatureQuestion(desk, holder, draft.giver),
    signatureQuestion(desk, taker, draft.taker),
    yesNo(say('parcel.whole'), draft.whole, (yes) => ((draft.whole = yes), desk.redraw())),
    box(say('parcel.temperature'), draft.temperature, (text) => (draft.temperature = text), {
      name: 'hand-temperature',
      mode: 'decimal',
    }),
    isSameHand && message('stop', say('parcel.same-hand')),
    button(say('parcel.hand'), keep, { off: !draft.to.trim() || draft.whole === null || isSameHand }),
  ];
}

/** How both signed at a hand-over. @param {Desk} desk @param {import('../types.js').CustodyHop} hop @returns {Piece} */
function hands(desk, hop) {
  const recorded = desk.view.entries.find((one) => one.id === hop.entry_id)?.fields ?? {};
  return h(
    'span',
    { class: 'hands' },
    signatureShown(recorded.from_signature ?? '', hop.giver),
    signatureShown(recorded.to_signature ?? '', hop.receiver),
  );
}
