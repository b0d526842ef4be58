/**
 * The live view's socket. The page asks for each next picture, so that a slow phone never builds a
 * queue; each picture carries its header in its first comment segment.
 */

/** @import {PictureHeader} from "./types.js" */

import { readComment } from "./jpeg-comment.js";

const RETRY_MS = 1000;
export const CLOSED_UNPAIRED = 4401;
export const CLOSED_NO_LIVE = 4409;

export class LiveSocket {
  /** @type {WebSocket | null} */
  #socket = null;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #retry;
  #wanted = false;
  /** Whose last exposure is shown by a camera that has no live picture. */
  #shot = "";

  /**
   * @param {object} options
   * @param {string} options.url
   * @param {(bytes: ArrayBuffer, header: PictureHeader) => void} options.onPicture
   * @param {() => void} options.onOpen
   * @param {(code: number, reason: string) => void} options.onClosed
   * @param {(url: string) => WebSocket} [options.open]  for tests with hostile sockets
   */
  constructor({ url, onPicture, onOpen, onClosed, open = (to) => new WebSocket(to) }) {
    this.url = url;
    this.onPicture = onPicture;
    this.onOpen = onOpen;
    this.onClosed = onClosed;
    this.open = open;
    this.width = 1280;
  }

  /** @param {string} [shot] */
  start(shot = this.#shot) {
    if (shot !== this.#shot) this.stop();
    this.#shot = shot;
    this.#wanted = true;
    if (this.#socket) return;
    clearTimeout(this.#retry);
    const socket = this.open(shot ? `${this.url}?shot=${encodeURIComponent(shot)}` : this.url);
    socket.binaryType = "arraybuffer";
    socket.onopen = () => this.#opened(socket);
    socket.onmessage = (message) => this.#heard(socket, message.data);
    socket.onclose = (end) => this.#closed(socket, end.code, end.reason);
    this.#socket = socket;
  }

  stop() {
    this.#wanted = false;
    clearTimeout(this.#retry);
    const socket = this.#socket;
    this.#socket = null;
    socket?.close(1000);
  }

  /** Ask for the next picture, newer than the last. */
  next() {
    if (this.#socket?.readyState !== WebSocket.OPEN) return;
    this.#socket.send(JSON.stringify({ want: "next", width: this.width }));
  }

  /** @param {WebSocket} socket */
  #opened(socket) {
    if (this.#socket !== socket) return;
    this.onOpen();
    this.next();
  }

  /** @param {WebSocket} socket @param {unknown} data */
  #heard(socket, data) {
    if (this.#socket !== socket || !(data instanceof ArrayBuffer)) return;
    const header = parseHeader(data);
    if (header) this.onPicture(data, header);
    else this.next(); // a broken picture is passed over, the next one asked for
  }

  /** @param {WebSocket} socket @param {number} code @param {string} reason */
  #closed(socket, code, reason) {
    if (this.#socket !== socket) return;
    this.#socket = null;
    this.onClosed(code, reason);
    if (this.#wanted && code !== CLOSED_UNPAIRED) {
      this.#retry = setTimeout(() => this.start(), RETRY_MS);
    }
  }
}

/** @param {ArrayBuffer} data @returns {PictureHeader | null} */
export function parseHeader(data) {
  const comment = readComment(data);
  if (comment === null) return null;
  try {
    const header = JSON.parse(comment);
    return Number.isFinite(header.at_ms) && Number.isFinite(header.age_ms) ? header : null;
  } catch {
    return null;
  }
}
