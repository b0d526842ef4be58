/** One action in its editor. Nothing is kept before Save; the service refuses what cannot be. */

/** @import {Desk} from "./desk.js" */
/** @import {Action, Move, Wish} from "../models/plan.js" */

import { EASINGS, easingParts } from "../models/plan-words.js";
import { button, field, oneOf } from "./controls.js";
import { make } from "./dom.js";

/** @typedef {{close: () => void, draw: (draft: Wish) => void}} Does */

const PACES = ["", "hold", "slow", "medium", "fast"];
const FIRST_NUMBERS = /** @type {Record<string, string>} */ ({ bezier: "0.42 0 0.58 1", bounce: "0.6 3", ticks: "" });

/** @param {Desk} desk @param {Wish | Action} wish @param {number} place @param {Does} does */
export function makeEditor(desk, wish, place, does) {
  const form = makeFields(wish);
  const { plan } = desk.app;
  const save = () => desk.app.attempt(async () => {
    await plan.put(plan.with(form.read(), place));
    does.close();
  });
  return make(
    "li",
    { class: "action action-edit", "data-action": wish.id ?? "new" },
    make(
      "form",
      { onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); void save(); } },
      ...form.elements,
      make(
        "div",
        { class: "row action-does" },
        make("button", { type: "submit", class: "button main" }, "Save"),
        button("Draw the move", () => does.draw(form.read()), { icon: "plan" }),
        button("Close", does.close),
      ),
      "frames" in wish && makeEdits(desk, wish, place, does),
    ),
  );
}

/** @param {Wish} wish */
function makeFields(wish) {
  const name = make("input", { value: wish.label, maxlength: 200, required: true, placeholder: "what happens" });
  const value = make("input", { value: wish.duration.value, inputmode: "decimal", required: true, size: 4 });
  let unit = wish.duration.unit;
  const units = oneOf("Unit", /** @type {[string, string][]} */ ([["s", "s"], ["frames", "frames"], ["beats", "beats"]]), (chosen) => units.mark((unit = /** @type {typeof unit} */ (chosen))), { hideLabel: true });
  let on = wish.on;
  const ons = oneOf("Shoot on", /** @type {[number, string][]} */ ([[1, "ones"], [2, "twos"], [3, "threes"], [4, "fours"]]), (chosen) => ons.mark((on = chosen)));
  units.mark(unit);
  ons.mark(on);
  const pace = paceField(wish.pace);
  const move = moveFields(wish.move);
  const notes = make("textarea", { rows: 2, maxlength: 2000 });
  notes.value = wish.notes;
  const read = () => ({
    id: wish.id ?? null,
    label: name.value,
    duration: { value: value.value.trim().replace(",", "."), unit },
    on,
    pace: pace.read(),
    move: move.read(),
    notes: notes.value,
  });
  const lasts = make("div", { class: "action-lasts" }, field("Lasts", value), units.element);
  return { read, elements: [field("Action", name), lasts, ons.element, pace.element, ...move.elements, field("Notes", notes)] };
}

/** @param {string | null} pace */
function paceField(pace) {
  const known = PACES.includes(pace ?? "");
  const choices = known ? PACES : [...PACES, pace ?? ""];
  const control = make("select", {}, ...choices.map((one) => make("option", { value: one }, one || "as it comes")));
  control.value = pace ?? "";
  return { element: field("Pace", control), read: () => control.value || null };
}

/** Length and easing; a drawn path stays as it was drawn. @param {Move | null} move */
function moveFields(move) {
  const { kind, numbers } = easingParts(move?.easing ?? "linear");
  const length = make("input", { value: move?.length_mm ?? "", inputmode: "decimal", placeholder: move?.points.length ? "as drawn" : "nothing moves" });
  const easing = make("select", {}, ...EASINGS.map(([value, label]) => make("option", { value }, label)));
  const figures = make("input", { value: numbers, inputmode: "decimal" });
  easing.value = kind;
  const more = field("Numbers", figures);
  const fit = () => (more.hidden = !(easing.value in FIRST_NUMBERS));
  easing.addEventListener("change", () => {
    figures.value = FIRST_NUMBERS[easing.value] ?? "";
    fit();
  });
  fit();
  const read = () => {
    const mm = length.value.trim().replace(",", ".") || null;
    if (mm === null && !move?.points.length) return null;
    const words = `${easing.value} ${figures.value.trim()}`.trim();
    return { points: [], curve: /** @type {"straight"} */ ("straight"), ...move, length_mm: mm, easing: easing.value in FIRST_NUMBERS ? words : easing.value };
  };
  return { elements: [field("Moves mm", length), field("Easing", easing), more], read };
}

/** What is done to a whole action. @param {Desk} desk @param {Action} action @param {number} place @param {Does} does */
function makeEdits(desk, action, place, does) {
  const { plan } = desk.app;
  const last = (plan.value.plan?.actions.length ?? 1) - 1;
  /** @param {Record<string, unknown>} edit */
  const run = (edit) => void desk.app.attempt(async () => {
    await plan.edit({ action: action.id, ...edit });
    does.close();
  });
  const after = make("input", { type: "number", min: 1, max: action.frames - 1, value: Math.max(1, Math.floor(action.frames / 2)) });
  const earlier = button("Earlier", () => run({ op: "reorder", place: place - 1 }));
  const later = button("Later", () => run({ op: "reorder", place: place + 1 }));
  earlier.disabled = place === 0;
  later.disabled = place >= last;
  /** @param {number} by */
  const stretch = (by) => run({ op: "stretch", duration: { value: action.frames + by, unit: "frames" } });
  const shorter = button("One frame less", () => stretch(-1));
  shorter.disabled = action.frames < 2;
  const cut = button("Split", () => run({ op: "split", frames: Number(after.value) }));
  cut.disabled = action.frames < 2;
  return make(
    "fieldset",
    { class: "action-edits" },
    make("legend", {}, "The whole action"),
    make("div", { class: "row" }, earlier, later, shorter, button("One frame more", () => stretch(1))),
    make("div", { class: "action-split" }, field(`Split after frame (of ${action.frames})`, after), cut),
    button("Delete the action", () => run({ op: "delete" }), { class: "danger" }),
  );
}
