/** Keys of keyboards, presenter's clickers, Bluetooth shutters and headsets. */

/** @import {Desk, View} from "./desk.js" */

/** Names of UI Events KeyboardEvent key Values. A clicker fires wherever the focus is. */
const CLICKER = new Set([
  "PageDown", "AudioVolumeUp", "AudioVolumeDown", "VolumeUp", "VolumeDown", "MediaPlayPause", "MediaPlay",
  "MediaPause", "MediaTrackNext", "MediaTrackPrevious", "Camera", "HeadsetHook",
]);
const PRESS = new Set([" ", "Enter"]);
/** Some shutters send two keys for one press, one for each kind of phone; cheap ones bounce. */
const APART_MS = 250;

/** Whether the key is one that a clicker, a shutter or a switch sends. @param {string} key */
export const presses = (key) => CLICKER.has(key) || PRESS.has(key);

/**
 * @param {Desk} desk
 * @param {() => {id: string, view: View} | null} open  the view that is shown
 * @param {{takes: (key: string, down: boolean, again: boolean) => boolean}} oneSwitch  gets all presses while it is in use
 */
export function listenToKeys(desk, open, oneSwitch) {
  const isTouched = watchTouches();
  let last = -Infinity;

  /** One press, one picture, however many keys it sends. @param {KeyboardEvent} event */
  function fire(event) {
    if (event.repeat || event.timeStamp - last < APART_MS) return;
    last = event.timeStamp;
    void desk.shutter.fire();
  }

  document.addEventListener("keydown", (event) => {
    const now = open();
    if (!now || event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
    if (inText(event.target)) return;
    if (presses(event.key) && oneSwitch.takes(event.key, true, event.repeat)) return event.preventDefault();
    const control = onControl(event.target) && !isTouched(event.target);
    if (now.view.key && !(control && PRESS.has(event.key)) && now.view.key(event)) return event.preventDefault();
    if (now.id !== "shoot") return;
    if (!CLICKER.has(event.key) && (control || !PRESS.has(event.key))) return;
    event.preventDefault();
    fire(event);
  });
  document.addEventListener("keyup", (event) => {
    if (open() && !inText(event.target) && presses(event.key) && oneSwitch.takes(event.key, false, false)) event.preventDefault();
  });
}

/**
 * A control that a finger or the mouse has touched keeps the focus, but it is not where a clicker's Enter
 * is meant to go: only a control reached by the keyboard keeps that for itself.
 *
 * @returns {(target: EventTarget | null) => boolean}
 */
function watchTouches() {
  /** @type {EventTarget | null} */
  let touched = null;
  document.addEventListener("pointerdown", (event) => {
    touched = event.target instanceof Element ? event.target.closest("button, a, [role=radio]") : null;
  });
  document.addEventListener("focusin", (event) => {
    if (event.target !== touched) touched = null;
  });
  return (target) => touched !== null && target === touched;
}

/** @param {EventTarget | null} target */
function inText(target) {
  return target instanceof Element && target.closest("input, textarea, select") !== null;
}

/** A control that has the focus keeps Space and Enter for itself. @param {EventTarget | null} target */
function onControl(target) {
  return target instanceof Element && target.closest("button, a, [role=radio]") !== null;
}
