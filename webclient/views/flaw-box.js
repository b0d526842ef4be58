/** A box on the picture around what was flagged: a hand left in, a thing that should have stood still. */

/** @import {Exposure} from "../core/types.js" */

import { draw } from "./dom.js";

const NAMES = ["box_x_px", "box_y_px", "box_width_px", "box_height_px"];

export function makeFlawBox() {
  const box = draw("rect", { class: "flaw-box-line" });
  const element = draw("svg", { class: "flaw-box", preserveAspectRatio: "xMidYMid meet", "aria-hidden": "true" }, box);

  /** @param {Exposure | undefined} exposure  whose verdict says where */
  function show(exposure) {
    const original = exposure?.originals[0];
    const pose = exposure?.verdict?.accepted ? undefined : exposure?.verdict?.watches["pose"];
    const [x, y, width, height] = NAMES.map((name) => pose?.figures?.[name]);
    const known = pose?.state === "flagged" && width !== undefined && height !== undefined;
    element.toggleAttribute("hidden", !known || !original?.width);
    if (!known || !original?.width || !original.height) return;
    element.setAttribute("viewBox", `0 0 ${original.width} ${original.height}`);
    const places = { x, y, width, height };
    for (const [name, value] of Object.entries(places)) box.setAttribute(name, String(value ?? 0));
  }
  show(undefined);
  return { element, show };
}
