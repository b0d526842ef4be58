/** A soft click and a short vibration after each kept exposure; silence while a shutter is open. */

const LONG_MS = 30;
const ENDED_MS = [60, 80, 60, 80, 160];

export class Sound {
  /** @type {AudioContext | null} */
  #audio = null;
  #hushed = false;
  #owed = false;
  enabled = true;

  /** Browsers give sound only after a touch. */
  wake() {
    if (!this.#audio && "AudioContext" in window) this.#audio = new AudioContext();
    if (this.#audio?.state === "suspended" && !this.#hushed) void this.#audio.resume();
  }

  /** @param {boolean} on */
  hush(on) {
    this.#hushed = on;
    if (on) void this.#audio?.suspend();
    else void this.#audio?.resume();
    if (on || !this.#owed) return;
    this.#owed = false;
    this.confirm();
  }

  confirm() {
    if (this.#hushed) {
      this.#owed = true;
      return;
    }
    if (navigator.userActivation?.hasBeenActive !== false) navigator.vibrate?.(LONG_MS);
    if (this.enabled) this.#click();
  }

  /** An action of the plan is complete: two notes up, and a vibration that is like no other. */
  ended() {
    if (this.#hushed) return;
    if (navigator.userActivation?.hasBeenActive !== false) navigator.vibrate?.(ENDED_MS);
    if (!this.enabled) return;
    this.#click(700, 0.12);
    this.#click(1050, 0.26);
  }

  /** A state of the step-back trigger: notes in Hz, softer than a click. @param {number[]} notes */
  soft(notes) {
    if (this.#hushed || !this.enabled) return;
    notes.forEach((frequency, at) => this.#click(frequency, at * 0.11, 0.08));
  }

  #click(frequency = 1400, after = 0, loudness = 0.25) {
    const audio = this.#audio;
    if (!audio || audio.state !== "running") return;
    const now = audio.currentTime + after;
    const tone = new OscillatorNode(audio, { type: "sine", frequency });
    const volume = new GainNode(audio, { gain: 0 });
    volume.gain.setValueAtTime(0, now);
    volume.gain.linearRampToValueAtTime(loudness, now + 0.003);
    volume.gain.exponentialRampToValueAtTime(0.001, now + 0.07);
    tone.connect(volume).connect(audio.destination);
    tone.start(now);
    tone.stop(now + 0.08);
  }
}
