/** The sound under the open shot: what it is, how it looks by frame, and the marks along it. */

/** @import {Service} from "../core/service.js" */
/** @import {ShotModel} from "./shot.js" */

import { BASE } from "../core/service.js";
import { asProblem, Problem } from "../core/problem.js";
import { Store } from "./store.js";

/**
 * @typedef {object} SoundFacts
 * @property {string} name
 * @property {number} size
 * @property {number} duration_s
 * @property {number} offset_frames
 * @property {string} url
 *
 * @typedef {object} Wave  lowest and highest sample by slice of a frame
 * @property {number} slices_per_frame
 * @property {[number, number][]} peaks
 *
 * @typedef {object} SoundState
 * @property {SoundFacts | null} sound
 * @property {Record<string, string>} marks  by frame of the shot from 1
 * @property {Wave | null} wave
 */

/** @type {SoundState} */
const NONE = { sound: null, marks: {}, wave: null };

/** @extends {Store<SoundState>} */
export class SoundModel extends Store {
  #turn = 0;
  #waveOf = "";

  /** @param {Service} service @param {ShotModel} shot @param {typeof fetch} [send] */
  constructor(service, shot, send = (input, init) => fetch(input, init)) {
    super(NONE);
    this.service = service;
    this.shot = shot;
    this.send = send;
    /** @type {(error: unknown) => void} */
    this.onFault = () => {};
    let open = "";
    shot.subscribe(({ shot: facts }) => {
      const key = facts ? `${facts.id} ${facts.frame_rate}` : "";
      if (key === open) return;
      open = key;
      void this.load().catch((error) => this.onFault(error));
    });
  }

  get path() {
    return `/shots/${this.shot.value.shot?.id}/sound`;
  }

  async load() {
    const { shot } = this.shot.value;
    const turn = ++this.#turn;
    if (!shot) return this.set(NONE);
    const { path } = this;
    const { sound, marks } = await this.service.get(`${path}/marks`);
    if (turn !== this.#turn) return;
    const key = sound ? `${sound.url} ${shot.frame_rate}` : "";
    const wave = key === this.#waveOf ? this.value.wave : null;
    this.set({ sound, marks, wave });
    if (!sound || wave) return;
    const found = await this.service.get(`${path}/peaks`);
    if (turn !== this.#turn) return;
    this.#waveOf = key;
    this.patch({ wave: found });
  }

  /** @param {File} file  sent as it is; a large one takes its time */
  async lay(file) {
    const url = `${BASE}${this.path}?name=${encodeURIComponent(file.name)}`;
    const answer = await this.send(url, { method: "PUT", body: file, credentials: "same-origin" });
    if (!answer.ok) throw asProblem(new Problem(await answer.json()));
    await this.load();
  }

  /** @param {number} offset_frames */
  async move(offset_frames) {
    await this.service.patch(this.path, { offset_frames });
    await this.load();
  }

  async remove() {
    await this.service.delete(this.path);
    await this.load();
  }

  /** @param {number} frame @param {string} text  empty takes it away */
  async mark(frame, text) {
    const { marks } = await this.service.get(`${this.path}/marks`);
    const { [frame]: _before, ...others } = marks;
    const kept = text ? { ...others, [frame]: text } : others;
    await this.service.put(`${this.path}/marks`, { marks: kept });
    await this.load();
  }
}
