/** On Shoot: the last exposure has a flaw, while it can still be retaken at once. */

/** @import {Desk} from "./desk.js" */
/** @import {Exposure} from "../core/types.js" */

import { flawsInWords, flawsOf, lastJudged } from "../models/flaws.js";
import { button } from "./controls.js";
import { make, setText } from "./dom.js";
import { icon } from "./icons.js";

/** What happened; what to do about it stands on the buttons. @param {Exposure | undefined} exposure */
function firstSentences(exposure) {
  const short = flawsOf(exposure).map(({ watch, says }) => `${watch}: ${says.split(/(?<=\.) (?=[A-Z])/)[0] ?? says}`);
  return short.join(" ");
}

/** @param {Desk} desk */
export function makeFlaw(desk) {
  const { shot } = desk.app;
  const words = make("p", {});
  /** @type {Exposure | undefined} */
  let about;
  let left = "";
  const retake = button("Retake", () => about && shot.arm({ kind: "retake", exposure: about }));
  const accept = button("Accept", () => about && void desk.app.attempt(() => desk.app.watches.accept(/** @type {Exposure} */ (about))), { hint: "The change was meant: go on from here with a new reference" });
  const reseat = button("Re-seat", () => desk.go("reseat"), { hint: "Lead the camera back to where it stood" });
  const leave = button("Leave it", () => { left = about?.id ?? ""; tell(); });
  const ways = make("div", { class: "row" }, retake, reseat, accept, leave);
  const element = make("div", { class: "flaw", role: "status", "data-tone": "warning" }, icon("warning", 20), words, ways);

  function tell() {
    about = lastJudged(shot.value.exposures);
    const says = flawsInWords(about);
    const watches = flawsOf(about).map(({ watch }) => watch);
    reseat.hidden = !watches.includes("rig");
    accept.hidden = watches.every((watch) => watch === "pose"); // a hand left in makes no reference
    leave.hidden = !accept.hidden;
    const armed = shot.value.armed.kind !== "append";
    element.hidden = !says || armed || about?.id === left;
    setText(words, says ? `Exposure ${about?.number}, ${firstSentences(about)}` : "");
  }
  shot.subscribe(tell);
  return element;
}
