/** The row of tools between picture and pad, and the drawer behind it. */

/** @import {Desk} from "./desk.js" */

import { MASKS } from "../models/look.js";
import { button, oneOf, stepper, toggle } from "./controls.js";
import { make, setState } from "./dom.js";
import { makeStepBackOptions } from "./stepback.js";

/** @param {Desk} desk */
export function makeTools(desk) {
  const { look } = desk;
  const onion = toggle("Onion", () => look.toggle("onion"), { icon: "onion" });
  const blink = toggle("Blink", () => look.toggle("blink"), { icon: "blink" });
  const difference = toggle("Differ", () => look.toggle("difference"), { icon: "difference" });
  const drawer = makeDrawer(desk, () => open(false));
  const more = toggle("More", (on) => open(on), { icon: "more" });
  more.setAttribute("aria-controls", "drawer");

  /** @param {boolean} on */
  function open(on) {
    if (drawer.hidden === !on) return;
    drawer.hidden = !on;
    setState(more, "aria-pressed", on);
    setState(more, "aria-expanded", on);
    if (on) drawer.querySelector("button")?.focus();
    else more.focus();
  }

  look.subscribe(({ mode }) => {
    setState(onion, "aria-pressed", mode === "onion");
    setState(blink, "aria-pressed", mode === "blink");
    setState(difference, "aria-pressed", mode === "difference");
  });
  const row = make("div", { class: "tools", role: "toolbar", "aria-label": "Over the picture" }, onion, blink, difference, more);
  return { row, drawer, close: () => open(false) };
}

/** @param {Desk} desk @param {() => void} close */
function makeDrawer(desk, close) {
  const { look, app } = desk;
  const layers = stepper("Onion skin", (by) => look.addLayers(by));
  const strength = stepper("Strength", (by) => look.patch({ strength: clamp(look.value.strength + by * 10, 10, 100) }), " %");
  const mask = oneOf("Frame", [["", "none"], ...MASKS.map((one) => /** @type {[string, string]} */ ([one, one]))], (chosen) => look.patch({ mask: chosen }));
  const hold = oneOf("Next on", /** @type {[number, string][]} */ ([[1, "ones"], [2, "twos"], [3, "threes"], [4, "fours"]]), (chosen) => app.shot.holdNext(chosen));
  const sound = oneOf("Sound", [["on", "click"], ["off", "silent"]], (chosen) => look.patch({ sound: chosen === "on" }));
  look.subscribe((now) => {
    layers.mark(now.layers);
    strength.mark(now.strength);
    mask.mark(now.mask);
    sound.mark(now.sound ? "on" : "off");
  });
  app.shot.subscribe((now) => hold.mark(now.hold));
  return make(
    "section",
    { class: "drawer", id: "drawer", hidden: true, "aria-label": "More tools", onkeydown: (/** @type {KeyboardEvent} */ event) => event.key === "Escape" && close() },
    make("header", { class: "drawer-head" }, make("h2", {}, "On the next exposure"), button("Close", close, { icon: "close", bare: true })),
    hold.element,
    ...makeTrigger(desk),
    make("h2", {}, "Over the picture"),
    layers.element,
    strength.element,
    mask.element,
    sound.element,
  );
}

/** @param {Desk} desk @returns {HTMLElement[]} */
function makeTrigger(desk) {
  const { app, shutter } = desk;
  const chosen = () => app.trigger.value.seconds || 3;
  const mode = oneOf(
    "Takes the picture",
    /** @type {[import("../core/types.js").TriggerMode, string][]} */ ([["manual", "at once"], ["self_timer", "after a wait"], ["interval", "repeats"], ["step_back", "step back"]]),
    (to) => void app.attempt(() => shutter.choose(to, chosen())),
  );
  mode.element.classList.add("stacked");
  const seconds = stepper("Seconds", (by) => void app.attempt(() => shutter.choose(app.trigger.value.mode, clamp(chosen() + by, 1, 3600))), " s");
  app.trigger.subscribe((now) => {
    mode.mark(now.mode);
    seconds.mark(chosen());
    seconds.element.hidden = now.mode === "manual" || now.mode === "step_back";
  });
  return [mode.element, seconds.element, makeStepBackOptions(desk)];
}

/** @param {number} value @param {number} low @param {number} high */
function clamp(value, low, high) {
  return Math.max(low, Math.min(high, value));
}
