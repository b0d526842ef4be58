/**
 * Keeps the page's own files on the phone, and nothing else: no live picture, no state, no answer of
 * the service. What it keeps is always one whole version. Each opening of the page asks for the
 * version's tag; the kept files are used when it is the same, or when no answer comes.
 */

/** @typedef {{tag: string, files: string[]}} Shell */
/** @typedef {Event & {request: Request, respondWith: (answer: Promise<Response>) => void}} Fetching */
/** @typedef {Event & {waitUntil: (work: Promise<unknown>) => void}} Living */

const SHELL = "/shell.json";
const PREFIX = "standclear-shell-";
const ANSWER_WITHIN_MS = 1500; // then the kept page comes up, and says itself that nothing answers

const worker = /** @type {EventTarget & {skipWaiting: () => Promise<void>, clients: {claim: () => Promise<void>}}} */ (
  /** @type {unknown} */ (self)
);

worker.addEventListener("install", (event) => {
  /** @type {Living} */ (event).waitUntil(renew(30_000).then(() => worker.skipWaiting()));
});

worker.addEventListener("activate", (event) => {
  /** @type {Living} */ (event).waitUntil(worker.clients.claim());
});

worker.addEventListener("fetch", (event) => {
  const fetching = /** @type {Fetching} */ (event);
  const { request } = fetching;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/api/") || url.pathname === SHELL) return;
  fetching.respondWith(answer(request, url.pathname));
});

/** @param {Request} request @param {string} path */
async function answer(request, path) {
  if (request.mode === "navigate") await renew(ANSWER_WITHIN_MS).catch(() => null);
  return (await kept(path)) ?? fetch(request);
}

/** Fetch all files anew when the service has others than are kept. @param {number} withinMs */
async function renew(withinMs) {
  const answered = await fetch(SHELL, { cache: "no-store", signal: AbortSignal.timeout(withinMs) });
  if (!answered.ok) throw new Error(`${SHELL}: ${answered.status}`);
  /** @type {Shell} */
  const shell = await answered.json();
  const name = PREFIX + shell.tag;
  if (!(await caches.has(name))) await keep(name, shell.files);
  for (const other of await caches.keys()) {
    if (other.startsWith(PREFIX) && other !== name) await caches.delete(other);
  }
}

/** `addAll` is all or none; a version that did not come whole is let go. @param {string} name @param {string[]} files */
async function keep(name, files) {
  const cache = await caches.open(name);
  try {
    await cache.addAll(files.map((file) => new Request(file, { cache: "no-cache" })));
  } catch (error) {
    await caches.delete(name);
    throw error;
  }
}

/** From the newest version that is whole: one that is still being fetched has nothing in it. @param {string} path */
async function kept(path) {
  for (const name of (await caches.keys()).reverse()) {
    const found = name.startsWith(PREFIX) && (await (await caches.open(name)).match(path));
    if (found) return found;
  }
  return null;
}
