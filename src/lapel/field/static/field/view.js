/** What the screens read: one look at everything the page knows, never changed once made. */

import { said } from './said.js';

/** @typedef {import('./types.js').Day} Day */
/** @typedef {import('./types.js').DeviceIdentity} DeviceIdentity */
/** @typedef {import('./types.js').Entry} Entry */
/** @typedef {import('./types.js').OutboxView} OutboxView */
/** @typedef {import('./types.js').Pack} Pack */
/** @typedef {import('./types.js').PlannedTrain} PlannedTrain */
/** @typedef {import('./types.js').SurveyName} SurveyName */
/** @typedef {import('./types.js').View} View */
/** @typedef {import('./store.js').Waiting} Waiting */

/**
 * @typedef {object} Known What a view is made of.
 * @property {DeviceIdentity | null} device
 * @property {SurveyName[]} surveys
 * @property {string} survey
 * @property {string} author
 * @property {Pack | null} pack
 * @property {number} packAt Milliseconds since 1970; 0 without a pack.
 * @property {PlannedTrain[]} planned
 * @property {Map<string, Entry>} entries
 * @property {Waiting[]} waitingNow Of all devices this one has been.
 * @property {Omit<OutboxView, 'waiting' | 'elsewhere' | 'refused'>} sending
 * @property {View['clock']} clock
 * @property {View['storage']} storage
 * @property {boolean} updateOffered
 * @property {string} pairingCode
 */

/** @param {Known} known @param {Day} day The entries, folded. @returns {View} */
export function viewOf(known, day) {
  const { device, survey, author, waitingNow } = known;
  const own = waitingNow.filter((one) => one.device === device?.code);
  const running = Object.values(day.runs).some((run) => isDrawing(run));
  /** @type {View} */
  const view = {
    phase: !device ? 'unpaired' : survey && author ? 'ready' : 'choosing',
    secure: isSecureContext,
    device,
    surveys: known.surveys,
    survey,
    author,
    pack: known.pack,
    pack_fetched_at: known.packAt ? new Date(known.packAt).toISOString() : '',
    entries: [...known.entries.values()],
    day,
    outbox: {
      waiting: own.filter((one) => !one.refusal).length,
      elsewhere: waitingNow.length - own.length,
      refused: own.flatMap(({ entry, refusal }) => (refusal ? [{ entry, ...refusal }] : [])),
      ...known.sending,
    },
    clock: known.clock,
    storage: known.storage,
    update: {
      offered: known.updateOffered,
      blocked: running,
      why: running ? said('A pump is running. The page is changed when all have stopped.') : '',
    },
    pairing: { code: known.pairingCode, needs_consent: device !== null || waitingNow.length > 0 },
    planned: known.planned,
  };
  return Object.freeze(view);
}

/** @param {import('./types.js').SampleRun} run @returns {boolean} */
function isDrawing(run) {
  const last = run.segments.at(-1);
  return last !== undefined && last.stop === null && !last.ended_by;
}
