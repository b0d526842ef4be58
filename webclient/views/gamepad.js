/**
 * A gamepad's buttons, as the keys that do the same. Numbers are those of the standard gamepad of the
 * W3C Gamepad specification; a pad that is none has one use for all its buttons: to take the picture.
 */

const LEFT = 14;
const RIGHT = 15;
/** Moves on a cross; the rest presses. @type {Record<number, string>} */
const KEYS = { 12: "ArrowUp", 13: "ArrowDown", [LEFT]: "ArrowLeft", [RIGHT]: "ArrowRight" };
const PRESS = "PageDown";

/** Watch the gamepads while there are any, and the page is seen. */
export function listenToGamepads() {
  /** What was down last time, by pad and button. @type {Set<string>} */
  let down = new Set();
  let loop = 0;

  function look() {
    const pads = navigator.getGamepads().filter((pad) => pad !== null);
    loop = pads.length ? requestAnimationFrame(look) : 0;
    const now = new Set(pads.flatMap((pad) => pressed(pad)));
    for (const one of now) if (!down.has(one)) send("keydown", one);
    for (const one of down) if (!now.has(one)) send("keyup", one);
    down = now;
  }

  const begin = () => {
    if (!loop) loop = requestAnimationFrame(look);
  };
  if (!("getGamepads" in navigator)) return;
  addEventListener("gamepadconnected", begin);
  begin(); // one that was there before the page
}

/** @param {Gamepad} pad @returns {string[]} */
function pressed(pad) {
  return pad.buttons.flatMap((button, number) => {
    if (!button.pressed) return [];
    return [`${pad.index} ${number} ${(pad.mapping === "standard" && KEYS[number]) || PRESS}`];
  });
}

/** @param {"keydown" | "keyup"} type @param {string} what */
function send(type, what) {
  const key = what.split(" ")[2] ?? PRESS;
  document.body.dispatchEvent(new KeyboardEvent(type, { key, bubbles: true, cancelable: true }));
}
