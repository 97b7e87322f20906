// Keeps Today and the timers, with the files they need, for the time the
// laptop's Aerugo is away, and the page that says so in the place of any other.
// What the studio answers always comes first; nothing else is kept, and nothing
// is ever answered from here while it is there.
const NAME = 'aerugo-1';
const AWAY = '/away';
const PAGES = ['/', '/timers', '/today/board', '/timers/board', AWAY];
const FILES = ['/static/app.css', '/static/app.js', '/static/taps.js', '/static/clock.js', '/static/kept.js', '/static/words.js', '/static/bench.js', '/static/signals.js', '/static/screen.js', '/static/mark.svg', '/static/latin.woff2'];

self.addEventListener('install', e => e.waitUntil((async () => {
  await fill();
  await self.skipWaiting();
})()));
self.addEventListener('activate', e => e.waitUntil(self.clients.claim()));
self.addEventListener('message', e => { if (e.data === 'claim') e.waitUntil(self.clients.claim()); });
self.addEventListener('message', e => { if (e.data === 'anew') e.waitUntil(fill()); }); // the device has another language now

async function fill() {
  const cache = await caches.open(NAME);
  await Promise.all([...PAGES, ...FILES].map(path => fetch(path).then(a => store(cache, path, a)).catch(() => { /* kept when it is next asked for */ })));
}

async function store(cache, path, answer) {
  if (!answer.ok || answer.redirected) return;
  const headers = new Headers(answer.headers);
  headers.set('X-Kept', String(Date.now()));
  await cache.put(path, new Response(await answer.blob(), { status: 200, headers }));
}

self.addEventListener('fetch', e => {
  const url = new URL(e.request.url);
  if (e.request.method !== 'GET' || url.origin !== location.origin) return;
  const keep = url.pathname.startsWith('/static/') || PAGES.includes(url.pathname);
  if (!keep && e.request.mode !== 'navigate') return;
  e.respondWith(answer(e, url.pathname, keep));
});

async function answer(e, path, keep) {
  const cache = await caches.open(NAME);
  const have = keep ? await cache.match(path) : undefined;
  const net = fetch(e.request).then(a => {
    if (keep && a.ok && !a.redirected && a.type === 'basic') e.waitUntil(store(cache, path, a.clone()));
    return a;
  });
  try {
    if (!have) return await net;
    net.catch(() => { /* seen to below */ });
    return await Promise.race([net, new Promise((_, no) => setTimeout(no, 6000))]);
  } catch {
    if (have) return have;
    if (e.request.mode !== 'navigate') return Response.error();
    const away = await cache.match(AWAY);
    return away ? new Response(away.body, { status: 503, headers: away.headers }) : Response.error();
  }
}
