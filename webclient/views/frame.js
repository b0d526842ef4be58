/** The frame of the page: the bar with the shot and the state of things, the view, the tabs. */

/** @import {Desk, View} from "./desk.js" */

import { rateInWords } from "../core/rate.js";
import { state } from "./controls.js";
import { make, setText } from "./dom.js";
import { icon } from "./icons.js";
import { makeAnnouncer, makeNotices } from "./notices.js";
import { OneSwitch } from "./one-switch.js";
import { VIEWS } from "./registry.js";
import { tone } from "./tone.js";

export class Frame {
  /** @type {Map<string, View>} */
  #views = new Map();
  #room = make("main", { class: "room" });
  #tabs;
  /** @type {{id: string, view: View} | null} */
  open = null;

  /** @param {Desk} desk */
  constructor(desk) {
    this.desk = desk;
    this.oneSwitch = new OneSwitch(desk, () => this.open?.id ?? "");
    this.#tabs = VIEWS.filter((one) => one.tab).map((one) =>
      make("a", { class: "tab", href: `#${one.id}`, "data-view": one.id }, icon(one.icon), make("span", {}, one.label)),
    );
    this.element = make(
      "div",
      { class: "frame" },
      makeBar(desk),
      makeNotices(desk.app),
      this.#room,
      this.oneSwitch.element,
      make("nav", { class: "tabs", "aria-label": "Views" }, ...this.#tabs),
      makeAnnouncer(desk.app),
    );
    addEventListener("hashchange", () => this.element.isConnected && this.follow());
  }

  /** Show what the address names, or what can be shown instead. */
  follow() {
    const wanted = VIEWS.find((one) => `#${one.id}` === location.hash);
    const hasShot = this.desk.app.shot.value.shot !== null;
    const fallback = hasShot ? "shoot" : "shots";
    if (wanted && (hasShot || !wanted.needsShot)) this.#show(wanted.id);
    else this.desk.go(fallback);
  }

  /** @param {string} id */
  #show(id) {
    if (this.open?.id === id) return;
    this.open?.view.hidden?.();
    const entry = VIEWS.find((one) => one.id === id);
    if (!entry) return;
    const view = this.#views.get(id) ?? headed(entry.make(this.desk), entry.label);
    this.#views.set(id, view);
    this.open = { id, view };
    this.#room.replaceChildren(view.element);
    this.element.dataset["view"] = id;
    for (const tab of this.#tabs) {
      if (tab.dataset["view"] === (entry.under ?? id)) tab.setAttribute("aria-current", "page");
      else tab.removeAttribute("aria-current");
    }
    document.title = `${entry.label} · Standclear`;
    view.shown?.();
    this.oneSwitch.follow();
  }

  /** The page went to sleep: what runs only to be seen stops. */
  rest() {
    this.open?.view.hidden?.();
  }

  wake() {
    this.open?.view.shown?.();
  }
}

/** Each view has a heading, seen or not: readers of the page by ear go by it. @param {View} view @param {string} label */
function headed(view, label) {
  if (!view.element.querySelector("h1")) view.element.prepend(make("h1", { class: "unseen" }, label));
  return view;
}

/** @param {Desk} desk */
function makeBar(desk) {
  const { app } = desk;
  const name = make("span", { class: "bar-name" });
  const rate = make("span", { class: "bar-rate" });
  const says = state();
  app.shot.subscribe(({ shot }) => {
    setText(name, shot ? shot.name : "Shots");
    setText(rate, shot ? rateInWords(shot.frame_rate) : "");
  });
  const tell = () => {
    const camera = app.camera.value;
    if (!app.connection.connected) says.mark("no connection", "warning");
    else if (!camera) says.mark("", "plain");
    else says.mark(`camera ${camera.state === "hung" ? "hangs" : camera.state}`, tone(camera));
  };
  app.connection.subscribe(tell);
  app.camera.subscribe(tell);
  for (const change of ["online", "offline"]) addEventListener(change, tell);
  const shots = make("a", { class: "bar-shot", href: "#shots" }, name, rate, icon("down", 16));
  return make("header", { class: "bar" }, shots, make("span", { class: "bar-state", role: "status" }, says.element));
}
