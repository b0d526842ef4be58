/** On Shoot: the last exposure has a flaw, while it can still be retaken at once. */

/** @import {Desk} from "./desk.js" */
/** @import {Exposure} from "../core/types.js" */

import { flawsInWords } from "../models/flaws.js";
import { button } from "./controls.js";
import { make, setText } from "./dom.js";
import { icon } from "./icons.js";

/** @param {Desk} desk */
export function makeFlaw(desk) {
  const { shot } = desk.app;
  const words = make("p", {});
  /** @type {Exposure | undefined} */
  let about;
  let left = "";
  const retake = button("Retake", () => about && shot.arm({ kind: "retake", exposure: about }));
  const leave = button("Leave it", () => { left = about?.id ?? ""; tell(); });
  const element = make("div", { class: "flaw", role: "status", "data-tone": "warning" }, icon("warning", 20), words, retake, leave);

  function tell() {
    about = shot.last;
    const says = flawsInWords(about);
    const armed = shot.value.armed.kind !== "append";
    element.hidden = !says || armed || about?.id === left;
    setText(words, says ? `Exposure ${about?.number}, ${says}` : "");
  }
  shot.subscribe(tell);
  return element;
}
