/// <reference lib="webworker" />
// The pages from the device itself, so that they open without the program. It
// keeps the built files of one version and answers for nothing else: answers of
// the program are kept by the pages, with the moment they came.

export {};
declare const self: ServiceWorkerGlobalScope;

const files = '__FILES__'.split(' ');
const shelf = 'budward-shell-__VERSION__';
const patience = 3000; // ms to wait for a newer index.html

self.addEventListener('install', (event) => {
  const fill = async () => {
    const c = await caches.open(shelf);
    await c.addAll(['./', ...files.map((f) => './' + f)]);
    await self.skipWaiting();
  };
  event.waitUntil(fill());
});

self.addEventListener('activate', (event) => {
  const tidy = async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith('budward-shell-') && name !== shelf) await caches.delete(name);
    }
    await self.clients.claim();
  };
  event.waitUntil(tidy());
});

// A new version is fetched where the line allows it; a page that is open goes on
// with the files it has, which are named by their contents.
async function page(request: Request): Promise<Response> {
  const own = await caches.match(new URL('./', self.registration.scope).href, { cacheName: shelf });
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), own ? patience : 60_000);
  try {
    const fresh = await fetch(request.url, { signal: stop.signal });
    if (fresh.ok || !own) return fresh;
  } catch {
    if (!own) return Response.error();
  } finally {
    clearTimeout(timer);
  }
  return own;
}

async function file(request: Request): Promise<Response> {
  return (await caches.match(request, { cacheName: shelf })) ?? fetch(request);
}

self.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  const scope = new URL(self.registration.scope);
  if (request.method !== 'GET' || url.origin !== scope.origin || !url.pathname.startsWith(scope.pathname)) return;
  const name = url.pathname.slice(scope.pathname.length);
  if (name.startsWith('api/')) return;
  if (request.mode === 'navigate') event.respondWith(page(request));
  else if (files.includes(name)) event.respondWith(file(request));
});
