// One master at the large, its crop beside it as it will appear, and the photographer's hand.

import { badge, byId, count, el, inField, menus } from "./dom.js";
import { CropView, picture } from "./draw.js";
import { openFinished } from "./finished.js";
import { hasBleed, keepNote, mainBox, openCard, runsPart, sizeFor, tile, wordsPart } from "./panel.js";
import { Stage } from "./stage.js";
import { allSaved, ask, back, before, deed, get, heard, hush, say, whenNews } from "./talk.js";
import { Walk } from "./walk.js";

const main = byId("main");
const here = { version: main.dataset.version, tag: main.dataset.tag, width: Number(main.dataset.width), height: Number(main.dataset.height) };
const path = `/api/master/${encodeURIComponent(here.version)}`;
let told = null;
let recorded = { runs: {}, said: "" };
let open = decodeURIComponent(location.hash.slice(1));

const cardOf = (name) => told.cards.find((one) => one.name === name);
const opened = () => cardOf(open);

// ---- live measuring: one question at a time, the newest wish wins

let asking = false;
let wished = null;

async function measure(frame) {
  wished = { name: open, frame };
  if (asking) return;
  asking = true;
  while (wished) {
    const { name, frame: now } = wished;
    wished = null;
    const began = performance.now();
    try {
      const answer = await ask("/api/measure", { version: here.version, destination: name, frame: now });
      timings.push(performance.now() - began);
      if (name === open && stage.drag) showLive(answer.crop);
    } catch (failure) { say(failure.message); }
  }
  asking = false;
}
const timings = [];
globalThis.cropperTimings = timings;

// ---- saving: at once; while one save is under way only the newest wish waits. An answer is shown
// only when no newer wish waits, so a slow machine never takes a press back.

let saving = null;
let toSave = null;

function save(frame, gesture, name = open) {
  toSave = { name, frame, gesture };
  saving ??= saveAll().finally(() => { saving = null; });
  return saving;
}

async function saveAll() {
  while (toSave) {
    const { name, frame: now, gesture: joined } = toSave;
    toSave = null;
    try {
      const answer = await deed("/api/adjust", { version: here.version, destination: name, frame: now, gesture: joined });
      took(answer, { newer: Boolean(toSave) || Boolean(stage.drag) });
    } catch {
      toSave = null;
      showAll();
    }
  }
}

before.undo = async () => {
  await keepNote();
  await saving;
};

function took(answer, { newer = false, keep = true } = {}) {
  if (answer.master) told = answer.master;
  if (answer.card) {
    told.cards = told.cards.map((one) => (one.name === answer.card.name ? answer.card : one));
    for (const one of told.cards) one.goes = answer.goes[one.name];
  }
  if (newer) return;
  if (answer.card) showCard(answer.card, keep);
  else showAll();
}

// ---- the stage

const stage = new Stage(byId("mount"), here, {
  wished: measure,
  done: save,
  left: () => showStanding(opened()?.chosen),
  said: (text) => byId("standing").replaceChildren(text),
  pointed,
  // A master that is gone, or is no longer what was planned, says so in the server's words.
  missing: async (source) => { try { await get(source); } catch (failure) { say(failure.message); } },
});

function pointed(kind, points) {
  const marks = { ...told.marks };
  const [person] = told.principals;
  if (kind === "eyes") Object.assign(marks, { eyes: points, crown: null, chin: null });
  else if (kind === "eye0") marks.eyes = [points[0], person.eyes[1]];
  else if (kind === "eye1") marks.eyes = [person.eyes[0], points[0]];
  else marks[kind] = points[0];
  mark(marks);
}

async function mark(marks) {
  byId("standing").replaceChildren("Working out the crops for these points ...");
  try { took(await deed("/api/mark", { version: here.version, marks })); } catch { showAll(); }
}

// Under the picture: only what is not good, in a few words.
function showStanding(crop) {
  const line = byId("standing");
  if (!crop) {
    line.replaceChildren(badge("no crop"), el("span", {}, told.problem ?? ""));
    return;
  }
  const off = crop.rules.filter((one) => one.verdict !== "holds");
  if (crop.verdict === "holds" && !off.length && !stage.drag) { line.replaceChildren(); return; }
  const doubt = off.length || crop.verdict === "holds" ? [] : [el("span", {}, crop.reasons[0] ?? "")];
  line.replaceChildren(badge(crop.verdict), ...doubt, ...off.slice(0, 4).map((one) => badge(one.verdict, /[%a-z]/.test(one.value) ? `${one.title} ${one.value}` : one.title)));
}

function showNumbers(crop) {
  const card = opened();
  const off = !crop || card.fixed_frame;
  const values = crop ? { left: crop.box[0], top: crop.box[1], width: crop.box[2] - crop.box[0], height: crop.box[3] - crop.box[1], deg: crop.deg } : {};
  for (const name of ["left", "top", "width", "height", "deg"]) {
    const field = byId(`n-${name}`);
    field.disabled = off;
    if (document.activeElement !== field || !field.dataset.typed) field.value = values[name] ?? "";
  }
  for (const id of ["closer", "wider", "level", "line", "finger"]) byId(id).disabled = off;
  byId("reset").disabled = !card?.proposals.length || card.index === 0;
  byId("lie").hidden = !card?.turnable;
  byId("lie").disabled = off;
}

// ---- the crop beside the master, as it will appear

let view = null;

function arrange() {
  const work = byId("work");
  const card = told ? opened() : null;
  const crop = card?.chosen;
  const { clientWidth: width, clientHeight: height } = work;
  const single = !crop || width < 560;
  byId("result").hidden = single;
  work.dataset.split = "none";
  if (single) {
    work.style.removeProperty("--split");
    return;
  }
  const a = here.width / here.height;
  const box = mainBox(crop);
  const b = box[2] / box[3];
  const area = (w, h, shape) => Math.min(w, h * shape) * Math.min(h, w / shape);
  let best = { seen: -1 };
  for (const share of [0.42, 0.46, 0.5, 0.54, 0.58, 0.62, 0.66]) {
    const across = area(width * share, height, a) + area(width * (1 - share), height, b);
    const down = area(width, height * share, a) + area(width, height * (1 - share), b);
    if (across > best.seen) best = { seen: across, split: "across", share };
    if (down > best.seen) best = { seen: down, split: "down", share };
  }
  work.dataset.split = best.split;
  work.style.setProperty("--split", `${100 * best.share}%`);
}

function altOf(card) {
  const text = told.words.alt_text || told.words.shared?.alt_text;
  return text || `${card.title}, ${card.chosen?.shot ?? "no crop"}. No alt text is written yet`;
}

function showResult(crop = opened()?.chosen) {
  const pane = byId("result");
  const card = opened();
  if (!crop || pane.hidden) { pane.replaceChildren(); view = null; return; }
  const box = mainBox(crop);
  const room = { width: pane.clientWidth - 24, height: pane.clientHeight - 44 };
  const wide = Math.max(20, sizeFor(box, room));
  const alt = altOf(card);
  if (!view || view.key !== `${card.name} ${alt}`) {
    const made = new CropView(here, { alt, round: crop.round });
    const words = crop.round ? "as the circle shows it" : hasBleed(crop) ? "with its bleed; the veiled edge is cut off" : "as it will appear";
    view = { key: `${card.name} ${alt}`, made };
    pane.replaceChildren(el("figure", {}, made.node, el("figcaption", {}, words)));
  }
  view.made.show(crop, box, wide);
}

new ResizeObserver(() => { if (told) { arrange(); showResult(); } }).observe(byId("work"));

// While the hand moves only what depends on the crop is drawn anew: a note under way stays.
function showLive(crop) {
  showResult(crop);
  showStanding(crop);
}

async function choose(name, index) {
  const wanted = cardOf(name)?.proposals[index];
  if (!wanted) return;
  if (cardOf(name).frozen) { say("This crop is frozen. Unfreeze it to change it.", [["Unfreeze", () => { hush(); freeze(false, name); }]]); return; }
  await saving;
  try {
    took(await deed("/api/choose", { version: here.version, destination: name, index }), { keep: false });
  } catch { showAll(); }
}

async function freeze(frozen, name = open) {
  await before.undo();
  try { took(await deed("/api/freeze", { version: here.version, destination: name, frozen })); } catch { showAll(); }
}

async function speak(word, name = open) {
  await before.undo();
  try {
    took(await deed("/api/say", { version: here.version, destinations: [name], word }));
    return true;
  } catch {
    showAll();
    return false;
  }
}

async function note(name, text) {
  try {
    const answer = await deed("/api/note", { version: here.version, destination: name, note: text });
    told.cards = told.cards.map((one) => (one.name === name ? { ...one, note: answer.card.note, word: answer.card.word } : one));
    return true;
  } catch { return false; }
}

async function words(texts) {
  try {
    const answer = await ask("/api/words", { version: here.version, ...texts });
    told.words = answer.words;
    byId("saved").textContent = "Words saved";
    view = null;
    showResult();
    document.querySelector("#open-card .words")?.replaceWith(wordsPart(told, doing));
    showStageAlt();
  } catch (failure) { say(failure.message); }
}

function showStageAlt() {
  const text = told.words.alt_text || told.words.shared?.alt_text || "No alt text is written yet";
  byId("stage").setAttribute("aria-label", `${here.version}: ${text}`);
}

const doing = {
  here,
  told: () => told,
  recorded: () => recorded,
  choose,
  freeze,
  speak: (word) => speak(word),
  note,
  words,
  open: openUp,
  draw: () => save({ box: opened().start, deg: 0, anchor: "centre" }, ""),
  placeEyes,
  finished: () => openFinished(here, opened(), told),
  approve,
  walk: () => walk,
};

// ---- the panel and the strip of all crops

function showCards() {
  const groups = new Map();
  for (const card of told.cards) {
    if (!groups.has(card.group)) groups.set(card.group, []);
    groups.get(card.group).push(card);
  }
  byId("tiles").replaceChildren(...[...groups].map(([group, cards]) => el("section", { class: "kin", "aria-label": group || "other" },
    el("h2", { "aria-hidden": "true" }, group || "other"), el("div", { class: "tiles" }, cards.map((card) => tile(card, doing, card.name === open))))));
  showTile();
}

function showTile() {
  byId("tiles").querySelector('[aria-current="true"]')?.scrollIntoView({ block: "nearest", inline: "center", behavior: "instant" });
}

function showCard(card, keep = false) {
  const focused = document.activeElement?.closest("#tiles, #panel");
  const key = focusKey();
  const old = document.querySelector(`#tiles [data-name="${CSS.escape(card.name)}"]`);
  old?.replaceWith(tile(card, doing, card.name === open));
  if (card.name === open) showOpened(keep);
  if (focused) refocus(key);
}

function focusKey() {
  const one = document.activeElement;
  const place = one?.closest("[data-key], [data-word], .tile");
  if (!place) return null;
  if (place.dataset.key) return `[data-key="${CSS.escape(place.dataset.key)}"]`;
  if (place.dataset.word) return `[data-word="${place.dataset.word}"]`;
  return `#tiles [data-name="${CSS.escape(place.dataset.name)}"]`;
}

function refocus(key) {
  const target = key && document.querySelector(key);
  if (target) target.focus({ preventScroll: true });
  else if (document.activeElement === document.body) byId("open-card")?.focus({ preventScroll: true });
}

function showOpened(keep = false) {
  const card = opened();
  const unfolded = [...document.querySelectorAll("#open-card details[open]")].map((one) => one.dataset.part);
  const draft = document.querySelector("#open-card .word input");
  const typing = draft && document.activeElement === draft && draft.dataset.name === card?.name ? { value: draft.value, at: draft.selectionStart } : null;
  arrange();
  byId("open").replaceChildren(card ? openCard(card, doing) : el("p", { class: "fine" }, "This picture is planned for no destination."));
  for (const part of unfolded) document.querySelector(`#open-card details[data-part="${part}"]`)?.setAttribute("open", "");
  if (typing) {
    const field = document.querySelector("#open-card .word input");
    field.value = typing.value;
    field.focus({ preventScroll: true });
    field.setSelectionRange(typing.at, typing.at);
    field.dispatchEvent(new Event("input"));
  }
  stage.show(card?.chosen ?? null, { adjustable: Boolean(card?.chosen) && !card.fixed_frame, keep });
  showResult();
  showStanding(card?.chosen ?? null);
  showNumbers(card?.chosen ?? null);
}

async function openUp(name, { focus = true } = {}) {
  keepNote();
  await saving;
  if (!cardOf(name)) return;
  open = name;
  history.replaceState(null, "", `${location.search}#${encodeURIComponent(name)}`);
  showCards();
  showOpened();
  if (focus) byId("open-card").focus({ preventScroll: true });
  walk.at(here.version, open);
}

// ---- people

function peopleTools() {
  const box = byId("people");
  if (!told.people_known) {
    box.replaceChildren(el("button", { type: "button", onclick: findAgain }, "Find everybody again"));
    return;
  }
  if (!told.people.length) { box.replaceChildren(el("p", { class: "fine" }, told.problem ?? "Nobody was found. Place the eyes.")); return; }
  box.replaceChildren(...told.people.map((one) => el("fieldset", {}, el("legend", {}, `Person ${one.number}`),
    el("label", {}, el("input", { type: "checkbox", checked: one.principal, disabled: one.excluded || Boolean(told.marks.eyes), onchange: (event) => name(one.number, event.target.checked) }), "the picture is about them"),
    el("label", {}, el("input", { type: "checkbox", checked: one.excluded, onchange: (event) => exclude(one.number, event.target.checked) }), "not a person"),
    el("span", { class: "fine" }, [one.estimated ? "eyes estimated" : null, one.doubt || one.why].filter(Boolean).join(": ")))));
}

function name(number, yes) {
  const named = new Set(told.people.filter((one) => one.principal).map((one) => one.number));
  if (yes) named.add(number); else named.delete(number);
  mark({ ...told.marks, principal: [...named].sort((a, b) => a - b) });
}

function exclude(number, yes) {
  const out = new Set(told.marks.excluded);
  if (yes) out.add(number); else out.delete(number);
  mark({ ...told.marks, excluded: [...out].sort((a, b) => a - b), principal: told.marks.principal.filter((one) => !out.has(one)) });
}

async function findAgain() {
  byId("people").replaceChildren(el("p", { class: "fine" }, "Looking for everybody ..."));
  try {
    const answer = await ask("/api/people", { version: here.version });
    heard(answer);
    took(answer);
  } catch (failure) { say(failure.message); showAll(); }
}

function setMode(mode) {
  document.querySelector(`input[name="mode"][value="${mode}"]`).checked = true;
  for (const one of document.querySelectorAll(".crop-only")) one.hidden = mode !== "crop";
  for (const one of document.querySelectorAll(".people-only")) one.hidden = mode !== "people";
  stage.setMode(mode);
}

function placeEyes() {
  setMode("people");
  stage.place("eyes", 2);
}

// ---- everything

function showAll() {
  if (!cardOf(open)) open = told.cards[0]?.name ?? "";
  const key = focusKey();
  byId("remarks").replaceChildren(...told.remarks.map((one) => el("p", { class: "fine" }, one)),
    told.problem ? el("p", { class: "caution" }, `${told.problem}. `, el("button", { type: "button", onclick: placeEyes }, "Place both eyes")) : "",
    told.principals.some((one) => one.estimated) ? el("p", { class: "caution" }, "The eyes are estimated, not seen. Check the pupils and correct them.") : "");
  stage.showPeople(told);
  showStageAlt();
  showCards();
  showOpened();
  peopleTools();
  if (key) refocus(key);
}

function showRecorded(answer) {
  recorded = answer;
  if (answer.said) say(answer.said);
  const part = opened() && runsPart(opened(), doing);
  const old = document.querySelector("#open-card .runs");
  if (old) old.replaceWith(part ?? "");
  else if (part) document.querySelector("#open-card .words")?.after(part);
}

async function load() {
  try {
    const answer = await get(path);
    heard(answer);
    told = answer.master;
    showAll();
    walk.at(here.version, open);
    showRecorded(await get(`/api/runs/${encodeURIComponent(here.version)}`));
  } catch (failure) { say(failure.message); }
}

whenNews((why, step) => {
  if (why === "back" && step?.destination && cardOf(step.destination)) open = step.destination;
  load();
});

// ---- on to the next

const walk = new Walk({
  leave: allSaved,
  open: (destination) => openUp(destination),
  nothing: () => say("Nothing is left to check with this filter.", [["Approve and deliver", () => { location.href = "/deliver"; }]]),
});

async function approve() {
  const card = opened();
  if (!card?.chosen) { walk.on(); return; }
  if (!(card.word?.stands && card.word.word === "approved") && !(await speak("approved"))) return;
  await walk.on();
}

async function approveGood() {
  const good = told.cards.filter((one) => one.chosen && one.verdict === "holds" && !one.word?.stands && (!one.goes || one.goes.here));
  if (!good.length) { say("No good crop of this picture is waiting."); return; }
  await before.undo();
  try {
    took(await deed("/api/say", { version: here.version, destinations: good.map((one) => one.name), word: "approved" }));
    byId("saved").textContent = `Approved ${count(good.length, "good crop")}`;
    walk.at(here.version, open);
  } catch { showAll(); }
}
doing.approveGood = approveGood;

// ---- the crop alone, while a key is held or until a click

function showAlone(crop) {
  const box = byId("alone");
  if (!crop) return;
  const wide = sizeFor(crop.seen, { width: innerWidth - 48, height: innerHeight - 48 });
  box.replaceChildren(picture(here, crop, { wide, round: crop.round, marks: false, alt: altOf(opened()) }));
  box.hidden = false;
}

function hideAlone() {
  byId("alone").hidden = true;
}
doing.alone = () => showAlone(opened()?.chosen);
byId("alone").addEventListener("click", hideAlone);

// ---- keys of the whole page

const deedsOfKeys = {
  a: approve,
  A: approveGood,
  n: () => walk.on(),
  b: () => walk.back(),
  h: () => speak(pressed("held") ? null : "held"),
  r: () => speak(pressed("refused") ? null : "refused"),
  u: () => back("/api/undo"),
  c: () => showAlone(opened()?.chosen),
  o: () => showAlone(opened()?.proposals[0]),
  x: () => doing.finished(),
  z: () => stage.toggleOneToOne(),
  0: () => stage.fit(),
  f: fold,
  g: () => document.body.classList.toggle("no-guides"),
  d: () => { location.href = `/crops?version=${encodeURIComponent(here.version)}`; },
  l: level,
  s: () => stage.place("line", 2),
  t: () => document.querySelector("#open-card .word input")?.focus(),
  "?": () => byId("keys").showModal(),
};

const pressed = (word) => opened()?.word?.stands && opened().word.word === word;

document.addEventListener("keydown", (event) => {
  if (!told || document.querySelector("dialog[open]") || inField(event.target)) return;
  if (event.key === " " && !/^(BUTTON|SUMMARY|INPUT|A)$/.test(event.target.tagName)) {
    stage.panning = true;
    stage.draw();
    event.preventDefault();
    return;
  }
  if (stage.key(event)) { event.preventDefault(); return; }
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const number = Number(event.key);
  if (number >= 1 && number <= 9) {
    choose(open, number - 1);
    event.preventDefault();
    return;
  }
  const deedOf = deedsOfKeys[event.key] ?? deedsOfKeys[event.shiftKey ? "" : event.key.toLowerCase()];
  if (!deedOf || event.repeat) return;
  event.preventDefault();
  deedOf();
});
document.addEventListener("keyup", (event) => {
  if (event.key === " ") { stage.panning = false; stage.draw(); }
  if (["c", "o"].includes(event.key.toLowerCase())) hideAlone();
});
window.addEventListener("blur", () => { hideAlone(); stage.panning = false; });

// ---- tools

for (const box of document.querySelectorAll('input[name="layer"]')) {
  const kept = localStorage.getItem(`layer ${box.value}`);
  if (kept) box.checked = kept === "on";
  const show = () => document.body.classList.toggle(`hide-${box.value}`, !box.checked);
  box.addEventListener("change", () => { localStorage.setItem(`layer ${box.value}`, box.checked ? "on" : "off"); show(); });
  show();
}
for (const radio of document.querySelectorAll('input[name="mode"]')) radio.addEventListener("change", () => setMode(radio.value));

function fold() {
  const folded = document.body.classList.toggle("folded");
  byId("fold").setAttribute("aria-pressed", String(folded));
  byId("fold").textContent = folded ? "Show panels" : "Hide panels";
  localStorage.setItem("folded", folded ? "yes" : "no");
}
if (localStorage.getItem("folded") === "yes") fold();
byId("fold").addEventListener("click", fold);
byId("show-keys").addEventListener("click", () => byId("keys").showModal());
byId("finger").addEventListener("click", (event) => {
  const moves = event.currentTarget.getAttribute("aria-pressed") !== "true";
  event.currentTarget.setAttribute("aria-pressed", String(moves));
  stage.setFinger(moves);
});
byId("in").addEventListener("click", () => stage.zoomBy(1.5));
byId("out").addEventListener("click", () => stage.zoomBy(1 / 1.5));
byId("fit").addEventListener("click", () => stage.fit());
byId("one").addEventListener("click", () => stage.zoomTo(1));
byId("jump").addEventListener("change", async (event) => {
  const target = event.target.value;
  await allSaved();
  location.href = `/look/${encodeURIComponent(target)}${location.search}#${encodeURIComponent(open)}`;
});
byId("closer").addEventListener("click", () => stage.zoom(0.95));
byId("wider").addEventListener("click", () => stage.zoom(1 / 0.95));
function level() {
  const tilts = told.principals.map((one) => one.tilt_deg);
  if (tilts.length) stage.turn(tilts.reduce((sum, one) => sum + one, 0) / tilts.length);
}
byId("level").addEventListener("click", level);
byId("line").addEventListener("click", () => { byId("exact").open = false; stage.place("line", 2); });
byId("reset").addEventListener("click", () => choose(open, 0));
byId("lie").addEventListener("click", () => {
  const [x0, y0, x1, y1] = opened().chosen.box;
  const [cx, cy, w, h] = [(x0 + x1) / 2, (y0 + y1) / 2, y1 - y0, x1 - x0];
  save({ box: [cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2], deg: opened().chosen.deg, anchor: "centre" }, "");
});
byId("snap").addEventListener("change", (event) => { stage.snaps = event.target.checked; });
const placing = (kind, points) => () => { byId("people-menu").open = false; stage.place(kind, points); };
byId("place-eyes").addEventListener("click", placing("eyes", 2));
byId("place-crown").addEventListener("click", placing("crown", 1));
byId("place-chin").addEventListener("click", placing("chin", 1));
byId("unmark").addEventListener("click", () => mark({ eyes: null, crown: null, chin: null, principal: [], excluded: [] }));

function typed(which) {
  const crop = opened()?.chosen;
  if (!crop) return;
  const [x0, y0, x1, y1] = crop.box;
  const value = Number(byId(`n-${which}`).value);
  if (!Number.isFinite(value)) return;
  const ratio = (x1 - x0) / (y1 - y0);
  if (which === "deg") { stage.turn(value); return; }
  let [left, top, width, height] = [x0, y0, x1 - x0, y1 - y0];
  if (which === "left") left = value;
  if (which === "top") top = value;
  if (which === "width") [width, height] = [value, opened().shape.includes(" to ") ? height : value / ratio];
  if (which === "height") [width, height] = [opened().shape.includes(" to ") ? width : value * ratio, value];
  if (width >= 1 && height >= 1) save({ box: [left, top, left + width, top + height], deg: crop.deg, anchor: "top left" }, "");
}
for (const which of ["left", "top", "width", "height", "deg"]) {
  const field = byId(`n-${which}`);
  field.addEventListener("input", () => { field.dataset.typed = "yes"; });
  field.addEventListener("change", () => { delete field.dataset.typed; typed(which); });
}
window.addEventListener("hashchange", () => { const target = decodeURIComponent(location.hash.slice(1)); if (told && target !== open && cardOf(target)) openUp(target); });
document.body.classList.toggle("touch", navigator.maxTouchPoints > 0);
menus();
load();
