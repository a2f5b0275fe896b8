/** What stands on a label, and reading it by a scanner that types like a keyboard. */

/** @typedef {import('./desk.js').Desk} Desk */

/** Signs closer together than this come from a scanner, not from fingers. [ms] */
const SCANNER_MS = 100;
const SHORTEST = 3;

/** What stands on a label of ours is the sampler's own number, alone or at the end of an address.
 *  @param {string} text @returns {string} */
export function codeOn(text) {
  const trimmed = text.trim();
  const last = /[/#=:]([^/#=:\s]+)$/.exec(trimmed);
  return last?.[1] && /^[a-z][a-z0-9+.-]*:/i.test(trimmed) ? last[1] : trimmed;
}

/** Listen to the keyboard: digits go to the pad, a scanner's burst to whoever reads labels.
 *  @param {Desk} desk */
export function listenToKeys(desk) {
  let burst = '';
  let last = 0;
  /** @type {number | undefined} */
  let waiting;
  const asKeys = () => {
    const signs = burst;
    burst = '';
    for (const sign of signs) press(desk, sign);
  };
  document.addEventListener('keydown', (event) => {
    const target = /** @type {HTMLElement} */ (event.target);
    const inBox = target.matches('input, textarea, select');
    if (event.ctrlKey || event.metaKey || event.altKey || (inBox && !desk.onScan)) return;
    const quick = event.timeStamp - last < SCANNER_MS;
    last = event.timeStamp;
    if (event.key === 'Enter') {
      clearTimeout(waiting);
      if (desk.onScan && burst.length >= SHORTEST && quick) {
        event.preventDefault();
        const code = codeOn(burst);
        burst = '';
        desk.onScan(code);
        return;
      }
      if (desk.pad && !inBox && !target.matches('button')) {
        asKeys();
        event.preventDefault();
        desk.pad.keep();
      }
      return;
    }
    if (event.key === 'Backspace' && desk.pad && !inBox) {
      event.preventDefault();
      desk.pad.erase();
      return;
    }
    if (event.key.length !== 1) return;
    if (!desk.onScan) {
      if (desk.pad) press(desk, event.key);
      return;
    }
    burst = quick ? burst + event.key : event.key;
    clearTimeout(waiting);
    if (!inBox) waiting = window.setTimeout(asKeys, SCANNER_MS + 20);
  });
}

/** @param {Desk} desk @param {string} sign */
function press(desk, sign) {
  if (!desk.pad) return;
  if (/^[0-9]$/.test(sign)) desk.pad.type(sign);
  else if (sign === '.' || sign === ',') desk.pad.type('.');
}
