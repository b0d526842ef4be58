/**
 * For whoever has one switch, one key or one button: a short press does what the pad does, a long one
 * opens the list of deeds, along which a mark moves by itself; the next press takes the marked one. Or
 * the mark moves all the time, for switches that cannot be held.
 */

/** @import {Desk} from "./desk.js" */

import { Scan } from "../models/scan.js";
import { deedsOf } from "./deeds.js";
import { make, setText } from "./dom.js";

const HOLD_MS = 700;

export class OneSwitch {
  #scan = new Scan();
  #list = make("ul", { class: "deeds" });
  #says = make("p", { class: "unseen", role: "status" });
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #holding;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #moving;

  /** @param {Desk} desk @param {() => string} view  which one is shown */
  constructor(desk, view) {
    this.desk = desk;
    this.view = view;
    this.element = make("aside", { class: "one-switch", "aria-label": "One switch", hidden: true }, this.#list, this.#says);
    this.#scan.subscribe(() => this.#paint());
    desk.look.subscribe(() => this.#modeChanged());
    desk.app.shot.subscribe(() => this.#renew());
    desk.app.review.subscribe(() => this.#renew());
    desk.app.trigger.subscribe(() => this.#renew());
  }

  get #mode() {
    return this.desk.look.value.oneSwitch;
  }

  /** @param {string} _key @param {boolean} down @param {boolean} again @returns {boolean} whether it was taken */
  takes(_key, down, again) {
    if (this.#mode === "off") return false;
    if (again) return true;
    if (this.#scan.open) {
      if (down) this.#choose();
    } else if (down) {
      clearTimeout(this.#holding);
      this.#holding = setTimeout(() => { this.#holding = undefined; this.#begin(); }, HOLD_MS);
    } else if (this.#holding !== undefined) {
      clearTimeout(this.#holding);
      this.#holding = undefined;
      this.#short();
    }
    return true;
  }

  /** Another view: other deeds. */
  follow() {
    if (this.#mode === "scan") this.#begin();
    else this.#scan.close();
  }

  #short() {
    if (this.view() === "shoot") void this.desk.shutter.fire();
    else this.#begin();
  }

  #begin() {
    this.#scan.begin(deedsOf(this.desk, this.view()));
    this.#move();
  }

  #choose() {
    const view = this.view();
    void this.#scan.choose();
    if (this.#mode === "hold") this.#scan.close();
    else if (view === this.view()) this.#begin(); // from the first again, which is the likeliest
  }

  /** The mark rests while a shutter is open, and while nobody looks. */
  #move() {
    clearTimeout(this.#moving);
    this.#moving = setTimeout(() => {
      if (!this.#scan.open) return;
      const rests = document.hidden || this.desk.app.exposing.value !== null;
      if (!rests && !this.#scan.step() && this.#mode === "hold") return this.#scan.close();
      this.#move();
    }, this.desk.look.value.scanStep * 1000);
  }

  #modeChanged() {
    if (this.#mode === "scan" && !this.#scan.open && this.element.isConnected) this.#begin();
    if (this.#mode === "off") this.#scan.close();
  }

  #renew() {
    if (this.#scan.open) this.#scan.renew(deedsOf(this.desk, this.view()));
  }

  #paint() {
    const { deeds, at } = this.#scan.value;
    this.element.hidden = deeds.length === 0;
    document.documentElement.toggleAttribute("data-scanning", deeds.length > 0);
    while (this.#list.childElementCount > deeds.length) this.#list.lastChild?.remove();
    while (this.#list.childElementCount < deeds.length) this.#list.append(this.#tile(this.#list.childElementCount));
    deeds.forEach((deed, index) => {
      const tile = /** @type {HTMLElement} */ (this.#list.children[index]?.firstChild);
      setText(tile, deed.label);
      if (index === at) tile.setAttribute("aria-current", "true");
      else tile.removeAttribute("aria-current");
    });
    setText(this.#says, deeds[at]?.label ?? "");
  }

  /** @param {number} index */
  #tile(index) {
    const press = () => { this.#scan.patch({ at: index }); this.#choose(); };
    return make("li", {}, make("button", { type: "button", class: "deed", tabindex: -1, onclick: press }));
  }
}
