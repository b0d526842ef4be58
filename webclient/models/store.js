/** A value that tells its subscribers when it was replaced. */

/** @template T */
export class Store {
  /** @type {Set<(value: T) => void>} */
  #subscribers = new Set();
  #value;

  /** @param {T} value */
  constructor(value) {
    this.#value = value;
  }

  get value() {
    return this.#value;
  }

  /** @param {T} value */
  set(value) {
    this.#value = value;
    for (const tell of [...this.#subscribers]) tell(value);
  }

  /** @param {Partial<T>} change */
  patch(change) {
    this.set({ ...this.#value, ...change });
  }

  /**
   * @param {(value: T) => void} tell  called now and after each change
   * @returns {() => void} ends it
   */
  subscribe(tell) {
    this.#subscribers.add(tell);
    tell(this.#value);
    return () => void this.#subscribers.delete(tell);
  }
}
