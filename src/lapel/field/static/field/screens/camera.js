/**
 * Reading a label through the camera: by the browser's own reader of codes where it has one, by the one vendored with
 * the page elsewhere. That one is fetched when the camera is first opened, and reads QR codes, as every label of ours is.
 */

import { button } from './parts.js';
import { codeOn } from './scan.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {{detect: (video: HTMLVideoElement) => Promise<{rawValue: string}[]>}} Reader */

/** From one look at the picture to the next. [ms] */
const BETWEEN_LOOKS_MS = 120;

/** What other makers print on their tubes is read too, where the browser can. */
const FORMATS = ['qr_code', 'code_128', 'code_39', 'data_matrix'];

/** A tap on the button while the browser still asks for the camera opens no second one. */
let isOpening = false;

/** @param {Desk} desk @param {(code: string) => void} found @returns {import('./drawing.js').Piece} */
export function cameraButton(desk, found) {
  if (!navigator.mediaDevices?.getUserMedia) return null; // not over plain http
  return button(say('scan.camera'), () => void lookThroughCamera(desk, found), { kind: 'quiet', key: 'camera' });
}

/** Open the camera until a code is read or somebody closes it. @param {Desk} desk @param {(code: string) => void} found */
async function lookThroughCamera(desk, found) {
  if (isOpening) return;
  isOpening = true;
  try {
    const reader = await readerHere();
    const stream = await navigator.mediaDevices.getUserMedia({
      video: { facingMode: 'environment', width: { ideal: 1280 }, height: { ideal: 720 } },
    });
    const text = await firstCode(reader, stream);
    if (text === null) return;
    navigator.vibrate?.(35);
    found(codeOn(text));
  } catch (problem) {
    const isRefused = problem instanceof DOMException && problem.name === 'NotAllowedError';
    desk.tell('care', say(isRefused ? 'scan.refused' : 'scan.no-camera'));
  } finally {
    isOpening = false;
  }
}

/** @returns {Promise<Reader>} */
async function readerHere() {
  const Own = /** @type {any} */ (globalThis).BarcodeDetector;
  const known = /** @type {string[]} */ ((await Own?.getSupportedFormats().catch(() => [])) ?? []);
  if (known.includes('qr_code')) return new Own({ formats: FORMATS.filter((one) => known.includes(one)) });
  const { BarcodeDetector } = await import('../vendor/qr/decode.js');
  return new BarcodeDetector({ formats: ['qr_code'] });
}

/** The first code the camera sees; null where it was closed before. The camera is off when this returns.
 *  @param {Reader} reader @param {MediaStream} stream @returns {Promise<string | null>} */
async function firstCode(reader, stream) {
  const { dialog, video } = viewfinder();
  const close = () => dialog.close();
  const closeInPocket = () => document.hidden && close();
  try {
    video.srcObject = stream;
    addEventListener('hashchange', close);
    document.addEventListener('visibilitychange', closeInPocket);
    for (const track of stream.getTracks()) track.addEventListener('ended', close);
    dialog.showModal();
    void video.play().catch(() => {}); // not awaited: a camera that sends no picture is closed like any other
    while (dialog.open) {
      const codes = await reader.detect(video).catch(() => []); // no picture yet
      if (codes[0] && dialog.open) return codes[0].rawValue;
      await new Promise((resolve) => setTimeout(resolve, BETWEEN_LOOKS_MS));
    }
    return null;
  } finally {
    removeEventListener('hashchange', close);
    document.removeEventListener('visibilitychange', closeInPocket);
    for (const track of stream.getTracks()) track.stop();
    dialog.remove();
  }
}

/** What the camera sees, over the whole screen, and a way out. */
function viewfinder() {
  const dialog = document.createElement('dialog');
  dialog.className = 'camera';
  dialog.setAttribute('aria-label', say('scan.camera'));
  const hint = document.createElement('p');
  hint.textContent = say('scan.hold');
  const video = document.createElement('video');
  video.muted = true;
  video.playsInline = true;
  const cancel = document.createElement('button');
  cancel.className = 'action main';
  cancel.textContent = say('cancel');
  cancel.addEventListener('click', () => dialog.close());
  dialog.append(hint, video, cancel);
  document.body.append(dialog);
  return { dialog, video };
}
