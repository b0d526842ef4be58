/** What shall be made of the shot, and the exports that there are. */

/** @import {Exposure, Shot} from "../core/types.js" */
/** @import {Service} from "../core/service.js" */
/** @import {ShotModel} from "./shot.js" */
/** @import {Range, Retime} from "./finish-ranges.js" */

import { framesPerSecond } from "../core/rate.js";
import { randomName } from "../core/random.js";
import { kindsFrom } from "./finish-kinds.js";
import { CleanUpModel } from "./clean-up.js";
import { shownOnce } from "./finish-ranges.js";
import { Store } from "./store.js";

/**
 * @typedef {"source" | "16:9" | "9:16" | "4:5" | "1:1"} Shape
 *
 * @typedef {object} Wish  one per page; it goes along from shot to shot
 * @property {string} kind  of the kinds
 * @property {string} variant  the format, where a kind has several
 * @property {"small" | "good" | "best"} quality
 * @property {Shape} shape
 * @property {number} x  centre of the framing, 0 left to 1 right
 * @property {number} y
 * @property {number} zoom
 * @property {number} light  percent, 0 leaves it
 * @property {boolean} steady
 * @property {"fill" | "crop"} edges
 * @property {boolean} clean  paint out what was drawn
 * @property {Range[]} alone  frames whose light is wanted
 * @property {Range | null} range  only these frames
 * @property {Retime[]} retimes
 * @property {number[]} leaveOut  exposures by number
 * @property {string} rate  empty: the shot's own
 * @property {number} each  1 on ones, 2 on twos
 * @property {boolean} holds
 * @property {boolean} reverse
 * @property {number} loops
 * @property {number} head  frames
 * @property {number} tail
 * @property {boolean} sound
 * @property {boolean} leader
 * @property {string} title
 *
 * @typedef {object} Export
 * @property {string} id
 * @property {string} shot
 * @property {string} name
 * @property {any} options
 * @property {string} created_at
 * @property {"queued" | "working" | "waiting" | "done" | "failed" | "cancelled" | "stopped"} state
 * @property {string} says
 * @property {string} phase
 * @property {number} frames_done
 * @property {number} frames_total
 * @property {number | null} seconds_left
 * @property {any} report
 * @property {{detail: string, hint: string} | null} problem
 * @property {string | null} file
 */

/** @type {Wish} */
const USUAL = {
  kind: "everywhere", variant: "h264", quality: "good", shape: "source", x: 0.5, y: 0.5, zoom: 1, light: 0, steady: false,
  edges: "fill", clean: false, alone: [], range: null, retimes: [], leaveOut: [], rate: "", each: 1, holds: true, reverse: false, loops: 1, head: 0, tail: 0, sound: true, leader: false, title: "",
};

const RATIO = { "16:9": 16 / 9, "9:16": 9 / 16, "4:5": 4 / 5, "1:1": 1 };
const OVER = new Set(["done", "failed", "cancelled", "stopped"]);

/** @param {Export} one */
const stageOf = (one) => (isOver(one) ? 2 : one.state === "queued" ? 0 : 1);

/** @extends {Store<Wish>} */
export class FinishModel extends Store {
  /** @type {Store<Export[]>} newest first */
  exports = new Store(/** @type {Export[]} */ ([]));
  /** What can be made, as the service offers it. */
  kinds = new Store(kindsFrom([]));
  #turn = 0;

  /** @param {Service} service @param {ShotModel} shot */
  constructor(service, shot) {
    super(USUAL);
    this.service = service;
    this.shot = shot;
    this.cleanUp = new CleanUpModel(service, shot);
  }

  /** What goes with one shot's frames is not for the next one. */
  begin() {
    this.patch({ clean: false, alone: [], range: null, retimes: [], leaveOut: [] });
  }

  /** The body of POST /exports. */
  get options() {
    return optionsOf(this.value, this.touchesPictures, this.value.clean ? this.cleanUp.options : null);
  }

  /** @param {string} kind */
  choose(kind) {
    this.patch({ kind, variant: this.kinds.value[kind]?.formats[0]?.[0] ?? "h264" });
  }

  /** What a format is called. @param {string} format */
  nameOf(format) {
    return Object.values(this.kinds.value).find((kind) => kind.formats.some(([id]) => id === format))?.label ?? format;
  }

  /** True when the pictures themselves are worked on. */
  get touchesPictures() {
    return (this.kinds.value[this.value.kind]?.pictures ?? false) && this.value.variant !== "originals";
  }

  async load() {
    const id = this.shot.value.shot?.id;
    if (!id) return this.exports.set([]);
    const turn = ++this.#turn;
    this.kinds.set(kindsFrom((await this.service.get("/formats")).items));
    await this.cleanUp.load();
    const { items } = await this.service.get(`/shots/${id}/exports`);
    if (turn === this.#turn) this.exports.set(items.map((/** @type {Export} */ one) => this.#latest(one)));
  }

  /** @param {Export} one  as the event stream tells it */
  told(one) {
    if (one.shot !== this.shot.value.shot?.id) return;
    const known = this.exports.value.some((other) => other.id === one.id);
    const others = this.exports.value;
    this.exports.set(known ? others.map((other) => (other.id === one.id ? this.#latest(one) : other)) : [one, ...others]);
  }

  /** Answers and events cross on their way: an export never goes back. @param {Export} told */
  #latest(told) {
    const known = this.exports.value.find((other) => other.id === told.id);
    return known && stageOf(told) < stageOf(known) ? known : told;
  }

  async start() {
    const id = this.shot.value.shot?.id;
    const body = this.options;
    const headers = { "Idempotency-Key": randomName() };
    this.told(await this.service.ask("POST", `/shots/${id}/exports`, { body, headers }));
  }

  /** @param {Export} one */
  async cancel(one) {
    this.told(await this.service.post(`/exports/${one.id}/cancel`));
  }

  /** @param {Export} one */
  async remove(one) {
    await this.service.delete(`/exports/${one.id}`);
    this.exports.set(this.exports.value.filter((other) => other.id !== one.id));
  }
}

/** @param {Export} one */
export const isOver = (one) => OVER.has(one.state);

/** @param {Wish} wish @param {boolean} pictures @param {unknown} cleanUp */
function optionsOf(wish, pictures, cleanUp) {
  const { variant, quality, title, leader, sound, shape, x, y, zoom } = wish;
  return {
    format: variant,
    quality,
    title: title.trim(),
    leader,
    sound: { include: sound },
    time: {
      ...(wish.rate && { rate: wish.rate }),
      ...(wish.range && { range: wish.range }),
      leave_out: wish.leaveOut,
      retime: wish.retimes,
      frames_each: wish.each,
      holds: wish.holds,
      reverse: wish.reverse,
      loops: wish.loops,
      head_frames: wish.head,
      tail_frames: wish.tail,
    },
    ...(pictures && {
      framing: { shape, centre_x: x, centre_y: y, zoom },
      ...(wish.light > 0 && { light: { strength: wish.light / 100, leave_alone: wish.alone } }),
      ...(wish.steady && { position: { edges: wish.edges } }),
      ...(cleanUp !== null && { clean_up: cleanUp }),
    }),
  };
}

/** The part of the picture that is shown, in its pixels; as the service works it out. @param {Wish} wish @param {number} width @param {number} height */
export function viewOf(wish, width, height) {
  const ratio = wish.shape === "source" ? width / height : RATIO[wish.shape];
  const wide = Math.min(width, height * ratio) / wish.zoom;
  const [w, h] = [even(wide), even(wide / ratio)];
  return { x: placed(wish.x * width - w / 2, width - w), y: placed(wish.y * height - h / 2, height - h), w, h };
}

/** @param {number} length */
const even = (length) => Math.max(2, Math.floor(length / 2 + 1e-9) * 2);

/** @param {number} start @param {number} room */
const placed = (start, room) => Math.min(Math.max(0, Math.round(start)), Math.max(0, room));

/** How long it will be. @param {Wish} wish @param {Shot | null} shot @param {Exposure[]} exposures */
export function lengthOf(wish, shot, exposures) {
  const once = shownOnce(wish, exposures);
  if (!once) return { frames: 0, seconds: 0 };
  const rate = framesPerSecond(wish.rate || (shot?.frame_rate ?? "12"));
  const frames = once * wish.each * wish.loops + wish.head + wish.tail;
  return { frames, seconds: frames / rate + (wish.leader ? 2 : 0) };
}

/** "about 2 min left" @param {number | null} seconds */
export function leftInWords(seconds) {
  if (seconds === null) return "";
  if (seconds < 1.5) return "nearly done";
  if (seconds < 90) return `${Math.round(seconds)} s left`;
  return `about ${Math.round(seconds / 60)} min left`;
}

/** @param {number} bytes */
export function sizeInWords(bytes) {
  if (bytes < 1e6) return `${Math.max(1, Math.round(bytes / 1e3))} kB`;
  return bytes < 1e9 ? `${(bytes / 1e6).toFixed(1)} MB` : `${(bytes / 1e9).toFixed(2)} GB`;
}
