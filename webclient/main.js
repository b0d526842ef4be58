/** Puts the page together: models, views, and what wakes them. */

/** @import {Desk} from "./views/desk.js" */

import { Pictures } from "./core/pictures.js";
import { asProblem } from "./core/problem.js";
import { App } from "./models/app.js";
import { LookModel } from "./models/look.js";
import { Shutter } from "./models/shutter.js";
import { stepBackWish } from "./models/stepback.js";
import { keepDark } from "./views/dark.js";
import { Frame } from "./views/frame.js";
import { listenToGamepads } from "./views/gamepad.js";
import { showHands } from "./views/hands.js";
import { holdBackOnTouch } from "./views/hold-back.js";
import { keepShell } from "./views/installing.js";
import { listenToKeys } from "./views/keys.js";
import { LivePane } from "./views/live-pane.js";
import { listenToMediaKeys } from "./views/media-keys.js";
import { reopenShot } from "./views/opening.js";
import { makePair } from "./views/pair.js";
import { Sound } from "./views/sound.js";
import { soundStepBack } from "./views/stepback-sound.js";
import { makeWaiting } from "./views/waiting.js";
import { WakeLock } from "./views/wake-lock.js";

const page = /** @type {HTMLElement} */ (document.getElementById("page"));
const app = new App();
const sound = new Sound();
const wakeLock = new WakeLock();

/** @type {Desk} */
const desk = {
  app,
  look: new LookModel(localStorage),
  shutter: new Shutter(app),
  pictures: new Pictures(),
  live: new LivePane(),
  go: (view) => {
    if (location.hash === `#${view}`) frame.follow();
    else location.hash = view;
  },
};
const frame = new Frame(desk);

/** The network may be back: do not wait for the next try. */
function reconnect() {
  if (app.paired.value && !document.hidden) app.events.wake();
}

function sleepOrWake() {
  if (document.hidden) return frame.rest();
  reconnect();
  if (app.paired.value) frame.wake();
  void wakeLock.hold();
}

function listen() {
  desk.live.earliest = (serviceMs, atMs) => app.connection.earliest(serviceMs, atMs);
  keepDark(app, sound);
  listenToKeys(desk, () => (app.paired.value ? frame.open : null), frame.oneSwitch);
  listenToGamepads();
  listenToMediaKeys(desk.look);
  showHands(desk);
  holdBackOnTouch(desk);
  desk.shutter.stepBackWish = () => stepBackWish(desk.look.value);
  soundStepBack(desk, sound);
  app.onKept = () => sound.confirm();
  app.plan.onEnded = (label) => {
    sound.ended();
    app.say(`“${label}” is complete. ${app.plan.current ? `Next: ${app.plan.current.label}.` : "The plan is shot."}`);
  };
  desk.look.subscribe((look) => (sound.enabled = look.sound));
  for (const touch of ["pointerdown", "keydown"]) addEventListener(touch, () => sound.wake());
  document.addEventListener("visibilitychange", sleepOrWake);
  for (const event of ["online", "pageshow", "focus"]) addEventListener(event, reconnect);
  addEventListener("hashchange", () => app.paired.value === false && location.hash.startsWith("#code=") && ask());
  addEventListener("offline", () => app.connection.patch({}));
  app.paired.subscribe((paired) => paired !== null && void (paired ? enter() : ask()));
}

async function enter() {
  await reopenShot(desk);
  page.replaceChildren(frame.element);
  frame.follow();
  void wakeLock.hold();
}

function ask() {
  frame.rest();
  wakeLock.release();
  const pair = makePair(app);
  page.replaceChildren(pair.element);
  const code = takeCode();
  if (code) pair.fill(code);
  else pair.focus();
}

/** The code from a scanned address; it stays in no history. */
function takeCode() {
  const code = /^#code=(\d{6})$/.exec(location.hash)?.[1];
  if (code) history.replaceState(null, "", location.pathname);
  return code;
}

const TRY_AGAIN_MS = 2000;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let trying;

/** Find out whether this page is paired; a page that was kept on the phone may be here before the service. */
async function meet() {
  clearTimeout(trying);
  try {
    const { kind } = await app.service.get("/pairing");
    if (kind === "camera") return ask(); // a handset that is to be a remote needs another code
    takeCode(); // paired already: not needed, and not to be left there
    app.start();
  } catch (error) {
    if (asProblem(error).unanswered) wait();
    else if (app.paired.value === null) ask();
  }
}

function wait() {
  if (!page.querySelector(".pair")) page.replaceChildren(makeWaiting(() => void meet()));
  trying = setTimeout(() => void meet(), TRY_AGAIN_MS);
}

listen();
keepShell();
void meet();
