// The bench on this device while the laptop is away: taps advance the cards as
// the studio would. Every card carries its treatments with the steps ahead of
// them, in words and lengths the studio wrote; nothing is decided here but what
// follows from a tap.
import { inWords, inHours } from './words.js';

const TOGETHER = 120000; // ms; due that close in one chamber, one opening sees to both (as package run has it)

// read takes the treatments from a board: those that run, by number, and those
// that can begin.
export function read(root) {
  const running = new Map(), ready = new Map();
  for (const card of root.querySelectorAll('.task[data-ahead]')) {
    for (const a of JSON.parse(card.dataset.ahead)) running.set(a.t, { ...a });
  }
  for (const box of root.querySelectorAll('[data-begin]')) {
    const a = JSON.parse(box.dataset.begin);
    ready.set(a.t, { ...a });
  }
  return { running, ready };
}

// advance makes one tap count on the bench and reports whether it changed it. A
// tap that counts already changes nothing.
export function advance(bench, tap) {
  const values = name => tap.fields.filter(([n]) => n === name).map(([, v]) => v);
  let changed = false;
  if (tap.path.endsWith('/begin')) {
    for (const t of values('t').map(Number)) {
      const a = bench.ready.get(t);
      if (!a) continue;
      bench.ready.delete(t);
      bench.running.set(t, { ...a, since: tap.at, held: true });
      changed = true;
    }
    return changed;
  }
  const kind = values('kind')[0];
  if (!tap.path.endsWith('/taps') || (kind !== 'done' && kind !== 'stopped')) return false;
  for (const of of values('of')) {
    const [t, step] = of.split(':').map(Number);
    const a = bench.running.get(t);
    if (!a) continue;
    if (kind === 'stopped') { bench.running.delete(t); changed = true; continue; }
    if (step < a.step) continue;
    const steps = a.steps.slice(step - a.step + 1);
    if (steps.length) bench.running.set(t, { ...a, step: step + 1, since: tap.at, steps, held: true });
    else bench.running.delete(t);
    changed = true;
  }
  return changed;
}

// tasks lists what the hands do next at now, as package run does.
export function tasks(bench, now) {
  const list = [];
  for (const a of bench.running.values()) {
    const step = a.steps[0];
    const due = step.dwell ? (a.since ? a.since + (step.lasts || 0) : now) : now;
    let latest = 0;
    if (step.dwell && a.since) latest = due + (step.late || 0);
    else if (!step.dwell && step.late && a.since) latest = a.since + (step.lasts || 0) + step.late;
    list.push({ step, due, latest, members: [a] });
  }
  const when = t => Math.max(t.due, now);
  list.sort((a, b) => when(a) - when(b) || a.members[0].swatch - b.members[0].swatch);
  const out = [], open = new Map();
  for (const t of list) {
    const key = t.step.kind + ' ' + t.step.place, first = open.get(key);
    if (first && t.step.place && when(t) - when(first) <= TOGETHER) {
      first.members.push(...t.members);
      first.due = Math.min(first.due, t.due);
      if (t.latest && (!first.latest || t.latest < first.latest)) first.latest = t.latest;
      continue;
    }
    open.set(key, t);
    out.push(t);
  }
  for (const t of out) t.members.sort((a, b) => a.swatch - b.swatch || a.t - b.t);
  return out.sort((a, b) => before(a, b, now));
}

// before puts what is overdue first, the least time to its tolerance leading,
// then what is due first.
export function before(a, b, now) {
  const over = t => (t.step ? t.step.dwell : t.dwell) ? t.due < now : !!t.latest && t.latest < now;
  const x = over(a), y = over(b);
  if (x !== y) return x ? -1 : 1;
  return x ? (a.latest || a.due) - (b.latest || b.due) : Math.max(a.due, now) - Math.max(b.due, now);
}

const key = t => t.members.map(m => m.t + ':' + m.step).sort().join(' ');

// titleOf is the title of a card, as package run writes it.
function titleOf(step, members) {
  if (members.length === 1) return step.one;
  const same = members.every(m => m.faces === members[0].faces);
  const names = members.map(m => m.swatch + (same ? '' : ` (${m.faces})`));
  return step.many.replace('{1}', () => inWords('swatches {1} and {2}', names.slice(0, -1).join(', '), names.at(-1))) + (same ? ', ' + members[0].faces : '');
}

// draw puts the tasks into a board. A card that is as the studio drew it stays.
export function draw(root, bench, now, newKey) {
  const list = root.querySelector('.tasks'), shape = root.querySelector('template');
  if (!list || !shape) return;
  const there = new Map();
  for (const card of list.children) there.set(JSON.parse(card.dataset.ahead).map(a => a.t + ':' + a.step).sort().join(' '), card);
  const cards = tasks(bench, now).map(t => there.get(key(t)) || card(shape, t, newKey));
  list.replaceChildren(...cards);
  const none = root.querySelector('[data-none]');
  if (none) none.hidden = cards.length > 0;
  for (const box of root.querySelectorAll('[data-begin]')) {
    if (!bench.ready.has(JSON.parse(box.dataset.begin).t)) box.remove();
  }
  for (const form of root.querySelectorAll('form[action$="/begin"]')) if (!form.querySelector('[data-begin]')) form.remove();
  const ready = root.querySelector('section[aria-labelledby=ready]');
  if (ready && !ready.querySelector('form')) ready.remove();
}

// card fills an empty card.
function card(shape, t, newKey) {
  const el = shape.content.firstElementChild.cloneNode(true);
  const find = what => el.querySelector(what);
  el.dataset.ahead = JSON.stringify(t.members);
  el.classList.toggle('act', !t.step.dwell);
  if (t.step.dwell) {
    el.dataset.dwell = '1';
    find('.state').textContent = inWords('◔ Time left');
    const time = document.createElement('span');
    time.className = 'time';
    time.dataset.due = t.due;
    find('.word')?.remove();
    find('.state').after(time);
  }
  el.dataset.due = t.due;
  el.dataset.latest = t.latest;
  el.dataset.ring = t.step.dwell ? t.due : t.latest;
  find('h3').textContent = titleOf(t.step, t.members);
  const detail = find('.detail');
  detail.replaceChildren();
  for (const line of t.step.lines || []) detail.append(line, document.createElement('br'));
  if (t.step.dwell) detail.append((t.latest > t.due ? inWords('Due {1}, at the latest {2}.', inHours(t.due), inHours(t.latest)) : inWords('Due {1}.', inHours(t.due))) + ' ');
  if (t.members.some(m => m.held)) {
    const tag = document.createElement('span');
    tag.className = 'tag';
    tag.textContent = inWords('as tapped on this device, not sent yet');
    detail.append(tag);
  }
  for (const form of el.querySelectorAll('form')) {
    for (const old of form.querySelectorAll('[name=of]')) old.remove();
    for (const m of t.members) {
      const of = document.createElement('input');
      of.type = 'hidden'; of.name = 'of'; of.value = `${m.t}:${m.step}`;
      form.append(of);
    }
    const client = form.querySelector('[name=client]');
    if (client) client.value = newKey();
  }
  const amount = find('[data-amount]');
  if (amount && t.members.length === 1 && t.step.amount) {
    amount.querySelector('span').textContent = t.step.unit;
    amount.querySelector('input').placeholder = t.step.amount;
    find('[name=unit]').value = t.step.unitkey;
  } else { amount?.remove(); find('[name=unit]')?.remove(); }
  find('.buttons .main').textContent = t.members.length > 1 ? t.step.buttons.replace('2', t.members.length) : t.step.button;
  const swatches = find('.numbers');
  swatches.replaceChildren();
  for (const n of new Set(t.members.map(m => m.swatch))) {
    const a = document.createElement('a');
    a.className = 'sw'; a.href = (swatches.dataset.base || '') + '/swatches/' + n; a.textContent = n;
    swatches.append(a, ' ');
  }
  return el;
}
