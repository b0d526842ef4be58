/** On Rig: the steady test, its result in words and figures, thresholds, the way to the re-seat guide. */

/** @import {Desk} from "./desk.js" */
/** @import {SteadyTest} from "../models/watches.js" */

import { TEST_PICTURES } from "../models/watches.js";
import { button, state } from "./controls.js";
import { make, setText } from "./dom.js";
import { makeThresholds } from "./thresholds.js";

/** @type {[string, string, number][]} */
const NOISE = [
  ["step_percent", "light, %", 3],
  ["colour_percent", "colour, %", 3],
  ["shift_px", "shift, px", 3],
  ["turn_deg", "turn, °", 4],
];

/** @param {Desk} desk */
export function makeSteady(desk) {
  const { app } = desk;
  const { watches } = app;
  const says = state();
  const result = make("div", { class: "steady-result" });
  const test = button("Test the set", () => void app.attempt(() => watches.testSteadiness()), { class: "main" });
  const reseat = button("Re-seat guide", () => desk.go("reseat"));
  const thresholds = makeThresholds(desk);
  const element = make(
    "section",
    { class: "part steady", "aria-label": "Steadiness" },
    make("h2", {}, "Steadiness"),
    make("p", { class: "quiet" }, `Takes ${TEST_PICTURES} pictures with nothing moving, and keeps none. The screens go dark for each.`),
    make("p", { role: "status" }, says.element),
    result,
    make("div", { class: "row" }, test, reseat),
    thresholds.element,
  );

  function tell() {
    const testing = watches.testing.value;
    const found = watches.steady.value;
    test.disabled = testing;
    if (testing) says.mark("Testing: keep away from the set.", "plain");
    else if (!found) says.mark("Not tested yet.", "plain");
    else if (found.passed) says.mark("Steady: nothing changed by itself.", "clear");
    else says.mark("Not steady yet.", "warning");
    result.replaceChildren(...(found && !testing ? lines(found) : []));
  }
  watches.steady.subscribe(() => {
    tell();
    if (element.isConnected) thresholds.load(); // the test's noise fits them
  });
  watches.testing.subscribe(tell);
  app.shot.subscribe(({ shot }) => {
    reseat.disabled = !shot?.exposure_count;
    setText(reseat.lastElementChild ?? reseat, "Re-seat guide");
  });
  const load = () => {
    void app.attempt(() => watches.loadSteady());
    thresholds.load();
  };
  return { element, load };
}

/** @param {SteadyTest} found */
function lines(found) {
  const average = found.frames_to_average;
  return [
    ...found.symptoms.map((one) => make("p", { class: "steady-symptom" }, one.says)),
    table(found),
    average > 1 && make("p", { class: "quiet" }, `Averaging ${average} pictures would bring the grain to 0.1 %.`),
    blind(found),
  ].filter((one) => one !== false);
}

/** What scatters by itself, and from where on a change is told. @param {SteadyTest} found */
function table({ noise, thresholds }) {
  const rows = NOISE.map(([name, label, digits]) =>
    make(
      "tr",
      {},
      make("th", { scope: "row" }, label),
      make("td", {}, `± ${(noise[name] ?? 0).toFixed(digits)}`),
      make("td", {}, (thresholds[name] ?? 0).toFixed(digits)),
    ),
  );
  const head = make("tr", {}, make("td", {}), make("th", { scope: "col" }, "scatter"), make("th", { scope: "col" }, "told from"));
  return make("table", { class: "steady-figures" }, make("thead", {}, head), make("tbody", {}, ...rows));
}

/** @param {SteadyTest} found */
function blind({ cannot_see: blindTo }) {
  return make("details", {}, make("summary", {}, "What the test cannot see"), make("ul", { class: "cautions" }, ...blindTo.map((one) => make("li", {}, one))));
}
