/** What can be done to the exposure that is shown; every edit can be taken back. */

/** @import {Desk} from "./desk.js" */
/** @import {Exposure} from "../core/types.js" */

import { button, stepper } from "./controls.js";
import { make } from "./dom.js";
import { makeSoundPanel } from "./sound-panel.js";

/** @param {Desk} desk */
export function makeEdits(desk) {
  const { app } = desk;
  const { review, shot } = app;
  /** @param {(exposure: Exposure) => unknown} act */
  const withShown = (act) => () => {
    const shown = review.exposure;
    if (shown) void app.attempt(async () => act(shown));
  };
  const remove = button("Delete", withShown((one) => removeOne(desk, one)), { class: "danger" });
  const retake = button("Retake", withShown((one) => arm(desk, "retake", one)));
  const insert = button("Insert", withShown((one) => arm(desk, "insert", one)));
  insert.setAttribute("aria-label", "Insert after this exposure");
  const note = button("Note", withShown((one) => noteDialog.open(one)));
  const hold = stepper("Hold", (by) => {
    const shown = review.exposure;
    if (shown) void app.attempt(() => shot.change(shown, { hold: Math.max(1, shown.hold + by) }));
  });
  const undo = button("Undo", () => void app.attempt(() => shot.undo()), { icon: "undo" });
  const redo = button("Redo", () => void app.attempt(() => shot.redo()), { icon: "redo" });
  const report = button("Report", () => desk.go("report"), { hint: "Light, rig, focus and spacing of the whole shot" });
  const noteDialog = makeNote(desk);
  const panel = makeSoundPanel(desk);
  const sound = button("Sound", () => panel.open(), { hint: "Lay a sound under the shot, and mark it" });

  function tell() {
    const shown = review.onPose ? undefined : review.exposure;
    for (const one of [remove, retake, insert, note]) one.disabled = !shown;
    for (const one of hold.element.querySelectorAll("button")) one.disabled = !shown;
    hold.mark(shown ? shown.hold : "–");
    const facts = shot.value.shot;
    name(undo, "Undo", facts?.undo_says, facts?.can_undo);
    name(redo, "Redo", facts?.redo_says, facts?.can_redo);
  }
  review.subscribe(tell);
  shot.subscribe(tell);
  return make(
    "div",
    { class: "edits" },
    make("div", { class: "edit-row" }, retake, insert, remove),
    make("div", { class: "edit-row" }, hold.element, note),
    make("div", { class: "edit-row" }, undo, redo, report, sound),
    noteDialog.element,
    panel.element,
  );
}

/** @param {HTMLButtonElement} control @param {string} verb @param {string} [what] @param {boolean} [can] */
function name(control, verb, what, can) {
  control.disabled = !can;
  control.title = what ?? "";
  control.setAttribute("aria-label", what ? `${verb}: ${what}` : verb);
}

/** @param {Desk} desk @param {Exposure} exposure */
async function removeOne(desk, exposure) {
  await desk.app.shot.bin(exposure);
  desk.app.say(`Exposure ${exposure.number} is in the bin.`, "plain", {
    label: "Undo",
    run: () => void desk.app.attempt(() => desk.app.shot.undo()),
  });
}

/** @param {Desk} desk @param {"retake" | "insert"} kind @param {Exposure} exposure */
function arm(desk, kind, exposure) {
  desk.app.shot.arm({ kind, exposure });
  desk.go("shoot");
}

/** @param {Desk} desk */
function makeNote(desk) {
  const text = make("textarea", { rows: 2, maxlength: 2000, "aria-label": "Note on this exposure" });
  /** @type {Exposure | null} */
  let about = null;
  const close = () => (element.hidden = true);
  const save = () => {
    const exposure = about;
    if (!exposure) return;
    void desk.app.attempt(async () => {
      await desk.app.shot.change(exposure, { note: text.value.trim() });
      close();
    });
  };
  const element = make("div", { class: "note", hidden: true }, text, make("div", { class: "row" }, button("Save note", save, { class: "main" }), button("Cancel", close)));
  return {
    element,
    open(/** @type {Exposure} */ exposure) {
      about = exposure;
      text.value = exposure.note;
      element.hidden = false;
      text.focus();
    },
  };
}
