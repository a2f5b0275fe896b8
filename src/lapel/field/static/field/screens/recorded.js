/** What was recorded, newest first; each line can be put right. Nothing is deleted: a correction stands beside it. */

import { h } from './drawing.js';
import { pad } from './pad.js';
import { button, chip, choices, head, message } from './parts.js';
import { signatureText } from './signing.js';
import { timeText } from './telling.js';
import { msOf } from '../instants.js';
import { KINDS } from '../kinds.js';
import { codeText, say, tell } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').Entry} Entry */

const SHOWN = 60;

/** Types of fields, and fields, that hold one of a few answers, which the log keeps in English. */
const ANSWERS = new Set(['choice', 'yes/no']);
const ANSWERED = new Set(['why', 'remark', 'side', 'zone', 'battery']);

/** The field of a kind that a pad can put right. @type {Record<string, string>} */
const NUMBER_OF = {
  flow_read: 'reading',
  pump_stopped: 'counter_min',
  pump_checked: 'counter_min',
  pump_held: 'counter_min',
  pump_started: 'counter_min',
  pump_resumed: 'counter_min',
};

/** The entries about a train, or all of them. @param {Desk} desk @returns {Piece[]} */
export function recordedScreen(desk) {
  const code = desk.route[1] ?? '';
  const train = desk.train(code);
  const about = new Set(
    [code, train?.worker, ...(train?.ports.map((port) => port.run?.sampler) ?? [])].filter(Boolean),
  );
  const isAbout = (/** @type {Entry} */ entry) =>
    !code || ['train', 'sampler', 'about', 'worker'].some((name) => about.has(entry.fields[name] ?? ''));
  const entries = desk.view.entries
    .filter((one) => one.kind !== 'correction' && isAbout(one))
    .sort((a, b) => msOf(b.at) - msOf(a.at) || b.sequence - a.sequence)
    .slice(0, SHOWN);
  return [
    head(desk, say('log.title'), {
      back: code ? ['run', code] : ['more'],
      under: code ? say('train', { train: code }) : say('log.under'),
    }),
    entries.length === 0 && message('plain', say('log.none')),
    h(
      'ol',
      { class: 'log' },
      entries.map((one) => line(desk, one, code)),
    ),
  ];
}

/** @param {Desk} desk @param {Entry} entry @param {string} code */
function line(desk, entry, code) {
  const amended = desk.view.day.amendments[entry.id];
  return h(
    'li',
    { key: entry.id },
    h(
      'button',
      { type: 'button', class: 'log-line', on: { click: () => desk.go('entry', entry.id, ...(code ? [code] : [])) } },
      h('time', null, timeText(entry.at, desk.zone)),
      h(
        'span',
        { class: 'log-words' },
        h('strong', null, kindText(entry.kind)),
        ' ',
        fieldsText(entry.kind, amended?.counts?.fields ?? entry.fields),
      ),
      amended && (amended.counts === null ? chip('care', say('log.withdrawn')) : chip('plain', say('log.corrected'))),
    ),
  );
}

/** One entry, whole, and what can be done about it. @param {Desk} desk @returns {Piece[]} */
export function entryScreen(desk) {
  const entry = desk.view.entries.find((one) => one.id === desk.route[1]);
  return entry
    ? oneEntry(desk, entry, desk.route[2] ?? '')
    : [head(desk, say('log.title'), { back: ['log'] }), message('plain', say('log.none'))];
}

/** @param {string} kind */
function kindText(kind) {
  const words = codeText(kind);
  return words.charAt(0).toUpperCase() + words.slice(1);
}

/** What a field says: an answer the page or the log's own list gave, in words; what a person typed, as typed.
 *  @param {string} kind @param {string} name @param {string} value */
function valueText(kind, name, value) {
  const type = KINDS[kind]?.fields[name]?.type ?? '';
  if (type === 'signature') return signatureText(value);
  if (ANSWERS.has(type) || ANSWERED.has(name)) return value.split('; ').map(tell).join('; ');
  return value;
}

/** @param {string} kind @param {Record<string, string>} fields */
function fieldsText(kind, fields) {
  const { reading, unit, ...rest } = fields;
  const quiet = new Set([
    'meter',
    'basis',
    'temperature',
    'temperature_unit',
    'pressure',
    'pressure_unit',
    'humidity_percent',
    'medium',
    'lot',
    'expiry',
    'sha256',
  ]);
  return [
    ...Object.entries(rest)
      .filter(([name]) => !quiet.has(name))
      .map(([name, value]) => valueText(kind, name, value)),
    reading && `${reading} ${unit}`,
  ]
    .filter(Boolean)
    .join(' · ');
}

/** @param {Desk} desk @param {Entry} entry @param {string} code @returns {Piece[]} */
function oneEntry(desk, entry, code) {
  const draft = desk.draft(`correct/${entry.id}`, { text: '', reason: '', typing: false });
  const amended = desk.view.day.amendments[entry.id];
  const counts = amended ? amended.counts?.fields : entry.fields;
  const name = NUMBER_OF[entry.kind];
  const now = name ? (counts?.[name] ?? '') : '';
  const home = code ? ['log', code] : ['log'];
  const back = () => (desk.forget(`correct/${entry.id}`), desk.go(...home));
  const reasons = {
    misread: 'misread',
    mistyped: 'typed wrongly',
    'wrong-port': 'wrong port',
    mistake: 'tapped by mistake',
  };
  const reasonQuestion = choices(
    say('log.why'),
    /** @type {(keyof typeof reasons)[]} */ (Object.keys(reasons)).map((key) => ({
      value: reasons[key],
      text: say(`log.${key}`),
    })),
    draft.reason,
    (reason) => ((draft.reason = reason), desk.redraw()),
  );
  const title = head(desk, kindText(entry.kind), {
    back: home,
    under: `${timeText(entry.at, desk.zone)} · ${entry.author} · ${entry.device}`,
  });
  const said = (/** @type {string} */ key, /** @type {string} */ value) => valueText(entry.kind, key, value);
  const fieldList = h(
    'dl',
    { class: 'facts wide' },
    Object.entries(entry.fields).map(([key, value]) =>
      h(
        'div',
        { key },
        h('dt', null, codeText(key)),
        h(
          'dd',
          null,
          counts && counts[key] !== value
            ? `${said(key, value)} → ${said(key, counts[key] ?? '–')}`
            : said(key, value),
        ),
      ),
    ),
  );
  if (amended?.counts === null)
    return [
      title,
      message('care', say('log.withdrawn-title'), ...amended.corrections.map((one) => `${one.author}: ${tell(one.reason ?? '')}`)),
      fieldList,
    ];
  if (draft.typing && name) {
    return [
      title,
      reasonQuestion,
      h('p', { class: 'asked' }, say('log.should', { now: now || '–' })),
      pad(desk, {
        draft,
        unit: counts?.unit ?? 'min',
        label: say('log.should', { now }),
        near: now,
        point: entry.kind === 'flow_read',
        word: say('log.correct'),
        keep: (value) => {
          if (!draft.reason) return desk.tell('care', say('log.reason-first'));
          return desk.keep(
            [{ kind: 'correction', fields: { field: name, value }, corrects: entry.id, reason: draft.reason }],
            say('log.kept'),
            back,
          );
        },
      }),
    ];
  }
  return [
    title,
    fieldList,
    amended &&
      amended.corrections.length > 0 &&
      message('plain', say('log.corrected'), ...amended.corrections.map((one) => `${one.author}: ${tell(one.reason ?? '')}`)),
    name && button(say('log.correct'), () => ((draft.typing = true), desk.redraw())),
    reasonQuestion,
    button(
      say('log.withdraw'),
      () =>
        draft.reason ? desk.undo([entry.id], draft.reason).then(back) : desk.tell('care', say('log.reason-first')),
      { kind: 'stop' },
    ),
    h('p', { class: 'under' }, say('log.stays')),
  ];
}
