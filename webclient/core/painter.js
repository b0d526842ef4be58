/**
 * Paints live and last pictures onto one canvas, in a worker or on the page.
 *
 * Onion skin lays the last exposures over the live picture, the newest strongest. The difference is
 * |live − last|, amplified by adding the result to itself, so that a move of a pixel can be seen.
 */

/**
 * @typedef {object} Look
 * @property {"live" | "onion" | "last" | "difference"} mode
 * @property {number} strength  0..1, of the newest onion layer
 */

const DOUBLINGS = 2; // |live − last| × 4

export class Painter {
  /** @type {OffscreenCanvas | HTMLCanvasElement} */
  #canvas;
  /** @type {any} */
  #context;
  /** @type {ImageBitmap[]} newest first */
  #layers = [];
  /** @type {Look} */
  #look = { mode: "live", strength: 0.5 };
  /** @type {ImageBitmap | null} */
  #picture = null;

  /** @param {OffscreenCanvas | HTMLCanvasElement} canvas */
  constructor(canvas) {
    this.#canvas = canvas;
    this.#context = canvas.getContext("2d", { alpha: false, desynchronized: true });
  }

  /** @param {ImageBitmap} picture  ours from now on */
  show(picture) {
    this.#picture?.close();
    this.#picture = picture;
    this.paint();
  }

  /** @param {ImageBitmap[]} layers  newest first; ours from now on */
  setLayers(layers) {
    for (const layer of this.#layers) layer.close();
    this.#layers = layers;
    this.paint();
  }

  /** @param {Look} look */
  setLook(look) {
    this.#look = look;
    this.paint();
  }

  /** @returns {ImageBitmap | null} the newest live picture itself, without what lies over it */
  get picture() {
    return this.#picture;
  }

  paint() {
    const base = this.#picture ?? this.#layers[0];
    if (!base) return;
    this.#fit(base);
    const { mode } = this.#look;
    this.#draw(mode === "last" && this.#layers[0] ? this.#layers[0] : base);
    if (mode === "onion") this.#onion();
    if (mode === "difference") this.#difference();
  }

  /** @param {ImageBitmap} picture */
  #fit(picture) {
    if (this.#canvas.width === picture.width && this.#canvas.height === picture.height) return;
    this.#canvas.width = picture.width;
    this.#canvas.height = picture.height;
  }

  /** @param {CanvasImageSource} picture @param {number} alpha @param {string} how */
  #draw(picture, alpha = 1, how = "source-over") {
    this.#context.globalAlpha = alpha;
    this.#context.globalCompositeOperation = how;
    this.#context.drawImage(picture, 0, 0, this.#canvas.width, this.#canvas.height);
  }

  #onion() {
    // Oldest first, so that the newest lies on top and counts most.
    for (let index = this.#layers.length - 1; index >= 0; index--) {
      this.#draw(/** @type {ImageBitmap} */ (this.#layers[index]), this.#look.strength / (index + 1));
    }
  }

  #difference() {
    if (!this.#layers[0]) return;
    this.#draw(this.#layers[0], 1, "difference");
    for (let time = 0; time < DOUBLINGS; time++) this.#draw(this.#canvas, 1, "lighter");
  }
}
