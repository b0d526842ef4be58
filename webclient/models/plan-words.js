/** The plan in words: for the list, the pad and the picture. */

/** @import {Action, Duration, Plan, Where} from "./plan.js" */

/** Easings that have a name; the others carry numbers. @type {[string, string][]} */
export const EASINGS = [
  ["linear", "linear"],
  ["ease in", "ease in"],
  ["ease out", "ease out"],
  ["ease both", "both"],
  ["bezier", "Bézier"],
  ["fall", "fall"],
  ["bounce", "bounce"],
  ["ticks", "by hand"],
];

/** @param {string} easing "bezier 0.2 0 0.4 1" @returns {{kind: string, numbers: string}} */
export function easingParts(easing) {
  const named = EASINGS.find(([kind]) => kind === easing);
  if (named) return { kind: named[0], numbers: "" };
  const [kind = "", ...numbers] = easing.split(" ");
  return { kind, numbers: numbers.join(" ") };
}

/** @param {Duration} duration */
export function durationInWords({ value, unit }) {
  return `${value} ${unit}`;
}

/** @param {number} seconds @returns {string} */
export function secondsInWords(seconds) {
  if (seconds < 60) return `${seconds.toFixed(2)} s`;
  return `${Math.floor(seconds / 60)} min ${(seconds % 60).toFixed(1)} s`;
}

/** @param {number} count @param {string} thing */
export function counted(count, thing) {
  return `${count.toLocaleString("en")} ${thing}${count === 1 ? "" : "s"}`;
}

/** @param {number} on */
export function onInWords(on) {
  return ["", "on ones", "on twos", "on threes", "on fours"][on] ?? `on ${on}s`;
}

/** The distance to the pose before, of the next exposure. @param {Action | undefined} action @param {Where} where @returns {number | null} mm */
export function nextStep(action, where) {
  if (!action) return null;
  const target = action.targets?.[where.exposure - 1];
  if (target) return target.step_mm;
  const mm = action.positions_mm;
  const here = mm?.[where.exposure - 1];
  return here === undefined ? null : here - (mm?.[where.exposure - 2] ?? 0);
}

/** @param {number} mm @returns {string} "7.3 mm", "7.3 mm back" */
export function stepInWords(mm) {
  const way = Math.abs(mm) < 0.05 ? "0 mm" : `${Math.abs(mm).toFixed(1)} mm`;
  return mm < -0.05 ? `${way} back` : way;
}

/**
 * What the pad says of the next exposure; null where no plan says anything.
 *
 * @param {Plan | null} plan @param {Action | undefined} action
 * @returns {{does: string, then: string, step: string} | null}
 */
export function padWords(plan, action) {
  if (!plan || plan.where.state === "empty") return null;
  const { where } = plan;
  if (where.state === "done") return { does: "the plan is shot", then: "", step: "" };
  const mm = nextStep(action, where);
  const last = where.ends_action ? "last of it, then " : "then ";
  return {
    does: `${where.label}, frame ${where.frame} of ${where.frames}`,
    then: where.following ? `${last}${where.following}` : where.ends_action ? "the last of the plan" : "nothing follows",
    step: mm === null ? "" : `move ${stepInWords(mm)}`,
  };
}

/**
 * Where the actions lie along the timing chart, counting what was really shot.
 *
 * @param {Plan | null} plan
 * @returns {{label: string, from: number, to: number}[]} frames before it, and after it
 */
export function spansOnChart(plan) {
  if (!plan) return [];
  const now = plan.where.action === null ? plan.actions.length : plan.actions.findIndex((one) => one.id === plan.where.action);
  let at = 0;
  return plan.actions
    .map((one, place) => {
      const from = at;
      at += place < now ? one.frames_shot : Math.max(one.frames, one.frames_shot);
      return { label: one.label, from, to: at };
    })
    .filter(({ from, to }) => to > from);
}
