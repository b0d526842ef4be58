/** Puts the handset's page together: this phone is the camera. */

/** @import {Order, Report} from "./core/handset-worker.js" */
/** @import {Told} from "./core/handset-line.js" */

import { nowMs } from "./core/age.js";
import { BASE, Service } from "./core/service.js";
import { FramePace, HandsetHealth } from "./models/handset-health.js";
import { HandsetCamera } from "./views/handset-camera.js";
import { HandsetFace } from "./views/handset-face.js";
import { keepDevice, keptDevice } from "./views/handset-memory.js";
import { askForCode, explainPlainHttp } from "./views/handset-door.js";
import { watchPower } from "./views/handset-power.js";
import { HandsetScreen } from "./views/handset-screen.js";
import { WakeLock } from "./views/wake-lock.js";

const NAME = /(?:^|[#&])name=([a-z0-9-]{1,24})(?:&|$)/;
const EXPOSING_AT_MOST_MS = 10_000;

const page = /** @type {HTMLElement} */ (document.getElementById("page"));
const service = new Service();
const health = new HandsetHealth();
const pace = new FramePace();
const wakeLock = new WakeLock();
const worker = new Worker(new URL("./core/handset-worker.js", import.meta.url), { type: "module" });
const face = new HandsetFace({ dim: () => looks.dim(), hold: () => void hold(), lens: (id) => void choose(id), leave: () => void leave() });
const camera = new HandsetCamera(face.video, onFrame, () => void lost());
let line = "stopped";
let liveWanted = false;
let workerReady = true;
let delivered = 0;
/** @type {string | null} */
let ordered = null;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let light;
const looks = new HandsetScreen(
  () => camera.isOpen && line === "connected" && page.contains(face.element),
  (turned) => health.patch({ turned }),
);

/** @param {Order} order @param {Transferable[]} [transfer] */
function ask(order, transfer = []) {
  worker.postMessage(order, { transfer });
}

/** @param {number} atMs */
function onFrame(atMs) {
  const slow = pace.frame(nowMs());
  if (slow !== health.value.slow) health.patch({ slow });
  if (!liveWanted || !workerReady || ordered !== null) return;
  workerReady = false;
  void camera.grab().then((frame) => ask({ does: "frame", frame, atMs }, [frame]));
}

/** @param {Told} told @param {number} atMs when it arrived */
function obey(told, atMs) {
  if (told.does === "live") liveWanted = Boolean(told.on);
  else if (told.does === "photo" && told.order) void photograph(told.order, atMs);
  else if (told.does === "set" && told.order) void set(told.order, told.values ?? {});
  else if (told.does === "void" && told.order === ordered) finish();
}

/** @param {string} order @param {number} atMs */
async function photograph(order, atMs) {
  if (ordered === order) return; // told again after a cut: it is being taken, or on its way
  ordered = order;
  looks.expose(true);
  clearTimeout(light);
  light = setTimeout(finish, EXPOSING_AT_MOST_MS);
  ask({ does: "busy", order });
  try {
    if (document.hidden) throw new Error("The page is not in front on the handset.");
    if (!camera.isOpen) throw new Error("The handset has no camera at present.");
    if (camera.source === "photo") await takeStill(order, atMs);
    else {
      const { video, atMs: takenMs } = await camera.frameAfter(atMs);
      ask({ does: "photo", order, frame: video, atMs: takenMs }, [video]);
    }
    looks.expose(false);
  } catch (error) {
    ask({ does: "failed", order, because: String(error instanceof Error ? error.message : error), photoTaken: null });
    finish();
  } finally {
    ask({ does: "busy", order: null });
  }
}

/** @param {string} order @param {number} atMs */
async function takeStill(order, atMs) {
  const file = await camera.takePhoto();
  ask({ does: "file", order, file, atMs });
}

/** The order is over, however it ended. */
function finish() {
  ordered = null;
  clearTimeout(light);
  looks.expose(false);
}

/** @param {string} order @param {Record<string, unknown>} values */
async function set(order, values) {
  try {
    await camera.set(values);
    pace.forget();
    tellFacts();
    ask({ does: "done", order });
  } catch (error) {
    ask({ does: "failed", order, because: String(error instanceof Error ? error.message : error), photoTaken: null });
  }
}

function tellFacts() {
  const track = camera.describe();
  const warnings = health.warnings;
  face.warn(warnings);
  face.describe(track, "");
  ask({ does: "facts", facts: { track, battery_percent: health.value.battery, warnings } });
}

/** @param {Report} report */
function heard(report) {
  if (report.kind === "ready") workerReady = true;
  else if (report.kind === "told") obey(report.told, report.atMs);
  else if (report.kind === "line") lineIs(report.state);
  else if (report.kind === "given up") finish();
  else {
    delivered++;
    const { size, sha256, tries } = report.delivery;
    face.counted(delivered, `${(size / 1e6).toFixed(1)} MB${tries > 1 ? `, sent ${tries} times` : ""}`);
    dispatchEvent(new CustomEvent("delivered", { detail: { ...report.delivery, atMs: report.atMs } }));
    face.element.dataset["delivered"] = String(delivered);
    face.element.dataset["sha256"] = sha256;
    finish();
  }
}

/** @param {string} state */
function lineIs(state) {
  line = state;
  if (state === "unpaired") return void meet();
  const words = /** @type {Record<string, [string, "clear" | "warning" | "plain"]>} */ ({
    connected: ["ready: the remote can press", "clear"],
    connecting: ["connecting", "plain"],
    lost: ["no connection, trying again", "warning"],
    taken: ["another page is this camera now", "warning"],
  });
  const [says, tone] = words[state] ?? ["", "plain"];
  face.says.mark(says, tone);
  face.offerAgain(state === "taken");
  if (state !== "connected") liveWanted = false;
}

function connect() {
  const name = NAME.exec(location.hash)?.[1] ?? "";
  const scheme = location.protocol === "https:" ? "wss" : "ws";
  ask({ does: "start", url: `${scheme}://${location.host}${BASE}/handset?name=${name}`, base: `${location.origin}${BASE}` });
}

/** Open the camera, then the line: who is connected can take pictures. */
async function begin() {
  page.replaceChildren(face.element);
  face.onAgain = () => void begin();
  try {
    if (!("requestVideoFrameCallback" in face.video)) throw new Error("this browser is too old for it. Update it.");
    await camera.open(keptDevice());
  } catch (error) {
    return noCamera(error);
  }
  const lenses = (await navigator.mediaDevices.enumerateDevices()).filter((one) => one.kind === "videoinput");
  face.offerLenses(lenses, keptDevice());
  tellFacts();
  connect();
  void wakeLock.hold();
}

/** @param {unknown} error */
function noCamera(error) {
  const refused = error instanceof DOMException && error.name === "NotAllowedError";
  face.says.mark(refused ? "The browser was told not to give the camera. Allow it for this page, then try again." : `No camera: ${error instanceof Error ? error.message : error}`, "fault");
  face.offerAgain(true);
}

/** Another program took the camera, or it was unplugged: the service is told by silence, then again. */
async function lost() {
  ask({ does: "stop" });
  face.says.mark("the camera was lost, taking it up again", "warning");
  await begin();
}

/** @param {string} id */
async function choose(id) {
  keepDevice(id);
  await begin();
}

async function hold() {
  await looks.hold().catch(() => face.says.mark("This browser cannot hold the screen: lay the phone so that it does not turn.", "warning"));
}

async function leave() {
  ask({ does: "stop" });
  camera.close();
  await service.delete("/pairing").catch(() => {});
  await meet();
}

/** Find out whether this phone may be the camera; take the session up by itself if so. */
async function meet() {
  if (!isSecureContext || !navigator.mediaDevices) return page.replaceChildren(explainPlainHttp());
  try {
    await service.get("/pairing");
    history.replaceState(null, "", location.pathname + (NAME.exec(location.hash) ? `#name=${NAME.exec(location.hash)?.[1]}` : ""));
  } catch {
    ask({ does: "stop" });
    camera.close();
    return askForCode(page, service, () => void begin());
  }
  await begin();
}

worker.addEventListener("message", (message) => heard(message.data));
health.subscribe(() => camera.isOpen && tellFacts());
document.addEventListener("visibilitychange", () => {
  health.patch({ hidden: document.hidden });
  pace.forget();
  void wakeLock.hold();
});
void watchPower(health);
void meet();
