/** Before a phone can be the camera: the code, or why this page cannot have the camera. */

/** @import {Service} from "../core/service.js" */

import { make } from "./dom.js";
import { makePair } from "./pair.js";

/** @param {HTMLElement} page @param {Service} service @param {() => void} paired */
export function askForCode(page, service, paired) {
  const asCamera = { service: { post: (/** @type {string} */ path, /** @type {object} */ body) => service.post(path, { ...body, kind: "camera" }) }, start: paired };
  const pair = makePair(/** @type {any} */ (asCamera));
  const lead = pair.element.querySelector(".pair-lead");
  if (lead) lead.textContent = "This phone becomes the camera. Another one is the remote.";
  page.replaceChildren(pair.element);
  const code = /[#&]code=(\d{6})/.exec(location.hash)?.[1];
  if (code) {
    history.replaceState(null, "", location.pathname);
    pair.fill(code);
  } else pair.focus();
}

export function explainPlainHttp() {
  return make(
    "main",
    { class: "plain scroll" },
    make("h1", {}, "The camera needs HTTPS"),
    make("p", {}, "Browsers give their camera, and a screen that stays awake, to secure pages only. This page came over plain HTTP, so it cannot be the camera here."),
    make("p", {}, "On the computer beside the set, start the service with ", make("code", {}, "standclear serve --secure --camera handset"), ", then open the address that it prints."),
    make("p", {}, make("a", { href: "/trust?to=/handset" }, "How a phone comes to trust that computer")),
    make("p", { class: "quiet" }, "The remote does without: it works over plain HTTP too."),
  );
}
