// A word on every file, the export with its progress, and the sheet for a client.

import { badge, byId, el, svg } from "./dom.js";
import { ask, deed, get, heard, say, whenNews } from "./talk.js";

let told = [];
let leaf = { page: 1, pages: 1, crops: 0, approved: 0 };
let watching = false;

const WORDS = { approved: "Approve", held: "Hold", refused: "Refuse" };
const stands = (one) => (one.word?.stands ? one.word.word : null);

const SHOWN = {
  everything: () => true,
  open: (one) => one.picture && !stands(one),
  "some-approved": (one) => stands(one) === "approved",
  kept: (one) => ["held", "refused"].includes(stands(one)),
};

function small(one) {
  if (!one.picture) return el("span", {});
  const { view, round, deg, centre, ground } = one.picture;
  const wide = view[2] >= view[3] ? 104 : (104 * view[2]) / view[3];
  return svg("svg", { class: `picture${round ? " round" : ""}`, viewBox: view.join(" "), width: wide.toFixed(1), height: ((wide * view[3]) / view[2]).toFixed(1), "aria-hidden": "true" },
    ground ? svg("rect", { x: view[0], y: view[1], width: view[2], height: view[3], fill: ground }) : null,
    svg("image", { href: `/preview/${encodeURIComponent(one.version)}/${one.tag}/960`, width: one.width, height: one.height, transform: deg ? `rotate(${deg} ${centre[0]} ${centre[1]})` : null }));
}

async function speak(version, destinations, word, note) {
  try {
    const answer = await deed("/api/say", { version, destinations, word, note });
    if (answer.revision) await load();
  } catch { show(); }
}

function file(one) {
  const where = el("a", { href: `/look/${encodeURIComponent(one.version)}#${encodeURIComponent(one.destination)}` }, one.title);
  const key = `${one.version} ${one.destination}`;
  if (!one.picture) return el("li", { class: "file away" }, el("span", {}), el("div", {}, el("h3", {}, where), badge("no crop")));
  const note = el("input", { type: "text", maxlength: 2000, value: one.word?.note ?? "", placeholder: "note", "aria-label": `Note on ${one.title}, ${one.version}` });
  const buttons = Object.entries(WORDS).map(([word, label]) => {
    const pressed = stands(one) === word;
    return el("button", { type: "button", "data-key": `${key} ${word}`, "aria-pressed": pressed ? "true" : "false", "aria-label": `${label} ${one.title}, ${one.version}`,
      onclick: async () => {
        const same = pressed && (one.word.note ?? "") === note.value.trim();
        await speak(one.version, [one.destination], same ? null : word, note.value);
        document.querySelector(`[data-key="${CSS.escape(`${key} ${word}`)}"]`)?.focus();
      } }, label);
  });
  const remarks = [];
  if (one.goes_elsewhere) remarks.push(el("p", { class: "fine" }, one.given ? `Of its set, ${one.given} goes here; this one is written only with rivals.` : "No version of its set goes here."));
  if (one.look_again || (one.word && !one.word.stands)) remarks.push(el("p", { class: "caution" }, "The crop changed after you last looked: look again."));
  return el("li", { class: `file${one.goes_elsewhere ? " away" : ""}` }, small(one), el("div", {},
    el("h3", {}, where, " "), el("span", {}, badge(one.verdict), ` ${one.size}`), el("span", { class: "fine" }, one.sentence), remarks, el("div", { class: "buttons" }, buttons, note)));
}

function show() {
  const versions = [...new Set(told.map((one) => one.version))];
  const shown = SHOWN[byId("show").value];
  byId("tally").textContent = `${leaf.approved} of ${leaf.crops} crops approved`;
  byId("leaves").hidden = leaf.pages === 1;
  byId("leaf").textContent = `Page ${leaf.page} of ${leaf.pages}`;
  byId("leaf-back").disabled = leaf.page === 1;
  byId("leaf-on").disabled = leaf.page === leaf.pages;
  byId("deliverables").replaceChildren(...versions.map((version) => {
    const mine = told.filter((one) => one.version === version && shown(one));
    const open = told.filter((one) => one.version === version && one.picture && !stands(one) && one.verdict === "holds" && !one.goes_elsewhere);
    return el("section", { class: "batch", "aria-label": version }, el("div", { class: "heading" }, el("h3", {}, version),
      el("button", { type: "button", disabled: !open.length, onclick: () => speak(version, open.map((one) => one.destination), "approved", "") }, `Approve the ${open.length} that hold and wait`)),
    mine.length ? el("ul", { class: "files" }, mine.map(file)) : el("p", { class: "fine" }, "Nothing to show here."));
  }));
}

async function load() {
  try {
    const answer = await get(`/api/job?show=${byId("show").value}&page=${leaf.page}`);
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
  byId("exported").replaceChildren(
    el("p", {}, `${done.files} files stand in ${done.folder}; ${done.written} written now, ${kept} not delivered.`),
    done.clash ? el("p", { class: "caution" }, "Rivals clash: a set is not assigned, so none of its versions was written.") : "",
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
for (const [id, step] of [["leaf-back", -1], ["leaf-on", 1]]) {
  byId(id).addEventListener("click", async () => {
    await turn(leaf.page + step);
    byId("listed").scrollIntoView();
  });
}
whenNews(load);
load();
get("/api/export").then((progress) => { if (progress.running) watch(); else finished(progress); }).catch(() => undefined);
