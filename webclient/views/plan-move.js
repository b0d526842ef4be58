/** A move drawn on the live picture: its path, its easing, and where every exposure stands. */

/** @import {Desk, View} from "./desk.js" */
/** @import {Action, Plan, Wish} from "../models/plan.js" */

import { asProblem } from "../core/problem.js";
import { NOMINAL } from "../models/plan.js";
import { counted, EASINGS, easingParts } from "../models/plan-words.js";
import { button, field, oneOf, state, stepper } from "./controls.js";
import { make } from "./dom.js";
import { PointBoard } from "./plan-board.js";
import { drawTicks, nearestOn } from "./plan-ticks.js";

const SOON_MS = 120;
const NUMBERS = /** @type {Record<string, string>} */ ({ bezier: "0.42 0 0.58 1", bounce: "0.6 3" });
const STEP = 0.01;

/**
 * @param {Desk} desk @param {Wish} draft  the action as it is in the editor
 * @param {number} place @param {() => void} close @returns {View}
 */
export function makeMove(desk, draft, place, close) {
  const { plan } = desk.app;
  const says = state();
  const easing = makeEasing(draft.move?.easing ?? "linear", () => changed());
  let curve = draft.move?.curve ?? "straight";
  let would = /** @type {Plan | null} */ (null);
  let timer = /** @type {ReturnType<typeof setTimeout> | undefined} */ (undefined);
  let turn = 0;
  const board = new PointBoard(desk, { most: 40, name: "Point", under: (scaled) => drawTicks(action(), path(), scaled, easing.byHand ? ticks.chosen : -1), changed: () => changed(), grip: (_event, at, near) => gripTick(at, near) });

  const action = () => /** @type {Action | undefined} */ (would?.actions[place]);
  const path = () => would?.paths?.[action()?.id ?? ""] ?? [];
  const move = () => ({ ...draft.move, points: board.points, curve, easing: easing.read(), space: /** @type {"picture"} */ ("picture") });
  const wish = () => ({ ...draft, label: draft.label || "move", move: move() });

  function changed() {
    clearTimeout(timer);
    save.disabled = true;
    turn++;
    if (board.points.length < 2) {
      would = null;
      board.paint();
      return says.mark("Tap where the object starts, then where it goes.", "plain");
    }
    timer = setTimeout(() => void look(), SOON_MS);
  }

  async function look() {
    const mine = turn;
    try {
      const found = await plan.preview(plan.with(wish(), place));
      if (mine !== turn) return;
      would = found;
      save.disabled = false;
      says.mark(moveInWords(action(), found.calibration !== null), "plain");
      easing.fill(action()?.targets?.map((one) => one.progress) ?? []);
      ticks.mark();
      board.paint();
    } catch (error) {
      if (mine === turn) says.mark(asProblem(error).message, "warning");
    }
  }

  /** A tick under the finger, when spacing is by hand. @param {[number, number]} at @param {number} near */
  function gripTick(at, near) {
    if (!easing.byHand) return null;
    const found = action()?.targets?.findIndex(({ picture_px: spot }) => spot && Math.hypot(spot[0] - at[0], spot[1] - at[1]) < near / 1.5) ?? -1;
    if (found < 0) return null;
    ticks.choose(found);
    return (/** @type {[number, number]} */ to) => put(found, nearestOn(path(), to));
  }

  /** @param {number} index @param {number} progress */
  function put(index, progress) {
    easing.place(index, progress);
    changed();
  }

  async function keep() {
    await desk.app.attempt(async () => {
      await plan.put(plan.with(wish(), place));
      close();
    });
  }

  const save = button("Keep", () => void keep(), { class: "main" });
  const shape = oneOf("Path", [["straight", "straight"], ["smooth", "curve"]], (to) => {
    shape.mark((curve = /** @type {"straight" | "smooth"} */ (to)));
    changed();
  });
  shape.mark(curve);
  const ticks = makeTicks(action, () => board.paint(), put);
  easing.onHand = ticks.show;
  easing.onHand(easing.byHand);
  const by = NOMINAL / (plan.value.plan?.calibration?.picture_width ?? NOMINAL);
  if (draft.move?.space !== "table") board.set((draft.move?.points ?? []).map(([x, y]) => [x * by, y * by]));
  changed();
  return {
    element: make("div", { class: "plan-draw" }, board.element, makeControls(draft, board, says.element, [shape.element, ...easing.elements, ...ticks.elements]), make("div", { class: "row plan-foot" }, save, button("Leave it", close))),
    shown: () => board.shown(),
    hidden: () => board.hidden(),
  };
}

/**
 * Beside the picture: what it is, what is wrong, and all that can be chosen.
 *
 * @param {Wish} draft @param {PointBoard} board @param {HTMLElement} says @param {HTMLElement[]} choices
 */
function makeControls(draft, board, says, choices) {
  return make(
    "div",
    { class: "plan-scroll table-controls" },
    make("header", { class: "draw-head" }, make("h2", {}, `Move of “${draft.label || "the new action"}”`)),
    make("p", { class: "table-says", role: "status" }, says),
    board.beside,
    ...choices,
    make("div", { class: "row" }, board.stepping(), ...board.buttons),
  );
}

/**
 * Which tick is chosen and where it stands, for spacing by hand.
 *
 * @param {() => Action | undefined} action @param {() => void} paint
 * @param {(index: number, progress: number) => void} placed
 */
function makeTicks(action, paint, placed) {
  const tick = stepper("Tick", (by) => ticks.choose(Math.max(0, Math.min((action()?.exposures ?? 1) - 1, ticks.chosen + by))));
  const shift = stepper("Its place", (by) => placed(ticks.chosen, (action()?.targets?.[ticks.chosen]?.progress ?? 0) + by * STEP));
  shift.mark("± 1 %");
  const ticks = {
    chosen: 0,
    elements: [tick.element, shift.element],
    mark: () => tick.mark(tickInWords(action(), ticks.chosen)),
    /** @param {boolean} on */
    show: (on) => (tick.element.hidden = shift.element.hidden = !on),
    /** @param {number} index */
    choose(index) {
      ticks.chosen = index;
      ticks.mark();
      paint();
    },
  };
  return ticks;
}

/** @param {Action | undefined} action @param {boolean} measured */
function moveInWords(action, measured) {
  const targets = action?.targets;
  if (!action || !targets) return "";
  if (!measured) return `${counted(action.exposures, "exposure")}. Measure the table under Table to know lengths in mm.`;
  const steps = targets.map((one) => Math.abs(one.step_mm ?? 0));
  const whole = action.positions_mm?.[action.positions_mm.length - 1] ?? 0;
  return `${whole.toFixed(0)} mm in ${counted(action.exposures, "exposure")}: spaces of ${Math.min(...steps).toFixed(1)} to ${Math.max(...steps).toFixed(1)} mm.${fallInWords(action)}`;
}

/** @param {Action} action */
function fallInWords({ gravity_s: s }) {
  return s === null ? "" : ` Gravity would take ${s.toFixed(2)} s.`;
}

/** @param {Action | undefined} action @param {number} index */
function tickInWords(action, index) {
  const target = action?.targets?.[index];
  return target ? `${index + 1}: ${(100 * target.progress).toFixed(0)} %` : "–";
}

/** How the move is eased. @param {string} words @param {() => void} changed */
function makeEasing(words, changed) {
  let { kind, numbers } = easingParts(words);
  /** @type {number[]} by hand: how far each exposure is, 0..1 */
  let ticks = kind === "ticks" ? numbers.split(" ").map(Number) : [];
  const select = make("select", {}, ...EASINGS.map(([value, label]) => make("option", { value }, label)));
  const figures = make("input", { inputmode: "decimal", value: numbers });
  const more = field("Numbers", figures);
  select.value = kind;
  more.hidden = !(kind in NUMBERS);
  const easing = {
    elements: [field("Easing", select), more],
    onHand: (/** @type {boolean} */ _on) => {},
    get byHand() {
      return kind === "ticks";
    },
    read() {
      if (kind === "ticks") return ticks.length ? `ticks ${ticks.map((one) => one.toFixed(4)).join(" ")}` : "linear";
      return kind in NUMBERS ? `${kind} ${figures.value.trim()}` : kind;
    },
    /** What the service placed is where a hand begins. @param {number[]} placed */
    fill(placed) {
      if (kind !== "ticks" || ticks.length !== placed.length) ticks = placed;
    },
    /** @param {number} index @param {number} to */
    place(index, to) {
      ticks = [...ticks];
      ticks[index] = Math.max(ticks[index - 1] ?? 0, Math.min(ticks[index + 1] ?? 1, to));
    },
  };
  select.addEventListener("change", () => {
    kind = select.value;
    figures.value = NUMBERS[kind] ?? "";
    more.hidden = !(kind in NUMBERS);
    easing.onHand(kind === "ticks");
    changed();
  });
  figures.addEventListener("input", changed);
  return easing;
}
