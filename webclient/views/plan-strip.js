/**
 * One action drawn as an animator draws it: a line with a tick for every exposure, as far apart as
 * the object moves. A hold is drawn thick. What is shot is drawn in pencil.
 */

/** @import {Action} from "../models/plan.js" */

import { draw } from "./dom.js";

const WIDE = 1000;
const MOST = 300;

/** @param {Action} action @returns {SVGElement} */
export function drawStrip(action) {
  const places = placesOf(action);
  const still = action.move === null && (action.pace === "hold" || action.exposures === 1);
  const shot = Math.min(1, action.frames_shot / action.frames);
  const parts = [line(0, WIDE, 18, still ? "strip-hold" : "strip-line")];
  if (shot) parts.push(line(0, shot * WIDE, 22, "strip-shot"));
  const done = Math.ceil(shot * places.length - 1e-9);
  const each = Math.max(1, Math.ceil(places.length / MOST));
  parts.push(tick(0, "strip-tick strip-start"));
  places.forEach((at, n) => {
    if (n % each === 0 || n === places.length - 1) parts.push(tick(at * WIDE, n < done ? "strip-tick strip-taken" : "strip-tick"));
  });
  return draw("svg", { class: "strip", viewBox: `-2 0 ${WIDE + 4} 24`, preserveAspectRatio: "none", "aria-hidden": "true" }, ...parts);
}

/** Where along the line each exposure stands, 0..1. @param {Action} action @returns {number[]} */
function placesOf(action) {
  const planned = action.targets?.map((one) => one.progress) ?? action.positions_mm;
  if (!planned?.length) return Array.from({ length: action.exposures }, (_, n) => (n + 1) / action.exposures);
  const low = Math.min(0, ...planned);
  const high = Math.max(...planned, low + 1e-9);
  return planned.map((at) => (at - low) / (high - low));
}

/** @param {number} from @param {number} to @param {number} y @param {string} name */
function line(from, to, y, name) {
  return draw("line", { x1: from, x2: to, y1: y, y2: y, class: name });
}

/** @param {number} x @param {string} name */
function tick(x, name) {
  return draw("line", { x1: x, x2: x, y1: 6, y2: 18, class: name });
}
