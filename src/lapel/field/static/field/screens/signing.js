/** How somebody signs at a hand-over: drawn with a finger on a field as large as the device, or on the form that travels. */

import { LONGEST, WIDE, HIGH, drawnText, linesIn, signatureWanted } from '../signatures.js';
import { draw, h } from './drawing.js';
import { button, choices } from './parts.js';
import { overAll } from './whole_screen.js';
import { say } from './words.js';

/** @typedef {import('./desk.js').Desk} Desk */
/** @typedef {import('./drawing.js').Piece} Piece */
/** @typedef {import('../signatures.js').Line} Line */
/** @typedef {{signed: string}} Signing */

/** The least way between two points of a line, so that a name keeps within what an entry holds. */
const STEP = 6;

/** Ask how one of the two signs. @param {Desk} desk @param {string} who @param {Signing} draft @returns {Piece} */
export function signatureQuestion(desk, who, draft) {
  const how = draft.signed.split(' ')[0] ?? '';
  const draw = () => signOnField(who, (text) => ((draft.signed = text), desk.redraw()));
  const choose = (/** @type {string} */ chosen) => {
    if (chosen === 'drawn') return draw();
    draft.signed = chosen;
    desk.redraw();
  };
  const options = [
    { value: 'drawn', text: say('sign.here') },
    { value: 'paper', text: say('sign.paper') },
    { value: '', text: say('sign.not') },
  ];
  return h(
    'div',
    { class: 'signing' },
    choices(say('sign.how', { who }), options, how, choose),
    how === 'drawn' && handPicture(draft.signed, who),
    how === 'drawn' && button(say('sign.again'), draw, { kind: 'quiet', label: say('sign.again-who', { who }) }),
  );
}

/** What stands for somebody's hand: the drawing, or words. @param {string} signed @param {string} who @returns {Piece} */
export function signatureShown(signed, who) {
  if (signed.startsWith('drawn ')) return handPicture(signed, who);
  return h('small', null, signatureText(signed));
}

/** @param {string} signed @returns {string} */
export function signatureText(signed) {
  if (signed === '') return say('sign.none');
  if (signed === 'paper') return say('sign.on-paper');
  return signed.startsWith('drawn ') ? say('sign.drawn') : signed;
}

/** @param {string} signed @param {string} who */
function handPicture(signed, who) {
  const way = linesIn(signed).map((line) => `M${line.map((point) => point.join(' ')).join('L')}${line.length > 1 ? '' : 'h0'}`);
  return h(
    'svg',
    { viewBox: `0 0 ${WIDE} ${HIGH}`, class: 'hand', role: 'img', 'aria-label': say('sign.of', { who }) },
    h('path', { d: way.join('') }),
  );
}

/** Let somebody draw, over the whole screen. On a device held upright the field lies along its long side, and they turn
 *  it. @param {string} who @param {(text: string) => void} signed Called once, with a drawing that can be somebody's hand. */
function signOnField(who, signed) {
  /** @param {DrawnOn} [field] @param {boolean} [isFull] */
  const pieces = (field, isFull) => {
    const lines = field?.lines ?? [];
    const cannotBe = lines.length === 0 || signatureWanted(drawnText(lines)) !== '';
    const turned = field?.isTurned ? say('sign.turn', { who }) : say('sign.draw', { who });
    return [
      h('p', { role: 'status' }, isFull ? say('sign.full') : turned),
      h('canvas', { role: 'img', 'aria-label': say('sign.field') }),
      h(
        'div',
        { class: 'pair' },
        button(say('cancel'), () => dialog.close(), { kind: 'quiet' }),
        button(say('sign.clear'), () => (field?.clear(), tell()), { kind: 'quiet' }),
        button(say('sign.done'), () => (signed(drawnText(lines)), dialog.close()), { off: cannotBe }),
      ),
    ];
  };
  const shape = () => (field.show(), tell());
  const dialog = overAll('sign-on', say('sign.of', { who }), pieces(), () => removeEventListener('resize', shape));
  const tell = (isFull = false) => draw(dialog, pieces(field, isFull));
  const field = new DrawnOn(/** @type {HTMLCanvasElement} */ (dialog.querySelector('canvas')), tell);
  addEventListener('resize', shape);
  shape();
}

/** Lines drawn on a canvas, in points of the field. */
class DrawnOn {
  /** @param {HTMLCanvasElement} canvas @param {(isFull: boolean) => void} changed */
  constructor(canvas, changed) {
    this.canvas = canvas;
    this.changed = changed;
    /** @type {Line[]} */
    this.lines = [];
    /** @type {number | null} The finger or pen that draws; another hand on the glass draws nothing. */
    this.pointer = null;
    canvas.addEventListener('pointerdown', (event) => this.begin(event));
    canvas.addEventListener('pointermove', (event) => this.go(event));
    for (const end of ['pointerup', 'pointercancel']) canvas.addEventListener(end, (event) => this.lift(event));
  }

  /** Whether the field's width lies along the height of the screen: its left end on top. */
  get isTurned() {
    return this.canvas.clientHeight > this.canvas.clientWidth;
  }

  clear() {
    this.lines = [];
    this.show();
  }

  /** @param {Event} event */
  begin(event) {
    const { pointerId, button: pressed } = /** @type {PointerEvent} */ (event);
    if (this.pointer !== null || pressed !== 0) return;
    this.pointer = pointerId;
    this.canvas.setPointerCapture(pointerId);
    this.keep([...this.lines, [this.at(/** @type {PointerEvent} */ (event))]]);
    event.preventDefault();
  }

  /** @param {Event} event */
  go(event) {
    const moved = /** @type {PointerEvent} */ (event);
    if (moved.pointerId !== this.pointer) return;
    for (const one of moved.getCoalescedEvents?.() ?? [moved]) {
      const line = this.lines.at(-1) ?? [];
      const [wasX, wasY] = line.at(-1) ?? [0, 0];
      const [x, y] = this.at(one);
      if (Math.max(Math.abs(x - wasX), Math.abs(y - wasY)) >= STEP) this.keep([...this.lines.slice(0, -1), [...line, [x, y]]]);
    }
  }

  /** @param {Event} event */
  lift(event) {
    if (/** @type {PointerEvent} */ (event).pointerId === this.pointer) this.pointer = null;
  }

  /** @param {Line[]} lines */
  keep(lines) {
    const isFull = drawnText(lines).length > LONGEST;
    if (!isFull) this.lines = lines;
    this.show();
    this.changed(isFull);
  }

  /** @param {PointerEvent} event @returns {[number, number]} */
  at(event) {
    const box = this.canvas.getBoundingClientRect();
    const right = (event.clientX - box.left) / box.width;
    const down = (event.clientY - box.top) / box.height;
    const on = (/** @type {number} */ share, /** @type {number} */ most) => Math.max(0, Math.min(most, Math.round(share * most)));
    return this.isTurned ? [on(down, WIDE), on(1 - right, HIGH)] : [on(right, WIDE), on(down, HIGH)];
  }

  show() {
    const { canvas, lines, isTurned } = this;
    const ratio = devicePixelRatio || 1;
    canvas.width = Math.round(canvas.clientWidth * ratio);
    canvas.height = Math.round(canvas.clientHeight * ratio);
    const pen = canvas.getContext('2d');
    if (!pen) return;
    if (isTurned) pen.transform(0, canvas.height / WIDE, -canvas.width / HIGH, 0, canvas.width, 0);
    else pen.scale(canvas.width / WIDE, canvas.height / HIGH);
    pen.strokeStyle = getComputedStyle(canvas).color;
    pen.lineWidth = 5;
    pen.lineCap = pen.lineJoin = 'round';
    for (const line of lines) {
      pen.beginPath();
      for (const [x, y] of line.length > 1 ? line : [...line, ...line]) pen.lineTo(x, y);
      pen.stroke();
    }
  }
}
