// The timers across the room: the screen kept awake where the browser allows
// it, the whole screen, and the cards in order as time goes by.
import { before } from './bench.js';
import { keep, kept } from './kept.js';
import { inWords } from './words.js';

const page = document.querySelector('.across');
const say = document.getElementById('awake');
let lock;

async function hold() {
  if (!page || !say) return;
  const box = document.querySelector('[data-awake]');
  if (!box.checked) { await lock?.release(); lock = undefined; say.textContent = inWords('The screen goes dark as set on this device.'); return; }
  if (!('wakeLock' in navigator)) {
    say.textContent = (isSecureContext ? inWords('This browser can’t keep the screen on.') : inWords('Browsers let a page keep the screen on only on the laptop itself or over https, not over the plain local network.'))
      + ' ' + inWords('Set this device’s own screen time-out to its longest for the day (Settings, Display: “Screen time-out” or “Auto-Lock”), and plug it in.');
    return;
  }
  if (document.hidden || (lock && !lock.released)) return;
  try {
    lock = await navigator.wakeLock.request('screen');
    lock.addEventListener('release', () => { if (!document.hidden) say.textContent = '▲ ' + inWords('The device took the screen back (a low battery does that). Touch the page to keep it on again.'); });
    say.textContent = inWords('The screen is kept on while this page is in view.');
  } catch {
    say.textContent = '▲ ' + inWords('The device would not keep the screen on (a low battery does that). Plug it in, or set its own screen time-out longer.');
  }
}

if (page) {
  const box = document.querySelector('[data-awake]');
  box.checked = kept('aerugo.awake', true);
  box.addEventListener('change', () => { keep('aerugo.awake', box.checked); hold(); });
  document.addEventListener('visibilitychange', hold);
  addEventListener('pointerdown', hold);
  hold();
  const full = document.getElementById('full');
  if (document.documentElement.requestFullscreen) {
    full.hidden = false;
    full.addEventListener('click', () => { if (document.fullscreenElement) document.exitFullscreen(); else document.documentElement.requestFullscreen(); });
    document.addEventListener('fullscreenchange', () => { full.textContent = document.fullscreenElement ? inWords('Leave full screen') : inWords('Full screen'); });
  }
}

// order keeps what is first on top of the timers, as time goes by.
export function order(now) {
  if (!page) return;
  const list = page.querySelector('.tasks');
  const cards = [...list.children];
  const of = new Map(cards.map(c => [c, { dwell: !!c.dataset.dwell, due: Number(c.dataset.due) || now, latest: Number(c.dataset.latest) }]));
  const sorted = [...cards].sort((a, b) => before(of.get(a), of.get(b), now));
  if (sorted.some((c, i) => c !== cards[i]) && !list.contains(document.activeElement)) list.replaceChildren(...sorted);
  const more = page.querySelector('[data-more]');
  if (more) { const n = cards.length - 4; more.hidden = n <= 0; more.textContent = n > 0 ? inWords('and {1} more', n) : ''; }
}
