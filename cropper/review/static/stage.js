// The master at the large: drag the crop or its corners, nudge, turn, and place points by hand.
// What is drawn while the hand moves is only a wish; the server answers what becomes of it.

import { svg } from "./dom.js";
import { marked, previewOf } from "./draw.js";

const GRIPS = { nw: [0, 0], ne: [1, 0], se: [1, 1], sw: [0, 1] };
const STAYS = { nw: "bottom right", ne: "bottom left", se: "top left", sw: "top right" };
const LEAST = 16;
const MARGIN = 0.03;

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
  // tell: { wished(frame), done(frame, gesture), pointed(kind, points), said(text) }
  constructor(node, master, tell) {
    Object.assign(this, { node, master, tell, crop: null, shape: null, mode: "crop", near: 1, people: null, placing: null, drag: null, adjustable: false });
    this.image = svg("image", { width: master.width, height: master.height, preserveAspectRatio: "none" });
    this.over = svg("g", {});
    node.replaceChildren(this.image, this.over);
    node.style.aspectRatio = `${master.width} / ${master.height}`;
    node.addEventListener("pointerdown", (event) => this.#down(event));
    node.addEventListener("pointermove", (event) => this.#move(event));
    node.addEventListener("pointerup", (event) => this.#up(event));
    node.addEventListener("pointercancel", () => this.#cancel());
    node.addEventListener("keydown", (event) => this.#key(event));
    new ResizeObserver(() => this.draw()).observe(node);
  }

  show(crop, { adjustable }) {
    this.crop = crop;
    this.adjustable = adjustable;
    if (!this.drag) this.shape = crop ? { box: [...crop.box], deg: crop.deg } : null;
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

  setNear(near) {
    this.near = near;
    this.draw();
  }

  // Ask for points: kind and how many. The cross moves by pointer or arrow keys.
  place(kind, count, at) {
    this.placing = { kind, count, points: [], at: at ?? this.#heart() };
    this.node.focus();
    this.#ask();
    this.draw();
  }

  #ask() {
    const { kind, count, points } = this.placing;
    const what = count === 2 ? (points.length ? "the other eye" : "one eye") : `the ${kind}`;
    this.tell.said(`Click ${what}; or move the cross with the arrow keys and press Enter. Escape leaves it.`);
  }

  #heart() {
    const person = this.people?.principals[0];
    if (person) return middleOf([...person.eyes[0], ...person.eyes[1]]);
    return this.shape ? middleOf(this.shape.box) : [this.master.width / 2, this.master.height / 2];
  }

  get #scale() {
    const matrix = this.node.getScreenCTM();
    return matrix ? Math.hypot(matrix.a, matrix.b) || 1 : 1;
  }

  #at(event) {
    const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.node.getScreenCTM().inverse());
    return [x, y];
  }

  draw() {
    this.#frameView();
    const px = 1 / this.#scale;
    const parts = this.shape ? this.#cropParts(px) : [];
    if (this.mode === "people" && this.people) parts.push(...this.#peopleParts(px));
    if (this.placing) parts.push(...this.#aim(px));
    const held = document.activeElement?.dataset?.part;
    this.over.replaceChildren(...parts);
    if (held && !this.node.contains(document.activeElement)) this.over.querySelector(`[data-part="${held}"]`)?.focus();
    this.node.classList.toggle("placing", Boolean(this.placing));
  }

  // The master, and what of the crop is filled past it.
  #whole() {
    const { width, height } = this.master;
    const [x0, y0, x1, y1] = this.crop?.marks.some((one) => one.kind === "fill") ? this.crop.box : [0, 0, width, height];
    return [Math.min(0, x0), Math.min(0, y0), Math.max(width, x1), Math.max(height, y1)];
  }

  #frameView() {
    const { width, height } = this.master;
    const [left, top, right, bottom] = this.#whole();
    const [w, h] = this.near === 1 ? [right - left, bottom - top] : [width / this.near, height / this.near];
    if (this.near === 1) this.heart = null;
    else this.heart ??= this.#heart();
    const [cx, cy] = this.heart ?? [width / 2, height / 2];
    const { clientWidth, clientHeight } = this.node;
    const sharp = Math.min(clientWidth / w, clientHeight / h) * Math.max(width, height) * Math.min(devicePixelRatio || 1, 2);
    const preview = previewOf(this.master, sharp);
    if (this.image.getAttribute("href") !== preview) this.image.setAttribute("href", preview);
    // A margin around it: grips at the master's edge must be whole, to be taken hold of.
    const margin = MARGIN * Math.max(w, h);
    const [x, y] = this.near === 1 ? [left - margin, top - margin] : [clamp(cx - w / 2, 0, width - w) - margin, clamp(cy - h / 2, 0, height - h) - margin];
    this.node.setAttribute("viewBox", `${x} ${y} ${w + 2 * margin} ${h + 2 * margin}`);
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
        svg("circle", { class: `grip${other}`, "data-part": part, ...at, r: 7 * px }),
        svg("circle", { class: `grip-reach${other}`, "data-part": part, ...at, r: 20 * px }),
      ];
    });
  }

  #peopleParts(px) {
    const parts = this.people.people.map((one) => [
      svg("rect", { class: `person${one.principal ? " principal" : ""}${one.excluded ? " excluded" : ""}`, x: one.head[0], y: one.head[1], width: one.head[2], height: one.head[3] }),
      svg("text", { class: "person-name", x: one.head[0] + 4 * px, y: one.head[1] - 6 * px, "font-size": 15 * px, "stroke-width": 4 * px }, `${one.number}`),
    ]).flat();
    const [person] = this.people.principals;
    if (this.people.principals.length !== 1 || this.placing) return parts;
    const named = { eye0: ["left-hand eye", person.eyes[0]], eye1: ["right-hand eye", person.eyes[1]], crown: ["crown, the top of the hair", person.crown], chin: ["chin", person.chin] };
    for (const [part, [label, found]] of Object.entries(named)) {
      const at = this.drag?.part === part ? this.drag.at : found;
      parts.push(
        svg("circle", { class: "point", "data-part": part, cx: at[0], cy: at[1], r: 13 * px, tabindex: 0, role: "button", "aria-label": `${label} at ${Math.round(at[0])}, ${Math.round(at[1])}; arrow keys move it` }),
        svg("circle", { class: "point-dot", cx: at[0], cy: at[1], r: 2.5 * px }));
    }
    return parts;
  }

  #aim(px) {
    const { at, points } = this.placing;
    const cross = ([x, y], reach) => [["aim-under"], ["aim"]].flatMap(([kind]) => [
      svg("line", { class: kind, x1: x - reach, x2: x + reach, y1: y, y2: y }),
      svg("line", { class: kind, x1: x, x2: x, y1: y - reach, y2: y + reach }),
    ]);
    return [...points.flatMap((one) => [svg("circle", { class: "point", cx: one[0], cy: one[1], r: 10 * px }), svg("circle", { class: "point-dot", cx: one[0], cy: one[1], r: 2.5 * px })]), ...cross(at, 26 * px)];
  }

  // ---- pointer

  #down(event) {
    if (event.button !== 0) return;
    const at = this.#at(event);
    if (this.placing) {
      event.preventDefault();
      this.placing.at = at;
      this.#set();
      return;
    }
    const part = event.target.dataset?.part;
    if (!part) return;
    const point = part.startsWith("eye") || part === "crown" || part === "chin";
    if (!point && (this.mode !== "crop" || !this.adjustable)) return;
    event.preventDefault();
    this.node.setPointerCapture(event.pointerId);
    if (!point) this.node.focus({ preventScroll: true });
    this.drag = { part, from: at, at, start: this.shape && { box: [...this.shape.box], deg: this.shape.deg }, crop: this.crop, gesture: `${Date.now()}`, point, moved: false };
  }

  #move(event) {
    if (this.placing) {
      this.placing.at = this.#at(event);
      this.draw();
      return;
    }
    if (!this.drag) return;
    this.drag.at = this.#at(event);
    this.drag.moved = true;
    if (!this.drag.point) {
      this.drag.frame = this.drag.part === "frame" ? this.#slid() : this.#stretched();
      this.shape = { box: this.drag.frame.box, deg: this.drag.frame.deg };
      this.tell.wished(this.drag.frame);
    }
    this.draw();
  }

  #up() {
    const drag = this.drag;
    if (!drag) return;
    this.drag = null;
    if (!drag.moved) return;
    if (drag.point) this.tell.pointed(drag.part, [drag.at]);
    else this.tell.done(drag.frame, drag.gesture);
  }

  #cancel() {
    if (!this.drag) return;
    this.shape = this.drag.start;
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
    const reach = 7 / this.#scale;
    const [, , width, height] = crop.seen;
    const meet = (moved, rules, span, thirds) => {
      let best = moved;
      let nearest = reach;
      for (const { raw } of crop.rules.filter((one) => rules.includes(one.rule) && one.raw.value !== null)) {
        for (const bound of [...(raw.target ?? []), ...(raw.limit ?? []), ...thirds]) {
          if (bound === null || !Number.isFinite(bound)) continue;
          const wanted = (raw.value - bound) * span;
          if (Math.abs(wanted - moved) < nearest) [best, nearest] = [wanted, Math.abs(wanted - moved)];
        }
      }
      return best;
    };
    return [meet(dx, ["across"], width, [1 / 3, 1 / 2, 2 / 3]), meet(dy, ["eye line", "headroom"], height, [])];
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
    let width = Math.max((i ? 1 : -1) * (px - ax), (j ? 1 : -1) * (py - ay) * ratio, LEAST);
    if (!start.deg) {
      const room = [i ? this.master.width - ax : ax, (j ? this.master.height - ay : ay) * ratio];
      width = Math.min(width, ...room);
    }
    const height = width / ratio;
    const turnedMiddle = [ax + (i ? 1 : -1) * width / 2, ay + (j ? 1 : -1) * height / 2];
    const box = boxAt(around(turnedMiddle, middle, start.deg), width, height);
    return { box: start.deg ? this.#kept(box, start.deg) : box, deg: start.deg, anchor: start.deg ? "centre" : STAYS[part] };
  }

  // ---- keyboard

  #key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (event.key === "Escape") this.#escape();
    else if (this.placing && event.key === "Enter") this.#set();
    else if (this.placing && step) this.#aimed(step, event.shiftKey);
    else if (event.target.dataset?.part && step) this.#pointNudged(event.target, step, event.shiftKey);
    else if (event.target === this.node && step) this.#nudged(step, event.shiftKey);
    else if (event.target === this.node && "+=".includes(event.key)) this.zoom(1 / 1.02);
    else if (event.target === this.node && "-_−".includes(event.key)) this.zoom(1.02);
    else if (event.target === this.node && event.key === ",") this.turn(this.shape.deg - 0.1);
    else if (event.target === this.node && event.key === ".") this.turn(this.shape.deg + 0.1);
    else return;
    event.preventDefault();
  }

  #escape() {
    if (this.placing) {
      this.placing = null;
      this.draw();
      this.tell.left();
    } else this.#cancel();
  }

  #aimed([dx, dy], far) {
    const by = far ? Math.max(this.master.width, this.master.height) / 100 : 1;
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
    this.tell.pointed(kind, points);
  }

  #pointNudged(point, [dx, dy], far) {
    const by = far ? Math.max(this.master.width, this.master.height) / 100 : 1;
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
    if (!this.shape || !this.adjustable || this.mode !== "crop") return;
    const [x0, y0, x1, y1] = this.shape.box;
    const [sx, sy] = far ? [Math.max(1, Math.round((x1 - x0) / 100)), Math.max(1, Math.round((y1 - y0) / 100))] : [1, 1];
    this.#wish([x0 + dx * sx, y0 + dy * sy, x1 + dx * sx, y1 + dy * sy], this.shape.deg);
  }

  // Closer (below 1) or wider about the eyes: they stay where they are in the frame.
  zoom(by) {
    if (!this.shape || !this.adjustable) return;
    const [x0, y0, x1, y1] = this.shape.box;
    const [ex, ey] = this.#heart();
    const [cx, cy] = middleOf(this.shape.box);
    const width = Math.max(LEAST, by < 1 ? Math.min((x1 - x0) * by, x1 - x0 - 1) : Math.max((x1 - x0) * by, x1 - x0 + 1));
    const times = width / (x1 - x0);
    this.#wish(boxAt([ex + (cx - ex) * times, ey + (cy - ey) * times], width, (y1 - y0) * times), this.shape.deg);
  }

  turn(deg) {
    if (this.shape && this.adjustable) this.#wish(this.shape.box, Math.round(clamp(deg, -15, 15) * 100) / 100);
  }

  #wish(box, deg) {
    const kept = this.#kept(box, deg);
    this.shape = { box: kept, deg };
    this.draw();
    this.tell.done({ box: kept, deg, anchor: "centre" }, this.#gesture());
  }
}
