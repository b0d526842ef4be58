/** The report on the shot: the worst first, then light, rig, focus and spacing by exposure. */

/** @import {Desk, View} from "./desk.js" */
/** @import {Report, Worst} from "../models/report.js" */

import { fetchReport, paceInWords, seriesOf } from "../models/report.js";
import { button, state } from "./controls.js";
import { make } from "./dom.js";
import { icon } from "./icons.js";
import { makeReportChart } from "./report-chart.js";

const SOON_MS = 400;

/** @param {Desk} desk @returns {View} */
export function makeReport(desk) {
  const { app } = desk;
  const body = make("div", { class: "report-parts" });
  const element = make(
    "section",
    { class: "report scroll", "aria-label": "Report" },
    make("header", { class: "report-head" }, make("h1", {}, "Report"), button("Back to Review", () => desk.go("review"))),
    body,
  );
  let seen = false;
  let turn = 0;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let soon;

  async function load() {
    const shot = app.shot.value.shot?.id;
    if (!shot || !seen) return;
    const mine = ++turn;
    await app.attempt(async () => {
      const report = await fetchReport(app.service, shot);
      if (mine === turn) body.replaceChildren(...parts(desk, report));
    });
  }

  app.shot.subscribe(() => {
    clearTimeout(soon);
    if (seen) soon = setTimeout(() => void load(), SOON_MS);
  });
  return {
    element,
    shown() { seen = true; void load(); },
    hidden() { seen = false; clearTimeout(soon); },
  };
}

/** @param {Desk} desk @param {Report} report */
function parts(desk, report) {
  const seek = (/** @type {number} */ number) => {
    void desk.app.attempt(() => desk.app.review.seek(number));
    desk.go("review");
  };
  if (!report.exposure_count) return [make("p", {}, "Nothing to report yet: the shot has no exposure.")];
  return [
    worstFirst(report, seek),
    plan(report),
    ...seriesOf(report).map((series) => makeReportChart(series, seek)),
    make("p", { class: "quiet" }, legend(report)),
  ];
}

/** @param {Report} report @param {(number: number) => void} seek */
function worstFirst({ worst, exposure_count: count }, seek) {
  const head = state();
  const flaws = worst.length === 1 ? "1 flaw" : `${worst.length} flaws`;
  head.mark(worst.length ? `${flaws} in ${count} exposures, worst first` : `No flaw in ${count} exposures`, worst.length ? "warning" : "clear");
  return make(
    "section",
    { class: "report-worst" },
    make("p", { role: "status" }, head.element),
    make("ol", {}, ...worst.map((one) => make("li", {}, row(one, seek)))),
  );
}

/** @param {Worst} one @param {(number: number) => void} seek */
function row(one, seek) {
  const until = one.number + one.count - 1;
  const where = one.count > 1 ? `${one.number} to ${until}` : String(one.number);
  return make(
    "button",
    { type: "button", class: "report-row", onclick: () => seek(one.number) },
    make("span", { class: "report-where" }, where),
    make("span", { class: "report-what state", "data-tone": "warning" }, icon("warning", 16), make("span", {}, one.watch)),
    make("span", { class: "report-says" }, one.says),
  );
}

/** Plan against actual. @param {Report} report */
function plan(report) {
  const lines = [paceInWords(report), ...report.plan.remarks.map((one) => one.says)].filter(Boolean);
  return make("section", { class: "report-plan" }, make("h2", {}, "Against the plan"), ...lines.map((one) => make("p", {}, one)));
}

/** @param {Report} report */
function legend(report) {
  const error = report.spacing_error_percent;
  const spacing = report.spacing_unit === "mm" ? `Spacing in mm of table${error === null ? "" : `, within ${error} %`}; the plan’s steps are the pale strokes.` : "Spacing in pixels: calibrate the table in Plan for mm.";
  return `Dashed: from there on a change is told. ▲ flagged. Tap a chart to go to that exposure. ${spacing}`;
}
