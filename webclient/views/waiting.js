/** Before anything is known: the page is here, the service is not. */

import { button, state } from "./controls.js";
import { make } from "./dom.js";

/** @param {() => void} again */
export function makeWaiting(again) {
  const says = state();
  says.mark("The service does not answer.", "warning");
  return make(
    "main",
    { class: "pair" },
    make("h1", { class: "pair-name" }, "Standclear"),
    make("p", { role: "status" }, says.element),
    make("p", { class: "quiet" }, "Is the computer beside the set on, and this phone on its network? The page goes on by itself once it answers."),
    button("Try now", again, { class: "main" }),
  );
}
