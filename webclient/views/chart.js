/** The timing chart: scrolls by itself to the end while shooting, and can be scrubbed in Review. */

/** @import {Exposure, Shot} from "../core/types.js" */

import { framesPerSecond, secondsOf } from "../core/rate.js";
import { drawChart, FRAME_PX, indexAt, LEFT_PX } from "./chart-drawing.js";
import { make } from "./dom.js";
import { SOUND_PX } from "./sound-drawing.js";

const HEIGHT = 80;
const DRAG_PX = 6;

export class TimingChart {
  #canvas = make("canvas", { class: "chart-canvas", "aria-hidden": "true" });
  #spacer = make("div", { class: "chart-spacer" }, this.#canvas);
  #waiting = false;
  /** @type {import("./chart-drawing.js").Chart} */
  #chart = { exposures: [], starts: [0], fps: 12, selected: 0, end: true, actions: [], sound: null };
  #height = HEIGHT;
  /** @type {Exposure[]} */
  #known = [];

  /** @param {{seek?: (number: number) => void, step?: (by: number) => void}} [does]  for scrubbing */
  constructor(does = {}) {
    this.does = does;
    const role = does.seek ? { role: "slider", "aria-valuemin": 1 } : { role: "img" };
    this.element = make("div", { class: "chart", tabindex: 0, ...role, onscroll: () => this.#soon() }, this.#spacer);
    if (does.seek) this.#scrubbing();
    new ResizeObserver(() => this.#resized()).observe(this.element);
  }

  /** @param {{shot: Shot | null, exposures: Exposure[], selected?: number}} show */
  update({ shot, exposures, selected = 0 }) {
    const grown = exposures !== this.#known;
    if (grown) {
      this.#known = exposures;
      this.#chart.starts = startsOf(exposures);
    }
    const moved = selected !== this.#chart.selected;
    Object.assign(this.#chart, { exposures, selected, fps: framesPerSecond(shot?.frame_rate ?? "12"), end: !this.does.seek });
    this.#describe(shot);
    this.#size();
    if (this.does.seek ? moved || grown : grown) this.#follow();
    this.#soon();
  }

  /** The actions of the plan along it. @param {{label: string, from: number, to: number}[]} actions */
  mark(actions) {
    this.#chart.actions = actions;
    this.#soon();
  }

  /** The sound along it, which makes it taller. @param {import("../models/sound.js").SoundState} state */
  sound(state) {
    const any = state.sound !== null || Object.keys(state.marks).length > 0;
    this.#chart.sound = any ? state : null;
    this.#height = any ? HEIGHT + SOUND_PX : HEIGHT;
    this.element.toggleAttribute("data-sound", any);
    this.#resized();
  }

  get #frames() {
    return this.#chart.starts[this.#chart.starts.length - 1] ?? 0;
  }

  /** @param {Shot | null} shot */
  #describe(shot) {
    const count = this.#chart.exposures.length;
    const all = `${count} ${count === 1 ? "exposure" : "exposures"}, ${secondsOf(this.#frames, shot?.frame_rate ?? "12")}`;
    this.element.setAttribute("aria-label", `Timing chart: ${all}`);
    if (!this.does.seek) return;
    this.element.setAttribute("aria-valuemax", String(Math.max(1, count)));
    this.element.setAttribute("aria-valuenow", String(this.#chart.selected || 1));
    this.element.setAttribute("aria-valuetext", `exposure ${this.#chart.selected} of ${count}`);
  }

  #size() {
    const room = this.element.clientWidth;
    const width = LEFT_PX + this.#frames * FRAME_PX + room * 0.25;
    this.#spacer.style.width = `${Math.max(room, Math.ceil(width))}px`;
  }

  /** Keep the end, or what is selected, in sight. */
  #follow() {
    const { selected, starts } = this.#chart;
    const frame = this.does.seek ? (starts[selected - 1] ?? 0) : this.#frames;
    const x = LEFT_PX + frame * FRAME_PX;
    const { scrollLeft, clientWidth } = this.element;
    const inside = x > scrollLeft + clientWidth * 0.1 && x < scrollLeft + clientWidth * 0.8;
    if (!inside) this.element.scrollLeft = x - clientWidth * (this.does.seek ? 0.5 : 0.78);
  }

  #resized() {
    const scale = devicePixelRatio;
    this.#canvas.width = Math.max(1, this.element.clientWidth * scale);
    this.#canvas.height = this.#height * scale;
    this.#canvas.style.width = `${this.element.clientWidth}px`;
    this.#size();
    this.#follow();
    this.#soon();
  }

  #soon() {
    if (this.#waiting) return;
    this.#waiting = true;
    requestAnimationFrame(() => {
      this.#waiting = false;
      const ink = /** @type {CanvasRenderingContext2D} */ (this.#canvas.getContext("2d"));
      ink.setTransform(devicePixelRatio, 0, 0, devicePixelRatio, 0, 0);
      drawChart(ink, this.element.clientWidth, this.#height, this.element.scrollLeft, this.#chart);
    });
  }

  /** Mouse and pen drag the playhead; a finger taps it and drags the chart along, as everywhere. */
  #scrubbing() {
    let from = NaN;
    const { element } = this;
    element.addEventListener("pointerdown", (event) => {
      from = event.clientX;
      if (event.pointerType !== "touch") element.setPointerCapture(event.pointerId);
    });
    element.addEventListener("pointermove", (event) => {
      if (event.buttons && event.pointerType !== "touch") this.#seekTo(event.clientX);
    });
    element.addEventListener("pointerup", (event) => {
      if (Math.abs(event.clientX - from) < DRAG_PX) this.#seekTo(event.clientX);
    });
    element.addEventListener("keydown", (event) => this.#key(event));
  }

  /** @param {number} clientX */
  #seekTo(clientX) {
    if (!this.#chart.exposures.length) return;
    const x = clientX - this.element.getBoundingClientRect().left + this.element.scrollLeft;
    const index = indexAt(this.#chart.starts, Math.max(0, Math.round((x - LEFT_PX) / FRAME_PX)));
    this.does.seek?.(Math.min(index, this.#chart.exposures.length - 1) + 1);
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const count = this.#chart.exposures.length;
    const to = { Home: 1, End: count }[event.key];
    if (!to) return;
    event.preventDefault();
    this.does.seek?.(to);
  }
}

/** @param {Exposure[]} exposures @returns {number[]} */
function startsOf(exposures) {
  const starts = [0];
  let sum = 0;
  for (const one of exposures) starts.push((sum += one.hold));
  return starts;
}
