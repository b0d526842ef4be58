/** All shots of the library, newest first, and the changes one can make to them. */

/** @import {Page, Shot} from "../core/types.js" */
/** @import {Service} from "../core/service.js" */

import { Store } from "./store.js";

/** @extends {Store<{shots: Shot[], loaded: boolean}>} */
export class ShotsModel extends Store {
  /** @param {Service} service */
  constructor(service) {
    super(/** @type {{shots: Shot[], loaded: boolean}} */ ({ shots: [], loaded: false }));
    this.service = service;
  }

  async load() {
    /** @type {Shot[]} */
    const shots = [];
    let after = "";
    do {
      const query = after ? `&after=${encodeURIComponent(after)}` : "";
      /** @type {Page<Shot>} */
      const page = await this.service.get(`/shots?limit=50${query}`);
      shots.push(...page.items);
      after = page.next ?? "";
    } while (after);
    this.set({ shots: newestFirst(shots), loaded: true });
  }

  /** @param {Shot | null} shot @param {string} id */
  changed(shot, id) {
    const others = this.value.shots.filter((one) => one.id !== id);
    this.patch({ shots: newestFirst(shot ? [...others, shot] : others) });
  }

  /** @param {{name: string, frame_rate: string}} wish @returns {Promise<Shot>} */
  async create(wish) {
    const shot = await this.service.post("/shots", wish);
    this.changed(shot, shot.id);
    return shot;
  }

  /** @param {Shot} shot @param {{name?: string, notes?: string, frame_rate?: string}} change */
  async change(shot, change) {
    const changed = await this.service.ask("PATCH", `/shots/${shot.id}`, {
      body: change,
      headers: { "If-Match": `"${shot.revision}"` },
    });
    this.changed(changed, shot.id);
  }

  /** @param {Shot} shot */
  async bin(shot) {
    await this.service.delete(`/shots/${shot.id}`);
    this.changed(null, shot.id);
  }

  /** @param {Shot} shot */
  async restore(shot) {
    const restored = await this.service.post(`/shots/${shot.id}/restore`);
    this.changed(restored ?? shot, shot.id);
  }
}

/** @param {Shot[]} shots */
function newestFirst(shots) {
  return [...shots].sort((a, b) => b.created_at.localeCompare(a.created_at));
}
