// The finished file before it is written: as it will be used, at 100 %, and beside proposal 1.
// The drawings round it are our own: a phone, a list, a page, a wall.

import { byId, count, el } from "./dom.js";
import { get } from "./talk.js";

const PPI = "screen ppi";

function address(here, card, proposal = null) {
  const query = proposal === null ? `?at=${encodeURIComponent(card.chosen.box.join("-"))}-${card.chosen.deg}` : `?proposal=${proposal}`;
  return `/finished/${encodeURIComponent(here.version)}/${encodeURIComponent(card.name)}${query}`;
}

function shot(src, alt, size = {}) {
  const image = el("img", { src, alt, draggable: "false" });
  for (const [name, value] of Object.entries(size)) image.style[name] = `${value}px`;
  return image;
}

function zoned(node, box) {
  const [x, y, width, height] = box;
  Object.assign(node.style, { left: `${100 * x}%`, top: `${100 * y}%`, width: `${100 * width}%`, height: `${100 * height}%` });
  return node;
}

// A part of the file, as a window of so many css px across.
function part(src, alt, box, wide, shape) {
  const [x, y, width, height] = box;
  const image = shot(src, alt);
  Object.assign(image.style, { width: `${wide / width}px`, left: `${(-x * wide) / width}px`, top: `${(-y * (wide / width)) / shape}px` });
  const frame = el("div", { class: "part" }, image);
  Object.assign(frame.style, { width: `${wide}px`, height: `${(height * (wide / width)) / shape}px` });
  return frame;
}

function phone(src, alt, card) {
  return el("div", { class: "phone" }, el("div", { class: "glass" }, shot(src, alt), card.covered.map((one) => zoned(el("div", { class: "zone" }, el("span", {}, one.name)), one.box))));
}

function cover(src, alt, card) {
  return el("div", { class: "cover" }, shot(src, alt), card.covered.map((one, at) => zoned(/barcode/.test(one.name) ? el("div", { class: "bars" }) : el("div", { class: `type type-${at % 3}` }, el("span", {}, at ? "A line of type" : "TITLE")), one.box)));
}

function list(src, alt) {
  const row = (size) => el("div", { class: "row-of-list" }, shot(src, size === 72 ? alt : "", { width: size, height: size }), el("div", { class: "lines" }, el("b"), el("i")));
  return el("div", { class: "list" }, [72, 48, 32].map(row));
}

function widths(src, alt, card, shape) {
  const [, , wide, high] = card.chosen.whole;
  const boxes = card.chosen.live.map(({ name, box: [x, y, w, h] }) => ({ name, box: [(x - card.chosen.whole[0]) / wide, (y - card.chosen.whole[1]) / high, w / wide, h / high] }));
  const most = Math.min(860, innerWidth - 120);
  return el("div", { class: "widths" }, boxes.map(({ name, box }) => el("figure", {}, el("div", { class: "browser" }, part(src, `${alt}, ${name}`, box, box[2] > 0.9 ? most : Math.min(most, 390), shape), el("div", { class: "lines" }, el("b"), el("i"), el("i"))), el("figcaption", {}, name))));
}

function spread(src, alt) {
  return el("div", { class: "spread" }, shot(src, alt), el("div", { class: "fold" }));
}

function wall(src, alt, card) {
  const ppi = Number(localStorage.getItem(PPI)) || 0;
  const field = el("input", { type: "number", min: 60, max: 600, value: ppi || "", id: "screen-ppi" });
  const [wide, high] = card.chosen.page_mm;
  const box = el("div", { class: "print-on-wall" }, shot(src, alt));
  const words = el("p", { class: "fine", role: "status" });
  const show = () => {
    const told = Number(field.value);
    if (told >= 60) localStorage.setItem(PPI, String(told));
    const perMm = told >= 60 ? told / (devicePixelRatio || 1) / 25.4 : Math.min(360 / wide, 480 / high);
    box.style.width = `${wide * perMm}px`;
    words.textContent = told >= 60 ? `${Math.round(wide)} × ${Math.round(high)} mm at its true size on this screen` : `${Math.round(wide)} × ${Math.round(high)} mm, not at its true size: enter the pixels per inch of your screen`;
  };
  field.addEventListener("input", show);
  show();
  return el("div", { class: "wall-of-room" }, el("label", {}, "Pixels per inch of this screen ", field), words, box);
}

function inUse(src, alt, card, facts) {
  const shape = facts.width / facts.height;
  if (card.covered.length && card.chosen.page_mm) return cover(src, alt, card);
  if (card.covered.length) return phone(src, alt, card);
  if (card.chosen.round) return list(src, alt);
  if (card.chosen.live.length > 1) return widths(src, alt, card, shape);
  if (card.gutter) return spread(src, alt);
  if (card.chosen.page_mm) return wall(src, alt, card);
  const most = Math.min(facts.width, 620);
  return el("div", { class: "feed" }, shot(src, alt, { width: most }), el("div", { class: "lines" }, el("b"), el("i")));
}

function beforeAfter(here, card, src, alt) {
  const after = shot(src, alt);
  const first = shot(address(here, card, 0), "proposal 1");
  const cut = el("input", { type: "range", min: 0, max: 100, value: 50, "aria-label": "How much of proposal 1 is seen" });
  const frame = el("div", { class: "compared" }, after, first);
  const show = () => { first.style.clipPath = `inset(0 ${100 - Number(cut.value)}% 0 0)`; };
  cut.addEventListener("input", show);
  show();
  return el("div", { class: "comparing" }, el("p", { class: "fine" }, "Left: proposal 1. Right: the crop as it is now."), frame, cut);
}

function words(facts, card) {
  const size = facts.bytes === null ? "" : `, ${facts.bytes < 1e6 ? `${Math.round(facts.bytes / 1e3)} kB` : `${(facts.bytes / 1e6).toFixed(1)} MB`}`;
  const told = [`${facts.width} × ${facts.height} px, ${facts.format}${size}`];
  if (facts.ppi) told.push(`${Math.round(facts.ppi)} pixels per inch on paper`);
  if (facts.stand_in) told.push("shown as a JPEG, because a browser does not show this format");
  if (card.recipient) told.push(`for ${card.recipient}`);
  return [el("p", { class: "fine" }, told.join(" · ")), facts.notes.length ? el("details", {}, el("summary", {}, count(facts.notes.length, "note")), el("ul", {}, facts.notes.map((one) => el("li", {}, one)))) : null];
}

export async function openFinished(here, card, told) {
  const dialog = byId("finished");
  if (!card?.chosen || dialog.open) return;
  const alt = told.words.alt_text || told.words.shared?.alt_text || card.title;
  const body = el("div", { class: "body" }, el("p", { role: "status" }, "Making the finished file ..."));
  const close = el("button", { type: "button", onclick: () => dialog.close() }, "Close");
  const choices = el("div", { class: "ways", role: "group", "aria-label": "How to look at it" });
  const facts = el("div", { class: "facts" });
  dialog.replaceChildren(el("header", {}, el("h2", { id: "finished-title" }, `${card.title}: the finished file`), choices, close), facts, body);
  dialog.showModal();
  try {
    const src = address(here, card);
    const made = await get(`/api${src}`);
    facts.replaceChildren(...words(made, card).filter(Boolean));
    const views = {
      "In use": () => inUse(src, alt, card, made),
      "100 %": () => el("div", { class: "full", tabindex: 0, role: "group", "aria-label": "The file, one pixel to one" }, shot(src, alt, { width: made.width / (devicePixelRatio || 1) })),
      ...(card.proposals.length ? { "Before and after": () => beforeAfter(here, card, src, alt) } : {}),
    };
    const show = (name) => {
      body.replaceChildren(views[name]());
      for (const one of choices.children) one.setAttribute("aria-pressed", String(one.textContent === name));
    };
    choices.replaceChildren(...Object.keys(views).map((name) => el("button", { type: "button", onclick: () => show(name) }, name)));
    show("In use");
  } catch (failure) {
    body.replaceChildren(el("p", { class: "caution" }, failure.message));
  }
}
