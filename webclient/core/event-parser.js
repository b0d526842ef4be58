/** Server-Sent Events from text, as the HTML standard describes them (section 9.2.6). */

/** @typedef {{id: string, event: string, data: string}} Message */

export class EventParser {
  #rest = "";
  #event = "";
  /** @type {string[]} */
  #data = [];
  /** The last id seen, to resume from. */
  lastId = "";

  /**
   * @param {string} text  any piece of the stream, cut anywhere
   * @returns {Message[]} the messages that it completed
   */
  feed(text) {
    const lines = (this.#rest + text).split(/\r\n|\n|\r(?!$)/);
    this.#rest = lines.pop() ?? "";
    /** @type {Message[]} */
    const done = [];
    for (const line of lines) {
      if (line === "") this.#close(done);
      else this.#take(line);
    }
    return done;
  }

  /** @param {string} line */
  #take(line) {
    const colon = line.indexOf(":");
    if (colon === 0) return; // a comment
    const name = colon < 0 ? line : line.slice(0, colon);
    const value = colon < 0 ? "" : line.slice(colon + 1).replace(/^ /, "");
    if (name === "event") this.#event = value;
    else if (name === "data") this.#data.push(value);
    else if (name === "id" && !value.includes("\0")) this.lastId = value;
  }

  /** @param {Message[]} done */
  #close(done) {
    if (this.#data.length) {
      done.push({ id: this.lastId, event: this.#event || "message", data: this.#data.join("\n") });
    }
    this.#event = "";
    this.#data = [];
  }
}
