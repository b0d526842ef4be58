/**
 * Previews for playback: the files kept as blobs within a budget, a few of them decoded.
 *
 * 48 decoded 1080p pictures would hold over 400 MB, their JPEGs 15 MB: so a ring of bitmaps runs
 * just ahead of what is shown, and the blobs behind it are cheap to keep.
 */

const BLOB_BYTES = 64 * 1024 * 1024;
const BITMAPS = 8;
const AT_ONCE = 4;

export class Pictures {
  /** @type {Map<string, Promise<Blob>>} in order of last use */
  #blobs = new Map();
  /** @type {Map<string, number>} */
  #sizes = new Map();
  /** @type {Map<string, Promise<ImageBitmap>>} in order of last use */
  #bitmaps = new Map();
  #running = 0;
  /** @type {(() => void)[]} */
  #waiting = [];

  /** @param {(url: string) => Promise<Response>} [load] */
  constructor(load = (url) => fetch(url, { credentials: "same-origin" })) {
    this.load = load;
  }

  /** @param {string} url @returns {Promise<ImageBitmap>} ours: copy it to keep it */
  bitmap(url) {
    const known = this.#bitmaps.get(url);
    if (known) return touch(this.#bitmaps, url, known);
    const made = this.blob(url).then((blob) => createImageBitmap(blob));
    made.catch(() => this.#bitmaps.delete(url));
    this.#bitmaps.set(url, made);
    this.#trimBitmaps();
    return made;
  }

  /** @param {string} url @returns {Promise<ImageBitmap>} the caller's own */
  copy(url) {
    return this.blob(url).then((blob) => createImageBitmap(blob));
  }

  /** @param {string} url @returns {Promise<Blob>} */
  blob(url) {
    const known = this.#blobs.get(url);
    if (known) return touch(this.#blobs, url, known);
    const made = this.#fetch(url);
    made.catch(() => this.#blobs.delete(url));
    this.#blobs.set(url, made);
    return made;
  }

  /** Fetch a window of previews ahead of their showing. @param {string[]} urls @returns {Promise<void>} */
  async ahead(urls) {
    await Promise.allSettled(urls.map((url) => this.blob(url)));
  }

  /** @param {string} url */
  async #fetch(url) {
    await this.#turn();
    try {
      const answer = await this.load(url);
      if (!answer.ok) throw new Error(`Preview not found (${answer.status})`);
      const blob = await answer.blob();
      this.#sizes.set(url, blob.size);
      this.#trimBlobs();
      return blob;
    } finally {
      this.#running--;
      this.#waiting.shift()?.();
    }
  }

  async #turn() {
    if (this.#running >= AT_ONCE) await new Promise((go) => this.#waiting.push(() => go(null)));
    this.#running++;
  }

  #trimBlobs() {
    let total = 0;
    for (const size of this.#sizes.values()) total += size;
    for (const url of this.#blobs.keys()) {
      if (total <= BLOB_BYTES) return;
      total -= this.#sizes.get(url) ?? 0;
      this.#blobs.delete(url);
      this.#sizes.delete(url);
    }
  }

  #trimBitmaps() {
    for (const [url, bitmap] of this.#bitmaps) {
      if (this.#bitmaps.size <= BITMAPS) return;
      this.#bitmaps.delete(url);
      void bitmap.then((old) => old.close(), () => {});
    }
  }
}

/** @template T @param {Map<string, T>} map @param {string} key @param {T} value @returns {T} */
function touch(map, key, value) {
  map.delete(key);
  map.set(key, value);
  return value;
}
