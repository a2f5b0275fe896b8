/** One train while it runs: what each port has drawn, what is due, what can be done, and trouble one tap further. */

import { h } from './drawing.js';
import { button, chip, facts, head, message } from './parts.js';
import { lookOf, scale, SOON_MIN } from './run.js';
import { litresText, minutesText, spanText, timeText } from './telling.js';
import { portsWaiting } from './trains_of_day.js';
import { TROUBLES } from './trouble.js';
import { minutesBetween } from '../instants.js';
import { say, tell } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').TrainNow} TrainNow */

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
export function trainPage(desk, train) {
  const look = train.stage === 'running' ? lookOf(desk, train) : null;
  const running = train.stage === 'running';
  const held = train.stage === 'held';
  const waiting = portsWaiting(train);
  const to =
    (/** @type {string[]} */ ...route) =>
    () =>
      desk.go(...route);
  return [
    head(desk, say('train', { train: train.code }), {
      back: ['run'],
      under: [train.worker, train.pump, train.splitter].filter(Boolean).join(' · '),
    }),
    look && look.level !== 'plain' && message(look.level === 'stop' ? 'stop' : 'care', look.words),
    ...conflictsOf(desk, train),
    h(
      'div',
      { class: 'now-line' },
      h(
        'p',
        { class: 'great-number' },
        minutesText(train.minutes ?? mostMinutes(train)),
        h('small', null, say('minutes')),
      ),
      facts([
        [say('train.since'), timeText(train.running_since, desk.zone)],
        [say('train.next-check'), train.next_check_at ? timeText(train.next_check_at, desk.zone) : '–'],
        [say('train.useful'), timeText(train.earliest_useful_stop, desk.zone)],
        [say('train.safe'), timeText(train.latest_safe_stop, desk.zone)],
      ]),
    ),
    running && button(say('train.check'), to('check', train.code), { key: 'check' }),
    running &&
      waiting.length > 0 &&
      button(say('start.the-rest', { ports: waiting.join(' ') }), to('start', train.code), { key: 'the-rest' }),
    held && button(say('train.resume'), to('resume', train.code), { key: 'resume' }),
    !running &&
      !held &&
      train.stage !== 'hung' &&
      button(say('train.to-stop'), to('stop', train.code), { key: 'to-stop' }),
    train.stage === 'hung' && button(say('train.to-start'), to('start', train.code), { key: 'to-start' }),
    (running || held) &&
      h(
        'div',
        { class: 'grid-actions' },
        button(say('train.stop'), to('stop', train.code), { kind: 'quiet' }),
        running && button(say('train.hold'), to('hold', train.code), { kind: 'quiet' }),
        button(say('train.change'), to('tube', train.code), { kind: 'quiet' }),
      ),
    (running || held) &&
      h(
        'section',
        { class: 'troubles', 'aria-labelledby': 'trouble-title' },
        h('h2', { id: 'trouble-title' }, say('trouble.title')),
        h(
          'div',
          { class: 'grid-actions' },
          TROUBLES.map((kind) =>
            button(say(`trouble.${kind}`), to('trouble', train.code, kind), { kind: 'stop', key: kind }),
          ),
        ),
      ),
    h(
      'ul',
      { class: 'port-list' },
      train.ports.map((port) => portLine(desk, port)),
    ),
    h(
      'div',
      { class: 'grid-actions' },
      !(running || held) && button(say('train.task'), to('trouble', train.code, 'task'), { kind: 'quiet' }),
      button(say('train.note'), to('note', train.code), { kind: 'quiet' }),
      button(say('train.log'), to('log', train.code), { kind: 'quiet' }),
    ),
  ];
}

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
function conflictsOf(desk, train) {
  return desk.view.day.conflicts
    .filter((one) => one.train === train.code)
    .slice(0, 3)
    .map((one) => message('care', say('conflict'), tell(one.words)));
}

/** What the train has drawn, while its pump does not run. @param {TrainNow} train */
function mostMinutes(train) {
  const minutes = train.ports.map((port) => port.minutes).filter((one) => one !== null);
  return minutes.length > 0 ? Math.max(...minutes) : null;
}

/** @param {Desk} desk @param {PortNow} port */
function portLine(desk, port) {
  const left = port.volume_max_at ? minutesBetween(desk.dayNow, port.volume_max_at) : null;
  const useful = port.useful_at ? minutesBetween(desk.dayNow, port.useful_at) : null;
  const change = port.change_at ? minutesBetween(desk.dayNow, port.change_at) : null;
  return h(
    'li',
    { key: port.port },
    h('span', { class: 'port-letter' }, port.port),
    h(
      'div',
      { class: 'port-body' },
      h(
        'p',
        null,
        h('strong', null, port.sampler || say('train.no-sampler')),
        ' ',
        h('small', null, [port.medium, port.lot].filter(Boolean).join(' · ')),
      ),
      h(
        'p',
        null,
        h('span', { class: 'figure' }, litresText(port.litres)),
        ' ',
        h('span', { class: 'figure' }, say('span.minutes', { n: Number(minutesText(port.minutes ?? 0)) })),
        port.segments > 1 && h('small', null, ` · ${say('train.segments', { n: port.segments })}`),
      ),
      scale(port),
      h(
        'p',
        { class: 'port-marks' },
        port.over_max
          ? chip('stop', say('train.over', { max: litresText(port.volume_max_l) }))
          : left !== null && port.drawing
            ? chip(
                left <= SOON_MIN ? 'care' : 'plain',
                say('train.left', { span: spanText(left), max: litresText(port.volume_max_l) }),
              )
            : null,
        change !== null
          ? chip(
              change <= SOON_MIN ? 'care' : 'plain',
              say(change < 0 ? 'train.change-late' : 'train.change-in', {
                code: port.next_sampler,
                span: spanText(change),
              }),
            )
          : null,
        port.reached_useful
          ? chip('good', say('train.is-useful'))
          : useful !== null && useful > 0
            ? chip('plain', say('train.useful-in', { span: spanText(useful) }))
            : null,
        !port.drawing && port.run
          ? chip(port.held ? 'care' : 'plain', say(port.held ? 'run.held' : 'train.not-drawing'))
          : null,
        !port.closing_stands && port.closing_lost ? chip('care', tell(port.closing_lost)) : null,
      ),
    ),
  );
}
