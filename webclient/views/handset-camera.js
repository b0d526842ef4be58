/**
 * The handset's own camera: its track, what can be set on it, its frames and its photos.
 *
 * Terms are those of MediaStream Image Capture and requestVideoFrameCallback (W3C).
 */

import { nowMs } from "../core/age.js";
import { keptConstraints, keepConstraints } from "./handset-memory.js";

/** Settings that make up a picture, in the terms of the track. */
const PICTURE = ["exposureMode", "exposureTime", "iso", "whiteBalanceMode", "colorTemperature", "focusMode", "focusDistance", "torch"];
/** Where a browser does not tell when a frame was taken: no phone's camera is later. From memory. */
const LATEST_MS = 250;

/** @typedef {{video: VideoFrame | ImageBitmap, atMs: number}} Grabbed  closed by who receives it */

export class HandsetCamera {
  /** @type {MediaStreamTrack | null} */
  #track = null;
  /** @type {any} */
  #stills = null;
  /** @type {any} */
  #stillsCan = {};
  /** @type {{afterMs: number, got: (frame: Grabbed) => void, failed: (why: Error) => void} | null} */
  #wanted = null;
  source = "video frame";

  /**
   * @param {HTMLVideoElement} video
   * @param {(atMs: number) => void} onFrame  each frame, and when it was taken
   * @param {() => void} onEnded  the track ended: another program took the camera, or it was unplugged
   */
  constructor(video, onFrame, onEnded) {
    this.video = video;
    this.onFrame = onFrame;
    this.onEnded = onEnded;
  }

  /** @param {string} device "" for the one that looks away from the screen. @throws DOMException */
  async open(device) {
    this.close();
    const canTakePhotos = "ImageCapture" in globalThis;
    const size = canTakePhotos ? { width: { ideal: 1920 }, height: { ideal: 1080 } } : { width: { ideal: 4096 }, height: { ideal: 2160 } };
    const which = device ? { deviceId: { exact: device } } : { facingMode: { ideal: "environment" } };
    const stream = await navigator.mediaDevices.getUserMedia({ video: { ...which, ...size, frameRate: { ideal: 30 } }, audio: false });
    const track = /** @type {MediaStreamTrack} */ (stream.getVideoTracks()[0]);
    this.#track = track;
    track.addEventListener("ended", () => this.#track === track && this.onEnded());
    this.video.srcObject = stream;
    await this.video.play();
    await this.#readStills(track, canTakePhotos);
    await this.#restore();
    this.#follow();
  }

  close() {
    this.#wanted?.failed(new Error("The camera was closed."));
    this.#wanted = null;
    const track = this.#track;
    this.#track = null;
    track?.stop();
  }

  get isOpen() {
    return this.#track?.readyState === "live";
  }

  /** @returns {{capabilities: object, settings: object}} of the track, and where pictures come from */
  describe() {
    const capabilities = pick(this.#track?.getCapabilities?.() ?? {}, PICTURE);
    const settings = pick(this.#track?.getSettings() ?? {}, [...PICTURE, "width", "height", "frameRate"]);
    const sources = this.#stills ? ["photo", "video frame"] : ["video frame"];
    return { capabilities: { ...capabilities, pictureSource: sources }, settings: { ...settings, pictureSource: this.source } };
  }

  /** Set what the track offers; kept for after a reload. @param {Record<string, any>} values @throws Error */
  async set(values) {
    const { pictureSource, ...constraints } = values;
    if (pictureSource !== undefined) this.source = pictureSource;
    if (Object.keys(constraints).length) await this.#apply(constraints);
    keepConstraints(values);
  }

  /** A picture from after that moment: a photo of the browser's own. @returns {Promise<Blob>} */
  takePhoto() {
    const can = this.#stillsCan;
    const wish = {
      ...(can.imageWidth?.max ? { imageWidth: can.imageWidth.max, imageHeight: can.imageHeight.max } : {}),
      ...(can.fillLightMode?.includes("off") ? { fillLightMode: "off" } : {}),
    };
    return this.#stills.takePhoto(wish);
  }

  /** The first frame that was taken after that moment. @param {number} afterMs @returns {Promise<Grabbed>} */
  frameAfter(afterMs) {
    return new Promise((got, failed) => {
      this.#wanted?.failed(new Error("Another picture was ordered."));
      this.#wanted = { afterMs, got, failed };
    });
  }

  /** The frame that is shown now. @returns {Promise<VideoFrame | ImageBitmap>} */
  async grab() {
    return "VideoFrame" in globalThis ? new VideoFrame(this.video) : createImageBitmap(this.video);
  }

  /** @param {MediaStreamTrack} track @param {boolean} canTakePhotos */
  async #readStills(track, canTakePhotos) {
    this.#stills = canTakePhotos ? new /** @type {any} */ (globalThis).ImageCapture(track) : null;
    this.#stillsCan = (await this.#stills?.getPhotoCapabilities().catch(() => null)) ?? {};
    const larger = (this.#stillsCan.imageWidth?.max ?? 0) > this.video.videoWidth;
    this.source = this.#stills && larger ? "photo" : "video frame";
  }

  /** What was set before a reload. */
  async #restore() {
    const { pictureSource, ...constraints } = keptConstraints();
    if (pictureSource && (pictureSource !== "photo" || this.#stills)) this.source = pictureSource;
    const can = /** @type {Record<string, unknown>} */ (this.#track?.getCapabilities?.() ?? {});
    const known = Object.fromEntries(Object.entries(constraints).filter(([name]) => name in can));
    if (Object.keys(known).length) await this.#apply(known).catch(() => {}); // then it shows as automatic
  }

  /** @param {Record<string, any>} constraints modes first: a value is taken only in its manual mode */
  async #apply(constraints) {
    const modes = Object.entries(constraints).filter(([name]) => name.endsWith("Mode"));
    const all = modes.length ? [Object.fromEntries(modes), constraints] : [constraints];
    for (const one of all) await this.#track?.applyConstraints({ advanced: [/** @type {any} */ (one)] });
  }

  #follow() {
    const track = this.#track;
    const next = () => this.video.requestVideoFrameCallback((now, frame) => {
      if (this.#track !== track) return;
      next();
      const told = frame.captureTime;
      const atMs = performance.timeOrigin + (told ?? now - LATEST_MS);
      void this.#serve(atMs);
      this.onFrame(told === undefined ? nowMs() : atMs);
    });
    next();
  }

  /** @param {number} atMs */
  async #serve(atMs) {
    const wanted = this.#wanted;
    if (!wanted || atMs <= wanted.afterMs) return;
    this.#wanted = null;
    try {
      wanted.got({ video: await this.grab(), atMs });
    } catch (error) {
      wanted.failed(error instanceof Error ? error : new Error(String(error)));
    }
  }
}

/** @param {object} all @param {string[]} names @returns {Record<string, unknown>} */
function pick(all, names) {
  return Object.fromEntries(Object.entries(all).filter(([name]) => names.includes(name)));
}
