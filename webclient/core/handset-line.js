/**
 * The handset's line to the service: a websocket that is always there or being made.
 *
 *   connecting ──open──▶ connected ──silence, error, end──▶ lost ──retry──▶ connecting
 *        ├── 401 ──▶ unpaired        └── another page took the place ──▶ taken
 *
 * A beat every 0.4 s says that the handset is there, and measures the service's clock.
 *
 * Who starts the line takes the place, whoever had it. A retry takes back only this page's own: the
 * word that another page has come can be lost with the connection, and two pages must not fight.
 */

import { nowMs } from "./age.js";
import { randomName } from "./random.js";
import { ServiceClock } from "./service-clock.js";

/** @typedef {"connecting" | "connected" | "lost" | "unpaired" | "taken" | "stopped"} LineState */
/** @typedef {{does: string, order?: string, on?: boolean, values?: Record<string, unknown>, sent?: number, now?: number}} Told */

const BEAT_MS = 400;
const SILENCE_MS = 2500;
const RETRY_MS = [100, 200, 400, 800, 1000];
const TAKEN = 4410;
/** So many live pictures may be on their way: a slow network makes them fewer, not older. */
const MOST_UNDERWAY = 2;

export class HandsetLine {
  clock = new ServiceClock();
  /** The order that is being worked on, which each beat says. @type {string | null} */
  busyWith = null;
  /** @type {WebSocket | null} */
  #socket = null;
  #underway = 0;
  #heardAt = 0;
  #failures = 0;
  #page = randomName();
  #hadPlace = false;
  /** @type {object | null} */
  #facts = null;
  /** @type {ReturnType<typeof setInterval> | undefined} */
  #beat;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #retry;

  /**
   * @param {object} options
   * @param {string} options.url  of the websocket, with the camera's name as its query
   * @param {() => Promise<boolean>} options.isPaired  asked when no connection came about
   * @param {(told: Told, atMs: number) => void} options.onTold
   * @param {(state: LineState) => void} options.onState
   */
  constructor({ url, isPaired, onTold, onState }) {
    this.url = url;
    this.isPaired = isPaired;
    this.onTold = onTold;
    this.onState = onState;
  }

  start() {
    this.stop();
    this.#hadPlace = false;
    this.#beat = setInterval(() => this.#tick(), BEAT_MS);
    this.#connect();
  }

  stop() {
    clearInterval(this.#beat);
    clearTimeout(this.#retry);
    const socket = this.#socket;
    this.#socket = null;
    socket?.close(1000);
  }

  /** @param {object} facts what the handset is to say of itself, now and on each connection */
  tellFacts(facts) {
    this.#facts = facts;
    this.#say({ says: "facts", ...facts });
  }

  /** @param {string} order */
  tellDone(order) {
    this.#say({ says: "done", order });
  }

  /** @param {string} order @param {string} because @param {boolean | null} photoTaken */
  tellFailed(order, because, photoTaken) {
    this.#say({ says: "failed", order, because: because.slice(0, 300), photo_taken: photoTaken });
  }

  /** Whether a live picture could go out now without waiting behind others. */
  get isFree() {
    return this.#isOpen && this.clock.known && this.#underway < MOST_UNDERWAY;
  }

  /** @param {ArrayBuffer} jpeg @param {number} atMs our time at which it was taken */
  show(jpeg, atMs) {
    if (!this.isFree) return;
    const message = new Uint8Array(8 + jpeg.byteLength);
    new DataView(message.buffer).setFloat64(0, this.clock.toService(atMs));
    message.set(new Uint8Array(jpeg), 8);
    this.#underway++;
    this.#socket?.send(message);
  }

  get #isOpen() {
    return this.#socket?.readyState === WebSocket.OPEN;
  }

  #connect() {
    clearTimeout(this.#retry);
    this.onState("connecting");
    const again = this.#hadPlace ? "&again" : "";
    const socket = new WebSocket(`${this.url}&page=${this.#page}${again}`);
    socket.binaryType = "arraybuffer";
    socket.onopen = () => this.#opened(socket);
    socket.onmessage = (message) => this.#heard(socket, message.data);
    socket.onclose = (end) => void this.#closed(socket, end.code);
    this.#socket = socket;
    this.#heardAt = nowMs();
  }

  /** @param {WebSocket} socket */
  #opened(socket) {
    if (this.#socket !== socket) return;
    this.#failures = 0;
    this.#hadPlace = true;
    this.#underway = 0;
    this.#heardAt = nowMs();
    this.clock.forget();
    this.onState("connected");
    if (this.#facts) this.tellFacts(this.#facts);
    this.#say({ says: "beat", sent: nowMs() });
  }

  /** @param {WebSocket} socket @param {unknown} data */
  #heard(socket, data) {
    if (this.#socket !== socket || typeof data !== "string") return;
    const atMs = nowMs();
    this.#heardAt = atMs;
    const told = /** @type {Told} */ (JSON.parse(data));
    if (told.does === "time") this.clock.note(told.sent ?? 0, told.now ?? 0, atMs);
    else if (told.does === "got") this.#underway = Math.max(0, this.#underway - 1);
    else this.onTold(told, atMs);
  }

  #tick() {
    if (!this.#socket) return;
    if (nowMs() - this.#heardAt > SILENCE_MS) this.#drop();
    else this.#say({ says: "beat", sent: nowMs(), order: this.busyWith });
  }

  /** Nothing is heard, yet nobody closed: the network is gone. */
  #drop() {
    const socket = this.#socket;
    if (!socket) return;
    socket.onclose = null;
    socket.close();
    void this.#closed(socket, 1006);
  }

  /** @param {WebSocket} socket @param {number} code */
  async #closed(socket, code) {
    if (this.#socket !== socket) return;
    this.#socket = null;
    if (code === TAKEN) return this.#end("taken");
    this.onState("lost");
    if (!(await this.isPaired())) return this.#end("unpaired");
    if (this.#socket) return;
    const wait = RETRY_MS[Math.min(this.#failures++, RETRY_MS.length - 1)];
    this.#retry = setTimeout(() => this.#connect(), wait);
  }

  /** @param {LineState} state */
  #end(state) {
    clearInterval(this.#beat);
    this.onState(state);
  }

  /** @param {object} message */
  #say(message) {
    if (this.#isOpen) this.#socket?.send(JSON.stringify(message));
  }
}
