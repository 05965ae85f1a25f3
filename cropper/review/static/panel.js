// What stands beside the picture: the verdict, the word, the proposals, the words, and the strip of
// all crops of the picture.

import { badge, el, glyph, localDate, said, sign, GIVEN, WORDS } from "./dom.js";
import { picture } from "./draw.js";

export function sizeFor(box, most) {
  return Math.min(most.width, (most.height * box[2]) / box[3]);
}

export const hasBleed = (crop) => !crop.round && crop.whole.join() !== crop.seen.join();
export const mainBox = (crop) => (hasBleed(crop) ? crop.whole : crop.seen);

// ---- the verdict

function ruleRow(one) {
  return el("li", {}, badge(one.verdict), el("span", {}, one.title), el("span", { class: "number" }, `${one.value} ${one.doubt}`.trim(), one.target !== "–" ? el("span", { class: "fine" }, ` (aim ${one.target})`) : null),
    one.verdict === "holds" ? null : el("span", { class: "said" }, one.sentence));
}

const rulesPart = (crop) => el("ul", { class: "rules" }, crop.rules.map(ruleRow));

// Good is quiet: one word. What is not good says what one sees, in a sentence or two.
function verdictPart(crop) {
  if (crop.verdict === "holds") return el("p", { class: "verdict" }, badge("holds"), el("span", { class: "fine" }, ` ${crop.shot}`));
  const off = crop.rules.filter((one) => one.verdict === crop.verdict).map((one) => one.sentence);
  const sentences = (off.length ? off : crop.reasons).slice(0, 2);
  return el("div", { class: "verdict" }, badge(crop.verdict, `${said(crop.verdict)}`), el("span", { class: "fine" }, ` ${crop.shot}`), sentences.map((one) => el("p", {}, one)));
}

// ---- the photographer's word and note

let keeping = null;
let written = null;

// Saves what was typed into the note; called before anything else changes.
export async function keepNote() {
  if (keeping) await keeping();
}

function wordPart(card, doing) {
  const note = el("input", { type: "text", maxlength: 2000, value: card.note, "data-name": card.name, "data-key": "note", placeholder: "Note", "aria-label": `Note on ${card.title}` });
  if (written) clearTimeout(written.later);
  written = note;
  let kept = card.note;
  keeping = async () => {
    const text = note.value.trim();
    if (text === kept) return;
    kept = text;
    clearTimeout(note.later);
    if (!(await doing.note(card.name, text))) kept = null;
  };
  const keep = keeping;
  note.addEventListener("input", () => { clearTimeout(note.later); note.later = setTimeout(keep, 900); });
  note.addEventListener("change", keep);
  const given = card.word;
  const stands = given?.stands;
  const button = (word, key) => {
    const pressed = stands && given.word === word;
    const act = word === "approved" && !pressed ? doing.approve : () => doing.speak(pressed ? null : word);
    return el("button", { type: "button", class: word === "approved" ? "first" : null, "data-word": word, "aria-pressed": pressed ? "true" : "false", title: `${WORDS[word]} (${key})`, disabled: !card.chosen, onclick: act }, pressed ? `✓ ${GIVEN[word]}` : WORDS[word]);
  };
  const when = !given ? null : stands ? `${GIVEN[given.word]}, ${localDate(given.at)}` : `Check again: the crop changed after you ${given.word === "held" ? "put it on hold" : given.word === "approved" ? "approved it" : "refused it"}`;
  return el("div", { class: "word", role: "group", "aria-label": `Your decision on ${card.title}` },
    el("div", { class: "words-of" }, button("approved", "A"), button("held", "H"), button("refused", "R")),
    note, when ? el("p", { class: stands ? "fine" : "caution" }, when) : null);
}

function byWhom(card) {
  const { choice } = card;
  if (!choice) return null;
  if (card.frozen) return el("p", { class: "fine" }, `Frozen by you, ${localDate(choice.at)}. It stays as it is, whatever is planned again.`);
  if (choice.state === "look again") return el("p", { class: "caution" }, "Check again: the picture or the size changed after you chose.");
  return choice.by_hand ? el("p", { class: "fine" }, `${choice.state === "adjusted" ? "Moved" : "Chosen"} by you, ${localDate(choice.at)}`) : null;
}

// ---- proposals and ways out, one numbered list

function proposals(card, doing) {
  if (!card.proposals.length) return null;
  const buttons = card.proposals.map((one, at) => el("li", {}, el("button", { type: "button", "data-key": `proposal ${at}`, "aria-pressed": card.index === at ? "true" : "false", onclick: () => doing.choose(card.name, at) },
    el("span", { class: "small" }, picture(doing.here, one, { wide: sizeFor(one.seen, { width: 76, height: 76 }), round: one.round, marks: false })),
    el("span", { class: "which" }, at < 9 ? el("kbd", {}, `${at + 1}`) : null, el("span", {}, one.kind), one.verdict === "holds" ? sign("holds") : badge(one.verdict)))));
  return el("section", { class: "choices", "aria-label": "Proposals" }, el("h3", {}, card.index === null && card.chosen ? "Yours is shown. Proposals" : "Proposals"), el("ol", {}, buttons));
}

function waysOut(card, doing) {
  const told = doing.told();
  const ways = [];
  if (!card.chosen || card.verdict !== "holds") {
    if (!card.chosen || !told.principals.length || told.principals.some((one) => one.estimated)) ways.push(el("button", { type: "button", onclick: doing.placeEyes }, "Place the eyes by hand"));
    if (!card.chosen) ways.push(el("button", { type: "button", onclick: doing.draw }, "Draw one by hand"));
  }
  if (card.goes && !card.goes.here && card.goes.version) ways.push(el("a", { class: "button", href: `/look/${encodeURIComponent(card.goes.version)}#${encodeURIComponent(card.name)}` }, `Open ${card.goes.version}`));
  if (card.goes && card.verdict !== "holds") ways.push(el("a", { class: "button", href: `/set/${encodeURIComponent(card.goes.set)}` }, "Compare the set"));
  return ways.length ? el("div", { class: "ways" }, ways) : null;
}

function refusal(card) {
  const why = card.no_crop;
  return el("div", { class: "verdict" }, badge("no crop"), el("p", {}, why?.sentence ?? "Nothing is proposed here."),
    (why?.conflicts ?? []).filter((one) => !why.sentence.includes(one)).map((one) => el("p", {}, one)),
    why?.ways_out.length ? el("ul", {}, why.ways_out.map((one) => el("li", {}, one))) : null);
}

// ---- headline, caption and alt text of the version

export function wordsPart(told, doing) {
  const texts = told.words;
  const fields = { alt_text: ["Alt text", "What is seen, for somebody who cannot see it"], caption: ["Caption", ""], headline: ["Headline", ""] };
  const boxes = Object.entries(fields).map(([name, [label, hint]]) => {
    const box = el(name === "headline" ? "input" : "textarea", { rows: name === "headline" ? null : 3, type: name === "headline" ? "text" : null, "data-key": `words ${name}`, "data-field": name, placeholder: texts.shared?.[name] ? `from the job: ${texts.shared[name]}` : hint, maxlength: name === "caption" ? 8000 : 1000 });
    box.value = texts[name];
    return el("label", {}, label, box);
  });
  const part = el("details", { class: "words", "data-part": "words" },
    el("summary", {}, "Words", texts.problem ? el("span", { class: "v-breaks" }, " cannot be read") : texts.missing.length ? el("span", { class: "fine" }, ` missing: ${texts.missing.join(", ")}`) : el("span", { class: "fine" }, " complete")),
    texts.problem ? el("p", { class: "caution" }, texts.problem) : boxes);
  const save = () => doing.words(Object.fromEntries([...part.querySelectorAll("[data-field]")].map((one) => [one.dataset.field, one.value])));
  for (const box of part.querySelectorAll("[data-field]")) box.addEventListener("change", save);
  return part;
}

// What the record says of this deliverable: where it runs, and what would stand in its way.
export function runsPart(card, doing) {
  const lines = doing.recorded().runs[card.name] ?? [];
  if (!lines.length) return null;
  return el("div", { class: "runs", role: "group", "aria-label": `Where ${card.title} runs` },
    el("h3", {}, "On record"),
    el("ul", {}, lines.map((one) => el("li", { class: one.clashes.length ? "caution" : null }, one.sentence,
      one.clashes.length ? el("ul", {}, one.clashes.map((clash) => el("li", {}, clash))) : null))));
}

export function openCard(card, doing) {
  const { chosen } = card;
  const goes = card.goes && !card.goes.here ? el("p", { class: "caution" }, card.goes.version ? `In the set ${card.goes.set}, ${card.goes.version} goes here.` : `No version of the set ${card.goes.set} goes here.`) : null;
  return el("article", { class: "open-card", id: "open-card", "data-name": card.name, tabindex: -1, "aria-labelledby": "open-title" },
    el("header", {}, el("h2", { id: "open-title" }, card.title), el("p", { class: "fine" }, [card.size, doing.here.version].filter(Boolean).join(" · "))),
    wordPart(card, doing),
    chosen ? verdictPart(chosen) : refusal(card), goes, byWhom(card), card.caution ? el("p", { class: "fine" }, card.caution) : null,
    waysOut(card, doing), proposals(card, doing),
    chosen ? el("p", { class: "looks" }, el("button", { type: "button", "data-key": "finished", onclick: doing.finished, title: "X" }, "See the finished file"), el("button", { type: "button", "data-key": "alone", onclick: () => doing.alone(), title: "hold C" }, "See it alone"),
      el("button", { type: "button", "data-key": "freeze", onclick: () => doing.freeze(!card.frozen) }, card.frozen ? "Unfreeze" : "Freeze")) : null,
    el("p", { class: "looks" }, el("button", { type: "button", "data-key": "good", onclick: () => doing.approveGood(), title: "Shift A" }, "Approve all good crops of this picture"), el("a", { href: `/crops?version=${encodeURIComponent(doing.here.version)}` }, "See all its crops")),
    wordsPart(doing.told(), doing), runsPart(card, doing),
    chosen ? el("details", { "data-part": "rules" }, el("summary", {}, "Measurements"), el("p", { class: "fine" }, chosen.pixels), ...chosen.reasons.map((one) => el("p", {}, one)), rulesPart(chosen)) : null,
    card.says ? el("p", { class: "fine" }, [card.shape, card.says].filter(Boolean).join(" · ")) : null);
}

// ---- the strip

export function tile(card, doing, current) {
  const crop = card.chosen;
  const bare = crop && { ...crop, marks: crop.marks.filter((one) => one.kind === "fill") };
  const view = crop
    ? picture(doing.here, bare, { wide: sizeFor(crop.seen, { width: 96, height: 54 }), round: crop.round, marks: false })
    : el("span", { class: "none" }, glyph("no crop"));
  const word = card.word ? (card.word.stands ? GIVEN[card.word.word] : "check again") : "";
  return el("button", { type: "button", class: `tile${word ? " decided" : ""}`, "data-name": card.name, "aria-current": current ? "true" : null, onclick: () => doing.open(card.name) },
    view, el("span", { class: "what" }, sign(card.verdict), el("span", {}, card.title), card.frozen ? el("em", {}, "frozen") : null, word ? el("em", {}, word === "approved" ? "✓" : word, word === "approved" ? el("span", { class: "unseen" }, "approved") : null) : null));
}
