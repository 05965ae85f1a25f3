// Two versions side by side at one size of the face, and who goes where.

import { badge, byId, el, said, GIVEN } from "./dom.js";
import { picture } from "./draw.js";
import { deed, get, heard, say, whenNews } from "./talk.js";

const name = byId("main").dataset.set;
const path = `/api/set/${encodeURIComponent(name)}`;
let told = null;

const versionOf = (version) => told.versions.find((one) => one.version === version);

function options(select, values, chosen) {
  select.replaceChildren(...values.map(([value, label]) => el("option", { value, selected: value === chosen }, label)));
}

// One scale for both: css px per head. The larger picture decides what fits.
function scales(sides) {
  const beside = byId("pair").clientWidth >= 560;
  const room = { width: beside ? (byId("pair").clientWidth - 70) / 2 : byId("pair").clientWidth - 24, height: 540 };
  const same = byId("same-face").checked && sides.every(({ master }) => master.head_px);
  const fits = sides.map(({ master, crop }) => {
    const fit = Math.min(room.width / crop.seen[2], room.height / crop.seen[3]);
    return same ? fit * master.head_px : fit;
  });
  const least = Math.min(...fits);
  return sides.map(({ master }, at) => (same ? least / master.head_px : fits[at]));
}

function showPair() {
  const row = told.rows.find((one) => one.name === byId("where").value);
  const sides = [byId("left").value, byId("right").value].map((version) => ({ master: versionOf(version), ...row.fields[version] }));
  const there = sides.filter((one) => one.crop);
  const scale = there.length ? scales(there) : [];
  byId("pair").replaceChildren(...sides.map((side) => {
    const at = there.indexOf(side);
    const goes = row.given === side.master.version ? " · goes here" : "";
    const words = el("figcaption", {}, badge(side.verdict, `${side.master.version}: ${said(side.verdict)}${goes}`), el("p", {}, side.crop?.reasons[0] ?? side.sentence));
    if (at < 0) return el("figure", {}, words);
    return el("figure", { "data-side": at }, picture(side.master, side.crop, { wide: side.crop.seen[2] * scale[at], round: side.crop.round, marks: false, alt: `${side.master.version} for ${row.title}` }), words);
  }));
}

async function fix(destination, version) {
  try {
    const answer = await deed("/api/fix", { set_name: name, destination, version });
    told = answer.set;
    show();
    document.querySelector(`#matrix [data-row="${CSS.escape(destination)}"] button`)?.focus();
  } catch { show(); }
}

function field(row, { version }) {
  const { crop, verdict, sentence, word } = row.fields[version];
  const master = versionOf(version);
  const given = row.given === version;
  const fixed = row.fixed === version;
  const small = crop ? picture(master, crop, { wide: Math.min(120, (96 * crop.seen[2]) / crop.seen[3]), round: crop.round, marks: false, alt: "" }) : null;
  return el("td", { class: given ? "given" : null, "data-version": version }, el("div", { class: "field" }, small, el("div", {},
    badge(verdict), given ? el("strong", {}, fixed ? "goes here, by your choice" : "goes here") : null,
    word?.stands ? el("span", {}, GIVEN[word.word]) : null,
    el("span", { class: "fine" }, sentence),
    crop || fixed ? el("button", { type: "button", "aria-pressed": fixed ? "true" : "false", "aria-label": `${fixed ? "Do not send" : "Send"} ${version} to ${row.title}`, onclick: () => fix(row.name, fixed ? null : version) }, fixed ? "✓ sent here" : "Send it here") : null)));
}

function showMatrix() {
  const head = el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "Destination"), told.versions.map((one) => el("th", { scope: "col" }, el("a", { href: `/crops?version=${encodeURIComponent(one.version)}` }, one.version)))));
  const rows = told.rows.map((row) => el("tr", { "data-row": row.name }, el("th", { scope: "row" },
    el("button", { type: "button", onclick: () => { byId("where").value = row.name; showPair(); byId("beside").scrollIntoView(); } }, row.title), el("p", { class: "fine" }, row.why.replace(`${row.given ?? "none"}. `, ""))),
  told.versions.map((one) => field(row, one))));
  byId("matrix").replaceChildren(el("caption", { class: "unseen" }, "Versions and destinations"), head, el("tbody", {}, rows));
}

function show() {
  const kept = { where: byId("where").value, left: byId("left").value, right: byId("right").value };
  const versions = told.versions.map((one) => [one.version, one.version]);
  const seen = told.rows.find((row) => told.versions.every((one) => row.fields[one.version].crop)) ?? told.rows[0];
  options(byId("where"), told.rows.map((one) => [one.name, one.title]), kept.where || seen?.name);
  options(byId("left"), versions, kept.left || versions[0]?.[0]);
  options(byId("right"), versions, kept.right || versions[1]?.[0] || versions[0]?.[0]);
  byId("sentences").replaceChildren(...[...told.sentences, told.runner_up].filter(Boolean).map((one) => el("li", {}, one)));
  showPair();
  showMatrix();
}

async function load() {
  try {
    const answer = await get(path);
    heard(answer);
    told = answer.set;
    show();
  } catch (failure) { say(failure.message); }
}

whenNews(load);
for (const id of ["where", "left", "right", "same-face"]) byId(id).addEventListener("change", showPair);
new ResizeObserver(() => { if (told) showPair(); }).observe(byId("pair").parentElement);
load();
