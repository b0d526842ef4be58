/** The actions along the timing chart: a mark where each begins, and its name. */

import { colour } from "./dom.js";

const NAME_Y = 27;
const TOP_Y = 16;
const LINE_Y = 44;

/**
 * @param {CanvasRenderingContext2D} ink
 * @param {(frame: number) => number} x  px of a frame
 * @param {{label: string, from: number, to: number}[]} spans
 * @param {number} first @param {number} last  frames in sight
 */
export function drawActions(ink, x, spans, first, last) {
  ink.textAlign = "left";
  for (const { label, from, to } of spans) {
    if (to < first || from > last) continue;
    ink.fillStyle = colour("pencil");
    ink.fillRect(Math.round(x(from)) - 1, TOP_Y, 1.5, LINE_Y - TOP_Y + 8);
    ink.save();
    ink.beginPath();
    ink.rect(x(from) + 4, TOP_Y, x(to) - x(from) - 7, NAME_Y - TOP_Y + 4);
    ink.clip();
    ink.fillText(label, Math.max(x(from) + 5, 6), NAME_Y);
    ink.restore();
  }
}
