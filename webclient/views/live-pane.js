/** The canvas of the live view, painted by a worker where the browser can. */

/** @import {Order, Report} from "../core/live-view.js" */
/** @import {PictureHeader} from "../core/types.js" */

import { LiveView } from "../core/live-view.js";
import { BASE } from "../core/service.js";
import { Store } from "../models/store.js";
import { make } from "./dom.js";

/**
 * @typedef {object} LiveState
 * @property {PictureHeader | null} header  of the picture that is shown
 * @property {number} width  px
 * @property {number} height  px
 * @property {number} atMs  when the driver had it, on our clock
 * @property {string} closed  why there is no live picture, "" while there is
 */

export class LivePane {
  canvas = make("canvas", { class: "picture", width: 16, height: 9, role: "img", "aria-label": "Live picture" });
  /** @type {Store<LiveState>} */
  state = new Store(/** @type {LiveState} */ ({ header: null, width: 16, height: 9, atMs: 0, closed: "" }));
  /** @type {Map<number, (picture: ImageBitmap | null) => void>} */
  #asked = new Map();
  #asks = 0;
  #order;
  /** When the picture was there, by the more careful of two clocks. @type {(serviceMs: number, atMs: number) => number} */
  earliest = (_serviceMs, atMs) => atMs;

  constructor() {
    const url = `${location.protocol === "https:" ? "wss" : "ws"}://${location.host}${BASE}/live`;
    if ("transferControlToOffscreen" in this.canvas) {
      this.#order = this.#inWorker(url);
    } else {
      const view = new LiveView((report) => this.#heard(report));
      view.obey({ does: "canvas", canvas: /** @type {HTMLCanvasElement} */ (this.canvas), url });
      this.#order = (/** @type {Order} */ order) => view.obey(order);
    }
  }

  /** @param {string} url @returns {(order: Order, transfer?: Transferable[]) => void} */
  #inWorker(url) {
    const worker = new Worker(new URL("../core/live-worker.js", import.meta.url), { type: "module" });
    worker.addEventListener("message", (message) => this.#heard(message.data));
    const canvas = this.canvas.transferControlToOffscreen();
    worker.postMessage({ does: "canvas", canvas, url }, [canvas]);
    return (order, transfer = []) => worker.postMessage(order, transfer);
  }

  /** @param {Report} report */
  #heard(report) {
    if (report.kind === "painted") this.#painted(report);
    else if (report.kind === "closed") this.state.patch({ closed: report.reason || "The live picture ended." });
    else {
      this.#asked.get(report.ask)?.(report.picture);
      this.#asked.delete(report.ask);
    }
  }

  /** @param {Extract<Report, {kind: "painted"}>} report */
  #painted(report) {
    const { header, width, height } = report;
    const atMs = this.earliest(header.at_ms, report.atMs);
    this.state.set({ header, width, height, atMs, closed: "" });
    const detail = { seq: header.seq, serviceMs: header.at_ms, atMs, paintedMs: report.paintedMs };
    this.canvas.dispatchEvent(new CustomEvent("painted", { detail, bubbles: true }));
  }

  /** @param {number} width px that the screen can show @param {string} shot whose last exposure may stand in */
  start(width, shot) {
    this.#order({ does: "start", width, shot });
  }

  stop() {
    this.#order({ does: "stop" });
  }

  /** @param {import("../core/painter.js").Look} look */
  look(look) {
    this.#order({ does: "look", look });
  }

  /** @param {ImageBitmap[]} layers  newest first */
  layers(layers) {
    this.#order({ does: "layers", layers }, layers);
  }

  /** The newest live picture, for Review. @returns {Promise<ImageBitmap | null>} */
  grab() {
    const ask = ++this.#asks;
    return new Promise((got) => {
      this.#asked.set(ask, got);
      this.#order({ does: "grab", ask });
    });
  }
}
