/** Keeps the screen on while the page is paired and seen, where the browser can (secure pages only). */

export class WakeLock {
  /** @type {WakeLockSentinel | null} */
  #lock = null;

  async hold() {
    if (!("wakeLock" in navigator) || this.#lock || document.hidden) return;
    try {
      this.#lock = await navigator.wakeLock.request("screen");
      this.#lock.addEventListener("release", () => (this.#lock = null));
    } catch {
      this.#lock = null; // a low battery may refuse it: the phone then sleeps as it always does
    }
  }

  /** The page is no remote any more. */
  release() {
    void this.#lock?.release();
  }
}
