/** Making elements. Text is always text: nothing here takes HTML. */

/** @typedef {Node | string | null | undefined | false} Child */

/**
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} name
 * @param {Record<string, unknown>} [set]  attributes; `on…` are listeners, true/false/null as attributes go
 * @param {...Child} children
 * @returns {HTMLElementTagNameMap[K]}
 */
export function make(name, set = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(set)) apply(element, key, value);
  element.append(...kept(children));
  return element;
}

/** @param {Child[]} children @returns {(Node | string)[]} */
function kept(children) {
  return /** @type {(Node | string)[]} */ (children.filter((one) => one !== null && one !== undefined && one !== false));
}

/** @param {Element} element @param {string} key @param {unknown} value */
function apply(element, key, value) {
  if (key.startsWith("on") && typeof value === "function") {
    element.addEventListener(key.slice(2), /** @type {EventListener} */ (value));
  } else if (value === true) element.setAttribute(key, "");
  else if (value !== false && value !== null && value !== undefined) {
    element.setAttribute(key, String(value));
  }
}

const SVG = "http://www.w3.org/2000/svg";

/**
 * @param {string} name @param {Record<string, string | number>} set @param {...SVGElement} children
 * @returns {SVGElement}
 */
export function draw(name, set = {}, ...children) {
  const element = /** @type {SVGElement} */ (document.createElementNS(SVG, name));
  for (const [key, value] of Object.entries(set)) element.setAttribute(key, String(value));
  element.append(...children);
  return element;
}

/** Put other text there, only when it differs: a live region then speaks once. @param {Element} element @param {string} text */
export function setText(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/** @param {Element} element @param {string} name @param {boolean} on */
export function setState(element, name, on) {
  element.setAttribute(name, on ? "true" : "false");
}

/** @param {string} name @returns {string} a colour from colors.css, for what is drawn on a canvas */
export function colour(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}
