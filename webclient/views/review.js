/** Review: plays the end of the film or all of it, and mends it. */

/** @import {Desk, View} from "./desk.js" */

import { secondsOf } from "../core/rate.js";
import { flawsInWords } from "../models/flaws.js";
import { TimingChart } from "./chart.js";
import { button, oneOf, state, toggle } from "./controls.js";
import { make, setState, setText } from "./dom.js";
import { makeEdits } from "./edits.js";
import { makeFlawBox } from "./flaw-box.js";
import { icon } from "./icons.js";
import { ReviewScreen } from "./review-screen.js";
import { Scrub } from "./scrub.js";
import { apart } from "./second.js";
import { pictureWidth } from "./stage.js";

/** @param {Desk} desk @returns {View} */
export function makeReview(desk) {
  const { review, shot } = desk.app;
  const screen = new ReviewScreen(desk);
  const box = makeFlawBox();
  screen.element.append(box.element);
  const chart = new TimingChart({ seek: (number) => void desk.app.attempt(() => review.seek(number)) });
  const scrub = new Scrub(desk);
  let seen = false;
  let revision = -1;

  /** The film changed under the page: fetch the range anew, but only while it is looked at. */
  function refresh() {
    const now = shot.value.shot;
    const key = now ? now.revision * 1e6 + now.exposure_count + now.frame_count : 0;
    if (!seen || key === revision) return;
    revision = key;
    void desk.app.attempt(() => review.load());
  }

  function tell() {
    const { shot: facts, exposures } = shot.value;
    box.show(review.onPose ? undefined : review.exposure);
    chart.update({ shot: facts, exposures, selected: review.onPose ? 0 : (review.value.frames[review.value.index]?.number ?? 0) });
  }
  shot.subscribe(() => { refresh(); tell(); });
  review.subscribe(tell);
  desk.app.sound.subscribe((state) => chart.sound(state));
  const element = make(
    "section",
    { class: "review", "aria-label": "Review" },
    screen.element,
    makeFlawWords(desk),
    makeWhere(desk),
    chart.element,
    makeTransport(desk),
    makeEdits(desk),
  );
  return {
    element,
    shown() {
      seen = true;
      revision = -1;
      refresh();
      screen.shown();
      scrub.shown();
      followPose(desk, screen.element);
    },
    hidden() {
      seen = false;
      screen.hidden();
      scrub.hidden();
      desk.live.stop();
    },
    key: (event) => key(desk, event),
  };
}

/** @param {Desk} desk @param {HTMLElement} stage */
function followPose(desk, stage) {
  if (desk.app.review.value.pose) desk.live.start(pictureWidth(stage), "");
  else desk.live.stop();
}

/** Which frame this is, in words. @param {Desk} desk */
function makeWhere(desk) {
  const { review, shot } = desk.app;
  const what = make("span", { class: "where-what" });
  const when = make("span", { class: "where-when" });
  const note = make("span", { class: "where-note" });
  const tell = () => {
    const { frames, index } = review.value;
    const frame = frames[index];
    const shown = review.exposure;
    if (review.onPose) setText(what, "live pose, not taken yet");
    else setText(what, frame ? `exposure ${frame.number}` : nothing(desk));
    const rate = shot.value.shot?.frame_rate ?? "12";
    setText(when, frame ? `frame ${frame.frame} · ${secondsOf(frame.frame - 1, rate)}` : "");
    setText(note, review.onPose ? "" : [apart(shown), shown?.note].filter(Boolean).join(" · "));
  };
  review.subscribe(tell);
  shot.subscribe(tell);
  desk.app.connection.subscribe(tell);
  return make("p", { class: "where" }, what, when, note);
}

/** Why there is no picture. @param {Desk} desk */
function nothing({ app }) {
  if (!app.shot.value.exposures.length) return "nothing to play yet";
  return app.connection.connected ? "fetching the pictures" : "no connection: the pictures come back with it";
}

/** What is wrong with the exposure that is shown, over the foot of its picture: nothing moves away
 * under the thumb where one is flawed and the next is not. @param {Desk} desk */
function makeFlawWords({ app: { review, shot } }) {
  const flaw = state("warning");
  flaw.element.classList.add("review-flaw");
  const tell = () => {
    const flaws = review.onPose ? "" : flawsInWords(review.exposure);
    flaw.mark(flaws, "warning");
    flaw.element.hidden = !flaws;
  };
  review.subscribe(tell);
  shot.subscribe(tell);
  return flaw.element;
}

/** @param {Desk} desk */
function makeTransport(desk) {
  const { review } = desk.app;
  const play = button("Play", () => review.toggle(), { icon: "play", bare: true, class: "play" });
  const loop = toggle("Loop", (on) => review.setLoop(on), { icon: "loop" });
  const pose = toggle("Live pose", (on) => {
    review.withPose(on);
    followPose(desk, play);
  }, { icon: "shoot" });
  const second = toggle("Second", (on) => review.patch({ second: on }), { icon: "rig" });
  desk.app.shot.subscribe(({ exposures }) => (second.hidden = !exposures.some((one) => one.pair)));
  const range = oneOf("Play", /** @type {[number, string][]} */ ([[12, "last 12"], [24, "24"], [48, "48"], [0, "all"]]), (last) => void desk.app.attempt(() => review.choose(last)), { hideLabel: true });
  let playing = false;
  review.subscribe((now) => {
    setState(loop, "aria-pressed", now.loop);
    setState(pose, "aria-pressed", now.pose);
    setState(second, "aria-pressed", now.second);
    range.mark(now.last);
    if (now.playing === playing) return;
    playing = now.playing;
    play.setAttribute("aria-label", playing ? "Pause" : "Play");
    play.title = playing ? "Pause" : "Play";
    play.replaceChildren(icon(playing ? "pause" : "play"));
  });
  return make(
    "div",
    { class: "transport" },
    make(
      "div",
      { class: "transport-row" },
      button("One frame back", () => review.step(-1), { icon: "back", bare: true }),
      play,
      button("One frame on", () => review.step(1), { icon: "forth", bare: true }),
      make("div", { class: "transport-toggles" }, loop, pose, second),
    ),
    range.element,
  );
}

/** @param {Desk} desk @param {KeyboardEvent} event @returns {boolean} */
function key(desk, event) {
  const { review } = desk.app;
  if (event.key === "ArrowLeft") review.step(-1);
  else if (event.key === "ArrowRight") review.step(1);
  else if (event.key === " " || event.key === "MediaPlayPause" || event.key === "PageDown") review.toggle();
  else return false;
  return true;
}
