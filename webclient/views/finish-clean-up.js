/** Painting a support out: drawn over one exposure with a finger, the mask follows the object. */

/** @import {Desk} from "./desk.js" */
/** @import {Point, Stroke} from "../models/clean-up.js" */

import { atWidth } from "../core/preview.js";
import { button, oneOf, stepper } from "./controls.js";
import { draw, make, setText } from "./dom.js";
import { check, slider } from "./finish-controls.js";

const TAP = 0.012;

/** @param {Desk} desk */
export function makeCleanUp({ app }) {
  const { finish, shot, review } = app;
  const { cleanUp } = finish;
  let width = 0.02;
  const on = check("Paint out a support", (yes) => finish.patch({ clean: yes }), "A rod, a wire, a stand: draw over it on one exposure.");
  const still = make("img", { class: "picture", alt: "", draggable: "false" });
  const lines = draw("g", { class: "brush-lines" });
  const over = draw("svg", { class: "brush", "aria-hidden": "true" }, lines);
  const pad = make("figure", { class: "clean-pad", role: "img" }, still, over);
  const which = stepper("Exposure", (by) => void app.attempt(() => review.seek(Math.min(Math.max(1, (shown()?.number ?? 1) + by), shot.value.exposures.length))));
  const brush = slider("Brush", { min: 0.5, max: 8, step: 0.5 }, (value) => { width = value / 100; paint(); }, (value) => `${value} %`);
  const undo = button("Undo stroke", () => void keep(strokes().slice(0, -1)), { icon: "undo" });
  const clear = button("Clear", () => void keep([]), { class: "danger" });
  const moves = oneOf("The mask", /** @type {[string, string][]} */ ([["follows", "follows the object"], ["stays", "stays"]]), (how) => void app.attempt(() => cleanUp.change({ follows: how === "follows" })));
  const plate = oneOf("Clean plate", /** @type {[string, string][]} */ ([["own", "the shot’s own"], ["this", "this exposure"]]), (from) =>
    void app.attempt(() => cleanUp.change({ plate: from === "this" ? (shown()?.id ?? null) : null })));
  const says = make("p", { class: "quiet", role: "status" });
  const more = make("div", { class: "clean-more" }, which.element, pad, make("div", { class: "row" }, undo, clear), brush.element, moves.element, plate.element, says);

  const shown = () => review.exposure ?? shot.last;
  const strokes = () => cleanUp.strokesOn(shown()?.id ?? "");
  /** @param {Stroke[]} drawn */
  const keep = (drawn) => app.attempt(() => cleanUp.draw(shown()?.id ?? "", drawn));

  /** @param {Stroke} [fresh]  still being drawn */
  function paint(fresh) {
    const { clientWidth: w, clientHeight: h } = pad;
    if (!w) return;
    over.setAttribute("viewBox", `0 0 ${w} ${h}`);
    lines.replaceChildren(...[...strokes(), ...(fresh ? [fresh] : [])].map((one) => lineOf(one, w, h)));
  }

  function tell() {
    const exposure = shown();
    more.hidden = !finish.value.clean || !exposure;
    on.mark(finish.value.clean);
    if (!exposure || more.hidden) return;
    const [original] = exposure.originals;
    pad.style.aspectRatio = `${original?.width || 16} / ${original?.height || 9}`;
    const url = atWidth(exposure.preview, 960);
    if (!still.src.endsWith(url)) still.src = url;
    which.mark(`${exposure.number} of ${shot.value.exposures.length}`);
    pad.setAttribute("aria-label", `Exposure ${exposure.number}, ${strokes().length} strokes drawn over it. Draw with a finger, or tap from point to point.`);
    undo.disabled = clear.disabled = !strokes().length;
    moves.mark(cleanUp.value.follows ? "follows" : "stays");
    const from = cleanUp.value.plate && shot.find(cleanUp.value.plate)?.number;
    plate.mark(from ? "this" : "own");
    setText(says, wordsOf(cleanUp.drawnOn, from || null));
    paint();
  }
  drawing(pad, () => width, paint, (points, joined) => {
    const before = strokes();
    const last = before.at(-1);
    void keep(joined && last ? [...before.slice(0, -1), { ...last, points: [...last.points, ...points] }] : [...before, { points, width }]);
  });
  brush.mark(width * 100);
  finish.subscribe(tell);
  cleanUp.subscribe(tell);
  review.subscribe(tell);
  shot.subscribe(tell);
  new ResizeObserver(() => paint()).observe(pad);
  return make("div", {}, on.element, more);
}

/** @param {Stroke} stroke @param {number} w @param {number} h */
function lineOf({ points, width }, w, h) {
  const all = points.map(([x, y]) => `${(x * w).toFixed(1)} ${(y * h).toFixed(1)}`);
  const d = `M${all.join("L")}${all.length === 1 ? `L${all[0]}` : ""}`;
  return draw("path", { d, "stroke-width": Math.max(1, width * w) });
}

/** @param {number[]} drawn @param {number | null} plate */
function wordsOf(drawn, plate) {
  if (!drawn.length) return "Nothing is drawn yet. Start beside the object and draw out to the edge; a stroke that ends there goes on beyond it.";
  const where = `Drawn on exposure ${drawn.join(", ")}.`;
  const again = drawn.length === 1 ? " Where it goes wrong on a later one, draw it anew there." : "";
  return `${where}${again} ${plate ? `Exposure ${plate} is the clean plate.` : "What lies behind is taken from the other exposures."}`;
}

/**
 * A drag draws; a tap sets a point, and the next tap draws a straight line to there.
 *
 * @param {HTMLElement} pad @param {() => number} width @param {(fresh?: Stroke) => void} paint
 * @param {(points: Point[], joined: boolean) => void} done
 */
function drawing(pad, width, paint, done) {
  /** @type {Point[] | null} */
  let points = null;
  let tapped = false;
  /** @param {PointerEvent} event @returns {Point} */
  const at = (event) => {
    const { left, top, width: w, height: h } = pad.getBoundingClientRect();
    const part = (/** @type {number} */ value) => Math.round(Math.min(1, Math.max(0, value)) * 1e4) / 1e4;
    return [part((event.clientX - left) / w), part((event.clientY - top) / h)];
  };
  pad.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    pad.setPointerCapture(event.pointerId);
    points = [at(event)];
    paint({ points, width: width() });
  });
  pad.addEventListener("pointermove", (event) => {
    const last = points?.at(-1);
    if (!points || !last) return;
    const now = at(event);
    if (Math.hypot(now[0] - last[0], now[1] - last[1]) < 0.003) return;
    points.push(now);
    paint({ points, width: width() });
  });
  pad.addEventListener("pointerup", () => {
    if (!points) return;
    const [first] = points;
    const tap = points.every((one) => first && Math.hypot(one[0] - first[0], one[1] - first[1]) < TAP);
    const drawn = tap ? points.slice(0, 1) : points.slice(0, 2000);
    points = null;
    done(drawn, tap && tapped);
    tapped = tap;
  });
  pad.addEventListener("pointercancel", () => {
    points = null;
    paint();
  });
}
