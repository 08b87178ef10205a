// Charts of the program, put in one a frame and only where they changed.

import { make, words, write } from "./dom.js";

/** @typedef {import("./types.js").Chart} Chart */
/** @typedef {{ figure: HTMLElement, holder: HTMLElement, caption: HTMLElement, svg: string, title: string }} Shown */

/** What may stand in a picture; all else is left out. */
const ALLOWED = new Set(["svg", "g", "defs", "title", "desc", "rect", "line", "polyline", "polygon", "path", "circle", "ellipse", "text",
  "tspan", "pattern", "clippath", "lineargradient", "stop", "use", "marker"]);

export class Charts {
  /** @param {HTMLElement} host */
  constructor(host) {
    this.host = host;
    /** @type {Map<string, Shown>} */
    this.shown = new Map();
    /** @type {Map<string, Chart>} */
    this.waiting = new Map();
    this.asked = false;
  }

  /** @param {Chart[]} charts */
  show(charts) {
    for (const chart of charts) this.waiting.set(chart.name, chart);
    const names = new Set(charts.map(({ name }) => name));
    for (const [name, { figure }] of this.shown) {
      if (names.has(name)) continue;
      figure.remove();
      this.shown.delete(name);
      this.waiting.delete(name);
    }
    this.next();
  }

  next() {
    if (this.asked || this.waiting.size === 0) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      for (const [name, chart] of this.waiting) {
        this.waiting.delete(name);
        if (this.put(chart)) break;
      }
      this.next();
    });
  }

  /** Whether the picture is a new one. @param {Chart} chart */
  put(chart) {
    const shown = this.shown.get(chart.name) ?? this.newFigure(chart);
    if (shown.svg === chart.svg && shown.title === chart.title) return false;
    shown.svg = chart.svg;
    shown.title = chart.title;
    const picture = pictureOf(chart);
    if (picture) shown.holder.replaceChildren(picture);
    write(shown.caption, chart.title);
    return true;
  }

  /** @param {Chart} chart @returns {Shown} */
  newFigure(chart) {
    const holder = make("div", { class: "picture" });
    const caption = words("");
    const figure = make("figure", { "data-chart": chart.name }, holder, make("figcaption", {}, caption));
    this.host.append(figure);
    const shown = { figure, holder, caption, svg: "", title: "" };
    this.shown.set(chart.name, shown);
    return shown;
  }
}

/** @param {Chart} chart */
function pictureOf(chart) {
  // The page has the typeface; a style in the text would only be told as refused.
  const plain = chart.svg.replace(/<style\b[^]*?<\/style>/g, "");
  const root = new DOMParser().parseFromString(plain, "image/svg+xml").documentElement;
  if (root.nodeName.toLowerCase() !== "svg") return null;
  clean(root, `chart-${chart.name}-`);
  root.removeAttribute("width");
  root.removeAttribute("height");
  root.setAttribute("role", "img");
  root.setAttribute("aria-label", chart.finding ?? chart.title);
  // The page names the picture; its own title would be shown a second time at every pointing.
  for (const child of [...root.children]) if (/^(title|desc)$/i.test(child.nodeName)) child.remove();
  return document.importNode(root, true);
}

/**
 * Leaves out what is no picture, and gives ids that no other chart has.
 * @param {Element} element
 * @param {string} prefix
 */
function clean(element, prefix) {
  for (const child of [...element.children]) {
    if (ALLOWED.has(child.nodeName.toLowerCase())) clean(child, prefix);
    else child.remove();
  }
  for (const { name, value } of [...element.attributes]) {
    // Names and descriptions are the page's own.
    if (/^on|^style$|^aria-|^role$/i.test(name)) element.removeAttribute(name);
    else if (name === "id") element.setAttribute("id", prefix + value);
    else if (value.includes("url(#")) element.setAttribute(name, value.replaceAll("url(#", `url(#${prefix}`));
    else if (/href$/i.test(name)) value.startsWith("#") ? element.setAttribute(name, `#${prefix}${value.slice(1)}`) : element.removeAttribute(name);
  }
}
