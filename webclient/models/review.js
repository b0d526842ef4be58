/** What Review shows: a range of the film, frame by frame, and the place in it. */

/** @import {Exposure, Playback, PlaybackFrame} from "../core/types.js" */
/** @import {Service} from "../core/service.js" */
/** @import {ShotModel} from "./shot.js" */

import { framesPerSecond } from "../core/rate.js";
import { Player } from "./player.js";
import { Store } from "./store.js";

/**
 * @typedef {object} Review
 * @property {number} last  frames to play, 0 for all
 * @property {boolean} pose  the live pose follows as the next frame
 * @property {PlaybackFrame[]} frames
 * @property {number} index  of the frame shown; `frames.length` is the live pose
 * @property {boolean} playing
 * @property {boolean} second  the second camera's pictures are shown, where there are any
 * @property {boolean} loop
 */

/** @extends {Store<Review>} */
export class ReviewModel extends Store {
  player = new Player();
  #turn = 0;

  /** @param {Service} service @param {ShotModel} shot */
  constructor(service, shot) {
    super(
      /** @type {Review} */ ({ last: 24, pose: false, frames: [], index: 0, playing: false, second: false, loop: true }),
    );
    this.service = service;
    this.shot = shot;
  }

  /** Fetch the range anew; stays on the exposure that is shown, where it is still there. */
  async load() {
    const { shot } = this.shot.value;
    if (!shot) return this.#place([], 0);
    const turn = ++this.#turn;
    const query = this.value.last ? `?last=${this.value.last}` : "";
    /** @type {Playback} */
    const playback = await this.service.get(`/shots/${shot.id}/playback${query}`);
    if (turn !== this.#turn) return;
    this.#place(playback.frames, framesPerSecond(playback.frame_rate));
  }

  /** @param {PlaybackFrame[]} frames @param {number} rate */
  #place(frames, rate) {
    const shown = this.value.frames[this.value.index];
    const found = shown ? frames.findIndex((one) => one.exposure === shown.exposure) : -1;
    const near = shown ? Math.min(this.value.index, frames.length - 1) : frames.length - 1;
    const index = found >= 0 ? found : Math.max(0, near);
    this.player.load(frames.length + (this.value.pose && frames.length ? 1 : 0), rate, index);
    if (this.value.playing && frames.length) this.player.play();
    this.patch({ frames, index, playing: this.player.playing });
  }

  /** @param {number} last */
  async choose(last) {
    this.patch({ last });
    await this.load();
  }

  /** @param {boolean} pose */
  withPose(pose) {
    this.patch({ pose });
    this.#place(this.value.frames, this.player.rate);
  }

  toggle() {
    if (this.player.playing) this.player.pause();
    else this.player.play();
    this.#tell();
  }

  pause() {
    this.player.pause();
    this.#tell();
  }

  /** @param {boolean} loop */
  setLoop(loop) {
    this.player.loop = loop;
    this.patch({ loop });
  }

  /** @param {number} by */
  step(by) {
    this.player.step(by);
    this.#tell();
  }

  /** @param {number} exposureNumber */
  async seek(exposureNumber) {
    this.player.pause();
    if (!this.#has(exposureNumber)) await this.choose(0);
    const index = this.value.frames.findIndex((one) => one.number === exposureNumber);
    if (index >= 0) this.player.seek(index);
    this.#tell();
  }

  /** @param {number} number */
  #has(number) {
    return this.value.frames.some((one) => one.number === number);
  }

  /** @param {number} now ms */
  tick(now) {
    const before = this.player.playing;
    const index = this.player.tick(now);
    if (index !== this.value.index || before !== this.player.playing) this.#tell();
  }

  #tell() {
    this.patch({ index: this.player.index, playing: this.player.playing });
  }

  /** True when the live pose is shown, which is no exposure yet. */
  get onPose() {
    return this.value.index >= this.value.frames.length && this.value.frames.length > 0;
  }

  /** @returns {Exposure | undefined} the exposure that is shown */
  get exposure() {
    const frame = this.value.frames[this.value.index];
    return frame && this.shot.find(frame.exposure);
  }
}
