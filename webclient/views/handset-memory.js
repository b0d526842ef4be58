/** What the handset must know again after a reload: its settings and its lens. */

const CONSTRAINTS = "standclear.handset.constraints";
const DEVICE = "standclear.handset.device";

/** @returns {Record<string, any>} */
export function keptConstraints() {
  try {
    const kept = JSON.parse(localStorage.getItem(CONSTRAINTS) ?? "{}");
    return kept && typeof kept === "object" ? kept : {};
  } catch {
    return {};
  }
}

/** @param {Record<string, any>} values */
export function keepConstraints(values) {
  localStorage.setItem(CONSTRAINTS, JSON.stringify({ ...keptConstraints(), ...values }));
}

export const keptDevice = () => localStorage.getItem(DEVICE) ?? "";

/** @param {string} device another lens has other settings */
export function keepDevice(device) {
  localStorage.setItem(DEVICE, device);
  localStorage.removeItem(CONSTRAINTS);
}
