/** The plan as typed text. It is read while it is written: what cannot be read is pointed at. */

/** @import {Desk, View} from "./desk.js" */
/** @import {Problem} from "../core/problem.js" */

import { asProblem } from "../core/problem.js";
import { counted, secondsInWords } from "../models/plan-words.js";
import { button } from "./controls.js";
import { make, setText } from "./dom.js";
import { icon } from "./icons.js";

const PAUSE_MS = 400;
const EXAMPLE = "wait 1 s\ncreep 120 mm over 10 s, ease in\nlook up 0.5 s";

/** @param {Desk} desk @returns {View} */
export function makeTyped(desk) {
  const { plan } = desk.app;
  const text = make("textarea", { class: "typed-text", spellcheck: "false", autocapitalize: "off", wrap: "off", "aria-label": "The plan, one action a line", "aria-describedby": "typed-says", placeholder: EXAMPLE });
  const says = makeSays(() => goTo(wrong));
  const save = button("Save", () => void keep(), { class: "main" });
  const back = button("Put back", () => take());
  /** @type {Problem | null} */
  let wrong = null;
  let kept = "";
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let pause;
  let turn = 0;

  /** The service's text takes the place of what was typed. */
  function take() {
    kept = text.value = plan.value.plan?.text ?? "";
    tell(null);
  }

  /** @param {Problem | null} problem @param {string} [words] */
  function tell(problem, words = "") {
    wrong = problem;
    if (problem) text.setAttribute("aria-invalid", "true");
    else text.removeAttribute("aria-invalid");
    says.tell(problem, problem ? (text.value.split("\n")[problem.line - 1] ?? "") : "", words);
    const changed = text.value !== kept;
    save.disabled = !changed;
    back.disabled = !changed;
  }

  /** @param {Problem | null} problem */
  function goTo(problem) {
    if (!problem?.line) return;
    const lines = text.value.split("\n");
    const start = lines.slice(0, problem.line - 1).reduce((sum, one) => sum + one.length + 1, 0) + Math.max(0, problem.column - 1);
    const word = /^[^\s,]+/.exec(text.value.slice(start))?.[0].length ?? 0;
    text.focus();
    text.setSelectionRange(start, start + word);
  }

  async function read() {
    const mine = ++turn;
    try {
      const would = await plan.preview({ text: text.value });
      if (mine === turn) tell(null, `${secondsInWords(would.duration_s)} · ${counted(would.frame_count, "frame")} · ${counted(would.exposure_count, "exposure")}`);
    } catch (error) {
      if (mine === turn) tell(asProblem(error));
    }
  }

  async function keep() {
    clearTimeout(pause);
    turn++;
    try {
      await plan.put({ text: text.value });
      take();
    } catch (error) {
      const problem = asProblem(error);
      tell(problem);
      if (problem.line) goTo(problem);
      else desk.app.say(`${problem.message} ${problem.hint}`, "warning");
    }
  }

  text.addEventListener("input", () => {
    tell(wrong);
    clearTimeout(pause);
    pause = setTimeout(() => void read(), PAUSE_MS);
  });
  plan.subscribe(() => text.value === kept && take());
  const element = make("div", { class: "typed" }, text, says.element, make("div", { class: "row plan-foot" }, save, back));
  return { element, hidden: () => clearTimeout(pause) };
}

/** What was read, or what could not be, with a mark under the place. @param {() => void} go */
function makeSays(go) {
  const words = make("span", {});
  const line = make("code", { class: "typed-line" });
  const at = button("Go there", go, { class: "quiet" });
  const head = make("p", { class: "typed-head" });
  const element = make("div", { class: "typed-says", id: "typed-says", role: "status" }, head, line, at);
  return {
    element,
    /** @param {Problem | null} problem @param {string} text @param {string} otherwise */
    tell(problem, text, otherwise) {
      setText(words, problem ? `${problem.line ? `Line ${problem.line}, column ${problem.column}: ` : ""}${problem.message}` : otherwise);
      head.replaceChildren(...(problem ? [icon("warning", 20), words] : [words]));
      head.dataset["tone"] = problem ? "warning" : "plain";
      line.hidden = at.hidden = !problem?.line;
      if (!problem?.line) return;
      const from = Math.max(0, problem.column - 24);
      const before = text.slice(from, problem.column - 1);
      line.replaceChildren(from ? "…" : "", before, make("mark", {}, /^[^\s,]+/.exec(text.slice(problem.column - 1))?.[0] ?? " "), text.slice(problem.column - 1).replace(/^[^\s,]+/, ""));
    },
  };
}
