// The service worker: a pilot's pages open without network, as they were when they were last seen, and what waits in the
// outbox is sent when the network is back. /sw.js puts self.BOOK before it: the files to keep, and some addresses.
//
// Pages kept are those of one user. They go when somebody signs out, when the sign-in page is answered, and when a page
// of another user comes; a page that was asked for before that is not kept after it.

const FILES = `files-${BOOK.version}`;
const PAGES = "pages";
const OWNER = "/kept-for";
const PATIENCE_MS = 8_000;
const MOST_PAGES = 80;
const FRESH_MS = 3_600_000;
let era = 0;

const isFile = (url) => url.pathname.startsWith(BOOK.static);
const isHashed = (url) => /\.[0-9a-f]{12}\.\w+$/.test(url.pathname);
const isPage = (url) => url.pathname === BOOK.start || url.pathname.startsWith(BOOK.home);
// Pages with a question behind them are answers to something; only the engine that the timer is for is one to keep.
const isKept = (url) => url.pathname.startsWith(BOOK.home) && (!url.search || /^\?engine=\w+$/.test(url.search));

self.addEventListener("install", (event) => {
  event.waitUntil(
    (async () => {
      const files = await caches.open(FILES);
      await files.addAll(BOOK.files);
      // Without the name of whoever is signed in.
      await files.put(BOOK.nowhere, await fetch(BOOK.nowhere, { credentials: "omit" }));
      await self.skipWaiting();
    })(),
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil(self.clients.claim().then(renew));
});

// A new version of the program brings new files. Pages that were kept name the old ones, so they are asked for anew first.
async function renew() {
  const pages = await caches.open(PAGES);
  const asked = (await pages.keys()).map((request) => new URL(request.url)).filter(isKept);
  const all = await Promise.all(asked.map(fetchAndKeep));
  if (!all.every(Boolean)) return;
  for (const name of await caches.keys()) if (name.startsWith("files-") && name !== FILES) await caches.delete(name);
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "POST") {
    if (url.pathname === BOOK.logout) event.waitUntil(forget());
    if (request.mode === "navigate" && url.pathname.startsWith(BOOK.home)) event.respondWith(posted(request));
  } else if (request.method === "GET") {
    if (isFile(url)) event.respondWith(file(request, url));
    else if (request.mode === "navigate" && url.pathname === BOOK.login) event.respondWith(signIn(request, event));
    else if (request.mode === "navigate" && isPage(url)) event.respondWith(page(request, url, event));
  }
});

self.addEventListener("sync", (event) => {
  if (event.tag === "outbox") event.waitUntil(sendOrFail());
});

self.addEventListener("message", (event) => {
  if (event.data?.keep) event.waitUntil(keepAll(event.data.keep, event.data.anew));
});

// The browser tries again later, with growing pauses, as long as this fails.
async function sendOrFail() {
  await self.outbox.flush();
  if (await self.outbox.countWaiting()) throw new Error("still waiting");
}

async function file(request, url) {
  const kept = await caches.match(url.href);
  if (kept && isHashed(url)) return kept;
  try {
    return await fetch(request);
  } catch (error) {
    if (kept) return kept;
    throw error;
  }
}

// A form that went off into the void: the outbox has it, and the first page says so.
async function posted(request) {
  try {
    return await fetch(request);
  } catch {
    return Response.redirect(BOOK.home, 303);
  }
}

async function signIn(request, event) {
  const answer = await fetch(request);
  if (answer.ok) event.waitUntil(forget());
  return answer;
}

async function forget() {
  era += 1;
  await caches.delete(PAGES);
}

async function page(request, url, event) {
  const began = era;
  const kept = await found(url);
  const asked = fetch(request);
  const answered = asked.then((answer) => {
    event.waitUntil(keep(url, answer.clone(), began));
    return answer;
  });
  if (!kept) return answered.catch(async () => (await caches.match(BOOK.nowhere)) ?? Response.error());
  event.waitUntil(answered.catch(() => {}));
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS, kept));
  return Promise.race([answered, late]).catch(() => kept);
}

async function found(url) {
  const pages = await caches.open(PAGES);
  return pages.match(url.pathname === BOOK.start ? BOOK.home : url.href);
}

async function fetchAndKeep(url) {
  const began = era;
  try {
    const answer = await fetch(url, { redirect: "manual", credentials: "same-origin" });
    await keep(url, answer, began);
    return true;
  } catch {
    return false;
  }
}

async function keepAll(paths, anew) {
  const pages = await caches.open(PAGES);
  for (const path of paths) {
    const url = new URL(path, location.origin);
    const kept = await pages.match(url.href);
    const age = kept ? Date.now() - Date.parse(kept.headers.get("X-Kept-At")) : Infinity;
    if (isKept(url) && (anew || age > FRESH_MS)) await fetchAndKeep(url);
  }
}

// The copy says of itself that it is one: <body data-kept="when">.
async function keep(url, answer, began) {
  if (answer.status !== 200 || answer.redirected || answer.type !== "basic" || !isKept(url)) return;
  if (!answer.headers.get("Content-Type")?.startsWith("text/html")) return;
  const text = await answer.text();
  const user = /<body[^>]*\sdata-user="(\d+)"/.exec(text)?.[1];
  if (!user || began !== era) return;
  let pages = await caches.open(PAGES);
  const owner = await (await pages.match(OWNER))?.text();
  if (owner !== user) {
    await caches.delete(PAGES);
    pages = await caches.open(PAGES);
    await pages.put(OWNER, new Response(user));
  }
  const at = new Date().toISOString();
  const headers = new Headers(answer.headers);
  for (const name of ["Content-Encoding", "Content-Length"]) headers.delete(name);
  headers.set("X-Kept-At", at);
  await pages.put(url.href, new Response(text.replace(/<body /, `<body data-kept="${at}" `), { headers }));
  const all = await pages.keys();
  for (const request of all.filter((one) => new URL(one.url).pathname !== OWNER).slice(0, Math.max(0, all.length - 1 - MOST_PAGES))) await pages.delete(request);
}
