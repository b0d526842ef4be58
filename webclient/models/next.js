/** What the next press does, in words: for the pad, the announcer and the tests. */

/** @import {OpenShot} from "./shot.js" */

import { holdInWords, secondsOf } from "../core/rate.js";

/**
 * @typedef {object} Next
 * @property {string} number  of the exposure to come
 * @property {string} does  what becomes of it
 * @property {string} time  where the film stands after it
 * @property {string} hold
 */

/** @param {OpenShot} open @returns {Next | null} */
export function describeNext({ shot, armed, hold }) {
  if (!shot) return null;
  const rate = shot.frame_rate;
  if (armed.kind === "retake") {
    const number = String(armed.exposure.number);
    const time = secondsOf(shot.frame_count - armed.exposure.hold + hold, rate);
    return { number, does: `replaces exposure ${number}`, time, hold: holdInWords(hold) };
  }
  const time = secondsOf(shot.frame_count + hold, rate);
  if (armed.kind === "insert") {
    const after = armed.exposure.number ?? 0;
    return { number: String(after + 1), does: `goes in after exposure ${after}`, time, hold: holdInWords(hold) };
  }
  return { number: String(shot.exposure_count + 1), does: "next exposure", time, hold: holdInWords(hold) };
}

/** @param {number} ms  since then @returns {string} "just now", "14 s ago" */
export function ago(ms) {
  const seconds = Math.max(0, Math.floor(ms / 1000));
  if (seconds < 2) return "just now";
  if (seconds < 60) return `${seconds} s ago`;
  if (seconds < 3600) return `${Math.floor(seconds / 60)} min ago`;
  return `${Math.floor(seconds / 3600)} h ${Math.floor((seconds % 3600) / 60)} min ago`;
}
