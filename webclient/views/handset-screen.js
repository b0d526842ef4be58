/**
 * The handset's screen: a light on the set if it is not watched. It dims itself to black, stays
 * awake, and holds its turn where the browser can.
 */

const DIM_AFTER_MS = 15_000;

export class HandsetScreen {
  #cover = /** @type {HTMLElement} */ (document.getElementById("dark"));
  #theme = /** @type {HTMLMetaElement} */ (document.querySelector("meta[name=theme-color]"));
  #light = this.#theme.content;
  #began = turn();
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #timer;
  #exposing = false;
  #dim = false;

  /** @param {() => boolean} mayDim  whether there is nothing that must be read @param {(turned: boolean) => void} onTurned */
  constructor(mayDim, onTurned) {
    this.mayDim = mayDim;
    for (const touch of ["pointerdown", "keydown"]) addEventListener(touch, () => this.wake(), { capture: true });
    screen.orientation?.addEventListener("change", () => onTurned(turn() !== this.#began));
    this.wake();
  }

  /** Light, for some seconds. */
  wake() {
    this.#dim = false;
    this.#show();
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => (this.mayDim() ? this.dim() : this.wake()), DIM_AFTER_MS);
  }

  /** Black until it is touched. */
  dim() {
    this.#dim = true;
    this.#show();
  }

  /** Black while a picture is taken, whatever else. @param {boolean} on */
  expose(on) {
    this.#exposing = on;
    this.#show();
  }

  /** The whole screen, and no turning: a browser allows this only right after a touch. */
  async hold() {
    await document.documentElement.requestFullscreen?.({ navigationUI: "hide" });
    const orientation = /** @type {any} */ (screen.orientation);
    await orientation?.lock?.(orientation.type);
  }

  #show() {
    const black = this.#dim || this.#exposing;
    this.#cover.hidden = !black;
    document.documentElement.toggleAttribute("data-dark", black);
    this.#theme.content = black ? "#000000" : this.#light; // the browser's own bars glow too
  }
}

const turn = () => screen.orientation?.type ?? "";
