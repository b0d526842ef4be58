/** What the watches offer beside verdicts: the steady test, the re-seat guide, accepting a change. */

/** @import {Service} from "../core/service.js" */
/** @import {Exposure} from "../core/types.js" */
/** @import {ShotModel} from "./shot.js" */

import { Problem } from "../core/problem.js";
import { Store } from "./store.js";

/**
 * @typedef {object} SteadyTest
 * @property {string | null} shot
 * @property {string} at
 * @property {number} count
 * @property {boolean} passed
 * @property {{cause: string, says: string}[]} symptoms
 * @property {Record<string, number>} noise
 * @property {number} frames_to_average
 * @property {Record<string, number>} thresholds
 * @property {string[]} cannot_see
 *
 * @typedef {object} Seat  where the live picture lies, in pixels of the original
 * @property {boolean} on
 * @property {string} says
 * @property {boolean} [known]
 * @property {boolean} [within]
 * @property {number} [shift_x_px]
 * @property {number} [shift_y_px]
 * @property {number} [turn_deg]
 * @property {number} [scale_percent]
 * @property {number} [off_px]
 */

const TEST_MS = 180_000;
export const TEST_PICTURES = 8;

export class WatchesModel {
  /** The shot's last steady test. @type {Store<SteadyTest | null>} */
  steady = new Store(/** @type {SteadyTest | null} */ (null));
  testing = new Store(false);
  /** The open shot's thresholds by name; none without a shot. @type {Store<Record<string, number>>} */
  thresholds = new Store(/** @type {Record<string, number>} */ ({}));
  /** @type {Store<Seat>} */
  seat = new Store(/** @type {Seat} */ ({ on: false, says: "" }));

  /** @param {Service} service @param {ShotModel} shot */
  constructor(service, shot) {
    this.service = service;
    this.shot = shot;
  }

  /** The open shot's last test, if it has had one. */
  async loadSteady() {
    const id = this.shot.value.shot?.id;
    if (!id) return this.steady.set(null);
    try {
      this.steady.set(await this.service.get(`/shots/${id}/steady-test`));
    } catch (error) {
      if (!(error instanceof Problem) || error.status !== 404) throw error;
      this.steady.set(null);
    }
  }

  /** What the open shot's watches go by. */
  async loadThresholds() {
    const id = this.shot.value.shot?.id;
    this.thresholds.set(id ? await this.service.get(`/shots/${id}/thresholds`) : {});
  }

  /** @param {string} name @param {number | null} value  null: back to what the steady test found */
  async setThreshold(name, value) {
    const id = this.shot.value.shot?.id;
    if (id) this.thresholds.set(await this.service.patch(`/shots/${id}/thresholds`, { [name]: value }));
  }

  async testSteadiness() {
    this.testing.set(true);
    try {
      const body = { shot: this.shot.value.shot?.id ?? null, count: TEST_PICTURES };
      this.steady.set(await this.service.ask("POST", "/camera/steady-test", { body, timeoutMs: TEST_MS }));
    } finally {
      this.testing.set(false);
    }
  }

  /** A test that another remote ran. @param {SteadyTest} test */
  tested(test) {
    if (test.shot === (this.shot.value.shot?.id ?? null)) this.steady.set(test);
  }

  /** @param {boolean} on */
  async guide(on) {
    const shot = this.shot.value.shot?.id;
    this.seat.set(await this.service.put("/camera/reseat", on ? { on, shot } : { on }));
  }

  /** From here on this exposure is the reference. @param {Exposure} exposure */
  async accept(exposure) {
    const kept = await this.service.post(`/shots/${exposure.shot}/exposures/${exposure.id}/accept`);
    this.shot.judged(kept.id, kept.verdict);
  }
}
