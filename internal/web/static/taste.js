// Choosing between two faces goes on without the network: the next pairs are kept on
// this device, and every tap waits here (app.js) until the studio has answered it.
const box = document.getElementById('sitting');
if (box) begin();

function begin() {
  const id = box.dataset.sitting, who = box.dataset.who, enough = Number(box.dataset.enough);
  const pair = document.getElementById('pair'), undo = document.getElementById('undo'), none = document.getElementById('none');
  const forms = [...pair.querySelectorAll('form')];
  const face = i => ({ key: forms[0].elements[['left', 'right'][i]].value, src: forms[i].querySelector('img')?.getAttribute('src'), colour: forms[i].querySelector('svg')?.outerHTML, name: forms[i].querySelector('small')?.textContent });
  let now = { left: face(0), right: face(1), n: Number(box.querySelector('[data-n]').textContent) };
  let ahead = [], done = [], began = performance.now(), asking = 0;

  const key = () => btoa(String.fromCharCode(...crypto.getRandomValues(new Uint8Array(12)))).replaceAll('+', '-').replaceAll('/', '_');
  const name = p => p.left.key + '~' + p.right.key;

  function draw() {
    pair.hidden = !now;
    none.hidden = !!now;
    for (const form of forms) {
      form.elements.client.value = key();
      form.elements.took.value = '';
      if (now) { form.elements.left.value = now.left.key; form.elements.right.value = now.right.key; }
      for (const b of form.querySelectorAll('button')) b.disabled = false;
    }
    undo.elements.client.value = key();
    for (const b of undo.querySelectorAll('button')) b.disabled = false;
    const last = done.at(-1);
    if (last) { undo.elements.left.value = last.left.key; undo.elements.right.value = last.right.key; }
    undo.hidden = !undo.elements.left.value;
    if (!now) return;
    [now.left, now.right].forEach((f, i) => {
      const shown = forms[i].querySelector('.shown');
      if (f.src) {
        const img = new Image();
        img.alt = '';
        img.src = f.src;
        shown.replaceChildren(img);
      } else if (f.colour) shown.innerHTML = f.colour;
      const small = forms[i].querySelector('small');
      if (small) small.textContent = f.name;
    });
    box.querySelector('[data-n]').textContent = now.n;
    box.querySelector('progress').value = now.n;
    document.getElementById('enough').hidden = now.n <= enough;
    began = performance.now();
  }

  // more asks the studio for the pairs after the one on the screen.
  async function more() {
    const mine = ++asking, from = now;
    const q = new URLSearchParams({ who });
    for (const p of [...done.slice(-12), ...(now ? [now] : [])]) q.append('shown', name(p));
    let answer;
    try { answer = await fetch(`${box.dataset.at || ''}/taste/${id}/ahead?${q}`, { headers: { Accept: 'application/json' } }); } catch { return; }
    if (!answer.ok || answer.headers.has('X-Kept')) return;
    const got = await answer.json();
    if (mine !== asking || from !== now) return; // a tap came between
    ahead = got.pairs;
    for (const p of ahead.slice(0, 4)) for (const f of [p.left, p.right]) if (f.src) new Image().src = f.src; // so that they are here
    if (!now && ahead.length) { now = ahead.shift(); draw(); }
  }

  document.addEventListener('submit', e => {
    if (forms.includes(e.target)) {
      const n = now.n;
      done.push(now);
      now = ahead.shift() || null;
      if (now) now.n = n + 1;
      draw();
      more();
    } else if (e.target === undo) {
      const back = done.pop();
      if (back) {
        if (now) ahead.unshift(now);
        now = back;
        if (!done.length) { undo.elements.left.value = ''; undo.elements.right.value = ''; }
        draw();
        more();
      } else { // made before this page was loaded: the studio shows it again
        setTimeout(() => location.reload(), 600);
      }
    }
  });
  // how long this one took, before the tap is kept
  document.addEventListener('submit', e => { if (forms.includes(e.target)) e.target.elements.took.value = Math.round(performance.now() - began); }, true);
  addEventListener('online', more);
  setInterval(() => { if (!now || ahead.length < 3) more(); }, 4000);
  more();
}
