/** How a camera's state is told: its shape and colour. */

/** @param {{state: string}} camera @returns {"clear" | "plain" | "warning" | "fault"} */
export function tone({ state: now }) {
  if (now === "ready") return "clear";
  return now === "away" || now === "hung" ? "fault" : "plain";
}
