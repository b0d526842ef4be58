/**
 * The shot that is open: its facts, its exposures in order, and what the next press will do.
 *
 * It holds only what the service confirmed. The exposures of a long shot arrive page by page behind
 * the work; `shot.exposure_count` is right from the first moment.
 */

/** @import {Exposure, Page, Shot} from "../core/types.js" */
/** @import {Service} from "../core/service.js" */

import { Store } from "./store.js";

/**
 * @typedef {{kind: "append"} | {kind: "retake" | "insert", exposure: Exposure}} Armed
 *
 * @typedef {object} OpenShot
 * @property {Shot | null} shot
 * @property {Exposure[]} exposures  from the first on; may still be growing
 * @property {boolean} complete  all exposures are here
 * @property {Armed} armed
 * @property {number} hold  frames, for the next exposure
 */

const PAGE = 500;
const AT_ONCE = 20;

/** @extends {Store<OpenShot>} */
export class ShotModel extends Store {
  #loading = 0;
  /** Counts what the events changed, so that a load that ran meanwhile knows that it is old. */
  #changes = 0;

  /** @param {Service} service */
  constructor(service) {
    super(/** @type {OpenShot} */ (empty()));
    this.service = service;
  }

  get path() {
    return `/shots/${this.value.shot?.id}`;
  }

  close() {
    this.#loading++;
    this.set(empty());
  }

  /** @param {string} id */
  async open(id) {
    const shot = await this.service.get(`/shots/${id}`);
    this.set({ ...empty(), shot, hold: this.value.shot?.id === id ? this.value.hold : 1 });
    await this.#loadExposures();
  }

  /** Everything anew: after a break in the event stream, or when a change can't be told in detail. */
  async reload() {
    if (!this.value.shot) return;
    this.patch({ shot: await this.service.get(this.path) });
    await this.#loadExposures();
  }

  /** @returns {Promise<void>} */
  async #loadExposures() {
    const turn = ++this.#loading;
    const changes = this.#changes;
    /** @type {Exposure[]} */
    const exposures = [];
    let after = "";
    for (;;) {
      const query = `?limit=${PAGE}${after ? `&after=${encodeURIComponent(after)}` : ""}`;
      /** @type {Page<Exposure>} */
      const page = await this.service.get(`${this.path}/exposures${query}`);
      if (turn !== this.#loading) return; // a newer load has begun
      exposures.push(...page.items);
      if (page.next === null) break;
      after = page.next;
      if (!this.value.complete) this.patch({ exposures: [...exposures] });
    }
    if (changes !== this.#changes) return this.#loadExposures(); // it may lack what came meanwhile
    const { shot } = this.value;
    this.patch({ exposures, complete: true, shot: shot && { ...shot, ...countsOf(exposures) } });
  }

  /** @param {Exposure} exposure @param {string | null} replaces */
  kept(exposure, replaces) {
    if (exposure.shot !== this.value.shot?.id || this.find(exposure.id)) return;
    this.#changes++;
    const exposures = this.value.exposures.filter((one) => one.id !== replaces);
    exposures.splice((exposure.number ?? exposures.length + 1) - 1, 0, exposure);
    this.#place(exposures, this.#answers(exposure, replaces) ? { armed: { kind: "append" } } : {});
  }

  /** Whether this is the retake or insert that was armed here. @param {Exposure} kept @param {string | null} replaces */
  #answers(kept, replaces) {
    const { armed } = this.value;
    if (armed.kind === "retake") return replaces === armed.exposure.id;
    return armed.kind === "insert" && kept.number === (armed.exposure.number ?? 0) + 1;
  }

  /** @param {Shot} shot @param {string[] | null} ids  what changed, null when it can't be told */
  async edited(shot, ids) {
    if (shot.id !== this.value.shot?.id) return;
    this.#changes++;
    this.patch({ shot });
    if (!ids || ids.length > AT_ONCE || !this.value.complete) return this.#loadExposures();
    const turn = ++this.#loading;
    const changed = await Promise.all(ids.map((id) => this.#fetch(id)));
    if (turn !== this.#loading) return this.#loadExposures();
    const exposures = this.value.exposures.filter((one) => !ids.includes(one.id));
    const placed = changed.filter((one) => one !== null && one.number !== null);
    placed.sort((a, b) => (a?.number ?? 0) - (b?.number ?? 0));
    for (const one of placed) if (one) exposures.splice((one.number ?? 1) - 1, 0, one);
    if (exposures.length !== shot.exposure_count) return this.#loadExposures();
    this.#place(exposures, {});
  }

  /** @param {string} id @returns {Promise<Exposure | null>} null when it is no longer there */
  async #fetch(id) {
    try {
      return await this.service.get(`${this.path}/exposures/${id}`);
    } catch {
      return null;
    }
  }

  /** @param {Exposure[]} exposures @param {Partial<OpenShot>} more */
  #place(exposures, more) {
    const numbered = exposures.map((one, index) =>
      one.number === index + 1 ? one : { ...one, number: index + 1 },
    );
    const { shot, complete } = this.value;
    const counted = shot && complete ? { ...shot, ...countsOf(numbered) } : shot;
    this.patch({ ...more, exposures: numbered, shot: counted });
  }

  /** @param {string} exposure @param {import("../core/types.js").Verdict} verdict */
  judged(exposure, verdict) {
    this.#changes++;
    const exposures = this.value.exposures.map((one) =>
      one.id === exposure ? { ...one, verdict } : one,
    );
    this.patch({ exposures });
  }

  /** @param {Shot | null} shot @param {string} id */
  changed(shot, id) {
    if (this.value.shot?.id !== id) return;
    if (!shot) this.close();
    else if (shot.revision >= this.value.shot.revision) this.patch({ shot });
  }

  /** @param {string} id @returns {Exposure | undefined} */
  find(id) {
    return this.value.exposures.find((one) => one.id === id);
  }

  /** @returns {Exposure | undefined} the last one in the film */
  get last() {
    return this.value.exposures[this.value.exposures.length - 1];
  }

  /** @param {Armed} armed */
  arm(armed) {
    this.patch({ armed });
  }

  /** @param {number} hold */
  holdNext(hold) {
    this.patch({ hold: Math.max(1, Math.min(hold, 99)) });
  }

  /** @param {Exposure} exposure @param {{hold?: number, note?: string}} change */
  change(exposure, change) {
    return this.service.patch(`${this.path}/exposures/${exposure.id}`, change);
  }

  /** @param {Exposure} exposure */
  bin(exposure) {
    return this.service.delete(`${this.path}/exposures/${exposure.id}`);
  }

  undo() {
    return this.service.post(`${this.path}/undo`);
  }

  redo() {
    return this.service.post(`${this.path}/redo`);
  }
}

/** @param {Exposure[]} exposures */
function countsOf(exposures) {
  const frames = exposures.reduce((sum, one) => sum + one.hold, 0);
  return { exposure_count: exposures.length, frame_count: frames };
}

/** @returns {OpenShot} */
function empty() {
  return { shot: null, exposures: [], complete: false, armed: { kind: "append" }, hold: 1 };
}
