/**
 * The screens of the field page: one frame, one screen in it, drawn from what the core says and from where we are.
 *
 * Screens hold no store and ask no server: they describe what is to be seen, and hand acts to the core.
 */

import { addTrainScreen } from './add_train.js';
import { benchScreen } from './bench.js';
import { blankScreen } from './blanks.js';
import { Desk } from './desk.js';
import { draw, h } from './drawing.js';
import { checkScreen, forTrain, holdScreen, resumeScreen, tubeScreen } from './during.js';
import { kitScreen } from './kit.js';
import { dayScreen, moreScreen, themeKept, wearTheme } from './more.js';
import { noteScreen } from './notes.js';
import { insecure, pairingScreen, whoScreen } from './pairing.js';
import { parcelScreen } from './parcel.js';
import { message, shape } from './parts.js';
import { prepareScreen } from './prepare.js';
import { checkFlowScreen } from './check_flow.js';
import { entryScreen, recordedScreen } from './recorded.js';
import { pumpDisplayScreen } from './pump_display.js';
import { runScreen } from './run.js';
import { listenToKeys } from './scan.js';
import { startScreen } from './start.js';
import { stopScreen } from './stop.js';
import { timeText } from './telling.js';
import { troubleScreen } from './trouble.js';
import { sendingLevel, sendingText, waitingScreen } from './waiting.js';
import { say, speakAsChosen, tell } from './words.js';

/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').Field} Field */

/** How often the clock on the page moves on. [ms] */
const TICK_MS = 10000;

/** How long what was kept stays said, with the way to undo it. [ms] */
const SAID_MS = 12000;

const PARTS = /** @type {const} */ (['prepare', 'start', 'run', 'stop', 'more']);

/** @type {Record<string, (desk: Desk) => Piece[]>} */
const SCREENS = {
  prepare: prepareScreen,
  'add-train': addTrainScreen,
  kit: kitScreen,
  bench: benchScreen,
  start: startScreen,
  blank: blankScreen,
  run: runScreen,
  check: (desk) => forTrain(desk, checkScreen),
  'check-flow': (desk) => forTrain(desk, checkFlowScreen),
  'pump-display': (desk) => forTrain(desk, pumpDisplayScreen),
  hold: (desk) => forTrain(desk, holdScreen),
  resume: (desk) => forTrain(desk, resumeScreen),
  tube: (desk) => forTrain(desk, tubeScreen),
  trouble: (desk) => forTrain(desk, troubleScreen),
  stop: stopScreen,
  note: noteScreen,
  log: recordedScreen,
  entry: entryScreen,
  parcel: parcelScreen,
  more: moreScreen,
  day: dayScreen,
  waiting: waitingScreen,
  pairing: pairingScreen,
  who: whoScreen,
};

/** Which of the five parts a screen belongs to. @type {Record<string, (typeof PARTS)[number]>} */
const PART_OF = {
  'add-train': 'prepare',
  kit: 'prepare',
  blank: 'start',
  check: 'run',
  'check-flow': 'run',
  'pump-display': 'run',
  hold: 'run',
  resume: 'run',
  tube: 'run',
  trouble: 'run',
  note: 'run',
  bench: 'more',
  log: 'more',
  entry: 'more',
  parcel: 'more',
  day: 'more',
  waiting: 'more',
  pairing: 'more',
  who: 'more',
};

/** Draw the field page into its root, now and whenever something changed. @param {HTMLElement} root @param {Field} field */
export function mount(root, field) {
  speakAsChosen();
  wearTheme(themeKept());
  let drawnRoute = '';
  let waiting = false;
  const desk = new Desk(field, () => {
    if (waiting) return;
    waiting = true;
    queueMicrotask(() => {
      waiting = false;
      redraw();
    });
  });
  /** @type {number | undefined} */
  let unsaying;
  let said = desk.told;

  function redraw() {
    desk.route = location.hash.replace(/^#\/?/, '').split('/').filter(Boolean).map(decodeURIComponent);
    if (desk.route.length === 0) desk.route = ['prepare'];
    desk.onScan = null;
    desk.pad = null;
    desk.wantsRoom = false;
    const route = desk.route.join('/');
    draw(root, frame(desk, route));
    if (desk.told !== said) {
      said = desk.told;
      clearTimeout(unsaying);
      if (desk.told?.level === 'good') unsaying = window.setTimeout(() => ((desk.told = null), desk.redraw()), SAID_MS);
    }
    if (route !== drawnRoute) {
      const moved = drawnRoute !== '';
      drawnRoute = route;
      root.querySelector('.screen')?.scrollTo(0, 0);
      window.scrollTo(0, 0);
      if (moved) /** @type {HTMLElement | null} */ (root.querySelector('h1'))?.focus({ preventScroll: true });
    }
  }

  field.subscribe(() => desk.redraw());
  addEventListener('hashchange', () => {
    if (desk.told && desk.told.level !== 'good') desk.told = null;
    redraw();
  });
  listenToKeys(desk);
  setInterval(() => desk.redraw(), TICK_MS);
  redraw();
}

/** @param {Desk} desk @param {string} route */
function frame(desk, route) {
  const { view } = desk;
  const name =
    view.phase === 'unpaired'
      ? 'pairing'
      : view.phase === 'choosing' && desk.route[0] !== 'pairing'
        ? 'who'
        : view.pairing.code
          ? 'pairing'
          : (desk.route[0] ?? 'prepare');
  const screen = SCREENS[name] ?? prepareScreen;
  const part = PART_OF[name] ?? name;
  const pieces = screen(desk).filter((piece) => piece !== null && piece !== false && piece !== undefined);
  return [
    h(
      'div',
      { class: `frame ${desk.wantsRoom ? 'with-pad' : ''} ${desk.busy ? 'busy' : ''}` },
      status(desk),
      h('div', { class: 'notices' }, notices(desk, name)),
      h('div', { class: `screen at-${name}`, key: `${name}/${route}` }, pieces),
      h('div', { class: 'foot' }, toast(desk), view.phase === 'ready' && parts(desk, part)),
    ),
    h(
      'div',
      { class: 'for-readers', 'aria-live': 'assertive', key: 'said' },
      desk.told ? [desk.told.words, ...desk.told.more].join(' ') : '',
    ),
  ];
}

/** @param {Desk} desk */
function status(desk) {
  const { view } = desk;
  const level = sendingLevel(desk);
  return h(
    'div',
    { class: 'status' },
    h('span', { class: 'house', 'aria-hidden': 'true' }, mark()),
    h('span', { class: 'status-words' }, view.pack?.survey.title || view.survey || say('house')),
    h('time', { class: 'clock' }, timeText(new Date(desk.now).toISOString(), desk.zone)),
    view.phase !== 'unpaired' &&
      h(
        'button',
        { type: 'button', class: `sync ${level}`, on: { click: () => desk.go('waiting') } },
        shape(level),
        h('span', null, sendingText(desk)),
      ),
  );
}

function mark() {
  return h(
    'svg',
    { viewBox: '0 0 28 28', class: 'mark-svg' },
    h('path', { d: 'M14 3v8M14 11C14 15 5 14 5 20M14 11v9M14 11c0 4 9 3 9 9' }),
    h('path', { class: 'thick', d: 'M5 22v3M14 22v3M23 22v3' }),
  );
}

/** What must be known on every screen. @param {Desk} desk @param {string} name */
function notices(desk, name) {
  const { view } = desk;
  return [
    !view.secure && name !== 'pairing' && insecure(),
    (view.storage.full || view.storage.problem) &&
      message('stop', say('storage.full'), tell(view.storage.problem) || say('storage.full-do')),
    view.update.offered &&
      !view.update.blocked &&
      name !== 'waiting' &&
      h('button', { type: 'button', class: 'notice', on: { click: () => desk.go('waiting') } }, say('update.title')),
    view.phase === 'ready' &&
      !view.pack &&
      name !== 'waiting' &&
      message('care', say('pack.none'), say('pack.none-do')),
  ];
}

/** @param {Desk} desk */
function toast(desk) {
  const { told } = desk;
  if (!told) return null;
  return h(
    'div',
    { class: `toast ${told.level}` },
    shape(told.level),
    h(
      'div',
      { class: 'toast-words' },
      h('p', null, told.words),
      told.more.map((words) => h('p', { class: 'toast-more' }, words)),
    ),
    told.entries.length > 0 &&
      h(
        'button',
        { type: 'button', class: 'toast-act', on: { click: () => void desk.undo(told.entries) } },
        say('undo'),
      ),
    h(
      'button',
      {
        type: 'button',
        class: 'toast-act',
        'aria-label': say('dismiss'),
        on: { click: () => ((desk.told = null), desk.redraw()) },
      },
      '×',
    ),
  );
}

/** @param {Desk} desk @param {string} part */
function parts(desk, part) {
  return h(
    'nav',
    { class: 'parts', 'aria-label': say('parts') },
    PARTS.map((one) =>
      h(
        'button',
        {
          type: 'button',
          key: one,
          class: 'part',
          'aria-current': one === part ? 'page' : undefined,
          on: { click: () => desk.go(one) },
        },
        partMark(one),
        h('span', null, say(`part.${one}`)),
      ),
    ),
  );
}

/** @param {(typeof PARTS)[number]} part */
function partMark(part) {
  const paths = {
    prepare: 'M10 2v5M5 7h10M6 7v8a4 4 0 0 0 8 0V7M6 11h8',
    start: 'M6 3l10 7-10 7Z',
    run: 'M10 2a8 8 0 1 0 .01 0ZM10 5.5V10l3.2 2.2',
    stop: 'M5 5h10v10H5Z',
    more: 'M4 6h12M4 10h12M4 14h12',
  };
  return h('svg', { viewBox: '0 0 20 20', class: 'shape', 'aria-hidden': 'true' }, h('path', { d: paths[part] }));
}
