/** On Rig: from which size on the watches tell a change, by shot, each in the unit of its figure. */

/** @import {Desk} from "./desk.js" */

import { field } from "./controls.js";
import { make } from "./dom.js";

/** Name in the service, words, unit. @type {[string, string, string][]} */
const ROWS = [
  ["step_percent", "Light, from one frame to the next", "%"],
  ["drift_percent", "Light, drifting", "%"],
  ["gradient_percent", "Light on one side", "%"],
  ["colour_percent", "Colour", "%"],
  ["banding_percent", "Bands, dark to bright", "%"],
  ["shift_px", "Camera, shift", "px"],
  ["turn_deg", "Camera, turn", "°"],
  ["scale_percent", "Camera, size", "%"],
  ["blur_px_at_1920", "Focus, blur at 1920 wide", "px"],
  ["hand_percent", "Hand or shadow, of the picture", "%"],
  ["moved_percent", "Anything else that moved, of the picture", "%"],
];

/** @param {Desk} desk */
export function makeThresholds(desk) {
  const { app } = desk;
  const { watches } = app;
  /** @type {Map<string, HTMLInputElement>} */
  const inputs = new Map();
  const rows = ROWS.map(([name, words, unit]) => {
    const input = make("input", { type: "number", min: 0, step: "any", inputmode: "decimal", onchange: () => void change(name, input) });
    inputs.set(name, input);
    return make("div", { class: "threshold", "data-threshold": name }, field(`${words}, ${unit}`, input));
  });
  const hint = make("p", { class: "quiet" }, "A smaller change is passed over. An emptied field goes back to what the steady test found.");
  const element = make("details", { class: "thresholds" }, make("summary", {}, "From which size on a change is told"), hint, ...rows);

  /** @param {string} name @param {HTMLInputElement} input */
  async function change(name, input) {
    const value = input.value === "" ? null : Number(input.value);
    await app.attempt(() => watches.setThreshold(name, value));
    show(watches.thresholds.value); // what was refused goes back
  }

  /** @param {Record<string, number>} known */
  function show(known) {
    for (const [name, input] of inputs) {
      const value = known[name];
      input.value = value === undefined ? "" : String(Number(value.toPrecision(3)));
      input.disabled = value === undefined;
    }
  }
  watches.thresholds.subscribe(show);
  return { element, load: () => void app.attempt(() => watches.loadThresholds()) };
}
