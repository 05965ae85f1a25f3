// Pictures of crops: a window on the master's preview, turned as the crop is, with marks laid over.

import { el, svg } from "./dom.js";

export function previewOf(master, sharpPx, why = "look") {
  const longest = [960, 1600].find((one) => one >= 0.9 * sharpPx) ?? 2880;
  return `/preview/${encodeURIComponent(master.version)}/${master.tag}/${longest}?for=${why}`;
}

function turned(crop) {
  const [x, y, width, height] = crop.whole;
  return crop.deg ? `rotate(${-crop.deg} ${x + width / 2} ${y + height / 2})` : null;
}

// box: which part of the master is seen, in the crop's own axes. wide: css px across.
export function picture(master, crop, { box = crop.seen, wide, round = false, marks = true, alt = "" }) {
  const [x, y, width, height] = box;
  const scale = wide / width;
  const needed = scale * Math.max(master.width, master.height) * Math.min(devicePixelRatio || 1, 2);
  const shown = svg("svg", {
    class: `picture${round ? " round" : ""}`, viewBox: `${x} ${y} ${width} ${height}`,
    width: wide.toFixed(1), height: (height * scale).toFixed(1),
    role: alt ? "img" : null, "aria-label": alt || null, "aria-hidden": alt ? null : "true",
  }, svg("g", { transform: turned(crop) },
    svg("image", { href: previewOf(master, needed), width: master.width, height: master.height, preserveAspectRatio: "none" })));
  if (marks) shown.append(marked(crop.marks, 12 / scale));
  else shown.append(filled(crop));
  return shown;
}

// A crop at the large that follows a moving hand: the picture lies in a layer of its own, so that
// moving it costs no drawing.
export class CropView {
  constructor(master, { alt = "", round = false } = {}) {
    this.master = master;
    this.image = el("img", { alt: "", draggable: "false" });
    this.marks = svg("svg", { "aria-hidden": "true" });
    this.node = el("div", { class: `view${round ? " round" : ""}`, role: alt ? "img" : null, "aria-label": alt || null }, this.image, this.marks);
    this.image.style.width = `${master.width}px`;
    this.image.style.height = `${master.height}px`;
  }

  show(crop, box, wide, { marks = true } = {}) {
    const [x, y, width, height] = box;
    const scale = wide / width;
    const needed = scale * Math.max(this.master.width, this.master.height) * Math.min(devicePixelRatio || 1, 2);
    const source = previewOf(this.master, needed);
    if (this.image.getAttribute("src") !== source) this.image.src = source;
    this.node.style.width = `${wide}px`;
    this.node.style.height = `${height * scale}px`;
    const [left, top, w, h] = crop.whole;
    const turn = crop.deg ? ` translate(${left + w / 2}px, ${top + h / 2}px) rotate(${-crop.deg}deg) translate(${-left - w / 2}px, ${-top - h / 2}px)` : "";
    this.image.style.transform = `scale(${scale}) translate(${-x}px, ${-y}px)${turn}`;
    this.marks.setAttribute("viewBox", `${x} ${y} ${width} ${height}`);
    this.marks.replaceChildren(marks ? marked(crop.marks, 12 / scale) : filled(crop));
  }
}

// What lies past the master belongs to the picture, with or without marks.
function filled(crop) {
  return svg("g", { class: "past" }, ...crop.marks.filter((mark) => mark.kind === "fill").flatMap((mark) => one(mark, 0)));
}

// The same window on another crop: only what moved is touched, for this runs while a hand moves.
export function moved(shown, crop, box) {
  const [x, y, width, height] = box;
  shown.setAttribute("viewBox", `${x} ${y} ${width} ${height}`);
  const turn = turned(crop);
  if (turn) shown.firstChild.setAttribute("transform", turn);
  else shown.firstChild.removeAttribute("transform");
  const marks = shown.querySelector(".marks");
  if (marks) marks.replaceWith(marked(crop.marks, (12 * width) / Number(shown.getAttribute("width"))));
}

const rect = ([x, y, width, height]) => ({ x, y, width: Math.max(0, width), height: Math.max(0, height) });

function boxPath([x, y, width, height]) {
  return `M${x} ${y}h${width}v${height}h${-width}Z`;
}

function veilPath({ outer, hole, round }) {
  const seam = 0.01 * outer[2];
  const around = [outer[0] - seam, outer[1] - seam, outer[2] + 2 * seam, outer[3] + 2 * seam];
  if (!round) return boxPath(around) + boxPath(hole);
  const r = hole[2] / 2;
  const middle = hole[1] + hole[3] / 2;
  return `${boxPath(around)}M${hole[0]} ${middle}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0Z`;
}

function one(mark, letter) {
  switch (mark.kind) {
    case "line": {
      const ends = { x1: mark.a[0], y1: mark.a[1], x2: mark.b[0], y2: mark.b[1] };
      return [svg("line", { class: "line under", ...ends }), svg("line", { class: "line", ...ends })];
    }
    case "fill": return [
      svg("rect", { class: "fill", ...rect(mark.box), fill: mark.colour }),
      ...mark.hatch.map(([x1, y1, x2, y2]) => svg("line", { class: "hatch", x1, y1, x2, y2 })),
    ];
    case "area": return [svg("rect", { class: `area${mark.filled ? " filled" : ""}`, ...rect(mark.box) })];
    case "ring": return [svg("circle", { class: "ring", cx: mark.at[0], cy: mark.at[1], r: mark.r })];
    case "veil": return [svg("path", { class: "veil", "fill-rule": "evenodd", d: veilPath(mark) })];
    default: return [svg("text", {
      class: "label", x: mark.at[0], y: mark.at[1], "font-size": letter, "stroke-width": letter / 4,
      "text-anchor": mark.anchor, transform: mark.upwards ? `rotate(-90 ${mark.at[0]} ${mark.at[1]})` : null,
    }, mark.text)];
  }
}

export function marked(marks, letter) {
  const layers = new Map();
  for (const mark of marks) {
    if (!layers.has(mark.layer)) layers.set(mark.layer, svg("g", { class: `o-${mark.layer}` }));
    layers.get(mark.layer).append(...one(mark, letter));
  }
  return svg("g", { class: "marks" }, ...layers.values());
}

