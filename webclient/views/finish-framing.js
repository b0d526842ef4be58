/** The framing: a still of the shot, and the frame that is dragged over it. */

/** @import {Desk} from "./desk.js" */
/** @import {Shape} from "../models/finish.js" */

import { atWidth } from "../core/preview.js";
import { viewOf } from "../models/finish.js";
import { oneOf } from "./controls.js";
import { draw, make, setText } from "./dom.js";
import { cornerPath } from "./mask.js";
import { slider } from "./finish-controls.js";

/** @type {[Shape, string][]} */
const SHAPES = [["source", "as shot"], ["16:9", "16:9"], ["9:16", "9:16"], ["4:5", "4:5"], ["1:1", "1:1"]];
const STEP = 0.01;

/** @param {Desk} desk */
export function makeFraming(desk) {
  const { finish, shot, review } = desk.app;
  const still = make("img", { class: "picture", alt: "A still of the shot", draggable: "false" });
  const outside = draw("path", { class: "mask-outside", "fill-rule": "evenodd" });
  const corners = draw("path", { class: "mask-corners" });
  const over = draw("svg", { class: "mask", preserveAspectRatio: "xMidYMid meet", "aria-hidden": "true" }, outside, corners);
  const picture = make("figure", { class: "finish-still", tabindex: 0, role: "group" }, still, over);
  const size = make("p", { class: "quiet" });
  const shapes = oneOf("Shape", SHAPES, (shape) => finish.patch({ shape }), { hideLabel: true });
  const zoom = slider("Zoom", { min: 1, max: 4, step: 0.05 }, (value) => finish.patch({ zoom: value }), (value) => `${value.toFixed(2)} ×`);
  let full = { width: 16, height: 9 };

  function tell() {
    const shown = review.exposure ?? shot.last;
    if (!shown) return;
    const [original] = shown.originals;
    full = { width: original?.width || 1920, height: original?.height || 1080 };
    const url = atWidth(shown.preview, 960);
    if (!still.src.endsWith(url)) still.src = url;
    paint();
  }

  function paint() {
    const wish = finish.value;
    const { x, y, w, h } = viewOf(wish, full.width, full.height);
    over.setAttribute("viewBox", `0 0 ${full.width} ${full.height}`);
    picture.style.aspectRatio = `${full.width} / ${full.height}`;
    outside.setAttribute("d", `M0 0H${full.width}V${full.height}H0ZM${x} ${y}h${w}v${h}h${-w}Z`);
    const all = w >= full.width - 1 && h >= full.height - 1;
    corners.setAttribute("d", all ? "" : cornerPath(x, y, w, h));
    // A thumb scrolls the page where the frame has no room to follow it.
    picture.dataset["moves"] = w < full.width - 1 ? (h < full.height - 1 ? "both" : "across") : h < full.height - 1 ? "down" : "none";
    shapes.mark(wish.shape);
    zoom.mark(wish.zoom);
    setText(size, `${w} × ${h} pixels of ${full.width} × ${full.height}`);
    picture.setAttribute("aria-label", `Framing, ${w} by ${h} pixels. Drag or tap to move it, or use the arrow keys.`);
  }

  /** @param {number} x @param {number} y  centre, kept where the frame has room */
  function place(x, y) {
    const { w, h } = viewOf(finish.value, full.width, full.height);
    const [roomX, roomY] = [w / full.width / 2, h / full.height / 2];
    finish.patch({ x: Math.min(1 - roomX, Math.max(roomX, x)), y: Math.min(1 - roomY, Math.max(roomY, y)) });
  }
  dragging(picture, () => finish.value, place);
  finish.subscribe(paint);
  review.subscribe(tell);
  shot.subscribe(tell);
  return make("section", { class: "finish-framing", "aria-label": "Framing" }, picture, shapes.element, zoom.element, size);
}

/**
 * Drag moves the frame along, a tap puts its middle there, arrow keys nudge it.
 *
 * @param {HTMLElement} picture @param {() => {x: number, y: number}} where @param {(x: number, y: number) => void} place
 */
function dragging(picture, where, place) {
  /** @type {{x: number, y: number, fromX: number, fromY: number, far: boolean} | null} */
  let drag = null;
  picture.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    picture.setPointerCapture(event.pointerId);
    drag = { ...where(), fromX: event.clientX, fromY: event.clientY, far: false };
  });
  picture.addEventListener("pointermove", (event) => {
    if (!drag) return;
    const { width, height } = picture.getBoundingClientRect();
    const [dx, dy] = [event.clientX - drag.fromX, event.clientY - drag.fromY];
    drag.far ||= Math.hypot(dx, dy) > 5;
    if (drag.far) place(drag.x + dx / width, drag.y + dy / height);
  });
  picture.addEventListener("pointerup", (event) => {
    const box = picture.getBoundingClientRect();
    if (drag && !drag.far) place((event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height);
    drag = null;
  });
  picture.addEventListener("pointercancel", () => (drag = null));
  picture.addEventListener("keydown", (event) => {
    const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!by) return;
    event.preventDefault();
    event.stopPropagation();
    place(where().x + STEP * (by[0] ?? 0), where().y + STEP * (by[1] ?? 0));
  });
}
