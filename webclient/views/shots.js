/** All shots: open one, begin one, rename, note, delete. */

/** @import {Desk, View} from "./desk.js" */
/** @import {Shot} from "../core/types.js" */

import { framesPerSecond, rateInWords, secondsOf } from "../core/rate.js";
import { button, field } from "./controls.js";
import { make } from "./dom.js";
import { openShot } from "./opening.js";

const RATES = ["12", "24", "25", "30", "24000/1001", "30000/1001"];

/** @param {Desk} desk @returns {View} */
export function makeShots(desk) {
  const list = make("ul", { class: "shot-list" });
  const empty = make("p", { class: "quiet" }, "No shots yet. The first one is a name away.");
  /** @type {string} */
  let editing = "";

  function paint() {
    const { shots, loaded } = desk.app.shots.value;
    empty.hidden = !loaded || shots.length > 0;
    list.replaceChildren(...shots.map((shot) => (shot.id === editing ? editor(shot) : row(shot))));
  }

  /** @param {Shot} shot */
  function row(shot) {
    const current = desk.app.shot.value.shot?.id === shot.id;
    return make(
      "li",
      { class: "shot-row", "data-current": current },
      make(
        "button",
        { type: "button", class: "shot-open", onclick: () => void openShot(desk, shot.id) },
        make("span", { class: "shot-name" }, shot.name),
        make("span", { class: "shot-facts" }, facts(shot)),
        shot.notes && make("span", { class: "shot-notes" }, shot.notes),
      ),
      button("Edit", () => edit(shot.id), { class: "quiet" }),
    );
  }

  /** @param {string} id */
  function edit(id) {
    editing = id;
    paint();
    list.querySelector("input")?.focus();
  }

  /** @param {Shot} shot */
  function editor(shot) {
    const name = make("input", { value: shot.name, maxlength: 200, required: true });
    const notes = make("textarea", { rows: 2, maxlength: 2000 });
    notes.value = shot.notes;
    const save = () => desk.app.attempt(async () => {
      await desk.app.shots.change(shot, { name: name.value.trim(), notes: notes.value });
      edit("");
    });
    return make(
      "li",
      { class: "shot-row shot-edit" },
      make(
        "form",
        { onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); void save(); } },
        field("Name", name),
        field("Notes", notes),
        make("div", { class: "row" }, submit("Save"), button("Cancel", () => edit("")), button("Delete shot", () => void bin(shot), { class: "danger" })),
      ),
    );
  }

  /** @param {Shot} shot */
  function bin(shot) {
    return desk.app.attempt(async () => {
      await desk.app.shots.bin(shot);
      edit("");
      desk.app.say(`“${shot.name}” is in the bin.`, "plain", {
        label: "Bring back",
        run: () => void desk.app.attempt(() => desk.app.shots.restore(shot)),
      });
    });
  }

  desk.app.shots.subscribe(paint);
  desk.app.shot.subscribe(() => editing || paint());
  const element = make("section", { class: "shots scroll", "aria-label": "Shots" }, make("h1", {}, "Shots"), makeNew(desk), empty, list);
  return { element };
}

/** @param {Shot} shot */
function facts(shot) {
  const count = `${shot.exposure_count} ${shot.exposure_count === 1 ? "exposure" : "exposures"}`;
  return `${count} · ${secondsOf(shot.frame_count, shot.frame_rate)} · ${rateInWords(shot.frame_rate)}`;
}

/** @param {string} label */
function submit(label) {
  const element = button(label, () => {}, { class: "main" });
  element.type = "submit";
  return element;
}

/** @param {Desk} desk */
function makeNew(desk) {
  const name = make("input", { maxlength: 200, required: true, placeholder: "the cork wakes", autocomplete: "off" });
  const rate = make("select", {}, ...RATES.map((one) => make("option", { value: one }, rateInWords(one))), make("option", { value: "other" }, "other"));
  const other = make("input", { placeholder: "15 or 48000/1001", autocomplete: "off" });
  const otherField = field("Frames per second", other);
  const showOther = () => (otherField.hidden = rate.value !== "other");
  rate.addEventListener("change", showOther);
  showOther();

  async function create() {
    const wanted = rate.value === "other" ? other.value.trim() : rate.value;
    if (!name.value.trim()) return desk.app.say("A shot needs a name.", "warning");
    if (Number.isNaN(framesPerSecond(wanted))) return desk.app.say("A frame rate is a number, or two with a stroke between: 48000/1001.", "warning");
    await desk.app.attempt(async () => {
      const shot = await desk.app.shots.create({ name: name.value.trim(), frame_rate: wanted });
      name.value = "";
      await openShot(desk, shot.id);
    });
  }

  return make(
    "form",
    { class: "shot-new", novalidate: true, onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); void create(); } },
    field("New shot", name),
    field("Frame rate", rate),
    otherField,
    submit("Begin"),
  );
}
