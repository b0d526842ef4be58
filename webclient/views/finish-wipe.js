/** One frame before and after, wiped against each other by a line that is dragged across. */

/** @import {Desk} from "./desk.js" */

import { button, stepper } from "./controls.js";
import { slider } from "./finish-controls.js";
import { make, setText } from "./dom.js";

const MEASURING_MS = 180_000;

/** @param {Desk} desk */
export function makeWipe({ app }) {
  const { finish, shot, review } = app;
  const before = make("img", { class: "wipe-side", alt: "As shot", draggable: "false" });
  const after = make("img", { class: "wipe-side wipe-after", alt: "As the film shows it", draggable: "false" });
  const line = make("div", { class: "wipe-line", "aria-hidden": "true" });
  const picture = make("figure", { class: "wipe", hidden: true }, before, after, line, make("span", { class: "wipe-word" }, "as shot"), make("span", { class: "wipe-word wipe-right" }, "in the film"));
  const place = slider("Wipe", { min: 0, max: 100, step: 1 }, wipe, (value) => `${value} %`);
  place.element.hidden = true;
  const says = make("p", { class: "quiet", role: "status" });
  const look = button("Look at it", () => void app.attempt(ask));
  const which = stepper("Exposure", (by) => void app.attempt(() => turnTo(by)));

  /** Another exposure; once one was looked at, that one too. @param {number} by */
  async function turnTo(by) {
    const number = (review.exposure ?? shot.last)?.number ?? 1;
    await review.seek(Math.min(Math.max(1, number + by), shot.value.exposures.length));
    if (!picture.hidden) await ask();
  }

  /** @param {number} percent */
  function wipe(percent) {
    after.style.clipPath = `inset(0 0 0 ${percent}%)`;
    line.style.left = `${percent}%`;
    place.mark(percent);
  }

  async function ask() {
    const id = shot.value.shot?.id;
    const shown = review.exposure ?? shot.last;
    if (!id || !shown?.number) return;
    look.disabled = true;
    setText(says, "Measuring the shot…");
    try {
      const body = { exposure: shown.number, options: finish.options };
      const made = await app.service.ask("POST", `/shots/${id}/looks`, { body, timeoutMs: MEASURING_MS });
      [before.src, after.src] = [made.before, made.after];
      picture.hidden = place.element.hidden = false;
      wipe(50);
      setText(says, `Exposure ${shown.number}: drag across it.`);
    } catch (error) {
      setText(says, "");
      throw error;
    } finally {
      look.disabled = false;
    }
  }

  /** @param {PointerEvent} event */
  function drag(event) {
    const { left, width } = picture.getBoundingClientRect();
    wipe(Math.round(Math.min(100, Math.max(0, ((event.clientX - left) / width) * 100))));
  }
  picture.addEventListener("pointerdown", (event) => {
    picture.setPointerCapture(event.pointerId);
    drag(event);
  });
  picture.addEventListener("pointermove", (event) => {
    if (picture.hasPointerCapture(event.pointerId)) drag(event);
  });
  const element = make("section", { class: "part", "aria-label": "Before and after" }, make("h2", {}, "Before and after"), which.element, picture, place.element, says, look);
  const tell = () => which.mark(`${(review.exposure ?? shot.last)?.number ?? 0} of ${shot.value.exposures.length}`);
  review.subscribe(tell);
  shot.subscribe(tell);
  finish.subscribe((wish) => {
    element.hidden = !finish.touchesPictures || (!wish.light && !wish.steady && !wish.clean);
  });
  return element;
}
