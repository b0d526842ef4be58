/** Frame rates are rationals as text; times are shown in seconds with two places. */

/** @param {string} text "12" or "24000/1001" @returns {number} frames per second, NaN when unreadable */
export function framesPerSecond(text) {
  const match = /^\s*(\d+)(?:\s*\/\s*(\d+))?\s*$/.exec(text);
  if (!match) return NaN;
  const rate = Number(match[1]) / Number(match[2] ?? 1);
  return rate > 0 && Number.isFinite(rate) ? rate : NaN;
}

/** @param {number} frames @param {string} rate @returns {string} "1.08 s" */
export function secondsOf(frames, rate) {
  const seconds = frames / framesPerSecond(rate);
  if (!Number.isFinite(seconds)) return "";
  return seconds < 60 ? `${seconds.toFixed(2)} s` : `${Math.floor(seconds / 60)} min ${(seconds % 60).toFixed(1)} s`;
}

/** @param {string} rate @returns {string} "12 fps", "23.976 fps" */
export function rateInWords(rate) {
  const number = framesPerSecond(rate);
  return Number.isInteger(number) ? `${number} fps` : `${number.toFixed(3)} fps`;
}

/** @param {number} hold @returns {string} */
export function holdInWords(hold) {
  const words = ["", "on ones", "on twos", "on threes", "on fours"];
  return words[hold] ?? `held ${hold} frames`;
}
