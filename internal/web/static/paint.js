// Painting examples on a straightened face: pick what it is, rub over places.
// The text field below holds the truth, in mm on the face, and is what is sent.
import { inWords } from './words.js';
const box = document.querySelector('[data-painter]');
if (box) start(box);

function start(box) {
  const img = box.querySelector('img'), canvas = box.querySelector('canvas');
  const W = Number(box.dataset.width), H = Number(box.dataset.height), band = Number(box.dataset.band);
  const form = box.closest('form');
  const field = form.querySelector('[name=strokes]'), list = form.querySelector('[data-list]'), say = form.querySelector('[data-say]');
  const share = form.querySelector('[name=brush]');
  const brush = document.createElement('button');
  brush.type = 'button';
  brush.className = 'handle';
  box.append(brush);
  let strokes = read(), now = null, at = [W / 2, H / 2];

  function read() {
    try { const v = JSON.parse(field.value || '[]'); return Array.isArray(v) ? v : []; } catch { return []; }
  }
  const round = v => Math.round(v * 100) / 100;
  const seen = 1 - 2 * band; // the part of the face that the picture shows
  const toPx = ([x, y]) => [(x / W - band) / seen * img.clientWidth, (y / H - band) / seen * img.clientHeight];
  const toMM = (px, py) => [W * (band + seen * px / img.clientWidth), H * (band + seen * py / img.clientHeight)];
  const inside = ([x, y]) => [Math.min(Math.max(x, band * W), (1 - band) * W), Math.min(Math.max(y, band * H), (1 - band) * H)];
  const radius = () => round(W * Number(share.value));
  const kinds = { bare: inWords('bare'), patina: inWords('patina'), brown: inWords('brown'), green: inWords('green'), blue: inWords('blue'), white: inWords('white'), black: inWords('black'), other: inWords('other'), 'violet-dark': inWords('violet or nearly black') };
  const kind = () => form.querySelector('[name=paint]:checked').value;

  box.addEventListener('pointerdown', e => {
    if (e.button !== 0) return;
    e.preventDefault();
    box.setPointerCapture(e.pointerId);
    brush.focus({ preventScroll: true });
    begin(where(e));
  });
  box.addEventListener('pointermove', e => {
    if (!now) return;
    for (const one of e.getCoalescedEvents?.().length ? e.getCoalescedEvents() : [e]) go(where(one));
    draw();
  });
  const end = () => {
    if (!now) return;
    now = null;
    keep(inWords('Stroke {1}, {2}, is painted.', strokes.length, kinds[strokes.at(-1).class] || strokes.at(-1).class));
  };
  box.addEventListener('pointerup', end);
  box.addEventListener('pointercancel', end);

  function where(e) {
    const r = img.getBoundingClientRect();
    return inside(toMM(e.clientX - r.left, e.clientY - r.top));
  }
  function begin(p) {
    at = p;
    now = { class: kind(), radius: radius(), points: [p.map(round)] };
    strokes.push(now);
    draw();
  }
  function go(p) {
    const last = now.points.at(-1);
    if (Math.hypot(p[0] - last[0], p[1] - last[1]) < now.radius / 3) return;
    at = p;
    now.points.push(p.map(round));
  }
  brush.addEventListener('keydown', e => {
    const step = W / 100 * (e.shiftKey ? 5 : 1);
    const d = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
    if (d) {
      e.preventDefault();
      at = inside([at[0] + d[0] * step, at[1] + d[1] * step]);
      draw();
    } else if (e.key === ' ' || e.key === 'Enter') {
      e.preventDefault();
      begin(at);
      now = null;
      keep(inWords('A dot of {1} is painted.', kinds[kind()] || kind()));
    }
  });
  form.querySelector('[data-undo]').addEventListener('click', () => { strokes.pop(); keep(inWords('The last stroke is taken back.')); });
  form.querySelector('[data-clear]').addEventListener('click', () => { strokes = []; keep(inWords('All strokes are taken back.')); });
  field.addEventListener('input', () => { strokes = read(); show(); });
  share.addEventListener('change', draw);
  form.addEventListener('change', e => { if (e.target.name === 'paint') draw(); });

  function keep(text) {
    field.value = JSON.stringify(strokes);
    say.textContent = text;
    show();
  }
  function show() {
    list.replaceChildren(...strokes.map((s, i) => {
      const li = document.createElement('li'), b = document.createElement('button');
      li.append(`${kinds[s.class] || s.class} `);
      b.type = 'button';
      b.className = 'quiet';
      b.textContent = inWords('undo');
      b.setAttribute('aria-label', inWords('Undo stroke {1}, {2}', i + 1, kinds[s.class] || s.class));
      b.addEventListener('click', () => { strokes.splice(i, 1); keep(inWords('Stroke {1} is taken back.', i + 1)); });
      li.append(b);
      return li;
    }));
    draw();
  }

  // Bare metal is drawn light, all patina dark, each stroke with its number: the
  // picture's own colours stay to be seen beside it.
  function draw() {
    const dots = devicePixelRatio || 1, w = img.clientWidth, h = img.clientHeight;
    if (!w) return;
    canvas.width = w * dots;
    canvas.height = h * dots;
    const c = canvas.getContext('2d');
    c.scale(dots, dots);
    const mm = w / (W * seen);
    c.lineCap = c.lineJoin = 'round';
    strokes.forEach(s => {
      const light = s.class === 'bare';
      for (const [extra, style] of [[2, light ? '#000' : '#fff'], [0, light ? 'rgba(255,255,255,.55)' : 'rgba(20,20,20,.6)']]) {
        c.strokeStyle = c.fillStyle = style;
        c.lineWidth = 2 * s.radius * mm + extra;
        c.globalCompositeOperation = 'source-over';
        c.globalAlpha = extra ? .6 : 1;
        c.beginPath();
        s.points.forEach((p, i) => { const [x, y] = toPx(p); i ? c.lineTo(x, y) : c.moveTo(x, y); });
        if (s.points.length === 1) { const [x, y] = toPx(s.points[0]); c.lineTo(x + .01, y); }
        c.stroke();
      }
      c.globalAlpha = 1;
    });
    c.font = '600 15px "Source Sans 3", sans-serif';
    strokes.forEach((s, i) => {
      const [x, y] = toPx(s.points[0]), text = `${i + 1} ${kinds[s.class] || s.class}`;
      const tx = Math.min(x, w - c.measureText(text).width - 4), ty = Math.max(16, Math.min(y + 5, h - 4));
      c.lineWidth = 4;
      c.strokeStyle = '#000';
      c.strokeText(text, tx, ty);
      c.fillStyle = '#fff';
      c.fillText(text, tx, ty);
    });
    const [x, y] = toPx(at);
    brush.style.left = x + 'px';
    brush.style.top = y + 'px';
    brush.setAttribute('aria-label', inWords('Brush, painting {1}: {2} mm across, {3} mm down. Arrow keys move it, Space places a dot.', kinds[kind()] || kind(), Math.round(at[0]), Math.round(at[1])));
  }
  addEventListener('resize', draw);
  if (img.complete) show(); else img.addEventListener('load', show);
}
