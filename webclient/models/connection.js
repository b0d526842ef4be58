/** Whether the service is heard, since when, and what was missed while it was not. */

/** @import {StreamState} from "../core/events.js" */

import { AgeClock, nowMs } from "../core/age.js";
import { Store } from "./store.js";

/**
 * @typedef {object} Connection
 * @property {StreamState} state
 * @property {number} since  our time in ms
 * @property {string} version  of the service
 */

/** @extends {Store<Connection>} */
export class ConnectionModel extends Store {
  #clock = new AgeClock();
  /** The service's time plus this is our time or earlier. */
  #earliest = -Infinity;

  constructor() {
    super(/** @type {Connection} */ ({ state: "stopped", since: 0, version: "" }));
  }

  get connected() {
    return this.value.state === "connected" && globalThis.navigator?.onLine !== false;
  }

  /** @param {StreamState} state */
  became(state) {
    if (state === this.value.state) return;
    if (state === "connecting" && this.value.state === "lost") return; // still lost, until heard
    this.patch({ state, since: Date.now() });
  }

  /** @param {string | number} now  the service's time, as it tells it */
  heardTime(now) {
    const ms = typeof now === "number" ? now : Date.parse(now);
    if (Number.isFinite(ms)) this.#clock.note(ms, nowMs());
  }

  /** @returns {number | null} the service's time in ms, never ahead of it */
  serviceNow() {
    return this.#clock.known ? this.#clock.toService(nowMs()) : null;
  }

  forgetTime() {
    this.#clock.forget();
    this.#earliest = -Infinity;
  }

  /**
   * The service told its time in answer to a question: it cannot have been earlier than that was asked.
   *
   * @param {number} askedMs  our time @param {number} serviceMs
   */
  heardAnswer(askedMs, serviceMs) {
    if (Number.isFinite(serviceMs)) this.#earliest = Math.max(this.#earliest, askedMs - serviceMs);
  }

  /** @param {number} serviceMs @param {number} otherwise @returns {number} the same moment on our clock, rather too early than too late */
  earliest(serviceMs, otherwise) {
    return Number.isFinite(this.#earliest) ? Math.min(otherwise, serviceMs + this.#earliest) : otherwise;
  }
}
