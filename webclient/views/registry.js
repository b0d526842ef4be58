/** The views in the order of their tabs. A new one is one entry here; it is made when first opened. */

/** @import {Desk, View} from "./desk.js" */

import { makeFinish } from "./finish.js";
import { makePlan } from "./plan.js";
import { makeReport } from "./report.js";
import { makeReseat } from "./reseat.js";
import { makeReview } from "./review.js";
import { makeRig } from "./rig.js";
import { makeShoot } from "./shoot.js";
import { makeShots } from "./shots.js";

/**
 * @typedef {object} Entry
 * @property {string} id  also its address: `#shoot`
 * @property {string} label
 * @property {string} icon
 * @property {boolean} tab  has a tab of its own
 * @property {string} [under]  the view whose tab it belongs to
 * @property {boolean} needsShot
 * @property {(desk: Desk) => View} make
 */

/** @type {Entry[]} */
export const VIEWS = [
  { id: "shots", label: "Shots", icon: "plan", tab: false, needsShot: false, make: makeShots },
  { id: "shoot", label: "Shoot", icon: "shoot", tab: true, needsShot: true, make: makeShoot },
  { id: "review", label: "Review", icon: "review", tab: true, needsShot: true, make: makeReview },
  { id: "plan", label: "Plan", icon: "plan", tab: true, needsShot: true, make: makePlan },
  { id: "finish", label: "Finish", icon: "finish", tab: true, needsShot: true, make: makeFinish },
  { id: "rig", label: "Rig", icon: "rig", tab: true, needsShot: false, make: makeRig },
  { id: "report", label: "Report", icon: "review", tab: false, under: "review", needsShot: true, make: makeReport },
  { id: "reseat", label: "Re-seat guide", icon: "rig", tab: false, under: "rig", needsShot: true, make: makeReseat },
];
