/** Our own line drawings, 24 units square, drawn with the current colour. */

import { draw } from "./dom.js";

/** @type {Record<string, string>} */
const LINES = {
  // a lens looking at a pose on the table
  shoot: "M12 4a6 6 0 1 1 0 12a6 6 0 1 1 0-12M12 8a2 2 0 1 1 0 4M4 20h16M8 20v-2M12 20v-2M16 20v-2",
  // ticks passing under a playhead
  review: "M3 17h18M5 17v-4M9 17v-4M17 17v-4M21 17v-4M13 21V7M13 7l-3-4h6z",
  // a tripod
  rig: "M8 4h8v5H8zM12 9v4M12 13L6 21M12 13l6 8M12 13v8",
  plan: "M4 18C8 18 9 6 20 6M4 18v2M20 6V4M9 14.500v2M14 8.500v2",
  finish: "M4 5h16v14H4zM4 9h16M4 15h16",
  play: "M7 4v16l13-8z",
  pause: "M8 4v16M16 4v16",
  back: "M19 4v16L8 12zM5 4v16",
  forth: "M5 4v16l11-8zM19 4v16",
  loop: "M5 12a7 6 0 0 1 12-4l2 2M19 5v5h-5M19 12a7 6 0 0 1-12 4l-2-2M5 19v-5h5",
  onion: "M9 6h11v9H9zM6.500 9H4v9h11v-2.500",
  blink: "M3 12s3.500-6 9-6s9 6 9 6s-3.500 6-9 6s-9-6-9-6zM12 12h.01",
  difference: "M9 6a6 6 0 1 1 0 12a6 6 0 1 1 0-12M15 6a6 6 0 1 1 0 12a6 6 0 1 1 0-12",
  mask: "M3 8V4h4M17 4h4v4M21 16v4h-4M7 20H3v-4M8 4v16M16 4v16",
  more: "M4 7h9M17 7h3M15 5v4M4 17h3M11 17h9M9 15v4",
  down: "M6 9l6 6l6-6",
  less: "M5 12h14",
  plus: "M5 12h14M12 5v14",
  close: "M6 6l12 12M18 6L6 18",
  undo: "M9 5L4 10l5 5M4 10h10a5 5 0 0 1 0 10h-3",
  redo: "M15 5l5 5l-5 5M20 10H10a5 5 0 0 0 0 10h3",
  // shapes that stand beside a colour
  warning: "M12 4l9 16H3zM12 10v5M12 17.500v.01",
  fault: "M8 3h8l5 5v8l-5 5H8l-5-5V8zM9 9l6 6M15 9l-6 6",
  clear: "M4 13l5 5L20 6",
};

/** @param {string} name @param {number} [size] px @returns {SVGElement} */
export function icon(name, size = 24) {
  return draw(
    "svg",
    { viewBox: "0 0 24 24", width: size, height: size, class: `icon icon-${name}`, "aria-hidden": "true" },
    draw("path", { d: LINES[name] ?? "" }),
  );
}
