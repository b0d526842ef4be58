/** Finish: what to make of the shot, how, and what was made. */

/** @import {Desk, View} from "./desk.js" */
/** @import {FinishModel, Wish} from "../models/finish.js" */
/** @import {Kind} from "../models/finish-kinds.js" */

import { rateInWords } from "../core/rate.js";
import { lengthOf } from "../models/finish.js";
import { button, oneOf } from "./controls.js";
import { make, setState, setText } from "./dom.js";
import { makeCorrections, makeTime, makeWords } from "./finish-options.js";
import { makeExports } from "./finish-exports.js";
import { makeFraming } from "./finish-framing.js";
import { makeWipe } from "./finish-wipe.js";

/** @param {Desk} desk @returns {View} */
export function makeFinish(desk) {
  const { app } = desk;
  const framing = makeFraming(desk);
  const corrections = makeCorrections(desk);
  let seen = false;
  let open = "";
  let known = "";
  const element = make(
    "section",
    { class: "finish scroll", "aria-label": "Finish" },
    make(
      "div",
      { class: "finish-parts" },
      framing,
      make("div", { class: "finish-choices" }, makeKinds(desk), corrections, makeWipe(desk), makeTime(desk), makeWords(desk)),
      make("div", { class: "finish-made" }, makeStart(desk), makeExports(desk)),
    ),
  );

  function load() {
    const id = app.shot.value.shot?.id ?? "";
    if (!seen || id === open) return;
    if (id !== known) app.finish.begin();
    open = known = id;
    void app.attempt(() => app.finish.load());
  }
  function tell() {
    corrections.hidden = !app.finish.touchesPictures;
    framing.hidden = corrections.hidden || !app.shot.value.exposures.length;
  }
  app.finish.subscribe(tell);
  app.shot.subscribe(tell);
  app.shot.subscribe(load);
  return {
    element,
    shown() {
      seen = true;
      open = "";
      load();
    },
    hidden() {
      seen = false;
    },
  };
}

/** What to make, in plain words. @param {Desk} desk */
function makeKinds({ app: { finish } }) {
  const list = make("ul", { class: "kinds" });
  /** @type {ReturnType<typeof makeKind>[]} */
  let kinds = [];
  const mark = () => kinds.forEach((kind) => kind.mark(finish.value));
  finish.kinds.subscribe((there) => {
    if (kinds.length === Object.keys(there).length) return;
    kinds = Object.entries(there).map(([id, kind]) => makeKind(finish, id, kind));
    list.replaceChildren(...kinds.map(({ element }) => element));
    mark();
  });
  finish.subscribe(mark);
  return make("section", { class: "part", "aria-label": "What to make" }, make("h2", {}, "What to make"), list);
}

/** One of them, with its formats where there are several. @param {FinishModel} finish @param {string} id @param {Kind} kind */
function makeKind(finish, id, kind) {
  const variants = oneOf(`${kind.label}: format`, kind.formats, (variant) => finish.patch({ variant }), { hideLabel: true });
  const row = make(
    "button",
    { type: "button", class: "kind", "aria-pressed": false, onclick: () => finish.choose(id) },
    make("span", { class: "kind-label" }, kind.label),
    make("span", { class: "quiet" }, kind.says),
  );
  const several = kind.formats.length > 1;
  /** @param {Wish} wish */
  const mark = (wish) => {
    const on = wish.kind === id;
    setState(row, "aria-pressed", on);
    variants.element.hidden = !on || !several;
    if (on && several) variants.mark(wish.variant);
  };
  return { element: make("li", {}, row, variants.element), mark };
}

/** The last look before it is made: how long it will be. @param {Desk} desk */
function makeStart({ app }) {
  const { finish, shot } = app;
  const says = make("p", { class: "finish-sum", role: "status" });
  const start = button("Make it", () => void app.attempt(() => finish.start()), { class: "main finish-start" });
  const tell = () => {
    const wish = finish.value;
    const { shot: facts, exposures } = shot.value;
    const { frames, seconds } = lengthOf(wish, facts, exposures);
    start.disabled = !frames;
    const kind = finish.kinds.value[wish.kind];
    setText(start.lastElementChild ?? start, `Make the ${nounOf(kind?.label ?? "film")}`);
    const rate = rateInWords(wish.rate || (facts?.frame_rate ?? "12"));
    const length = `${frames} ${frames === 1 ? "frame" : "frames"} at ${rate}: ${seconds.toFixed(2)} s`;
    setText(says, frames ? `${length}. The originals stay as they are.` : "The shot has no exposure yet. Take one first.");
  };
  finish.subscribe(tell);
  shot.subscribe(tell);
  return make("section", { class: "part" }, says, start);
}

/** @param {string} label */
const nounOf = (label) => (label.includes("ilm") ? "film" : label.toLowerCase());
