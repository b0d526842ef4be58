/**
 * One figure by exposure, as SVG: a line or bars over the shot, its limit dashed, flaws as triangles.
 *
 * A long shot has more exposures than the chart has columns: then each column shows its largest.
 */

/** @import {Series} from "../models/report.js" */

import { figure, topOf } from "../models/report.js";
import { button } from "./controls.js";
import { draw, make } from "./dom.js";

const WIDEST = 980;
const HEIGHT = 104;
const PLOT = { left: 4, right: 4, top: 18, bottom: 16 };
const MOST_COLUMNS = 320;

/** @param {Series} series @param {(number: number) => void} seek */
export function makeReportChart(series, seek) {
  const width = Math.min(WIDEST, innerWidth - 32); // a drawing unit is about a pixel
  const columns = Math.min(MOST_COLUMNS, Math.max(1, series.values.length));
  const plot = plotOf(series, columns, width);
  const svg = draw(
    "svg",
    { viewBox: `0 0 ${width} ${HEIGHT}`, class: "report-chart", preserveAspectRatio: "none", "aria-hidden": "true" },
    ...rules(series, plot),
    ...(series.how === "bars" ? bars(series, plot) : line(series, plot)),
    ...flaws(series, plot),
  );
  svg.addEventListener("click", (event) => {
    const box = svg.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * width;
    const column = Math.round((x - PLOT.left) / plot.step - 0.5);
    seek(numberAt(series, columns, Math.max(0, Math.min(columns - 1, column))));
  });
  return make("figure", { class: "report-figure", "data-watch": series.watch }, caption(series, seek), svg);
}

/** @typedef {{x: (column: number) => number, y: (value: number) => number, step: number, columns: number, width: number}} Plot */

/** @param {Series} series @param {number} columns @param {number} width px @returns {Plot} */
function plotOf(series, columns, width) {
  const top = topOf(series) * 1.05;
  const step = (width - PLOT.left - PLOT.right) / columns;
  const room = HEIGHT - PLOT.top - PLOT.bottom;
  const zero = series.signed ? PLOT.top + room / 2 : PLOT.top + room;
  const reach = series.signed ? room / 2 : room;
  return { x: (column) => PLOT.left + (column + 0.5) * step, y: (value) => zero - (value / top) * reach, step, columns, width };
}

/** In words, with the way to the first flaw. @param {Series} series @param {(number: number) => void} seek */
function caption(series, seek) {
  const known = series.values.filter((value) => value !== null && value !== undefined);
  const largest = known.reduce((a, b) => Math.max(/** @type {number} */ (a), Math.abs(/** @type {number} */ (b))), 0) ?? 0;
  const count = series.flagged.filter(Boolean).length;
  const limit = series.limit === null ? "" : ` · told from ${figure(series.limit)}`;
  const says = known.length ? `up to ${figure(largest)} ${series.unit}${limit}` : "not measured yet";
  const first = series.flagged.indexOf(true) + 1;
  const flagged = count > 0 && button(`▲ ${count} flagged`, () => seek(first), { class: "report-flagged", hint: `Show exposure ${first}` });
  return make("figcaption", {}, make("h2", {}, series.title), make("span", { class: "quiet" }, says), flagged);
}

/** @param {Series} series @param {Plot} plot */
function rules(series, plot) {
  const across = (/** @type {number} */ value, /** @type {string} */ kind) =>
    draw("line", { x1: 0, x2: plot.width, y1: plot.y(value), y2: plot.y(value), class: kind });
  const found = [across(0, "report-zero")];
  if (series.limit === null) return found;
  found.push(across(series.limit, "report-limit"));
  if (series.signed) found.push(across(-series.limit, "report-limit"));
  return found;
}

/** @param {Series} series @param {Plot} plot */
function line(series, plot) {
  let path = "";
  let drawn = false;
  for (let column = 0; column < plot.columns; column++) {
    const value = valueAt(series.values, plot.columns, column);
    path += value === null ? "" : `${drawn ? "L" : "M"}${plot.x(column).toFixed(1)} ${plot.y(value).toFixed(1)}`;
    drawn = value !== null;
  }
  return [draw("path", { d: path, class: "report-line" })];
}

/** @param {Series} series @param {Plot} plot */
function bars(series, plot) {
  const thick = Math.max(1.5, Math.min(14, plot.step * 0.6));
  let moved = "";
  let planned = "";
  for (let column = 0; column < plot.columns; column++) {
    const value = valueAt(series.values, plot.columns, column);
    if (value !== null) moved += `M${plot.x(column).toFixed(1)} ${plot.y(0)}V${plot.y(value).toFixed(1)}`;
    const wanted = valueAt(series.planned ?? [], plot.columns, column);
    if (wanted !== null) planned += `M${(plot.x(column) - plot.step / 2).toFixed(1)} ${plot.y(wanted).toFixed(1)}h${plot.step.toFixed(1)}`;
  }
  return [draw("path", { d: moved, class: "report-bars", "stroke-width": thick }), draw("path", { d: planned, class: "report-planned" })];
}

/** A triangle at the foot of each column that holds a flaw. @param {Series} series @param {Plot} plot */
function flaws(series, plot) {
  let path = "";
  for (let column = 0; column < plot.columns; column++) {
    if (!within(series.flagged, plot.columns, column).some(Boolean)) continue;
    path += `M${plot.x(column).toFixed(1)} ${HEIGHT - 12}l5 10h-10z`;
  }
  return [draw("path", { d: path, class: "report-flaw" })];
}

/** @template T @param {T[]} values @param {number} columns @param {number} column @returns {T[]} */
function within(values, columns, column) {
  const from = Math.floor((column * values.length) / columns);
  return values.slice(from, Math.max(from + 1, Math.floor(((column + 1) * values.length) / columns)));
}

/** The value farthest from zero in a column. @param {(number | null)[]} values @param {number} columns @param {number} column */
function valueAt(values, columns, column) {
  /** @type {number | null} */
  let found = null;
  for (const value of within(values, columns, column)) {
    if (typeof value === "number" && (found === null || Math.abs(value) > Math.abs(found))) found = value;
  }
  return found;
}

/** The number of the exposure behind a column. @param {Series} series @param {number} columns @param {number} column */
function numberAt(series, columns, column) {
  const from = Math.floor((column * series.values.length) / columns);
  const first = within(series.flagged, columns, column).indexOf(true);
  return from + Math.max(0, first) + 1;
}
