// Making elements. Text goes in as text, never as markup.

const SVG = "http://www.w3.org/2000/svg";

/** @typedef {Node|string|null} Child */

/**
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag
 * @param {Record<string, string|number|boolean|null>} [attributes]
 * @param {...Child} children
 * @returns {HTMLElementTagNameMap[T]}
 */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  setAll(element, attributes);
  element.append(...present(children));
  return element;
}

/**
 * @template {keyof SVGElementTagNameMap} T
 * @param {T} tag
 * @param {Record<string, string|number|boolean|null>} [attributes]
 * @param {...Child} children
 * @returns {SVGElementTagNameMap[T]}
 */
export function draw(tag, attributes = {}, ...children) {
  const element = /** @type {SVGElementTagNameMap[T]} */ (document.createElementNS(SVG, tag));
  setAll(element, attributes);
  element.append(...present(children));
  return element;
}

/** @param {Child[]} children */
const present = (children) => /** @type {(Node|string)[]} */ (children.filter((child) => child !== null));

/**
 * @param {Element} element
 * @param {Record<string, string|number|boolean|null>} attributes
 */
export function setAll(element, attributes) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === false) element.removeAttribute(name);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
}

/**
 * A stranger's words, in their own direction of writing.
 * @param {string} text
 * @param {string} [name] class
 */
export function words(text, name) {
  const element = make("bdi", name ? { class: name } : {});
  element.textContent = text;
  return element;
}

/**
 * Figures have no direction of their own to be found out, which takes time for each.
 * @param {string} text
 * @param {string} name class
 */
export function figures(text, name) {
  return make("span", { class: name }, text);
}

/**
 * Writes only where it changes something, into the text that stands there.
 * @param {Element} element
 * @param {string} text
 */
export function write(element, text) {
  const standing = element.firstChild;
  if (standing instanceof Text && standing === element.lastChild) {
    if (standing.data !== text) standing.data = text;
  } else if (element.textContent !== text) element.textContent = text;
}

/**
 * An element that page.html holds.
 * @template {HTMLElement} E
 * @param {string} id
 * @param {new () => E} sort
 * @returns {E}
 */
export function part(id, sort) {
  const element = document.getElementById(id);
  if (!(element instanceof sort)) throw new Error(`page.html has no ${id}`);
  return element;
}

/**
 * @param {string} label
 * @param {() => void} press
 * @param {Record<string, string|number|boolean|null>} [attributes]
 */
export function button(label, press, attributes = {}) {
  const element = make("button", { type: "button", ...attributes }, label);
  element.addEventListener("click", press);
  return element;
}
