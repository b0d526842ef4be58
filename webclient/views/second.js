/** The second camera: which one takes with every press, how it is, and what came of it. */

/** @import {Desk} from "./desk.js" */
/** @import {Exposure, ListedCamera} from "../core/types.js" */

import { field, state } from "./controls.js";
import { make } from "./dom.js";
import { tone } from "./tone.js";

/** How far apart the two pictures of an exposure are, "" where it has one. @param {Exposure | null | undefined} exposure */
export function apart(exposure) {
  const pair = exposure?.pair;
  if (!pair) return "";
  const ms = pair.spread_ms;
  return `two pictures, ${ms < 10 ? ms.toFixed(1) : Math.round(ms)} ms apart`;
}

/** @param {Desk} desk */
export function makeSecond({ app }) {
  const says = state();
  const select = make("select", { onchange: () => void use(select.value) });
  /** @type {ListedCamera[]} */
  let listed = [];

  function paint() {
    const now = app.second.value;
    const others = listed.filter((one) => one.id !== app.camera.value?.id);
    if (now && !others.some((one) => one.id === now.id)) others.push({ id: now.id, kind: now.kind, label: now.label, in_use: false });
    select.replaceChildren(make("option", { value: "" }, "none"), ...others.map((one) => make("option", { value: one.id }, one.label)));
    select.value = now?.id ?? "";
    select.disabled = others.length === 0;
    says.element.hidden = now === null;
    if (now) says.mark(now.state === "ready" ? "takes a picture with every press" : now.says, tone(now));
  }

  /** @param {string} id */
  async function use(id) {
    await app.attempt(async () => {
      if (id) app.second.set((await app.service.put("/camera/second", { id })).second);
      else {
        await app.service.delete("/camera/second");
        app.second.set(null);
      }
    });
    paint();
  }

  app.second.subscribe(paint);
  app.camera.subscribe(paint);
  return {
    element: make("div", { class: "second-camera" }, field("Second camera", select), make("p", { role: "status" }, says.element)),
    /** @param {ListedCamera[]} items */
    load(items) {
      listed = items;
      paint();
    },
  };
}
