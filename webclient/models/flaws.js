/** What the watches flagged on an exposure and nobody accepted, in words. */

/** @import {Exposure} from "../core/types.js" */

/** @param {Exposure | undefined} exposure @returns {{watch: string, says: string}[]} */
export function flawsOf(exposure) {
  if (exposure?.verdict?.accepted) return [];
  return Object.entries(exposure?.verdict?.watches ?? {})
    .filter(([, one]) => one.state === "flagged")
    .map(([watch, { says }]) => ({ watch, says }));
}

/**
 * The newest exposure that was looked at: while the verdict on the last one is on its way, a flaw in
 * the one before stays in sight.
 *
 * @param {Exposure[]} exposures
 */
export function lastJudged(exposures) {
  const last = exposures[exposures.length - 1];
  return last?.verdict === null ? (exposures[exposures.length - 2] ?? last) : last;
}

/** @param {Exposure | undefined} exposure @returns {string} "light: One lamp dimmed. rig: …", or "" */
export function flawsInWords(exposure) {
  return flawsOf(exposure).map(({ watch, says }) => `${watch}: ${says}`).join(" ");
}
