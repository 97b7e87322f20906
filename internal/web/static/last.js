// Counting and waiting by tap. A wait is kept by the moment it ends, so that a
// phone that slept or a page that was left shows what is really left.
import { keep, kept } from './kept.js';
import { inWords } from './words.js';

const told = document.querySelector('[data-told]');
const say = text => { if (told) told.textContent = text; };

for (const b of document.querySelectorAll('[data-count]')) {
  const goal = Number(b.dataset.count), of = b.dataset.sayOf;
  let n = 0;
  b.hidden = false;
  b.addEventListener('click', () => {
    n++;
    b.textContent = inWords('{1} of {2} {3}', n, goal, of);
    b.classList.toggle('over', n >= goal);
    if (n === goal) say(inWords('{1} {2}: done', goal, of));
    const counted = document.querySelector('[data-counted]');
    if (counted) counted.value = n;
  });
}

for (const b of document.querySelectorAll('[data-wait]')) {
  const most = Number(b.dataset.wait) * 1000, name = `aerugo.wait.${b.dataset.name}`, label = b.textContent;
  let ends = kept(name, 0), timer = 0;
  const clear = () => { clearInterval(timer); timer = 0; };
  const show = () => {
    const left = Math.ceil((ends - Date.now()) / 1000);
    if (left > 0) { b.textContent = inWords('{1} left', `${Math.floor(left / 60)}:${String(left % 60).padStart(2, '0')}`); return; }
    clear();
    b.classList.add('over');
    b.textContent = inWords('Time is up. Start again');
    say(inWords('Time is up'));
  };
  b.hidden = false;
  b.addEventListener('click', () => {
    if (timer) { clear(); ends = 0; keep(name, 0); b.textContent = label; return; }
    ends = Date.now() + most;
    keep(name, ends);
    b.classList.remove('over');
    show();
    timer = setInterval(show, 250);
  });
  if (ends > Date.now()) { show(); timer = setInterval(show, 250); }
}
