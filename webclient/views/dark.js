/**
 * Dark on exposure: while a shutter is open the whole page is black and silent.
 *
 * The page goes black in the same turn in which the event arrives; after two animation frames the
 * black has been shown, and only then the service is told. Should nobody say that the shutter has
 * closed, the page lights up by itself.
 */

/** @import {App} from "../models/app.js" */
/** @import {Sound} from "./sound.js" */

const GRACE_S = 10;

/** @param {App} app @param {Sound} sound */
export function keepDark(app, sound) {
  const cover = /** @type {HTMLElement} */ (document.getElementById("dark"));
  const theme = /** @type {HTMLMetaElement} */ (document.querySelector("meta[name=theme-color]"));
  const light = theme.content;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;

  app.exposing.subscribe((exposing) => {
    clearTimeout(timer);
    cover.hidden = !exposing;
    document.documentElement.toggleAttribute("data-dark", Boolean(exposing));
    theme.content = exposing ? "#000000" : light; // the browser's own bars glow too
    sound.hush(Boolean(exposing));
    if (!exposing) return;
    timer = setTimeout(() => app.exposing.set(null), (exposing.expected_s + GRACE_S) * 1000);
    afterPainting(() => tell(app, exposing.press));
  });
}

/** @param {() => void} then */
function afterPainting(then) {
  if (document.hidden) return then(); // what is not shown does not glow, and gets no frames
  requestAnimationFrame(() => requestAnimationFrame(then));
}

/** @param {App} app @param {string} press */
function tell(app, press) {
  // Lost on the way, it costs the picture nothing: the service waits only so long.
  app.service.post(`/screens/${app.screen}/dark`, { press }).catch(() => {});
}
