/**
 * Draws the timing chart: a line with one tick per exposure, as an animator draws it at the side of
 * a pose. A hold is the way to the next tick, drawn thick. Only what is in sight is drawn.
 *
 *        0 s                     1 s                  seconds
 *         |   |   |   |   |   |   |   |               ticks
 *      ───┴───┴───┴━━━━━━━┴───┴───┴───┴ · · · ·       the line; beyond its end dots
 *                      ▲light         7              flaws with their word; the selected number
 */

/** @import {Exposure} from "../core/types.js" */

import { flawsOf } from "../models/flaws.js";
import { colour } from "./dom.js";
import { drawActions } from "./plan-chart.js";
import { drawSound } from "./sound-drawing.js";

/**
 * @typedef {object} Chart
 * @property {Exposure[]} exposures
 * @property {number[]} starts  frames before each exposure, and the sum at the end
 * @property {number} fps
 * @property {number} selected  number of the exposure that is shown, 0 for none
 * @property {boolean} end  mark where the next one goes
 * @property {{label: string, from: number, to: number}[]} actions  of the plan, in frames
 * @property {import("../models/sound.js").SoundState | null} sound  drawn below it
 */

export const FRAME_PX = 14;
export const LEFT_PX = 20;
const LINE_Y = 44;
const SOUND_Y = 80;
const TICK = 16;
/** So far apart two labels do not touch. */
const LABEL_PX = 72;

/**
 * @param {CanvasRenderingContext2D} ink
 * @param {number} width px @param {number} height px @param {number} scrolled px @param {Chart} chart
 */
export function drawChart(ink, width, height, scrolled, chart) {
  const x = (/** @type {number} */ frame) => LEFT_PX + frame * FRAME_PX - scrolled;
  ink.clearRect(0, 0, width, height);
  ink.font = `12px ${getComputedStyle(document.body).fontFamily}`;
  const firstFrame = Math.max(0, Math.floor((scrolled - LEFT_PX) / FRAME_PX) - 1);
  const lastFrame = Math.ceil((scrolled + width) / FRAME_PX) + 1;
  drawSeconds(ink, x, firstFrame, lastFrame, chart.fps);
  drawActions(ink, x, chart.actions, firstFrame, lastFrame);
  drawLine(ink, x, chart.starts[chart.starts.length - 1] ?? 0, width);
  drawDots(ink, x, Math.max(firstFrame, (chart.starts[chart.starts.length - 1] ?? 0) + 1), lastFrame);
  const first = indexAt(chart.starts, firstFrame);
  for (let index = first; index < chart.exposures.length; index++) {
    if ((chart.starts[index] ?? 0) > lastFrame) break;
    drawExposure(ink, x, chart, index);
  }
  if (chart.sound) drawSound(ink, x, chart.sound, SOUND_Y, firstFrame, lastFrame);
  if (chart.end) drawEnd(ink, x(chart.starts[chart.starts.length - 1] ?? 0));
}

/** @typedef {(frame: number) => number} Place */

/** @param {CanvasRenderingContext2D} ink @param {Place} x @param {number} from @param {number} to @param {number} fps */
function drawSeconds(ink, x, from, to, fps) {
  if (!(fps > 0)) return;
  ink.textAlign = "left";
  for (let second = Math.floor(from / fps); second * fps <= to; second++) {
    stroke(ink, "line-strong", 1, [x(second * fps), 2, x(second * fps), 14]);
    ink.fillStyle = colour("text-quiet");
    ink.fillText(`${second} s`, x(second * fps) + 5, 12);
  }
}

/** @param {CanvasRenderingContext2D} ink @param {Place} x @param {number} frames @param {number} width */
function drawLine(ink, x, frames, width) {
  if (!frames) return;
  stroke(ink, "text-quiet", 1.5, [Math.max(-2, x(0)), LINE_Y, Math.min(width + 2, x(frames)), LINE_Y]);
}

/** @param {CanvasRenderingContext2D} ink @param {Place} x @param {number} from @param {number} to */
function drawDots(ink, x, from, to) {
  ink.fillStyle = colour("line-strong");
  for (let frame = from; frame <= to; frame++) ink.fillRect(x(frame) - 0.75, LINE_Y - 0.75, 1.5, 1.5);
}

/** @param {CanvasRenderingContext2D} ink @param {Place} x @param {Chart} chart @param {number} index */
function drawExposure(ink, x, chart, index) {
  const exposure = /** @type {Exposure} */ (chart.exposures[index]);
  const left = x(chart.starts[index] ?? 0);
  const right = x((chart.starts[index] ?? 0) + exposure.hold);
  const selected = exposure.number === chart.selected;
  const ink1 = selected ? "pencil" : "text";
  stroke(ink, ink1, selected ? 3 : 1.5, [left, LINE_Y - (selected ? TICK + 8 : TICK), left, LINE_Y + (selected ? 6 : 0)]);
  if (exposure.hold > 1) stroke(ink, ink1, 4, [left, LINE_Y, right - 3, LINE_Y]);
  if (exposure.note) stroke(ink, "pencil", 1.5, [left - 3, LINE_Y + 5, left + 3, LINE_Y + 5]);
  const flaw = flawsOf(exposure)[0]?.watch;
  if (flaw) drawFlaw(ink, left, wordOf(chart, index, flaw));
  else if (selected) label(ink, String(exposure.number), left, LINE_Y + 20, "pencil");
}

/**
 * A flaw that goes on says its word once; where the selected exposure stands close by, there, with
 * its number.
 *
 * @param {Chart} chart @param {number} index @param {string} flaw
 */
function wordOf(chart, index, flaw) {
  const number = index + 1;
  if (number === chart.selected) return `${number} ${flaw}`;
  const near = Math.abs((chart.starts[chart.selected - 1] ?? 0) - (chart.starts[index] ?? 0)) * FRAME_PX;
  const goesOn = flaw === flawsOf(chart.exposures[index - 1])[0]?.watch;
  return goesOn || (chart.selected && near < LABEL_PX) ? "" : flaw;
}

/**
 * A triangle and its word.
 *
 * @param {CanvasRenderingContext2D} ink @param {number} x @param {string} word
 */
function drawFlaw(ink, x, word) {
  ink.fillStyle = colour("amber");
  ink.beginPath();
  ink.moveTo(x, LINE_Y + 8);
  ink.lineTo(x + 6, LINE_Y + 18);
  ink.lineTo(x - 6, LINE_Y + 18);
  ink.fill();
  label(ink, word, x, LINE_Y + 31, "amber");
}

/** Where the next exposure goes. @param {CanvasRenderingContext2D} ink @param {number} x */
function drawEnd(ink, x) {
  ink.setLineDash([3, 3]);
  stroke(ink, "pencil", 1.5, [x, LINE_Y - TICK, x, LINE_Y]);
  ink.setLineDash([]);
  ink.fillStyle = colour("pencil");
  ink.beginPath();
  ink.moveTo(x, LINE_Y + 4);
  ink.lineTo(x + 5, LINE_Y + 13);
  ink.lineTo(x - 5, LINE_Y + 13);
  ink.fill();
}

/** @param {CanvasRenderingContext2D} ink @param {string} ink1 @param {number} thick @param {[number, number, number, number]} line */
function stroke(ink, ink1, thick, [x0, y0, x1, y1]) {
  ink.strokeStyle = colour(ink1);
  ink.lineWidth = thick;
  ink.beginPath();
  ink.moveTo(Math.round(x0) + 0.5, y0);
  ink.lineTo(Math.round(x1) + 0.5, y1);
  ink.stroke();
}

/** @param {CanvasRenderingContext2D} ink @param {string} text @param {number} x @param {number} y @param {string} ink1 */
function label(ink, text, x, y, ink1) {
  ink.textAlign = "center";
  ink.fillStyle = colour(ink1);
  ink.fillText(text, Math.max(12, x), y);
}

/** @param {number[]} starts ascending @param {number} frame @returns {number} index of the exposure shown at it */
export function indexAt(starts, frame) {
  let low = 0;
  let high = starts.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if ((starts[middle] ?? 0) <= frame) low = middle;
    else high = middle - 1;
  }
  return low;
}
