/** The second copy: its part under Rig, and the mark in Shoot when it is behind. */

/** @import {Desk} from "./desk.js" */
/** @import {Mirror} from "../core/types.js" */

import { isBehind, lagWords } from "../models/mirror.js";
import { button, state } from "./controls.js";
import { make, setText } from "./dom.js";
import { icon } from "./icons.js";

/** @type {Record<Mirror["state"], [string, "plain" | "clear" | "warning" | "fault"]>} */
const WORDS = {
  off: ["No second copy", "warning"],
  in_step: ["In step", "clear"],
  copying: ["Copying", "plain"],
  away: ["Not reached", "warning"],
  fault: ["Cannot copy", "fault"],
  paused: ["Paused", "warning"],
};

/** @param {Desk} desk */
export function makeMirror(desk) {
  const { mirror } = desk.app;
  const heading = state();
  const says = make("p", {});
  const where = make("p", { class: "quiet copy-where" });
  const change = (/** @type {{paused?: boolean, begin?: boolean}} */ what) => void desk.app.attempt(() => mirror.change(what));
  const pause = button("Pause", () => change({ paused: mirror.value?.state !== "paused" }));
  const again = button("Try now", () => change({}), { class: "quiet" });
  const begin = button("Begin a new copy here", () => change({ begin: true }));
  const controls = make("div", { class: "row" }, pause, again, begin);
  const element = make("section", { class: "part", "aria-label": "Second copy" }, make("h2", {}, "Second copy"), make("p", { role: "status" }, heading.element), says, where, controls);

  mirror.subscribe((now) => {
    if (!now) return heading.mark("not known yet", "plain");
    const [words, tone] = WORDS[now.state];
    heading.mark(words, tone);
    setText(says, now.state === "off" ? OFF : sentence(now, mirror.lagS));
    const known = now.where && now.says.includes(now.where) ? "" : now.where;
    setText(where, [known, now.caution].filter(Boolean).join(". "));
    where.hidden = !where.textContent;
    controls.hidden = now.state === "off";
    setText(pause.lastElementChild ?? pause, now.state === "paused" ? "Go on" : "Pause");
    again.hidden = now.state !== "away" && now.state !== "fault";
    begin.hidden = now.state !== "fault";
  });
  return { element, load: () => void desk.app.attempt(() => mirror.load()) };
}

const OFF = "Every exposure lies on one disk only. Start the service with --mirror and a folder on another disk.";

/** @param {Mirror} now @param {number} lagS */
function sentence(now, lagS) {
  return now.waiting_exposures ? `${now.says} The oldest has waited ${lagWords(lagS)}.` : now.says;
}

/** In Shoot: a mark only when the copy is behind; it leads to Rig. @param {Desk} desk */
export function makeCopyMark(desk) {
  const { mirror } = desk.app;
  const words = make("span", {});
  const element = make("button", { type: "button", class: "copy-mark", hidden: true, onclick: () => desk.go("rig") }, icon("warning", 16), words);
  mirror.subscribe((now) => {
    element.hidden = !isBehind(now, mirror.lagS);
    if (!now || element.hidden) return;
    const waiting = now.waiting_exposures;
    setText(words, waiting ? `Second copy: ${waiting} behind, ${lagWords(mirror.lagS)}` : "Second copy: stopped");
  });
  return element;
}
