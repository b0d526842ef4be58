/** The keys, and the cautions. */

import { make } from "./dom.js";

/** @type {[string, string][]} */
const KEYS = [
  ["Space, Enter", "Shoot: take the picture"],
  ["Page Down, volume, play, next", "the same, from a presenter’s clicker, a Bluetooth shutter or a headset"],
  ["any button of a gamepad", "the same; its cross: one frame back, one frame on"],
  ["← →", "Review: one frame back, one frame on"],
  ["Space", "Review: play, pause"],
  ["Home, End", "on the timing chart: to the first, to the last exposure"],
  ["any of these", "with the step-back trigger: hold it back, or go on when it asks"],
  ["Esc", "closes the drawer"],
];

const CAUTIONS = [
  "Playback and blinking pictures flash. Who is sensitive to flashing light should step frame by frame instead.",
  "Lamps on a set get hot and stay hot. Keep paper and cloth away, and let them cool before moving them.",
  "Tape mains leads down where you walk in the dark.",
];

export function makeHelp() {
  const keys = KEYS.flatMap(([key, does]) => [make("dt", {}, key), make("dd", {}, does)]);
  return make(
    "section",
    { class: "part help" },
    make("h2", {}, "Keys"),
    make("dl", { class: "keys" }, ...keys),
    make("h2", {}, "Take care"),
    make("ul", { class: "cautions" }, ...CAUTIONS.map((one) => make("li", {}, one))),
  );
}
