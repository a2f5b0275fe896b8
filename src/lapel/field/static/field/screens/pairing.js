/** Pairing with the office, and choosing the survey and who records. */

import { h } from './drawing.js';
import { reasonsOf } from './desk.js';
import { box, button, choices, head, message } from './parts.js';
import { say, speakAsChosen } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */

/** @param {Desk} desk @returns {Piece[]} */
export function pairingScreen(desk) {
  const { view } = desk;
  const draft = desk.draft('pairing', {
    code: view.pairing.code,
    agreed: false,
    problem: /** @type {string[]} */ ([]),
  });
  if (view.pairing.code && !draft.code) draft.code = view.pairing.code;
  const pair = async () => {
    if (desk.busy) return;
    desk.busy = true;
    draft.problem = [];
    desk.redraw();
    try {
      await desk.field.pair(draft.code);
      desk.busy = false;
      desk.forget('pairing');
      desk.tell('good', say('pairing.done'));
      desk.go('prepare');
    } catch (problem) {
      desk.busy = false;
      draft.problem = reasonsOf(problem);
      desk.tell('stop', say('pairing.not'), [], draft.problem);
    }
  };
  const ask = view.pairing.needs_consent && !draft.agreed;
  return [
    head(desk, say('pairing.title'), {
      back: view.device ? ['more'] : undefined,
      under: view.device
        ? say('pairing.with', { name: view.device.name || view.device.code, site: view.device.site })
        : say('pairing.under'),
    }),
    !view.secure && insecure(),
    draft.problem.length > 0 && message('stop', say('pairing.not'), ...draft.problem),
    box(say('pairing.code'), draft.code, (text) => ((draft.code = text.toUpperCase()), desk.redraw()), {
      name: 'code',
      hint: say('pairing.code-hint'),
    }),
    ask &&
      message(
        'care',
        say('pairing.replaces'),
        view.outbox.waiting > 0 ? say('pairing.waiting', { n: view.outbox.waiting }) : '',
      ),
    ask
      ? button(say('pairing.agree'), () => ((draft.agreed = true), desk.redraw()), {
          kind: 'stop',
          off: !draft.code.trim(),
        })
      : button(say('pairing.go'), () => void pair(), {
          off: draft.code.replace(/[^0-9a-z]/gi, '').length < 10 || !view.secure || desk.busy,
        }),
    h('p', { class: 'under' }, say('pairing.where')),
  ];
}

/** Nothing can be kept on a page that did not come safely: said large, with the way out. */
export function insecure() {
  return message('stop', say('insecure.title'), say('insecure.why'), say('insecure.do'));
}

/** The page found no disk to keep anything on. @param {unknown} why @returns {string} */
export function cannotKeep(why) {
  speakAsChosen();
  return `${say('cannot.keep')} ${isSecureContext ? say('cannot.why', { why: String(why) }) : say('cannot.https')}`;
}

/** @param {Desk} desk @returns {Piece[]} */
export function whoScreen(desk) {
  const { view } = desk;
  const draft = desk.draft('who', {
    author: view.author,
    survey: view.survey || (view.surveys.length === 1 ? (view.surveys[0]?.code ?? '') : ''),
  });
  const go = async () => {
    await desk.field.choose({ survey: draft.survey, author: draft.author.trim() });
    desk.forget('who');
    desk.go('prepare');
  };
  return [
    head(desk, say('who.title'), {
      back: view.phase === 'ready' ? ['more'] : undefined,
      under: view.device ? `${view.device.site} · ${view.device.code}` : '',
    }),
    view.surveys.length > 0
      ? choices(
          say('who.survey'),
          view.surveys.map((one) => ({ value: one.code, text: one.title || one.code, hint: one.code })),
          draft.survey,
          (survey) => ((draft.survey = survey), desk.redraw()),
          { wide: true },
        )
      : message('care', say('who.no-surveys'), say('who.no-surveys-do')),
    box(say('who.author'), draft.author, (text) => ((draft.author = text), desk.redraw()), {
      name: 'author',
      hint: say('who.author-hint'),
    }),
    button(say('who.go'), () => void go(), { off: !draft.survey || !draft.author.trim() }),
    h('p', { class: 'under' }, say('who.note')),
  ];
}
