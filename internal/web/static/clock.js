// The studio's time on this device. The offset between the two clocks is
// measured by asking for the time: the answer's clock belongs to the middle of
// the round trip, and can't be off by more than half of it.
//
// A device's clock may be set anew while the laptop is away. Date then jumps
// and performance.now does not. Where the page was in view all along that is
// told apart from sleep, and the jump is taken back. Where it was hidden, the
// device may have slept; then a new era begins, and when the laptop is back
// only the times of the present era are put right by what is measured.
import { keep, kept } from './kept.js';

const known = kept('aerugo.clock', {});
let offset = Number.isFinite(known.offset) ? known.offset : 0; // ms to add to this device's clock
let err = Number.isFinite(known.err) ? known.err : Infinity; // how far off that can be
let measuredAt = -Infinity;
let era = Math.random().toString(36).slice(2);
let set = 0; // by how much the clock was set forward in this era, as found out here
let wall = Date.now(), mono = performance.now(), hidden = document.hidden;
let studio = '';
const shifts = [];

const JUMP = 2000; // ms; less is a slow drift or a late timer
document.addEventListener('visibilitychange', () => { if (document.hidden) hidden = true; });

function look() {
  const w = Date.now(), m = performance.now(), jump = (w - wall) - (m - mono);
  wall = w; mono = m;
  if (Math.abs(jump) > JUMP) {
    if (jump > 0 && hidden) { era = Math.random().toString(36).slice(2); set = 0; }
    else { offset -= jump; set += jump; remember(); }
  }
  hidden = document.hidden;
}
function remember() { keep('aerugo.clock', { offset, err: Number.isFinite(err) ? err : null }); }

// studioNow is the studio's time in ms.
export function studioNow() { look(); return Date.now() + offset; }

// stamp is what is kept with a tap to know its time by.
export function stamp() { const at = studioNow(); return { at, era, set }; }

// onShift is called with (era, ms, known) when times of an era were found to be
// off by ms; known says that the offset had been measured before.
export function onShift(f) { shifts.push(f); }

// compared reports whether this page has asked the studio for its time yet.
export const compared = () => measuredAt > -Infinity;

// studioMark names the studio that was measured last; another one must not get
// this one's taps.
export const studioMark = () => studio;

// settle takes a measurement: where the studio's clock stands beside this
// device's, and how far off that may be.
export function settle(measured, measuredErr) {
  look();
  const off = measured - offset, doubt = measuredErr + (Number.isFinite(err) ? err : 0);
  const was = Number.isFinite(err);
  const wrong = Math.abs(off) > doubt + JUMP / 2;
  if (wrong || !was || measuredErr <= err || performance.now() - measuredAt > 300000) {
    if (wrong || !was) { for (const f of shifts) f(era, off, was); set += was ? -off : 0; }
    offset = measured; err = measuredErr; measuredAt = performance.now();
    remember();
  }
}

// measure asks the studio for its time and reports whether it answered.
export async function measure() {
  const from = performance.now();
  try {
    const answer = await within(4000, signal => fetch('/clock', { cache: 'no-store', headers: { Accept: 'application/json' }, signal }));
    const half = (performance.now() - from) / 2, here = Date.now();
    if (answer.status === 403) return 'shut';
    if (!answer.ok) return '';
    const said = await answer.json();
    studio = said.studio || '';
    settle(said.now + half - here, half);
    return 'here';
  } catch { return ''; }
}

// within gives up a request after so many ms: a phone that left the network
// would wait for minutes.
export function within(ms, ask) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), ms);
  return ask(stop.signal).finally(() => clearTimeout(timer));
}

// offsetNow is for the page that shows how well the clocks agree.
export const offsetNow = () => ({ offset, err });
