/** Pairing: six digits from the screen of the computer beside the set, or its QR code. */

/** @import {App} from "../models/app.js" */

import { asProblem } from "../core/problem.js";
import { button, state } from "./controls.js";
import { make } from "./dom.js";

/** @param {App} app */
export function makePair(app) {
  const says = state();
  const input = make("input", {
    class: "pair-code", id: "code", inputmode: "numeric", autocomplete: "one-time-code", maxlength: 7,
    "aria-describedby": "pair-says", spellcheck: "false", required: true,
  });
  const send = button("Pair", () => {}, { class: "main" });
  send.type = "submit";
  let locked = 0;

  async function pair() {
    const code = input.value.replace(/\D/g, "");
    if (locked) return;
    if (code.length !== 6) return says.mark("The code has six digits.", "warning");
    send.disabled = true;
    try {
      await app.service.post("/pairing", { code, name: phoneName() });
      app.start();
    } catch (error) {
      refused(asProblem(error));
    } finally {
      send.disabled = Boolean(locked);
    }
  }

  /** @param {import("../core/problem.js").Problem} problem */
  function refused(problem) {
    input.select();
    if (problem.retryAfter) lock(problem.retryAfter);
    else says.mark([problem.message, problem.hint].filter(Boolean).join(" "), "fault");
  }

  /** @param {number} seconds */
  function lock(seconds) {
    locked = seconds;
    const timer = setInterval(count, 1000);
    function count() {
      if (locked > 0) return says.mark(`Too many wrong codes. Try again in ${locked--} s.`, "fault");
      clearInterval(timer);
      send.disabled = false;
      says.mark("You can try again now.", "plain");
    }
    count();
  }

  input.addEventListener("input", () => {
    if (input.value.replace(/\D/g, "").length === 6) void pair();
  });
  const form = make(
    "form",
    { class: "pair", novalidate: true, onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); void pair(); } },
    make("h1", { class: "pair-name" }, "Standclear"),
    make("p", { class: "pair-lead" }, "Pose, step back, press: this phone is the remote."),
    make("label", { class: "pair-label", for: "code" }, "Code on the computer beside the set"),
    input,
    send,
    make("p", { class: "pair-says", id: "pair-says", role: "status" }, says.element),
  );
  return { element: make("main", { class: "pair-page" }, form), fill: (/** @type {string} */ code) => { input.value = code; void pair(); }, focus: () => input.focus() };
}

/** @returns {string} so that the computer can name who is paired */
function phoneName() {
  return matchMedia("(pointer: coarse)").matches ? "phone" : "computer";
}
