/** Which trains are today's: those planned, and those touched within the last hours. */

import { msOf } from '../instants.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('../types.js').TrainNow} TrainNow */

/** A train that was prepared longer ago than this belongs to an earlier day; long enough for any shift. [h] */
const DAY_H = 20;

/** @param {Desk} desk @param {TrainNow} train */
export function preparationOf(desk, train) {
  return train.preparation < 0 ? undefined : desk.view.day.trains[train.code]?.preparations[train.preparation];
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

/** @param {Desk} desk @param {TrainNow} train */
function isPast(desk, train) {
  const preparation = preparationOf(desk, train);
  if (!preparation || train.stage === 'running' || train.stage === 'held') return false;
  const times = [preparation.at, preparation.hung.at(-1)?.at, preparation.post_rounds.at(-1)?.at, preparation.pump_runs.at(-1)?.stop];
  const last = Math.max(0, ...times.filter((at) => typeof at === 'string').map((at) => msOf(/** @type {string} */ (at))));
  return desk.now - last > DAY_H * 3600000;
}
