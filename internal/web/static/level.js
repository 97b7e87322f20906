// The tilt of what a phone lies on, from the phone's own sensor. Browsers give
// it only over a secure connection, and some only after a tap.
import { inWords, inNumbers } from './words.js';
const button = document.getElementById('tilt-read');
const says = document.getElementById('tilt-says');
const field = document.getElementById('tilt');
const least = 20, most = 4000; // readings wanted, and the longest wait for them in ms

if (!window.isSecureContext) {
  says.textContent = inWords('This phone’s browser gives its tilt only over a secure connection, and the studio is reached over plain http here. Use the phone’s own spirit level and type the number.');
} else if (!('DeviceOrientationEvent' in window)) {
  says.textContent = inWords('This browser has no tilt sensor to offer; type the number.');
} else {
  button.hidden = false;
}

// low names the side that lies lowest, from how the phone is turned.
function low(x, y) {
  if (Math.abs(x) > Math.abs(y)) return x > 0 ? inWords('right') : inWords('left');
  return y > 0 ? inWords('bottom') : inWords('top');
}

async function read() {
  const ask = DeviceOrientationEvent.requestPermission;
  if (typeof ask === 'function') {
    try {
      if (await ask.call(DeviceOrientationEvent) !== 'granted') throw new Error('refused');
    } catch {
      says.textContent = inWords('The phone was not allowed to tell its tilt. Allow motion sensors for this page, or type the number.');
      return;
    }
  }
  button.disabled = true;
  says.textContent = inWords('Reading: leave the phone lying still.');
  const got = [];
  const rad = Math.PI / 180;
  let stop;
  const done = new Promise(r => { stop = r; });
  const hear = e => {
    if (e.beta === null || e.gamma === null) return;
    const b = e.beta * rad, g = e.gamma * rad;
    // which way down lies in the screen's plane, and how far the screen is from level
    got.push({ x: Math.cos(b) * Math.sin(g), y: Math.sin(b), up: Math.cos(b) * Math.cos(g) });
    if (got.length >= least) stop();
  };
  addEventListener('deviceorientation', hear);
  const late = setTimeout(stop, most);
  await done;
  clearTimeout(late);
  removeEventListener('deviceorientation', hear);
  button.disabled = false;
  if (got.length === 0) {
    says.textContent = inWords('No sensor answered; this device has none. Type the number.');
    return;
  }
  const mean = k => got.reduce((s, v) => s + v[k], 0) / got.length;
  const x = mean('x'), y = mean('y');
  const deg = Math.atan2(Math.hypot(x, y), Math.abs(mean('up'))) / rad;
  if (mean('up') < 0) {
    says.textContent = inWords('The phone lies on its face. Turn its screen up and read again.');
    return;
  }
  if (deg > 45) {
    says.textContent = inWords('{1}° is no floor. Lay the phone flat and read again.', deg.toFixed(0));
    return;
  }
  field.value = deg.toFixed(1);
  says.textContent = deg < 0.3 ? inWords('{1}°: level as far as a phone can tell.', inNumbers(deg.toFixed(1))) : inWords('{1}°: low at the phone’s {2}. A phone is good to about half a degree; turn it half round and read again to be sure.', inNumbers(deg.toFixed(1)), low(x, y));
}
button.addEventListener('click', read);
