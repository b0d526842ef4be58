/**
 * Socket, decoder and painter of the live view in one place: runs in `live-worker.js` where the
 * browser can paint from a worker, else on the page itself.
 */

/** @import {PictureHeader} from "./types.js" */
/** @import {Look} from "./painter.js" */

import { AgeClock, nowMs } from "./age.js";
import { LiveSocket } from "./live.js";
import { Painter } from "./painter.js";

/**
 * @typedef {{does: "canvas", canvas: OffscreenCanvas | HTMLCanvasElement, url: string}
 *   | {does: "start", width: number, shot: string} | {does: "stop"}
 *   | {does: "look", look: Look} | {does: "layers", layers: ImageBitmap[]}
 *   | {does: "grab", ask: number}} Order
 *
 * @typedef {{kind: "painted", header: PictureHeader, width: number, height: number,
 *      atMs: number, paintedMs: number}
 *   | {kind: "closed", code: number, reason: string}
 *   | {kind: "grabbed", ask: number, picture: ImageBitmap | null}} Report
 */

export class LiveView {
  /** @type {Painter | null} */
  #painter = null;
  /** @type {LiveSocket | null} */
  #socket = null;
  #clock = new AgeClock();

  /** @param {(report: Report, transfer?: Transferable[]) => void} report */
  constructor(report) {
    this.report = report;
  }

  /** @param {Order} order */
  obey(order) {
    if (order.does === "canvas") this.#setUp(order.canvas, order.url);
    else if (order.does === "start") this.#start(order.width, order.shot);
    else if (order.does === "stop") this.#socket?.stop();
    else if (order.does === "look") this.#painter?.setLook(order.look);
    else if (order.does === "layers") this.#painter?.setLayers(order.layers);
    else if (order.does === "grab") void this.#grab(order.ask);
  }

  /** @param {OffscreenCanvas | HTMLCanvasElement} canvas @param {string} url */
  #setUp(canvas, url) {
    this.#painter = new Painter(canvas);
    this.#socket = new LiveSocket({
      url,
      onPicture: (bytes, header) => void this.#picture(bytes, header),
      onOpen: () => this.#clock.forget(),
      onClosed: (code, reason) => this.report({ kind: "closed", code, reason }),
    });
  }

  /** @param {number} width @param {string} shot */
  #start(width, shot) {
    if (!this.#socket) return;
    this.#socket.width = width;
    this.#socket.start(shot);
  }

  /** @param {ArrayBuffer} bytes @param {PictureHeader} header */
  async #picture(bytes, header) {
    this.#clock.note(header.at_ms + header.age_ms, nowMs());
    let size;
    try {
      const bitmap = await createImageBitmap(new Blob([bytes], { type: "image/jpeg" }));
      this.#socket?.next(); // asked for only now: what cannot be decoded in time is never queued
      size = { width: bitmap.width, height: bitmap.height };
      this.#painter?.show(bitmap);
    } catch {
      this.#socket?.next(); // not a picture after all; nothing painted, so the age goes on growing
      return;
    }
    const atMs = this.#clock.toOurs(header.at_ms);
    this.report({ kind: "painted", header, ...size, atMs, paintedMs: nowMs() });
  }

  /** @param {number} ask */
  async #grab(ask) {
    const shown = this.#painter?.picture;
    const picture = shown ? await createImageBitmap(shown) : null;
    this.report({ kind: "grabbed", ask, picture }, picture ? [picture] : []);
  }
}
