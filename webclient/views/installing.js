/** The page's own files kept on the phone, where the browser can (secure pages only). */

const AFTER_MS = 4000; // first the set, then this

/** Begin to keep them, once the page has what it needs. */
export function keepShell() {
  if (!("serviceWorker" in navigator)) return;
  setTimeout(() => {
    // Refused by a browser's private mode or by the person: the page then comes from the service each time.
    navigator.serviceWorker.register("service-worker.js").catch(() => {});
  }, AFTER_MS);
}
