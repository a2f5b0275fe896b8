/** The parts screens are put together from. A meaning always has a word and a shape; its colour comes on top. */

import { h } from './drawing.js';
import { say, tell } from './words.js';

/** @typedef {import('./drawing.js').Drawn} Drawn */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {'good' | 'care' | 'stop' | 'plain'} Level */
/** @typedef {import('../types.js').TierFound} TierFound */

/** The one great action of a screen, or a lesser one.
 *  @param {string} text @param {() => void} act
 *  @param {{kind?: 'main' | 'quiet' | 'stop', key?: string, hint?: string, off?: boolean, label?: string, name?: string}} [more] */
export function button(text, act, { kind = 'main', key = '', hint = '', off = false, label, name } = {}) {
  return h(
    'button',
    {
      key,
      type: 'button',
      class: `action ${kind}`,
      disabled: off,
      'aria-label': label,
      'data-name': name,
      on: { click: act },
    },
    h('span', { class: 'action-text' }, text),
    hint && h('span', { class: 'action-hint' }, hint),
  );
}

/** A few answers side by side, one of them chosen.
 *  @param {string} question @param {{value: string, text: string, hint?: string, lang?: string}[]} options
 *  @param {string} chosen @param {(value: string) => void} choose @param {{wide?: boolean, key?: string}} [more] */
export function choices(question, options, chosen, choose, { wide = false, key = '' } = {}) {
  return h(
    'div',
    { class: 'question', role: 'group', 'aria-label': question, key },
    h('p', { class: 'asked' }, question),
    h(
      'div',
      { class: wide ? 'options wide' : 'options' },
      options.map((option) =>
        h(
          'button',
          {
            type: 'button',
            class: 'option',
            key: option.value,
            'aria-pressed': String(option.value === chosen),
            on: { click: () => choose(option.value) },
          },
          h('span', { lang: option.lang }, option.text),
          option.hint && h('small', null, option.hint),
        ),
      ),
    ),
  );
}

/** A few answers side by side, any of them chosen; `choose` is given those that are, in the order of the answers.
 *  @param {string} question @param {{value: string, text: string}[]} options @param {string[]} chosen
 *  @param {(values: string[]) => void} choose @param {{wide?: boolean}} [more] */
export function several(question, options, chosen, choose, { wide = false } = {}) {
  const turned = (/** @type {string} */ value) =>
    options.map((one) => one.value).filter((one) => chosen.includes(one) !== (one === value));
  return h(
    'div',
    { class: wide ? 'options wide' : 'options', role: 'group', 'aria-label': question },
    options.map(({ value, text }) =>
      h(
        'button',
        {
          type: 'button',
          class: 'option',
          key: value,
          'aria-pressed': String(chosen.includes(value)),
          on: { click: () => choose(turned(value)) },
        },
        text,
      ),
    ),
  );
}

/** Only some ports of a train. @param {Desk} desk @param {Record<string, any>} draft @param {string[]} letters */
export function somePorts(desk, draft, letters) {
  return several(
    say('start.which-ports'),
    letters.map((letter) => ({ value: letter, text: letter })),
    draft.some,
    (some) => ((draft.some = some), desk.redraw()),
  );
}

/** @param {string} question @param {boolean | null | undefined} answer @param {(yes: boolean) => void} choose */
export function yesNo(question, answer, choose) {
  const chosen = answer === true ? 'yes' : answer === false ? 'no' : '';
  const options = [
    { value: 'no', text: say('no') },
    { value: 'yes', text: say('yes') },
  ];
  return h(
    'div',
    { class: 'yes-no' },
    choices(question, options, chosen, (value) => choose(value === 'yes')),
  );
}

/** @param {Level} level @param {string} text */
export function chip(level, text) {
  return h('span', { class: `mark ${level}` }, shape(level), h('span', null, text));
}

/** The shape of a meaning: a tick, a triangle, a cross, a ring. @param {Level} level */
export function shape(level) {
  const path = {
    good: 'M3 10.5 8 15.5 17 4.5',
    care: 'M10 3 18 17 2 17Z M10 8v4 M10 14.2v.3',
    stop: 'M4 4 16 16 M16 4 4 16',
    plain: 'M10 3a7 7 0 1 0 .01 0Z',
  }[level];
  return h('svg', { viewBox: '0 0 20 20', class: 'shape', 'aria-hidden': 'true' }, h('path', { d: path }));
}

/** Something to know: what is the matter, then what to do.
 *  @param {Level} level @param {string} title @param {...Piece} more */
export function message(level, title, ...more) {
  return h(
    'div',
    { class: `word ${level}` },
    shape(level),
    h(
      'div',
      null,
      h('p', { class: 'word-title' }, title),
      more.map((piece) => (typeof piece === 'string' ? h('p', null, piece) : piece)),
    ),
  );
}

/** @param {(readonly [string, Piece])[]} pairs */
export function facts(pairs) {
  return h(
    'dl',
    { class: 'facts' },
    pairs.map(([name, value]) => h('div', null, h('dt', null, name), h('dd', null, value))),
  );
}

/** The head of a screen: back, what it is about, and one line under it.
 *  @param {Desk} desk @param {string} title @param {{back?: string[], under?: Piece}} [more] */
export function head(desk, title, { back, under } = {}) {
  return h(
    'header',
    { class: 'head' },
    back &&
      h(
        'button',
        { type: 'button', class: 'back', 'aria-label': say('back'), on: { click: () => desk.go(...back) } },
        h('svg', { viewBox: '0 0 20 20', class: 'shape', 'aria-hidden': 'true' }, h('path', { d: 'M13 3 6 10l7 7' })),
      ),
    h('div', { class: 'head-words' }, h('h1', { tabindex: '-1' }, title), under && h('p', { class: 'under' }, under)),
  );
}

/** A box for words, for the few places that need them.
 *  @param {string} label @param {string} value @param {(text: string) => void} typed
 *  @param {{name: string, rows?: number, mode?: string, hint?: string, auto?: string}} more */
export function box(label, value, typed, { name, rows = 1, mode, hint, auto = 'off' }) {
  const props = {
    id: `box-${name}`,
    value,
    inputmode: mode,
    autocomplete: auto,
    spellcheck: 'false',
    'aria-describedby': hint ? `hint-${name}` : undefined,
    on: { input: (/** @type {Event} */ event) => typed(/** @type {HTMLInputElement} */ (event.target).value) },
  };
  return h(
    'div',
    { class: 'box', key: name },
    h('label', { for: `box-${name}` }, label),
    rows > 1 ? h('textarea', { ...props, rows }) : h('input', { ...props, type: 'text' }),
    hint && h('p', { class: 'hint', id: `hint-${name}` }, hint),
  );
}

/** A list to choose one from, where there are more than fit side by side.
 *  @param {string} label @param {{value: string, text: string}[]} options @param {string} chosen
 *  @param {(value: string) => void} choose @param {string} name */
export function list(label, options, chosen, choose, name) {
  return h(
    'div',
    { class: 'box', key: name },
    h('label', { for: `list-${name}` }, label),
    h(
      'select',
      {
        id: `list-${name}`,
        value: chosen,
        on: { change: (/** @type {Event} */ event) => choose(/** @type {HTMLSelectElement} */ (event.target).value) },
      },
      options.map((option) => h('option', { value: option.value, selected: option.value === chosen }, option.text)),
    ),
  );
}

/** How grave what a rule says is. @param {string} effect @returns {Level} */
export function levelOf(effect) {
  if (effect === '') return 'good';
  return effect === 'void' ? 'stop' : effect === 'remark' ? 'plain' : 'care';
}

/** What a rule says of a number: words, what to do, and where it stands. @param {TierFound} found @param {string} title */
export function verdict(found, title) {
  if (!found.effect) return message('good', title);
  const source = [found.document, found.section].filter(Boolean).map(tell).join(', ');
  return message(
    levelOf(found.effect),
    title,
    found.words && sentence(tell(found.words)),
    tell(found.remedy),
    h(
      'p',
      { class: 'source' },
      source,
      found.clause_unread ? ` · ${say('clause.unread')}` : '',
      found.certainty === 'judgement' ? ` · ${say('clause.judgement')}` : '',
    ),
  );
}

/** @param {string} words */
export function sentence(words) {
  const begun = words.charAt(0).toUpperCase() + words.slice(1);
  return /[.!?]$/.test(begun) ? begun : `${begun}.`;
}

/** @param {(import('./words.js').Key)[]} keys */
export function reminders(keys) {
  return h(
    'ul',
    { class: 'reminders' },
    keys.map((key) => h('li', null, say(key))),
  );
}
