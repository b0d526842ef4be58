/** All models of the page, and the events that move them. Nothing here is global: `main.js` makes one. */

/** @import {Camera, Setting, Trigger} from "../core/types.js" */

import { nowMs } from "../core/age.js";
import { EventStream } from "../core/events.js";
import { Problem } from "../core/problem.js";
import { randomName } from "../core/random.js";
import { BASE, Service } from "../core/service.js";
import { ConnectionModel } from "./connection.js";
import { FinishModel } from "./finish.js";
import { MirrorModel } from "./mirror.js";
import { PlanModel } from "./plan.js";
import { PressModel } from "./press.js";
import { ReviewModel } from "./review.js";
import { ShotModel } from "./shot.js";
import { ShotsModel } from "./shots.js";
import { SoundModel } from "./sound.js";
import { Store } from "./store.js";
import { WatchesModel } from "./watches.js";

/**
 * @typedef {{press: string, expected_s: number} | null} Exposing
 *
 * @typedef {object} Notice
 * @property {string} says
 * @property {"plain" | "warning" | "fault"} tone
 * @property {{label: string, run: () => void}} [action]
 */

/** Each so many beats the clocks are compared again: a slow answer bounds little. */
const CLOCK_BEATS = 5;

/** @type {Trigger} */
const MANUAL = { mode: "manual", shot: null, seconds: null, phase: "idle", left_s: null };

export class App {
  beats = 0;
  screen = randomName();
  service = new Service();
  connection = new ConnectionModel();
  /** @type {Store<Camera | null>} */
  camera = new Store(/** @type {Camera | null} */ (null));
  /** The camera that takes with it, null while there is none. @type {Store<Camera | null>} */
  second = new Store(/** @type {Camera | null} */ (null));
  trigger = new Store(MANUAL);
  /** The camera's settings, null until they were asked for. @type {Store<Record<string, Setting> | null>} */
  settings = new Store(/** @type {Record<string, Setting> | null} */ (null));
  /** @type {Store<Exposing>} */
  exposing = new Store(/** @type {Exposing} */ (null));
  /** @type {Store<Notice | null>} */
  notice = new Store(/** @type {Notice | null} */ (null));
  shots = new ShotsModel(this.service);
  shot = new ShotModel(this.service);
  press = new PressModel(
    this.service,
    this.shot,
    () => this.connection.connected,
    () => this.connection.serviceNow(),
  );
  plan = new PlanModel(this.service, this.shot);
  review = new ReviewModel(this.service, this.shot);
  finish = new FinishModel(this.service, this.shot);
  sound = new SoundModel(this.service, this.shot);
  watches = new WatchesModel(this.service, this.shot);
  mirror = new MirrorModel(this.service);
  /** Whether this page may speak to the service: null until known. */
  paired = new Store(/** @type {boolean | null} */ (null));
  /** Called on each exposure kept, after the screens are light again. */
  onKept = () => {};

  constructor() {
    this.service.onUnpaired = () => this.#unpaired();
    this.plan.onFault = (error) => this.#fault(error);
    this.sound.onFault = (error) => this.#fault(error);
    this.events = new EventStream({
      url: `${BASE}/events?screen=${this.screen}`,
      onEvent: (event, data) => this.#heard(event, data),
      onState: (state) => this.#state(state),
    });
  }

  /** Paired: begin to listen. */
  start() {
    this.paired.set(true);
    this.events.start();
  }

  #unpaired() {
    this.events.stop();
    this.connection.became("unpaired");
    this.exposing.set(null);
    this.paired.set(false);
  }

  /** @param {import("../core/events.js").StreamState} state */
  #state(state) {
    this.connection.became(state);
    if (state === "lost") this.exposing.set(null);
    if (state === "lost") this.connection.forgetTime();
    if (state === "unpaired") this.#unpaired();
  }

  /** @param {string} event @param {any} data */
  #heard(event, data) {
    const handle = HANDLERS[event];
    if (!handle) return; // newer services may say more
    try {
      void Promise.resolve(handle(this, data)).catch((error) => this.#fault(error));
    } catch (error) {
      this.#fault(error);
    }
  }

  /**
   * Faults of our own go to the bar that shows them. A lost answer is no fault: the connection's
   * state says so, and the next hello fetches all anew.
   *
   * @param {unknown} error
   */
  #fault(error) {
    if (!(error instanceof Problem)) reportError(error);
    else if (!error.unanswered && error.status !== 401) this.say(error.message, "fault");
  }

  /** @param {string} says @param {Notice["tone"]} [tone] @param {Notice["action"]} [action] */
  say(says, tone = "plain", action) {
    this.notice.set({ says, tone, action });
  }

  /** Run what a control asks for; a refusal is told on the page. @param {() => Promise<unknown>} run */
  async attempt(run) {
    try {
      await run();
    } catch (error) {
      const problem = error instanceof Error ? error : new Error(String(error));
      const hint = /** @type {any} */ (error).hint;
      this.say([problem.message, hint].filter(Boolean).join(" "), "fault");
    }
  }

  /** The shot's own facts, which a kept exposure changed too: its revision, what undo would do. @param {string} id */
  async refresh(id) {
    const shot = await this.service.get(`/shots/${id}`);
    this.shots.changed(shot, id);
    this.shot.changed(shot, id);
  }

  /** How old the picture may be at most is known by asking: an answer was not sent before its question. */
  async compareClocks(times = 3) {
    for (let i = 0; i < times; i += 1) {
      const asked = nowMs();
      const { now_ms: now } = await this.service.get("/health");
      this.connection.heardAnswer(asked, now);
    }
  }

  /** After a break: all anew, and a word on what was missed. */
  async catchUp() {
    const before = this.shot.value.shot;
    await Promise.all([this.shots.load(), this.mirror.load()]);
    if (!this.shot.value.shot) return;
    await Promise.all([this.shot.reload(), this.plan.load(), this.sound.load(), this.finish.load()]);
    const now = this.shot.value.shot;
    const missed = before?.id === now.id ? now.exposure_count - before.exposure_count : 0;
    if (missed > 0) this.say(`Missed ${missed} ${missed === 1 ? "exposure" : "exposures"} while away.`);
  }
}

/** @type {Record<string, (app: App, data: any) => unknown>} */
const HANDLERS = {
  hello(app, data) {
    app.connection.heardTime(data.now);
    app.connection.patch({ version: data.version ?? "" });
    app.camera.set(data.camera);
    app.second.set(data.second_camera ?? null);
    app.trigger.set({ ...MANUAL, ...data.trigger });
    return Promise.all([app.catchUp(), app.compareClocks()]);
  },
  beat(app, data) {
    app.connection.heardTime(data.now);
    app.press.settle(Date.parse(data.now));
    app.mirror.tick();
    app.beats += 1;
    return app.beats % CLOCK_BEATS ? null : app.compareClocks(1);
  },
  exposing(app, data) {
    app.exposing.set(data);
    app.press.exposing(data.press, data.expected_s);
  },
  exposed(app, data) {
    app.exposing.set(null);
    app.press.exposed(data.press);
  },
  kept(app, data) {
    app.exposing.set(null);
    app.shot.kept(data.exposure, data.replaces);
    app.press.keptEvent(data.press, data.exposure);
    app.onKept();
    return app.refresh(data.shot);
  },
  failed(app, data) {
    app.exposing.set(null);
    app.press.failedEvent(data.press, data.problem);
  },
  verdict: (app, data) => app.shot.judged(data.exposure, data.verdict),
  steady_test: (app, data) => app.watches.tested(data),
  reseat: (app, data) => app.watches.seat.set(data),
  camera(app, data) {
    const known = app.camera.value?.warnings ?? [];
    const fresh = (data.warnings ?? []).filter((/** @type {string} */ one) => !known.includes(one));
    app.camera.set(data);
    if (fresh.length) app.say(fresh.join(" "), "warning");
  },
  trigger(app, data) {
    app.trigger.set({ ...MANUAL, ...data });
    if (data.says && data.mode !== "step_back") app.say(data.says, "warning");
  },
  late(app) {
    app.say("A picture came that no press stands for any more. It is kept, in the shot’s bin.", "warning");
  },
  settings: (app, data) => app.settings.set(data),
  export: (app, data) => app.finish.told(data),
  mirror: (app, data) => app.mirror.told(data),
  sound: (app, data) => (data.shot === app.shot.value.shot?.id ? app.sound.load() : null),
  plan: (app, data) => app.plan.changed(data),
  second_camera: (app, data) => app.second.set(data.camera),
  address: (app, data) => app.say(data.says, "warning"),
  step_back: (app, data) => app.trigger.patch(data),
  counting(app, data) {
    const timed = app.trigger.value.mode !== "step_back";
    app.trigger.patch(timed ? { phase: "counting", left_s: data.left_s } : { left_s: data.left_s });
  },
  shot(app, data) {
    app.shots.changed(data.shot, data.id);
    app.shot.changed(data.shot, data.id);
  },
  async edited(app, data) {
    app.shots.changed(data.shot, data.shot.id);
    await app.shot.edited(data.shot, data.exposures);
  },
};
