// Small words for making elements. Text is always text: nothing here takes markup.

const SVG = "http://www.w3.org/2000/svg";
const VERDICTS = JSON.parse(document.body.dataset.verdicts ?? "{}");

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

// The word for a verdict's code.
export const said = (verdict) => VERDICTS[verdict] ?? verdict;

export function glyph(verdict) {
  return svg("svg", { class: `glyph v-${slug(verdict)}`, "aria-hidden": "true" }, svg("use", { href: `#g-${slug(verdict)}` }));
}

// A verdict by shape, colour and word.
export function badge(verdict, words = said(verdict)) {
  return el("span", { class: `badge v-${slug(verdict)}` }, glyph(verdict), el("span", {}, words));
}

// The same without its word, which is read out all the same.
export function sign(verdict) {
  return el("span", { class: `badge v-${slug(verdict)}` }, glyph(verdict), el("span", { class: "unseen" }, `${said(verdict)}: `));
}

export const WORDS = { approved: "Approve", held: "Hold", refused: "Refuse" };
export const GIVEN = { approved: "approved", held: "on hold", refused: "refused" };

export function localTime(iso) {
  return new Date(iso).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", second: "2-digit" });
}

export function localDate(iso) {
  return new Date(iso).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
}

export function count(number, one, more = `${one}s`) {
  return `${number} ${number === 1 ? one : more}`;
}

// Whether a key pressed there belongs to a field, not to the page.
export function inField(target) {
  return target instanceof HTMLElement && (target.isContentEditable || /^(TEXTAREA|SELECT)$/.test(target.tagName)
    || (target.tagName === "INPUT" && !["checkbox", "button"].includes(target.type)));
}

// Only one menu is open at a time; Escape and a click elsewhere close it.
export function menus() {
  const all = () => document.querySelectorAll("details.menu[open]");
  document.addEventListener("click", (event) => {
    for (const one of all()) if (!one.contains(event.target)) one.open = false;
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    for (const one of all()) {
      one.open = false;
      if (one.contains(document.activeElement)) one.querySelector("summary").focus();
    }
  });
}
