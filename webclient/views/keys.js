/** Keys of keyboards, presenter's clickers and headsets. */

/** @import {Desk, View} from "./desk.js" */

const CLICKER = new Set(["PageDown", "AudioVolumeUp", "VolumeUp", "MediaPlayPause", "MediaTrackNext", "Camera"]);
const PRESS = new Set([" ", "Enter"]);

/**
 * @param {Desk} desk
 * @param {() => {id: string, view: View} | null} open  the view that is shown
 */
export function listenToKeys(desk, open) {
  document.addEventListener("keydown", (event) => {
    const now = open();
    if (!now || event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
    if (inText(event.target)) return;
    const control = onControl(event.target);
    if (now.view.key && !(control && PRESS.has(event.key)) && now.view.key(event)) return event.preventDefault();
    if (now.id !== "shoot") return;
    if (!CLICKER.has(event.key) && (control || !PRESS.has(event.key))) return;
    event.preventDefault();
    if (!event.repeat) void desk.shutter.fire();
  });
}

/** @param {EventTarget | null} target */
function inText(target) {
  return target instanceof Element && target.closest("input, textarea, select") !== null;
}

/** A control that has the focus keeps Space and Enter for itself. @param {EventTarget | null} target */
function onControl(target) {
  return target instanceof Element && target.closest("button, a, [role=radio]") !== null;
}
