/** A move over the picture: its path, and a tick across it for every exposure. */

/** @import {Action} from "../models/plan.js" */

import { draw } from "./dom.js";

/** @typedef {[number, number]} Point */

/**
 * @param {Action | undefined} action @param {Point[]} path  empty: along the targets
 * @param {(css: number) => number} scaled  css px in px of the picture
 * @param {number} [chosen]  index of the tick that is marked
 * @returns {SVGElement[]}
 */
export function drawTicks(action, path, scaled, chosen = -1) {
  const spots = spotsOf(action);
  if (!spots.length) return [];
  const line = path.length > 1 ? path : spots;
  const d = `M${line.map((one) => one.join(" ")).join("L")}`;
  const way = spots.map((spot, n) => across(spot, spots[n - 1] ?? line[0] ?? spot, spots[n + 1] ?? spot, scaled(n % 2 ? 5 : 8)));
  const marks = way.map((one) => one).join("");
  const on = chosen >= 0 && way[chosen];
  return [
    draw("path", { d, class: "ink-edge" }),
    draw("path", { d, class: "ink-path" }),
    draw("path", { d: marks, class: "ink-edge" }),
    draw("path", { d: marks, class: "ink-ticks" }),
    ...(on ? [draw("path", { d: on, class: "ink-chosen" })] : []),
  ];
}

/** Where each exposure stands on the picture. @param {Action | undefined} action @returns {Point[]} */
export function spotsOf(action) {
  return /** @type {Point[]} */ ((action?.targets ?? []).map((one) => one.picture_px).filter(Boolean));
}

/** A short line across the way from one spot to the next. @param {Point} at @param {Point} from @param {Point} to @param {number} half */
function across([x, y], from, to, half) {
  const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
  const long = Math.hypot(dx, dy) || 1;
  const [ux, uy] = [(-dy / long) * half, (dx / long) * half];
  return `M${x - ux} ${y - uy}L${x + ux} ${y + uy}`;
}

/** How far along the path, 0..1, it comes nearest to a point. @param {Point[]} path  of equal steps @param {Point} to */
export function nearestOn(path, to) {
  let [best, least] = [0, Infinity];
  for (let n = 1; n < path.length; n++) {
    const [a, b] = [/** @type {Point} */ (path[n - 1]), /** @type {Point} */ (path[n])];
    const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
    const share = Math.max(0, Math.min(1, ((to[0] - a[0]) * dx + (to[1] - a[1]) * dy) / (dx * dx + dy * dy || 1)));
    const far = Math.hypot(a[0] + share * dx - to[0], a[1] + share * dy - to[1]);
    if (far < least) [best, least] = [(n - 1 + share) / (path.length - 1), far];
  }
  return best;
}
