/** Rig: the camera, its settings, and this remote. */

/** @import {Desk, View} from "./desk.js" */
/** @import {Camera, ListedCamera, Setting} from "../core/types.js" */

import { button, field, oneOf, state } from "./controls.js";
import { make, setText } from "./dom.js";
import { makeHands } from "./hands.js";
import { makeHelp } from "./help.js";
import { icon } from "./icons.js";
import { makeMirror } from "./mirror.js";
import { makeEye } from "./stepback.js";
import { makeSecond } from "./second.js";
import { makeSteady } from "./steady.js";
import { tone } from "./tone.js";

/** @param {Desk} desk @returns {View} */
export function makeRig(desk) {
  const camera = makeCamera(desk);
  const settings = makeSettings(desk);
  const steady = makeSteady(desk);
  const mirror = makeMirror(desk);
  const element = make(
    "section",
    { class: "rig scroll", "aria-label": "Rig" },
    make("h1", {}, "Rig"),
    make("div", { class: "rig-parts" }, camera.element, settings.element, steady.element, mirror.element, makeRemote(desk), makeHands(desk), makeHelp()),
  );
  let id = "";
  desk.app.camera.subscribe((now) => {
    const changed = `${now?.id} ${now?.state === "ready"}`;
    if (changed !== id && element.isConnected) settings.load();
    id = changed;
  });
  return { element, shown: () => { camera.load(); settings.load(); steady.load(); mirror.load(); } };
}

/** @param {Desk} desk */
function makeCamera(desk) {
  const { app } = desk;
  const eye = makeEye(desk);
  const second = makeSecond(desk);
  const says = state();
  const facts = make("p", { class: "quiet" });
  const list = make("div", { class: "camera-list", role: "radiogroup", "aria-label": "Camera in use" });

  /** @param {ListedCamera} one */
  const row = (one) =>
    make(
      "button",
      { type: "button", class: "choice camera", role: "radio", "aria-checked": one.in_use ? "true" : "false", onclick: () => void use(one.id) },
      make("span", {}, one.label),
      make("span", { class: "quiet" }, one.kind),
    );

  async function load() {
    await app.attempt(async () => {
      const { items } = await app.service.get("/cameras");
      list.replaceChildren(...items.map(row));
      eye.load();
      second.load(items);
    });
  }

  /** @param {string} id */
  async function use(id) {
    await app.attempt(async () => app.camera.set(await app.service.put("/camera", { id })));
    await load();
  }

  app.camera.subscribe((now) => {
    if (!now) return says.mark("not known yet", "plain");
    says.mark(now.says || now.state, tone(now));
    setText(facts, factsOf(now));
  });
  const element = part("Camera", make("p", { role: "status" }, says.element), facts, list, button("Look again", () => void load(), { class: "quiet" }), second.element, eye.element);
  return { element, load: () => void load() };
}

/** @param {Camera} camera */
function factsOf(camera) {
  const free = camera.free_pictures ?? null;
  return [
    camera.label,
    camera.battery_percent === null ? "" : `battery ${camera.battery_percent} %`,
    free !== null ? `room for ${free} pictures` : camera.free_bytes ? `${(camera.free_bytes / 1e9).toFixed(1)} GB free` : "",
    camera.live ? "" : camera.live_says,
    ...(camera.warnings ?? []),
  ].filter(Boolean).join(" · ");
}

/** What every camera's settings are mapped to; the rest stays under the camera's own names. */
const FIRST = ["shutter", "aperture", "iso", "white_balance", "focus", "exposure_mode"];

/** @param {Desk} desk */
function makeSettings(desk) {
  const { app } = desk;
  const list = make("div", { class: "settings" });

  async function load() {
    await app.attempt(async () => app.settings.set(await app.service.get("/camera/settings")));
  }

  /** @param {Record<string, Setting> | null} settings */
  function show(settings) {
    if (!settings) return;
    const row = (/** @type {string} */ name) => settingRow(name, /** @type {Setting} */ (settings[name]), change);
    const first = FIRST.filter((name) => name in settings).map(row);
    const others = Object.keys(settings).filter((name) => !FIRST.includes(name)).map(row);
    const open = list.querySelector("details")?.open ?? false;
    list.replaceChildren(...first);
    if (others.length) list.append(make("details", { open }, make("summary", {}, "Other settings of this camera"), ...others));
    if (!list.childElementCount) list.append(make("p", { class: "quiet" }, "This camera offers no settings."));
  }

  /** @param {string} name @param {string} value */
  async function change(name, value) {
    await app.attempt(async () => app.settings.set(await app.service.patch("/camera/settings", { [name]: value })));
  }
  app.settings.subscribe(show);
  const element = part("Settings", make("p", { class: "quiet" }, "Everything on manual: what the camera changes by itself will flicker."), list);
  return { element, load: () => void load() };
}

/** @param {string} name @param {Setting} setting @param {(name: string, value: string) => void} change */
function settingRow(name, setting, change) {
  const control = setting.choices.length ? chooser(name, setting, change) : entry(name, setting, change);
  const automatic = setting.automatic && make("span", { class: "state", "data-tone": "warning" }, icon("warning", 16), make("span", {}, "automatic"));
  const row = make("div", { class: "setting", "data-setting": name }, field(setting.label || name, control), automatic);
  return row;
}

/** @param {string} name @param {Setting} setting @param {(name: string, value: string) => void} change */
function chooser(name, setting, change) {
  const choices = setting.choices.includes(setting.value) ? setting.choices : [setting.value, ...setting.choices];
  const control = make("select", { disabled: !setting.writable, onchange: () => change(name, control.value) }, ...choices.map((one) => make("option", { value: one }, one)));
  control.value = setting.value;
  return control;
}

/** @param {string} name @param {Setting} setting @param {(name: string, value: string) => void} change */
function entry(name, setting, change) {
  const bounded = setting.minimum !== null && setting.maximum !== null;
  const control = make("input", {
    value: setting.value, disabled: !setting.writable, onchange: () => change(name, control.value),
    type: bounded ? "number" : "text", min: setting.minimum, max: setting.maximum, step: setting.step ?? (bounded ? "any" : null),
  });
  return control;
}

/** @param {Desk} desk */
function makeRemote(desk) {
  const { app } = desk;
  const link = state();
  const version = make("p", { class: "quiet" });
  const sound = oneOf("Sound after each picture", [["on", "click"], ["off", "silent"]], (chosen) => desk.look.patch({ sound: chosen === "on" }));
  desk.look.subscribe((now) => sound.mark(now.sound ? "on" : "off"));
  app.connection.subscribe((now) => {
    if (now.state === "connected") link.mark("connected", "clear");
    else link.mark("no connection, trying again", "warning");
    setText(version, now.version ? `Standclear ${now.version}` : "");
  });
  const leave = () => void app.attempt(async () => {
    await app.service.delete("/pairing");
    app.service.onUnpaired();
  });
  return part("This remote", make("p", {}, link.element), version, sound.element, button("Unpair this remote", leave, { class: "danger" }));
}

/** @param {string} title @param {...HTMLElement} children */
function part(title, ...children) {
  return make("section", { class: "part" }, make("h2", {}, title), ...children);
}
