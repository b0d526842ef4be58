/** What was made of the shot: how far it is, what came of it, and its figures. */

/** @import {Desk} from "./desk.js" */
/** @import {Export} from "../models/finish.js" */

import { isOver, leftInWords, sizeInWords } from "../models/finish.js";
import { button, state } from "./controls.js";
import { make, setText } from "./dom.js";
import { makeFigures } from "./finish-figures.js";

/** @type {Record<string, string>} */
const PHASES = { measuring: "measuring", following: "following the object" };

/** @param {Desk} desk */
export function makeExports({ app }) {
  const { exports } = app.finish;
  const list = make("ul", { class: "export-list" });
  /** @type {Map<string, {element: HTMLElement, tell: (one: Export) => void}>} */
  const rows = new Map();
  const head = make("h2", {}, "Made of this shot");
  exports.subscribe((all) => {
    head.hidden = !all.length;
    for (const id of [...rows.keys()]) {
      if (all.some((one) => one.id === id)) continue;
      rows.get(id)?.element.remove();
      rows.delete(id);
    }
    all.forEach((one, place) => {
      const row = rows.get(one.id) ?? makeRow(app, one.id);
      rows.set(one.id, row);
      row.tell(one);
      if (list.children[place] !== row.element) list.insertBefore(row.element, list.children[place] ?? null);
    });
  });
  return make("section", { class: "part exports", "aria-label": "Made of this shot" }, head, list);
}

/** @param {import("../models/app.js").App} app @param {string} id */
function makeRow(app, id) {
  const { finish } = app;
  /** @param {(one: Export) => Promise<unknown>} act */
  const withIt = (act) => () => {
    const one = finish.exports.value.find((other) => other.id === id);
    if (one) void app.attempt(() => act(one));
  };
  const name = make("span", { class: "export-name" });
  const says = state();
  const done = make("span", { class: "export-done" });
  const bar = make("span", { class: "export-bar", role: "progressbar", "aria-label": "How far it is", "aria-valuemin": 0, "aria-valuemax": 100 }, done);
  const facts = make("p", { class: "quiet" });
  const notes = make("div", { class: "export-notes" });
  const save = make("a", { class: "button main", download: true }, make("span", {}, "Download"));
  const cancel = button("Cancel", withIt((one) => finish.cancel(one)));
  const remove = button("Remove", withIt((one) => finish.remove(one)), { class: "danger" });
  const element = make(
    "li",
    { class: "export" },
    make("p", { class: "export-head" }, name, make("span", { role: "status" }, says.element)),
    bar, facts, notes,
    make("div", { class: "row" }, save, cancel, remove),
  );
  let reported = "";

  /** @param {Export} one */
  function tell(one) {
    setText(name, finish.nameOf(one.options.format));
    says.mark(...toneOf(one));
    const share = one.frames_total ? one.frames_done / one.frames_total : 0;
    bar.hidden = isOver(one) || one.state === "queued";
    bar.setAttribute("aria-valuenow", String(Math.round(share * 100)));
    done.style.width = `${(share * 100).toFixed(1)}%`;
    setText(facts, factsOf(one));
    save.hidden = !one.file;
    if (one.file) save.href = one.file;
    cancel.hidden = isOver(one);
    remove.hidden = !isOver(one);
    if (reported === one.state) return;
    reported = one.state;
    notes.replaceChildren(...notesOf(one));
  }
  return { element, tell };
}

/** @param {Export} one @returns {[string, "plain" | "clear" | "warning" | "fault"]} */
function toneOf(one) {
  if (one.state === "done") return ["ready", "clear"];
  if (one.state === "failed") return ["failed", "fault"];
  if (one.state === "stopped") return ["stopped", "warning"];
  if (one.state === "waiting") return ["waits for the set", "plain"];
  if (one.state === "working") return [PHASES[one.phase] ?? "being made", "plain"];
  return [one.state, "plain"];
}

/** @param {Export} one */
function factsOf(one) {
  if (one.state === "done" && one.report) {
    const { width, height, frames, duration_s: seconds, size, format } = one.report;
    const length = `${frames} frames, ${seconds.toFixed(2)} s`;
    return [one.name, ["csv", "otio"].includes(format) ? "" : `${width} × ${height}`, length, sizeInWords(size)].filter(Boolean).join(" · ");
  }
  if (isOver(one)) return one.problem ? one.problem.detail : one.says;
  if (!one.frames_total) return one.says;
  return [`${one.frames_done} of ${one.frames_total}`, leftInWords(one.seconds_left)].filter(Boolean).join(" · ");
}

/** @param {Export} one */
function notesOf(one) {
  if (one.problem?.hint) return [make("p", { class: "quiet" }, one.problem.hint)];
  if (!one.report) return [];
  const told = one.report.notes.map((/** @type {string} */ says) => make("p", {}, says));
  const curves = makeFigures(one.report.figures);
  const asked = (one.options.light || one.options.position) && !one.options.clean_up;
  const nothing = asked && !curves.length && make("p", {}, "Nothing needed correcting: the pictures are as shot.");
  return [...curves, ...(nothing ? [nothing] : []), ...told];
}
