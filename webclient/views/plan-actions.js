/** The actions in order. One at a time opens into its editor; a move is drawn in place of the list. */

/** @import {Desk, View} from "./desk.js" */
/** @import {Action, Wish} from "../models/plan.js" */

import { durationInWords, easingParts, EASINGS, onInWords } from "../models/plan-words.js";
import { button } from "./controls.js";
import { make } from "./dom.js";
import { makeEditor } from "./plan-editor.js";
import { makeMove } from "./plan-move.js";
import { drawStrip } from "./plan-strip.js";

/** @type {Wish} */
const NEW = { label: "", duration: { value: 1, unit: "s" }, on: 1, pace: null, move: null, notes: "" };

/** @param {Desk} desk @returns {View} */
export function makeActions(desk) {
  const list = make("ol", { class: "action-list" });
  const foot = make("div", { class: "plan-foot" }, button("Add an action", () => edit("new"), { icon: "plus", class: "main" }));
  const listing = make("div", { class: "plan-listing" }, make("div", { class: "plan-scroll" }, list), foot);
  const element = make("div", { class: "plan-part" }, listing);
  /** @type {string} the id of the action in the editor, "new", or "" */
  let editing = "";
  /** @type {View | null} */
  let drawing = null;

  /** @param {string} id */
  function edit(id) {
    const from = editing;
    editing = id;
    paint();
    const open = list.querySelector(".action-edit");
    open?.scrollIntoView({ block: "nearest" });
    const wanted = open ?? list.querySelector(`[data-action="${from}"]`) ?? foot;
    /** @type {HTMLElement | null} */ (wanted.querySelector("input, button"))?.focus();
  }

  function paint() {
    const plan = desk.app.plan.value.plan;
    const actions = plan?.actions ?? [];
    const rows = actions.map((one, place) => (one.id === editing ? editor(one, place) : row(one, place)));
    if (editing === "new") rows.push(editor(NEW, actions.length));
    if (!rows.length && plan) rows.push(nothing());
    list.replaceChildren(...rows);
    foot.hidden = editing !== "";
  }

  /** @param {Action} action @param {number} place */
  function row(action, place) {
    const current = desk.app.plan.value.plan?.where.action === action.id;
    const shot = action.frames_shot ? `${action.frames_shot} of ${action.frames} shot` : "";
    return make(
      "li",
      { class: "action", "data-action": action.id, "data-current": current },
      make(
        "button",
        { type: "button", class: "action-open", "aria-expanded": "false", onclick: () => edit(action.id) },
        make("span", { class: "action-place", "aria-hidden": "true" }, String(place + 1)),
        make("span", { class: "action-name" }, action.label, current && make("span", { class: "unseen" }, ", next")),
        make("span", { class: "action-long" }, `${durationInWords(action.duration)}${action.duration.unit === "frames" ? "" : ` · ${action.frames} f`}`),
        drawStrip(action),
        make("span", { class: "action-facts" }, factsOf(action)),
        make("span", { class: "action-shot" }, shot),
      ),
    );
  }

  /** @param {Wish} wish @param {number} place */
  function editor(wish, place) {
    return makeEditor(desk, wish, place, { close: () => edit(""), draw: (draft) => drawMove(draft, place) });
  }

  /** @param {Wish} draft @param {number} place */
  function drawMove(draft, place) {
    drawing = makeMove(desk, draft, place, () => {
      drawing?.hidden?.();
      drawing = null;
      element.replaceChildren(listing);
      edit("");
    });
    element.replaceChildren(drawing.element);
    drawing.shown?.();
  }

  desk.app.plan.subscribe(() => {
    const typing = editing && list.querySelector(".action-edit :is(input, textarea, select):focus");
    const gone = editing !== "new" && !desk.app.plan.value.plan?.actions.some((one) => one.id === editing);
    if (gone) editing = "";
    if (!typing || gone) paint();
  });
  return { element, shown: () => drawing?.shown?.(), hidden: () => drawing?.hidden?.() };
}

/** What there is to know of an action besides its time. @param {Action} action */
function factsOf({ move, positions_mm: placed, on, pace, notes }) {
  const kind = easingParts(move?.easing ?? "linear").kind;
  const end = placed?.[placed.length - 1];
  return [
    end === undefined ? (move ? "a move" : "") : `${Math.round(end)} mm`,
    kind === "linear" ? "" : (EASINGS.find(([name]) => name === kind)?.[0] ?? kind).replace("ticks", "by hand"),
    on > 1 ? onInWords(on) : "",
    pace ?? "",
    notes,
  ].filter(Boolean).join(" · ");
}

function nothing() {
  return make(
    "li",
    { class: "action-none" },
    make("p", {}, "Decide the performance first: one action at a time, each with its time. A wait is an action too."),
    make("p", { class: "quiet" }, "Add actions one by one, or write them all under Typed."),
  );
}
