// A word on every file, the export with its progress, and the sheet for a client.

import { badge, byId, count, el, sign, svg, GIVEN, WORDS } from "./dom.js";
import { ask, before, deed, get, heard, say, whenNews } from "./talk.js";

let told = [];
let leaf = { page: 1, pages: 1, crops: 0, approved: 0 };
let watching = false;
let turn_ = 0;
const open = new Set();

const stands = (one) => (one.word?.stands ? one.word.word : null);
const good = (one) => one.picture && !stands(one) && one.verdict === "holds" && !one.goes_elsewhere;

const SHOWN = {
  everything: () => true,
  open: (one) => one.picture && !stands(one),
  "some-approved": (one) => stands(one) === "approved",
  kept: (one) => ["held", "refused"].includes(stands(one)),
};

function small(one, side) {
  const { view, round, deg, centre, ground } = one.picture;
  const wide = Math.min(side * 1.8, (side * view[2]) / view[3]);
  return svg("svg", { class: `picture${round ? " round" : ""}`, viewBox: view.join(" "), width: wide.toFixed(1), height: ((wide * view[3]) / view[2]).toFixed(1), "aria-hidden": "true" },
    ground ? svg("rect", { x: view[0], y: view[1], width: view[2], height: view[3], fill: ground }) : null,
    svg("image", { href: `/preview/${encodeURIComponent(one.version)}/${one.tag}/960?for=wall`, width: one.width, height: one.height, transform: deg ? `rotate(${deg} ${centre[0]} ${centre[1]})` : null }));
}

const address = (one) => `/look/${encodeURIComponent(one.version)}#${encodeURIComponent(one.destination)}`;

// ---- notes are kept while they are written, and before anything else is done

const drafts = new Map();

async function keepNotes() {
  for (const [key, { one, text }] of [...drafts]) {
    drafts.delete(key);
    try {
      await deed("/api/note", { version: one.version, destination: one.destination, note: text });
      one.note = text;
    } catch {
      drafts.set(key, { one, text });
      throw new Error("not kept");
    }
  }
}
before.undo = () => keepNotes().catch(() => undefined);

function noteField(one, key) {
  const field = el("input", { type: "text", maxlength: 2000, placeholder: "Note", "data-key": `${key} note`, "aria-label": `Note on ${one.title}, ${one.version}` });
  field.value = drafts.get(key)?.text ?? one.note;
  let later = 0;
  field.addEventListener("input", () => {
    drafts.set(key, { one, text: field.value.trim() });
    clearTimeout(later);
    later = setTimeout(() => keepNotes().catch(() => undefined), 900);
  });
  field.addEventListener("change", () => keepNotes().catch(() => undefined));
  return field;
}

async function speak(version, destinations, word) {
  try {
    await keepNotes();
    await deed("/api/say", { version, destinations, word });
    await load();
  } catch { show(); }
}

function file(one) {
  const key = `${one.version} ${one.destination}`;
  const buttons = Object.entries(WORDS).map(([word, label]) => {
    const pressed = stands(one) === word;
    return el("button", { type: "button", "data-key": `${key} ${word}`, "aria-pressed": pressed ? "true" : "false", "aria-label": `${label} ${one.title}, ${one.version}`,
      onclick: () => speak(one.version, [one.destination], pressed ? null : word) }, pressed ? `✓ ${GIVEN[word]}` : label);
  });
  const remarks = [];
  if (one.goes_elsewhere) remarks.push(el("p", { class: "fine" }, one.given ? `In its set, ${one.given} goes here.` : "No version of its set goes here."));
  if (one.look_again || (one.word && !one.word.stands)) remarks.push(el("p", { class: "caution" }, "Check again: the crop changed after you decided."));
  return el("li", { class: `file${one.goes_elsewhere ? " away" : ""}` }, el("a", { class: "shot", href: address(one), tabindex: -1, "aria-hidden": "true" }, small(one, 72)), el("div", {},
    el("h4", {}, el("a", { href: address(one) }, one.title)), el("p", { class: "fine" }, badge(one.verdict), ` ${one.size}`), remarks, el("div", { class: "buttons" }, buttons, noteField(one, key))));
}

function thumb(one) {
  const word = stands(one);
  if (!one.picture) return el("li", {}, el("a", { class: "thumb", href: address(one) }, el("span", { class: "none" }, badge("no crop", "")), el("span", { class: "what" }, el("span", { class: "unseen" }, "no crop: "), one.title)));
  return el("li", {}, el("a", { class: `thumb${one.goes_elsewhere ? " away" : ""}`, href: address(one) }, small(one, 64), el("span", { class: "what" }, sign(one.verdict), one.title, word ? el("em", {}, word === "approved" ? " ✓" : ` ${GIVEN[word]}`, word === "approved" ? el("span", { class: "unseen" }, "approved") : null) : null)));
}

function batch(version, mine) {
  const waiting = mine.filter(good);
  const crops = mine.filter((one) => one.picture);
  const approved = crops.filter((one) => stands(one) === "approved").length;
  const shown = mine.filter(SHOWN[byId("show").value]);
  const details = el("details", { ontoggle: (event) => {
    if (event.target.open) open.add(version); else open.delete(version);
    if (event.target.open && !event.target.querySelector(".files")) event.target.append(el("ul", { class: "files" }, shown.filter((one) => one.picture).map(file)));
  } }, el("summary", { "data-key": `${version} files` }, "Decide one by one, with notes"));
  if (open.has(version)) details.open = true;
  return el("section", { class: "batch", "aria-label": version },
    el("div", { class: "of" }, el("h3", {}, el("a", { href: `/crops?version=${encodeURIComponent(version)}` }, version)), el("p", { class: "fine" }, `${approved} of ${crops.length} approved`),
      el("button", { type: "button", "data-key": `${version} good`, "aria-disabled": waiting.length ? null : "true", onclick: () => { if (waiting.length) speak(version, waiting.map((one) => one.destination), "approved"); } }, waiting.length ? `Approve ${count(waiting.length, "good crop")}` : "No good crop is waiting")),
    el("ul", { class: "strip-of" }, shown.map(thumb)), details);
}

function show() {
  const versions = [...new Set(told.map((one) => one.version))];
  const waiting = told.filter(good);
  const focused = document.activeElement?.dataset?.key;
  byId("tally").textContent = `${leaf.approved} of ${count(leaf.crops, "crop")} approved`;
  byId("approve-good").textContent = waiting.length ? `Approve the ${waiting.length} good ones on this page` : "No good crop is waiting here";
  byId("approve-good").setAttribute("aria-disabled", waiting.length ? "false" : "true");
  byId("leaves").hidden = leaf.pages === 1;
  byId("leaf").textContent = `Page ${leaf.page} of ${leaf.pages}`;
  byId("leaf-back").disabled = leaf.page === 1;
  byId("leaf-on").disabled = leaf.page === leaf.pages;
  byId("deliverables").replaceChildren(...(versions.length ? versions.map((version) => batch(version, told.filter((one) => one.version === version))) : [el("p", { class: "fine" }, "No picture is like this.")]));
  if (focused) document.querySelector(`[data-key="${CSS.escape(focused)}"]`)?.focus({ preventScroll: true });
}

// Only the newest question's answer is shown, whichever comes last.
async function load() {
  turn_ += 1;
  const mine = turn_;
  try {
    const wanted = new URLSearchParams({ show: byId("show").value, find: byId("find").value.trim(), page: leaf.page });
    const answer = await get(`/api/job?${wanted}`);
    if (mine !== turn_) return;
    heard(answer);
    const { page, pages, crops, approved } = answer;
    leaf = { page, pages, crops, approved };
    told = answer.deliverables;
    show();
  } catch (failure) { say(failure.message); }
}

function finished({ problem, told: done }) {
  if (problem) { byId("exported").replaceChildren(el("p", { class: "caution" }, problem)); return; }
  if (!done) return;
  const kept = done.without;
  const many = done.listed ?? [];
  byId("exported").replaceChildren(
    el("p", {}, `${count(done.files, "file")} in ${done.folder}: ${done.written} written now, ${kept} not delivered.`),
    many.length ? el("details", {}, el("summary", {}, "Open the files"), el("ul", { class: "written" }, many.map((one) => el("li", {}, el("a", { href: one.address, target: "_blank", rel: "noopener" }, one.name), el("span", { class: "fine" }, ` ${one.alt || "no alt text"}${one.caption ? ` · ${one.caption}` : ""}${one.credit ? ` · ${one.credit}` : ""}`))))) : "",
    done.clash ? el("p", { class: "caution" }, "The versions of a set compete for one outlet. No version of that set was written.") : "",
    ...done.failures.map((one) => el("p", { class: "caution" }, `Failed: ${one.version} for ${one.destination}: ${one.reason}`)),
    kept ? el("details", {}, el("summary", {}, "What was not delivered, and why"), el("ul", {}, done.not_delivered.map((one) => el("li", {}, `${one.version ?? ""} for ${one.destination ?? "anything"}: ${one.reason}`)))) : "",
    done.set_aside.length ? el("p", { class: "fine" }, `No longer asked for, moved aside: ${done.set_aside.join(", ")}`) : "");
}

async function watch() {
  if (watching) return;
  watching = true;
  byId("export").disabled = true;
  try {
    for (;;) {
      const progress = await get("/api/export");
      byId("exporting").hidden = !progress.running;
      byId("progress").value = progress.of ? progress.done / progress.of : 0;
      byId("progress-words").textContent = progress.of ? `${progress.done} of ${progress.of}: ${progress.file}` : "opening the masters";
      if (!progress.running) { finished(progress); break; }
      await new Promise((next) => { setTimeout(next, 200); });
    }
  } catch (failure) { say(failure.message); }
  byId("export").disabled = false;
  watching = false;
}

byId("export-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  byId("exported").replaceChildren();
  try {
    await ask("/api/export", { approved_only: byId("approved-only").checked, everything: byId("everything").checked, by_recipient: byId("by-recipient").checked });
  } catch (failure) { say(failure.message); }
  watch();
});

byId("client-sheet").addEventListener("click", async () => {
  const button = byId("client-sheet");
  button.disabled = true;
  byId("exported").replaceChildren("Making the sheet ...");
  try {
    const made = await ask("/api/client-sheet", { approved_only: byId("approved-only").checked });
    byId("exported").replaceChildren(el("p", {}, `The sheet is in ${made.file}. `, el("a", { href: made.address, download: "client-sheet.html" }, "Save a copy elsewhere")));
  } catch (failure) {
    byId("exported").replaceChildren();
    say(failure.message);
  }
  button.disabled = false;
});

function turn(page) {
  leaf.page = page;
  return load();
}

byId("show").addEventListener("change", () => turn(1));
byId("find").addEventListener("change", () => turn(1));
byId("approve-good").addEventListener("click", async () => {
  const items = told.filter(good).map((one) => ({ version: one.version, destination: one.destination }));
  if (!items.length) return;
  try {
    await keepNotes();
    await deed("/api/many", { items, word: "approved" });
    await load();
  } catch { show(); }
});
byId("unfold").addEventListener("click", (event) => {
  const all = event.currentTarget.getAttribute("aria-pressed") !== "true";
  event.currentTarget.setAttribute("aria-pressed", String(all));
  for (const one of document.querySelectorAll(".batch details")) one.open = all;
});
for (const [id, step] of [["leaf-back", -1], ["leaf-on", 1]]) {
  byId(id).addEventListener("click", async () => {
    await turn(leaf.page + step);
    byId("listed").scrollIntoView();
  });
}
whenNews(load);
load();
get("/api/export").then((progress) => { if (progress.running) watch(); else finished(progress); }).catch(() => undefined);
