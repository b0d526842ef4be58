/**
 * Delivers a photo: whole, with its digest (Content-Digest, RFC 9530), again after each cut, until
 * the service has it or no longer wants it.
 */

const RETRY_MS = [50, 100, 200, 400, 800];
const ATTEMPT_MS = 30_000;

/** @typedef {{order: string, sha256: string, size: number, tries: number}} Delivery */

export class Uploads {
  /** @type {Map<string, AbortController>} */
  #underway = new Map();

  /** @param {string} base of the service's resources @param {typeof fetch} send */
  constructor(base, send = (input, init) => fetch(input, init)) {
    this.base = base;
    this.send = send;
  }

  /**
   * @param {string} order @param {ArrayBuffer} photo @param {string} mediaType
   * @param {number | null} atMs service time at which it was taken
   * @returns {Promise<Delivery | null>} null when it was no longer wanted
   */
  async deliver(order, photo, mediaType, atMs) {
    const stop = new AbortController();
    this.#underway.set(order, stop);
    try {
      const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", photo));
      const headers = { "Content-Type": mediaType, "Content-Digest": `sha-256=:${base64(digest)}:` };
      const url = `${this.base}/handset/photos/${order}${atMs === null ? "" : `?at_ms=${atMs}`}`;
      for (let tries = 1; !stop.signal.aborted; tries++) {
        const status = await this.#attempt(url, headers, photo, stop.signal);
        if (status === 201) return { order, sha256: hex(digest), size: photo.byteLength, tries };
        if (status === 410 || status === 409) return null;
        await pause(RETRY_MS[Math.min(tries, RETRY_MS.length) - 1] ?? 0, stop.signal);
      }
      return null;
    } finally {
      this.#underway.delete(order);
    }
  }

  /** The order was given up. @param {string} order */
  forget(order) {
    this.#underway.get(order)?.abort();
  }

  /**
   * @param {string} url @param {Record<string, string>} headers @param {ArrayBuffer} body
   * @param {AbortSignal} signal @returns {Promise<number>} the status, 0 when none came
   */
  async #attempt(url, headers, body, signal) {
    try {
      const within = AbortSignal.any([signal, AbortSignal.timeout(ATTEMPT_MS)]);
      const answer = await this.send(url, { method: "PUT", headers, body, signal: within, cache: "no-store" });
      await answer.arrayBuffer();
      return answer.status;
    } catch {
      return 0; // cut on its way, there or back: the same bytes are sent again
    }
  }
}

/** @param {number} ms @param {AbortSignal} signal */
function pause(ms, signal) {
  return new Promise((done) => {
    const timer = setTimeout(done, ms);
    signal.addEventListener("abort", () => (clearTimeout(timer), done(null)), { once: true });
  });
}

/** @param {Uint8Array} bytes */
const base64 = (bytes) => btoa(String.fromCharCode(...bytes));

/** @param {Uint8Array} bytes */
const hex = (bytes) => Array.from(bytes, (one) => one.toString(16).padStart(2, "0")).join("");
