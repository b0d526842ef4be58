/** How the step-back trigger is wished for from this phone, and what its states sound like. */

/** @import {Look} from "./look.js" */

/**
 * Notes in Hz, one after the other, all soft. States in which nothing is asked of anybody rise or
 * stay, those that wait for a word fall. What is taken has the click of every exposure.
 *
 * @type {Record<string, number[]>}
 */
const NOTES = {
  watching: [523],
  hands_in: [392],
  settling: [440, 494],
  asking: [659, 523, 659],
  blocked: [311, 233],
  blind: [196, 196],
  held_back: [330, 262],
  learning: [262, 330],
  rest: [587],
};

/** One light tap of the countdown. */
export const TAP = [988];

/** @param {string | undefined} state @returns {number[]} */
export function notesOf(state) {
  return NOTES[state ?? ""] ?? [];
}

/** What `PUT /trigger` takes beside the shot. @param {Look} look @returns {Record<string, unknown>} */
export function stepBackWish({ asksFirst, countdown, stateSounds, eye }) {
  return { only_ask: asksFirst, countdown_s: countdown, mute: !stateSounds, ...(eye ? { eye } : {}) };
}
