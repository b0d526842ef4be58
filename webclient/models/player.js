/**
 * Playback's clock: which frame is due at a moment. No timers and no pictures in here.
 *
 * The position follows from the time since the start, not from counting ticks, so that a slow
 * browser drops pictures and never falls behind the film's time.
 */

export class Player {
  #startedAt = 0;
  #startedFrom = 0;
  #index = 0;

  count = 0;
  rate = 12;
  loop = true;
  playing = false;

  get index() {
    return this.#index;
  }

  /** @param {number} count frames @param {number} rate frames per second @param {number} index */
  load(count, rate, index) {
    this.count = count;
    this.rate = rate;
    this.#index = Math.max(0, Math.min(index, count - 1));
    this.#startedFrom = this.#index;
    this.#startedAt = NaN;
    if (!count) this.playing = false;
  }

  play() {
    if (!this.count) return;
    if (!this.loop && this.#index === this.count - 1) this.#index = 0;
    this.playing = true;
    this.#startedFrom = this.#index;
    this.#startedAt = NaN; // set by the first tick, so that time spent loading does not count
  }

  pause() {
    this.playing = false;
  }

  /** @param {number} index */
  seek(index) {
    this.#index = Math.max(0, Math.min(index, this.count - 1));
    this.#startedFrom = this.#index;
    this.#startedAt = NaN;
  }

  /** @param {number} by frames; wraps around when looping */
  step(by) {
    this.pause();
    if (!this.count) return;
    const to = this.#index + by;
    this.seek(this.loop ? (to + this.count) % this.count : to);
  }

  /** @param {number} now ms @returns {number} the index of the frame that is due */
  tick(now) {
    if (!this.playing || !this.count) return this.#index;
    if (Number.isNaN(this.#startedAt)) this.#startedAt = now;
    // A tick that comes a hair early must not show the old frame for another whole refresh.
    const passed = Math.floor(((now - this.#startedAt) * this.rate) / 1000 + 0.02);
    const due = this.#startedFrom + passed;
    if (due < this.count) this.#index = due;
    else if (this.loop) this.#index = due % this.count;
    else this.#end();
    return this.#index;
  }

  #end() {
    this.#index = this.count - 1;
    this.playing = false;
  }
}
