/** What is to be painted out of the open shot: drawn by hand, kept with it by the service. */

/** @import {Service} from "../core/service.js" */
/** @import {ShotModel} from "./shot.js" */

import { Store } from "./store.js";

/**
 * @typedef {[number, number]} Point  0..1 across and down
 * @typedef {{points: Point[], width: number}} Stroke  width as part of the picture's
 * @typedef {{exposure: string, strokes: Stroke[]}} Mask
 * @typedef {{masks: Mask[], follows: boolean, plate: string | null}} CleanUp
 */

/** @type {CleanUp} */
const NOTHING = { masks: [], follows: true, plate: null };

/** @extends {Store<CleanUp>} */
export class CleanUpModel extends Store {
  #turn = 0;

  /** @param {Service} service @param {ShotModel} shot */
  constructor(service, shot) {
    super(NOTHING);
    this.service = service;
    this.shot = shot;
  }

  get #path() {
    return `/shots/${this.shot.value.shot?.id}/clean-up`;
  }

  async load() {
    const turn = ++this.#turn;
    const kept = this.shot.value.shot ? await this.service.get(this.#path) : NOTHING;
    if (turn === this.#turn) this.set(kept);
  }

  /** @param {Partial<CleanUp>} change */
  async change(change) {
    this.#turn++;
    this.patch(change);
    const there = (/** @type {string} */ id) => this.shot.find(id)?.number;
    const { masks, plate, follows } = this.value;
    const body = { masks: masks.filter((one) => there(one.exposure)), follows, plate: plate && there(plate) ? plate : null };
    await this.service.put(this.#path, body);
  }

  /** @param {string} exposure @returns {Stroke[]} */
  strokesOn(exposure) {
    return this.value.masks.find((one) => one.exposure === exposure)?.strokes ?? [];
  }

  /** @param {string} exposure @param {Stroke[]} strokes  none takes the mask away */
  draw(exposure, strokes) {
    const others = this.value.masks.filter((one) => one.exposure !== exposure);
    return this.change({ masks: strokes.length ? [...others, { exposure, strokes }] : others });
  }

  /** Numbers of the exposures that were drawn on, in order. */
  get drawnOn() {
    const numbers = this.value.masks.map((one) => this.shot.find(one.exposure)?.number ?? 0);
    return numbers.filter((number) => number > 0).sort((a, b) => a - b);
  }

  /** As an export asks for it, by exposure number; null while nothing is drawn. */
  get options() {
    const masks = this.value.masks.flatMap(({ exposure, strokes }) => {
      const number = this.shot.find(exposure)?.number;
      return number ? [{ exposure: number, strokes }] : [];
    });
    const plate = this.value.plate && this.shot.find(this.value.plate)?.number;
    return masks.length ? { masks, follows: this.value.follows, ...(plate && { plate }) } : null;
  }
}
