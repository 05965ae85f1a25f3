// Many crops at once: all of one picture, or one destination of all pictures. Select, then act on
// all that are selected; every action is one step of undo.

import { byId, count, el, glyph, inField, sign, svg, GIVEN } from "./dom.js";
import { back, deed, get, heard, say, whenNews } from "./talk.js";

const main = byId("main");
const version = main.dataset.of;
const destination = main.dataset.destination;
const asked = new URLSearchParams(location.search);
let told = [];
let leaf = { page: Number(asked.get("page")) || 1, pages: 1, found: 0 };
let turn = 0;
const chosen = new Set();
let last = null;

const keyOf = (one) => `${one.version}\n${one.name}`;

function query() {
  const wanted = { version, destination: version ? "" : destination, page: leaf.page, show: byId("show")?.value ?? "", find: byId("find")?.value.trim() ?? "" };
  return new URLSearchParams(Object.entries(wanted).filter(([, value]) => value));
}

function picture(one, side) {
  if (!one.view) return el("span", { class: "none" }, glyph("no crop"));
  const [x, y, width, height] = one.view;
  const wide = Math.min(side, (side * width) / height);
  const sharp = (wide / width) * Math.max(one.width, one.height) * Math.min(devicePixelRatio || 1, 2);
  const longest = [960, 1600].find((size) => size >= 0.9 * sharp) ?? 2880;
  const line = one.eyes !== null && byId("lines").checked ? svg("line", { class: "eyes", x1: x, x2: x + width, y1: y + one.eyes * height, y2: y + one.eyes * height }) : null;
  return svg("svg", { class: `picture${one.round ? " round" : ""}`, viewBox: one.view.join(" "), width: wide.toFixed(1), height: ((wide * height) / width).toFixed(1), "aria-hidden": "true" },
    one.ground ? svg("rect", { x, y, width, height, fill: one.ground }) : null,
    svg("image", { href: `/preview/${encodeURIComponent(one.version)}/${one.tag}/${longest}?for=wall`, width: one.width, height: one.height, preserveAspectRatio: "none", transform: one.deg ? `rotate(${one.deg} ${one.centre[0]} ${one.centre[1]})` : null }), line);
}

// A head that stands out among the others of one destination is told, in shape and word.
function headWords(one, middle) {
  if (one.head === null || one.head === undefined) return "";
  const share = `head ${Math.round(100 * one.head)} %`;
  if (version || !middle) return share;
  if (one.head > 1.15 * middle) return `${share} ▲ larger`;
  if (one.head < middle / 1.15) return `${share} ▼ smaller`;
  return share;
}

function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted.length ? sorted[Math.floor(sorted.length / 2)] : 0;
}

function tile(one, side, middle) {
  const key = keyOf(one);
  const word = one.word ? (one.word.stands ? GIVEN[one.word.word] : "check again") : "";
  const away = one.goes && !one.goes.here;
  const name = version ? one.title : one.version;
  const box = el("input", { type: "checkbox", checked: chosen.has(key), "data-key": key, "aria-label": `Select ${name}`, onclick: (event) => select(key, event.target.checked, event.shiftKey) });
  const pane = el("label", { class: "pane" }, picture(one, side), box);
  pane.style.width = `${side}px`;
  pane.style.minHeight = `${side}px`;
  const item = el("li", { class: `crop${chosen.has(key) ? " selected" : ""}${word ? " decided" : ""}` }, pane,
    el("div", { class: "what" }, sign(one.verdict), el("a", { href: `/look/${encodeURIComponent(one.version)}#${encodeURIComponent(one.name)}` }, name), word ? el("em", {}, word) : null),
    el("div", { class: "fine" }, [headWords(one, middle), away ? `${one.goes.version ?? "no version"} goes here` : ""].filter(Boolean).join(" · ")));
  item.style.width = `${side}px`;
  return item;
}

function show() {
  const side = Number(byId("size").value);
  const middle = median(told.map((one) => one.head).filter((head) => head));
  const focused = document.activeElement?.dataset?.key;
  byId("crops").replaceChildren(...told.map((one) => tile(one, side, middle)));
  if (focused) byId("crops").querySelector(`[data-key="${CSS.escape(focused)}"]`)?.focus({ preventScroll: true });
  byId("selected").textContent = chosen.size ? `${count(chosen.size, "crop")} selected` : "Nothing selected";
  for (const button of document.querySelectorAll(".actions [data-act], .actions [data-shift]")) button.disabled = !chosen.size;
  byId("proposal").disabled = !chosen.size;
  byId("leaves").hidden = leaf.pages === 1;
  byId("leaf").textContent = `Page ${leaf.page} of ${leaf.pages}`;
  byId("leaf-back").disabled = leaf.page === 1;
  byId("leaf-on").disabled = leaf.page === leaf.pages;
}

function select(key, yes, through) {
  const keys = told.map(keyOf);
  const range = through && last ? keys.slice(Math.min(keys.indexOf(last), keys.indexOf(key)), Math.max(keys.indexOf(last), keys.indexOf(key)) + 1) : [key];
  for (const one of range) if (yes) chosen.add(one); else chosen.delete(one);
  last = key;
  show();
}

function selectWhere(wanted) {
  chosen.clear();
  for (const one of told) if (wanted(one)) chosen.add(keyOf(one));
  show();
}

async function act(what) {
  const items = told.filter((one) => chosen.has(keyOf(one))).map((one) => ({ version: one.version, destination: one.name }));
  if (!items.length) return;
  try {
    const answer = await deed("/api/many", { items, ...what });
    await load();
    if (answer.passed.length) say(`${count(answer.passed.length, "crop was", "crops were")} left as before. ${answer.passed.slice(0, 3).join(". ")}`);
  } catch { show(); }
}

const shifts = { up: { up: 1 }, down: { up: -1 }, left: { left: 1 }, right: { left: -1 }, closer: { closer: 1 }, wider: { closer: -1 } };

function shift(name, times = 1) {
  const by = (times * Number(byId("step").value)) / 100;
  if (!(by > 0)) return;
  const [[axis, sign_]] = Object.entries(shifts[name]);
  act({ shift: { [axis]: sign_ * by } });
}

async function load() {
  turn += 1;
  const mine = turn;
  try {
    const answer = await get(`/api/crops?${query()}`);
    if (mine !== turn) return;
    heard(answer);
    told = answer.crops;
    leaf = { page: answer.page, pages: answer.pages, found: answer.found };
    const there = new Set(told.map(keyOf));
    for (const key of chosen) if (!there.has(key)) chosen.delete(key);
    show();
  } catch (failure) { say(failure.message); }
}

byId("select-all").addEventListener("click", () => selectWhere((one) => one.view));
byId("select-good").addEventListener("click", () => selectWhere((one) => one.verdict === "holds" && !one.word?.stands && (!one.goes || one.goes.here)));
byId("select-none").addEventListener("click", () => selectWhere(() => false));
for (const button of document.querySelectorAll("[data-act]")) button.addEventListener("click", () => act({ word: button.dataset.act }));
for (const button of document.querySelectorAll("[data-shift]")) button.addEventListener("click", () => shift(button.dataset.shift));
byId("proposal").addEventListener("change", (event) => {
  if (event.target.value !== "") act({ index: Number(event.target.value) });
  event.target.value = "";
});
for (const id of ["size", "lines"]) byId(id).addEventListener("input", show);
byId("size").value = localStorage.getItem("crops size") ?? 180;
byId("size").addEventListener("change", (event) => localStorage.setItem("crops size", event.target.value));
byId("destination").addEventListener("change", (event) => { if (event.target.value) location.href = `/crops?destination=${encodeURIComponent(event.target.value)}`; });
for (const id of ["show", "find"]) byId(id)?.addEventListener("change", () => { leaf.page = 1; load(); });
for (const [id, step] of [["leaf-back", -1], ["leaf-on", 1]]) byId(id).addEventListener("click", () => { leaf.page += step; load(); scrollTo(0, 0); });

document.addEventListener("keydown", (event) => {
  if (inField(event.target) || event.metaKey || event.altKey) return;
  const arrow = { ArrowUp: "up", ArrowDown: "down", ArrowLeft: "left", ArrowRight: "right", "+": "closer", "-": "wider" }[event.key];
  if (event.ctrlKey) return;
  if (arrow && chosen.size) shift(arrow, event.shiftKey ? 3 : 1);
  else if (event.key === "a") act({ word: "approved" });
  else if (event.key === "h") act({ word: "held" });
  else if (event.key === "r") act({ word: "refused" });
  else if (event.key === "u") back("/api/undo");
  else if (/^[1-9]$/.test(event.key)) act({ index: Number(event.key) - 1 });
  else return;
  event.preventDefault();
});

whenNews(load);
load();
