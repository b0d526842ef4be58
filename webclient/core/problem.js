/** A refusal or a failure, told as the service tells it (RFC 9457) or as the page noticed it. */

/** @import {ProblemBody} from "./types.js" */

export class Problem extends Error {
  /** @param {ProblemBody} body @param {Headers | null} headers */
  constructor(body, headers = null) {
    super(body.detail || body.title);
    this.name = "Problem";
    this.title = body.title;
    this.status = body.status;
    this.code = body.code ?? "";
    this.hint = body.hint ?? "";
    /** Where in a text that was sent, from 1; 0 when the service names no place. */
    this.line = body.line ?? 0;
    this.column = body.column ?? 0;
    /** Seconds after which to try again, where the service says so. */
    this.retryAfter = Number(headers?.get("Retry-After")) || 0;
  }

  /** True when no answer came, so that nobody knows whether the service acted. */
  get unanswered() {
    return this.code === "no_answer" || this.code === "timed_out";
  }
}

export const noAnswer = () =>
  new Problem({
    title: "The service did not answer",
    status: 0,
    code: "no_answer",
    hint: "Check that the phone is on the same network as the computer beside the set.",
  });

/** @param {number} ms */
export const timedOut = (ms) =>
  new Problem({
    title: `No answer within ${Math.round(ms / 1000)} s`,
    status: 0,
    code: "timed_out",
    hint: "Wait until the connection is back.",
  });

/** @param {unknown} error @returns {Problem} */
export function asProblem(error) {
  if (error instanceof Problem) return error;
  const says = error instanceof Error ? error.message : String(error);
  return new Problem({ title: says, status: 0, code: "page_fault", hint: "Reload the page." });
}
