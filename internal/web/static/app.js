// What every page does: hears that the studio changed, keeps taps when the
// network is gone, and counts timers from facts (a start and a length), never
// from a running count.
import { studioNow, measure, within } from './clock.js';
import { take, send, check, heard, say, onTaps, isAway, waitingTaps, sentTaps, newKey } from './taps.js';
import { read, advance, draw } from './bench.js';
import { keep, kept, tryStorage } from './kept.js';
import { ring } from './signals.js';
import { order } from './screen.js';
import { inWords } from './words.js';

export { studioNow };

// ---- taps -----------------------------------------------------------------
document.addEventListener('submit', e => {
  const form = e.target;
  if (!form.matches('form[data-tap]')) return;
  e.preventDefault();
  for (const old of document.querySelectorAll('.refused')) old.remove();
  if (isAway() && form.getAttribute('action').endsWith('/begin')) {
    const why = mayNot(form);
    if (why) { say(form.dataset.tap, why); return; }
  }
  const tap = take(form, e.submitter); // before its button is switched off, which would take the button's own value away
  for (const b of form.querySelectorAll('button')) b.disabled = true;
  form.closest('details')?.removeAttribute('open'); // an open one would keep the part from being refreshed
  setTimeout(() => { if (waitingTaps().some(t => t.id === tap.id)) overlay(); }, 400);
});

// mayNot says why swatches must not begin while the laptop can't be asked.
function mayNot(form) {
  const boxes = [...form.querySelectorAll('[name=t]')], asks = boxes.filter(b => b.type !== 'checkbox' || b.checked);
  if (boxes.length && !asks.length) return inWords('Tick at least one swatch to start.');
  // the timetable's button names its swatches itself; what the studio wrote of each stands on its box below
  const known = new Map([...document.querySelectorAll('[data-begin]')].map(l => JSON.parse(l.dataset.begin)).map(a => [String(a.t), a]));
  const not = asks.map(b => known.get(b.value)).find(a => a?.not);
  if (not) return not.not;
  if (asks.some(b => !known.has(b.value))) return inWords('It can’t be seen here whether this may begin. Begin it on Today’s page, or when the laptop is back.');
  if (document.querySelector('[data-apart]')) return inWords('Some of today’s work must not share a room, and the laptop can’t be asked now whether this may begin. Begin it when the laptop is back.');
  return '';
}

// ---- the bench while the laptop is away --------------------------------------
// The board as the studio drew it last; what was tapped since is laid over it.
const board = document.getElementById('board');
let base = board?.innerHTML, overlaid = false;
// what else the page says of the day is older than the cards then, and is put away
function lay(over) { overlaid = over; document.body.classList.toggle('ahead', over); }
const drawnAt = html => Number(/data-now="(\d+)"/.exec(html || '')?.[1] || 0);

function overlay() {
  if (!board) return;
  if (underFinger()) { setTimeout(overlay, 100); return; }
  const at = drawnAt(base);
  const taps = [...sentTaps().filter(t => t.sent >= at), ...waitingTaps()];
  if (!taps.length && !overlaid) return;
  put(board, base);
  lay(false);
  const bench = read(board);
  let changed = false;
  for (const t of taps) changed = advance(bench, t) || changed;
  if (changed) { draw(board, bench, studioNow(), newKey); lay(true); }
  tick();
}
onTaps(sent => { if (sent) refresh(); else if (isAway()) overlay(); }, () => { hush(); listen(); refresh(); });

// ---- fresh parts ------------------------------------------------------------
// A part drawn anew between a finger going down and coming up has other buttons then,
// and the tap would be nobody's. So it stays as it is until the click was given.
let down = 0;
const underFinger = () => down > 0 && performance.now() - down < 5000; // an end may go unheard outside the window
addEventListener('pointerdown', () => { down = performance.now(); }, true);
for (const end of ['pointerup', 'pointercancel']) {
  addEventListener(end, () => { const of = down; setTimeout(() => { if (down === of) down = 0; freshen(); }, 60); }, true);
}
function freshen() { if (document.querySelector('[data-stale]')) refresh(); }

// An element with data-fresh is fetched again when the studio changed, unless
// someone is typing in it or about to tap.
let busy = false, again = false, later = 0;
function inUse(part) {
  const typing = part.contains(document.activeElement) && document.activeElement.matches('input:not([type=checkbox]), textarea, select');
  return typing || underFinger() || part.querySelector('details[open] form[data-tap], [data-dirty]');
}
// put draws a part; what is ticked in it, and where the keyboard is, stays.
function put(part, html) {
  const ticked = [...part.querySelectorAll('input[type=checkbox]:checked')].map(i => i.name + '=' + i.value);
  const focus = document.activeElement && part.contains(document.activeElement) ? document.activeElement.id : '';
  part.innerHTML = html;
  for (const box of part.querySelectorAll('input[type=checkbox]')) if (ticked.includes(box.name + '=' + box.value)) box.checked = true;
  if (focus) document.getElementById(focus)?.focus();
}
// soon asks once more: a laptop that only stood still for a while does not say so when it goes on.
function soon() { clearTimeout(later); later = setTimeout(() => { if (!isAway()) refresh(); }, 3000); }
async function refresh() {
  if (busy) { again = true; return; }
  busy = true;
  try {
    for (const part of document.querySelectorAll('[data-fresh]')) {
      if (inUse(part)) { part.dataset.stale = '1'; continue; }
      let answer, fresh;
      try {
        answer = await within(10000, signal => fetch(part.dataset.fresh, { signal }));
        fresh = await answer.text();
      } catch { check(); soon(); continue; }
      if (!answer.ok) continue;
      if (answer.headers.has('X-Kept')) { // kept on this device: the laptop is away, and the page may be newer
        if (!isAway()) { check(); soon(); }
        if (part !== board || drawnAt(fresh) <= drawnAt(base)) continue;
      }
      if (inUse(part)) { part.dataset.stale = '1'; continue; } // taken into use meanwhile
      put(part, fresh);
      delete part.dataset.stale;
      if (part === board) { base = fresh; lay(false); if (waitingTaps().length) overlay(); }
    }
    tick();
  } finally {
    busy = false;
    if (again) { again = false; refresh(); }
  }
}
document.addEventListener('focusout', () => setTimeout(freshen, 150));
document.addEventListener('toggle', e => { if (!e.target.open) freshen(); }, true);

// ---- the stream ---------------------------------------------------------------
// One stream for the page in view; a hidden page lets go of it, since a browser
// opens only six connections to one address over plain HTTP.
let stream, known = document.body.dataset.edition, lastHeard = 0;
function listen() {
  if (stream || document.hidden || !document.querySelector('main')) return;
  if (document.querySelector('header .rooms') === null) return;
  stream = new EventSource('/live');
  lastHeard = performance.now();
  stream.addEventListener('now', () => { lastHeard = performance.now(); measure(); });
  stream.addEventListener('version', e => {
    if (known !== e.data) refresh(); // it changed after the page was made, or while nothing was heard
    known = e.data;
    heard();
  });
  stream.addEventListener('changed', e => { lastHeard = performance.now(); known = e.data; refresh(); });
  stream.addEventListener('error', () => check());
}
function hush() { stream?.close(); stream = undefined; }
document.addEventListener('visibilitychange', () => { if (document.hidden) hush(); else { listen(); refresh(); check(); } });
addEventListener('pagehide', hush);
addEventListener('online', () => { hush(); listen(); check(); });
addEventListener('offline', () => check()); // the laptop itself is reached without any network
addEventListener('pageshow', e => { if (e.persisted) { listen(); refresh(); } });
// the studio speaks every 20 s; a phone that walked out of the network hears no error
setInterval(() => {
  if (document.hidden || isAway()) return;
  if (stream?.readyState === EventSource.CLOSED) { hush(); listen(); }
  if (stream && performance.now() - lastHeard > 30000) { lastHeard = performance.now(); check(); }
}, 5000);

// ---- timers ---------------------------------------------------------------------
// <span data-due="ms">: time left to, or gone since, that moment.
const large = !!document.querySelector('.across');
function words(ms) {
  const s = Math.floor(Math.abs(ms) / 1000), d = Math.floor(s / 86400), h = Math.floor(s / 3600) % 24, m = Math.floor(s / 60) % 60;
  if (d) return `${d} d ${h} h`;
  if (h && large) return `${h} h ${String(m).padStart(2, '0')}`;
  if (h) return `${h} h ${String(m).padStart(2, '0')} min`;
  if (s >= 600 && !large) return `${m} min`;
  return `${m}:${String(s % 60).padStart(2, '0')}`;
}
let ordered = '';
function tick() {
  const now = studioNow();
  for (const el of document.querySelectorAll('span[data-due]')) {
    const left = Number(el.dataset.due) - now;
    const text = words(left);
    if (el.textContent !== text) el.textContent = text;
    const task = el.closest('.task');
    if (!task || !task.dataset.dwell) continue;
    const due = left <= 0;
    if (task.classList.contains('act') !== due) {
      task.classList.toggle('act', due);
      if (due) announce(task);
    }
    const state = task.querySelector('.state'), says = due ? inWords('▲ NOW: overdue by') : inWords('◔ Time left');
    if (state && state.textContent !== says) state.textContent = says;
  }
  if (large) {
    const acts = [...document.querySelectorAll('.task')].map(t => t.classList.contains('act') + t.dataset.due).join();
    if (acts !== ordered) { ordered = acts; order(now); }
  }
}
function announce(task) {
  const h = task.querySelector('h3');
  const live = document.getElementById('announce');
  if (live && h) live.textContent = inWords('Now due: {1}', h.textContent);
}
const plainTitle = document.title;
function title() {
  if (!board) return;
  const n = board.querySelectorAll('.task.act').length;
  document.title = (n ? '▲ ' + inWords('{1} now', n) + ' · ' : '') + plainTitle;
}
// no card is told due before the clocks were compared, or the studio found away
measure().then(here => {
  if (here !== 'here' && document.querySelector('header .rooms')) { check(); refresh(); }
  setInterval(() => { tick(); title(); if (board) ring(); }, 1000);
  tick();
  title();
  listen();
  if (waitingTaps().length) { overlay(); send(); }
});
if (document.querySelector('form[data-tap], .across')) tryStorage();
if ('serviceWorker' in navigator && isSecureContext && document.querySelector('header .rooms')) {
  navigator.serviceWorker.register('/worker.js').catch(() => { /* without it the page says to stay open */ });
  // a page that was loading while the worker began is not its own yet
  navigator.serviceWorker.ready.then(r => {
    if (!navigator.serviceWorker.controller) r.active.postMessage('claim');
    const lang = document.documentElement.lang;
    if (kept('aerugo.lang', lang) !== lang) r.active.postMessage('anew'); // what it keeps is in the language before
    keep('aerugo.lang', lang);
  });
}

// ---- small helps -------------------------------------------------------------------
for (const input of document.querySelectorAll('[data-submit-on-change]')) input.addEventListener('change', () => input.form.requestSubmit());
for (const box of document.querySelectorAll('[data-tick-all]')) {
  box.addEventListener('change', () => { for (const b of document.querySelectorAll(`input[name="${box.dataset.tickAll}"]`)) b.checked = box.checked; });
}

// '/' leads to the box that finds, unless one is writing.
document.addEventListener('keydown', e => {
  const box = document.querySelector('[data-find]');
  if (e.key !== '/' || e.ctrlKey || e.metaKey || e.altKey || !box || e.target.closest('input,textarea,select,[contenteditable]')) return;
  e.preventDefault();
  box.focus();
  box.select();
});
