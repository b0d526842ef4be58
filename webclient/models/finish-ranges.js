/** Ranges of the shot's frames: what is exported, retimed, left alone. Frames count from 1, holds expanded. */

/** @import {Exposure} from "../core/types.js" */
/** @import {Wish} from "./finish.js" */

/**
 * @typedef {{first: number, last: number}} Range
 * @typedef {Range & {frames: number}} Retime
 */

/** @param {Exposure[]} exposures @param {boolean} holds */
export const framesOf = (exposures, holds = true) => exposures.reduce((sum, one) => sum + (holds ? one.hold : 1), 0);

/** Put right: inside the shot, first before last. @template {Range} T @param {T} range @param {number} frames @returns {T} */
export function within(range, frames) {
  const last = Math.min(Math.max(1, Math.round(range.last) || 1), Math.max(1, frames));
  const first = Math.min(Math.max(1, Math.round(range.first) || 1), last);
  return { ...range, first, last };
}

/**
 * With one number typed anew: a first one beyond the last takes it along, a last one before the first too.
 *
 * @template {Range} T @param {T} range @param {string} key @param {number} value @param {number} frames @returns {T}
 */
export function typed(range, key, value, frames) {
  const { first, last } = range;
  const along = key === "first" && value > last ? { last: value + last - first } : key === "last" && value < first ? { first: value } : {};
  return within({ ...range, [key]: value, ...along }, frames);
}

const SOME = 12;

/** Some frames from one on, never most of a short shot. @param {number} frame @param {number} frames @returns {Range} */
export const rangeFrom = (frame, frames) => within({ first: frame, last: frame + Math.min(SOME, Math.ceil(frames / 4)) - 1 }, frames);

/** How many frames are shown once, as the service works it out: left out, retimed, cut. @param {Wish} wish @param {Exposure[]} exposures */
export function shownOnce(wish, exposures) {
  const left = new Set(wish.leaveOut);
  /** @type {number[]} */
  let frames = [];
  let frame = 0;
  exposures.forEach((one, at) => {
    for (let held = wish.holds ? one.hold : 1; held > 0; held--) {
      frame += 1;
      if (!left.has(at + 1)) frames.push(frame);
    }
  });
  for (const { first, last, frames: length } of [...wish.retimes].sort((a, b) => a.first - b.first)) {
    const at = frames.findIndex((one) => one >= first && one <= last);
    if (at < 0) continue;
    const inside = frames.filter((one) => one >= first && one <= last);
    const anew = Array.from({ length }, (_, place) => inside[Math.floor(((2 * place + 1) * inside.length) / (2 * length))] ?? first);
    frames = [...frames.slice(0, at), ...anew, ...frames.slice(at + inside.length)];
  }
  const { range } = wish;
  return range ? frames.filter((one) => one >= range.first && one <= range.last).length : frames.length;
}

/** Numbers of the exposures whose pose was taken twice, as the pose watch saw it. @param {Exposure[]} exposures */
export const doublesOf = (exposures) =>
  exposures.flatMap((one, at) => (one.verdict?.watches["pose"]?.causes?.includes("same_pose") ? [at + 1] : []));
