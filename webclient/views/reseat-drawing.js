/**
 * Over the live picture: a ring where the picture has to lie, and a cross where it lies now. The hand
 * walks the cross into the ring. Distances are drawn by their logarithm, so that the last tenths of a
 * pixel show as well as the first twenty.
 */

/** @import {Seat} from "../models/watches.js" */

import { draw } from "./dom.js";

const WIDTH = 1600;
const RING = 60;
const WITHIN_PX = 0.3;
const FARTHEST_PX = 40;

export function makeReseatDrawing() {
  const ring = draw("circle", { r: RING, class: "seat-ring" });
  const ticks = draw("path", { d: `M${-RING - 30} 0h60M${RING - 30} 0h60M0 ${-RING - 30}v60M0 ${RING - 30}v60`, class: "seat-ticks" });
  const arrow = draw("path", { class: "seat-arrow" });
  const turn = draw("path", { class: "seat-arrow" });
  const cross = draw("g", { class: "seat-cross" }, draw("path", { d: "M-150 0H150M0-110V110M-26-26l52 52M26-26l-52 52" }));
  const scene = draw("g", {}, ticks, ring, arrow, turn, cross);
  const element = draw("svg", { class: "seat", preserveAspectRatio: "xMidYMid meet", "aria-hidden": "true" }, scene);

  /** @param {number} width @param {number} height of the live picture */
  function fit(width, height) {
    const tall = (WIDTH * height) / width;
    element.setAttribute("viewBox", `${-WIDTH / 2} ${-tall / 2} ${WIDTH} ${tall}`);
  }

  /** @param {Seat} seat */
  function show(seat) {
    element.dataset["state"] = !seat.on || !seat.known ? "unknown" : seat.within ? "within" : "off";
    const { shift_x_px: dx = 0, shift_y_px: dy = 0, turn_deg: degrees = 0 } = seat;
    const [x, y] = placed(dx, dy);
    const lean = Math.sign(degrees) * Math.min(35, 16 * Math.log1p(Math.abs(degrees) / 0.02));
    cross.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(${lean.toFixed(1)})`);
    arrow.setAttribute("d", arrowTo(x, y));
    turn.setAttribute("d", Math.abs(degrees) * Math.PI / 180 * 960 > WITHIN_PX ? turnBack(degrees) : "");
  }
  fit(16, 9);
  show({ on: false, says: "" });
  return { element, fit, show };
}

/** @param {number} dx px @param {number} dy px @returns {[number, number]} where the cross is drawn */
function placed(dx, dy) {
  const off = Math.hypot(dx, dy);
  if (off === 0) return [0, 0];
  const reach = RING + (340 - RING) * (Math.log(Math.max(off, WITHIN_PX) / WITHIN_PX) / Math.log(FARTHEST_PX / WITHIN_PX));
  const length = off < WITHIN_PX ? (RING * off) / WITHIN_PX : Math.min(340, reach);
  return [(dx / off) * length, (dy / off) * length];
}

/** From the cross to the ring: the way that the picture has to go. @param {number} x @param {number} y */
function arrowTo(x, y) {
  const length = Math.hypot(x, y);
  if (length < RING + 40) return "";
  const [ux, uy] = [-x / length, -y / length];
  const [ex, ey] = [-ux * (RING + 10), -uy * (RING + 10)];
  const head = `M${ex + (-ux - uy) * 26} ${ey + (-uy + ux) * 26}L${ex} ${ey}L${ex + (-ux + uy) * 26} ${ey + (-uy - ux) * 26}`;
  return `M${x} ${y}L${ex} ${ey}${head}`;
}

/** A bent arrow at the ring's shoulder: the way that the picture has to turn. @param {number} degrees */
function turnBack(degrees) {
  const r = 200;
  const back = degrees > 0 ? -1 : 1; // clockwise is positive on the screen
  const at = (/** @type {number} */ angle) => [r * Math.sin(angle), -r * Math.cos(angle)];
  const [x0 = 0, y0 = 0] = at(-0.5 * back);
  const [x1 = 0, y1 = 0] = at(0.5 * back);
  const heading = 0.5 * back + (back > 0 ? Math.PI / 2 : -Math.PI / 2) - Math.PI / 2;
  const wing = (/** @type {number} */ side) => [x1 - 34 * Math.cos(heading + side), y1 - 34 * Math.sin(heading + side)];
  const [a, b] = [wing(0.6), wing(-0.6)];
  return `M${x0} ${y0}A${r} ${r} 0 0 ${back > 0 ? 1 : 0} ${x1} ${y1}M${a[0]} ${a[1]}L${x1} ${y1}L${b[0]} ${b[1]}`;
}
