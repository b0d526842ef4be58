/**
 * The event stream: one connection that is always there or being made.
 *
 *   connecting ──first byte──▶ connected ──silence, error, end──▶ lost ──retry──▶ connecting
 *        └────────────── 401 ──▶ unpaired (stops until start() is called again)
 *
 * Read with `fetch`, not `EventSource`: only so can it resume by `Last-Event-ID` after it was
 * reopened by hand (a phone that woke up), and see a 401 as what it is.
 */

import { EventParser } from "./event-parser.js";

/** @typedef {"connecting" | "connected" | "lost" | "unpaired" | "stopped"} StreamState */

const RETRY_MS = [200, 500, 1000, 2000, 3000];

export class EventStream {
  #parser = new EventParser();
  /** @type {AbortController | null} */
  #open = null;
  #heardAt = 0;
  #failures = 0;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #retry;
  /** @type {ReturnType<typeof setInterval> | undefined} */
  #watch;

  /**
   * @param {object} options
   * @param {string} options.url
   * @param {(event: string, data: any) => void} options.onEvent
   * @param {(state: StreamState) => void} options.onState
   * @param {number} [options.silenceMs]  how long without a beat counts as lost
   */
  constructor({ url, onEvent, onState, silenceMs = 5000 }) {
    this.url = url;
    this.onEvent = onEvent;
    this.onState = onState;
    this.silenceMs = silenceMs;
  }

  start() {
    this.stop();
    this.#watch = setInterval(() => this.#checkSilence(), 500);
    void this.#connect();
  }

  stop() {
    clearTimeout(this.#retry);
    clearInterval(this.#watch);
    this.#open?.abort();
    this.#open = null;
  }

  /** The phone woke up or the network is back: what is silent for longer than a beat is reopened. */
  wake() {
    if (this.#open && performance.now() - this.#heardAt < 2500) return;
    this.#failures = 0;
    clearTimeout(this.#retry);
    void this.#connect();
  }

  async #connect() {
    this.#open?.abort();
    const open = new AbortController();
    this.#open = open;
    this.#heardAt = performance.now();
    this.onState("connecting");
    try {
      await this.#read(open);
    } catch {
      // Whatever ended it, the stream is gone; the state says so and the retry mends it.
    }
    if (this.#open === open) this.#lose();
  }

  /** @param {AbortController} open */
  async #read(open) {
    /** @type {Record<string, string>} */
    const headers = { Accept: "text/event-stream" };
    if (this.#parser.lastId) headers["Last-Event-ID"] = this.#parser.lastId;
    const answer = await fetch(this.url, { headers, signal: open.signal, cache: "no-store" });
    if (answer.status === 401) return this.#unpaired();
    if (!answer.ok || !answer.body) return;
    const lastId = this.#parser.lastId;
    this.#parser = new EventParser(); // a line cut by the loss must not run into the new stream
    this.#parser.lastId = lastId;
    const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
    for (;;) {
      const { value, done } = await reader.read();
      if (done || this.#open !== open) return;
      this.#heard(value);
    }
  }

  /** @param {string} text */
  #heard(text) {
    this.#heardAt = performance.now();
    this.#failures = 0;
    for (const message of this.#parser.feed(text)) {
      if (message.event === "hello") this.onState("connected");
      this.onEvent(message.event, JSON.parse(message.data));
    }
  }

  #checkSilence() {
    if (this.#open && performance.now() - this.#heardAt > this.silenceMs) {
      this.#open.abort();
      this.#lose();
    }
  }

  #lose() {
    this.#open = null;
    this.onState("lost");
    clearTimeout(this.#retry);
    const wait = RETRY_MS[Math.min(this.#failures++, RETRY_MS.length - 1)];
    this.#retry = setTimeout(() => void this.#connect(), wait);
  }

  #unpaired() {
    this.stop();
    this.onState("unpaired");
  }
}
