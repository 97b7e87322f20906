// Sending many photographs: one after another, two under way at once. A file's
// key is made from its name, size and time, so that dropping a batch again goes
// on where it broke off, and nothing is kept twice.
import { inWords } from './words.js';
const box = document.querySelector('[data-many]');
if (box) start(box);

function start(box) {
  const part = name => box.querySelector(`[data-${name}]`);
  const input = box.querySelector('input[type=file]');
  const list = box.querySelector('.many'), bar = box.querySelector('progress'), stop = part('stop');
  const most = Number(box.dataset.most);
  const items = new Map(); // by key
  let stopped = false, unreachable = false, sending = 0;

  const keyOf = f => `many-${f.size}-${f.lastModified}-${encodeURIComponent(f.name).slice(-70)}`;

  input.addEventListener('change', () => { take([...input.files]); input.value = ''; });
  for (const type of ['dragenter', 'dragover']) document.addEventListener(type, e => {
    if (![...e.dataTransfer.types].includes('Files')) return;
    e.preventDefault();
    box.querySelector('.drop').classList.add('over');
  });
  const out = () => box.querySelector('.drop').classList.remove('over');
  document.addEventListener('dragleave', e => { if (!e.relatedTarget) out(); });
  document.addEventListener('drop', e => {
    if (!e.dataTransfer.files.length) return;
    e.preventDefault();
    out();
    take([...e.dataTransfer.files]);
  });
  stop.addEventListener('click', () => {
    stopped = !stopped;
    if (stopped) for (const it of items.values()) it.abort?.abort();
    run();
  });
  addEventListener('beforeunload', e => { if (!stopped && [...items.values()].some(it => it.state !== 'done' && it.state !== 'asks')) e.preventDefault(); });

  // take lists files and asks which of them are kept already.
  async function take(files) {
    const fresh = [];
    for (const file of files) {
      const key = keyOf(file);
      if (items.has(key)) continue;
      const row = part('row').content.firstElementChild.cloneNode(true);
      row.querySelector('[data-name]').textContent = file.name;
      list.append(row);
      const it = { key, file, row, state: 'new', fields: Object.fromEntries([...box.querySelectorAll('.drop select')].map(s => [s.name, s.value])) };
      items.set(key, it);
      fresh.push(it);
      show(it, '◔ ' + inWords('Waiting'));
    }
    if (!fresh.length) return;
    stopped = false;
    count();
    let there = {};
    try {
      const body = new URLSearchParams(fresh.map(it => ['client', it.key]));
      const answer = await fetch('/photos/many/there', { method: 'POST', body, headers: { Accept: 'application/json' } });
      if (answer.ok) there = (await answer.json()).there;
    } catch { /* each will be known when it is sent */ }
    for (const it of fresh) {
      if (there[it.key]) filed(it, there[it.key], true);
      else it.state = 'waiting';
    }
    run();
  }

  function run() {
    if (!stopped && !unreachable) for (const it of items.values()) {
      if (sending >= 2) break;
      if (it.state === 'waiting') send(it);
    }
    count();
  }

  async function send(it) {
    it.state = 'sending';
    sending++;
    show(it, '… ' + inWords('Sending'));
    try {
      if (it.file.size > most) return ask(it, inWords('The file is larger than {1} MB. Send an ordinary JPEG from the camera.', Math.ceil(most / 1048576)));
      try { await it.file.slice(0, 1).arrayBuffer(); } catch { return ask(it, inWords('This device can no longer read the file, or it is a folder. Choose it again.'), '', true); }
      const body = new FormData();
      body.set('client', it.key);
      for (const [name, value] of Object.entries(it.fields)) body.set(name, value);
      body.set('photo', it.file);
      it.abort = new AbortController();
      if (stopped) it.abort.abort();
      let answer;
      try {
        answer = await fetch('/photos/many', { method: 'POST', body, headers: { Accept: 'application/json' }, signal: it.abort.signal });
      } catch {
        wait(it);
        if (!stopped) { unreachable = true; setTimeout(() => { unreachable = false; run(); }, 3000); }
        return;
      }
      const said = await answer.json().catch(() => ({}));
      if (answer.ok && said.photo) return filed(it, said, false);
      if (answer.status === 507) stopped = true; // no room: the others would fare no better
      ask(it, said.problem || inWords('The studio did not take it.'), said.field, answer.status >= 500 || answer.status === 403);
    } finally {
      it.abort = null;
      sending--;
      run();
    }
  }

  function wait(it) { it.state = 'waiting'; show(it, '◔ ' + inWords('Waiting')); }

  // show puts words, and what else is given, into a file's row. Someone who
  // stands in the row with the keyboard stays there.
  function show(it, words, ...more) {
    const state = it.row.querySelector('[data-state]');
    const here = it.row.contains(document.activeElement);
    state.textContent = words;
    for (const x of [...it.row.children].slice(2)) x.remove();
    for (const x of more) (x.matches('a') ? state : it.row).append(x);
    it.row.classList.toggle('asks', it.state === 'asks');
    if (here) (it.row.querySelector('input, button') || state).focus();
  }

  function linkTo(href, words) {
    const link = document.createElement('a');
    link.href = href;
    link.target = '_blank'; // leaving this page would end the batch
    link.textContent = words;
    return link;
  }
  const onward = a => linkTo(a.go, a.salted ? inWords('Grains and loading') : a.measured ? inWords('See what was read') : inWords('Mark the face'));
  const sides = { front: inWords('front'), back: inWords('back') };
  const side = a => sides[a.face] || a.face;
  const outcome = a => ' ' + (a.salted ? inWords('Salt on the face.') : !a.measured ? inWords('Not measured yet.') : a.drifted ? inWords('Measured, but ▲ the kept camera and lamp have drifted.') : inWords('Measured.')) + ' ';

  function filed(it, a, before) {
    it.state = 'done';
    const more = [onward(a)];
    if (a.second) {
      const line = document.createElement('p');
      line.append('✓ ' + inWords('And swatch {1}, {2}.', a.second.swatch, side(a.second)) + outcome(a.second), onward(a.second));
      if (a.compare) line.append(' ', linkTo(a.compare, inWords('How they differ')));
      more.push(line);
    } else if (a.asks) more.push(...whoElse(it, a, before));
    show(it, '✓ ' + (before ? inWords('There already: swatch {1}, {2}.', a.swatch, side(a)) : inWords('Filed to swatch {1}, {2}.', a.swatch, side(a))) + outcome(a), ...more);
  }

  // whoElse asks which swatch lies beside the one that is filed: a tap, or its number.
  function whoElse(it, a, before) {
    const why = document.createElement('p');
    const say = words => { why.textContent = `▲ ${words}`; };
    say((a.why || inWords('Another swatch lies beside it.')) + ' ' + (a.asks === 'left' ? inWords('Which swatch lies on the left?') : a.asks === 'right' ? inWords('Which swatch lies on the right?') : inWords('Which swatch lies on the {1}?', a.asks)));
    why.setAttribute('role', 'status');
    const form = part('second').content.firstElementChild.cloneNode(true);
    form.elements.secondface.value = a.face;
    for (const o of a.offers || []) {
      const b = document.createElement('button');
      b.name = 'pick';
      b.value = `${o.swatch}-${o.face}`;
      b.textContent = inWords('Swatch {1}, {2}', o.swatch, side(o));
      form.querySelector('[data-offers]').append(b);
    }
    for (const c of form.querySelectorAll('input, select, button')) c.setAttribute('aria-label', `${(c.closest('label') || c).firstChild.textContent.trim()}: ${it.file.name}`);
    let busy = false;
    form.addEventListener('submit', async e => {
      e.preventDefault();
      if (busy) return;
      busy = true;
      const body = new URLSearchParams({ second: form.elements.second.value, secondface: form.elements.secondface.value });
      if (e.submitter?.name === 'pick') body.set('pick', e.submitter.value);
      try {
        const answer = await fetch(`/photos/${a.photo}/second`, { method: 'POST', body, headers: { Accept: 'application/json' } });
        const said = await answer.json().catch(() => ({}));
        if (answer.ok && said.photo) return filed(it, said, before);
        say(said.problem || inWords('The studio did not take it.'));
      } catch {
        say(inWords('The laptop can’t be reached. Tap again when it can.'));
      } finally {
        busy = false;
      }
    });
    return [why, form];
  }

  // ask says why a file was not kept and offers what can be done about it.
  function ask(it, why, field, again) {
    it.state = 'asks';
    const help = [];
    if (field === 'swatch' || field === 'taken' || field === '') {
      const form = part('fix').content.firstElementChild.cloneNode(true);
      for (const [name, value] of Object.entries(it.fields)) if (form.elements[name]) form.elements[name].value = value;
      form.elements.taken.closest('label').hidden = field !== 'taken';
      for (const c of form.querySelectorAll('input, select, button')) c.setAttribute('aria-label', `${(c.closest('label') || c).firstChild.textContent.trim()}: ${it.file.name}`);
      form.addEventListener('submit', e => {
        e.preventDefault();
        for (const name of ['swatch', 'face', 'taken']) it.fields[name] = form.elements[name].value;
        resend(it);
      });
      help.push(form);
    } else if (again) {
      const b = document.createElement('button');
      b.type = 'button';
      b.textContent = inWords('Send it again');
      b.addEventListener('click', () => resend(it));
      help.push(b);
    }
    show(it, '▲ ' + why, ...help);
  }

  function resend(it) {
    it.state = 'waiting';
    stopped = false;
    show(it, '◔ ' + inWords('Waiting'));
    run();
  }

  let saidAt = 0;
  function count() {
    const all = [...items.values()], n = state => all.filter(it => it.state === state).length;
    const done = n('done'), asks = n('asks'), left = all.length - done - asks;
    part('progress').hidden = !all.length;
    bar.max = all.length || 1;
    bar.value = done + asks;
    const why = unreachable ? ' ' + inWords('The laptop can’t be reached; sending goes on by itself.') : stopped && left ? ' ' + inWords('Stopped.') : '';
    const words = (asks ? inWords('{1} of {2} done, {3} not kept.', done + asks, all.length, asks) : inWords('{1} of {2} done.', done, all.length)) + why;
    part('count').textContent = words;
    stop.hidden = !left;
    stop.textContent = stopped ? inWords('Go on') : inWords('Stop');
    if (all.length && (!left || why || Date.now() - saidAt > 5000)) { // not every file is worth a word
      saidAt = Date.now();
      if (part('say').textContent !== words) part('say').textContent = words;
    }
  }
}
