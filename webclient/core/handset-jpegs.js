/** Makes JPEGs of video frames on a canvas of its own, one after the other. */

export class Jpegs {
  #canvas = new OffscreenCanvas(2, 2);
  #pen = /** @type {OffscreenCanvasRenderingContext2D} */ (this.#canvas.getContext("2d", { alpha: false, willReadFrequently: true }));
  #last = Promise.resolve();

  /** @param {number} quality from 0 to 1 @param {number} [widest] px; wider frames are made smaller */
  constructor(quality, widest = Infinity) {
    this.quality = quality;
    this.widest = widest;
  }

  /** @param {VideoFrame | ImageBitmap} frame closed when it has been drawn @returns {Promise<Blob>} */
  make(frame) {
    const made = this.#last.then(() => this.#make(frame));
    this.#last = made.then(() => {}, () => {});
    return made;
  }

  /** @param {VideoFrame | ImageBitmap} frame */
  #make(frame) {
    const width = "displayWidth" in frame ? frame.displayWidth : frame.width;
    const height = "displayHeight" in frame ? frame.displayHeight : frame.height;
    const scale = Math.min(1, this.widest / width);
    this.#size(Math.round(width * scale), Math.round(height * scale));
    this.#pen.drawImage(frame, 0, 0, this.#canvas.width, this.#canvas.height);
    frame.close();
    return this.#canvas.convertToBlob({ type: "image/jpeg", quality: this.quality });
  }

  /** @param {number} width @param {number} height */
  #size(width, height) {
    if (this.#canvas.width === width && this.#canvas.height === height) return;
    this.#canvas.width = width;
    this.#canvas.height = height;
  }
}
