/** Preview addresses: the service keeps a few widths; asking for one of them lets caches do their work. */

const WIDTHS = [160, 320, 640, 960, 1280, 1920];

/** @param {string} url @param {number} width px wanted @returns {string} */
export function atWidth(url, width) {
  const kept = WIDTHS.find((one) => one >= width) ?? 1920;
  const [path = "", query = ""] = url.split("?");
  const asked = new URLSearchParams(query);
  asked.set("width", String(kept));
  return `${path}?${asked}`;
}
