/** Before and after, as the export measured it: the curves of light and place, and their figures. */

import { draw, make } from "./dom.js";

/**
 * @typedef {object} Side
 * @property {number | null} flicker_percent
 * @property {number | null} jitter_px
 * @property {number[]} levels  natural logarithms
 * @property {[number, number][]} shifts_px
 */

const HEIGHT = 48;
const LENGTH = 300;

/** @param {{before?: Side, after?: Side}} figures @returns {HTMLElement[]} */
export function makeFigures({ before, after }) {
  if (!before || !after) return [];
  const light = (/** @type {Side} */ side) => beside(side.levels.map((one) => 100 * Math.expm1(one)));
  const place = (/** @type {Side} */ side) => {
    const [x, y] = [beside(side.shifts_px.map((one) => one[0])), beside(side.shifts_px.map((one) => one[1]))];
    return x.map((one, at) => Math.hypot(one, y[at] ?? 0));
  };
  return [
    makeCurve("Flicker", before.flicker_percent, after.flicker_percent, "%", light(before), light(after)),
    makeCurve("Jitter", before.jitter_px, after.jitter_px, "px", place(before), place(after)),
  ];
}

/**
 * @param {string} title @param {number | null} old @param {number | null} now @param {string} unit
 * @param {number[]} before @param {number[]} after
 */
function makeCurve(title, old, now, unit, before, after) {
  const told = (/** @type {number | null} */ value) => (value === null ? "cannot be told" : `${digits(value)} ${unit}`);
  const better = old !== null && now !== null && now < old;
  const same = old !== null && now !== null && now > Math.max(old, 0.02);
  const words = `${told(old)} before, ${told(now)} after${same ? ": no better" : ""}`;
  const top = Math.max(...before.map(Math.abs), ...after.map(Math.abs), 1e-6);
  const low = Math.min(0, ...before, ...after) < 0 ? -top : 0;
  const line = (/** @type {number[]} */ values, /** @type {string} */ name) =>
    draw("path", { class: name, d: pathOf(values, low, top), "vector-effect": "non-scaling-stroke" });
  return make(
    "figure",
    { class: "finish-curve" },
    make("figcaption", {}, make("span", {}, title), make("span", { class: better ? "figure-better" : "quiet" }, words)),
    draw(
      "svg",
      { viewBox: `0 -3 ${LENGTH} ${HEIGHT + 6}`, preserveAspectRatio: "none", role: "img", "aria-label": `${title} by exposure: ${words}` },
      line(before, "curve-before"), line(after, "curve-after"),
    ),
  );
}

/** @param {number[]} values @param {number} low @param {number} top */
function pathOf(values, low, top) {
  const y = (/** @type {number} */ value) => HEIGHT * (1 - (value - low) / (top - low));
  const across = LENGTH / Math.max(1, values.length - 1);
  return values.map((value, at) => `${at ? "L" : "M"}${(at * across).toFixed(1)} ${y(value).toFixed(1)}`).join("");
}

/** Beside their mean. @param {number[]} values */
function beside(values) {
  const mean = values.reduce((sum, one) => sum + one, 0) / Math.max(1, values.length);
  return values.map((one) => one - mean);
}

/** @param {number} value */
function digits(value) {
  return value >= 10 ? value.toFixed(1) : value >= 0.1 ? value.toFixed(2) : value.toFixed(3);
}
