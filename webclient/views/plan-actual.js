/** Plan against actual: planned and measured spacing side by side, what there is to say, the pace. */

/** @import {Desk, View} from "./desk.js" */

import { button, state } from "./controls.js";
import { make, setText } from "./dom.js";
import { drawSpacing } from "./plan-spacing.js";

/**
 * @typedef {object} Row
 * @property {number} number
 * @property {number} frame
 * @property {string | null} action
 * @property {{moved_px: number | null, moved_mm: number | null, planned_mm: number | null, band: string | null, rushed: boolean}} spacing
 *
 * @typedef {object} Report
 * @property {number} exposure_count
 * @property {Row[]} frames
 * @property {string} spacing_unit
 * @property {number | null} spacing_error_percent
 * @property {{remarks: {kind: string, says: string, frame: number}[], pace: {pictures: number, pictures_an_hour: number | null, median_seconds: number | null, exposures_left: number, seconds_left: number | null}, actions: {id: string, label: string}[]}} plan
 */

const MOST = 600; // exposures on the chart: the newest

/** @param {Desk} desk @returns {View} */
export function makeActual(desk) {
  const pace = make("p", { class: "actual-pace" });
  const chart = make("div", { class: "spacing", tabindex: 0, role: "img", "aria-label": "Spacing by frame" });
  const key = make("p", { class: "spacing-key quiet" });
  const remarks = make("ul", { class: "actual-remarks" });
  let shown = false;
  let counted = "";
  let turn = 0;

  async function load() {
    const open = desk.app.shot.value.shot;
    if (!open) return;
    const mine = ++turn;
    const first = Math.max(1, open.exposure_count - MOST + 1);
    await desk.app.attempt(async () => {
      /** @type {Report} */
      const report = await desk.app.service.get(`/shots/${open.id}/report?first=${first}&limit=${MOST}`);
      if (mine === turn) show(report);
    });
  }

  /** @param {Report} report */
  function show(report) {
    setText(pace, paceInWords(report.plan.pace));
    const { element, says } = drawSpacing(report);
    chart.replaceChildren(element);
    chart.setAttribute("aria-label", says);
    chart.scrollLeft = chart.scrollWidth;
    const unit = report.spacing_unit === "mm" ? `mm on the table${report.spacing_error_percent === null ? "" : `, to within ${report.spacing_error_percent} %`}` : "px of the picture; measure the table to see mm, and the plan beside it";
    setText(key, `Spacing by exposure in ${unit}. Hollow: planned. Solid: measured.`);
    const said = report.plan.remarks.map((one) => {
      const word = state();
      word.mark(one.says, "warning");
      return make("li", {}, word.element);
    });
    remarks.replaceChildren(...(said.length ? said : [make("li", { class: "quiet" }, report.exposure_count > 1 ? "Nothing to remark so far." : "Shoot some exposures; they are measured here.")]));
  }

  /** The verdicts measure, so a new verdict changes the chart too. */
  function follow() {
    const { shot, exposures } = desk.app.shot.value;
    const now = `${shot?.id} ${shot?.exposure_count} ${exposures.filter((one) => one.verdict).length} ${desk.app.plan.value.plan?.revision}`;
    if (!shown || now === counted) return;
    counted = now;
    void load();
  }
  desk.app.shot.subscribe(follow);
  desk.app.plan.subscribe(follow);
  const element = make("div", { class: "plan-scroll actual" }, pace, chart, key, remarks, button("Read again", () => void load(), { class: "quiet" }));
  return {
    element,
    shown: () => {
      shown = true;
      counted = "";
      follow();
    },
    hidden: () => void (shown = false),
  };
}

/** @param {Report["plan"]["pace"]} pace */
function paceInWords({ pictures, pictures_an_hour: hourly, exposures_left: left, seconds_left: seconds }) {
  if (hourly === null) return pictures ? "One picture so far; the pace shows with the second." : "Nothing shot yet.";
  const rest = left ? `, ${left} to go: ${timeInWords(seconds ?? 0)} at this pace` : "";
  return `${Math.round(hourly)} pictures an hour at work${rest}.`;
}

/** @param {number} seconds */
function timeInWords(seconds) {
  if (seconds < 90) return `${Math.round(seconds)} s`;
  const minutes = Math.round(seconds / 60);
  return minutes < 90 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}
