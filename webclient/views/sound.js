/** A soft click and a short vibration after each kept exposure; silence while a shutter is open. */

const LONG_MS = 30;

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

  #click() {
    const audio = this.#audio;
    if (!audio || audio.state !== "running") return;
    const now = audio.currentTime;
    const tone = new OscillatorNode(audio, { type: "sine", frequency: 1400 });
    const volume = new GainNode(audio, { gain: 0 });
    volume.gain.setValueAtTime(0, now);
    volume.gain.linearRampToValueAtTime(0.25, now + 0.003);
    volume.gain.exponentialRampToValueAtTime(0.001, now + 0.07);
    tone.connect(volume).connect(audio.destination);
    tone.start(now);
    tone.stop(now + 0.08);
  }
}
