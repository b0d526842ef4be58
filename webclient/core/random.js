/** Random names. `crypto.randomUUID` is absent on plain http, `getRandomValues` is not. */

/** @returns {string} 128 random bits in hexadecimal */
export function randomName() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}
