/** The step-back trigger heard: a soft sound for each state, a tap for each second of its countdown. */

/** @import {Desk} from "./desk.js" */
/** @import {Sound} from "./sound.js" */

import { notesOf, TAP } from "../models/stepback.js";

/** @param {Desk} desk @param {Sound} sound */
export function soundStepBack({ app, look }, sound) {
  let state = app.trigger.value.state;
  let left = app.trigger.value.left_s ?? null;
  app.trigger.subscribe((now) => {
    const quiet = now.mode !== "step_back" || now.mute || !look.value.stateSounds;
    const seconds = now.state === "counting" && now.left_s ? Math.ceil(now.left_s) : null;
    if (!quiet && now.state !== state) sound.soft(notesOf(now.state));
    if (!quiet && seconds !== null && seconds !== left) sound.soft(TAP);
    state = now.state;
    left = seconds;
  });
}
