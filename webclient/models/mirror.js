/** The second copy: where it lies, how far it is behind, and what stands in its way. */

/** @import {Mirror} from "../core/types.js" */
/** @import {Service} from "../core/service.js" */

import { nowMs } from "../core/age.js";
import { Store } from "./store.js";

/** A copy this far behind is worth a word while shooting, s. */
export const BEHIND_S = 60;

/** @extends {Store<Mirror | null>} */
export class MirrorModel extends Store {
  #heardMs = 0;

  /** @param {Service} service */
  constructor(service) {
    super(/** @type {Mirror | null} */ (null));
    this.service = service;
  }

  async load() {
    this.told(await this.service.get("/mirror"));
  }

  /** @param {Mirror} state */
  told(state) {
    this.#heardMs = nowMs();
    this.set(state);
  }

  /** What waits grows older between the events. */
  tick() {
    if (this.value?.waiting_exposures) this.set(this.value);
  }

  /** @param {{paused?: boolean, begin?: boolean}} change */
  async change(change) {
    this.told(await this.service.put("/mirror", change));
  }

  /** The age of the oldest exposure that waits, s. */
  get lagS() {
    const { value } = this;
    if (!value?.waiting_exposures) return 0;
    return value.lag_s + (nowMs() - this.#heardMs) / 1000;
  }
}

/**
 * Whether the animator should hear of it while shooting: it cannot go on by itself, or is far behind.
 *
 * @param {Mirror | null} state @param {number} lagS
 */
export function isBehind(state, lagS) {
  if (!state || state.state === "off" || state.state === "paused") return false;
  return state.state === "fault" || lagS > BEHIND_S || (state.state === "away" && state.waiting_exposures > 0);
}

/** @param {number} seconds */
export function lagWords(seconds) {
  if (seconds < 90) return `${Math.round(seconds)} s`;
  if (seconds < 5400) return `${Math.round(seconds / 60)} min`;
  return `${(seconds / 3600).toFixed(1)} h`;
}
