// Talking with the server: one revision, deeds one after another, and a plain word when it fails.

import { byId, el, localTime } from "./dom.js";

// On the page of one picture, undo is of that picture alone.
const mine = document.getElementById("main")?.dataset.version ?? "";
const statePath = () => (mine ? `/api/state?version=${encodeURIComponent(mine)}` : "/api/state");

export const state = { revision: document.body.dataset.revision, undo: null, redo: null };
const listeners = [];
let deeds = Promise.resolve();
let busy = 0;

export function whenNews(listener) {
  listeners.push(listener);
}

async function asked(path, body) {
  const wish = body === undefined
    ? { headers: { accept: "application/json" } }
    : { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body), keepalive: true };
  let answer;
  try {
    answer = await fetch(path, wish);
  } catch {
    throw new Failure("The page's server does not answer. Nothing saved so far is lost: start `cropper review` again, and open the new address.", { gone: true });
  }
  const told = await answer.json().catch(() => ({ error: refused(answer.status) }));
  if (!answer.ok) throw new Failure(told.error ?? `The server answered ${answer.status}.`, told);
  return told;
}

function refused(status) {
  if (status === 403) return "cropper review was started again since this page was opened. Open the new address that it printed; nothing saved so far is lost.";
  return `The server answered ${status}.`;
}

export class Failure extends Error {
  constructor(said, told) {
    super(said);
    this.stale = Boolean(told?.stale);
    this.gone = Boolean(told?.gone);
  }
}

export const get = (path) => asked(path);
export const ask = (path, body) => asked(path, body);

export function heard(told) {
  if (told.revision === undefined) return;
  Object.assign(state, { revision: told.revision, undo: told.undo, redo: told.redo });
  for (const [id, label] of [["undo", told.undo], ["redo", told.redo]]) {
    const button = byId(id);
    button.disabled = !label;
    button.title = label ?? "";
    button.setAttribute("aria-label", label ? `${button.textContent}: ${label}` : button.textContent);
  }
}

// A deed on the newest revision that this page has seen. Deeds go one after another.
export function deed(path, body) {
  busy += 1;
  byId("saved").textContent = "Saving ...";
  const doing = deeds.then(() => attempt(path, body)).finally(() => { busy -= 1; });
  deeds = doing.catch(() => undefined);
  return doing;
}

async function attempt(path, body) {
  try {
    const told = await asked(path, { ...body, revision: state.revision });
    heard(told);
    byId("saved").textContent = `Saved at ${localTime(told.at)}`;
    hush();
    return told;
  } catch (failure) {
    byId("saved").textContent = "Not saved";
    if (failure.stale) changed(failure.message, () => deedAnyway(path, body));
    else say(failure.message, failure.gone ? [["Try again", () => deedAnyway(path, body)]] : []);
    throw failure;
  }
}

// Only after the photographer said so: the same deed on top of what is newest now.
async function deedAnyway(path, body) {
  try {
    heard(await get(statePath()));
  } catch (failure) {
    say(failure.message, failure.gone ? [["Try again", () => deedAnyway(path, body)]] : []);
    return;
  }
  try {
    await deed(path, body);
    news("mine");
  } catch { /* said already */ }
}

function changed(said, again) {
  const ways = [["Show the newest", showNewest]];
  if (again) ways.push(["Save mine on top", again]);
  say(said, ways);
}

async function showNewest() {
  heard(await get(statePath()));
  hush();
  byId("saved").textContent = "Shows the newest";
  news("newest");
}

function news(why) {
  for (const listener of listeners) listener(why);
}

export function say(said, ways = []) {
  const notice = byId("notice");
  const sentence = `${said.charAt(0).toUpperCase()}${said.slice(1)}`.replace(/([^.!?])$/, "$1.");
  notice.replaceChildren(el("p", {}, sentence),
    ...ways.map(([label, deedOf]) => el("button", { type: "button", onclick: deedOf }, label)),
    el("button", { type: "button", onclick: hush }, "Close"));
  notice.hidden = false;
}

export function hush() {
  byId("notice").hidden = true;
}

// Whatever was written last is saved first, so that undo takes back what one sees.
export const before = { undo: async () => undefined };

export async function back(path) {
  await before.undo();
  try {
    const told = await deed(path, { version: mine });
    if (told.step) byId("saved").textContent = told.step.said;
    for (const listener of listeners) listener("back", told.step);
  } catch { /* said already */ }
}

byId("undo").addEventListener("click", () => back("/api/undo"));
byId("redo").addEventListener("click", () => back("/api/redo"));
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey || event.key.toLowerCase() !== "z") return;
  if (event.target.tagName === "TEXTAREA" || ["text", "search"].includes(event.target.type)) return;
  event.preventDefault();
  back(event.shiftKey ? "/api/redo" : "/api/undo");
});

// Waits until everything that was done is saved.
export async function allSaved() {
  await before.undo();
  await deeds;
}

// A tab closed in the very moment of a save asks first.
window.addEventListener("beforeunload", (event) => { if (busy) event.preventDefault(); });

// A tab that comes to the front, or stands there for long, finds out that it is stale.
async function lookAround() {
  if (document.hidden || busy || !byId("notice").hidden) return;
  try {
    const told = await get(statePath());
    if (busy) return;
    if (told.revision !== state.revision) changed("This job was changed in another tab or by a command since this page was shown.");
    else heard(told);
  } catch { /* said at the next deed */ }
}
document.addEventListener("visibilitychange", lookAround);
window.addEventListener("focus", lookAround);
setInterval(lookAround, 5000);
lookAround();

// From elsewhere, the wall is found again where it was left.
try {
  const left = sessionStorage.getItem("wall");
  if (left && document.body.dataset.page !== "wall") document.querySelector('nav a[href="/"]').href = `/${left}`;
} catch { /* the whole wall, then */ }
