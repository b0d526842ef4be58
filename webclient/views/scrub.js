/** Lets the sound be heard by frame in Review: a frame's worth at each step, all along while it plays. */

/** @import {Desk} from "./desk.js" */

const LONGEST_S = 600; // decoded it is 400 kB a second; more would not fit a phone
const FADE_S = 0.004;

export class Scrub {
  /** @type {AudioContext | null} */
  #audio = null;
  /** @type {AudioBuffer | null} */
  #heard = null;
  #url = "";
  /** @type {{source: AudioBufferSourceNode, volume: GainNode} | null} */
  #playing = null;
  #last = { frame: 0, playing: false };
  #on = false;

  /** @param {Desk} desk */
  constructor(desk) {
    this.desk = desk;
    const { app } = desk;
    app.sound.subscribe(() => void this.#fetch());
    app.review.subscribe(() => this.#moved());
    app.exposing.subscribe((exposing) => exposing && this.#stop()); // silent while the shutter is open
  }

  shown() {
    this.#on = true;
    const { frames, index, playing } = this.desk.app.review.value;
    this.#last = { frame: frames[index]?.frame ?? 0, playing };
    void this.#fetch();
  }

  hidden() {
    this.#on = false;
    this.#stop();
  }

  async #fetch() {
    const { sound } = this.desk.app.sound.value;
    if (!this.#on || (sound?.url ?? "") === this.#url) return;
    this.#url = sound?.url ?? "";
    this.#heard = null;
    if (!sound || sound.duration_s > LONGEST_S || !("AudioContext" in window)) return;
    try {
      const answer = await fetch(sound.url, { credentials: "same-origin" });
      this.#audio ??= new AudioContext();
      const heard = await this.#audio.decodeAudioData(await answer.arrayBuffer());
      if (this.desk.app.sound.value.sound?.url === sound.url) this.#heard = heard;
    } catch {
      // This browser does not decode the format; the waveform and the film have it all the same.
      this.#heard = null;
    }
  }

  #moved() {
    const { frames, index, playing } = this.desk.app.review.value;
    const frame = frames[index]?.frame ?? 0;
    const before = this.#last;
    this.#last = { frame, playing };
    if (!this.#on || !this.#heard || (frame === before.frame && playing === before.playing)) return;
    const follows = playing && before.playing && (frame === before.frame || frame === before.frame + 1);
    if (follows) return;
    this.#stop();
    if (!frame || this.desk.app.exposing.value) return;
    if (playing) this.#play(frame);
    else if (!before.playing) this.#play(frame, 1);
  }

  /** @param {number} frame  of the shot, from 1 @param {number} [frames]  how much of it; else all that follows */
  #play(frame, frames) {
    const { sound } = this.desk.app.sound.value;
    const [audio, heard] = [this.#audio, this.#heard];
    const rate = this.desk.app.review.player.rate;
    if (!audio || !heard || !sound || !rate) return;
    const at = (frame - 1 - sound.offset_frames) / rate;
    const length = frames === undefined ? Infinity : frames / rate;
    if (at >= heard.duration || at + length <= 0) return;
    void audio.resume();
    const now = audio.currentTime;
    const source = new AudioBufferSourceNode(audio, { buffer: heard });
    const volume = new GainNode(audio, { gain: 0 });
    volume.gain.setValueAtTime(0, now);
    volume.gain.linearRampToValueAtTime(1, now + FADE_S);
    source.connect(volume).connect(audio.destination);
    source.start(now + Math.max(0, -at), Math.max(0, at));
    this.#playing = { source, volume };
    if (frames === undefined) return;
    volume.gain.setValueAtTime(1, now + Math.max(FADE_S, length - FADE_S));
    volume.gain.linearRampToValueAtTime(0, now + length);
    source.stop(now + length);
    document.dispatchEvent(new CustomEvent("scrubbed", { detail: { frame, at, length } }));
  }

  #stop() {
    this.#playing?.source.stop();
    this.#playing = null;
  }
}
