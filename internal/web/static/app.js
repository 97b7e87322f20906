// What every page does: hears that the studio changed, keeps taps when the
// network is gone, and counts timers from facts (a start and a length), never
// from a running count.

// offset is what to add to this device's clock to get the studio's.
let offset = Number(sessionStorage.getItem('aerugo.offset') || 0);
export const studioNow = () => Date.now() + offset;

const net = document.getElementById('net');
function say(text) { if (net) { net.hidden = !text; net.textContent = text || ''; } }

// ---- taps -----------------------------------------------------------------
// A tap is kept on this device until the studio has answered it. Its key was
// made once, so sending it again can't count twice.
const store = {
  all() { try { return JSON.parse(localStorage.getItem('aerugo.taps') || '[]'); } catch { return []; } },
  save(taps) { localStorage.setItem('aerugo.taps', JSON.stringify(taps)); },
};
let sending = false;

async function send() {
  if (sending) return;
  sending = true;
  try {
    for (let taps = store.all(); taps.length; taps = store.all()) {
      const tap = taps[0];
      const body = new URLSearchParams(tap.fields);
      let answer;
      try {
        answer = await fetch(tap.url, { method: 'POST', body, headers: { Accept: 'application/json' } });
      } catch {
        waiting();
        setTimeout(send, 3000);
        return;
      }
      if (answer.status >= 500 && answer.status !== 507) { waiting(); setTimeout(send, 3000); return; }
      store.save(store.all().filter(t => t.id !== tap.id));
      if (!answer.ok) {
        const why = await answer.json().catch(() => ({}));
        refuse(tap, why.problem || 'The studio did not take that tap.');
      }
    }
    if (!store.all().length) say('');
    refresh();
  } finally { sending = false; }
}

function waiting() {
  const n = store.all().length;
  say(`▲ The laptop can't be reached. ${n === 1 ? 'One tap is' : n + ' taps are'} kept on this device, with the time, and will be sent by itself.`);
}

function refuse(tap, why) {
  const box = document.createElement('p');
  box.className = 'problem refused';
  box.setAttribute('role', 'alert');
  box.textContent = '▲ ' + why;
  const place = document.querySelector(`[data-tap-place="${CSS.escape(tap.place || '')}"]`) || document.getElementById('main');
  // beside the part and not in it: the part is drawn again at once, and would take the reason away
  if (place.dataset.fresh) place.before(box); else place.prepend(box);
  box.scrollIntoView({ block: 'center' });
}

document.addEventListener('submit', e => {
  const form = e.target;
  if (!form.matches('form[data-tap]')) return;
  e.preventDefault();
  for (const old of document.querySelectorAll('.refused')) old.remove();
  const data = new FormData(form, e.submitter);
  if (!data.get('at')) data.set('at', new Date(studioNow()).toISOString());
  const fields = [...data.entries()].filter(([, v]) => typeof v === 'string');
  const id = String(data.get('client') || Math.random());
  const taps = store.all();
  if (!taps.some(t => t.id === id)) {
    taps.push({ id, url: form.action, fields, place: form.dataset.tap });
    store.save(taps);
  }
  for (const b of form.querySelectorAll('button')) b.disabled = true;
  form.closest('details')?.removeAttribute('open'); // an open one would keep the part from being refreshed
  send();
});

// ---- fresh parts ------------------------------------------------------------
// An element with data-fresh is fetched again when the studio changed, unless
// someone is typing in it.
let busy = false, again = false;
async function refresh() {
  if (busy) { again = true; return; }
  busy = true;
  try {
    for (const part of document.querySelectorAll('[data-fresh]')) {
      const typing = part.contains(document.activeElement) && document.activeElement.matches('input:not([type=checkbox]), textarea, select');
      if (typing || part.querySelector('details[open] form[data-tap], [data-dirty]')) { part.dataset.stale = '1'; continue; }
      const ticked = [...part.querySelectorAll('input[type=checkbox]:checked')].map(i => i.name + '=' + i.value);
      const focus = document.activeElement && part.contains(document.activeElement) ? document.activeElement.id : '';
      let answer;
      try { answer = await fetch(part.dataset.fresh); } catch { continue; }
      if (!answer.ok) continue;
      const fresh = await answer.text();
      part.innerHTML = fresh;
      delete part.dataset.stale;
      for (const box of part.querySelectorAll('input[type=checkbox]')) if (ticked.includes(box.name + '=' + box.value)) box.checked = true;
      if (focus) document.getElementById(focus)?.focus();
    }
    tick();
  } finally {
    busy = false;
    if (again) { again = false; refresh(); }
  }
}
document.addEventListener('focusout', () => setTimeout(() => { if (document.querySelector('[data-stale]')) refresh(); }, 150));
document.addEventListener('toggle', e => { if (!e.target.open && document.querySelector('[data-stale]')) refresh(); }, true);

// ---- the stream ---------------------------------------------------------------
// One stream for the page in view; a hidden page lets go of it, since a browser
// opens only six connections to one address over plain HTTP.
let stream, known;
function listen() {
  if (stream || document.hidden || !document.querySelector('main')) return;
  if (document.querySelector('header .rooms') === null) return;
  stream = new EventSource('/live');
  stream.addEventListener('now', e => { offset = Number(e.data) - Date.now(); sessionStorage.setItem('aerugo.offset', offset); });
  stream.addEventListener('version', e => {
    if (known !== undefined && known !== e.data) refresh();
    known = e.data;
    send();
  });
  stream.addEventListener('changed', e => { known = e.data; refresh(); });
}
function hush() { stream?.close(); stream = undefined; }
document.addEventListener('visibilitychange', () => { if (document.hidden) hush(); else { listen(); refresh(); send(); } });
addEventListener('pagehide', hush);
addEventListener('online', () => { hush(); listen(); send(); });
addEventListener('pageshow', e => { if (e.persisted) { listen(); refresh(); } });

// ---- timers ---------------------------------------------------------------------
// <span data-due="ms">: time left to, or gone since, that moment.
function words(ms) {
  const s = Math.floor(Math.abs(ms) / 1000), d = Math.floor(s / 86400), h = Math.floor(s / 3600) % 24, m = Math.floor(s / 60) % 60;
  if (d) return `${d} d ${h} h`;
  if (h) return `${h} h ${String(m).padStart(2, '0')} min`;
  if (s >= 600) return `${m} min`;
  return `${m}:${String(s % 60).padStart(2, '0')}`;
}
function tick() {
  const now = studioNow();
  for (const el of document.querySelectorAll('[data-due]')) {
    const left = Number(el.dataset.due) - now;
    const text = words(left);
    if (el.textContent !== text) el.textContent = text;
    const task = el.closest('.task');
    if (!task || !task.dataset.dwell) continue;
    const due = left <= 0;
    if (task.classList.contains('act') !== due) {
      task.classList.toggle('act', due);
      const state = task.querySelector('.state');
      if (state) state.textContent = due ? '▲ NOW: overdue by' : '◔ Time left';
      if (due) announce(task);
    }
  }
}
function announce(task) {
  const h = task.querySelector('h3');
  const live = document.getElementById('announce');
  if (live && h) live.textContent = 'Now due: ' + h.textContent;
}
const plainTitle = document.title;
function title() {
  if (!document.getElementById('board')) return;
  const n = document.querySelectorAll('.task.act').length;
  document.title = (n ? `▲ ${n} now · ` : '') + plainTitle;
}
setInterval(() => { tick(); title(); }, 1000);
tick();
listen();
if (store.all().length) send();

// ---- small helps -------------------------------------------------------------------
for (const input of document.querySelectorAll('[data-submit-on-change]')) input.addEventListener('change', () => input.form.requestSubmit());
for (const box of document.querySelectorAll('[data-tick-all]')) {
  box.addEventListener('change', () => { for (const b of document.querySelectorAll(`input[name="${box.dataset.tickAll}"]`)) b.checked = box.checked; });
}
