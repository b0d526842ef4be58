/** The choices of the Finish view: light and position, time, and what is written in the file. */

/** @import {Desk} from "./desk.js" */
/** @import {Wish} from "../models/finish.js" */

import { oneOf, stepper } from "./controls.js";
import { make, setText } from "./dom.js";
import { makeCleanUp } from "./finish-clean-up.js";
import { check, slider } from "./finish-controls.js";
import { makeAlone, makeDoubles, makeRange, makeRetimes } from "./finish-ranges.js";

/** Even light, steady picture, a support painted out. @param {Desk} desk */
export function makeCorrections(desk) {
  const { finish } = desk.app;
  const light = check("Even light", (on) => finish.patch({ light: on ? 100 : 0 }), "Takes out flicker. A lamp that is switched on stays on.");
  const strength = slider("Strength", { min: 5, max: 100, step: 5 }, (value) => finish.patch({ light: value }), (value) => `${value} %`);
  const steady = check("Steady picture", (on) => finish.patch({ steady: on }), "Undoes bumps and creep of the camera.");
  const edges = oneOf("Edges", /** @type {[Wish["edges"], string][]} */ ([["fill", "filled"], ["crop", "cut away"]]), (value) => finish.patch({ edges: value }));
  finish.subscribe((wish) => {
    light.mark(wish.light > 0);
    strength.element.hidden = !wish.light;
    if (wish.light) strength.mark(wish.light);
    steady.mark(wish.steady);
    edges.element.hidden = !wish.steady;
    edges.mark(wish.edges);
  });
  return make("section", { class: "part" }, make("h2", {}, "Corrections"), light.element, strength.element, makeAlone(desk), steady.element, edges.element, makeCleanUp(desk));
}

/** @param {Desk} desk */
export function makeTime(desk) {
  const { finish } = desk.app;
  const rate = oneOf("Rate", /** @type {[string, string][]} */ ([["", "the shot’s"], ["12", "12"], ["15", "15"], ["24", "24"], ["25", "25"], ["30", "30"]]), (value) => finish.patch({ rate: value }));
  const each = oneOf("Each frame", /** @type {[number, string][]} */ ([[1, "on ones"], [2, "on twos"], [3, "on threes"]]), (value) => finish.patch({ each: value }));
  const holds = check("Holds as they are", (on) => finish.patch({ holds: on }), "Off: each exposure is one frame.");
  const reverse = check("Backwards", (on) => finish.patch({ reverse: on }));
  const loops = stepper("Times over", (by) => finish.patch({ loops: within(finish.value.loops + by, 1, 100) }));
  const head = stepper("Still at the head", (by) => finish.patch({ head: within(finish.value.head + by * 6, 0, 600) }), " frames");
  const tail = stepper("Still at the tail", (by) => finish.patch({ tail: within(finish.value.tail + by * 6, 0, 600) }), " frames");
  const sum = make("span", { class: "quiet" });
  finish.subscribe((wish) => {
    rate.mark(wish.rate);
    each.mark(wish.each);
    holds.mark(wish.holds);
    reverse.mark(wish.reverse);
    loops.mark(wish.loops);
    head.mark(wish.head);
    tail.mark(wish.tail);
    setText(sum, timeInWords(wish));
  });
  return make(
    "details",
    { class: "part finish-more" },
    make("summary", {}, make("h2", {}, "Time"), sum),
    makeRange(desk), makeRetimes(desk), makeDoubles(desk), rate.element, each.element, holds.element, reverse.element, loops.element, head.element, tail.element,
  );
}

/** Title, quality, sound, leader. @param {Desk} desk */
export function makeWords({ app: { finish, shot, sound } }) {
  const title = make("input", { maxlength: 200, oninput: () => finish.patch({ title: title.value }) });
  const quality = oneOf("Quality", /** @type {[Wish["quality"], string][]} */ ([["small", "small file"], ["good", "good"], ["best", "best"]]), (value) => finish.patch({ quality: value }));
  const leader = check("Leader", (on) => finish.patch({ leader: on }), "Two seconds before it: the shot’s name and rate.");
  const withSound = check("Sound", (on) => finish.patch({ sound: on }));
  const whichSound = make("span", { class: "quiet" });
  withSound.element.firstElementChild?.append(whichSound);
  finish.subscribe((wish) => {
    quality.mark(wish.quality);
    leader.mark(wish.leader);
    withSound.mark(wish.sound);
  });
  shot.subscribe(({ shot: facts }) => (title.placeholder = facts?.name ?? ""));
  sound.subscribe(({ sound: facts }) => {
    withSound.element.hidden = !facts;
    setText(whichSound, facts ? facts.name : "");
  });
  return make(
    "section",
    { class: "part" },
    make("h2", {}, "In the file"),
    make("label", { class: "field" }, make("span", { class: "label" }, "Title"), title),
    quality.element, withSound.element, leader.element,
  );
}

/** @param {Wish} wish */
function timeInWords(wish) {
  const parts = [
    wish.rate ? `${wish.rate} fps` : "as shot",
    wish.range && `frames ${wish.range.first} to ${wish.range.last}`,
    wish.retimes.length > 0 && `${wish.retimes.length} retimed`,
    wish.leaveOut.length > 0 && `${wish.leaveOut.length} skipped`,
    wish.each > 1 && `each frame ${wish.each} times`,
    !wish.holds && "without holds",
    wish.reverse && "backwards",
    wish.loops > 1 && `${wish.loops} times over`,
    wish.head > 0 && `${wish.head} frames of head`,
    wish.tail > 0 && `${wish.tail} frames of tail`,
  ];
  return parts.filter(Boolean).join(", ");
}

/** @param {number} value @param {number} low @param {number} high */
const within = (value, low, high) => Math.min(high, Math.max(low, value));
