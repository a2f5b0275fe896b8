/** A dialog over the whole screen, for what needs all of it: the camera, a hand that signs. */

import { draw } from './drawing.js';

/** @typedef {import('./drawing.js').Drawn} Drawn */

/** Open a dialog. It closes when the page turns, and is gone once it is closed. @param {string} kind Its class.
 *  @param {string} label @param {Drawn[]} pieces @param {() => void} closed Called once. @returns {HTMLDialogElement} */
export function overAll(kind, label, pieces, closed) {
  const dialog = document.createElement('dialog');
  dialog.className = kind;
  dialog.setAttribute('aria-label', label);
  draw(dialog, pieces);
  document.body.append(dialog);
  const close = () => dialog.close();
  addEventListener('hashchange', close);
  dialog.addEventListener('close', () => {
    removeEventListener('hashchange', close);
    dialog.remove();
    closed();
  });
  dialog.showModal();
  return dialog;
}
