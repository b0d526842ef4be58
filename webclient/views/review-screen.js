/** Paints the frame that is due, from a ring of decoded pictures running just ahead of it. */

/** @import {Desk} from "./desk.js" */

import { atWidth } from "../core/preview.js";
import { make } from "./dom.js";
import { pictureWidth } from "./stage.js";

const WINDOW = 48;
const DECODED_AHEAD = 4;

export class ReviewScreen {
  canvas = make("canvas", { class: "picture", width: 16, height: 9, role: "img", "aria-label": "The frame that is shown" });
  #ink = /** @type {CanvasRenderingContext2D} */ (this.canvas.getContext("2d", { alpha: false }));
  #loop = 0;
  #painted = "";
  #fetchedTo = "";
  /** @type {ImageBitmap | null} */
  #pose = null;
  #poseAskedAt = 0;

  /** @param {Desk} desk */
  constructor(desk) {
    this.desk = desk;
    this.element = make("figure", { class: "stage" }, this.canvas);
  }

  shown() {
    cancelAnimationFrame(this.#loop);
    const next = (/** @type {number} */ now) => {
      this.#loop = requestAnimationFrame(next);
      this.#frame(now);
    };
    this.#loop = requestAnimationFrame(next);
  }

  hidden() {
    cancelAnimationFrame(this.#loop);
    this.desk.app.review.pause();
  }

  /** @param {number} now ms */
  #frame(now) {
    const { review } = this.desk.app;
    review.tick(now);
    if (review.value.pose) this.#askPose(now);
    this.#prefetch();
    if (review.onPose) return this.#paintPose();
    const frame = review.value.frames[review.value.index];
    if (frame) void this.#paint(this.#url(frame));
    else this.#clear();
  }

  /** @param {import("../core/types.js").PlaybackFrame} frame */
  #url({ preview, exposure }) {
    const { review, shot } = this.desk.app;
    const file = review.value.second ? shot.find(exposure)?.pair?.from_file : undefined;
    return atWidth(file ? `${preview}?file=${file}` : preview, pictureWidth(this.element));
  }

  /** @param {string} url */
  async #paint(url) {
    if (this.#painted === url) return;
    this.#painted = url;
    try {
      const picture = await this.desk.pictures.bitmap(url);
      if (this.#painted === url) this.#put(picture, "exposure");
    } catch {
      if (this.#painted === url) this.#painted = ""; // asked for again with the next frame
    }
  }

  #paintPose() {
    if (!this.#pose) return;
    this.#painted = "pose";
    this.#put(this.#pose, "pose");
  }

  /** @param {ImageBitmap} picture @param {string} what */
  #put(picture, what) {
    if (this.canvas.width !== picture.width || this.canvas.height !== picture.height) {
      this.canvas.width = picture.width;
      this.canvas.height = picture.height;
    }
    this.#ink.drawImage(picture, 0, 0);
    const detail = { what, url: this.#painted, at: performance.now() };
    this.canvas.dispatchEvent(new CustomEvent("painted", { detail, bubbles: true }));
  }

  #clear() {
    if (this.#painted === "nothing") return;
    this.#painted = "nothing";
    this.#ink.clearRect(0, 0, this.canvas.width, this.canvas.height);
  }

  /** The pose on the table is fetched a few times a second; in between the last one does. @param {number} now ms */
  #askPose(now) {
    if (now - this.#poseAskedAt < 200) return;
    this.#poseAskedAt = now;
    void this.desk.live.grab().then((picture) => {
      if (!picture) return;
      this.#pose?.close();
      this.#pose = picture;
    });
  }

  #prefetch() {
    const { frames, index } = this.desk.app.review.value;
    const key = `${frames[index]?.preview}|${frames.length}|${this.desk.app.review.value.second}`;
    if (key === this.#fetchedTo || !frames.length) return;
    this.#fetchedTo = key;
    const urls = [];
    for (let ahead = 0; ahead < Math.min(WINDOW, frames.length); ahead++) {
      const frame = frames[(index + ahead) % frames.length];
      if (frame) urls.push(this.#url(frame));
    }
    const unique = [...new Set(urls)];
    void this.desk.pictures.ahead(unique);
    for (const url of unique.slice(0, DECODED_AHEAD)) this.desk.pictures.bitmap(url).catch(() => {});
  }
}
