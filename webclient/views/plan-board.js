/**
 * Points on the live picture: tapped, dragged, or moved pixel by pixel with buttons or arrow keys.
 *
 * A dragged point keeps its distance from the finger, so that the finger never covers it; the
 * magnifier stands beside the picture and shows what the chosen point lies on.
 */

/** @import {Desk} from "./desk.js" */

import { NOMINAL } from "../models/plan.js";
import { button } from "./controls.js";
import { draw, make, setText } from "./dom.js";
import { PlanPicture } from "./plan-picture.js";

/** @typedef {[number, number]} Point */

/**
 * @typedef {object} Rules
 * @property {number} most  points
 * @property {string} name  of a point: "Corner", "Point"
 * @property {(at: (css: number) => number) => SVGElement[]} under  what is drawn under the points; `at` turns css px to picture px
 * @property {() => void} changed
 * @property {(event: PointerEvent, at: Point, near: number) => ((to: Point) => void) | null} [grip]  something else that can be dragged
 */

const NEAR_PX = 30;
const ARROWS = /** @type {Record<string, Point>} */ ({ ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] });

export class PointBoard {
  /** @type {Point[]} */
  points = [];
  selected = -1;
  #ink = draw("svg", { class: "board-ink", preserveAspectRatio: "none", tabindex: 0, role: "application", "aria-label": "Points on the picture: arrow keys move the chosen one" });
  #frame;
  #chosen = make("p", { class: "board-chosen", role: "status" });
  #nudge;

  /** @param {Desk} desk @param {Rules} rules */
  constructor(desk, rules) {
    this.rules = rules;
    this.picture = new PlanPicture(desk, () => this.#fit());
    this.#frame = make("div", { class: "board-frame" }, this.picture.canvas, this.#ink);
    this.element = make("div", { class: "board" }, this.#frame);
    this.#nudge = make("div", { class: "nudge", role: "group", "aria-label": "Move the chosen point by one pixel" }, ...Object.entries({ "↑": "Up", "←": "Left", "→": "Right", "↓": "Down" }).map(([sign, says]) => this.#arrow(sign, says)));
    this.beside = make("div", { class: "board-beside" }, this.picture.lens, this.#nudge, this.#chosen);
    this.#listen();
    new ResizeObserver(() => this.#fit()).observe(this.element);
  }

  shown() {
    this.picture.start();
    this.#fit();
  }

  hidden() {
    this.picture.stop();
  }

  /** The largest picture that fits. */
  #fit() {
    const { clientWidth, clientHeight } = this.element;
    if (!clientWidth) return;
    const wide = Math.min(clientWidth, clientHeight ? (clientHeight * NOMINAL) / this.picture.height : clientWidth);
    this.#frame.style.width = `${wide}px`;
    this.#frame.style.height = `${(wide * this.picture.height) / NOMINAL}px`;
    this.#ink.setAttribute("viewBox", `0 0 ${NOMINAL} ${this.picture.height}`);
    this.paint();
  }

  /** @param {Point[]} points */
  set(points) {
    this.points = points.map(([x, y]) => [x, y]);
    this.choose(Math.min(Math.max(this.selected, 0), points.length - 1));
  }

  /** @param {number} index */
  choose(index) {
    this.selected = index;
    const point = this.points[index] ?? null;
    this.picture.look(point);
    setText(this.#chosen, point ? `${this.rules.name} ${index + 1} at ${point[0].toFixed(0)}, ${point[1].toFixed(0)}; drag it, or move it by one pixel` : "Tap the picture.");
    for (const one of this.#nudge.children) /** @type {HTMLButtonElement} */ (one).disabled = !point;
    this.paint();
  }

  /** One in the middle, for hands that do not tap. */
  add(at = /** @type {Point} */ ([NOMINAL / 2 + this.points.length * 40, this.picture.height / 2])) {
    if (this.points.length >= this.rules.most) return;
    this.points.push(at);
    this.choose(this.points.length - 1);
    this.rules.changed();
  }

  remove() {
    if (this.selected < 0) return;
    this.points.splice(this.selected, 1);
    this.choose(this.points.length - 1);
    this.rules.changed();
  }

  /** @param {number} index @param {Point} to */
  #move(index, [x, y]) {
    this.points[index] = [Math.max(0, Math.min(NOMINAL, x)), Math.max(0, Math.min(this.picture.height, y))];
    this.choose(index);
    this.rules.changed();
  }

  /** @param {string} sign @param {string} says */
  #arrow(sign, says) {
    const by = ARROWS[`Arrow${says}`] ?? [0, 0];
    return make("button", { type: "button", class: `button nudge-${says.toLowerCase()}`, "aria-label": `${says} one pixel`, onclick: () => this.#shift(by, 1) }, sign);
  }

  /** @param {Point} by @param {number} times */
  #shift([dx, dy], times) {
    const point = this.points[this.selected];
    if (point) this.#move(this.selected, [point[0] + dx * times, point[1] + dy * times]);
  }

  /** css px in px of the picture @param {number} css */
  #scaled = (css) => (css * NOMINAL) / (this.#frame.clientWidth || NOMINAL);

  /** @param {PointerEvent} event @returns {Point} */
  #at(event) {
    const box = this.#frame.getBoundingClientRect();
    return [((event.clientX - box.left) * NOMINAL) / box.width, ((event.clientY - box.top) * this.picture.height) / box.height];
  }

  /** @param {Point} at @returns {number} the point nearest, -1 when none is near */
  #nearest(at) {
    const far = this.points.map(([x, y]) => Math.hypot(x - at[0], y - at[1]));
    const least = Math.min(...far);
    return least <= this.#scaled(NEAR_PX) ? far.indexOf(least) : -1;
  }

  #listen() {
    /** @type {((to: Point) => void) | null} */
    let drag = null;
    this.#ink.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      drag = this.#take(event, this.#at(event));
      if (drag) this.#ink.setPointerCapture(event.pointerId);
    });
    this.#ink.addEventListener("pointermove", (event) => drag?.(this.#at(event)));
    for (const end of ["pointerup", "pointercancel"]) this.#ink.addEventListener(end, () => (drag = null));
    this.#ink.addEventListener("keydown", (event) => this.#key(event));
  }

  /** What this touch drags. @param {PointerEvent} event @param {Point} at @returns {((to: Point) => void) | null} */
  #take(event, at) {
    const other = this.rules.grip?.(event, at, this.#scaled(NEAR_PX));
    if (other) return other;
    let index = this.#nearest(at);
    if (index < 0 && this.points.length < this.rules.most) this.add(at);
    if (index < 0) index = this.selected;
    const point = this.points[index];
    if (!point) return null;
    this.choose(index);
    const [dx, dy] = [point[0] - at[0], point[1] - at[1]];
    return (to) => this.#move(index, [to[0] + dx, to[1] + dy]);
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const by = ARROWS[event.key];
    if (!by || this.selected < 0) return;
    event.preventDefault();
    event.stopPropagation();
    this.#shift(by, event.shiftKey ? 10 : 1);
  }

  paint() {
    this.#ink.replaceChildren(...this.rules.under(this.#scaled), ...this.points.map((point, index) => this.#handle(point, index)));
  }

  /** @param {Point} point @param {number} index */
  #handle([x, y], index) {
    const on = index === this.selected;
    const r = this.#scaled(on ? 10 : 5);
    const cross = `M${x - r} ${y}H${x - r / 3}M${x + r / 3} ${y}H${x + r}M${x} ${y - r}V${y - r / 3}M${x} ${y + r / 3}V${y + r}`;
    const label = draw("text", { x: x + r * 1.2, y: y - r * 1.2, "font-size": this.#scaled(13), class: "handle-name" });
    label.textContent = String(index + 1);
    return draw("g", { class: on ? "handle handle-on" : "handle", "aria-hidden": "true" }, draw("circle", { cx: x, cy: y, r: r * 1.35, class: "handle-edge" }), draw("circle", { cx: x, cy: y, r: r * 1.35 }), draw("path", { d: cross }), label);
  }

  /** @returns {HTMLElement[]} for those who do not tap */
  get buttons() {
    return [button("Add a point", () => this.add()), button("Take it away", () => this.remove())];
  }

  /** @returns {HTMLElement} the buttons that choose a point */
  stepping() {
    return button("Next point", () => this.choose(this.points.length ? (this.selected + 1) % this.points.length : -1));
  }
}
