/**
 * The open shot's plan as the service has it, and where the shot stands in it.
 *
 * Every write names the revision it was made from: what was changed on another phone meanwhile is
 * read again and never written over.
 */

/** @import {Service} from "../core/service.js" */
/** @import {ShotModel} from "./shot.js" */

import { Problem } from "../core/problem.js";
import { Store } from "./store.js";

/**
 * @typedef {{value: number | string, unit: "s" | "frames" | "beats"}} Duration
 *
 * @typedef {object} Move
 * @property {number | string | null} [length_mm]
 * @property {string} easing
 * @property {[number, number][]} points  in the picture, which is `NOMINAL` px wide
 * @property {"straight" | "smooth"} curve
 * @property {"picture" | "table"} [space]
 * @property {[number | string, number | string]} [part]
 *
 * @typedef {object} Wish  an action as it is asked for; without an id it is a new one
 * @property {string | null} [id]
 * @property {string} label
 * @property {Duration} duration
 * @property {number} on
 * @property {string | null} pace
 * @property {Move | null} move
 * @property {string} notes
 *
 * @typedef {object} Target
 * @property {number} exposure
 * @property {number} progress
 * @property {[number, number] | null} picture_px
 * @property {number | null} step_mm
 *
 * @typedef {object} Counted
 * @property {string} id
 * @property {number} first_frame
 * @property {number} last_frame
 * @property {number} frames
 * @property {number} exposures
 * @property {number} frames_shot
 * @property {number[] | null} positions_mm
 * @property {Target[] | null} targets
 * @property {number | null} gravity_s
 *
 * @typedef {Wish & Counted} Action
 *
 * @typedef {object} Where
 * @property {"empty" | "shooting" | "done"} state
 * @property {string | null} action
 * @property {string | null} label
 * @property {string} notes
 * @property {number} frame
 * @property {number} frames
 * @property {number} exposure
 * @property {number} exposures
 * @property {number} hold
 * @property {boolean} ends_action
 * @property {string | null} following
 * @property {string | null} just_ended
 * @property {number} frames_shot
 * @property {number} frames_left
 * @property {number} exposures_left
 * @property {string[]} skipped
 *
 * @typedef {object} Calibration
 * @property {[number, number][]} corners
 * @property {number} picture_width
 * @property {number} picture_height
 * @property {number | null} first_edge_mm
 * @property {number | null} second_edge_mm
 * @property {number} error_percent
 * @property {string} says
 *
 * @typedef {object} Plan
 * @property {string} frame_rate
 * @property {number | string | null} tempo
 * @property {string} scale
 * @property {Action[]} actions
 * @property {number} frame_count
 * @property {number} exposure_count
 * @property {number} duration_s
 * @property {Calibration | null} calibration
 * @property {string | null} calibration_due  why the table must be measured again
 * @property {Where} where
 * @property {string} text
 * @property {number} revision
 * @property {Record<string, [number, number][]>} [paths]  of a preview
 *
 * @typedef {{shot: string, plan: Plan | null}} OpenPlan
 */

/** Width of the picture in which points are told; its height follows from the camera's. */
export const NOMINAL = 1280;

/** @extends {Store<OpenPlan>} */
export class PlanModel extends Store {
  #loading = 0;
  #counted = "";
  /** Called when an exposure completed an action. @param {string} _label */
  onEnded = (_label) => {};
  /** Called when reading failed for another reason than a lost answer. @param {unknown} _error */
  onFault = (_error) => {};

  /** @param {Service} service @param {ShotModel} shot */
  constructor(service, shot) {
    super(/** @type {OpenPlan} */ ({ shot: "", plan: null }));
    this.service = service;
    this.shot = shot;
    shot.subscribe((now) => this.#follow(now));
  }

  /** Read anew when another shot is opened, when what was shot changed, or when the rig moved. @param {import("./shot.js").OpenShot} now */
  #follow({ shot: open, exposures }) {
    const rig = exposures[exposures.length - 1]?.verdict?.watches["rig"]?.state === "flagged";
    const counted = open ? `${open.id} ${open.exposure_count} ${open.frame_count} ${open.frame_rate} ${rig}` : "";
    if (counted === this.#counted) return;
    this.#counted = counted;
    if (open?.id !== this.value.shot) this.set({ shot: open?.id ?? "", plan: null });
    if (open) void this.load().catch((error) => this.onFault(error));
  }

  get path() {
    return `/shots/${this.value.shot}/plan`;
  }

  async load() {
    const turn = ++this.#loading;
    const { shot } = this.value;
    if (!shot) return;
    const plan = await this.service.get(this.path);
    if (turn === this.#loading && shot === this.value.shot) this.#take(plan);
  }

  /** @param {Plan} plan */
  #take(plan) {
    const before = this.value.plan?.where;
    const { where } = plan;
    this.patch({ plan });
    if (this.shot.value.armed.kind === "append" && where.state === "shooting") this.shot.holdNext(where.hold);
    const more = before && where.frames_shot > before.frames_shot;
    if (more && before.ends_action && where.action !== before.action) this.onEnded(before.label ?? "");
  }

  /** The service tells of a new revision. @param {{shot: string, revision: number}} told */
  changed({ shot, revision }) {
    if (shot !== this.value.shot || revision === this.value.plan?.revision) return;
    return this.load();
  }

  /** @param {Record<string, unknown>} body  as PUT /plan takes it */
  async put(body) {
    const { plan } = this.value;
    /** @type {Record<string, string>} */
    /** @type {Record<string, string>} */
    const headers = plan ? { "If-Match": `"${plan.revision}"` } : {};
    try {
      const kept = await this.service.ask("PUT", this.path, { body, headers });
      this.#loading++;
      this.#take(kept);
    } catch (error) {
      throw error instanceof Problem && error.status === 412 ? await this.#changedElsewhere() : error;
    }
  }

  async #changedElsewhere() {
    await this.load();
    return new Problem({
      title: "The plan was changed on another phone",
      detail: "The plan was changed on another phone. This is its newest state; your change is not in it.",
      hint: "Look at it and make your change again.",
      status: 412,
      code: "changed_elsewhere",
    });
  }

  /** What `put` would make of it. @param {Record<string, unknown>} body @returns {Promise<Plan>} */
  preview(body) {
    return this.service.post(`${this.path}/preview`, body);
  }

  /** @param {Record<string, unknown>} edit */
  edit(edit) {
    return this.put({ edits: [edit] });
  }

  /** @param {Wish} wish @param {number} place @returns {Record<string, unknown>} the plan with this action at its place */
  with(wish, place) {
    const { plan } = this.value;
    const actions = (plan?.actions ?? []).map(wishOf);
    actions.splice(place, wish.id ? 1 : 0, wish);
    return { actions, tempo: plan?.tempo ?? null, scale: plan?.scale ?? "1:1" };
  }

  /** @param {{tempo?: string | number | null, scale?: string}} change */
  retime(change) {
    const { plan } = this.value;
    const now = { tempo: plan?.tempo ?? null, scale: plan?.scale ?? "1:1" };
    return this.put({ actions: (plan?.actions ?? []).map(wishOf), ...now, ...change });
  }

  /** The action that the next exposure belongs to. @returns {Action | undefined} */
  get current() {
    const { plan } = this.value;
    return plan?.actions.find((one) => one.id === plan.where.action);
  }
}

/** @param {Action} action @returns {Wish} what of it can be asked for */
export function wishOf({ id, label, duration, on, pace, move, notes }) {
  return { id, label, duration, on, pace, move, notes };
}
