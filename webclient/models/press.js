/**
 * One press of the shutter, from the thumb to the kept exposure.
 *
 *   idle ──press──▶ sending ──exposing──▶ exposing ──exposed──▶ keeping ──kept──▶ kept
 *                      │ refused: failed      └──────────────failed──────────▶ failed
 *                      │ not connected: failed (nothing was sent)
 *                      └ no answer in time: unknown ──the stream tells──▶ exposing | kept | failed
 *
 * A press is never sent twice and never later: it carries the service's time after which it is void,
 * and without a connection it is not sent at all.
 */

/** @import {Exposure} from "../core/types.js" */
/** @import {Service} from "../core/service.js" */
/** @import {ShotModel} from "./shot.js" */

import { asProblem, Problem } from "../core/problem.js";
import { randomName } from "../core/random.js";
import { Store } from "./store.js";

/**
 * @typedef {object} Press
 * @property {"idle" | "sending" | "exposing" | "keeping" | "kept" | "failed" | "unknown"} phase
 * @property {string} key
 * @property {Problem | null} problem
 * @property {Exposure | null} exposure  the last one kept from here or elsewhere
 * @property {number} keptAt  our time in ms, 0 when nothing was kept yet
 */

/** How long a press may be on its way to the shutter: within 3 s the thumb is told what became of it. */
export const VALID_MS = 2700;
/** Download and flush of a large original, beyond the exposure itself. */
const KEEPING_MS = 30_000;

/** From accepting a press to telling that the shutter opens. */
const SETTLED_MS = 1000;

const NOT_SENT = {
  title: "Not delivered. No connection, so nothing was sent",
  status: 0,
  code: "not_sent",
  hint: "It will not be taken later. Press again when the connection is back.",
};
const NOT_DELIVERED = {
  title: "Not delivered. Nothing was taken",
  status: 0,
  code: "not_delivered",
  hint: "Press again.",
};

/** @extends {Store<Press>} */
export class PressModel extends Store {
  #giveUp = new AbortController();
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #timer;
  /** Service time in ms after which the present press is void. */
  #notAfter = 0;

  /**
   * @param {Service} service
   * @param {ShotModel} shot
   * @param {() => boolean} connected
   * @param {() => number | null} serviceNow  the service's time in ms, null while unknown
   */
  constructor(service, shot, connected, serviceNow) {
    super(/** @type {Press} */ ({ phase: "idle", key: "", problem: null, exposure: null, keptAt: 0 }));
    this.service = service;
    this.shot = shot;
    this.connected = connected;
    this.serviceNow = serviceNow;
  }

  get busy() {
    return ["sending", "exposing", "keeping"].includes(this.value.phase);
  }

  async press() {
    const { shot } = this.shot.value;
    if (!shot || this.busy) return;
    const key = randomName();
    if (!this.connected()) {
      this.patch({ phase: "failed", key, problem: new Problem(NOT_SENT) });
      return;
    }
    this.patch({ phase: "sending", key, problem: null });
    this.#giveUp = new AbortController();
    this.#deadline(VALID_MS);
    try {
      const answer = await this.service.ask("POST", `/shots/${shot.id}/exposures`, this.#asking(key));
      // The stream may have told it before, and the thumb may have pressed again since.
      if (this.value.key === key) this.#kept(answer.items[0]);
    } catch (error) {
      this.#failed(key, asProblem(error));
    } finally {
      if (this.value.key === key) clearTimeout(this.#timer);
    }
  }

  /** @param {string} key @returns {import("../core/service.js").Asking} */
  #asking(key) {
    const { armed, hold } = this.shot.value;
    const now = this.serviceNow();
    this.#notAfter = now === null ? 0 : Math.round(now + VALID_MS);
    const body = {
      count: 1,
      hold,
      insert_after: armed.kind === "insert" ? armed.exposure.id : null,
      replaces: armed.kind === "retake" ? armed.exposure.id : null,
      press: key,
      not_after_ms: this.#notAfter || null,
    };
    return {
      headers: { "Idempotency-Key": key },
      body,
      timeoutMs: 3_600_000, // the deadline below decides
      signal: this.#giveUp.signal,
    };
  }

  /** @param {number} ms */
  #deadline(ms) {
    clearTimeout(this.#timer);
    const giveUp = this.#giveUp;
    this.#timer = setTimeout(() => giveUp.abort(), ms);
  }

  /** @param {Exposure} exposure */
  #kept(exposure) {
    if (this.value.exposure?.id === exposure.id && this.value.phase === "kept") return;
    this.patch({ phase: "kept", problem: null, exposure, keptAt: Date.now() });
  }

  /** @param {string} key @param {Problem} problem */
  #failed(key, problem) {
    if (this.value.key !== key || this.value.phase === "kept") return;
    this.patch({ phase: problem.unanswered ? "unknown" : "failed", problem });
  }

  /** The shutter opens, for this press or another remote's. @param {string} key @param {number} seconds */
  exposing(key, seconds) {
    if (key === this.value.key && (this.busy || this.value.phase === "unknown")) {
      this.patch({ phase: "exposing", problem: null });
      this.#deadline(seconds * 1000 + KEEPING_MS);
    }
  }

  /** @param {string} key */
  exposed(key) {
    if (key === this.value.key && this.value.phase === "exposing") this.patch({ phase: "keeping" });
  }

  /** @param {string} key @param {Exposure} exposure */
  keptEvent(key, exposure) {
    if (key === this.value.key || !this.busy) this.#kept(exposure);
  }

  /** @param {string} key @param {import("../core/types.js").ProblemBody} body */
  failedEvent(key, body) {
    if (key === this.value.key || !this.busy) {
      this.patch({ phase: "failed", key, problem: new Problem(body) });
    }
  }

  /**
   * The stream is heard at this service time. It tells all in order: a press that it has not
   * mentioned when its time is over was not delivered, and never will be.
   *
   * @param {number} serviceNow ms
   */
  settle(serviceNow) {
    if (this.value.phase !== "unknown" || serviceNow < this.#notAfter + SETTLED_MS) return;
    this.patch({ phase: "failed", problem: new Problem(NOT_DELIVERED) });
  }

  clear() {
    if (!this.busy) this.patch({ phase: "idle", problem: null });
  }

  /** Another shot was opened. */
  forget() {
    this.patch({ phase: "idle", key: "", problem: null, exposure: null, keptAt: 0 });
  }
}
