// The strip becomes one picture with a slider over it; without script all
// pictures stand in a row.
let last = 0; // kept when the page is refreshed in place
function start() {
  for (const box of document.querySelectorAll('[data-scrub]')) {
    if (box.dataset.on) continue;
    box.dataset.on = '1';
    const at = box.querySelector('[data-scrub-at]'), words = box.querySelector('[data-scrub-words]');
    const shots = [...box.querySelectorAll('[data-scrub-shot]')];
    box.classList.add('one');
    box.querySelector('[data-scrub-bar]').hidden = false;
    at.value = last;
    const show = () => {
      last = at.value;
      shots.forEach((s, i) => { s.hidden = i !== Number(at.value); });
      words.textContent = shots[at.value].dataset.sayWords;
      at.setAttribute('aria-valuetext', words.textContent);
    };
    at.addEventListener('input', show);
    show();
  }
}
start();
new MutationObserver(start).observe(document.body, { childList: true, subtree: true });
