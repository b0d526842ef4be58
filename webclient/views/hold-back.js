/** Any touch on the page holds the step-back trigger back when it is about to take a picture. */

/** @import {Desk} from "./desk.js" */

const ABOUT_TO = new Set(["settling", "counting", "take"]);

/** @param {Desk} desk */
export function holdBackOnTouch({ app, shutter }) {
  addEventListener("pointerdown", (event) => {
    if (!app.paired.value || !shutter.stepsBack || !ABOUT_TO.has(app.trigger.value.state ?? "")) return;
    if (event.target instanceof Element && event.target.closest(".pad")) return; // the pad does it itself
    void app.attempt(() => app.service.post("/trigger/hold_back"));
  });
}
