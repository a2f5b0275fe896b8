/* A field to sign on: what is drawn goes into the form as points, in the words of the field log. */

const WIDE = 600;
const HIGH = 200;
const LONGEST = 4000;
const STEP = 6; // the least way between two points

for (const party of document.querySelectorAll('[data-party]')) open(party);

function open(party) {
  const how = party.querySelector('select');
  const parts = [...party.querySelectorAll('[data-for]')];
  const pad = padOf(party);
  const show = () => {
    for (const part of parts) part.hidden = part.dataset.for !== how.value;
    if (how.value === 'drawn') pad.draw();
  };
  how.addEventListener('change', show);
  addEventListener('resize', show);
  show();
}

function padOf(party) {
  const canvas = party.querySelector('canvas');
  const kept = party.querySelector('input[type="hidden"]');
  const said = party.querySelector('[role="status"]');
  let lines = linesIn(kept.value);
  let full = false;

  const draw = () => {
    const ratio = devicePixelRatio || 1;
    canvas.width = Math.round(canvas.clientWidth * ratio);
    canvas.height = Math.round(canvas.clientHeight * ratio);
    const pen = canvas.getContext('2d');
    pen.scale(canvas.width / WIDE, canvas.height / HIGH);
    pen.strokeStyle = getComputedStyle(canvas).color;
    pen.lineWidth = 6;
    pen.lineCap = pen.lineJoin = 'round';
    for (const [first, ...rest] of lines) {
      pen.beginPath();
      pen.moveTo(...first);
      for (const point of rest.length ? rest : [first]) pen.lineTo(...point);
      pen.stroke();
    }
  };
  const at = (event) => {
    const place = canvas.getBoundingClientRect();
    const on = (share, most) => Math.max(0, Math.min(most, Math.round(share * most)));
    return [on((event.clientX - place.left) / place.width, WIDE), on((event.clientY - place.top) / place.height, HIGH)];
  };
  const keep = (next) => {
    const text = textOf(next);
    full = text.length > LONGEST;
    if (full) {
      said.textContent = 'The field holds no more lines. Draw again if the signature is not whole.';
      return;
    }
    lines = next;
    kept.value = text;
    said.textContent = lines.length ? 'Drawn.' : '';
    draw();
  };

  let drawing = null;
  canvas.addEventListener('pointerdown', (event) => {
    if (drawing !== null || !event.isPrimary || event.button !== 0) return;
    drawing = event.pointerId;
    canvas.setPointerCapture(drawing);
    keep([...lines, [at(event)]]);
    event.preventDefault();
  });
  canvas.addEventListener('pointermove', (event) => {
    if (event.pointerId !== drawing || full) return;
    for (const one of event.getCoalescedEvents?.() ?? [event]) {
      const last = lines.at(-1);
      const [x, y] = at(one);
      const [wasX, wasY] = last.at(-1);
      if (Math.max(Math.abs(x - wasX), Math.abs(y - wasY)) >= STEP) keep([...lines.slice(0, -1), [...last, [x, y]]]);
    }
  });
  const lift = (event) => {
    if (event.pointerId === drawing) drawing = null;
  };
  canvas.addEventListener('pointerup', lift);
  canvas.addEventListener('pointercancel', lift);
  party.querySelector('[data-again]').addEventListener('click', () => keep([]));
  return { draw };
}

function textOf(lines) {
  return lines.length ? `drawn ${lines.map((line) => line.map((point) => point.join(',')).join(' ')).join(';')}` : '';
}

function linesIn(text) {
  if (!text.startsWith('drawn ')) return [];
  return text
    .slice('drawn '.length)
    .split(';')
    .map((line) => line.split(' ').map((point) => point.split(',').map(Number)));
}
