/** What the thumb does: takes a picture now, begins a countdown, or stops one. */

/** @import {App} from "./app.js" */
/** @import {TriggerMode} from "../core/types.js" */

export class Shutter {
  /** @param {App} app */
  constructor(app) {
    this.app = app;
  }

  get counting() {
    return this.app.trigger.value.phase === "counting";
  }

  async fire() {
    const { app } = this;
    if (app.exposing.value) return;
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

  async #begin() {
    const { trigger, shot } = this.app;
    const id = shot.value.shot?.id ?? null;
    if (trigger.value.shot !== id) await this.choose(trigger.value.mode, trigger.value.seconds ?? 3);
    await this.app.service.post("/trigger/press");
  }

  /** @param {TriggerMode} mode @param {number} seconds */
  async choose(mode, seconds) {
    const shot = this.app.shot.value.shot?.id ?? null;
    /** @type {Record<string, unknown>} */
    const wish = { mode, start: false };
    if (shot) wish["shot"] = shot;
    if (mode !== "manual") wish["seconds"] = seconds;
    const set = await this.app.service.put("/trigger", wish);
    this.app.trigger.patch(set);
  }
}
