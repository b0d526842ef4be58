/** What one switch can do on each view, the likeliest first. */

/** @import {Desk} from "./desk.js" */
/** @import {Deed} from "../models/scan.js" */

/** @param {Desk} desk @param {string} view @returns {Deed[]} */
export function deedsOf(desk, view) {
  if (view === "shoot") return shooting(desk);
  if (view === "review") return reviewing(desk);
  return elsewhere(desk);
}

/** @param {Desk} desk @returns {Deed[]} */
function shooting(desk) {
  const { app, look, shutter } = desk;
  const { last } = app.shot;
  const { shot, armed, hold } = app.shot.value;
  const number = armed.kind === "retake" ? armed.exposure.number : armed.kind === "insert" ? (armed.exposure.number ?? 0) + 1 : (shot?.exposure_count ?? 0) + 1;
  return [
    { label: shutter.counting ? "Stop" : shutter.stepsBack ? "Hold back, go on" : `Take exposure ${number}`, run: () => shutter.fire() },
    { label: "Play the last second", run: () => { desk.go("review"); if (!app.review.value.playing) app.review.toggle(); } },
    armed.kind === "append"
      ? { label: last ? `Retake exposure ${last.number}` : "Nothing to retake", run: () => last && app.shot.arm({ kind: "retake", exposure: last }) }
      : { label: "Cancel the retake", run: () => app.shot.arm({ kind: "append" }) },
    undoing(desk),
    { label: look.value.mode === "onion" ? "Onion skin off" : "Onion skin on", run: () => look.toggle("onion") },
    { label: hold === 1 ? "Next on twos" : "Next on ones", run: () => app.shot.holdNext(hold === 1 ? 2 : 1) },
    { label: "Other views", run: () => desk.go("rig") },
  ];
}

/** @param {Desk} desk @returns {Deed[]} */
function reviewing(desk) {
  const { review, shot } = desk.app;
  const shown = review.onPose ? undefined : review.exposure;
  return [
    { label: review.value.playing ? "Pause" : "Play", run: () => review.toggle() },
    { label: "One frame back", run: () => review.step(-1) },
    { label: "One frame on", run: () => review.step(1) },
    { label: shown ? `Delete exposure ${shown.number}` : "Nothing to delete", run: () => shown && desk.app.attempt(() => shot.bin(shown)) },
    undoing(desk),
    { label: "Back to Shoot", run: () => desk.go("shoot") },
  ];
}

/** @param {Desk} desk @returns {Deed[]} */
function elsewhere(desk) {
  return [
    { label: "Shoot", run: () => desk.go("shoot") },
    { label: "Review", run: () => desk.go("review") },
    { label: "Rig", run: () => desk.go("rig") },
    { label: "Page down", run: () => scroll(0.7) },
    { label: "Page up", run: () => scroll(-0.7) },
  ];
}

/** @param {Desk} desk @returns {Deed} */
function undoing({ app }) {
  const facts = app.shot.value.shot;
  return {
    label: facts?.can_undo ? `Undo: ${facts.undo_says}` : "Nothing to undo",
    run: () => facts?.can_undo && app.attempt(() => app.shot.undo()),
  };
}

/** @param {number} share  of what is seen */
function scroll(share) {
  for (const one of document.querySelectorAll(".room .scroll, .room.scroll")) one.scrollBy({ top: one.clientHeight * share });
}
