/**
 * The service's clock as seen from here, measured both ways: a beat carries our time, its answer the
 * service's. The quickest of the last beats tells the difference best; half its way there and back
 * bounds the error.
 */

const KEPT = 40;

export class ServiceClock {
  /** @type {{trip: number, offset: number}[]} */
  #beats = [];

  /** @param {number} sentMs our time @param {number} serviceMs @param {number} receivedMs our time */
  note(sentMs, serviceMs, receivedMs) {
    this.#beats.push({ trip: receivedMs - sentMs, offset: serviceMs - (sentMs + receivedMs) / 2 });
    if (this.#beats.length > KEPT) this.#beats.shift();
  }

  get known() {
    return this.#beats.length > 0;
  }

  /** @param {number} oursMs @returns {number} the same moment on the service's clock */
  toService(oursMs) {
    const best = this.#beats.reduce((one, other) => (other.trip < one.trip ? other : one));
    return oursMs + best.offset;
  }

  /** The service may be another process now, with another clock. */
  forget() {
    this.#beats = [];
  }
}
