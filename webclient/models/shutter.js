/**
 * What the thumb does: takes a picture now, begins a countdown, or stops one. With the step-back
 * trigger any press holds it back, unless it asks for one.
 */

/** @import {App} from "./app.js" */
/** @import {TriggerMode} from "../core/types.js" */

const ASKS = new Set(["asking", "blocked", "held_back"]);

export class Shutter {
  /** What the step-back trigger is given beside the shot. @type {() => Record<string, unknown>} */
  stepBackWish = () => ({});

  /** @param {App} app */
  constructor(app) {
    this.app = app;
  }

  get counting() {
    return this.app.trigger.value.phase === "counting" && !this.stepsBack;
  }

  /** The step-back trigger takes the pictures. Retakes and inserts are by hand all the same. */
  get stepsBack() {
    return this.app.trigger.value.mode === "step_back" && this.app.shot.value.armed.kind === "append";
  }

  /** It watches for the shot that is open here. */
  get stepsBackHere() {
    return this.app.trigger.value.shot === this.app.shot.value.shot?.id;
  }

  /** It needs a press to go on. */
  get asks() {
    return ASKS.has(this.app.trigger.value.state ?? "");
  }

  async fire() {
    const { app } = this;
    if (app.exposing.value) return;
    if (this.stepsBack && app.connection.connected) return app.attempt(() => this.#stepBack());
    if (this.counting) return app.attempt(() => app.service.post("/trigger/cancel"));
    if (!this.#timed) return app.press.press();
    if (!app.connection.connected) return app.press.press(); // refuses, and says so
    await app.attempt(() => this.#begin());
  }

  /** Retakes and inserts are always by hand: the trigger only adds to the end. */
  get #timed() {
    const { mode } = this.app.trigger.value;
    return (mode === "self_timer" || mode === "interval") && this.app.shot.value.armed.kind === "append";
  }

  async #stepBack() {
    if (!this.stepsBackHere) return this.choose("step_back", 0);
    await this.app.service.post(this.asks ? "/trigger/press" : "/trigger/hold_back");
  }

  async #begin() {
    const { trigger, shot } = this.app;
    const id = shot.value.shot?.id ?? null;
    if (trigger.value.shot !== id) await this.choose(trigger.value.mode, trigger.value.seconds || 3);
    await this.app.service.post("/trigger/press");
  }

  /** @param {TriggerMode} mode @param {number} seconds */
  async choose(mode, seconds) {
    const shot = this.app.shot.value.shot?.id ?? null;
    /** @type {Record<string, unknown>} */
    const wish = { mode, start: false };
    if (shot) wish["shot"] = shot;
    if (mode === "self_timer" || mode === "interval") wish["seconds"] = seconds || 3;
    if (mode === "step_back") Object.assign(wish, this.stepBackWish());
    const set = await this.app.service.put("/trigger", wish);
    this.app.trigger.patch(set);
  }
}
