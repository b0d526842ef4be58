/**
 * The keys of a headset, and of a shutter that acts as one. Phones give them to whatever plays sound, so
 * the page plays silence for as long as this is wanted.
 */

/** @import {LookModel} from "../models/look.js" */

/** @type {MediaSessionAction[]} */
const ACTIONS = ["play", "pause", "nexttrack", "previoustrack"];
const RATE = 8000;
const SECONDS = 10; // browsers hand media keys to sounds of some length only

/** @param {LookModel} look */
export function listenToMediaKeys(look) {
  /** @type {HTMLAudioElement | null} */
  let silence = null;
  const press = () => {
    void silence?.play(); // "pause" came: go on listening
    document.body.dispatchEvent(new KeyboardEvent("keydown", { key: "MediaPlayPause", bubbles: true, cancelable: true }));
    document.body.dispatchEvent(new KeyboardEvent("keyup", { key: "MediaPlayPause", bubbles: true, cancelable: true }));
  };

  /** Browsers play only after a touch, so each touch tries again until it plays. */
  function begin() {
    if (!look.value.mediaKeys || !("mediaSession" in navigator)) return;
    silence ??= makeSilence();
    if (silence.paused) void silence.play().then(listen, () => {});
  }

  function listen() {
    for (const action of ACTIONS) navigator.mediaSession.setActionHandler(action, press);
  }

  look.subscribe(({ mediaKeys }) => {
    if (mediaKeys) return begin();
    if (!silence) return;
    silence.pause();
    for (const action of ACTIONS) navigator.mediaSession.setActionHandler(action, null);
  });
  for (const touch of ["pointerup", "keyup"]) addEventListener(touch, begin);
}

function makeSilence() {
  const sound = new Audio(URL.createObjectURL(new Blob([silentWave()], { type: "audio/wav" })));
  sound.loop = true;
  return sound;
}

/** A RIFF WAVE file of 8 bit samples, all at rest. */
function silentWave() {
  const bytes = new Uint8Array(44 + RATE * SECONDS).fill(128);
  const view = new DataView(bytes.buffer);
  const words = (/** @type {number} */ at, /** @type {string} */ text) => bytes.set(new TextEncoder().encode(text), at);
  words(0, "RIFF");
  view.setUint32(4, bytes.length - 8, true);
  words(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true); // linear samples
  view.setUint16(22, 1, true); // one channel
  view.setUint32(24, RATE, true);
  view.setUint32(28, RATE, true);
  view.setUint16(32, 1, true);
  view.setUint16(34, 8, true);
  words(36, "data");
  view.setUint32(40, RATE * SECONDS, true);
  return bytes;
}
