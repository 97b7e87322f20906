// Keeps Today and the timers, with the files they need, for the time the
// laptop's Aerugo is away. What the studio answers always comes first; nothing
// else is kept, and nothing is ever answered from here while it is there.
const NAME = 'aerugo-1';
const PAGES = ['/', '/timers', '/today/board', '/timers/board'];
const FILES = ['/static/app.css', '/static/app.js', '/static/taps.js', '/static/clock.js', '/static/kept.js', '/static/words.js', '/static/bench.js', '/static/signals.js', '/static/screen.js', '/static/mark.svg', '/static/latin.woff2'];

self.addEventListener('install', e => e.waitUntil((async () => {
  const cache = await caches.open(NAME);
  await Promise.all([...PAGES, ...FILES].map(path => fetch(path).then(a => store(cache, path, a)).catch(() => { /* kept when it is next asked for */ })));
  await self.skipWaiting();
})()));
self.addEventListener('activate', e => e.waitUntil(self.clients.claim()));
self.addEventListener('message', e => { if (e.data === 'claim') e.waitUntil(self.clients.claim()); });

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
    return new Response('<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>Away · Aerugo</title><link rel="stylesheet" href="/static/app.css"><main><h1>The laptop can’t be reached</h1><p>This page is not kept on this device. Today and the timers are, and taps made there are sent when the laptop is back.</p><p class="row"><a class="button" href="/">Today</a> <a class="button" href="/timers">Timers</a></p></main></html>', { status: 503, headers: { 'Content-Type': 'text/html; charset=utf-8' } });
  }
}
