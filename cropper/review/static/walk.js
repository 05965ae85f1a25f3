// From one crop that needs the photographer to the next, in the order and through the filter that
// the address holds; the picture that comes next is fetched ahead.

import { byId, count } from "./dom.js";
import { previewOf } from "./draw.js";
import { get, heard, say } from "./talk.js";

const FIELDS = { order: "walk-order", state: "walk-state", destination: "walk-destination", find: "walk-find" };
const USUAL = { order: "serious", state: "check", destination: "", find: "" };

export class Walk {
  // tell: { leave(): waits until all is saved, open(destination), nothing() }
  constructor(tell) {
    this.tell = tell;
    this.here = null;
    const asked = new URLSearchParams(location.search);
    this.key = asked.get("key") ?? "";
    for (const [name, id] of Object.entries(FIELDS)) {
      const field = byId(id);
      field.value = asked.get(name) ?? localStorage.getItem(`walk ${name}`) ?? USUAL[name];
      if (field.value === "" && USUAL[name]) field.value = USUAL[name];
      field.addEventListener("change", () => this.changed());
    }
    byId("skip").addEventListener("click", () => this.on());
    byId("previous").addEventListener("click", () => this.back());
  }

  get filter() {
    return Object.fromEntries(Object.entries(FIELDS).map(([name, id]) => [name, byId(id).value.trim()]));
  }

  changed() {
    for (const [name, value] of Object.entries(this.filter)) localStorage.setItem(`walk ${name}`, name === "find" ? "" : value);
    this.key = "";
    history.replaceState(null, "", `${this.search()}${location.hash}`);
    if (this.here) this.at(...this.here);
  }

  search(key = "") {
    const told = Object.entries({ ...this.filter, key }).filter(([name, value]) => value && value !== USUAL[name]);
    return told.length ? `?${new URLSearchParams(told)}` : location.pathname;
  }

  async asked(back = false) {
    const [version, at] = this.here;
    const query = new URLSearchParams({ ...this.filter, version, at, key: this.key, back: back ? "1" : "" });
    const answer = await get(`/api/next?${query}`);
    return answer;
  }

  // This crop is looked at now: say how far the walk is, and fetch what comes next.
  async at(version, destination) {
    this.here = [version, destination];
    try {
      const answer = await this.asked();
      if (this.here[1] !== destination) return;
      this.key = answer.here?.key ?? this.key;
      this.show(answer);
      const next = answer.next;
      if (next && next.version !== version) {
        const ahead = new Image();
        ahead.fetchPriority = "low";
        ahead.src = previewOf(next, Math.max(byId("mount").clientWidth, byId("mount").clientHeight) * Math.min(devicePixelRatio || 1, 2));
      }
    } catch { /* said at the next step */ }
  }

  show({ place, of, approved, crops, no_crop: none }) {
    const state = byId("walk-state").selectedOptions[0]?.textContent ?? "";
    byId("progress").textContent = place ? `${place} of ${of} ${state}` : `${of} ${state}`;
    byId("progress").title = `${approved} of ${count(crops, "crop")} approved${none ? `, ${none} without a crop` : ""}`;
  }

  on() {
    return this.go(false);
  }

  back() {
    return this.go(true);
  }

  async go(back) {
    if (this.going) return;
    this.going = true;
    try {
      await this.tell.leave();
      const answer = await this.asked(back);
      heard({ ...answer, revision: undefined });
      const next = answer.next;
      if (!next) {
        this.show(answer);
        this.tell.nothing();
      } else if (next.version === this.here[0]) {
        this.key = next.key;
        await this.tell.open(next.destination);
      } else {
        const query = this.search(next.key);
        location.href = `/look/${encodeURIComponent(next.version)}${query.startsWith("?") ? query : ""}#${encodeURIComponent(next.destination)}`;
      }
    } catch (failure) { say(failure.message); }
    this.going = false;
  }
}
