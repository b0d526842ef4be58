/** The few controls that the page is made of. */

import { make, setText } from "./dom.js";
import { icon } from "./icons.js";

/**
 * @param {string} label @param {() => void} press
 * @param {{icon?: string, class?: string, hint?: string, bare?: boolean}} [more]  bare: the icon alone is seen
 */
export function button(label, press, more = {}) {
  return make(
    "button",
    {
      type: "button",
      class: `button ${more.class ?? ""}`,
      "aria-label": more.bare ? label : null,
      title: more.hint ?? (more.bare ? label : null),
      onclick: press,
    },
    more.icon && icon(more.icon),
    !more.bare && make("span", {}, label),
  );
}

/** A button that stays down. @param {string} label @param {(on: boolean) => void} change @param {{icon?: string, class?: string}} [more] */
export function toggle(label, change, more = {}) {
  const element = button(label, () => change(element.getAttribute("aria-pressed") !== "true"), {
    ...more,
    class: `toggle ${more.class ?? ""}`,
  });
  element.setAttribute("aria-pressed", "false");
  return element;
}

/**
 * One of a few, side by side.
 *
 * @template {string | number} T
 * @param {string} label @param {[T, string][]} choices @param {(value: T) => void} choose
 * @param {{hideLabel?: boolean}} [more]
 */
export function oneOf(label, choices, choose, { hideLabel = false } = {}) {
  const buttons = choices.map(([value, says]) =>
    make("button", { type: "button", class: "choice", role: "radio", "data-value": value, onclick: () => choose(value) }, says),
  );
  const row = make("div", { class: "choices", role: "radiogroup", "aria-label": label, onkeydown: arrows }, ...buttons);
  /** @param {T} value */
  const mark = (value) => markChoice(buttons, String(value));
  mark(/** @type {[T, string]} */ (choices[0])[0]);
  const element = make("div", { class: "field" }, !hideLabel && make("span", { class: "label", "aria-hidden": "true" }, label), row);
  return { element, mark };
}

/** @param {HTMLElement[]} buttons @param {string} value */
function markChoice(buttons, value) {
  for (const one of buttons) {
    const on = one.dataset["value"] === value;
    one.setAttribute("aria-checked", on ? "true" : "false");
    one.tabIndex = on ? 0 : -1;
  }
}

/** @param {KeyboardEvent} event */
function arrows(event) {
  const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
  const row = /** @type {HTMLElement} */ (event.currentTarget);
  if (!by) return;
  const all = /** @type {HTMLElement[]} */ ([...row.children]);
  const next = all[(all.indexOf(/** @type {HTMLElement} */ (document.activeElement)) + by + all.length) % all.length];
  event.preventDefault();
  event.stopPropagation();
  next?.focus();
  next?.click();
}

/**
 * A number with less and more.
 *
 * @param {string} label @param {(by: number) => void} change @param {string} [unit]
 */
export function stepper(label, change, unit = "") {
  const value = make("output", { class: "value" });
  const element = make(
    "div",
    { class: "field stepper", role: "group", "aria-label": label },
    make("span", { class: "label" }, label),
    button(`Less: ${label}`, () => change(-1), { icon: "less", bare: true }),
    value,
    button(`More: ${label}`, () => change(1), { icon: "plus", bare: true }),
  );
  /** @param {string | number} to */
  const mark = (to) => setText(value, `${to}${unit}`);
  return { element, mark };
}

/** @param {string} label @param {HTMLElement} control */
export function field(label, control) {
  return make("label", { class: "field" }, make("span", { class: "label" }, label), control);
}

/** A word with its shape, for states. @param {string} [tone] */
export function state(tone = "plain") {
  const words = make("span", {});
  const element = make("span", { class: "state", "data-tone": tone }, words);
  /** @param {string} says @param {"plain" | "clear" | "warning" | "fault"} kind */
  const mark = (says, kind) => {
    setText(words, says);
    if (element.dataset["tone"] === kind && element.childElementCount === (kind === "plain" ? 1 : 2)) return;
    element.dataset["tone"] = kind;
    element.replaceChildren(...(kind === "plain" ? [words] : [icon(kind, 16), words]));
  };
  return { element, mark };
}
