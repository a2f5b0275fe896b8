/**
 * Reading a label through the camera: by the browser's own reader of codes where it has one, by the one vendored with
 * the page elsewhere. That one is fetched when the camera is first opened, and reads QR codes, as every label of ours is.
 */

import { h } from './drawing.js';
import { button } from './parts.js';
import { codeOn } from './scan.js';
import { overAll } from './whole_screen.js';
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
  try {
    const text = await firstCode(...(await opened()));
    if (text === null) return;
    navigator.vibrate?.(35);
    found(codeOn(text));
  } catch (problem) {
    const isRefused = problem instanceof DOMException && problem.name === 'NotAllowedError';
    desk.tell('care', say(isRefused ? 'scan.refused' : 'scan.no-camera'));
  }
}

/** @returns {Promise<[Reader, MediaStream]>} */
async function opened() {
  isOpening = true;
  try {
    const reader = await readerHere();
    const video = { facingMode: 'environment', width: { ideal: 1280 }, height: { ideal: 720 } };
    return [reader, await navigator.mediaDevices.getUserMedia({ video })];
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

/** The first code the camera sees; null where it was closed before. The camera is off once it is closed.
 *  @param {Reader} reader @param {MediaStream} stream @returns {Promise<string | null>} */
async function firstCode(reader, stream) {
  const close = () => dialog.close();
  const closeInPocket = () => document.hidden && close();
  const pieces = [h('p', null, say('scan.hold')), h('video', { playsinline: true }), button(say('cancel'), close)];
  const off = () => stream.getTracks().forEach((track) => track.stop());
  const dialog = overAll('camera', say('scan.camera'), pieces, () => {
    document.removeEventListener('visibilitychange', closeInPocket);
    off();
  });
  document.addEventListener('visibilitychange', closeInPocket);
  for (const track of stream.getTracks()) track.addEventListener('ended', close);
  const video = /** @type {HTMLVideoElement} */ (dialog.querySelector('video'));
  video.muted = true; // its attribute counts only where a page is read
  video.srcObject = stream;
  void video.play().catch(() => {}); // not awaited: a camera that sends no picture is closed like any other
  while (dialog.open) {
    const codes = await reader.detect(video).catch(() => []); // no picture yet
    if (codes[0] && dialog.open) {
      close();
      off();
      return codes[0].rawValue;
    }
    await new Promise((resolve) => setTimeout(resolve, BETWEEN_LOOKS_MS));
  }
  return null;
}
