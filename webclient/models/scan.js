/** One switch does it all: a mark goes from deed to deed, and a press takes the one that is marked. */

import { Store } from "./store.js";

/**
 * @typedef {object} Deed
 * @property {string} label
 * @property {() => unknown} run
 *
 * @typedef {object} Scanning
 * @property {Deed[]} deeds  none while it is closed
 * @property {number} at  the marked one
 */

const ROUNDS = 3; // then the mark has gone round in vain

/** @extends {Store<Scanning>} */
export class Scan extends Store {
  #steps = 0;

  constructor() {
    super(/** @type {Scanning} */ ({ deeds: [], at: 0 }));
  }

  get open() {
    return this.value.deeds.length > 0;
  }

  /** @param {Deed[]} deeds */
  begin(deeds) {
    this.#steps = 0;
    this.set({ deeds, at: 0 });
  }

  /** The labels may change while the mark is on its way; the order does not. @param {Deed[]} deeds */
  renew(deeds) {
    if (this.open) this.set({ deeds, at: Math.min(this.value.at, deeds.length - 1) });
  }

  /** On to the next; @returns {boolean} false when it has gone round often enough in vain */
  step() {
    const { deeds, at } = this.value;
    if (!deeds.length) return false;
    this.#steps += 1;
    this.patch({ at: (at + 1) % deeds.length });
    return this.#steps < ROUNDS * deeds.length;
  }

  close() {
    if (this.open) this.set({ deeds: [], at: 0 });
  }

  /** Take what is marked. */
  choose() {
    const deed = this.value.deeds[this.value.at];
    return deed?.run();
  }
}
