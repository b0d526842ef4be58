/** What the step-back trigger sees, laid over the live picture: things blue, at the edge amber. */

/** @import {Desk} from "./desk.js" */

import { make } from "./dom.js";

/** Values of the mask, with the colour's name and its strength (0 to 255). */
const PAINTS = /** @type {const} */ ([
  [255, "--amber", 150],
  [170, "--pencil", 130],
  [85, "--pencil", 50],
]);

/** @param {Desk} desk */
export function makeSees({ app, look }) {
  const canvas = make("canvas", { class: "sees", width: 160, height: 90, "aria-hidden": "true", hidden: true });
  let painted = "";

  function wanted() {
    const { mode, eye, mask } = app.trigger.value;
    return mode === "step_back" && !eye && look.value.sees && !app.exposing.value && mask ? mask : "";
  }

  async function refresh() {
    const mask = wanted();
    canvas.hidden = !mask;
    if (!mask || mask === painted) return;
    painted = mask;
    const picture = await createImageBitmap(new Blob([bytesOf(mask)], { type: "image/png" }));
    if (mask === painted) paint(canvas, picture);
  }

  app.trigger.subscribe(() => void refresh());
  app.exposing.subscribe(() => void refresh());
  look.subscribe(() => void refresh());
  return canvas;
}

/** @param {string} text  in base64 */
function bytesOf(text) {
  return Uint8Array.from(atob(text), (one) => one.charCodeAt(0));
}

/** @param {HTMLCanvasElement} canvas @param {ImageBitmap} picture */
function paint(canvas, picture) {
  const pen = canvas.getContext("2d", { willReadFrequently: true });
  if (!pen) return;
  canvas.width = picture.width;
  canvas.height = picture.height;
  pen.drawImage(picture, 0, 0);
  const pixels = pen.getImageData(0, 0, picture.width, picture.height);
  colour(pixels.data, canvas);
  pen.putImageData(pixels, 0, 0);
}

/** @param {Uint8ClampedArray} data @param {Element} element */
function colour(data, element) {
  const style = getComputedStyle(element);
  const paints = PAINTS.map(([value, name, strength]) => ({ value, strength, rgb: rgb(style.getPropertyValue(name)) }));
  for (let at = 0; at < data.length; at += 4) {
    const paint = paints.find(({ value }) => value === data[at]);
    data.set(paint ? [...paint.rgb, paint.strength] : [0, 0, 0, 0], at);
  }
}

/** @param {string} hex  "#rrggbb" */
function rgb(hex) {
  const number = Number.parseInt(hex.trim().slice(1), 16);
  return [(number >> 16) & 255, (number >> 8) & 255, number & 255];
}
