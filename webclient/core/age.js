/**
 * How old a picture is, on a clock of our own.
 *
 * The phone's clock and the service's differ, and a message may be long on its way. The quickest
 * message so far marks the difference between the clocks (plus the quickest way, some ms); what a
 * later one takes longer is added to its picture's age. So a queue in the network is seen as age.
 */

/** Monotonic and the same in page and worker. @returns {number} ms */
export const nowMs = () => performance.timeOrigin + performance.now();

export class AgeClock {
  #offset = Infinity;

  /** @param {number} sentMs service time of sending @param {number} receivedMs our time */
  note(sentMs, receivedMs) {
    this.#offset = Math.min(this.#offset, receivedMs - sentMs);
  }

  /** @param {number} serviceMs @returns {number} the same moment on our clock */
  toOurs(serviceMs) {
    return serviceMs + this.#offset;
  }

  /** @param {number} oursMs @returns {number} the same moment on the service's clock, never ahead of it */
  toService(oursMs) {
    return oursMs - this.#offset;
  }

  get known() {
    return Number.isFinite(this.#offset);
  }

  /** After a break the clocks may have been set anew. */
  forget() {
    this.#offset = Infinity;
  }
}
