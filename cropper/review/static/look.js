// One master at the large, every destination as it will appear, and the photographer's hand.

import { badge, byId, el, localDate } from "./dom.js";
import { moved, picture } from "./draw.js";
import { Stage } from "./stage.js";
import { ask, deed, get, heard, say, whenNews } from "./talk.js";

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

// ---- saving: at once; while one save is under way only the newest wish waits

let saving = false;
let toSave = null;

async function save(frame, gesture) {
  toSave = { name: open, frame, gesture };
  if (saving) return;
  saving = true;
  while (toSave) {
    const { name, frame: now, gesture: joined } = toSave;
    toSave = null;
    try {
      const answer = await deed("/api/adjust", { version: here.version, destination: name, frame: now, gesture: joined });
      took(answer, { quiet: Boolean(toSave) });
    } catch {
      toSave = null;
      showAll();
    }
  }
  saving = false;
}

function took(answer, { quiet = false } = {}) {
  if (answer.master) told = answer.master;
  if (answer.card) {
    told.cards = told.cards.map((one) => (one.name === answer.card.name ? answer.card : one));
    for (const one of told.cards) one.goes = answer.goes[one.name];
  }
  if (quiet) {
    if (answer.card?.name === open) showLive(answer.card.chosen);
    return;
  }
  if (answer.card) showCard(answer.card);
  else showAll();
}

// ---- the stage

const stage = new Stage(byId("stage"), here, {
  wished: measure,
  done: save,
  left: () => showStanding(opened()?.chosen),
  said: (text) => byId("standing").replaceChildren(text),
  pointed,
});

// A master that is gone, or is no longer what was planned, says so in the server's words.
stage.image.addEventListener("error", async () => {
  try { await get(stage.image.getAttribute("href")); } catch (failure) { say(failure.message); }
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
  byId("standing").replaceChildren("Following the points ...");
  try { took(await deed("/api/mark", { version: here.version, marks })); } catch { showAll(); }
}

function showStanding(crop) {
  const line = byId("standing");
  if (!crop) {
    line.replaceChildren(badge("no crop"), el("span", {}, told.problem ?? opened()?.no_crop?.sentence ?? ""));
    return;
  }
  const off = crop.rules.filter((one) => one.verdict !== "holds");
  const rest = off.length ? [] : [el("span", {}, `all ${crop.rules.length} rules hold`)];
  line.replaceChildren(badge(crop.verdict), ...off.slice(0, 5).map((one) => badge(one.verdict, /[%a-z]/.test(one.value) ? `${one.title} ${one.value}` : one.title)), ...rest);
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
  for (const id of ["closer", "wider", "level"]) byId(id).disabled = off;
  byId("lie").hidden = !card?.turnable;
  byId("lie").disabled = off;
}

// ---- the open card

function sizeFor(box, most) {
  return Math.min(most.width, (most.height * box[2]) / box[3]);
}

const hasBleed = (crop) => !crop.round && crop.whole.join() !== crop.seen.join();
const viewBoxes = (crop) => [hasBleed(crop) ? crop.whole : crop.seen, ...crop.live.map((one) => one.box)];

function mainView(card, crop) {
  const whole = hasBleed(crop);
  const [box] = viewBoxes(crop);
  const room = Math.min(byId("cards").clientWidth - 40, 700);
  const wide = sizeFor(box, { width: box[2] > 1.2 * box[3] ? room : Math.min(room, 340), height: 360 });
  const said = crop.round ? "as the circle shows it" : whole ? "with its bleed; the knife takes the veiled edge" : "as it will appear";
  const figures = [el("figure", {}, picture(here, crop, { box, wide, round: crop.round, alt: `${card.title}, ${crop.shot}, ${said}` }), el("figcaption", {}, said))];
  for (const live of crop.live) {
    const narrow = sizeFor(live.box, { width: Math.min(room, 300), height: 150 });
    figures.push(el("figure", {}, picture(here, crop, { box: live.box, wide: narrow, marks: false, alt: `${card.title} as seen on ${live.name}` }), el("figcaption", {}, live.name)));
  }
  return figures;
}

function ruleRow(one) {
  return el("li", {}, badge(one.verdict), el("span", {}, one.title), el("span", { class: "number" }, `${one.value} ${one.doubt}`.trim(), one.target !== "–" ? el("span", { class: "fine" }, ` (aim ${one.target})`) : null),
    one.verdict === "holds" ? null : el("span", { class: "said" }, one.sentence));
}

const shownPart = (card, crop) => el("div", { class: "shown" }, mainView(card, crop));

const toldPart = (crop) => el("div", { class: "told" }, badge(crop.verdict, `${crop.verdict}: ${crop.shot}`),
  ...crop.reasons.map((one, at) => el("p", { class: at ? "" : "lead" }, one)), el("p", { class: "fine" }, crop.pixels));

const rulesPart = (crop) => el("ul", { class: "rules" }, crop.rules.map(ruleRow));

// While the hand moves only what depends on the crop is drawn anew: a note under way stays.
function showLive(crop) {
  const card = opened();
  const views = document.querySelectorAll("#open-card .shown .picture");
  const boxes = viewBoxes(crop);
  if (views.length === boxes.length) views.forEach((view, at) => moved(view, crop, boxes[at]));
  else document.querySelector("#open-card .shown")?.replaceWith(shownPart(card, crop));
  document.querySelector("#open-card .told")?.replaceWith(toldPart(crop));
  if (document.querySelector("#open-card details")?.open) document.querySelector("#open-card .rules").replaceWith(rulesPart(crop));
  showStanding(crop);
  if (!stage.drag) stage.show(crop, { adjustable: !card.fixed_frame });
  showNumbers(crop);
}

function byWhom(card) {
  const { choice } = card;
  if (!choice) return null;
  if (choice.state === "look again") return el("p", { class: "caution" }, "Look again: the ground of your choice has changed since. Approve it, or choose anew.");
  return el("p", { class: "fine" }, choice.by_hand ? `${choice.state} by you, ${localDate(choice.at)}; a later plan leaves it alone` : "proposed; nobody has chosen yet");
}

function proposals(card) {
  if (!card.proposals.length) return null;
  const buttons = card.proposals.map((one, at) => el("button", { type: "button", "aria-pressed": card.index === at ? "true" : "false", onclick: () => choose(card.name, at) },
    picture(here, one, { wide: sizeFor(one.seen, { width: 130, height: 110 }), round: one.round, marks: false }),
    el("span", {}, `${at + 1}. ${one.kind}`), badge(one.verdict)));
  return el("div", { class: "choices", role: "group", "aria-label": "Proposals" }, buttons, card.index === null && card.chosen ? el("p", { class: "fine" }, "The crop shown is your own.") : null);
}

async function choose(name, index) {
  try {
    took(await deed("/api/choose", { version: here.version, destination: name, index }));
    document.querySelectorAll("#open-card .choices button")[index]?.focus();
  } catch { showAll(); }
}

const WORDS = { approved: "Approve", held: "Hold", refused: "Refuse" };

function wordPart(card) {
  if (!card.chosen) return null;
  const note = el("input", { type: "text", maxlength: 2000, value: card.word?.note ?? "" });
  const speak = async (word) => {
    const same = card.word?.stands && card.word.word === word && (card.word.note ?? "") === note.value.trim();
    try {
      took(await deed("/api/say", { version: here.version, destinations: [card.name], word: same ? null : word, note: note.value }));
      document.querySelector(`#open-card [data-word="${word}"]`)?.focus();
    } catch { showAll(); }
  };
  const given = card.word;
  const when = given ? `${given.word} ${localDate(given.at)}${given.stands ? "" : ", but the crop changed since: look again"}` : "no word yet";
  return el("div", { class: "word", role: "group", "aria-label": `Your word on ${card.title}` },
    Object.entries(WORDS).map(([word, label]) => el("button", { type: "button", "data-word": word, "aria-pressed": given?.stands && given.word === word ? "true" : "false", onclick: () => speak(word) }, label)),
    el("label", {}, "Note", note),
    el("p", { class: given && !given.stands ? "caution" : "fine" }, when));
}

// What the record says of this deliverable: where it runs, and what would stand in its way.
function runsPart(card) {
  const lines = recorded.runs[card.name] ?? [];
  if (!lines.length) return null;
  return el("div", { class: "runs", role: "group", "aria-label": `Where ${card.title} runs` },
    el("h4", {}, "On record"),
    el("ul", {}, lines.map((one) => el("li", { class: one.clashes.length ? "caution" : null }, one.sentence,
      one.clashes.length ? el("ul", {}, one.clashes.map((clash) => el("li", {}, clash))) : null))));
}

function refusal(card) {
  const why = card.no_crop;
  const start = told.principals.length
    ? el("button", { type: "button", onclick: () => save({ box: card.start, deg: 0, anchor: "centre" }, "") }, "Draw one by hand")
    : el("button", { type: "button", onclick: placeEyes }, "Place the eyes by hand");
  return el("div", { class: "told" }, badge("no crop"), el("p", { class: "lead" }, why?.sentence ?? "Nothing is proposed here."),
    (why?.conflicts ?? []).filter((one) => !why.sentence.includes(one)).map((one) => el("p", {}, one)),
    why?.ways_out.length ? el("ul", {}, why.ways_out.map((one) => el("li", {}, one))) : null, el("p", {}, start));
}

function openCard(card) {
  const { chosen } = card;
  const goes = card.goes && !card.goes.here ? el("p", { class: "caution" }, card.goes.version ? `Of the set ${card.goes.set}, ${card.goes.version} goes here.` : `No version of the set ${card.goes.set} goes here.`) : null;
  return el("article", { class: "open-card", id: "open-card", "data-name": card.name, tabindex: -1, "aria-labelledby": "open-title" },
    el("header", {}, el("h3", { id: "open-title" }, card.title), el("span", {}, card.size), el("span", { class: "fine" }, [card.shape, card.says].filter(Boolean).join(" · "))),
    card.caution ? el("p", { class: "caution" }, card.caution) : null, goes,
    chosen ? el("div", { class: "beside" }, shownPart(card, chosen), toldPart(chosen)) : refusal(card), byWhom(card),
    proposals(card), wordPart(card), runsPart(card),
    chosen ? el("details", { ontoggle: (event) => { if (event.target.open && opened()?.chosen) event.target.querySelector(".rules").replaceWith(rulesPart(opened().chosen)); } },
      el("summary", {}, `All ${chosen.rules.length} rules, measured`), rulesPart(chosen)) : null);
}

// ---- all destinations

function tile(card) {
  const crop = card.chosen;
  const side = byId("cards").clientWidth > 800 ? 190 : 132;
  const unlabelled = crop && { ...crop, marks: crop.marks.filter((one) => one.kind !== "label") };
  const view = crop
    ? picture(here, unlabelled, { wide: sizeFor(crop.seen, { width: crop.seen[2] > 2 * crop.seen[3] ? 1.9 * side : side, height: side }), round: crop.round })
    : el("span", { class: "none" });
  const word = card.word ? (card.word.stands ? card.word.word : "look again") : null;
  return el("button", { type: "button", class: "tile", "data-name": card.name, "aria-expanded": "false", onclick: () => openUp(card.name) },
    view, el("span", { class: "what" }, badge(card.verdict, el("span", { class: "unseen" }, `${card.verdict}: `)), el("span", {}, card.title, word ? el("em", {}, word) : null)));
}

function showCards() {
  const groups = new Map();
  for (const card of told.cards) {
    if (!groups.has(card.group)) groups.set(card.group, []);
    groups.get(card.group).push(card);
  }
  byId("cards").replaceChildren(...[...groups].map(([group, cards]) => el("section", { class: "kin" },
    el("h2", {}, group || "other"), el("div", { class: "tiles" }, cards.map((card) => (card.name === open ? openCard(card) : tile(card)))))));
}

function showCard(card) {
  const node = document.querySelector(`#cards [data-name="${CSS.escape(card.name)}"]`);
  const unfolded = document.querySelector("#open-card details")?.open;
  node?.replaceWith(card.name === open ? openCard(card) : tile(card));
  if (unfolded && card.name === open) document.querySelector("#open-card details")?.setAttribute("open", "");
  if (card.name === open) showOpened();
  showPrints();
}

function showOpened() {
  const card = opened();
  stage.show(card?.chosen ?? null, { adjustable: Boolean(card) && !card.fixed_frame });
  showStanding(card?.chosen ?? null);
  showNumbers(card?.chosen ?? null);
}

function openUp(name) {
  open = name;
  history.replaceState(null, "", `#${encodeURIComponent(name)}`);
  showCards();
  showOpened();
  const card = byId("open-card");
  card.scrollIntoView({ block: "nearest" });
  card.focus({ preventScroll: true });
}

function showPrints() {
  const paper = told.cards.filter((one) => one.chosen?.page_mm && Math.max(...one.chosen.page_mm) <= 500);
  if (paper.length < 2) { byId("prints").replaceChildren(); return; }
  const scale = 190 / Math.max(...paper.map((one) => one.chosen.page_mm[1]));
  byId("prints").replaceChildren(el("h2", {}, "On paper, to one scale"), el("div", { class: "strip" }, paper.map((card) => el("figure", {},
    picture(here, card.chosen, { box: card.chosen.seen, wide: card.chosen.page_mm[0] * scale, marks: false, alt: `${card.title} at its size beside the others` }),
    el("figcaption", {}, `${card.title}, ${card.chosen.page_mm.map((side) => Math.round(side)).join(" × ")} mm`)))));
}

// ---- people

function peopleTools() {
  const box = byId("people");
  if (!told.people_known) {
    box.replaceChildren(el("button", { type: "button", onclick: findAgain }, "Find everybody again, to name or leave out"));
    return;
  }
  if (!told.people.length) { box.replaceChildren(el("p", { class: "fine" }, told.problem ?? "Nobody was found; place the eyes.")); return; }
  box.replaceChildren(...told.people.map((one) => el("fieldset", {}, el("legend", {}, `Person ${one.number}`),
    el("label", {}, el("input", { type: "checkbox", checked: one.principal, disabled: one.excluded || Boolean(told.marks.eyes), onchange: (event) => name(one.number, event.target.checked) }), "the picture is about them"),
    el("label", {}, el("input", { type: "checkbox", checked: one.excluded, onchange: (event) => exclude(one.number, event.target.checked) }), "no person at all"),
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
  byId("crop-tools").hidden = mode !== "crop";
  byId("people-tools").hidden = mode !== "people";
  stage.setMode(mode);
}

function placeEyes() {
  setMode("people");
  stage.place("eyes", 2);
}

// ---- everything

function showAll() {
  if (!cardOf(open)) open = told.cards[0]?.name ?? "";
  const focused = document.activeElement?.closest("#open-card, .tile")?.dataset.name;
  byId("remarks").replaceChildren(...told.remarks.map((one) => el("p", { class: "fine" }, one)),
    told.problem ? el("p", { class: "caution" }, `${told.problem}. `, el("button", { type: "button", onclick: placeEyes }, "Place both eyes")) : "",
    told.principals.some((one) => one.estimated) ? el("p", { class: "caution" }, "The eyes are estimated, not seen: look at the pupils, and put them right.") : "");
  stage.showPeople(told);
  showCards();
  showOpened();
  showPrints();
  peopleTools();
  if (focused) document.querySelector(`#cards [data-name="${CSS.escape(focused)}"]`)?.focus({ preventScroll: true });
}

function showRecorded(answer) {
  recorded = answer;
  if (answer.said) say(answer.said);
  const part = opened() && runsPart(opened());
  const before = document.querySelector("#open-card .runs");
  if (before) before.replaceWith(part ?? "");
  else if (part) document.querySelector("#open-card .word, #open-card > :last-child")?.after(part);
}

async function load() {
  try {
    const answer = await get(path);
    heard(answer);
    told = answer.master;
    showAll();
    showRecorded(await get(`/api/runs/${encodeURIComponent(here.version)}`));
  } catch (failure) { say(failure.message); }
}

whenNews((why, step) => {
  if (why === "back" && step && step.version && step.version !== here.version) {
    say(`${step.said}, on ${step.version}.`, [["Go there", () => { location.href = `/look/${encodeURIComponent(step.version)}#${encodeURIComponent(step.destination)}`; }]]);
    return;
  }
  if (why === "back" && step?.destination && cardOf(step.destination)) open = step.destination;
  load();
});

for (const box of document.querySelectorAll('input[name="layer"]')) {
  const kept = localStorage.getItem(`layer ${box.value}`);
  if (kept) box.checked = kept === "on";
  const show = () => document.body.classList.toggle(`hide-${box.value}`, !box.checked);
  box.addEventListener("change", () => { localStorage.setItem(`layer ${box.value}`, box.checked ? "on" : "off"); show(); });
  show();
}
for (const radio of document.querySelectorAll('input[name="mode"]')) radio.addEventListener("change", () => setMode(radio.value));
byId("near").addEventListener("change", (event) => stage.setNear(Number(event.target.value)));
byId("jump").addEventListener("change", (event) => { location.href = `/look/${encodeURIComponent(event.target.value)}#${encodeURIComponent(open)}`; });
byId("closer").addEventListener("click", () => stage.zoom(0.95));
byId("wider").addEventListener("click", () => stage.zoom(1 / 0.95));
byId("level").addEventListener("click", () => {
  const tilts = told.principals.map((one) => one.tilt_deg);
  if (tilts.length) stage.turn(tilts.reduce((sum, one) => sum + one, 0) / tilts.length);
});
byId("lie").addEventListener("click", () => {
  const [x0, y0, x1, y1] = opened().chosen.box;
  const [cx, cy, w, h] = [(x0 + x1) / 2, (y0 + y1) / 2, y1 - y0, x1 - x0];
  save({ box: [cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2], deg: opened().chosen.deg, anchor: "centre" }, "");
});
byId("snap").addEventListener("change", (event) => { stage.snaps = event.target.checked; });
byId("place-eyes").addEventListener("click", placeEyes);
byId("place-crown").addEventListener("click", () => stage.place("crown", 1));
byId("place-chin").addEventListener("click", () => stage.place("chin", 1));
byId("unmark").addEventListener("click", () => mark({ eyes: null, crown: null, chin: null, principal: [], excluded: [] }));

function typed(which) {
  const crop = opened()?.chosen;
  if (!crop) return;
  const [x0, y0, x1, y1] = crop.box;
  const value = Number(byId(`n-${which}`).value);
  if (!Number.isFinite(value)) return;
  const ratio = (x1 - x0) / (y1 - y0);
  if (which === "deg") { save({ box: crop.box, deg: Math.max(-15, Math.min(15, value)), anchor: "centre" }, ""); return; }
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
window.addEventListener("hashchange", () => { const name = decodeURIComponent(location.hash.slice(1)); if (told && cardOf(name)) openUp(name); });
load();
