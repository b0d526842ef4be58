/** Ranges of frames, typed: what is exported, what lasts longer or shorter, what is left alone. */

/** @import {Desk} from "./desk.js" */
/** @import {Range, Retime} from "../models/finish-ranges.js" */

import { doublesOf, framesOf, rangeFrom, typed } from "../models/finish-ranges.js";
import { button, toggle } from "./controls.js";
import { make } from "./dom.js";
import { check } from "./finish-controls.js";

const LONGEST = 100_000;

/** Only a range of the shot. @param {Desk} desk */
export function makeRange({ app }) {
  const { finish } = app;
  const on = check("Only a range", (yes) => finish.patch({ range: yes ? { first: 1, last: total(app) } : null }));
  const place = make("div", {});
  rowsOf(place, app, (wish) => (wish.range ? [wish.range] : []), (range) => row("Frames", range, () => total(app), (to) => finish.patch({ range: to })));
  finish.subscribe((wish) => on.mark(wish.range !== null));
  return make("div", {}, on.element, place);
}

/** Ranges that last another number of frames. @param {Desk} desk */
export function makeRetimes({ app }) {
  const { finish } = app;
  const put = (/** @type {number} */ at, /** @type {Retime | null} */ to) => finish.patch({ retimes: replaced(finish.value.retimes, at, to) });
  const list = make("div", { class: "ranges" });
  rowsOf(list, app, (wish) => wish.retimes, (one, at) => row("Retimed", one, () => total(app), (to) => put(at, to), () => put(at, null)));
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
  rowsOf(list, app, (wish) => wish.alone, (one, at) => row("Left as shot", one, () => total(app), (to) => put(at, to), () => put(at, null)));
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
 * A row for each range; rows stay while their number does, so that what is typed into keeps the focus.
 *
 * @template {Range} T
 * @param {HTMLElement} place @param {import("../models/app.js").App} app
 * @param {(wish: import("../models/finish.js").Wish) => T[]} part @param {(range: T, at: number) => ReturnType<typeof row>} makeRow
 */
function rowsOf(place, { finish }, part, makeRow) {
  /** @type {ReturnType<typeof row>[]} */
  let rows = [];
  finish.subscribe((wish) => {
    const all = part(wish);
    if (all.length !== rows.length) {
      rows = all.map(makeRow);
      place.replaceChildren(...rows.map(({ element }) => element));
    }
    rows.forEach(({ mark }, at) => mark(/** @type {T} */ (all[at])));
  });
}

/**
 * Two numbers, or three where it is retimed.
 *
 * @template {Range} T
 * @param {string} label @param {T} range @param {() => number} most @param {(to: T) => void} change @param {() => void} [remove]
 */
function row(label, range, most, change, remove) {
  let now = range;
  const number = (/** @type {string} */ key, /** @type {string} */ says, /** @type {() => number} */ highest) => {
    const input = make("input", {
      type: "number", inputmode: "numeric", min: 1, "aria-label": `${label}: ${says}`,
      onchange: () => {
        const value = Math.min(Math.max(1, Math.round(Number(input.value)) || 1), highest());
        change(typed(now, key, value, most()));
      },
    });
    return { key, input };
  };
  const inputs = [number("first", "first", most), number("last", "last", most), ..."frames" in range ? [number("frames", "how many they shall last", () => LONGEST)] : []];
  const between = ["to", "in"].map((says) => make("span", { class: "quiet", "aria-hidden": "true" }, says));
  const removes = remove && button(`Remove: ${label}`, remove, { icon: "close", bare: true });
  const element = make(
    "div",
    { class: "range-row", role: "group", "aria-label": label },
    make("span", { class: "label", "aria-hidden": "true" }, label),
    ...inputs.flatMap(({ input }, at) => (at ? [between[at - 1], input] : [input])),
    removes,
  );
  /** @param {Range} to */
  const mark = (to) => {
    now = /** @type {T} */ (to);
    for (const { key, input } of inputs) input.value = String(/** @type {any} */ (to)[key]);
    removes?.setAttribute("aria-label", `Remove: ${label} ${to.first} to ${to.last}`);
  };
  return { element, mark };
}
