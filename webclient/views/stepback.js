/** How the step-back trigger behaves: in the drawer while it is chosen; its eye in Rig. */

/** @import {Desk} from "./desk.js" */
/** @import {Look} from "../models/look.js" */
/** @import {ListedCamera} from "../core/types.js" */

import { field, oneOf, stepper } from "./controls.js";
import { make } from "./dom.js";

const MOST_SECONDS = 10;

/** @param {Desk} desk @returns {HTMLElement} */
export function makeStepBackOptions(desk) {
  const { app, look } = desk;
  const takes = oneOf("When you are gone", [["fires", "takes it"], ["asks", "asks first"]], (how) => change(desk, { asksFirst: how === "asks" }));
  const countdown = stepper("Taps before it", (by) => {
    const countdown = Math.max(0, Math.min(MOST_SECONDS, look.value.countdown + by));
    change(desk, { countdown });
  }, " s");
  const sounds = oneOf("Sounds of its states", [["on", "soft"], ["off", "silent"]], (on) => change(desk, { stateSounds: on === "on" }));
  const sees = oneOf("What it sees", [["on", "shown"], ["off", "hidden"]], (on) => look.patch({ sees: on === "on" }));
  const element = make("div", { class: "stepback" }, takes.element, countdown.element, sounds.element, sees.element);
  look.subscribe((now) => {
    takes.mark(now.asksFirst ? "asks" : "fires");
    countdown.mark(now.countdown);
    sounds.mark(now.stateSounds ? "on" : "off");
    sees.mark(now.sees ? "on" : "off");
  });
  app.trigger.subscribe((now) => (element.hidden = now.mode !== "step_back"));
  return element;
}

/** Change how it behaves; where it watches already it begins anew. @param {Desk} desk @param {Partial<Look>} wish */
function change({ app, look, shutter }, wish) {
  look.patch(wish);
  if (app.trigger.value.mode === "step_back") void app.attempt(() => shutter.choose("step_back", 0));
}

/** Which camera watches for the step-back trigger. @param {Desk} desk */
export function makeEye(desk) {
  const choose = make("select", { onchange: () => change(desk, { eye: choose.value }) });
  const element = field("Eye of the step-back trigger", choose);

  async function load() {
    await desk.app.attempt(async () => {
      const { items } = await desk.app.service.get("/cameras");
      const others = items.filter((/** @type {ListedCamera} */ one) => !one.in_use);
      const own = make("option", { value: "" }, "the camera in use");
      const chosen = desk.look.value.eye;
      const known = others.map((/** @type {ListedCamera} */ one) => make("option", { value: one.id }, one.label));
      const gone = chosen && !others.some((/** @type {ListedCamera} */ one) => one.id === chosen);
      choose.replaceChildren(own, ...known, ...(gone ? [make("option", { value: chosen }, chosen)] : []));
      choose.value = chosen;
    });
  }
  return { element, load: () => void load() };
}
