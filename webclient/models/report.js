/** A shot's report as the service gives it, and what its charts draw of it. */

/** @import {Service} from "../core/service.js" */

/**
 * @typedef {object} ReportFrame
 * @property {string} exposure
 * @property {number} number
 * @property {number} frame
 * @property {string | null} state
 * @property {boolean} accepted
 * @property {string[]} causes
 * @property {Record<string, any>} light
 * @property {Record<string, any>} rig
 * @property {Record<string, any>} focus
 * @property {{moved_px: number | null, moved_mm: number | null, planned_mm: number | null, rushed: boolean}} spacing
 *
 * @typedef {object} Worst
 * @property {string} exposure
 * @property {number} number
 * @property {number} frame
 * @property {string} watch
 * @property {string[]} causes
 * @property {string} says
 * @property {number} times_limit
 * @property {number} count
 *
 * @typedef {object} Report
 * @property {number} exposure_count
 * @property {ReportFrame[]} frames
 * @property {Worst[]} worst
 * @property {{says: string, remarks: {says: string, frame: number}[], pace: {pictures_an_hour: number | null, exposures_left: number, seconds_left: number | null}}} plan
 * @property {Record<string, number>} thresholds
 * @property {"mm" | "px"} spacing_unit
 * @property {number | null} spacing_error_percent
 * @property {number | null} next
 *
 * @typedef {object} Series  one figure by exposure
 * @property {string} title
 * @property {string} unit
 * @property {string} watch
 * @property {(number | null)[]} values
 * @property {(number | null)[]} [planned]
 * @property {number | null} limit  drawn on both sides of zero where `signed`
 * @property {boolean} signed
 * @property {"line" | "bars"} how
 * @property {boolean[]} flagged
 */

const PAGE = 2000;

/** Fetches all of it, page by page. @param {Service} service @param {string} shot @returns {Promise<Report>} */
export async function fetchReport(service, shot) {
  /** @type {Report} */
  const report = await service.get(`/shots/${shot}/report?limit=${PAGE}`);
  let next = report.next;
  while (next !== null) {
    /** @type {Report} */
    const more = await service.get(`/shots/${shot}/report?first=${next}&limit=${PAGE}`);
    report.frames.push(...more.frames);
    next = more.next;
  }
  return report;
}

/** The four charts. @param {Report} report @returns {Series[]} */
export function seriesOf({ frames, thresholds, spacing_unit: unit }) {
  const flagged = (/** @type {string} */ watch) =>
    frames.map((one) => !one.accepted && /** @type {any} */ (one)[watch]?.state === "flagged");
  const stops = Math.log2(1 + (thresholds["step_percent"] ?? 0) / 100);
  return [
    { title: "Light", unit: "stop", watch: "light", values: frames.map((one) => one.light["level_stops"]), limit: stops, signed: true, how: "line", flagged: flagged("light") },
    { title: "Rig", unit: "px", watch: "rig", values: frames.map((one) => one.rig["shift_px"]), limit: thresholds["shift_px"] ?? null, signed: false, how: "line", flagged: flagged("rig") },
    { title: "Focus", unit: "px of blur", watch: "focus", values: frames.map((one) => one.focus["blur_px"]), limit: thresholds["blur_px_at_1920"] ?? null, signed: true, how: "line", flagged: flagged("focus") },
    {
      title: "Spacing", unit, watch: "pose", limit: null, signed: false, how: "bars", flagged: flagged("pose"),
      values: frames.map(({ spacing }) => (unit === "mm" ? spacing.moved_mm : spacing.moved_px)),
      planned: frames.map(({ spacing }) => spacing.planned_mm),
    },
  ];
}

/** Where the top of a chart lies: the largest value, and room above the limit. @param {Series} series */
export function topOf({ values, planned = [], limit }) {
  let top = limit === null ? 0 : limit * 2;
  for (const value of values) top = Math.max(top, Math.abs(value ?? 0));
  for (const value of planned) top = Math.max(top, value ?? 0);
  return top || 1;
}

/** A figure in as many digits as it deserves. @param {number} value */
export function figure(value) {
  const size = Math.abs(value);
  if (size >= 100) return value.toFixed(0);
  return value.toFixed(size >= 10 ? 1 : size >= 1 ? 2 : 3);
}

/** @param {Report} report @returns {string} the pace in words */
export function paceInWords({ plan: { pace } }) {
  if (!pace.pictures_an_hour) return "";
  const an_hour = `${Math.round(pace.pictures_an_hour)} pictures an hour while at work`;
  if (!pace.exposures_left || pace.seconds_left === null) return `${an_hour}.`;
  const minutes = Math.max(1, Math.round(pace.seconds_left / 60));
  const left = minutes < 90 ? `${minutes} min` : `${(minutes / 60).toFixed(1)} h`;
  return `${an_hour}; ${pace.exposures_left} exposures are left, about ${left}.`;
}
