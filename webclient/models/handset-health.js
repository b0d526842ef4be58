/** What the handset must warn of: its battery, its heat, that it was turned, that it is not in front. */

import { Store } from "./store.js";

export const LOW_BATTERY = 20;
/** Frames that come so much slower than they did, for so long, tell of heat. Common practice, no source. */
const SLOWED_TO = 0.7;
const WINDOW_MS = 5000;
const WINDOWS = 3;

/**
 * @typedef {object} Health
 * @property {number | null} battery  percent
 * @property {boolean} charging
 * @property {boolean} slow  its frames come slower than they did
 * @property {boolean} turned
 * @property {boolean} hidden
 */

/** @extends {Store<Health>} */
export class HandsetHealth extends Store {
  constructor() {
    super(/** @type {Health} */ ({ battery: null, charging: false, slow: false, turned: false, hidden: false }));
  }

  /** @returns {string[]} a sentence for each */
  get warnings() {
    const { battery, charging, slow, turned, hidden } = this.value;
    const low = battery !== null && battery <= LOW_BATTERY && !charging;
    return [
      low ? `The handset's battery is at ${battery} %: plug it in.` : "",
      slow ? "The handset's pictures come slower than before: it may be too hot. Let it cool, clear of the lamps." : "",
      turned ? "The handset was turned: put it back as it was, or the pictures lie the other way." : "",
      hidden ? "The handset's page is not in front: it can take no picture." : "",
    ].filter(Boolean);
  }
}

/** Whether frames come slower than they once did. */
export class FramePace {
  #counted = 0;
  #since = 0;
  #best = 0;
  #slowWindows = 0;

  /** @param {number} atMs @returns {boolean} */
  frame(atMs) {
    if (!this.#since) this.#since = atMs;
    this.#counted++;
    if (atMs - this.#since >= WINDOW_MS) this.#judge(atMs);
    return this.#slowWindows >= WINDOWS;
  }

  /** A setting was changed or the page slept: what was before is no measure. */
  forget() {
    this.#counted = this.#since = this.#best = this.#slowWindows = 0;
  }

  /** @param {number} atMs */
  #judge(atMs) {
    const rate = this.#counted / (atMs - this.#since);
    this.#best = Math.max(this.#best, rate);
    this.#slowWindows = rate < SLOWED_TO * this.#best ? this.#slowWindows + 1 : 0;
    this.#counted = 0;
    this.#since = atMs;
  }
}
