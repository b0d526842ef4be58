/** How the live picture is looked at: what lies over it, and through which frame. Kept on this phone. */

/** @import {Exposure} from "../core/types.js" */
/** @import {OpenShot} from "./shot.js" */

import { Store } from "./store.js";

/**
 * @typedef {object} Look
 * @property {"live" | "onion" | "blink" | "difference"} mode
 * @property {number} layers  exposures of onion skin, 0..5
 * @property {number} strength  of the newest layer, per cent
 * @property {string} mask  "16:9", or "" for none
 * @property {boolean} sound
 * @property {boolean} sees  show what the step-back trigger sees
 * @property {boolean} asksFirst  it readies the shutter and waits for a press
 * @property {number} countdown  seconds of light taps before it fires
 * @property {boolean} stateSounds
 * @property {string} eye  the camera that watches for it, "" for the one in use
 * @property {"right" | "left"} hand  that holds the phone
 * @property {"plain" | "large" | "largest"} type
 * @property {"off" | "hold" | "scan"} oneSwitch
 * @property {number} scanStep  seconds from one deed to the next
 * @property {boolean} mediaKeys  a headset's keys take the picture
 */

const KEY = "standclear.look";
export const MASKS = ["16:9", "9:16", "4:5", "1:1"];

/** @type {Look} */
const PLAIN = { mode: "onion", layers: 1, strength: 40, mask: "", sound: true, sees: true, asksFirst: false, countdown: 0, stateSounds: true, eye: "", hand: "right", type: "plain", oneSwitch: "off", scanStep: 1.5, mediaKeys: false };

/** @extends {Store<Look>} */
export class LookModel extends Store {
  /** @param {Storage | null} storage */
  constructor(storage) {
    super({ ...PLAIN, ...recall(storage) });
    this.subscribe((look) => storage?.setItem(KEY, JSON.stringify(look)));
  }

  /** @param {Look["mode"]} mode */
  toggle(mode) {
    this.patch({ mode: this.value.mode === mode ? "live" : mode });
  }

  /** @param {number} by */
  addLayers(by) {
    const layers = Math.max(0, Math.min(5, this.value.layers + by));
    this.patch({ layers, mode: layers ? "onion" : "live" });
  }
}

/** @param {Storage | null} storage @returns {Partial<Look>} */
function recall(storage) {
  try {
    return JSON.parse(storage?.getItem(KEY) ?? "{}");
  } catch {
    return {};
  }
}

/**
 * The exposures before the one to be taken, newest first.
 *
 * @param {OpenShot} open @param {number} count @returns {Exposure[]}
 */
export function exposuresBefore({ exposures, complete, armed }, count) {
  if (!complete) return [];
  let end = exposures.length;
  if (armed.kind === "retake") end = (armed.exposure.number ?? 1) - 1;
  if (armed.kind === "insert") end = armed.exposure.number ?? end;
  return exposures.slice(Math.max(0, end - count), end).reverse();
}
