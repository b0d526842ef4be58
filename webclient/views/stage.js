/** The picture on the Shoot view: live, with what lies over it, and words on how true it is. */

/** @import {Desk} from "./desk.js" */

import { nowMs } from "../core/age.js";
import { atWidth } from "../core/preview.js";
import { exposuresBefore } from "../models/look.js";
import { state } from "./controls.js";
import { make } from "./dom.js";
import { makeMask } from "./mask.js";
import { makeSees } from "./stepback-sees.js";

const OLD_MS = 1000;
const TELL_MS = 200; // the age is told so often; it counts as if it were that much later already
const BLINK_MS = 600; // 0.8 flashes a second, far below the limit of three (WCAG 2.3.1)

export class Stage {
  #mask = makeMask();
  #age = state();
  #over = make("span", { class: "stage-over" });
  /** @type {ReturnType<typeof setInterval> | undefined} */
  #blinking;
  /** @type {ReturnType<typeof setInterval> | undefined} */
  #ageing;
  #layerKey = "";
  #startedAt = 0;

  /** @param {Desk} desk */
  constructor(desk) {
    this.desk = desk;
    this.element = make(
      "figure",
      { class: "stage" },
      desk.live.canvas,
      makeSees(desk),
      this.#mask.element,
      make("figcaption", { class: "stage-says" }, this.#age.element, this.#over),
    );
    desk.look.subscribe(() => this.#lookChanged());
    desk.app.shot.subscribe(() => this.#loadLayers());
    desk.live.state.subscribe(({ width, height }) => this.#mask.fit(width, height));
  }

  shown() {
    this.#startedAt = nowMs();
    this.desk.live.start(pictureWidth(this.element), this.desk.app.shot.value.shot?.id ?? "");
    clearInterval(this.#ageing);
    this.#ageing = setInterval(() => this.#tellAge(), TELL_MS);
    this.#tellAge();
  }

  hidden() {
    clearInterval(this.#ageing);
    this.desk.live.stop();
  }

  #lookChanged() {
    const { mode, strength, mask } = this.desk.look.value;
    this.#mask.choose(mask);
    clearInterval(this.#blinking);
    const paint = (/** @type {import("../core/painter.js").Look["mode"]} */ how) =>
      this.desk.live.look({ mode: how, strength: strength / 100 });
    if (mode === "blink") this.#blink(paint);
    else paint(mode);
    this.#loadLayers();
  }

  /** @param {(how: "live" | "last") => void} paint */
  #blink(paint) {
    let last = true;
    paint("last");
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) return; // stays on the last one
    this.#blinking = setInterval(() => paint((last = !last) ? "last" : "live"), BLINK_MS);
  }

  #loadLayers() {
    const { mode, layers } = this.desk.look.value;
    const open = this.desk.app.shot.value;
    const wanted = exposuresBefore(open, mode === "onion" ? layers : 1);
    this.#tellOver(wanted.length);
    const key = wanted.map((one) => one.id).join();
    if (key === this.#layerKey) return;
    this.#layerKey = key;
    const width = pictureWidth(this.element);
    const copies = wanted.map((one) => this.desk.pictures.copy(atWidth(one.preview, width)));
    void Promise.all(copies).then(
      (bitmaps) => key === this.#layerKey && this.desk.live.layers(bitmaps),
      () => (this.#layerKey = ""), // tried again at the next change
    );
  }

  /** @param {number} layers that there are */
  #tellOver(layers) {
    const says = {
      live: "",
      onion: layers ? `onion skin of ${layers}` : "",
      blink: layers ? "blinking with the last" : "",
      difference: layers ? "difference to the last" : "",
    }[this.desk.look.value.mode];
    this.#over.textContent = says;
  }

  #tellAge() {
    const { header, atMs, closed } = this.desk.live.state.value;
    const age = nowMs() - (header ? atMs : this.#startedAt) + TELL_MS;
    const last = this.desk.app.shot.last;
    const camera = this.desk.app.camera.value;
    const still = header?.source === "last_exposure" || camera?.live === false;
    this.element.dataset["old"] = String(age > OLD_MS && !still);
    if (still) {
      const instead = camera?.live_says || "No live picture.";
      this.#age.mark(last ? `exposure ${last.number}, not live` : instead, "plain");
    } else if (closed && !header) this.#age.mark(closed, "warning");
    else if (age > OLD_MS) {
      const since = header ? `picture is ${Math.ceil(age / 1000)} s old` : "waiting for a picture";
      this.#age.mark(since, "warning");
    } else this.#age.mark(header ? "live" : "", "plain");
  }
}

/** @param {Element} element @returns {number} px that are worth sending */
export function pictureWidth(element) {
  const css = element.clientWidth || innerWidth;
  return Math.min(1920, Math.ceil(css * Math.min(devicePixelRatio, 2)));
}
