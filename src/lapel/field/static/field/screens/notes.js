/** A note or a picture about a train, its worker or the place. */

import * as acts from './acts.js';
import { h } from './drawing.js';
import { box, button, choices, head, message } from './parts.js';
import { instantText } from '../instants.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */

/** @param {Desk} desk @returns {Piece[]} */
export function noteScreen(desk) {
  const code = desk.route[1] ?? '';
  const train = desk.train(code);
  const draft = desk.draft(`note/${code}`, {
    about: code,
    text: '',
    picture: /** @type {File | null} */ (null),
    sha256: '',
  });
  const abouts = train ? [train.code, train.worker, ...train.ports.map((port) => port.sampler)].filter(Boolean) : [];
  const back = code ? ['run', code] : ['more'];
  const done = () => (desk.forget(`note/${code}`), desk.go(...back));
  const pictured = async (/** @type {Event} */ event) => {
    const file = /** @type {HTMLInputElement} */ (event.target).files?.[0];
    if (!file) return;
    draft.sha256 = await sha256Of(await file.arrayBuffer());
    draft.picture = file;
    desk.redraw();
  };
  const name = draft.picture ? pictureName(desk, draft.about || 'place', draft.picture) : '';
  return [
    head(desk, say('note.title'), { back, under: train ? say('train', { train: train.code }) : '' }),
    abouts.length > 0 &&
      choices(
        say('note.about'),
        abouts.map((one) => ({ value: one, text: one })),
        draft.about,
        (about) => ((draft.about = about), desk.redraw()),
      ),
    box(say('note.words'), draft.text, (text) => ((draft.text = text), desk.redraw()), {
      name: 'note',
      rows: 4,
      auto: 'on',
    }),
    button(say('note.keep'), () => desk.keep([acts.noted(draft.about, draft.text.trim())], say('note.kept'), done), {
      off: !draft.text.trim(),
    }),
    h(
      'div',
      { class: 'box' },
      h('label', { for: 'picture', class: 'file-label' }, say('note.picture')),
      h('input', {
        id: 'picture',
        type: 'file',
        accept: 'image/*',
        capture: 'environment',
        on: { change: (/** @type {Event} */ event) => void pictured(event) },
      }),
      h('p', { class: 'hint' }, say('note.picture-hint')),
    ),
    draft.picture && message('plain', name, say('note.picture-save')),
    draft.picture &&
      h(
        'div',
        { class: 'pair' },
        button(say('note.picture-download'), () => download(name, /** @type {File} */ (draft.picture)), {
          kind: 'quiet',
        }),
        button(say('note.picture-keep'), () =>
          desk.keep([acts.photographed(draft.about, name, draft.sha256)], say('note.picture-kept'), done),
        ),
      ),
  ];
}

/** @param {Desk} desk @param {string} about @param {File} file */
function pictureName(desk, about, file) {
  const ending = /\.[a-z0-9]+$/i.exec(file.name)?.[0] ?? '.jpg';
  return `${about}-${instantText(desk.now, desk.zone).slice(0, 19).replaceAll(':', '')}${ending.toLowerCase()}`;
}

/** @param {ArrayBuffer} content */
async function sha256Of(content) {
  const digest = await crypto.subtle.digest('SHA-256', content);
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}

/** Hand a file to the device. @param {string} name @param {Blob} content */
export function download(name, content) {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(content);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}
