/** Over the live picture in Shoot: where the object goes for the next exposure, and how far that is. */

/** @import {Desk} from "./desk.js" */

import { NOMINAL } from "../models/plan.js";
import { nextStep, stepInWords } from "../models/plan-words.js";
import { state } from "./controls.js";
import { draw, make } from "./dom.js";
import { drawTicks, spotsOf } from "./plan-ticks.js";

/** @param {Desk} desk @returns {HTMLElement} */
export function makeTarget(desk) {
  const ink = draw("svg", { class: "target-ink", preserveAspectRatio: "xMidYMid meet", "aria-hidden": "true" });
  const says = state();
  const element = make("div", { class: "target" }, ink, make("p", { class: "target-says" }, says.element));
  const { plan } = desk.app;
  let size = { width: 16, height: 9 };

  function paint() {
    const now = plan.value.plan;
    const action = plan.current;
    const armed = desk.app.shot.value.armed.kind === "append";
    const spots = armed && now ? spotsOf(action) : [];
    const wide = now?.calibration?.picture_width ?? NOMINAL;
    ink.setAttribute("viewBox", `0 0 ${wide} ${(wide * size.height) / size.width}`);
    const mm = armed && now && action?.move ? nextStep(action, now.where) : null;
    const due = now?.calibration_due ? ", by a scale that is due again: the camera moved" : "";
    says.mark(mm === null ? "" : `${action?.label}: ${stepInWords(mm)} from the last pose${due}`, due ? "warning" : "plain");
    const at = now && spots[now.where.exposure - 1];
    const scaled = (/** @type {number} */ css) => (css * wide) / (ink.clientWidth || 390);
    ink.replaceChildren(...(at ? [...drawTicks(action, [], scaled), ...drawTarget(at, scaled)] : []));
    if (at) element.dataset["at"] = at.map((one) => one.toFixed(1)).join(" ");
    else delete element.dataset["at"];
  }
  plan.subscribe(paint);
  desk.app.shot.subscribe(paint);
  desk.live.state.subscribe(({ width, height }) => {
    if (width * size.height === height * size.width) return;
    size = { width, height };
    paint();
  });
  new ResizeObserver(paint).observe(element);
  return element;
}

/** A ring that leaves the object in sight. @param {[number, number]} at @param {(css: number) => number} scaled */
function drawTarget([x, y], scaled) {
  const r = scaled(13);
  const d = `M${x - r * 1.7} ${y}H${x - r * 0.6}M${x + r * 0.6} ${y}H${x + r * 1.7}M${x} ${y - r * 1.7}V${y - r * 0.6}M${x} ${y + r * 0.6}V${y + r * 1.7}`;
  return ["target-edge", "target-line"].flatMap((name) => [draw("circle", { cx: x, cy: y, r, class: name }), draw("path", { d, class: name })]);
}
