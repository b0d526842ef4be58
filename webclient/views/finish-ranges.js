/** Ranges of frames, typed: what is exported, what lasts longer or shorter, what is left alone. */

/** @import {Desk} from "./desk.js" */
/** @import {Range, Retime} from "../models/finish-ranges.js" */

import { doublesOf, framesOf, rangeFrom, within } from "../models/finish-ranges.js";
import { button, toggle } from "./controls.js";
import { make } from "./dom.js";
import { check } from "./finish-controls.js";

const LONGEST = 100_000;

/** Only a range of the shot. @param {Desk} desk */
export function makeRange({ app }) {
  const { finish } = app;
  const on = check("Only a range", (yes) => finish.patch({ range: yes ? { first: 1, last: total(app) } : null }));
  const place = make("div", {});
  keptAnew(place, app, (wish) => wish.range, (range) => [range && row("Frames", range, total(app), (to) => finish.patch({ range: to }))]);
  finish.subscribe((wish) => on.mark(wish.range !== null));
  return make("div", {}, on.element, place);
}

/** Ranges that last another number of frames. @param {Desk} desk */
export function makeRetimes({ app }) {
  const { finish } = app;
  const put = (/** @type {number} */ at, /** @type {Retime | null} */ to) => finish.patch({ retimes: replaced(finish.value.retimes, at, to) });
  const list = make("div", { class: "ranges" });
  keptAnew(list, app, (wish) => wish.retimes, (all) => all.map((one, at) => row("Retimed", one, total(app), (to) => put(at, to), () => put(at, null))));
  const add = button("Retime a range", () => {
    const range = rangeFrom(here(app), total(app));
    finish.patch({ retimes: [...finish.value.retimes, { ...range, frames: range.last - range.first + 1 }] });
  }, { icon: "plus" });
  return make("div", { class: "ranges" }, list, add);
}

/** Frames whose light is wanted as it is. @param {Desk} desk */
export function makeAlone({ app }) {
  const { finish } = app;
  const put = (/** @type {number} */ at, /** @type {Range | null} */ to) => finish.patch({ alone: replaced(finish.value.alone, at, to) });
  const list = make("div", { class: "ranges" });
  keptAnew(list, app, (wish) => wish.alone, (all) => all.map((one, at) => row("Left as shot", one, total(app), (to) => put(at, to), () => put(at, null))));
  const add = button("Leave a range alone", () => finish.patch({ alone: [...finish.value.alone, rangeFrom(here(app), total(app))] }), { icon: "plus" });
  const element = make("div", { class: "ranges" }, list, add);
  finish.subscribe((wish) => (element.hidden = !wish.light));
  return element;
}

/** Poses that were taken twice, each to be skipped or kept. @param {Desk} desk */
export function makeDoubles({ app }) {
  const { finish, shot } = app;
  const row = make("div", { class: "doubles-row" });
  const element = make("div", { class: "field", role: "group", "aria-label": "Skip a pose taken twice" }, make("span", { class: "label" }, "Skip a pose taken twice"), row);
  let shown = "";
  const tell = () => {
    const doubles = doublesOf(shot.value.exposures);
    element.hidden = !doubles.length;
    if (shown !== doubles.join()) {
      shown = doubles.join();
      row.replaceChildren(...doubles.map((number) => {
        const one = toggle(`Exposure ${number}`, (yes) => {
          const others = finish.value.leaveOut.filter((other) => other !== number);
          finish.patch({ leaveOut: yes ? [...others, number] : others });
        });
        one.dataset["number"] = String(number);
        return one;
      }));
    }
    for (const one of row.children) {
      one.setAttribute("aria-pressed", String(finish.value.leaveOut.includes(Number(/** @type {HTMLElement} */ (one).dataset["number"]))));
    }
  };
  finish.subscribe(tell);
  shot.subscribe(tell);
  return element;
}

/** @param {import("../models/app.js").App} app  frames of the shot */
const total = ({ finish, shot }) => framesOf(shot.value.exposures, finish.value.holds);

/** The frame that is looked at. @param {import("../models/app.js").App} app */
const here = ({ review }) => review.value.frames[review.value.index]?.frame ?? 1;

/** @template T @param {T[]} all @param {number} at @param {T | null} to */
const replaced = (all, at, to) => all.flatMap((one, place) => (place !== at ? [one] : to ? [to] : []));

/**
 * Rows are made anew when their number changes; while one is typed into, they stay.
 *
 * @template T
 * @param {HTMLElement} place @param {import("../models/app.js").App} app
 * @param {(wish: import("../models/finish.js").Wish) => T} part @param {(value: T) => (HTMLElement | null | false)[]} rows
 */
function keptAnew(place, { finish }, part, rows) {
  let shown = "";
  finish.subscribe((wish) => {
    const value = part(wish);
    const now = JSON.stringify(value);
    if (now === shown) return;
    shown = now;
    const typed = place.contains(document.activeElement) ? document.activeElement?.getAttribute("aria-label") : null;
    place.replaceChildren(...rows(value).filter((one) => one instanceof HTMLElement));
    if (typed) /** @type {HTMLElement | null} */ (place.querySelector(`[aria-label="${typed}"]`))?.focus();
  });
}

/**
 * Two numbers, or three where it is retimed.
 *
 * @template {Range} T
 * @param {string} label @param {T} range @param {number} most @param {(to: T) => void} change @param {() => void} [remove]
 */
function row(label, range, most, change, remove) {
  const named = `${label} ${range.first} to ${range.last}`;
  const number = (/** @type {keyof T & string} */ key, /** @type {string} */ says, /** @type {number} */ highest) => {
    const input = make("input", {
      type: "number", inputmode: "numeric", min: 1, max: highest, value: range[key], "aria-label": `${label}: ${says}`,
      onchange: () => {
        const value = Math.min(Math.max(1, Math.round(Number(input.value)) || 1), highest);
        change(within({ ...range, [key]: value }, most));
      },
    });
    return input;
  };
  return make(
    "div",
    { class: "range-row", role: "group", "aria-label": named },
    make("span", { class: "label", "aria-hidden": "true" }, label),
    number("first", "first", most), make("span", { class: "quiet", "aria-hidden": "true" }, "to"), number("last", "last", most),
    ...("frames" in range ? [make("span", { class: "quiet", "aria-hidden": "true" }, "in"), number(/** @type {any} */ ("frames"), "how many they shall last", LONGEST)] : []),
    remove && button(`Remove: ${named}`, remove, { icon: "close", bare: true }),
  );
}
