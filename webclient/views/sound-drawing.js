/** The sound under the timing chart: its waveform by frame, and the words marked along it. */

/** @import {SoundState} from "../models/sound.js" */

import { colour } from "./dom.js";

export const SOUND_PX = 52;
const WAVE_PX = 15;
const WORDS_PX = 14;

/**
 * @param {CanvasRenderingContext2D} ink
 * @param {(frame: number) => number} x  px of a frame, from 0
 * @param {SoundState} state @param {number} top  px
 * @param {number} first @param {number} last  frames in sight
 */
export function drawSound(ink, x, { sound, marks, wave }, top, first, last) {
  const middle = top + WAVE_PX;
  if (sound && wave) {
    ink.fillStyle = colour("line-strong");
    const each = wave.slices_per_frame;
    const from = Math.max(0, (first - sound.offset_frames) * each);
    const to = Math.min(wave.peaks.length, (last - sound.offset_frames) * each);
    for (let slice = from; slice < to; slice++) {
      const [low, high] = wave.peaks[slice] ?? [0, 0];
      const left = x(slice / each + sound.offset_frames);
      ink.fillRect(left, middle - high * WAVE_PX, x(1 / each) - x(0) - 0.5, Math.max(1, (high - low) * WAVE_PX));
    }
  }
  drawMarks(ink, x, marks, top, first, last);
}

/** @param {CanvasRenderingContext2D} ink @param {(frame: number) => number} x @param {Record<string, string>} marks @param {number} top @param {number} first @param {number} last */
function drawMarks(ink, x, marks, top, first, last) {
  const frames = Object.keys(marks).map(Number).sort((a, b) => a - b);
  ink.textAlign = "left";
  ink.fillStyle = colour("pencil");
  frames.forEach((frame, at) => {
    if (frame < first || frame > last + 1) return;
    const left = x(frame - 1);
    const next = frames[at + 1];
    ink.fillRect(Math.round(left), top, 1, WAVE_PX * 2 + WORDS_PX);
    ink.save();
    ink.beginPath();
    ink.rect(left, top, next === undefined ? 400 : x(next - 1) - left - 2, SOUND_PX);
    ink.clip();
    ink.fillText(marks[frame] ?? "", left + 4, top + WAVE_PX * 2 + WORDS_PX);
    ink.restore();
  });
}
