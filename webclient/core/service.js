/** Requests to the service: JSON in and out, one kind of error, always a timeout. */

/** @import {ProblemBody} from "./types.js" */

import { noAnswer, Problem, timedOut } from "./problem.js";

export const BASE = "/api/v1";
const TIMEOUT_MS = 10_000;

/**
 * @typedef {object} Asking
 * @property {unknown} [body]
 * @property {Record<string, string>} [headers]
 * @property {number} [timeoutMs]
 * @property {AbortSignal} [signal]  gives up earlier, as if the time were over
 */

export class Service {
  /** @param {string} base @param {typeof fetch} send */
  constructor(base = BASE, send = (input, init) => fetch(input, init)) {
    this.base = base;
    this.send = send;
    /** Called when the service no longer knows this page. */
    this.onUnpaired = () => {};
  }

  /** @param {string} path @returns {Promise<any>} */
  get(path) {
    return this.ask("GET", path);
  }

  /** @param {string} path @param {unknown} [body] @returns {Promise<any>} */
  post(path, body = {}) {
    return this.ask("POST", path, { body });
  }

  /** @param {string} path @param {unknown} body @returns {Promise<any>} */
  patch(path, body) {
    return this.ask("PATCH", path, { body });
  }

  /** @param {string} path @param {unknown} body @returns {Promise<any>} */
  put(path, body) {
    return this.ask("PUT", path, { body });
  }

  /** @param {string} path @param {unknown} [body] @returns {Promise<any>} */
  delete(path, body) {
    return this.ask("DELETE", path, { body });
  }

  /**
   * One request. The timeout covers the answer's body too.
   *
   * @param {string} method
   * @param {string} path  below the base
   * @param {Asking} [asking]
   * @returns {Promise<any>} the JSON answer, or null where there is none
   * @throws {Problem}
   */
  async ask(method, path, { body, headers = {}, timeoutMs = TIMEOUT_MS, signal } = {}) {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), timeoutMs);
    signal?.addEventListener("abort", () => stop.abort(), { once: true });
    try {
      const answer = await this.send(this.base + path, {
        method,
        headers: body === undefined ? headers : { "Content-Type": "application/json", ...headers },
        body: body === undefined ? undefined : JSON.stringify(body),
        signal: stop.signal,
        cache: "no-store",
        credentials: "same-origin",
      });
      return await this.#read(answer);
    } catch (error) {
      if (error instanceof Problem) throw error;
      throw stop.signal.aborted ? timedOut(timeoutMs) : noAnswer();
    } finally {
      clearTimeout(timer);
    }
  }

  /** @param {Response} answer */
  async #read(answer) {
    const text = await answer.text();
    if (answer.ok) return text ? JSON.parse(text) : null;
    const problem = new Problem(problemBody(answer, text), answer.headers);
    if (answer.status === 401 && problem.code !== "wrong_code") this.onUnpaired();
    throw problem;
  }
}

/** @param {Response} answer @param {string} text @returns {ProblemBody} */
function problemBody(answer, text) {
  const fallback = { title: `The service answered ${answer.status}`, status: answer.status };
  if (!(answer.headers.get("Content-Type") ?? "").includes("json")) return fallback;
  try {
    return { ...fallback, ...JSON.parse(text) };
  } catch {
    return fallback;
  }
}
