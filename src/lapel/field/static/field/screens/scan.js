/** Reading labels: by the camera where the browser can, and by a scanner that types like a keyboard. */

import { say } from './words.js';
import { h } from './drawing.js';

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

/** @returns {boolean} */
export function canUseCamera() {
  return 'BarcodeDetector' in globalThis && Boolean(navigator.mediaDevices?.getUserMedia);
}

/** @param {Desk} desk @param {(code: string) => void} found @returns {import('./drawing.js').Piece} */
export function cameraButton(desk, found) {
  if (!canUseCamera()) return null;
  return h(
    'button',
    { type: 'button', class: 'action quiet', key: 'camera', on: { click: () => void lookThroughCamera(desk, found) } },
    h('span', { class: 'action-text' }, say('scan.camera')),
  );
}

/** @param {Desk} desk @param {(code: string) => void} found */
export async function lookThroughCamera(desk, found) {
  /** @type {MediaStream} */
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment' } });
  } catch {
    desk.tell('care', say('scan.no-camera'));
    return;
  }
  const dialog = document.createElement('dialog');
  dialog.className = 'camera';
  dialog.setAttribute('aria-label', say('scan.camera'));
  const video = document.createElement('video');
  video.muted = true;
  video.playsInline = true;
  video.srcObject = stream;
  const cancel = document.createElement('button');
  cancel.className = 'action main';
  cancel.textContent = say('cancel');
  dialog.append(video, cancel);
  document.body.append(dialog);
  cancel.addEventListener('click', () => dialog.close());
  dialog.addEventListener('close', () => {
    for (const track of stream.getTracks()) track.stop();
    dialog.remove();
  });
  dialog.showModal();
  await video.play();
  const detector = new /** @type {any} */ (globalThis).BarcodeDetector({
    formats: ['qr_code', 'code_128', 'code_39', 'data_matrix'],
  });
  while (dialog.open) {
    const codes = await detector.detect(video).catch(() => []);
    if (codes.length > 0 && dialog.open) {
      dialog.close();
      navigator.vibrate?.(35);
      found(codeOn(String(codes[0].rawValue)));
      return;
    }
    await new Promise((resolve) => setTimeout(resolve, 150));
  }
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
