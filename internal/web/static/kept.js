// What this device keeps. Where the browser keeps nothing (a private window, a
// full storage) that is said at once, and nothing is pretended.
let broken = '';
const inMemory = new Map();
const listeners = [];

export const storageBroken = () => broken;
export function onBroken(f) { listeners.push(f); if (broken) f(broken); }

// keep stores a value and reports whether it will outlast the page.
export function keep(name, value) {
  const text = JSON.stringify(value);
  try {
    localStorage.setItem(name, text);
    inMemory.delete(name);
    if (broken && inMemory.size === 0) { broken = ''; for (const f of listeners) f(''); }
    return true;
  } catch (e) {
    inMemory.set(name, text);
    const why = e && (e.name === 'QuotaExceededError' || e.name === 'NS_ERROR_DOM_QUOTA_REACHED') ? 'full' : 'forbidden';
    if (broken !== why) { broken = why; for (const f of listeners) f(why); }
    return false;
  }
}

// kept reads a value back.
export function kept(name, otherwise) {
  try {
    const text = inMemory.has(name) ? inMemory.get(name) : localStorage.getItem(name);
    return text === null ? otherwise : JSON.parse(text) ?? otherwise;
  } catch { return otherwise; }
}

// tryStorage finds out before it matters.
export function tryStorage() { if (keep('aerugo.try', 'x'.repeat(4000))) { try { localStorage.removeItem('aerugo.try'); } catch { /* it was there a moment ago */ } } }
