/** Tempo and scale, what is printed, and the plan as a file. */

/** @import {Desk, View} from "./desk.js" */

import { BASE } from "../core/service.js";
import { button, field, oneOf } from "./controls.js";
import { make } from "./dom.js";

const PAPER = "standclear.paper";

/** @param {Desk} desk @returns {View} */
export function makeSheets(desk) {
  const element = make("div", { class: "plan-scroll sheets" }, makePaper(desk), makeTiming(desk), makeFile(desk));
  return { element };
}

/** @param {Desk} desk */
function makePaper(desk) {
  const sheet = make("a", { class: "button", target: "_blank", rel: "noopener" }, "Exposure sheet, PDF");
  const strips = make("a", { class: "button", target: "_blank", rel: "noopener" }, "Spacing strips, PDF");
  const chosenBefore = localStorage.getItem(PAPER);
  const usual = /^en-(US|CA)/.test(navigator.language) ? "Letter" : "A4";
  /** @type {"A4" | "Letter"} */
  let paper = chosenBefore === "A4" || chosenBefore === "Letter" ? chosenBefore : usual;
  const sizes = oneOf("Paper", [["A4", "A4"], ["Letter", "Letter"]], (chosen) => {
    localStorage.setItem(PAPER, (paper = chosen));
    point();
  });
  function point() {
    sizes.mark(paper);
    const at = `${BASE}/shots/${desk.app.plan.value.shot}`;
    sheet.href = `${at}/sheet.pdf?paper=${paper}`;
    strips.href = `${at}/strips.pdf?paper=${paper}`;
  }
  desk.app.plan.subscribe(point);
  return part(
    "On paper",
    sizes.element,
    make("div", { class: "row" }, sheet, strips),
    make("p", { class: "quiet" }, "Print strips at 100 %, measure their 100 mm line, and lay them along the path."),
  );
}

/** @param {Desk} desk */
function makeTiming(desk) {
  const { plan } = desk.app;
  const tempo = make("input", { inputmode: "decimal", placeholder: "none" });
  const scale = make("input", { placeholder: "1:1" });
  const save = () => void desk.app.attempt(() => plan.retime({ tempo: tempo.value.trim() || null, scale: scale.value.trim() || "1:1" }));
  plan.subscribe(({ plan: now }) => {
    if (document.activeElement !== tempo) tempo.value = String(now?.tempo ?? "");
    if (document.activeElement !== scale) scale.value = now?.scale ?? "1:1";
  });
  return part(
    "Tempo and scale",
    field("Beats a minute", tempo),
    field("Scale of the set", scale),
    make("p", { class: "quiet" }, "A fall on a 1:6 set is timed as if it were six times as high."),
    make("div", { class: "row" }, button("Save", save)),
  );
}

/** @param {Desk} desk */
function makeFile(desk) {
  const { plan } = desk.app;
  const out = make("a", { class: "button", download: "plan.csv" }, "Download CSV");
  const file = make("input", { type: "file", accept: ".csv,text/csv", "aria-label": "A plan as CSV" });
  const take = () => void desk.app.attempt(async () => {
    const chosen = file.files?.[0];
    if (!chosen) return;
    const csv = await chosen.text();
    file.value = "";
    await plan.put({ csv });
    desk.app.say(`The plan is now that of ${chosen.name}.`);
  });
  file.addEventListener("change", take);
  plan.subscribe(({ shot }) => (out.href = `${BASE}/shots/${shot}/plan.csv`));
  return part("As a file", make("div", { class: "row" }, out), field("Take in CSV", file), make("p", { class: "quiet" }, "What is taken in replaces the plan. What was shot stays tied to actions of the same name."));
}

/** @param {string} title @param {...HTMLElement} children */
function part(title, ...children) {
  return make("section", { class: "part" }, make("h2", {}, title), ...children);
}
