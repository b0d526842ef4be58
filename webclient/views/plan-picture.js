/** The live picture at rest under a hand that taps it: a few pictures a second, and a magnifier. */

/** @import {Desk} from "./desk.js" */

import { NOMINAL } from "../models/plan.js";
import { colour, make } from "./dom.js";

const EVERY_MS = 250;
const LENS_PX = 132;
const ENLARGED = 5; // css px of the lens for one px of the picture in nominal size

export class PlanPicture {
  canvas = make("canvas", { class: "board-picture", role: "img", "aria-label": "Live picture" });
  lens = make("canvas", { class: "lens", "aria-hidden": "true" });
  /** Height of the picture when it is `NOMINAL` px wide. */
  height = 720;
  /** @type {ImageBitmap | null} */
  #bitmap = null;
  /** @type {[number, number] | null} */
  #eye = null;
  /** @type {(() => void) | null} */
  #end = null;
  #asking = false;
  #grabbedAt = 0;

  /** @param {Desk} desk @param {() => void} resized */
  constructor(desk, resized) {
    this.desk = desk;
    this.resized = resized;
  }

  start() {
    const { app, live } = this.desk;
    live.start(NOMINAL, app.shot.value.shot?.id ?? "");
    this.#end?.();
    this.#end = live.state.subscribe(({ header }) => header && void this.#grab());
  }

  stop() {
    this.#end?.();
    this.#end = null;
    this.desk.live.stop();
  }

  async #grab() {
    if (this.#asking || performance.now() - this.#grabbedAt < EVERY_MS) return;
    this.#asking = true;
    const bitmap = await this.desk.live.grab();
    this.#asking = false;
    this.#grabbedAt = performance.now();
    if (!bitmap) return;
    this.#bitmap?.close();
    this.#bitmap = bitmap;
    this.#paint(bitmap);
    this.#paintLens();
  }

  /** @param {ImageBitmap} bitmap */
  #paint(bitmap) {
    const height = (NOMINAL * bitmap.height) / bitmap.width;
    if (this.canvas.width !== bitmap.width || this.canvas.height !== bitmap.height) {
      this.canvas.width = bitmap.width;
      this.canvas.height = bitmap.height;
    }
    this.canvas.getContext("2d", { alpha: false })?.drawImage(bitmap, 0, 0);
    if (Math.abs(height - this.height) < 0.5) return;
    this.height = height;
    this.resized();
  }

  /** What the magnifier looks at. @param {[number, number] | null} point */
  look(point) {
    this.#eye = point;
    this.#paintLens();
  }

  #paintLens() {
    const scale = devicePixelRatio;
    const side = Math.round(LENS_PX * scale);
    if (this.lens.width !== side) this.lens.width = this.lens.height = side;
    const ink = this.lens.getContext("2d", { alpha: false });
    if (!ink) return;
    ink.fillStyle = colour("ink-raised");
    ink.fillRect(0, 0, side, side);
    if (!this.#eye || !this.#bitmap) return;
    const [x, y] = this.#eye;
    const px = this.#bitmap.width / NOMINAL;
    const seen = (LENS_PX / ENLARGED) * px;
    ink.imageSmoothingEnabled = false;
    ink.drawImage(this.#bitmap, x * px - seen / 2, y * px - seen / 2, seen, seen, 0, 0, side, side);
    drawCross(ink, side, scale);
  }
}

/** Two lines that leave the middle free. @param {CanvasRenderingContext2D} ink @param {number} side @param {number} scale */
function drawCross(ink, side, scale) {
  const [middle, free] = [side / 2, 7 * scale];
  for (const [name, thick] of /** @type {[string, number][]} */ ([["black", 3], ["pencil", 1.25]])) {
    ink.strokeStyle = colour(name);
    ink.lineWidth = thick * scale;
    ink.beginPath();
    for (const [from, to] of /** @type {[number, number][]} */ ([[0, middle - free], [middle + free, side]])) {
      ink.moveTo(from, middle);
      ink.lineTo(to, middle);
      ink.moveTo(middle, from);
      ink.lineTo(middle, to);
    }
    ink.stroke();
  }
}
