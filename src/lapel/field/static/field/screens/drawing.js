/**
 * Drawing: a screen is a plain description of elements, and only what differs from the last one is changed on the page.
 * An element stays where it is while the clock ticks and answers arrive, so that a finger always hits what it aimed at.
 */

/** @typedef {{tag: string, key: string, props: Props, children: (Drawn | string)[]}} Drawn */
/** @typedef {Record<string, unknown> & {on?: Record<string, (event: Event) => void>}} Props */
/** @typedef {Drawn | string | number | false | null | undefined} Piece */

const SVG = 'http://www.w3.org/2000/svg';
const SVG_TAGS = new Set(['svg', 'path', 'circle', 'rect', 'line', 'g']);

/** @type {WeakMap<Element, {drawn: Drawn}>} */
const LIVE = new WeakMap();

/** Describe an element. `on` holds what happens by event, `vars` the CSS variables set on it; false and null leave out.
 *  @param {string} tag @param {Props | null} props @param {...(Piece | Piece[])} pieces @returns {Drawn} */
export function h(tag, props, ...pieces) {
  const given = props ?? {};
  /** @type {(Drawn | string)[]} */
  const children = [];
  for (const piece of pieces.flat()) {
    if (piece === false || piece === null || piece === undefined || piece === '') continue;
    children.push(typeof piece === 'object' ? piece : String(piece));
  }
  return { tag, key: String(given.key ?? ''), props: given, children };
}

/** Make an element's children those described. @param {Element} parent @param {(Drawn | string)[]} wanted */
export function draw(parent, wanted) {
  const kept = /** @type {(Element | Text)[]} */ ([...parent.childNodes]);
  wanted.forEach((child, index) => {
    const old = kept[index];
    if (old === undefined) parent.append(made(child));
    else if (isSame(old, child)) change(old, child);
    else old.replaceWith(made(child));
  });
  for (const extra of kept.slice(wanted.length)) extra.remove();
}

/** @param {Element | Text} old @param {Drawn | string} child @returns {boolean} */
function isSame(old, child) {
  if (typeof child === 'string') return old instanceof Text;
  if (old instanceof Text) return false;
  const last = LIVE.get(old)?.drawn;
  return last !== undefined && last.tag === child.tag && last.key === child.key;
}

/** @param {Drawn | string} child @returns {Element | Text} */
function made(child) {
  if (typeof child === 'string') return document.createTextNode(child);
  const element = SVG_TAGS.has(child.tag)
    ? document.createElementNS(SVG, child.tag)
    : document.createElement(child.tag);
  const state = { drawn: child };
  LIVE.set(element, state);
  setProps(element, {}, child.props);
  draw(element, child.children);
  return element;
}

/** @param {Element | Text} old @param {Drawn | string} child */
function change(old, child) {
  if (typeof child === 'string') {
    if (old.textContent !== child) old.textContent = child;
    return;
  }
  const element = /** @type {Element} */ (old);
  const state = /** @type {{drawn: Drawn}} */ (LIVE.get(element));
  const before = state.drawn.props;
  state.drawn = child;
  setProps(element, before, child.props);
  draw(element, child.children);
}

/** @param {Element} element @param {Props} before @param {Props} after */
function setProps(element, before, after) {
  for (const name of new Set([...Object.keys(before), ...Object.keys(after)])) {
    const value = after[name];
    if (name === 'key') continue;
    if (name === 'on') listen(element, /** @type {Record<string, unknown>} */ (value ?? {}));
    else if (name === 'vars') setVariables(/** @type {HTMLElement} */ (element), value);
    else if (name === 'value' || name === 'checked') {
      if (/** @type {any} */ (element)[name] !== value) /** @type {any} */ (element)[name] = value;
    } else if (value !== before[name]) {
      if (value === false || value === null || value === undefined) element.removeAttribute(name);
      else element.setAttribute(name, value === true ? '' : String(value));
    }
  }
}

/** Listeners are set once and ask the newest description what to do. @param {Element} element @param {object} handlers */
function listen(element, handlers) {
  const state = LIVE.get(element);
  for (const type of Object.keys(handlers)) {
    const mark = `heard-${type}`;
    if (state === undefined || mark in state) continue;
    /** @type {any} */ (state)[mark] = true;
    element.addEventListener(type, (event) => {
      const on = state.drawn.props.on;
      const act = on ? on[type] : undefined;
      if (act) act(event);
    });
  }
}

/** @param {HTMLElement} element @param {unknown} variables */
function setVariables(element, variables) {
  for (const [name, value] of Object.entries(/** @type {Record<string, string>} */ (variables ?? {}))) {
    if (element.style.getPropertyValue(name) !== value) element.style.setProperty(name, value);
  }
}
