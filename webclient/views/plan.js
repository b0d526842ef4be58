/** Plan: the performance as actions, typed or listed; the table's scale; plan against actual; paper. */

/** @import {Desk, View} from "./desk.js" */

import { counted, secondsInWords } from "../models/plan-words.js";
import { oneOf } from "./controls.js";
import { make, setText } from "./dom.js";
import { makeActual } from "./plan-actual.js";
import { makeActions } from "./plan-actions.js";
import { makeSheets } from "./plan-sheets.js";
import { makeTable } from "./plan-table.js";
import { makeTyped } from "./plan-typed.js";

/** @type {[string, string, (desk: Desk) => View][]} */
const PARTS = [
  ["actions", "Actions", makeActions],
  ["typed", "Typed", makeTyped],
  ["table", "Table", makeTable],
  ["actual", "Actual", makeActual],
  ["sheets", "Paper", makeSheets],
];

/** @param {Desk} desk @returns {View} */
export function makePlan(desk) {
  const room = make("div", { class: "plan-room" });
  /** @type {Map<string, View>} */
  const made = new Map();
  /** @type {View | null} */
  let open = null;
  const choice = oneOf("Part of the plan", PARTS.map(([id, label]) => [id, label]), (id) => show(id), { hideLabel: true });
  choice.element.classList.add("plan-parts");

  /** @param {string} id */
  function show(id) {
    const view = made.get(id) ?? PARTS.find(([name]) => name === id)?.[2](desk);
    if (!view || view === open) return;
    made.set(id, view);
    open?.hidden?.();
    open = view;
    choice.mark(id);
    room.replaceChildren(view.element);
    view.shown?.();
  }
  const element = make("section", { class: "plan", "aria-label": "Plan" }, makeTotals(desk), room, choice.element);
  return {
    element,
    shown: () => (open ? open.shown?.() : show("actions")),
    hidden: () => open?.hidden?.(),
    key: (event) => open?.key?.(event) ?? false,
  };
}

/** One line that counts the plan, and how far the shot is in it. @param {Desk} desk */
function makeTotals(desk) {
  const sums = make("p", { class: "plan-sums" });
  const stands = make("p", { class: "plan-stands" });
  const done = make("div", { class: "plan-done" }, make("div", { class: "plan-done-part" }));
  desk.app.plan.subscribe(({ plan }) => {
    const some = plan !== null && plan.actions.length > 0;
    setText(sums, some ? `${secondsInWords(plan.duration_s)} · ${counted(plan.frame_count, "frame")} · ${counted(plan.exposure_count, "exposure")}` : "No plan yet");
    const left = plan?.where.exposures_left ?? 0;
    setText(stands, some ? (left ? `${left.toLocaleString("en")} to go` : "all shot") : "");
    const share = some ? 1 - plan.where.frames_left / plan.frame_count : 0;
    /** @type {HTMLElement} */ (done.firstChild).style.width = `${Math.max(0, Math.min(1, share)) * 100}%`;
  });
  return make("header", { class: "plan-totals" }, sums, stands, done);
}
