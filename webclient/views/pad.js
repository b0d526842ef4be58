/** The shutter pad: what comes next, what became of the last press. The largest thing under the thumb. */

/** @import {Desk} from "./desk.js" */

import { ago, describeNext } from "../models/next.js";
import { padWords } from "../models/plan-words.js";
import { icon } from "./icons.js";
import { make, setText } from "./dom.js";
import { apart } from "./second.js";

/** States of the step-back trigger in which nothing goes on by itself. */
const NEEDS_A_WORD = new Set(["asking", "blocked", "blind", "held_back"]);

export class Pad {
  #press = make("span", { class: "unseen" });
  #does = make("span", { class: "pad-does" });
  #hold = make("span", { class: "pad-hold" });
  #number = make("span", { class: "pad-number" });
  #time = make("span", { class: "pad-time" });
  #says = make("span", { class: "pad-says" });
  #hint = make("span", { class: "pad-hint" });
  #mark = make("span", { class: "pad-mark" });
  #shape = "";

  /** @param {Desk} desk */
  constructor(desk) {
    this.desk = desk;
    // All that is read on it is its name. What became of the last press is news, and stands beside it.
    this.pad = make(
      "button",
      { type: "button", class: "pad", "aria-describedby": "pad-news", onclick: () => void desk.shutter.fire() },
      make("span", { class: "pad-top" }, this.#press, this.#does, this.#hold),
      make("span", { class: "pad-middle" }, this.#number, this.#time),
    );
    this.element = make(
      "div",
      { class: "pad-box" },
      this.pad,
      make("p", { class: "pad-bottom", id: "pad-news" }, this.#mark, make("span", { class: "pad-words" }, this.#says, this.#hint)),
    );
    const { app } = desk;
    for (const store of [app.shot, app.plan, app.press, app.trigger, app.connection, app.camera]) {
      store.subscribe(() => this.#tell());
    }
    setInterval(() => this.#tell(), 1000);
  }

  #tell() {
    const { app } = this.desk;
    if (this.desk.shutter.counting) this.#tellCount();
    else this.#tellNext();
    const tone = this.#bottom(app.press.value);
    this.pad.dataset["tone"] = tone;
    this.pad.dataset["phase"] = app.press.value.phase;
  }

  #tellNext() {
    const next = describeNext(this.desk.app.shot.value);
    const timed = timedWords(this.desk);
    const planned = plannedWords(this.desk);
    setText(this.#does, planned?.does ?? (next ? next.does : "no shot is open"));
    setText(this.#hold, next ? next.hold : "");
    this.#big(next ? next.number : "–");
    const press = pressWords(this.desk);
    const then = [planned?.step, planned?.then || `film then ${next?.time}`].filter(Boolean).join(", ");
    setText(this.#time, next ? `${then}${press ? ` · press ${press}` : timed}` : "");
    setText(this.#press, !next ? "" : press ? `Press ${press}: ` : `Take exposure ${next.number}: `);
  }

  /** @param {string} number */
  #big(number) {
    setText(this.#number, number);
    this.#number.dataset["digits"] = String(number.length);
  }

  #tellCount() {
    const left = Math.max(0, Math.ceil(this.desk.app.trigger.value.left_s ?? 0));
    setText(this.#does, this.desk.app.trigger.value.mode === "interval" ? "next picture in" : "takes the picture in");
    setText(this.#hold, "");
    this.#big(String(left));
    setText(this.#time, "s · press to stop");
    setText(this.#press, "Countdown: ");
  }

  /** @param {import("../models/press.js").Press} press @returns {string} the tone */
  #bottom(press) {
    const { app } = this.desk;
    if (press.phase === "failed" && press.problem) {
      const { title, message, hint } = press.problem;
      return this.#words("fault", message || title, hint || "Press to try again.");
    }
    if (press.phase === "unknown") return this.#words("warning", "No answer to the last press.", "It is not sent again.");
    if (press.phase === "sending") return this.#words("", "Sending…");
    if (press.phase === "exposing") return this.#words("", "Exposing…");
    if (press.phase === "keeping") return this.#words("", "Keeping…");
    if (!app.connection.connected) return this.#words("warning", "No connection", "A press now takes nothing.");
    const camera = app.camera.value;
    if (camera && (camera.state === "away" || camera.state === "hung")) return this.#words("warning", camera.says);
    if (this.desk.shutter.stepsBack) return this.#stepBack(press);
    if (press.exposure) return this.#words("clear", `${press.exposure.number} kept ${ago(Date.now() - press.keptAt)}`, apart(press.exposure));
    return this.#words("", app.shot.value.shot ? lastWords(this.desk) : "Open a shot first.");
  }

  /** What the step-back trigger waits for. @param {import("../models/press.js").Press} press */
  #stepBack(press) {
    const { says = "", state = "" } = this.desk.app.trigger.value;
    if (!this.desk.shutter.stepsBackHere) {
      return this.#words("warning", "The step-back trigger watches for another shot.", "Press to bring it here.");
    }
    const kept = press.exposure ? `${press.exposure.number} kept ${ago(Date.now() - press.keptAt)}` : "";
    return this.#words(NEEDS_A_WORD.has(state) ? "warning" : "", says, kept);
  }

  /** @param {string} shape @param {string} says @param {string} [hint] */
  #words(shape, says, hint = "") {
    setText(this.#says, says);
    setText(this.#hint, hint);
    if (shape !== this.#shape) this.#mark.replaceChildren(...(shape ? [icon(shape, 20)] : []));
    this.#shape = shape;
    return shape || "plain";
  }
}

/** @param {Desk} desk */
function lastWords(desk) {
  const { shot, exposures } = desk.app.shot.value;
  const last = exposures[exposures.length - 1];
  if (!shot?.exposure_count || !last) return "Nothing kept yet. Press anywhere here.";
  return `${shot.exposure_count} kept ${ago(Date.now() - Date.parse(last.taken_at))}`;
}

/** What the plan says of the next exposure; null when the press is not for the end of the film. @param {Desk} desk */
function plannedWords({ app }) {
  return app.shot.value.armed.kind === "append" ? padWords(app.plan.value.plan, app.plan.current) : null;
}

/** What a press does to the step-back trigger, "" when a press takes a picture. @param {Desk} desk */
function pressWords({ shutter }) {
  if (!shutter.stepsBack) return "";
  if (!shutter.stepsBackHere) return "to bring the trigger here";
  return shutter.asks ? "to go on" : "to hold back";
}

/** @param {Desk} desk */
function timedWords(desk) {
  const { mode, seconds } = desk.app.trigger.value;
  if (desk.app.shot.value.armed.kind !== "append") return "";
  if (mode === "self_timer") return ` · after ${seconds} s`;
  if (mode === "interval") return ` · every ${seconds} s`;
  return "";
}
