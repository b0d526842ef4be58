/** The battery, where the browser tells. */

/** @import {HandsetHealth} from "../models/handset-health.js" */

/** @param {HandsetHealth} health */
export async function watchPower(health) {
  const battery = await /** @type {any} */ (navigator).getBattery?.().catch(() => null);
  if (!battery) return;
  const read = () => health.patch({ battery: Math.round(battery.level * 100), charging: battery.charging });
  for (const change of ["levelchange", "chargingchange"]) battery.addEventListener(change, read);
  read();
}
