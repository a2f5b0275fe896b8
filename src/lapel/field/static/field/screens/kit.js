/** The kit sheet of a train: scanned as a whole or typed port by port, each held against what is on the port. */

import * as acts from './acts.js';
import { cameraButton } from './camera.js';
import { h } from './drawing.js';
import { kitPortScreen } from './kit_port.js';
import { againstSupplier, differenceMessage, kitDifferences, scanKitSheet, scannedOf, seenNote } from './kit_sheet.js';
import { button, chip, head, message } from './parts.js';
import { say } from './words.js';
import { differences, hereOn, saidOf } from '../now/kit.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../kit_code.js').KitCode} KitCode */
/** @typedef {import('../now/kit.js').Difference} Difference */
/** @typedef {import('../types.js').PortNow} PortNow */
/** @typedef {import('../types.js').TrainNow} TrainNow */

/** @param {Desk} desk @returns {Piece[]} */
export function kitScreen(desk) {
  const train = desk.train(desk.route[1]);
  if (!train) return [head(desk, say('kit.title'), { back: ['prepare'] })];
  const { read } = scannedOf(desk, train);
  if (read) return review(desk, train, read);
  const port = train.ports.find((one) => one.port === desk.route[2]);
  return port ? kitPortScreen(desk, train, port) : board(desk, train);
}

/** @param {Desk} desk @param {TrainNow} train @returns {Piece[]} */
function board(desk, train) {
  const scanned = (/** @type {string} */ text) => scanKitSheet(desk, train, text);
  desk.onScan = scanned;
  const pump = train.ports.flatMap((port) => kitDifferences(desk, train, port)).find((one) => one.what === 'pump');
  return [
    head(desk, say('kit.of', { train: train.code }), { back: ['prepare', train.code], under: say('kit.under') }),
    h('p', { class: 'scan-line', role: 'status' }, say('kit.scan')),
    cameraButton(desk, scanned),
    h(
      'div',
      { class: 'rows' },
      train.ports.map((port) => row(desk, train, port)),
    ),
    pump && message('care', say('kit.differs-pump', pump)),
    ...train.ports.map((port) => differenceMessage(port.port, butThePump(kitDifferences(desk, train, port)))),
    h('p', { class: 'under' }, say('kit.never-before')),
    button(say('next'), () => desk.go('prepare', train.code)),
  ];
}

/** What differs on a port; another pump is said once for the train. @param {Difference[]} found */
const butThePump = (found) => found.filter((one) => one.what !== 'pump');

/** @param {Desk} desk @param {TrainNow} train @param {PortNow} port */
function row(desk, train, port) {
  const said = saidOf(desk.view.day, train, port.port);
  const found = kitDifferences(desk, train, port);
  const lines = said
    ? [said.medium, said.catalogue, said.lot, said.intended && `${said.intended} ${said.intended_unit}`]
    : [port.medium, port.lot];
  return h(
    'button',
    { type: 'button', class: 'row', key: port.port, on: { click: () => desk.go('kit', train.code, port.port) } },
    h(
      'span',
      { class: 'row-name' },
      say('port', { port: port.port }),
      h('small', null, lines.filter(Boolean).join(' · ')),
      h('small', null, againstSupplier(desk, train, port)),
    ),
    said
      ? chip(found.length ? 'care' : 'good', say(found.length ? 'kit.differs-short' : 'kit.agrees'))
      : h('span', { class: 'row-next' }, say('kit.enter')),
  );
}

/** What was scanned, looked at before it is kept. @param {Desk} desk @param {TrainNow} train @param {KitCode} read
 *  @returns {Piece[]} */
function review(desk, train, read) {
  const { pack } = desk.view;
  const drop = () => (scannedOf(desk, train).read = null);
  const said = read.ports.map((one) => ({
    ...one,
    pump: read.pump,
    intended_unit: one.intended && read.unit,
    supplier_unit: one.supplier && read.unit,
  }));
  const looked = said.map((one) => {
    const port = train.ports.find((each) => each.port === one.port);
    return { one, port, found: port ? differences(one, hereOn(pack, train, port)) : [] };
  });
  const missing = train.ports.filter((port) => !read.ports.some((one) => one.port === port.port));
  const other = desk.trains.find((one) => one !== train && one.pump === read.pump);
  const differs = looked.some(({ found }) => found.length > 0);
  const keep = () =>
    desk.keep(
      looked.flatMap(({ one, port, found }) => [
        acts.kitSheet({ train: train.code, ...one, how: 'scanned' }),
        ...(port ? seenNote(desk, train, port.port, found) : []),
      ]),
      say('kit.all-kept', { n: said.length }),
      () => {
        drop();
        desk.go('prepare', train.code);
      },
    );
  return [
    head(desk, say('kit.of', { train: train.code }), { back: ['prepare', train.code], under: say('kit.scanned') }),
    h(
      'p',
      { class: 'great-code' },
      read.pump,
      h('small', null, say('kit.pump', { train: train.code, pump: train.pump })),
    ),
    read.pump !== train.pump && message('care', say('kit.differs-pump', { sheet: read.pump, here: train.pump })),
    read.pump !== train.pump &&
      other !== undefined &&
      button(say('kit.to-train', { train: other.code, pump: read.pump }), () => {
        drop();
        scannedOf(desk, other).read = read;
        desk.go('kit', other.code);
      }),
    h(
      'ul',
      { class: 'flows' },
      looked.map(({ one, port, found }) =>
        h(
          'li',
          { key: one.port },
          h('span', { class: 'port-letter' }, one.port),
          h(
            'span',
            { class: 'flow' },
            h('strong', null, one.medium || '–'),
            h('small', null, [one.catalogue, one.lot].filter(Boolean).join(' · ')),
            h(
              'small',
              null,
              one.intended && say('kit.meant', { flow: `${one.intended} ${read.unit}` }),
              one.supplier && ` · ${say('kit.read', { flow: `${one.supplier} ${read.unit}` })}`,
            ),
          ),
          port
            ? chip(found.length ? 'care' : 'good', say(found.length ? 'kit.differs-short' : 'kit.agrees'))
            : chip('plain', say('kit.not-here')),
        ),
      ),
    ),
    ...looked.map(({ one, found }) => differenceMessage(one.port, butThePump(found))),
    missing.length > 0 && message('plain', say('kit.missing', { ports: missing.map((port) => port.port).join(' ') })),
    differs && h('p', { class: 'asked' }, say('kit.differs-ask')),
    button(say(differs ? 'kit.keep-differs' : 'kit.keep-all'), keep, { kind: differs ? 'stop' : 'main' }),
    button(
      say('kit.scan-again'),
      () => {
        drop();
        desk.redraw();
      },
      { kind: 'quiet' },
    ),
    h('p', { class: 'under' }, say('kit.never-before')),
  ];
}
