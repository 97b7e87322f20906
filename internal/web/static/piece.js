// A piece that can be turned. The server draws every picture as well: it stands until
// this has drawn one, and stays where the browser can't (no WebGL 2). Colours come
// from the server as screen colours; here they are only darkened by the light.

const vertex = `#version 300 es
in vec3 at; in vec4 faces;
uniform vec3 right, over, near; uniform vec3 middle; uniform vec2 scale; uniform float deep;
out vec3 place; out vec3 normal;
void main() {
  place = at; normal = faces.xyz;
  vec3 p = at - middle;
  gl_Position = vec4(dot(p, right) * scale.x, dot(p, over) * scale.y, -dot(p, near) / deep, 1.0);
}`;

// The mottle is the server's (flow/shape, mottle): value noise on a turned lattice.
const fragment = `#version 300 es
precision highp float; precision highp int;
in vec3 place; in vec3 normal;
uniform vec3 up; uniform bool slope; uniform float ranks[33]; uniform float shift[4]; uniform float greys[4];
uniform int count[2]; uniform bool ordered[2]; uniform float mottle[2];
uniform vec3 colours[16]; uniform float shares[16];
out vec4 shown;
float lattice(ivec3 c) {
  uint h = uint(c.x) * 73856093u ^ uint(c.y) * 19349663u ^ uint(c.z) * 83492791u;
  h ^= h >> 16; h *= 0x7feb352du; h ^= h >> 15; h *= 0x846ca68bu; h ^= h >> 16;
  return float(h >> 8) / 16777216.0;
}
float octave(vec3 p) {
  vec3 f = floor(p), t = p - f; ivec3 c = ivec3(f);
  t = t * t * (3.0 - 2.0 * t);
  vec4 low = vec4(lattice(c), lattice(c + ivec3(1,0,0)), lattice(c + ivec3(0,1,0)), lattice(c + ivec3(1,1,0)));
  vec4 high = vec4(lattice(c + ivec3(0,0,1)), lattice(c + ivec3(1,0,1)), lattice(c + ivec3(0,1,1)), lattice(c + ivec3(1,1,1)));
  vec4 m = mix(low, high, t.z);
  vec2 n = mix(m.xy, m.zw, t.y);
  return mix(n.x, n.y, t.x);
}
float rank(float v) {
  float x = clamp(v * 32.0, 0.0, 31.999); int i = int(x);
  return mix(ranks[i], ranks[i + 1], x - float(i));
}
int lie(float c) { return c >= 0.9659258 ? 0 : c >= 0.5 ? 1 : c >= -0.5 ? 2 : 3; }
float encode(float v) { v = clamp(v, 0.0, 1.0); return v <= 0.0031308 ? v * 12.92 : 1.055 * pow(v, 1.0 / 2.4) - 0.055; }
void main() {
  int face = gl_FrontFacing ? 0 : 1;
  vec3 n = normalize(normal) * (face == 0 ? 1.0 : -1.0);
  int l = lie(dot(n, up));
  if (slope) {
    float g = greys[l] * (face == 0 ? 1.0 : 0.875);
    ivec2 p = ivec2(gl_FragCoord.xy);
    bool mark = l == 0 ? p.y % 8 < 2 : l == 1 ? (p.x + p.y) % 12 < 2 : l == 3 ? p.x % 9 < 3 && p.y % 9 < 3 : false;
    if (mark) g += g < 0.56 ? 0.345 : -0.533;
    shown = vec4(g, g, g, 1.0);
    return;
  }
  float light = 0.8 + 0.2 * dot(n, vec3(-0.39801, -0.59702, 0.69652));
  if (count[face] == 0) { float g = encode(0.216 * light); shown = vec4(g, g, g, 1.0); return; }
  vec3 q = place / mottle[face];
  q = vec3(dot(q, vec3(0.48, 0.64, 0.6)), dot(q, vec3(-0.8, 0.6, 0.0)), dot(q, vec3(-0.36, -0.48, 0.8)));
  float r = rank((octave(q) + 0.5 * octave(2.0 * q + 17.0)) / 1.5);
  if (ordered[face]) r += shift[l];
  int i = face * 8, last = i + count[face] - 1;
  while (i < last && r > shares[i]) i++;
  vec3 c = colours[i] * light;
  shown = vec4(encode(c.r), encode(c.g), encode(c.b), 1.0);
}`;

const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const sum = (a, k, b, m) => a.map((v, i) => k * v + m * b[i]);
const norm = a => { const l = Math.hypot(...a) || 1; return a.map(v => v / l); };
const linear = hex => [1, 3, 5].map(i => { const v = parseInt(hex.slice(i, i + 2), 16) / 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; });

// directions in the piece that point right, up and to the eye, as the server has them
function frame(up, turn, from) {
  const ref = Math.abs(up[0]) > 0.9 ? [0, 1, 0] : [1, 0, 0];
  const e1 = norm(sum(ref, 1, up, -dot(ref, up))), e2 = cross(up, e1);
  const t = turn * Math.PI / 180, f = from * Math.PI / 180;
  const right = sum(e1, Math.cos(t), e2, Math.sin(t)), ahead = sum(e1, Math.sin(t), e2, -Math.cos(t));
  return { right, over: sum(up, Math.cos(f), ahead, -Math.sin(f)), near: sum(ahead, Math.cos(f), up, Math.sin(f)) };
}

function build(gl) {
  const program = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
    const part = gl.createShader(kind);
    gl.shaderSource(part, text);
    gl.compileShader(part);
    if (!gl.getShaderParameter(part, gl.COMPILE_STATUS)) return null;
    gl.attachShader(program, part);
  }
  gl.linkProgram(program);
  return gl.getProgramParameter(program, gl.LINK_STATUS) ? program : null;
}

async function start(form) {
  const base = form.dataset.piece, up = norm(form.dataset.up.split(',').map(Number));
  const img = form.querySelector('img'), canvas = form.querySelector('canvas');
  const luck = form.elements.luck, show = form.elements.show, turned = form.elements.turn;
  const view = { turn: Number(form.dataset.turn), from: 25 };
  let draw = () => { // the server draws
    const q = new URLSearchParams({ show: show.value, luck: luck ? luck.value : '0', turn: Math.round(view.turn), up: form.dataset.up });
    img.src = `${base}/picture.png?${q}`;
  };
  let waits = 0;
  const redraw = () => { cancelAnimationFrame(waits); waits = requestAnimationFrame(() => draw()); };
  const turn = (by, tip = 0) => {
    view.turn = (((view.turn + by) % 360) + 360) % 360;
    view.from = Math.max(-80, Math.min(80, view.from + tip));
    turned.value = Math.round(view.turn);
    redraw();
  };
  form.querySelector('[data-needs-no-script]').hidden = true;
  form.querySelector('[data-turners]').hidden = false;
  form.addEventListener('submit', e => { e.preventDefault(); redraw(); });
  for (const b of form.querySelectorAll('[data-turn-by]')) b.addEventListener('click', () => turn(Number(b.dataset.turnBy)));
  turned.addEventListener('change', () => { const v = Number(turned.value); if (Number.isFinite(v)) { view.turn = v; turn(0); } });
  luck?.addEventListener('input', redraw);
  if (show.tagName === 'SELECT') show.addEventListener('change', redraw);

  const gl = canvas.getContext('webgl2', { alpha: true, antialias: true, premultipliedAlpha: true, preserveDrawingBuffer: true });
  const program = gl && build(gl);
  if (!program) { form.dataset.drawn = 'server'; return; }
  let look, blob;
  try {
    const answers = await Promise.all([fetch(`${base}/look`), fetch(`${base}/mesh`)]);
    if (answers.some(a => !a.ok)) throw new Error('refused');
    [look, blob] = [await answers[0].json(), await answers[1].arrayBuffer()];
  } catch { form.dataset.drawn = 'server'; return; }

  const corners = blob.byteLength / 16, floats = new Float32Array(blob);
  const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
  for (let i = 0; i < corners; i++) for (let k = 0; k < 3; k++) {
    const v = floats[4 * i + k];
    if (v < low[k]) low[k] = v;
    if (v > high[k]) high[k] = v;
  }
  const middle = sum(low, 0.5, high, 0.5);
  let radius = 1e-9; // of the ball round it: so it keeps its size when it is turned
  for (let i = 0; i < corners; i++) radius = Math.max(radius, Math.hypot(floats[4 * i] - middle[0], floats[4 * i + 1] - middle[1], floats[4 * i + 2] - middle[2]));

  gl.useProgram(program);
  gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
  gl.bufferData(gl.ARRAY_BUFFER, blob, gl.STATIC_DRAW);
  const at = gl.getAttribLocation(program, 'at'), faces = gl.getAttribLocation(program, 'faces');
  gl.enableVertexAttribArray(at);
  gl.vertexAttribPointer(at, 3, gl.FLOAT, false, 16, 0);
  gl.enableVertexAttribArray(faces);
  gl.vertexAttribPointer(faces, 4, gl.BYTE, true, 16, 12);
  const u = name => gl.getUniformLocation(program, name);
  gl.enable(gl.DEPTH_TEST);
  if (!look.both) gl.enable(gl.CULL_FACE);
  gl.uniform1fv(u('ranks'), look.ranks);
  gl.uniform1fv(u('shift'), look.shift);
  gl.uniform1fv(u('greys'), look.greys.map(g => g / 255));
  gl.uniform3fv(u('up'), up);
  gl.uniform3fv(u('middle'), middle);
  gl.uniform1f(u('deep'), radius * 1.01);
  const sides = [look.outside, look.inside];
  gl.uniform1iv(u('count'), sides.map(s => s ? Math.min(8, s.shares.length) : 0));
  gl.uniform1iv(u('ordered'), sides.map(s => s && s.ordered ? 1 : 0));
  gl.uniform1fv(u('mottle'), sides.map(s => s ? s.mottle_mm : 1));
  const shares = new Float32Array(16);
  sides.forEach((s, f) => s && s.shares.slice(0, 8).forEach((v, i) => { shares[8 * f + i] = v; }));
  gl.uniform1fv(u('shares'), shares);

  draw = () => {
    const ratio = Math.min(2, devicePixelRatio || 1), w = Math.round(canvas.clientWidth * ratio), h = Math.round(canvas.clientWidth * 0.75 * ratio);
    if (canvas.width !== w || canvas.height !== h) { canvas.width = w; canvas.height = h; }
    const step = Math.round((Number(luck ? luck.value : 0) + 100) / 10), colours = new Float32Array(48);
    sides.forEach((s, f) => s && s.colours[step].slice(0, 8).forEach((hex, i) => colours.set(linear(hex), 3 * (8 * f + i))));
    gl.uniform3fv(u('colours'), colours);
    gl.uniform1i(u('slope'), show.value === 'slope' ? 1 : 0);
    const v = frame(up, view.turn, view.from);
    for (const k of ['right', 'over', 'near']) gl.uniform3fv(u(k), v[k]);
    const k = 0.96 / radius;
    gl.uniform2f(u('scale'), k * Math.min(1, h / w), k * Math.min(1, w / h));
    gl.viewport(0, 0, w, h);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.drawArrays(gl.TRIANGLES, 0, corners);
    canvas.dataset.turn = Math.round(view.turn);
  };
  canvas.hidden = false;
  img.hidden = true;
  form.dataset.drawn = 'here';
  redraw();
  canvas.addEventListener('webglcontextlost', () => { canvas.hidden = true; img.hidden = false; form.dataset.drawn = 'server'; });
  new ResizeObserver(redraw).observe(form);
  let held = null;
  canvas.addEventListener('pointerdown', e => { held = [e.clientX, e.clientY]; canvas.setPointerCapture(e.pointerId); });
  canvas.addEventListener('pointermove', e => {
    if (!held) return;
    turn(-(e.clientX - held[0]) * 0.5, e.pointerType === 'touch' ? 0 : (e.clientY - held[1]) * 0.4);
    held = [e.clientX, e.clientY];
  });
  for (const end of ['pointerup', 'pointercancel', 'lostpointercapture']) canvas.addEventListener(end, () => { held = null; });
  canvas.addEventListener('keydown', e => {
    const by = { ArrowLeft: [-15, 0], ArrowRight: [15, 0], ArrowUp: [0, 10], ArrowDown: [0, -10] }[e.key];
    if (!by) return;
    e.preventDefault();
    turn(...by);
  });
}

for (const form of document.querySelectorAll('form.viewer')) start(form);
