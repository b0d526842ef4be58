/** The frame of the screen that the film is for, drawn over the picture: outside of it is dimmed. */

import { draw } from "./dom.js";

export function makeMask() {
  const outside = draw("path", { class: "mask-outside", "fill-rule": "evenodd" });
  const corners = draw("path", { class: "mask-corners" });
  const element = draw("svg", { class: "mask", preserveAspectRatio: "xMidYMid meet", "aria-hidden": "true" }, outside, corners);
  let size = { width: 16, height: 9 };
  let ratio = "";

  function paint() {
    const { width, height } = size;
    element.setAttribute("viewBox", `0 0 ${width} ${height}`);
    const frame = inside(width, height, ratio);
    element.toggleAttribute("hidden", !frame);
    if (!frame) return;
    const { x, y, w, h } = frame;
    outside.setAttribute("d", `M0 0H${width}V${height}H0ZM${x} ${y}h${w}v${h}h${-w}Z`);
    corners.setAttribute("d", cornerPath(x, y, w, h));
  }

  return {
    element,
    /** @param {number} width @param {number} height px of the picture */
    fit(width, height) {
      if (width === size.width && height === size.height) return;
      size = { width, height };
      paint();
    },
    /** @param {string} chosen "16:9" or "" */
    choose(chosen) {
      ratio = chosen;
      paint();
    },
  };
}

/** @param {number} width @param {number} height @param {string} ratio */
export function inside(width, height, ratio) {
  const [across = 0, down = 0] = ratio.split(":").map(Number);
  if (!across || !down) return null;
  const w = Math.min(width, (height * across) / down);
  const h = (w * down) / across;
  return { x: (width - w) / 2, y: (height - h) / 2, w, h };
}

/** @param {number} x @param {number} y @param {number} w @param {number} h */
export function cornerPath(x, y, w, h) {
  const s = Math.min(w, h) / 10;
  const [r, b] = [x + w, y + h];
  return (
    `M${x} ${y + s}V${y}H${x + s}M${r - s} ${y}H${r}V${y + s}` +
    `M${r} ${b - s}V${b}H${r - s}M${x + s} ${b}H${x}V${b - s}`
  );
}
