/** What the handset's page shows: its picture, how it stands, what stays automatic. */

import { button, state } from "./controls.js";
import { make, setText } from "./dom.js";

/** The six that matter, in the terms of the track. An aperture no phone has. */
const WHAT = [
  ["exposureMode", "exposureTime", "shutter"],
  ["exposureMode", "iso", "ISO"],
  ["whiteBalanceMode", "colorTemperature", "white balance"],
  ["focusMode", "focusDistance", "focus"],
];

/** @typedef {{capabilities: Record<string, any>, settings: Record<string, any>}} Track */

export class HandsetFace {
  video = make("video", { class: "handset-picture", muted: true, playsinline: true, "aria-label": "What the camera sees" });
  says = state();
  #warnings = make("ul", { class: "handset-warnings", role: "status" });
  #facts = make("p", { class: "quiet" });
  #count = make("p", { class: "quiet" });
  #automatic = make("p", { class: "handset-automatic" });
  #lens = make("select", { "aria-label": "Lens" });
  #lensField = make("label", { class: "field", hidden: true }, make("span", { class: "label" }, "Lens"), this.#lens);
  #again = button("Be the camera again", () => this.onAgain(), { class: "main" });
  onAgain = () => {};

  /** @param {{dim: () => void, hold: () => void, lens: (id: string) => void, leave: () => void}} does */
  constructor(does) {
    this.video.muted = true; // the attribute alone does not count for what a script makes
    this.#lens.addEventListener("change", () => does.lens(this.#lens.value));
    this.#again.hidden = true;
    this.element = make(
      "main",
      { class: "handset" },
      make("div", { class: "handset-stage" }, this.video),
      make(
        "section",
        { class: "handset-facts scroll" },
        make("h1", {}, "Camera"),
        make("p", { class: "handset-state", role: "status" }, this.says.element),
        this.#again,
        this.#warnings,
        this.#facts,
        this.#count,
        this.#automatic,
        this.#lensField,
        make("div", { class: "row" }, button("Go black", does.dim), button("Hold the screen", does.hold)),
        make("p", { class: "quiet" }, "The screen goes black by itself and stays awake. Touch it to see it. Keep this page in front, and the phone on its charger, clear of hot lamps."),
        button("Unpair this camera", does.leave, { class: "danger" }),
      ),
    );
  }

  /** @param {boolean} shown */
  offerAgain(shown) {
    this.#again.hidden = !shown;
  }

  /** @param {string[]} warnings */
  warn(warnings) {
    this.#warnings.replaceChildren(
      ...warnings.map((one) => {
        const line = state();
        line.mark(one, "warning");
        return make("li", {}, line.element);
      }),
    );
  }

  /** @param {number} count @param {string} last */
  counted(count, last) {
    setText(this.#count, count ? `${count} ${count === 1 ? "picture" : "pictures"} delivered; the last: ${last}.` : "");
  }

  /** @param {Track} track @param {string} rate */
  describe(track, rate) {
    const { width, height } = track.settings;
    const size = width ? `${width} × ${height}` : "";
    setText(this.#facts, [size, rate, `pictures come from: ${track.settings["pictureSource"]}`].filter(Boolean).join(" · "));
    const { automatic, settable } = sortOut(track);
    const words = [
      automatic.length ? `Stays automatic in this browser: ${automatic.join(", ")}. What changes by itself will flicker.` : "",
      settable.length ? `Can be set from the remote, under Rig: ${settable.join(", ")}.` : "",
    ];
    setText(this.#automatic, words.filter(Boolean).join(" "));
  }

  /** @param {MediaDeviceInfo[]} lenses @param {string} chosen */
  offerLenses(lenses, chosen) {
    this.#lensField.hidden = lenses.length < 2;
    this.#lens.replaceChildren(...lenses.map((one, at) => make("option", { value: one.deviceId }, one.label || `Lens ${at + 1}`)));
    this.#lens.value = chosen;
  }
}

/** @param {Track} track */
export function sortOut({ capabilities }) {
  const can = (/** @type {string} */ mode) => Array.isArray(capabilities[mode]) && capabilities[mode].includes("manual");
  const settable = WHAT.filter(([mode, value]) => can(/** @type {string} */ (mode)) && capabilities[/** @type {string} */ (value)]);
  const automatic = WHAT.filter((one) => !settable.includes(one));
  const name = (/** @type {string[]} */ one) => /** @type {string} */ (one[2]);
  return { automatic: automatic.map(name), settable: settable.map(name) };
}
