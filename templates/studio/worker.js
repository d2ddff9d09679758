/* Keeps the studio's files and one page without a person, so that the sink opens without a network. Nothing that
   somebody who is signed in sees is ever put into the browser's cache of pages: `phone.js` keeps that for each person. */
importScripts(OURS.scripts);

const KEPT = `clearbath ${OURS.version}`;
const VERSIONS_KEPT = 3; // a page that stayed open may still ask for the files it came with
const PATIENCE_MS = 3000;
const NOBODY_THERE = [502, 503, 504]; // a server in front of the studio's own says so while that one is down
const SINK = /^\/sink\/\d+\//;

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(KEPT).then(async (kept) => {
    await kept.addAll(OURS.files);
    await kept.put(OURS.shell, await fetch(OURS.shell, { credentials: "omit", cache: "reload" }));
  }));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const versions = (await caches.keys()).filter((name) => name.startsWith("clearbath "));
    const old = versions.filter((name) => name !== KEPT).slice(0, -VERSIONS_KEPT + 1);
    await Promise.all(old.map((name) => caches.delete(name)));
    await self.clients.claim();
  })());
});

/* A page says that nothing is half filled in, so a newer version may take over; or which files it came with. */
self.addEventListener("message", (event) => {
  if (event.data.takeOver) self.skipWaiting();
  if (event.data.files) event.waitUntil(keepFiles(event.data.files));
});

const isOurs = (address) => new URL(address, self.location).origin === self.location.origin;
const isForever = (address) => new URL(address, self.location).pathname.startsWith(OURS.static) && /\.[0-9a-f]{12}\./.test(address);

async function keepFiles(addresses) {
  const kept = await caches.open(KEPT);
  for (const address of addresses.filter((one) => isOurs(one) && isForever(one))) {
    if (!await caches.match(address)) await kept.add(address).catch(() => {});
  }
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET" || !isOurs(request.url)) return;
  if (request.mode === "navigate") event.respondWith(page(request));
  else if (isForever(request.url)) event.respondWith(file(request));
});

async function file(request) {
  return await caches.match(request) ?? fetch(request);
}

/* The network first. At the sink nobody waits longer than three seconds for it where a page is kept. */
async function page(request) {
  const { pathname, search } = new URL(request.url);
  const answer = fetch(request); // no signal: that would take its being a navigation away from it
  answer.catch(() => {});
  try {
    const first = await Promise.race([answer, later()]);
    const isThere = first && !NOBODY_THERE.includes(first.status);
    return !isThere && SINK.test(pathname) && await isKept(pathname + search) ? await shell() : await answer;
  } catch {
    return shell();
  }
}

const later = () => new Promise((resolve) => setTimeout(resolve, PATIENCE_MS));

async function shell() {
  const kept = await caches.open(KEPT);
  return await kept.match(OURS.shell) ?? Response.error();
}

async function isKept(path) {
  try {
    const [, view] = await phone.get("small", "person") ?? [];
    return Boolean(view && (await phone.get("pages", [view, path]) ?? await phone.get("pages", [view, path.replace(/[?&]pots=all$/, "")])));
  } catch {
    return false;
  }
}
