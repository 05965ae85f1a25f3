// The master at the large: look closer, drag the crop or its corners, nudge, turn, place points.
// What is drawn while the hand moves is only a wish; the server answers what becomes of it. An
// answer never takes back a newer wish.

import { el, svg } from "./dom.js";
import { marked, previewOf } from "./draw.js";

// Rules whose value is a share of the frame, so that a slide can meet it; with the shares that are
// caught beside the bounds that the server told.
const ACROSS = { lateral: [1 / 3, 1 / 2, 2 / 3] };
const DOWN = { "eye line": [1 / 3], "eye line asked": [], "headroom asked": [] };
const GRIPS = { nw: [0, 0], ne: [1, 0], se: [1, 1], sw: [0, 1] };
const STAYS = { nw: "bottom right", ne: "bottom left", se: "top left", sw: "top right" };
const LEAST = 64;
const MARGIN = 0.03;
const PIECE = 1024;
const MOST_PIECES = 24;

const middleOf = ([x0, y0, x1, y1]) => [(x0 + x1) / 2, (y0 + y1) / 2];
const clamp = (value, least, most) => Math.min(Math.max(value, least), Math.max(least, most));

function around([x, y], [cx, cy], deg) {
  const a = (deg * Math.PI) / 180;
  return [cx + (x - cx) * Math.cos(a) - (y - cy) * Math.sin(a), cy + (x - cx) * Math.sin(a) + (y - cy) * Math.cos(a)];
}

function boxAt([cx, cy], width, height) {
  return [cx - width / 2, cy - height / 2, cx + width / 2, cy + height / 2];
}

export class Stage {
  // tell: { wished(frame), done(frame, gesture), pointed(kind, points), said(text), left() }
  constructor(pane, master, tell) {
    Object.assign(this, { pane, master, tell, crop: null, shape: null, rest: null, mode: "crop", people: null, placing: null, drag: null, adjustable: false, camera: null, fingers: new Map(), panning: false });
    this.image = el("img", { class: "master", alt: "", draggable: "false" });
    this.image.style.width = `${master.width}px`;
    this.image.style.height = `${master.height}px`;
    this.pieces = el("div", { class: "pieces" });
    this.node = svg("svg", { id: "stage", tabindex: 0, role: "group", "aria-label": "The picture with its crop", "aria-describedby": "standing" });
    this.over = svg("g", {});
    this.node.append(this.over);
    pane.append(this.image, this.pieces, this.node);
    this.node.addEventListener("pointerdown", (event) => this.#down(event));
    this.node.addEventListener("pointermove", (event) => this.#move(event));
    this.node.addEventListener("pointerup", (event) => this.#up(event));
    this.node.addEventListener("pointercancel", (event) => this.#lost(event));
    this.node.addEventListener("wheel", (event) => this.#wheel(event), { passive: false });
    this.node.addEventListener("touchstart", (event) => { if (event.touches.length > 1) event.preventDefault(); }, { passive: false });
    new ResizeObserver(() => this.draw()).observe(pane);
  }

  // keep: the crop answers our own newest wish, so a turn can still be turned back.
  show(crop, { adjustable, keep = false }) {
    this.crop = crop;
    this.adjustable = adjustable;
    if (!this.drag) {
      this.shape = crop ? { box: [...crop.box], deg: crop.deg } : null;
      if (!keep) this.rest = null;
    }
    this.draw();
  }

  showPeople(people) {
    this.people = people;
    this.draw();
  }

  setMode(mode) {
    this.mode = mode;
    this.placing = null;
    this.draw();
  }

  // One finger moves the crop only when it was told to.
  setFinger(moves) {
    this.finger = moves;
    this.draw();
  }

  // Ask for points: kind and how many. The cross moves by pointer or arrow keys.
  place(kind, count, at) {
    this.placing = { kind, count, points: [], at: at ?? this.#heart() };
    this.node.focus({ preventScroll: true });
    this.#ask();
    this.draw();
  }

  #ask() {
    const { kind, points } = this.placing;
    const what = {
      eyes: points.length ? "the other eye" : "one eye",
      line: points.length ? "its other end" : "one end of a line that is to be level",
    }[kind] ?? `the ${kind}`;
    this.tell.said(`Click ${what}; or move the cross with the arrow keys and press Enter. Escape cancels.`);
  }

  #heart() {
    const person = this.people?.principals[0];
    if (person) return middleOf([...person.eyes[0], ...person.eyes[1]]);
    return this.shape ? middleOf(this.shape.box) : [this.master.width / 2, this.master.height / 2];
  }

  // ---- what of the master is seen: camera.s is css px per pixel of the master; null fits it whole

  get #view() {
    const { width: w, height: h } = this.pane.getBoundingClientRect();
    if (this.camera) {
      const { x, y, s } = this.camera;
      return { x, y, s, w, h };
    }
    const [left, top, right, bottom] = this.#whole();
    const margin = MARGIN * Math.max(right - left, bottom - top);
    const s = Math.max(1e-4, Math.min(w / (right - left + 2 * margin), h / (bottom - top + 2 * margin)));
    return { x: (left + right) / 2 - w / s / 2, y: (top + bottom) / 2 - h / s / 2, s, w, h };
  }

  // The master, and what of the crop is filled past it.
  #whole() {
    const { width, height } = this.master;
    const [x0, y0, x1, y1] = this.crop?.marks.some((one) => one.kind === "fill") ? this.crop.box : [0, 0, width, height];
    return [Math.min(0, x0), Math.min(0, y0), Math.max(width, x1), Math.max(height, y1)];
  }

  get zoomed() {
    return this.camera !== null;
  }

  fit() {
    this.camera = null;
    this.draw();
  }

  // Zoom so that one pixel of the master is so many of the screen; about a point of the master.
  zoomTo(perPixel, at = this.#heart()) {
    const { w, h } = this.#view;
    const s = perPixel / (devicePixelRatio || 1);
    this.camera = this.#within({ x: at[0] - w / s / 2, y: at[1] - h / s / 2, s });
    this.draw();
  }

  toggleOneToOne() {
    if (this.zoomed) this.fit();
    else this.zoomTo(1);
  }

  zoomBy(times, at) {
    const { x, y, s, w, h } = this.#view;
    const [cx, cy] = at ?? [x + w / s / 2, y + h / s / 2];
    const whole = this.#fitScale();
    const next = clamp(s * times, whole, Math.max(4, whole));
    if (next <= whole * 1.001) this.camera = null;
    else this.camera = this.#within({ x: cx - ((cx - x) * s) / next, y: cy - ((cy - y) * s) / next, s: next });
    this.draw();
  }

  #fitScale() {
    const kept = this.camera;
    this.camera = null;
    const { s } = this.#view;
    this.camera = kept;
    return s;
  }

  pan(dx, dy) {
    if (!this.camera) return;
    const { x, y, s } = this.camera;
    this.camera = this.#within({ x: x - dx / s, y: y - dy / s, s });
    this.draw();
  }

  #within({ x, y, s }) {
    const pane = this.pane.getBoundingClientRect();
    const [left, top, right, bottom] = this.#whole();
    const kept = (at, from, to, seen) => (to - from <= seen ? (from + to - seen) / 2 : clamp(at, from - seen / 8, to - seen * 7 / 8));
    return { x: kept(x, left, right, pane.width / s), y: kept(y, top, bottom, pane.height / s), s };
  }

  #at(event) {
    const box = this.pane.getBoundingClientRect();
    const { x, y, s } = this.#view;
    return [x + (event.clientX - box.left) / s, y + (event.clientY - box.top) / s];
  }

  // ---- drawing

  draw() {
    if (this.waiting) return;
    this.waiting = requestAnimationFrame(() => {
      this.waiting = 0;
      this.#draw();
    });
  }

  #draw() {
    const view = this.#view;
    const { x, y, s, w, h } = view;
    if (!w || !h) return;
    this.image.style.transform = `scale(${s}) translate(${-x}px, ${-y}px)`;
    this.node.setAttribute("viewBox", `${x} ${y} ${w / s} ${h / s}`);
    this.node.style.touchAction = this.finger || this.zoomed || this.placing || this.mode === "people" ? "none" : "pan-x pan-y";
    this.#sharpen(view);
    const px = 1 / s;
    const parts = this.shape ? this.#cropParts(px) : [];
    if (this.mode === "people" && this.people) parts.push(...this.#peopleParts(px));
    if (this.placing) parts.push(...this.#aim(px));
    const held = document.activeElement?.dataset?.part;
    this.over.replaceChildren(...parts);
    if (held && !this.node.contains(document.activeElement)) this.over.querySelector(`[data-part="${held}"]`)?.focus();
    this.node.classList.toggle("placing", Boolean(this.placing));
    this.node.classList.toggle("panning", this.panning);
  }

  // The smallest preview first, then the one that is sharp; beyond it, pieces of the master.
  #sharpen({ x, y, s, w, h }) {
    const longest = Math.max(this.master.width, this.master.height);
    const needed = s * longest * Math.min(devicePixelRatio || 1, 2);
    if (!this.image.getAttribute("src")) this.image.src = previewOf(this.master, 1);
    const source = previewOf(this.master, needed);
    if (this.source !== source) {
      this.source = source;
      const ready = new Image();
      ready.addEventListener("load", () => { if (this.source === source) this.image.src = source; });
      ready.addEventListener("error", () => this.tell.missing?.(source));
      ready.src = source;
    }
    clearTimeout(this.closer);
    if (needed <= 2880 * 1.05 || longest <= 2880) this.pieces.replaceChildren();
    else {
      this.pieces.style.transform = this.image.style.transform;
      this.closer = setTimeout(() => this.#fetchPieces({ x, y, s, w, h }), 90);
    }
  }

  #fetchPieces({ x, y, s, w, h }) {
    const [first, last] = [Math.max(0, Math.floor(x / PIECE)), Math.min(Math.ceil(this.master.width / PIECE), Math.ceil((x + w / s) / PIECE))];
    const [top, end] = [Math.max(0, Math.floor(y / PIECE)), Math.min(Math.ceil(this.master.height / PIECE), Math.ceil((y + h / s) / PIECE))];
    const wanted = [];
    for (let row = top; row < end; row += 1) for (let column = first; column < last; column += 1) wanted.push([column, row]);
    if (wanted.length > MOST_PIECES) return;
    const there = new Map([...this.pieces.children].map((one) => [one.dataset.at, one]));
    this.pieces.replaceChildren(...wanted.map(([column, row]) => {
      const at = `${column}/${row}`;
      if (there.has(at)) return there.get(at);
      const piece = el("img", { alt: "", draggable: "false", "data-at": at });
      piece.style.left = `${column * PIECE}px`;
      piece.style.top = `${row * PIECE}px`;
      piece.style.width = `${Math.min(PIECE, this.master.width - column * PIECE)}px`;
      piece.style.height = `${Math.min(PIECE, this.master.height - row * PIECE)}px`;
      piece.src = `/piece/${encodeURIComponent(this.master.version)}/${this.master.tag}/${at}`;
      return piece;
    }));
  }

  #cropParts(px) {
    const { box, deg } = this.shape;
    const [x0, y0, x1, y1] = box;
    const middle = middleOf(box);
    const frame = { x: x0, y: y0, width: x1 - x0, height: y1 - y0 };
    const corners = Object.values(GRIPS).map(([i, j]) => around([i ? x1 : x0, j ? y1 : y0], middle, deg));
    const outside = `M0 0H${this.master.width}V${this.master.height}H0ZM${corners.map((one) => one.join(" ")).join("L")}Z`;
    const inner = [svg("rect", { class: "frame-under", ...frame }), svg("rect", { class: "frame", "data-part": "frame", ...frame })];
    if (!this.drag && this.crop) inner.push(marked(this.crop.marks.filter((one) => one.kind !== "label"), 12 * px));
    if (this.mode === "crop" && this.adjustable && !this.placing) inner.push(...this.#grips(px));
    return [
      svg("path", { class: "outside", "fill-rule": "evenodd", d: outside }),
      svg("g", { transform: deg ? `rotate(${deg} ${middle[0]} ${middle[1]})` : null }, inner),
    ];
  }

  #grips(px) {
    const [x0, y0, x1, y1] = this.shape.box;
    return Object.entries(GRIPS).flatMap(([part, [i, j]]) => {
      const at = { cx: i ? x1 : x0, cy: j ? y1 : y0 };
      const other = part === "ne" || part === "sw" ? " other" : "";
      return [
        svg("circle", { class: `grip${other}`, "data-part": part, ...at, r: 6 * px }),
        svg("circle", { class: `grip-reach${other}`, "data-part": part, ...at, r: 20 * px }),
      ];
    });
  }

  #peopleParts(px) {
    const text = (at, words, down) => svg("text", { class: "person-name", x: at[0], y: at[1] + down * px, "font-size": 13 * px, "stroke-width": 4 * px }, words);
    const parts = this.people.people.map((one) => [
      svg("rect", { class: `person${one.principal ? " principal" : ""}${one.excluded ? " excluded" : ""}`, x: one.head[0], y: one.head[1], width: one.head[2], height: one.head[3] }),
      text([one.head[0] + 4 * px, one.head[1]], `person ${one.number}`, -6),
    ]).flat();
    const [person] = this.people.principals;
    if (this.people.principals.length !== 1 || this.placing) return parts;
    const named = { eye0: ["left-hand eye", person.eyes[0], "eye"], eye1: ["right-hand eye", person.eyes[1], "eye"], crown: ["crown, the top of the hair", person.crown, "crown"], chin: ["chin", person.chin, "chin"] };
    for (const [part, [label, found, short]] of Object.entries(named)) {
      const at = this.drag?.part === part ? this.drag.at : found;
      parts.push(
        svg("circle", { class: "point", "data-part": part, cx: at[0], cy: at[1], r: 13 * px, tabindex: 0, role: "button", "aria-label": `${label} at ${Math.round(at[0])}, ${Math.round(at[1])}; arrow keys move it` }),
        svg("circle", { class: "point-dot", cx: at[0], cy: at[1], r: 2.5 * px }),
        text([at[0] + 17 * px, at[1]], short, 4));
    }
    return parts;
  }

  #aim(px) {
    const { at, points, kind } = this.placing;
    const cross = ([x, y], reach) => [["aim-under"], ["aim"]].flatMap(([name]) => [
      svg("line", { class: name, x1: x - reach, x2: x + reach, y1: y, y2: y }),
      svg("line", { class: name, x1: x, x2: x, y1: y - reach, y2: y + reach }),
    ]);
    const set = points.flatMap((one) => [svg("circle", { class: "point", cx: one[0], cy: one[1], r: 10 * px }), svg("circle", { class: "point-dot", cx: one[0], cy: one[1], r: 2.5 * px })]);
    const line = kind === "line" && points.length ? ["aim-under", "aim"].map((name) => svg("line", { class: name, x1: points[0][0], y1: points[0][1], x2: at[0], y2: at[1] })) : [];
    return [...line, ...set, ...cross(at, 26 * px)];
  }

  // ---- pointer

  #wheel(event) {
    event.preventDefault();
    const lines = event.deltaMode === 1 ? 16 : 1;
    this.zoomBy(Math.exp((-event.deltaY * lines) / (event.ctrlKey ? 120 : 400)), this.#at(event));
  }

  #down(event) {
    if (event.pointerType === "touch") {
      this.fingers.set(event.pointerId, [event.clientX, event.clientY]);
      if (this.fingers.size === 2) {
        this.#cancel();
        this.pinch = this.#pinched();
        return;
      }
      if (this.fingers.size > 2) return;
    }
    if (event.button === 1 || (event.button === 0 && this.panning)) {
      event.preventDefault();
      this.node.setPointerCapture(event.pointerId);
      this.drag = { part: "view", last: [event.clientX, event.clientY] };
      return;
    }
    if (event.button !== 0) return;
    const at = this.#at(event);
    if (this.placing) {
      event.preventDefault();
      this.placing.at = at;
      this.#set();
      return;
    }
    const part = event.target.dataset?.part;
    const point = part && (part.startsWith("eye") || part === "crown" || part === "chin");
    const touch = event.pointerType === "touch";
    if (touch && !point && !this.finger) {
      if (this.zoomed) this.drag = { part: "view", last: [event.clientX, event.clientY] };
      return;
    }
    if (!part && this.zoomed) {
      this.node.setPointerCapture(event.pointerId);
      this.drag = { part: "view", last: [event.clientX, event.clientY] };
      return;
    }
    if (!part || (!point && (this.mode !== "crop" || !this.adjustable))) return;
    event.preventDefault();
    this.node.setPointerCapture(event.pointerId);
    if (!point) this.node.focus({ preventScroll: true });
    this.drag = { part, from: at, at, start: this.shape && { box: [...this.shape.box], deg: this.shape.deg }, crop: this.crop, gesture: `${Date.now()}`, point, moved: false };
  }

  #pinched() {
    const [[ax, ay], [bx, by]] = [...this.fingers.values()];
    return { far: Math.hypot(ax - bx, ay - by), at: [(ax + bx) / 2, (ay + by) / 2] };
  }

  #move(event) {
    if (event.pointerType === "touch" && this.fingers.has(event.pointerId)) this.fingers.set(event.pointerId, [event.clientX, event.clientY]);
    if (this.pinch && this.fingers.size === 2) {
      const now = this.#pinched();
      this.zoomBy(now.far / Math.max(1, this.pinch.far), this.#at({ clientX: now.at[0], clientY: now.at[1] }));
      this.pan(now.at[0] - this.pinch.at[0], now.at[1] - this.pinch.at[1]);
      this.pinch = now;
      return;
    }
    if (this.placing) {
      this.placing.at = this.#at(event);
      this.draw();
      return;
    }
    if (!this.drag) return;
    if (this.drag.part === "view") {
      this.pan(event.clientX - this.drag.last[0], event.clientY - this.drag.last[1]);
      this.drag.last = [event.clientX, event.clientY];
      return;
    }
    this.drag.at = this.#at(event);
    this.drag.moved = true;
    if (!this.drag.point) {
      this.drag.frame = this.drag.part === "frame" ? this.#slid() : this.#stretched();
      this.shape = { box: this.drag.frame.box, deg: this.drag.frame.deg };
      this.rest = null;
      this.tell.wished(this.drag.frame);
    }
    this.draw();
  }

  #up(event) {
    this.fingers.delete(event.pointerId);
    if (this.fingers.size < 2) this.pinch = null;
    const drag = this.drag;
    if (!drag) return;
    this.drag = null;
    if (drag.part === "view" || !drag.moved) return;
    if (drag.point) this.tell.pointed(drag.part, [drag.at]);
    else this.tell.done(drag.frame, drag.gesture);
  }

  #lost(event) {
    this.fingers.delete(event.pointerId);
    this.pinch = null;
    this.#cancel();
  }

  #cancel() {
    if (!this.drag) return;
    if (this.drag.start) this.shape = this.drag.start;
    this.drag = null;
    this.draw();
    this.tell.left();
  }

  #slid() {
    const { start, from, at, crop } = this.drag;
    let [dx, dy] = [at[0] - from[0], at[1] - from[1]];
    if (this.snaps) [dx, dy] = this.#caught(dx, dy, crop);
    const [x0, y0, x1, y1] = start.box;
    return { box: this.#kept([x0 + dx, y0 + dy, x1 + dx, y1 + dy], start.deg), deg: start.deg, anchor: "centre" };
  }

  // Catch where a measured value meets a bound that the server told, or a third of the frame.
  #caught(dx, dy, crop) {
    const reach = 7 / this.#view.s;
    const [, , width, height] = crop.seen;
    const meet = (moved, guides, span) => {
      let best = moved;
      let nearest = reach;
      for (const { rule, raw } of crop.rules.filter((one) => one.rule in guides && one.raw.value !== null)) {
        for (const bound of [...(raw.target ?? []), ...(raw.limit ?? []), ...guides[rule]]) {
          if (bound === null || !Number.isFinite(bound)) continue;
          const wanted = (raw.value - bound) * span;
          if (Math.abs(wanted - moved) < nearest) [best, nearest] = [wanted, Math.abs(wanted - moved)];
        }
      }
      return best;
    };
    return [meet(dx, ACROSS, width), meet(dy, DOWN, height)];
  }

  // The nearest place for a box, turned so far, inside the master.
  #kept([x0, y0, x1, y1], deg) {
    const a = Math.abs((deg * Math.PI) / 180);
    const [width, height] = [x1 - x0, y1 - y0];
    const [rx, ry] = [(width * Math.cos(a) + height * Math.sin(a)) / 2, (width * Math.sin(a) + height * Math.cos(a)) / 2];
    const [cx, cy] = middleOf([x0, y0, x1, y1]);
    const [kx, ky] = [clamp(cx, rx, this.master.width - rx), clamp(cy, ry, this.master.height - ry)];
    if (!deg) {
      const [left, top] = [Math.round(kx - width / 2), Math.round(ky - height / 2)];
      return [left, top, left + width, top + height];
    }
    return boxAt([kx, ky], width, height);
  }

  #stretched() {
    const { start, at, part } = this.drag;
    const [x0, y0, x1, y1] = start.box;
    const middle = middleOf(start.box);
    const ratio = (x1 - x0) / (y1 - y0);
    const [px, py] = around(at, middle, -start.deg);
    const [i, j] = GRIPS[part];
    const [ax, ay] = [i ? x0 : x1, j ? y0 : y1];
    let width = Math.max((i ? 1 : -1) * (px - ax), (j ? 1 : -1) * (py - ay) * ratio, LEAST * Math.max(1, ratio));
    if (!start.deg) {
      const room = [i ? this.master.width - ax : ax, (j ? this.master.height - ay : ay) * ratio];
      width = Math.min(width, ...room);
    }
    const height = width / ratio;
    const turnedMiddle = [ax + (i ? 1 : -1) * width / 2, ay + (j ? 1 : -1) * height / 2];
    const box = boxAt(around(turnedMiddle, middle, start.deg), width, height);
    return { box: start.deg ? this.#kept(box, start.deg) : box, deg: start.deg, anchor: start.deg ? "centre" : STAYS[part] };
  }

  // ---- keyboard: true when the key was for the stage

  key(event) {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    const far = event.altKey ? 5 : event.shiftKey ? 1 : 0;
    if (event.key === "Escape") return this.#escape();
    if (event.key === "Enter" && this.placing) this.#set();
    else if (step && event.ctrlKey) this.pan(-60 * step[0], -60 * step[1]);
    else if (event.ctrlKey || event.metaKey) return false;
    else if (step && this.placing) this.#aimed(step, far);
    else if (step && event.target.dataset?.part) this.#pointNudged(event.target, step, far);
    else if (step) return this.#nudged(step, far);
    else if (event.key === "PageUp") this.zoomBy(1.4);
    else if (event.key === "PageDown") this.zoomBy(1 / 1.4);
    else if ("+=".includes(event.key)) this.zoom(1 / 1.02);
    else if ("-_−".includes(event.key)) this.zoom(1.02);
    else if (event.key === ",") this.turnBy(-0.1);
    else if (event.key === ".") this.turnBy(0.1);
    else return false;
    return true;
  }

  #escape() {
    if (this.placing) {
      this.placing = null;
      this.draw();
      this.tell.left();
      return true;
    }
    if (!this.drag) return false;
    this.#cancel();
    return true;
  }

  #far(far) {
    return far ? (far * Math.max(this.master.width, this.master.height)) / 100 : 1;
  }

  #aimed([dx, dy], far) {
    const by = this.#far(far);
    const [x, y] = this.placing.at;
    this.placing.at = [clamp(x + dx * by, 0, this.master.width), clamp(y + dy * by, 0, this.master.height)];
    this.draw();
  }

  #set() {
    const { kind, count, points, at } = this.placing;
    points.push(at.map((one) => Math.round(one * 10) / 10));
    if (points.length < count) {
      this.#ask();
      this.draw();
      return;
    }
    this.placing = null;
    this.draw();
    if (kind === "line") this.#levelled(points);
    else this.tell.pointed(kind, points);
  }

  // Turn so that the drawn line is level, or upright when it is nearer to that.
  #levelled([[ax, ay], [bx, by]]) {
    if (Math.hypot(bx - ax, by - ay) < 2) return;
    const slope = (Math.atan2(by - ay, bx - ax) * 180) / Math.PI;
    this.tell.left();
    this.turn(slope - 90 * Math.round(slope / 90));
  }

  #pointNudged(point, [dx, dy], far) {
    const by = this.#far(far);
    const at = [Number(point.getAttribute("cx")) + dx * by, Number(point.getAttribute("cy")) + dy * by];
    this.tell.pointed(point.dataset.part, [at]);
  }

  #gesture() {
    const now = Date.now();
    if (!this.keyed || now - this.keyed.last > 1200) this.keyed = { name: `k${now}`, last: now };
    this.keyed.last = now;
    return this.keyed.name;
  }

  #nudged([dx, dy], far) {
    if (!this.shape || !this.adjustable || this.mode !== "crop") return false;
    const [x0, y0, x1, y1] = this.shape.box;
    const [sx, sy] = far ? [Math.max(1, Math.round((far * (x1 - x0)) / 100)), Math.max(1, Math.round((far * (y1 - y0)) / 100))] : [1, 1];
    this.#wish([x0 + dx * sx, y0 + dy * sy, x1 + dx * sx, y1 + dy * sy], this.shape.deg);
    return true;
  }

  // Closer (below 1) or wider about the eyes: they stay where they are in the frame.
  zoom(by) {
    if (!this.shape || !this.adjustable) return;
    const [x0, y0, x1, y1] = this.shape.box;
    const [ex, ey] = this.#heart();
    const [cx, cy] = middleOf(this.shape.box);
    const least = LEAST * Math.max(1, (x1 - x0) / (y1 - y0));
    const width = Math.max(least, by < 1 ? Math.min((x1 - x0) * by, x1 - x0 - 1) : Math.max((x1 - x0) * by, x1 - x0 + 1));
    const times = width / (x1 - x0);
    this.#wish(boxAt([ex + (cx - ex) * times, ey + (cy - ey) * times], width, (y1 - y0) * times), this.shape.deg);
  }

  turnBy(deg) {
    if (this.shape) this.turn(this.shape.deg + deg);
  }

  // The box that was there before the first turn is kept, so that turning back brings it back.
  turn(deg) {
    if (!this.shape || !this.adjustable) return;
    const turned = Math.round(clamp(deg, -15, 15) * 100) / 100;
    this.rest ??= [...this.shape.box];
    this.shape = { box: this.#kept(this.rest, turned), deg: turned };
    this.draw();
    this.tell.done({ box: this.rest, deg: turned, anchor: "centre" }, this.#gesture());
  }

  #wish(box, deg) {
    const kept = this.#kept(box, deg);
    this.shape = { box: kept, deg };
    this.rest = null;
    this.draw();
    this.tell.done({ box: kept, deg, anchor: "centre" }, this.#gesture());
  }
}
