/** The re-seat guide: leads a hand at the tripod until the live picture lies on the reference. */

/** @import {Desk, View} from "./desk.js" */
/** @import {Seat} from "../models/watches.js" */

import { flawsOf } from "../models/flaws.js";
import { button, state } from "./controls.js";
import { make, setText } from "./dom.js";
import { makeReseatDrawing } from "./reseat-drawing.js";
import { pictureWidth } from "./stage.js";

const SPEAK_MS = 1200; // a screen reader hears no more than this often

/** @param {Desk} desk @returns {View} */
export function makeReseat(desk) {
  const { app } = desk;
  const drawing = makeReseatDrawing();
  const stage = make("figure", { class: "stage" });
  const figures = makeFigures();
  const words = state();
  let spokeAt = 0;
  const onward = makeOnward(desk);
  const element = make(
    "section",
    { class: "reseat", "aria-label": "Re-seat guide" },
    stage,
    make("div", { class: "reseat-says" }, make("p", { role: "status" }, words.element), figures.element),
    make("div", { class: "reseat-ends" }, onward, button("Done", () => desk.go("shoot"), { class: "main" })),
  );

  /** @param {Seat} seat */
  function tell(seat) {
    drawing.show(seat);
    figures.show(seat);
    const now = performance.now();
    if (now - spokeAt < SPEAK_MS && !seat.within) return;
    spokeAt = now;
    if (!seat.on) words.mark(seat.says || "The guide is off.", "plain");
    else if (seat.within) words.mark(seat.says, "clear");
    else if (seat.known) words.mark(`${(seat.off_px ?? 0).toFixed(1)} px off the reference.`, "warning");
    else words.mark(seat.says, "plain");
  }
  app.watches.seat.subscribe(tell);
  desk.live.state.subscribe(({ width, height }) => drawing.fit(width, height));

  /** @type {HTMLElement | null} */
  let home = null;
  return {
    element,
    shown() {
      if (desk.live.canvas.parentElement !== stage) home = desk.live.canvas.parentElement;
      stage.replaceChildren(desk.live.canvas, drawing.element);
      desk.live.start(pictureWidth(stage), app.shot.value.shot?.id ?? "");
      void app.attempt(() => app.watches.guide(true));
    },
    hidden() {
      desk.live.stop();
      home?.prepend(desk.live.canvas); // Shoot's, which lent it
      void app.attempt(() => app.watches.guide(false));
    },
  };
}

/** What the hand at the tripod has to do, large enough to be read from there. */
function makeFigures() {
  const cells = ["pan", "tilt", "roll"].map((says) => {
    const value = make("output", { class: "seat-value" }, "–");
    const way = make("span", { class: "quiet" }, says);
    return { value, way, element: make("div", { class: "seat-figure" }, value, way) };
  });
  /** @param {Seat} seat */
  function show(seat) {
    const { shift_x_px: x = 0, shift_y_px: y = 0, turn_deg: turn = 0 } = seat;
    const known = seat.on && seat.known;
    const says = [
      [`${Math.abs(x).toFixed(1)} px`, `pan ${x > 0 ? "right" : "left"}`],
      [`${Math.abs(y).toFixed(1)} px`, `tilt ${y > 0 ? "down" : "up"}`],
      [`${Math.abs(turn).toFixed(2)}°`, `roll ${turn > 0 ? "clockwise" : "anticlockwise"}`],
    ];
    cells.forEach((cell, index) => {
      setText(cell.value, known ? (says[index]?.[0] ?? "") : "–");
      if (known) setText(cell.way, says[index]?.[1] ?? "");
    });
  }
  return { element: make("div", { class: "seat-figures" }, ...cells.map((one) => one.element)), show };
}

/** The other way out: leave the camera where it is. @param {Desk} desk */
function makeOnward(desk) {
  const { app } = desk;
  const accept = button("Go on from here instead", () => {
    const last = app.shot.last;
    if (!last) return;
    void app.attempt(async () => {
      await app.watches.accept(last);
      app.say(`Exposure ${last.number} is the new reference.`);
      desk.go("shoot");
    });
  });
  app.shot.subscribe(() => (accept.hidden = !flawsOf(app.shot.last).some(({ watch }) => watch === "rig")));
  return accept;
}
