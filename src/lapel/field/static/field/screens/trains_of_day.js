/** Which trains are today's: those planned and not yet done on another day, and those in hand. */

import { instantText, msOf } from '../instants.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('../types.js').TrainNow} TrainNow */

/** @param {Desk} desk @param {TrainNow} train */
export function preparationOf(desk, train) {
  return train.preparation < 0 ? undefined : desk.view.day.trains[train.code]?.preparations[train.preparation];
}

/** Ports whose sampler hangs and was never started, while others of the train run. @param {TrainNow} train @returns {string[]} */
export function portsWaiting(train) {
  if (train.stage !== 'running') return [];
  return train.ports.filter((port) => port.run && port.sampler && port.segments === 0).map((port) => port.port);
}

/** @param {Desk} desk @returns {{today: TrainNow[], earlier: TrainNow[]}} */
export function byDay(desk) {
  /** @type {TrainNow[]} */
  const today = [];
  /** @type {TrainNow[]} */
  const earlier = [];
  for (const train of desk.trains) (isPast(desk, train) ? earlier : today).push(train);
  return { today, earlier };
}

/** A train whose last preparation is of another day and that no plan has still to come; it can be put together again.
 *  @param {Desk} desk @param {TrainNow} train */
function isPast(desk, train) {
  const before = desk.view.day.trains[train.code]?.preparations ?? [];
  return train.preparation < 0 && before.length > 0 && !isStillPlanned(desk, train.code, before.at(-1)?.at ?? '');
}

/** A plan names its trains anew every day. One of the night before waits past midnight until it is put together.
 *  @param {Desk} desk @param {string} code @param {string} lastPrepared */
function isStillPlanned(desk, code, lastPrepared) {
  const { pack } = desk.view;
  if (!pack?.planned_for || !pack.trains.some((train) => train.train === code)) return false;
  const dayOf = (/** @type {number} */ at) => instantText(at, desk.zone).slice(0, 10);
  const today = dayOf(desk.now);
  if (pack.planned_for === today) return true;
  return pack.planned_for < today && lastPrepared !== '' && dayOf(msOf(lastPrepared)) < pack.planned_for;
}
