// Marking a photograph: four corners of the face, a grey patch, a spot of bare
// metal. Every handle is a button: drag it, or move it with the arrow keys
// (with Shift by ten). The number fields below hold the truth and are what is
// sent; the handles only help to fill them.
import { inWords } from './words.js';
const box = document.querySelector('[data-marker]');
if (box) start(box);

function start(box) {
  const img = box.querySelector('img');
  const W = Number(box.dataset.width), H = Number(box.dataset.height);
  const svg = box.querySelector('svg.overlay');
  const loupe = box.querySelector('canvas');
  const field = name => document.querySelector(`[name="${name}"]`);
  const corners = ['tl', 'tr', 'br', 'bl'];
  const names = { tl: inWords('Top left corner'), tr: inWords('Top right corner'), br: inWords('Bottom right corner'), bl: inWords('Bottom left corner') };
  const rects = [['grey', inWords('Grey card')], ['bare', inWords('Bare metal')]];
  const handles = new Map();

  const get = (k) => [Number(field(k + 'x').value), Number(field(k + 'y').value)];
  const set = (k, x, y) => {
    field(k + 'x').value = Math.round(Math.min(Math.max(x, 0), W));
    field(k + 'y').value = Math.round(Math.min(Math.max(y, 0), H));
  };
  const on = name => field('use' + name)?.checked;

  for (const c of corners) handle(c, names[c], '');
  for (const [r, label] of rects) {
    handle(r + '1', inWords('{1}: top left', label), r);
    handle(r + '2', inWords('{1}: bottom right', label), r);
    field('use' + r)?.addEventListener('change', draw);
  }
  field('usecorners')?.addEventListener('change', draw);

  function handle(key, label, group) {
    const b = document.createElement('button');
    b.type = 'button';
    b.className = 'handle ' + (group || 'corner');
    b.dataset.key = key;
    b.dataset.label = label;
    box.append(b);
    handles.set(key, b);
    let from = null;
    b.addEventListener('pointerdown', e => {
      e.preventDefault();
      b.setPointerCapture(e.pointerId);
      b.focus();
      const [x, y] = get(key);
      from = { px: e.clientX, py: e.clientY, x, y };
      look(key);
    });
    b.addEventListener('pointermove', e => {
      if (!from) return;
      const k = W / img.clientWidth;
      set(key, from.x + (e.clientX - from.px) * k, from.y + (e.clientY - from.py) * k);
      draw();
      look(key);
    });
    const end = () => { from = null; loupe.hidden = true; };
    b.addEventListener('pointerup', end);
    b.addEventListener('pointercancel', end);
    b.addEventListener('keydown', e => {
      const step = (e.shiftKey ? 10 : 1) * Math.max(1, Math.round(W / 1600));
      const d = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
      if (!d) return;
      e.preventDefault();
      const [x, y] = get(key);
      set(key, x + d[0] * step, y + d[1] * step);
      draw();
      look(key);
    });
    b.addEventListener('blur', () => { loupe.hidden = true; });
    for (const axis of ['x', 'y']) field(key + axis)?.addEventListener('input', draw);
  }

  // look shows what lies under a handle, four times as large.
  function look(key) {
    const [x, y] = get(key);
    const s = img.naturalWidth / W, r = 24;
    const ctx = loupe.getContext('2d');
    ctx.imageSmoothingEnabled = false;
    ctx.fillStyle = '#777';
    ctx.fillRect(0, 0, loupe.width, loupe.height);
    ctx.drawImage(img, x * s - r, y * s - r, 2 * r, 2 * r, 0, 0, loupe.width, loupe.height);
    ctx.strokeStyle = '#fff'; ctx.lineWidth = 3; cross();
    ctx.strokeStyle = '#000'; ctx.lineWidth = 1; cross();
    function cross() {
      const m = loupe.width / 2;
      ctx.beginPath(); ctx.moveTo(m, 0); ctx.lineTo(m, loupe.height); ctx.moveTo(0, m); ctx.lineTo(loupe.width, m); ctx.stroke();
    }
    const left = x < W / 2;
    loupe.classList.toggle('right', left);
    loupe.hidden = false;
  }

  function draw() {
    const k = img.clientWidth / W;
    const useCorners = field('usecorners') ? on('corners') : true;
    for (const [key, b] of handles) {
      const group = key.startsWith('grey') ? 'grey' : key.startsWith('bare') ? 'bare' : '';
      b.hidden = group ? !on(group) : !useCorners;
      const [x, y] = get(key);
      b.style.left = (x * k) + 'px';
      b.style.top = (y * k) + 'px';
      b.setAttribute('aria-label', inWords('{1}: {2} across, {3} down. Arrow keys move it.', b.dataset.label, x, y));
    }
    const pts = corners.map(c => get(c));
    svg.setAttribute('viewBox', `0 0 ${W} ${H}`);
    const parts = [];
    if (useCorners) parts.push(shape(pts));
    for (const [r] of rects) if (on(r)) {
      const [x1, y1] = get(r + '1'), [x2, y2] = get(r + '2');
      parts.push(shape([[x1, y1], [x2, y1], [x2, y2], [x1, y2]]));
    }
    svg.innerHTML = parts.join('');
  }
  const shape = pts => {
    const p = pts.map(q => q.join(',')).join(' ');
    return `<polygon points="${p}" fill="none" stroke="#000" stroke-width="5" vector-effect="non-scaling-stroke"/><polygon points="${p}" fill="none" stroke="#fff" stroke-width="2" vector-effect="non-scaling-stroke"/>`;
  };
  addEventListener('resize', draw);
  if (img.complete) draw(); else img.addEventListener('load', draw);
  for (const b of document.querySelectorAll('[data-turn]')) b.addEventListener('click', () => {
    // the face lies turned in the picture: the same four corners, named a quarter on
    const old = corners.map(c => get(c));
    corners.forEach((c, i) => set(c, ...old[(i + 3) % 4]));
    draw();
  });
}
