// A student's phone: a photograph waits here until the laptop has it, what can be taken
// back says so for a minute, and what was kept is forgotten with its student.
import { studioNow, within } from './clock.js';
import { inWords } from './words.js';

// forget: erased, so that nothing of it stays on the phone either
if (document.querySelector('[data-forget]')) { try { localStorage.clear(); } catch { /* it keeps nothing then */ } }

setInterval(() => {
  for (const form of document.querySelectorAll('form[data-until]')) if (Number(form.dataset.until) <= studioNow()) form.hidden = true;
}, 1000);

// A photograph is sent again by itself until it is kept; its key was made once.
document.addEventListener('submit', async e => {
  const form = e.target;
  if (!form.matches('form[data-photo]')) return;
  e.preventDefault();
  const says = form.querySelector('[data-says]'), button = form.querySelector('button');
  const body = new FormData(form);
  button.disabled = true;
  for (;;) {
    says.textContent = '◔ ' + inWords('Sending …');
    let answer, said;
    try {
      answer = await within(60000, signal => fetch(form.action, { method: 'POST', body, headers: { Accept: 'application/json' }, signal }));
      said = await answer.json();
    } catch { answer = undefined; }
    if (answer?.ok) { location.assign(said.go); return; }
    if (answer && answer.status < 500) {
      says.textContent = '▲ ' + (said?.problem || inWords('The photograph was not kept.'));
      button.disabled = false;
      return;
    }
    says.textContent = '▲ ' + inWords('The laptop can’t be reached. Keep this page open: the photograph is sent by itself.');
    await new Promise(done => setTimeout(done, 4000));
  }
});

// Words that could not be sent are kept in their fields, and sent when the laptop is back.
document.addEventListener('submit', async e => {
  const form = e.target;
  if (!form.matches('form[data-words]')) return;
  e.preventDefault();
  const button = form.querySelector('button');
  let says = form.querySelector('[data-says]');
  if (!says) { says = document.createElement('p'); says.dataset.says = ''; says.setAttribute('role', 'status'); form.append(says); }
  const body = new URLSearchParams(new FormData(form));
  body.set('at', new Date(Math.round(studioNow())).toISOString());
  button.disabled = true;
  for (;;) {
    let answer, said;
    try {
      answer = await within(8000, signal => fetch(form.action, { method: 'POST', body, headers: { Accept: 'application/json' }, signal }));
      said = await answer.json();
    } catch { answer = undefined; }
    if (answer?.ok) { location.assign(said.go); return; }
    if (answer && answer.status < 500) {
      says.textContent = '▲ ' + (said?.problem || inWords('That was not kept.'));
      button.disabled = false;
      return;
    }
    says.textContent = '▲ ' + inWords('The laptop can’t be reached. Keep this page open: your words are sent by themselves.');
    await new Promise(done => setTimeout(done, 4000));
  }
});
