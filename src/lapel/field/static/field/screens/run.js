/** Run: every pump of the day on one screen, and what each of its ports has drawn. */

import { blanksLeft } from './blanks.js';
import { h } from './drawing.js';
import { chip, head, message } from './parts.js';
import { litresText, minutesText, spanText, timeText } from './telling.js';
import { byDay } from './trains_of_day.js';
import { minutesBetween } from '../instants.js';
import { trainPage } from './train_page.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').TrainNow} TrainNow */

const OUT = new Set(['running', 'held', 'stopped', 'hung', 'post read']);

/** How long before something is due the page begins to say so. [min] */
export const SOON_MIN = 10;

/** @param {Desk} desk @returns {Piece[]} */
export function runScreen(desk) {
  const train = desk.train(desk.route[1]);
  return train ? trainPage(desk, train) : board(desk);
}

/** @param {Desk} desk @returns {Piece[]} */
function board(desk) {
  const trains = byDay(desk).today.filter((train) => OUT.has(train.stage));
  const running = trains.filter((train) => train.stage === 'running');
  const next = nextLook(desk, running);
  return [
    head(desk, say('run.title'), { under: say('run.under', { n: running.length }) }),
    next &&
      h(
        'button',
        { type: 'button', class: `next-up ${next.level}`, on: { click: () => desk.go('run', next.train.code) } },
        chip(next.level, next.words),
      ),
    trains.length > 0 && blanksLeft(desk, { isAside: true }),
    trains.length === 0 && message('plain', say('run.none'), say('run.none-do')),
    h(
      'div',
      { class: 'tiles' },
      trains.map((train) => tile(desk, train)),
    ),
  ];
}

/** @typedef {{train: TrainNow, level: 'good' | 'care' | 'stop' | 'plain', words: string, short: string, minutes: number}} Look */

/** What on a train is due first. @param {Desk} desk @param {TrainNow} train @returns {Look | null} */
export function lookOf(desk, train) {
  /** @type {Look[]} */
  const looks = [];
  const add = (
    /** @type {number} */ minutes,
    /** @type {string[]} */ late,
    /** @type {string[]} */ soon,
    graver = false,
  ) => {
    const [words = '', short = ''] = minutes < 0 ? late : soon;
    looks.push({
      train,
      minutes,
      level: minutes < 0 ? (graver ? 'stop' : 'care') : minutes <= SOON_MIN ? 'care' : 'plain',
      words,
      short,
    });
  };
  if (train.next_check_at && train.stage === 'running') {
    const minutes = minutesBetween(desk.dayNow, train.next_check_at);
    const given = { train: train.code, time: timeText(train.next_check_at, desk.zone), span: spanText(minutes) };
    const soon = say(minutes <= SOON_MIN ? 'run.check-soon' : 'run.check-short', given);
    add(minutes, [say('run.check-over', given), say('run.late', given)], [say('run.check-at', given), soon]);
  }
  /** @typedef {import('./words.js').Key} Key */
  const addOfPort = (
    /** @type {PortNow} */ port,
    /** @type {string | null} */ at,
    /** @type {Key[]} */ late,
    /** @type {Key[]} */ soon,
    graver = false,
  ) => {
    if (!port.drawing || !at) return;
    const minutes = minutesBetween(desk.dayNow, at);
    if (minutes >= 60) return;
    const inWords = (/** @type {Key} */ key) =>
      say(key, { train: train.code, port: port.port, span: spanText(minutes) });
    add(minutes, late.map(inWords), soon.map(inWords), graver);
  };
  for (const port of train.ports) {
    addOfPort(port, port.change_at, ['run.change-over', 'run.change-late'], ['run.change-at', 'run.change']);
    addOfPort(port, port.volume_max_at, ['run.max-over', 'run.over'], ['run.max-at', 'run.full'], true);
  }
  return looks.sort(byGravity)[0] ?? null;
}

/** A port over its volume goes before a look that is late. @param {Look} a @param {Look} b */
function byGravity(a, b) {
  return Number(b.level === 'stop') - Number(a.level === 'stop') || a.minutes - b.minutes;
}

/** @param {Desk} desk @param {TrainNow[]} trains */
function nextLook(desk, trains) {
  return (
    trains
      .map((train) => lookOf(desk, train))
      .filter((look) => look !== null)
      .sort(byGravity)[0] ?? null
  );
}

/** @param {Desk} desk @param {TrainNow} train */
function tile(desk, train) {
  const look = train.stage === 'running' ? lookOf(desk, train) : null;
  const level = look?.level ?? 'plain';
  const stands = {
    running: 'run.running',
    held: 'run.held',
    stopped: 'run.stopped',
    hung: 'run.hung',
    'post read': 'run.post',
  }[/** @type {string} */ (train.stage)];
  return h(
    'button',
    {
      type: 'button',
      class: `tile ${level} is-${train.stage.replace(' ', '-')}`,
      key: train.code,
      on: { click: () => desk.go('run', train.code) },
    },
    h(
      'span',
      { class: 'tile-top' },
      h('strong', null, train.code),
      h('span', { class: 'tile-worker' }, train.worker),
      h(
        'span',
        { class: 'tile-minutes' },
        train.minutes === null ? '' : say('span.minutes', { n: Number(minutesText(train.minutes)) }),
      ),
    ),
    h(
      'span',
      { class: 'tile-ports' },
      train.ports.map((port) =>
        h(
          'span',
          { class: 'tile-port', key: port.port },
          h('b', null, port.port),
          ` ${litresText(port.litres)}`,
          scale(port),
        ),
      ),
    ),
    h(
      'span',
      { class: 'tile-state' },
      train.stage !== 'running'
        ? chip(train.stage === 'held' ? 'care' : 'plain', say(/** @type {any} */ (stands)))
        : look
          ? chip(level, look.short)
          : chip('good', say('run.running')),
    ),
  );
}

/** Litres against what the port may draw, as in a burette: a long mark where it becomes useful, the end where it must stop.
 *  @param {PortNow} port */
export function scale(port) {
  if (port.litres === null || !port.volume_max_l) return null;
  const share = (/** @type {number} */ litres) =>
    `${Math.min(100, (100 * litres) / /** @type {number} */ (port.volume_max_l)).toFixed(1)}%`;
  return h(
    'span',
    {
      class: port.over_max ? 'scale over' : 'scale',
      'aria-hidden': 'true',
      vars: { '--drawn': share(port.litres), '--useful': port.volume_useful_l ? share(port.volume_useful_l) : '0%' },
    },
    h('i', { class: 'scale-drawn' }),
    port.volume_useful_l ? h('i', { class: 'scale-useful' }) : null,
  );
}
