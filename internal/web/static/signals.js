// Signals for what is due: sound, vibration, and the hours in which this device
// stays silent. All of it is kept on the device and off until asked for.
import { keep, kept } from './kept.js';
import { studioNow } from './clock.js';
import { inWords } from './words.js';

const wanted = () => ({ sound: false, vibrate: false, quiet: false, from: '22:00', till: '07:00', ...kept('aerugo.signals', {}) });

// When a call comes again while nobody has tapped: minutes after it was due.
const AGAIN = [0, 1, 3, 6, 10];
// stage is which call is due after so many ms, from 0; −1 when none is.
export function stage(ms) {
  if (ms < 0) return -1;
  const min = ms / 60000;
  if (min < 10) return AGAIN.findLastIndex(m => m <= min);
  return AGAIN.length - 2 + Math.floor(min / 10);
}

// silent reports whether a time of day "HH:MM" lies in the quiet hours.
export function silent(w, time) {
  if (!w.quiet || w.from === w.till) return false;
  return w.from < w.till ? time >= w.from && time < w.till : time >= w.from || time < w.till;
}
const timeOfDay = ms => { const d = new Date(ms); return String(d.getHours()).padStart(2, '0') + ':' + String(d.getMinutes()).padStart(2, '0'); };

// tone is the chime's pitch in hertz: C5 when due, an octave higher from 24 min late.
export const tone = ms => 523.25 * 2 ** (Math.min(Math.max(ms, 0) / 60000, 24) / 24);

let audio;
async function chime(ms) {
  const Audio = window.AudioContext || window.webkitAudioContext;
  if (!Audio) return 'none';
  audio ||= new Audio();
  if (audio.state !== 'running') await Promise.race([audio.resume(), new Promise(r => setTimeout(r, 300))]);
  if (audio.state !== 'running') return 'asks';
  [0, .35].forEach((after, i) => {
    const from = audio.currentTime + after, voice = audio.createOscillator(), level = audio.createGain();
    voice.type = 'sine';
    voice.frequency.value = tone(ms) * (i ? 1.5 : 1);
    level.gain.setValueAtTime(.0001, from);
    level.gain.exponentialRampToValueAtTime(.3, from + .03);
    level.gain.exponentialRampToValueAtTime(.0001, from + 1.3);
    voice.connect(level).connect(audio.destination);
    voice.start(from);
    voice.stop(from + 1.4);
  });
  return 'played';
}
function shake(ms) { return navigator.vibrate ? navigator.vibrate(ms < 60000 ? [200, 100, 200] : [400, 150, 400, 150, 400]) : false; }

// ring looks at what is due and calls for it once for each stage.
export function ring() {
  const w = wanted();
  const now = studioNow();
  if ((!w.sound && !w.vibrate) || silent(w, timeOfDay(now))) return;
  const rung = kept('aerugo.rung', {});
  let worst = -1;
  for (const task of document.querySelectorAll('#board .task[data-ring]')) {
    const due = Number(task.dataset.ring);
    if (!due) continue;
    const key = [...task.querySelectorAll('.buttons [name=of]')].map(i => i.value).join(' '), s = stage(now - due);
    if (s < 0 || (rung[key] ?? -1) >= s) continue;
    rung[key] = s;
    worst = Math.max(worst, now - due);
  }
  if (worst < 0) return;
  keep('aerugo.rung', Object.fromEntries(Object.entries(rung).slice(-200)));
  if (w.vibrate) shake(worst);
  if (w.sound) chime(worst).then(tell);
}

const box = document.getElementById('signals');
const field = name => box.querySelector(`[data-signal=${name}]`);
function tell(how) {
  const say = box?.querySelector('output');
  if (!say) return;
  say.textContent = how === 'none' ? inWords('This browser makes no sound.')
    : how === 'asks' ? '▲ ' + inWords('Sound is on, but this browser wants one touch of the page after it was loaded before it may sound. Touch anywhere.')
    : how === 'played' ? '' : how;
}

if (box) {
  box.hidden = false;
  const w = wanted();
  for (const name of ['sound', 'vibrate', 'quiet']) field(name).checked = w[name];
  for (const name of ['from', 'till']) field(name).value = w[name];
  if (!navigator.vibrate) { field('vibrate').disabled = true; field('vibrate').checked = false; field('vibrate').closest('label').append(' ' + inWords('(this browser can’t)')); field('shake').remove(); }
  const save = () => {
    const lasts = keep('aerugo.signals', { sound: field('sound').checked, vibrate: field('vibrate').checked, quiet: field('quiet').checked, from: field('from').value || '22:00', till: field('till').value || '07:00' });
    tell(lasts ? '' : inWords('This browser keeps nothing; it holds until the page is closed.'));
  };
  for (const name of ['sound', 'vibrate', 'quiet', 'from', 'till']) field(name).addEventListener('change', save);
  field('sound').addEventListener('change', e => { if (e.target.checked) chime(0).then(tell); });
  field('try').addEventListener('click', async () => { const how = await chime(0); tell(how === 'played' ? inWords('That was the sound. Not heard? Turn up the volume, and look at the silent switch.') : how); });
  field('shake')?.addEventListener('click', () => tell(shake(0) ? inWords('That was the vibration.') : inWords('The phone did not vibrate; its own settings may forbid it.')));
  // browsers let a page sound only after a touch: the first one wakes it
  addEventListener('pointerdown', () => { if (wanted().sound) { const Audio = window.AudioContext || window.webkitAudioContext; if (Audio) { audio ||= new Audio(); audio.resume().then(() => tell('played')); } } }, { once: true });
}
