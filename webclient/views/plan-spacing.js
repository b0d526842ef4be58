/**
 * The chart of spacing: for every exposure a hollow mark where it was planned and a solid stroke as
 * long as it moved. Slow and fast stretches lie beneath it as a band that is named.
 */

/** @import {Report, Row} from "./plan-actual.js" */

import { draw } from "./dom.js";

const STEP = 14;
const HIGH = 120;
const TOP = 24;
const LEFT = 44;
const BAND_Y = TOP + HIGH + 10;
const BAND = 12;
const HEIGHT = BAND_Y + BAND + 38;
const NAMED = 12; // exposures between two that are numbered

/** @param {Report} report @returns {{element: SVGElement, says: string}} */
export function drawSpacing({ frames, spacing_unit: unit, plan }) {
  const moved = (/** @type {Row} */ { spacing }) => (unit === "mm" ? spacing.moved_mm : spacing.moved_px);
  const most = Math.max(1, ...frames.flatMap((row) => [moved(row) ?? 0, row.spacing.planned_mm ?? 0]));
  const y = (/** @type {number} */ value) => TOP + HIGH * (1 - value / most);
  const width = LEFT + Math.max(20, frames.length) * STEP + 24;
  const parts = [...drawScale(most, unit, width, y), ...drawNames(frames, plan.actions), ...drawBands(frames)];
  frames.forEach((row, n) => parts.push(...drawRow(row, LEFT + n * STEP + STEP / 2, moved(row), y)));
  const element = draw("svg", { class: "spacing-chart", width, height: HEIGHT, viewBox: `0 0 ${width} ${HEIGHT}` }, ...parts);
  const known = frames.filter((row) => moved(row) !== null).length;
  return { element, says: `Spacing chart: ${known} of ${frames.length} exposures measured, the widest ${most.toFixed(1)} ${unit}` };
}

/** @param {number} most @param {string} unit @param {number} width @param {(value: number) => number} y */
function drawScale(most, unit, width, y) {
  const step = niceStep(most / 3);
  const parts = [line(LEFT, y(0), width, y(0), "spacing-base")];
  for (let value = step; value <= most; value += step) parts.push(line(LEFT, y(value), width, y(value), "spacing-grid"));
  for (let value = 0; value <= most; value += step) parts.push(text(LEFT - 6, y(value) + 4, value ? String(Number(value.toFixed(2))) : `0 ${unit}`, "spacing-figure"));
  return parts;
}

/** 1, 2 or 5 times a power of ten. @param {number} wanted */
function niceStep(wanted) {
  const power = 10 ** Math.floor(Math.log10(wanted || 1));
  return power * ([1, 2, 5, 10].find((one) => one * power >= wanted) ?? 10);
}

/** Each action's name where it begins. @param {Row[]} frames @param {{id: string, label: string}[]} actions */
function drawNames(frames, actions) {
  const names = new Map(actions.map(({ id, label }) => [id, label]));
  return frames.flatMap((row, n) => {
    if (n && frames[n - 1]?.action === row.action) return [];
    const x = LEFT + n * STEP;
    return [line(x, 4, x, BAND_Y, "spacing-grid"), text(x + 4, 14, names.get(row.action ?? "") ?? "", "spacing-name")];
  });
}

/** Stretches of one speed. @param {Row[]} frames */
function drawBands(frames) {
  const parts = [];
  for (let from = 0; from < frames.length; ) {
    const band = frames[from]?.spacing.band ?? null;
    let to = from + 1;
    while (to < frames.length && frames[to]?.spacing.band === band) to++;
    if (band) parts.push(...drawBand(band, LEFT + from * STEP, (to - from) * STEP));
    from = to;
  }
  return parts;
}

/** @param {string} band @param {number} x @param {number} width */
function drawBand(band, x, width) {
  const mark = draw("rect", { x: x + 1, y: BAND_Y, width: width - 2, height: BAND, class: `band band-${band}` });
  return width < STEP * 3 ? [mark] : [mark, text(x + 4, BAND_Y + BAND + 14, band, "spacing-name")];
}

/** @param {Row} row @param {number} x @param {number | null} moved @param {(value: number) => number} y */
function drawRow({ number, spacing }, x, moved, y) {
  const parts = [];
  if (moved !== null) parts.push(line(x, y(0), x, Math.min(y(moved), y(0) - 1.5), spacing.rushed ? "moved rushed" : "moved"));
  if (spacing.planned_mm !== null) parts.push(draw("circle", { cx: x, cy: y(spacing.planned_mm), r: 4, class: "planned" }));
  if (number % NAMED === 1) parts.push(text(x - 4, HEIGHT - 6, `exposure ${number}`, "spacing-name"));
  if (spacing.rushed) parts.push(draw("path", { d: `M${x} ${y(moved ?? 0) - 14}l5 9h-10z`, class: "rushed-mark" }));
  for (const part of parts) part.append(title(`Exposure ${number}`));
  return parts;
}

/** @param {string} says */
function title(says) {
  const element = draw("title");
  element.textContent = says;
  return element;
}

/** @param {number} x1 @param {number} y1 @param {number} x2 @param {number} y2 @param {string} name */
function line(x1, y1, x2, y2, name) {
  return draw("line", { x1, y1, x2, y2, class: name });
}

/** @param {number} x @param {number} y @param {string} says @param {string} name */
function text(x, y, says, name) {
  const element = draw("text", { x, y, class: name });
  element.textContent = says;
  return element;
}
