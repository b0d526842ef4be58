/** Hands and eyes: which hand holds the phone, how large the words are, what else presses the shutter. */

/** @import {Desk} from "./desk.js" */

import { oneOf, stepper } from "./controls.js";
import { make } from "./dom.js";

/** What the style sheets go by. @param {Desk} desk */
export function showHands({ look }) {
  look.subscribe(({ hand, type }) => {
    document.documentElement.dataset["hand"] = hand;
    document.documentElement.dataset["type"] = type;
  });
}

/** @param {Desk} desk */
export function makeHands({ look }) {
  const hand = oneOf("Hand", /** @type {["right" | "left", string][]} */ ([["right", "right"], ["left", "left"]]), (chosen) => look.patch({ hand: chosen }));
  const type = oneOf("Type", /** @type {["plain" | "large" | "largest", string][]} */ ([["plain", "plain"], ["large", "large"], ["largest", "very large"]]), (chosen) => look.patch({ type: chosen }));
  const oneSwitch = oneOf("One switch", /** @type {["off" | "hold" | "scan", string][]} */ ([["off", "off"], ["hold", "hold for more"], ["scan", "always moving"]]), (chosen) => look.patch({ oneSwitch: chosen }));
  const step = stepper("Mark moves on", (by) => look.patch({ scanStep: Math.max(0.5, Math.min(5, look.value.scanStep + by * 0.25)) }), " s");
  const media = oneOf("Headset keys", [["off", "off"], ["on", "take the picture"]], (chosen) => look.patch({ mediaKeys: chosen === "on" }));
  look.subscribe((now) => {
    hand.mark(now.hand);
    type.mark(now.type);
    oneSwitch.mark(now.oneSwitch);
    step.mark(now.scanStep);
    step.element.hidden = now.oneSwitch === "off";
    media.mark(now.mediaKeys ? "on" : "off");
  });
  return make(
    "section",
    { class: "part hands" },
    make("h2", {}, "Hands and eyes"),
    hand.element,
    type.element,
    media.element,
    make("p", { class: "quiet" }, "A headset’s keys, and a shutter’s that acts as a headset, go to what plays sound: the page then plays silence, and music stops."),
    oneSwitch.element,
    step.element,
    make("p", { class: "quiet" }, "Any key, clicker or gamepad button is the switch. A short press takes the picture; held, it opens a list along which a mark moves, and the next press takes what is marked."),
  );
}
