/** Everything that is not one of the four parts of the day: what waits, the bench, the parcel, the log, the looks. */

import { h } from './drawing.js';
import { button, choices, head, message } from './parts.js';
import { codeText, keepLanguage, LANGUAGES, languageKept, say, tell } from './words.js';
import { sendingText } from './waiting.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */

export const THEMES = /** @type {const} */ (['device', 'light', 'dark', 'outdoor']);
const THEME_KEY = 'lapel-theme';

/** @returns {string} */
export function themeKept() {
  try {
    const kept = localStorage.getItem(THEME_KEY) ?? '';
    return THEMES.some((theme) => theme === kept) ? kept : 'device';
  } catch {
    return 'device';
  }
}

/** @param {string} theme */
export function wearTheme(theme) {
  document.documentElement.dataset.theme = theme;
  try {
    localStorage.setItem(THEME_KEY, theme);
  } catch {
    // a full disk: the look holds until the page is closed
  }
}

/** @param {Desk} desk @returns {Piece[]} */
export function moreScreen(desk) {
  const { view } = desk;
  const to = (/** @type {string} */ route, /** @type {string} */ title, /** @type {string} */ hint) =>
    h(
      'button',
      { type: 'button', class: 'row', key: route, on: { click: () => desk.go(route) } },
      h('span', { class: 'row-name' }, title, h('small', null, hint)),
    );
  const settle = view.day.conflicts.length + view.day.unusable.length;
  return [
    head(desk, say('more.title'), {
      under: [view.device?.name || view.device?.code, view.author].filter(Boolean).join(' · '),
    }),
    h(
      'div',
      { class: 'rows' },
      to('waiting', say('waiting.title'), sendingText(desk)),
      to('bench', say('bench.title'), desk.place.meter || say('not.chosen')),
      to('parcel', say('parcel.title'), say('more.parcel')),
      to('log', say('log.title'), say('more.log', { n: view.day.entry_count })),
      to('note', say('note.title'), say('more.note')),
      to('day', say('more.day'), settle ? say('more.settle', { n: settle }) : say('more.nothing-to-settle')),
    ),
    choices(
      say('more.look'),
      THEMES.map((theme) => ({ value: theme, text: say(`theme.${theme}`) })),
      themeKept(),
      (theme) => (wearTheme(theme), desk.redraw()),
      { wide: true },
    ),
    choices(
      say('more.language'),
      [
        { value: '', text: say('language.device') },
        ...Object.entries(LANGUAGES).map(([lang, text]) => ({ value: lang, text, lang })),
      ],
      languageKept(),
      (language) => (keepLanguage(language), (desk.told = null), desk.redraw()),
      { wide: true },
    ),
    h(
      'div',
      { class: 'pair' },
      button(say('more.who'), () => desk.go('who'), { kind: 'quiet', hint: view.author }),
      button(say('more.pair'), () => desk.go('pairing'), { kind: 'quiet', hint: view.device?.code ?? '' }),
    ),
  ];
}

/** Remarks and conflicts of the day, for people to settle. @param {Desk} desk @returns {Piece[]} */
export function dayScreen(desk) {
  const { day, clock } = desk.view;
  return [
    head(desk, say('more.day'), { back: ['more'] }),
    ...day.conflicts.map((one) =>
      message(
        'care',
        say('conflict'),
        tell(one.words),
        h('p', { class: 'source' }, [one.train, one.port, ...one.samplers].filter(Boolean).join(' · ')),
      ),
    ),
    ...day.unusable.map((one) =>
      message('stop', say('more.unusable', { kind: codeText(one.kind) }), ...one.problems.map(tell)),
    ),
    ...day.remarks.slice(0, 40).map((one) => message('plain', tell(one.words))),
    clock.ahead_s !== null &&
      Math.abs(clock.ahead_s) > 60 &&
      message(
        'care',
        say(clock.ahead_s > 0 ? 'more.clock-ahead' : 'more.clock-behind', {
          n: Math.round(Math.abs(clock.ahead_s) / 60),
        }),
        say('more.clock-do'),
      ),
    day.conflicts.length + day.remarks.length + day.unusable.length === 0 &&
      message('good', say('more.nothing-to-settle')),
  ];
}
