/** A slider and a switch, as the Finish view needs them. */

import { make, setText } from "./dom.js";

/**
 * @param {string} label @param {{min: number, max: number, step: number}} range
 * @param {(value: number) => void} change @param {(value: number) => string} says
 */
export function slider(label, { min, max, step }, change, says) {
  const value = make("output", { class: "value" });
  const input = make("input", { type: "range", min, max, step, oninput: () => change(Number(input.value)) });
  const element = make("label", { class: "field finish-slider" }, make("span", { class: "label" }, label), input, value);
  /** @param {number} to */
  const mark = (to) => {
    if (Number(input.value) !== to) input.value = String(to);
    input.setAttribute("aria-valuetext", says(to));
    setText(value, says(to));
  };
  return { element, mark };
}

/** On or off. @param {string} label @param {(on: boolean) => void} change @param {string} [hint] */
export function check(label, change, hint = "") {
  const input = make("input", { type: "checkbox", role: "switch", onchange: () => change(input.checked) });
  const words = make("span", { class: "check-words" }, label, hint && make("span", { class: "quiet" }, hint));
  const element = make("label", { class: "check" }, words, input);
  /** @param {boolean} on */
  const mark = (on) => {
    input.checked = on;
  };
  return { element, mark };
}
