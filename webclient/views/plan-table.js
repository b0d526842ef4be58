/** True scale: the four corners of a known rectangle that lies on the table, tapped on the picture. */

/** @import {Desk, View} from "./desk.js" */

import { asProblem } from "../core/problem.js";
import { NOMINAL } from "../models/plan.js";
import { button, field, oneOf, state } from "./controls.js";
import { draw, make } from "./dom.js";
import { PointBoard } from "./plan-board.js";

const SOON_MS = 150;

/** @param {Desk} desk @returns {View} */
export function makeTable(desk) {
  const { plan } = desk.app;
  const says = state();
  const due = state();
  const sizes = makeSizes(() => soon());
  const board = new PointBoard(desk, { most: 4, name: "Corner", under: () => outline(board.points), changed: () => soon() });
  const save = button("Keep", () => void keep(), { class: "main" });
  const forget = button("Forget", () => void desk.app.attempt(() => plan.put({ forget_calibration: true })));
  let touched = false;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  let turn = 0;

  /** @returns {Record<string, unknown>} */
  const asked = () => ({
    calibration: { corners: board.points, picture_width: NOMINAL, picture_height: Math.round(board.picture.height), ...sizes.read() },
  });

  function soon() {
    touched = true;
    clearTimeout(timer);
    save.disabled = true;
    turn++;
    if (board.points.length < 4) return says.mark(`Tap the corners in order round the rectangle: ${4 - board.points.length} to go.`, "plain");
    timer = setTimeout(() => void check(), SOON_MS);
  }

  async function check() {
    const mine = ++turn;
    try {
      const would = await plan.preview(asked());
      if (mine !== turn) return;
      says.mark(would.calibration?.says ?? "", "clear");
      save.disabled = false;
    } catch (error) {
      if (mine === turn) says.mark(asProblem(error).message, "warning");
    }
  }

  async function keep() {
    await desk.app.attempt(async () => {
      await plan.put(asked());
      touched = false;
      show();
      desk.app.say("The table is measured. Draw moves on the picture: their lengths are in mm now.");
    });
  }

  function again() {
    board.set([]);
    soon();
  }

  function show() {
    const now = plan.value.plan?.calibration ?? null;
    forget.disabled = !now;
    const why = plan.value.plan?.calibration_due ?? "";
    due.mark(why, why ? "warning" : "plain");
    due.element.hidden = !why;
    if (touched) return;
    save.disabled = true;
    if (!now) return says.mark("Lay a sheet or a card flat on the table, tap its corners in order round it.", "plain");
    const by = NOMINAL / now.picture_width;
    board.set(now.corners.map(([x, y]) => [x * by, y * by]));
    sizes.show(now);
    says.mark(now.says, "clear");
  }
  plan.subscribe(show);
  const controls = make(
    "div",
    { class: "plan-scroll table-controls" },
    make("p", { class: "table-due", role: "status" }, due.element),
    make("p", { class: "table-says", role: "status" }, says.element),
    board.beside,
    ...sizes.elements,
    make("div", { class: "row" }, board.stepping(), button("Add a corner", () => board.add())),
  );
  const foot = make("div", { class: "row plan-foot" }, save, button("Tap anew", again), forget);
  return {
    element: make("div", { class: "plan-draw" }, board.element, controls, foot),
    shown: () => board.shown(),
    hidden: () => board.hidden(),
  };
}

/** The rectangle, its first edge thick: that is the one whose length is asked. @param {[number, number][]} points */
function outline(points) {
  const [a, b] = points;
  if (!a || !b) return [];
  const d = `M${points.map((one) => one.join(" ")).join("L")}${points.length === 4 ? "Z" : ""}`;
  return [draw("path", { d, class: "ink-edge" }), draw("path", { d, class: "ink-line" }), draw("path", { d: `M${a.join(" ")}L${b.join(" ")}`, class: "ink-first" })];
}

/** Which rectangle it is. @param {() => void} changed */
function makeSizes(changed) {
  /** @type {"" | "A4" | "ID-1" | "Letter"} */
  let kind = "ID-1";
  let long = true;
  const first = make("input", { inputmode: "decimal" });
  const second = make("input", { inputmode: "decimal" });
  const typed = [field("1 to 2, mm", first), field("2 to 3, mm", second)];
  const which = oneOf("Rectangle", [["ID-1", "bank card"], ["A4", "A4"], ["Letter", "Letter"], ["", "typed"]], (chosen) => {
    kind = chosen;
    fit();
    changed();
  });
  const edge = oneOf("Edge 1 to 2", [["long", "long"], ["short", "short"]], (chosen) => {
    long = chosen === "long";
    fit();
    changed();
  });
  which.element.classList.add("stacked");
  for (const one of [first, second]) one.addEventListener("input", changed);

  function fit() {
    which.mark(kind);
    edge.mark(long ? "long" : "short");
    edge.element.hidden = kind === "";
    for (const one of typed) one.hidden = kind !== "";
  }
  fit();
  const number = (/** @type {HTMLInputElement} */ one) => Number(one.value.replace(",", ".")) || null;
  return {
    elements: [which.element, edge.element, ...typed],
    read: () => (kind ? { rectangle: kind, long_edge_first: long } : { first_edge_mm: number(first), second_edge_mm: number(second) }),
    /** @param {import("../models/plan.js").Calibration} now */
    show(now) {
      first.value = String(now.first_edge_mm ?? "");
      second.value = String(now.second_edge_mm ?? "");
      const sides = [now.first_edge_mm ?? 0, now.second_edge_mm ?? 0];
      const known = { "85.6": "ID-1", "297": "A4", "279.4": "Letter" }[String(Math.max(...sides))];
      kind = /** @type {"" | "A4" | "ID-1" | "Letter"} */ (known ?? "");
      long = (sides[0] ?? 0) > (sides[1] ?? 0);
      fit();
    },
  };
}
