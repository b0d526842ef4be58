/** Review's panel for the sound: lay one under the shot, where it starts, and what is heard at a frame. */

/** @import {Desk} from "./desk.js" */

import { button, stepper } from "./controls.js";
import { make, setText } from "./dom.js";

/** @param {Desk} desk */
export function makeSoundPanel({ app }) {
  const { sound, review } = app;
  const file = make("input", { type: "file", class: "unseen", tabindex: -1, "aria-label": "Sound file", accept: "audio/wav,audio/flac,audio/mpeg,audio/aac,audio/mp4,.wav,.flac,.mp3,.aac,.m4a", onchange: () => lay() });
  const choose = button("Choose a sound", () => file.click());
  const remove = button("Remove sound", () => void app.attempt(() => sound.remove()), { icon: "less", bare: true, class: "danger" });
  const name = make("span", { class: "sound-name" });
  const start = stepper("Starts", (by) => {
    const { sound: facts } = sound.value;
    if (facts) void app.attempt(() => sound.move(facts.offset_frames + by));
  });
  const text = make("input", { maxlength: 80, "aria-label": "Heard at this frame" });
  const frame = () => review.value.frames[review.value.index]?.frame ?? 0;
  const mark = () => void app.attempt(async () => {
    await sound.mark(frame(), text.value.trim());
    review.step(1); // on to the next sound
  });
  const save = make("button", { type: "submit", class: "button" }, make("span", {}, "Mark"));
  const form = make("form", { class: "sound-row", onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); mark(); } }, text, save);
  const element = make(
    "div",
    { class: "note sound-panel", hidden: true, role: "group", "aria-label": "Sound" },
    make("div", { class: "sound-row" }, name, choose, remove, button("Close", () => (element.hidden = true), { icon: "close", bare: true })),
    start.element, form, file,
  );
  let shown = { frame: -1, text: "" };

  async function lay() {
    const chosen = file.files?.[0];
    file.value = "";
    if (!chosen) return;
    choose.disabled = true;
    setText(name, `Sending ${chosen.name}…`);
    await app.attempt(() => sound.lay(chosen));
    choose.disabled = false;
    tell();
  }

  function tell() {
    const { sound: facts, marks } = sound.value;
    setText(name, facts ? `${facts.name}, ${facts.duration_s.toFixed(1)} s` : "WAV, FLAC, MP3 or AAC");
    setText(choose.lastElementChild ?? choose, facts ? "Replace" : "Choose a sound");
    remove.hidden = !facts;
    start.element.hidden = !facts;
    if (facts) start.mark(startInWords(facts.offset_frames));
    const at = frame();
    const before = shown.frame;
    save.disabled = text.disabled = !at;
    text.placeholder = at ? `heard at frame ${at}` : "nothing to mark yet";
    const untouched = text.value === shown.text; // what is being typed is not taken away
    shown = { frame: at, text: at !== shown.frame || untouched ? (marks[at] ?? "") : shown.text };
    if (at !== before || untouched) text.value = shown.text;
  }
  sound.subscribe(tell);
  review.subscribe(tell);
  return {
    element,
    open() {
      element.hidden = false;
      (sound.value.sound ? text : choose).focus();
    },
  };
}

/** @param {number} offset frames before it starts */
function startInWords(offset) {
  return offset >= 0 ? `frame ${offset + 1}` : `${-offset} frames in`;
}
