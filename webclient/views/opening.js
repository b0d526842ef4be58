/** Opening a shot, and coming back to it after a reload. */

/** @import {Desk} from "./desk.js" */

import { asProblem } from "../core/problem.js";

const KEY = "standclear.shot";

/** @param {Desk} desk @param {string} id */
export async function openShot(desk, id) {
  await desk.app.attempt(async () => {
    desk.app.press.forget();
    const opening = desk.app.shot.open(id);
    await shotIsThere(desk, id, opening);
    localStorage.setItem(KEY, id);
    desk.go("shoot");
    await opening; // a long shot's exposures go on arriving behind the work
  });
}

/** @param {Desk} desk @param {string} id @param {Promise<void>} opening */
function shotIsThere(desk, id, opening) {
  return new Promise((there, failed) => {
    opening.catch(failed);
    const end = desk.app.shot.subscribe(({ shot }) => {
      if (shot?.id !== id) return;
      queueMicrotask(() => end());
      there(null);
    });
  });
}

/** The shot that was open on this phone. @param {Desk} desk @returns {Promise<boolean>} whether it is open again */
export async function reopenShot(desk) {
  const id = localStorage.getItem(KEY);
  if (!id) return false;
  try {
    await desk.app.shot.open(id);
    return true;
  } catch (error) {
    if (asProblem(error).status === 404) localStorage.removeItem(KEY); // deleted, or another library
    return false;
  }
}
