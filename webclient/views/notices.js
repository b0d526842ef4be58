/** One line of news at a time, at the top, where no thumb rests. Spoken by a screen reader. */

/** @import {App} from "../models/app.js" */

import { button } from "./controls.js";
import { make } from "./dom.js";
import { icon } from "./icons.js";

const STAY_MS = { plain: 8000, warning: 12_000, fault: 20_000 };
const STAY_WITH_ACTION_MS = 20_000;

/** @param {App} app */
export function makeNotices(app) {
  const element = make("div", { class: "notices", role: "status", "aria-live": "polite" });
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  const close = () => app.notice.set(null);

  app.notice.subscribe((notice) => {
    clearTimeout(timer);
    element.replaceChildren();
    if (!notice) return;
    const { says, tone, action } = notice;
    const act = action && button(action.label, () => { close(); action.run(); }, { class: "main" });
    element.append(
      make(
        "div",
        { class: "notice", "data-tone": tone },
        tone !== "plain" && icon(tone, 20),
        make("p", {}, says),
        act,
        button("Close", close, { icon: "close", bare: true }),
      ),
    );
    timer = setTimeout(close, action ? STAY_WITH_ACTION_MS : STAY_MS[tone]);
  });
  return element;
}

/** What happens to a press, for the ear. @param {App} app */
export function makeAnnouncer(app) {
  const element = make("div", { class: "unseen", role: "status", "aria-live": "assertive" });
  let said = "";
  app.press.subscribe((press) => {
    const key = `${press.phase} ${press.key} ${press.exposure?.id}`;
    if (key === said) return;
    said = key;
    if (press.phase === "kept") element.textContent = `Exposure ${press.exposure?.number} kept.`;
    if (press.phase === "failed") element.textContent = `Not taken. ${press.problem?.message ?? ""}`;
    if (press.phase === "unknown") element.textContent = "No answer to the press.";
  });
  return element;
}
