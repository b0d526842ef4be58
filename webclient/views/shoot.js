/** Shoot: the picture, the timing chart, the tools, the pad. */

/** @import {Desk, View} from "./desk.js" */

import { lastJudged } from "../models/flaws.js";
import { button } from "./controls.js";
import { TimingChart } from "./chart.js";
import { make, setText } from "./dom.js";
import { makeFlaw } from "./flaw.js";
import { makeFlawBox } from "./flaw-box.js";
import { makeCopyMark } from "./mirror.js";
import { spansOnChart } from "../models/plan-words.js";
import { makeTarget } from "./plan-target.js";
import { Pad } from "./pad.js";
import { Stage } from "./stage.js";
import { makeTools } from "./tools.js";

/** @param {Desk} desk @returns {View} */
export function makeShoot(desk) {
  const stage = new Stage(desk);
  const chart = new TimingChart();
  const pad = new Pad(desk);
  const tools = makeTools(desk);
  const armed = makeArmed(desk);
  const box = makeFlawBox();
  stage.element.append(box.element);
  desk.app.shot.subscribe(({ shot, exposures, armed: now }) => {
    box.show(now.kind === "append" ? lastJudged(exposures) : undefined);
    chart.update({ shot, exposures, selected: now.kind === "append" ? 0 : (now.exposure.number ?? 0) });
  });
  desk.app.plan.subscribe(({ plan }) => chart.mark(spansOnChart(plan)));
  const element = make(
    "section",
    { class: "shoot", "aria-label": "Shoot" },
    make("div", { class: "shoot-picture" }, stage.element, makeTarget(desk), makeFlaw(desk), makeCopyMark(desk), armed),
    chart.element,
    tools.row,
    pad.element,
    tools.drawer,
  );
  return {
    element,
    shown: () => stage.shown(),
    hidden: () => {
      tools.close();
      stage.hidden();
    },
  };
}

/** Says that the next press replaces or inserts, and lets go of it. @param {Desk} desk */
function makeArmed(desk) {
  const words = make("span", {});
  const element = make("div", { class: "armed" }, words, button("Cancel", () => desk.app.shot.arm({ kind: "append" })));
  desk.app.shot.subscribe(({ armed }) => {
    element.hidden = armed.kind === "append";
    if (armed.kind === "retake") setText(words, `Retake of exposure ${armed.exposure.number}`);
    if (armed.kind === "insert") setText(words, `Insert after exposure ${armed.exposure.number}`);
  });
  return element;
}
