// @ts-check
// Making elements. Words always go in as text, never as markup.

/** @typedef {Node | string | null | undefined | false} Child */

/**
 * @param {Element} element
 * @param {Record<string, any>} said
 * @param {Child[]} children
 */
function fill(element, said, children) {
  for (const [name, value] of Object.entries(said)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(.../** @type {(Node | string)[]} */ (children.filter((c) => c !== null && c !== undefined && c !== false)));
}

/**
 * An element of HTML.
 * @param {string} tag @param {Record<string, any>} [said] @param {...Child} children
 * @returns {HTMLElement}
 */
export function make(tag, said = {}, ...children) {
  const element = document.createElement(tag);
  fill(element, said, children);
  return element;
}

/**
 * An element of SVG.
 * @param {string} tag @param {Record<string, any>} [said] @param {...Child} children
 * @returns {SVGElement}
 */
export function draw(tag, said = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  fill(element, said, children);
  return element;
}

/** @param {string} id @returns {any} */
export const byId = (id) => document.getElementById(id);

/** @param {string} id @param {...Child} children */
export function put(id, ...children) {
  byId(id).replaceChildren(.../** @type {any[]} */ (children.filter((c) => c !== null && c !== undefined && c !== false)));
}

/** A number without needless zeros. @param {number} value @param {number} decimals */
export const short = (value, decimals) => String(Number(value.toFixed(decimals)));

/** Minutes as a maker says them. @param {number} minutes */
export function time(minutes) {
  if (minutes < 1) return `${Math.max(1, Math.round(minutes * 60))} s`;
  const whole = Math.round(minutes);
  return whole < 60 ? `${whole} min` : `${Math.floor(whole / 60)} h ${whole % 60} min`;
}

/** Whether the room is dark. */
export const night = () => (matchMedia("(prefers-color-scheme: dark)").matches ? 1 : 0);

/** A message as a sentence: a capital at the start, a full stop at the end, and what stands in `back quotes` set apart as the
 * words of a file. @param {string} words @returns {HTMLElement} */
export function told(words) {
  const whole = `${words.charAt(0).toUpperCase()}${words.slice(1)}${/[.!?]$/.test(words) ? "" : "."}`;
  return make("span", {}, ...whole.split("`").map((piece, i) => (i % 2 ? make("span", { class: "of-file" }, piece) : piece)));
}
