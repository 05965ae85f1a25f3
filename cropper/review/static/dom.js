// Small words for making elements. Text is always text: nothing here takes markup.

const SVG = "http://www.w3.org/2000/svg";

function filled(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  node.append(...children.flat(3).filter((one) => one !== null && one !== undefined && one !== false));
  return node;
}

export function el(tag, attributes, ...children) {
  return filled(document.createElement(tag), attributes, children);
}

export function svg(tag, attributes, ...children) {
  return filled(document.createElementNS(SVG, tag), attributes, children);
}

export const byId = (id) => document.getElementById(id);

export function slug(verdict) {
  return verdict.replaceAll(" ", "-");
}

// A verdict by shape, colour and word.
export function badge(verdict, said = verdict) {
  return el("span", { class: `badge v-${slug(verdict)}` },
    svg("svg", { class: "glyph", "aria-hidden": "true" }, svg("use", { href: `#g-${slug(verdict)}` })),
    el("span", {}, said));
}

export function localTime(iso) {
  return new Date(iso).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", second: "2-digit" });
}

export function localDate(iso) {
  return new Date(iso).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
}
