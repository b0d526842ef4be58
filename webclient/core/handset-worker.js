/**
 * The handset's work beside its page: the line, the JPEGs, the uploads. A page that dims, turns or
 * stutters does not disturb them.
 *
 * @typedef {{does: "start", url: string, base: string} | {does: "stop"}
 *   | {does: "facts", facts: object}
 *   | {does: "frame", frame: VideoFrame | ImageBitmap, atMs: number}
 *   | {does: "photo", order: string, frame: VideoFrame | ImageBitmap, atMs: number}
 *   | {does: "file", order: string, file: Blob, atMs: number}
 *   | {does: "busy", order: string | null}
 *   | {does: "done", order: string}
 *   | {does: "failed", order: string, because: string, photoTaken: boolean | null}} Order
 *
 * @typedef {{kind: "line", state: import("./handset-line.js").LineState}
 *   | {kind: "told", told: import("./handset-line.js").Told, atMs: number}
 *   | {kind: "ready"}
 *   | {kind: "delivered", delivery: import("./handset-upload.js").Delivery, atMs: number}
 *   | {kind: "given up", order: string}} Report
 */

import { nowMs } from "./age.js";
import { HandsetLine } from "./handset-line.js";
import { Jpegs } from "./handset-jpegs.js";
import { Uploads } from "./handset-upload.js";

/** @type {HandsetLine | null} */
let line = null;
/** @type {Uploads | null} */
let uploads = null;
/** What the page last told of the handset: a new line tells it, too. @type {object | null} */
let facts = null;
const live = new Jpegs(0.8, 1280);
// The video has its colour at half size already, so nothing that it had is lost that can be seen.
const still = new Jpegs(0.97);

/** @param {Report} report */
const tell = (report) => self.postMessage(report);

/** @param {string} url @param {string} base */
function start(url, base) {
  uploads = new Uploads(base);
  const isPaired = async () => {
    const answer = await fetch(`${base}/pairing`, { cache: "no-store" }).catch(() => null);
    return answer?.status !== 401;
  };
  line?.stop();
  line = new HandsetLine({
    url,
    isPaired,
    onState: (state) => tell({ kind: "line", state }),
    onTold: (told, atMs) => {
      if (told.does === "void" && told.order) uploads?.forget(told.order);
      tell({ kind: "told", told, atMs });
    },
  });
  if (facts) line.tellFacts(facts);
  line.start();
}

/** @param {VideoFrame | ImageBitmap} frame @param {number} atMs */
async function show(frame, atMs) {
  try {
    if (!line?.isFree) return frame.close();
    const jpeg = await live.make(frame);
    line.show(await jpeg.arrayBuffer(), atMs);
  } finally {
    tell({ kind: "ready" });
  }
}

/** @param {string} order @param {Blob} file @param {number} atMs */
async function deliver(order, file, atMs) {
  const at = line?.clock.known ? line.clock.toService(atMs) : null;
  const delivery = await uploads?.deliver(order, await file.arrayBuffer(), file.type, at);
  tell(delivery ? { kind: "delivered", delivery, atMs: nowMs() } : { kind: "given up", order });
}

/** @param {object} told */
function know(told) {
  facts = told;
  line?.tellFacts(told);
}

self.addEventListener("message", (/** @type {MessageEvent<Order>} */ { data }) => {
  if (data.does === "start") start(data.url, data.base);
  else if (data.does === "stop") line?.stop();
  else if (data.does === "facts") know(data.facts);
  else if (data.does === "frame") void show(data.frame, data.atMs);
  else if (data.does === "photo") void still.make(data.frame).then((file) => deliver(data.order, file, data.atMs));
  else if (data.does === "file") void deliver(data.order, data.file, data.atMs);
  else if (data.does === "busy" && line) line.busyWith = data.order;
  else if (data.does === "done") line?.tellDone(data.order);
  else if (data.does === "failed") line?.tellFailed(data.order, data.because, data.photoTaken);
});
