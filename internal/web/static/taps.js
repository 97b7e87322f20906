// A tap is kept on this device until the studio has answered it. Its key was
// made once, so sending it again can't count twice. Taps go out in the order
// they were made; what could not count is told, never dropped.
import { keep, kept, storageBroken, onBroken } from './kept.js';
import { studioNow, stamp, measure, compared, onShift, studioMark, within } from './clock.js';
import { inWords, inHours } from './words.js';

const all = () => kept('aerugo.taps', []);
const save = taps => keep('aerugo.taps', taps);
const told = () => kept('aerugo.told', []);
const atSeat = location.pathname.startsWith('/seat'); // a student's phone

let away = 0;       // since when the laptop can't be reached, studio's ms; 0 when it can
let shut = false;   // it answers, and does not let this device in
let sending = false, flying = '', timer = 0, serverSays = '';
const hooks = { changed() {}, back() {} };

// onTaps sets what is called when the kept taps changed, and when the laptop is back.
export function onTaps(changed, back) { hooks.changed = changed; hooks.back = back; }
export const isAway = () => away > 0;
export const waitingTaps = () => all().filter(t => !other(t));
export const sentTaps = () => kept('aerugo.sent', []).filter(t => !other(t));

export function newKey() {
  const b = crypto.getRandomValues(new Uint8Array(12));
  return btoa(String.fromCharCode(...b)).replaceAll('+', '-').replaceAll('/', '_');
}

const iso = ms => new Date(Math.round(ms)).toISOString();

// take keeps the tap of a form and sends it when it can.
export function take(form, submitter) {
  const data = new FormData(form, submitter);
  const s = stamp();
  const fields = [...data.entries()].filter(([n, v]) => typeof v === 'string' && n !== 'client' && n !== 'at' && n !== 'clock');
  let at = s.at, said = !!data.get('atlocal');
  if (data.get('clock')) { // a time of day typed here means this device's day
    const [h, m] = String(data.get('clock')).split(':').map(Number);
    const d = new Date(s.at);
    d.setHours(h, m, 0, 0);
    at = d.getTime();
    if (at > s.at + 60000) at -= 86400000; // later than now can only mean yesterday
    said = true;
    if (!data.get('atlocal')) s.typed = true;
  }
  const heading = form.closest('.task')?.querySelector('h3')?.textContent || (form.getAttribute('action').endsWith('/begin') ? inWords('Begin swatches {1}', [...form.querySelectorAll('[name=t]:checked, [name=t][type=hidden]')].map(b => b.closest('[data-begin]')?.dataset.begin).filter(Boolean).map(t => JSON.parse(t).swatch).join(', ')) : '');
  const button = (submitter?.textContent || '').trim();
  const tap = { id: newKey(), url: form.action, path: form.getAttribute('action'), fields, place: form.dataset.tap, at, made: s.at, era: s.era, set: s.set, said, typed: s.typed, away: away > 0, studio: here(),
    words: heading && button ? heading + ': ' + button : heading || button };
  save([...all(), tap]);
  hooks.changed();
  show();
  send();
  return tap;
}

// Times of an era that turn out to be off are put right, and say so.
onShift((era, ms, known) => {
  const taps = all();
  let any = false;
  for (const t of taps) {
    if (t.era !== era || t.said) continue;
    t.at += ms; any = true;
    if (known) t.off = (t.off || 0) + ms;
  }
  if (any) save(taps);
});

function body(tap) {
  const f = new URLSearchParams(tap.fields);
  f.set('client', tap.id);
  if (!f.get('atlocal')) f.set('at', iso(tap.at));
  if (tap.away) f.set('away', '1');
  const off = (tap.off || 0) - (tap.set || 0);
  if (!tap.said && Math.abs(off) > 2000) {
    const min = Math.abs(off) / 60000;
    const by = min < 1.5 ? Math.round(min * 60) + ' s' : Math.round(min) + ' min';
    const words = off < 0 ? inWords('this device’s clock was set {1} forward while the laptop was out of reach; the time is put right from its steady clock', by)
      : inWords('this device’s clock was set {1} back while the laptop was out of reach; the time is put right from its steady clock', by);
    f.set('note', [f.get('note'), words].filter(Boolean).join('; '));
  }
  return f;
}

// send sends what is kept, first made first.
export async function send() {
  if (sending || shut) return;
  sending = true;
  clearTimeout(timer);
  let counted = 0, sent = 0, fromAway = false, any = false;
  try {
    if (away || !compared()) { // a tap made before the clocks were compared would go out with a wrong time
      const there = await measure();
      if (there === 'shut') { shut = true; show(); return; }
      if (!there) { if (away) later(); else gone(); return; }
      fromAway = away > 0;
      away = 0;
    }
    for (let taps = all(); taps.length; taps = all()) {
      const tap = taps.find(t => !other(t));
      if (!tap) break;
      flying = tap.id;
      any = true;
      let answer;
      try {
        answer = await within(8000, signal => fetch(tap.url, { method: 'POST', body: body(tap), headers: { Accept: 'application/json' }, signal }));
      } catch { gone(); return; }
      const said = await answer.json().catch(() => ({}));
      if (answer.status === 403) { shut = true; show(); return; }
      if (answer.status >= 500) {
        serverSays = said.problem || inWords('The laptop could not keep it.');
        if (tries(tap) < 5 || answer.status === 507) { later(); return; }
        drop(tap, { words: serverSays, tap }); // told with a way to send it again, so that those behind it can go
        serverSays = '';
        continue;
      }
      serverSays = '';
      if (!answer.ok) {
        const why = said.problem || inWords('The studio did not take that tap.');
        if (tap.away) drop(tap, { words: tap.words ? inWords('{1}, at {2}: {3}', tap.words, inHours(tap.at), why) : inWords('at {1}: {2}', inHours(tap.at), why), tap });
        else { drop(tap); refuse(tap, why); }
        continue;
      }
      const fates = (said.became || []).filter(f => f.words?.length);
      keep('aerugo.sent', [...kept('aerugo.sent', []), { studio: tap.studio, path: tap.path, fields: tap.fields, at: tap.at, sent: studioNow() }].slice(-60));
      drop(tap, ...fates.map(f => ({ words: f.of + ': ' + f.words.join(' '), swatch: f.swatch })));
      if (tap.away) { sent++; if (!fates.length) counted++; }
    }
    if (sent) tell({ words: counted !== sent ? inWords('{1} taps made while the laptop was away were sent; {2} count as they are.', sent, counted) : sent === 1 ? inWords('One tap made while the laptop was away was sent; it counts.') : inWords('{1} taps made while the laptop was away were sent; all count.', sent), done: true });
  } finally {
    sending = false; flying = '';
    show();
  }
  if (fromAway) hooks.back(); else if (any) hooks.changed(true);
}

function tries(tap) {
  const taps = all(), t = taps.find(x => x.id === tap.id);
  if (!t) return 0;
  t.tries = (t.tries || 0) + 1;
  save(taps);
  return t.tries;
}
// other reports whether a tap was made for a studio that is not this one.
function other(tap) { return !!tap.studio && !!here() && tap.studio !== here(); }
const here = () => studioMark() || document.querySelector('[data-studio]')?.dataset.studio || '';
function drop(tap, ...tell1) {
  if (tell1.length) tell(...tell1.map((x, i) => ({ ...x, id: tap.id + '/' + i })));
  save(all().filter(t => t.id !== tap.id));
}
function tell(...lines) {
  const have = told();
  for (const l of lines) if (!l.id || !have.some(h => h.id === l.id)) have.push({ id: newKey(), ...l });
  keep('aerugo.told', have.slice(-200));
}
function later() { clearTimeout(timer); timer = setTimeout(send, 3000); show(); }

// gone says that the laptop can't be reached; it is asked again by itself.
export function gone() {
  if (!away) {
    away = studioNow();
    const taps = all();
    for (const t of taps) t.away = true;
    if (taps.length) save(taps);
    hooks.changed();
  }
  later();
}

// check asks whether the laptop is there.
export async function check() {
  if (away) { send(); return; }
  const there = await measure();
  if (there === 'shut') { shut = true; show(); } else if (!there) gone(); else show();
}

// heard is called when the studio was heard of by another way.
export function heard() { shut = false; if (away || all().length) send(); }

// ---- what is said ---------------------------------------------------------
const net = document.getElementById('net');
function show() {
  if (net) {
    const n = all().filter(t => !other(t)).length, one = n === 1;
    let text = '';
    if (shut) text = '▲ ' + [inWords('This device is not let in any more.'), !n ? '' : one ? inWords('One tap is kept on this device.') : inWords('{1} taps are kept on this device.', n), atSeat ? inWords('Ask your teacher.') : inWords('Scan a fresh code on the laptop (Studio, “Let a phone in”).')].filter(Boolean).join(' ');
    else if (serverSays && n) text = `▲ ${serverSays} ` + (one ? inWords('One tap is kept on this device and will be sent again by itself.') : inWords('{1} taps are kept on this device and will be sent again by themselves.', n));
    else if (away) {
      text = '▲ ' + inWords('The laptop can’t be reached since {1}.', inHours(away)) + ' ' + (storageBroken()
        ? !n ? inWords('Taps are held only as long as this page stays open: do not close or reload it.')
          : one ? inWords('One tap is held only as long as this page stays open: do not close or reload it.')
          : inWords('{1} taps are held only as long as this page stays open: do not close or reload it.', n)
        : (!n ? inWords('Go on working: taps will be kept on this device, with the time, and sent by itself.')
          : one ? inWords('One tap is kept on this device, with the time, and sent by itself.')
          : inWords('{1} taps are kept on this device, with the time, and sent by themselves.', n))
          + (navigator.serviceWorker?.controller ? '' : ' ' + inWords('Keep this page open until then.')));
    }
    if (net.textContent !== text) net.textContent = text;
    net.hidden = !text;
  }
  list();
}

onBroken(why => {
  let box = document.getElementById('nokeep');
  if (!why || !document.querySelector('form[data-tap], .across')) { box?.remove(); return; }
  if (!box) {
    box = document.createElement('p');
    box.id = 'nokeep'; box.className = 'problem'; box.setAttribute('role', 'alert');
    (document.querySelector('main h1') || document.getElementById('main').firstElementChild).after(box);
  }
  box.textContent = why === 'full'
    ? '▲ ' + inWords('This browser has no room left to keep taps. With the laptop out of reach they are held only while this page stays open. Free some room: clear the data of other sites.')
    : '▲ ' + inWords('This browser keeps nothing (a private window does that). With the laptop out of reach, taps are held only while this page stays open. Use an ordinary window.');
});

function make(name, props, ...inside) { const el = Object.assign(document.createElement(name), props); el.append(...inside); return el; }

// list shows the taps that wait and what became of those sent late. It is drawn
// anew only when it differs, so that a finger on it is not disturbed.
let drawn = '';
function list() {
  const waiting = away || all().some(t => other(t)) ? all() : [], lines = told();
  const mark = JSON.stringify([waiting.map(t => [t.id, t.at, other(t)]), lines]);
  if (mark === drawn || !document.querySelector('header .rooms')) return;
  drawn = mark;
  let box = document.getElementById('away');
  if (!waiting.length && !lines.length) { box?.remove(); return; }
  if (!box) {
    box = make('section', { id: 'away', className: 'panel' });
    box.setAttribute('aria-label', inWords('Taps made while the laptop was away'));
    (document.querySelector('main h1') || document.getElementById('main').firstElementChild).after(box);
  }
  const wasOpen = !!box.querySelector('details[data-waiting][open]');
  box.replaceChildren();
  if (waiting.length) {
    const list = make('details', { open: wasOpen }, make('summary', { textContent: waiting.length === 1 ? inWords('One tap made here, not sent yet') : inWords('{1} taps made here, not sent yet', waiting.length) }));
    list.dataset.waiting = '1';
    box.append(list);
    list.append(make('ol', { className: 'bare' }, ...waiting.map(t => {
      const back = make('button', { className: 'quiet', textContent: inWords('Take back') });
      back.setAttribute('aria-label', inWords('Take back: {1}', t.words));
      back.addEventListener('click', () => takeBack(t.id));
      const row = make('li', { className: 'row' }, make('span', { textContent: `${inHours(t.at)} · ${t.words || inWords('a tap')}${other(t) ? ' ' + inWords('(made for another studio on this address; open that one to send it)') : ''}` }));
      if (!t.takenBack) row.append(back);
      return row;
    })));
  }
  if (lines.length) {
    box.append(make('h2', { textContent: inWords('What happened while you were away') }));
    box.append(make('ul', {}, ...lines.map(l => {
      const row = make('li', {}, (l.done ? '✓ ' : '▲ ') + l.words);
      if (l.swatch) row.append(' ', make('a', { href: (atSeat ? '/seat' : '') + '/swatches/' + l.swatch, textContent: inWords('Look at swatch {1}’s record, or correct it', l.swatch) }));
      if (l.tap) row.append(again(l));
      return row;
    })));
    const read = make('button', { textContent: inWords('I have read this') });
    read.addEventListener('click', () => { keep('aerugo.told', told().filter(t => t.tap)); show(); });
    if (lines.some(l => !l.tap)) box.append(read);
  }
}

// again offers to send what was refused once more, at another time.
function again(line) {
  const form = make('details', {}, make('summary', { textContent: inWords('Set its time and send it again, or let it go') }));
  const when = make('input', { type: 'datetime-local', step: 1, value: local(line.tap.at) });
  const go = make('button', { textContent: inWords('Send it again') }), let1 = make('button', { className: 'quiet', textContent: inWords('Let it go') });
  go.addEventListener('click', () => {
    const at = new Date(when.value).getTime();
    if (!Number.isFinite(at)) return;
    save([...all(), { ...line.tap, id: newKey(), at, said: true, tries: 0, away: true }]);
    keep('aerugo.told', told().filter(t => t.id !== line.id));
    show(); send();
  });
  let1.addEventListener('click', () => { keep('aerugo.told', told().filter(t => t.id !== line.id)); show(); });
  form.append(make('label', {}, inWords('It happened at'), when), make('div', { className: 'row' }, go, let1));
  return form;
}
function local(ms) { const d = new Date(ms); return new Date(ms - d.getTimezoneOffset() * 60000).toISOString().slice(0, 19); }

// takeBack turns a tap that was not sent into a note, so that the record has both.
function takeBack(id) {
  if (id === flying) return;
  const taps = all(), t = taps.find(x => x.id === id);
  if (!t) return;
  const seat = t.path.startsWith('/seat/') ? '/seat' : '';
  const of = t.path.endsWith('/begin') ? t.fields.filter(([n]) => n === 't').map(([, v]) => ['of', v + ':0']) : t.fields.filter(([n]) => n === 'of');
  t.id = newKey(); // the old key may have reached the studio before the network went
  t.fields = [...of, ['kind', 'noted'], ['note', inWords('tapped “{1}” at {2} with the laptop out of reach, and taken back at {3}', t.words, inHours(t.at), inHours(studioNow()))]];
  t.path = seat + '/taps'; t.url = new URL(t.path, location.href).href; t.words = inWords('{1} (taken back)', t.words); t.takenBack = true;
  save(taps);
  hooks.changed();
  show();
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
// say puts words where a refusal stands, for what this device itself must refuse.
export function say(place, why) { refuse({ place }, why); }

show();
