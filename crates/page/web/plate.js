// @ts-check
// The plate: its picture as the proof cut it, holds, zero corner, scale bar, numbered pins with leader lines to their notes,
// and what lies under the pointer.

import { get } from "./ask.js";
import { byId, draw, night, put, short } from "./make.js";
import * as near from "./near.js";

/** Widths that pictures are asked for at, pixels. */
const WIDTHS = [400, 640, 900, 1200, 1600, 2200, 3000, 4000];
/** How long the pointer rests before it is asked what is here, ms. */
const REST = 70;

/** @type {any} */
let picture = null;
/** @type {any[]} */
let notes = [];
/** Places left for hand. @type {any[]} */
let hand = [];
/** @type {number | null} */
let stage = null;
/** The picture that is shown or on its way. */
let shown = "";
/** @type {number[] | null} */
let spot = null;
/** @type {{ along: string, at: number } | null} */
let knife = null;
/** @type {(line: number | null, at: number[]) => void} */
let pick = () => {};
/** @type {(at: number, done: boolean) => void} */
let cutAt = () => {};
/** @type {AbortController | null} */
let asking = null;
let resting = 0;
let dragging = false;

const over = () => byId("over");

/**
 * @param {(line: number | null, at: number[]) => void} picked what to do when an area is chosen on the plate, by its line of the plate file
 * @param {(at: number, done: boolean) => void} cut what to do when the knife is dragged
 */
export function begin(picked, cut) {
  pick = picked;
  cutAt = cut;
  near.begin(layOut);
  const svg = over();
  svg.addEventListener("pointermove", (/** @type {PointerEvent} */ e) => {
    const at = place(e);
    if (dragging && knife && at) return cutAt(knife.along === "x" ? at[1] : at[0], false);
    if (e.pointerType === "mouse") rest(at);
  });
  svg.addEventListener("pointerdown", (/** @type {PointerEvent} */ e) => {
    if (/** @type {Element} */ (e.target).classList.contains("grip")) {
      dragging = true;
      svg.setPointerCapture(e.pointerId);
      e.preventDefault();
    }
  });
  svg.addEventListener("pointerup", (/** @type {PointerEvent} */ e) => {
    const at = place(e);
    if (dragging) {
      dragging = false;
      if (knife && at) cutAt(knife.along === "x" ? at[1] : at[0], true);
      return;
    }
    if (at) here(at, true);
  });
  svg.addEventListener("pointercancel", () => (dragging = false));
  svg.addEventListener("keydown", keys);
  new ResizeObserver(layOut).observe(byId("bench"));
  byId("face").addEventListener("load", layOut);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", show);
}

/** The plate is moved over by arrow keys, a millimetre or ten at a time. @param {KeyboardEvent} e */
function keys(e) {
  if (!picture) return;
  const step = (e.shiftKey ? 10 : 1) * near.step();
  const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] }[e.key];
  if (e.key === "Enter" || e.key === " ") {
    if (spot) here(spot, true);
    e.preventDefault();
  } else if (by) {
    const [w, h] = picture.blank;
    const from = spot ?? [w / 2, h / 2];
    here([clamp(from[0] + by[0], 0, w), clamp(from[1] + by[1], 0, h)], false);
    e.preventDefault();
  }
}

/** @param {number} v @param {number} low @param {number} high */
const clamp = (v, low, high) => Math.min(Math.max(v, low), high);

/** The place on the blank under the pointer, mm. @param {PointerEvent} e */
export function place(e) {
  if (!picture) return null;
  const box = over().getBoundingClientRect();
  const [x0, y0, x1, y1] = near.seen();
  const x = x0 + ((e.clientX - box.left) / box.width) * (x1 - x0);
  const y = y1 - ((e.clientY - box.top) / box.height) * (y1 - y0);
  return [x, y];
}

/** @param {number[] | null} at */
function rest(at) {
  clearTimeout(resting);
  if (at) resting = window.setTimeout(() => here(at, false), REST);
}

/** Says what is at a place. @param {number[]} at @param {boolean} chosen */
async function here(at, chosen) {
  if (!picture) return;
  spot = at;
  near.setSpot(at);
  marks();
  if (picture.drawn) return chosen && pick(null, at);
  asking?.abort();
  asking = new AbortController();
  try {
    const reply = await get(`here?run=${picture.run}&x=${at[0].toFixed(3)}&y=${at[1].toFixed(3)}`, asking.signal);
    if (!reply.ok) return;
    put("here", sentence(reply.body));
    if (chosen) pick(reply.body.line, at);
  } catch {
    // Asked anew meanwhile, or the server has ended, which is said elsewhere.
  }
}

/** @param {any} h */
function sentence(h) {
  const digits = near.isNear() ? 3 : 1;
  let says = `x ${short(h.at[0], digits)} y ${short(h.at[1], digits)}: ${h.what}`;
  if (h.through) says += ", cut through";
  else if (h.height) {
    says += `, ${h.height} mm above the table`;
    if (h.wanted && Math.abs(h.wanted - h.height) > 0.02) says += ` (its floor is at ${h.wanted} mm)`;
    if (h.sheet) says += `, ${h.sheet} on view`;
  }
  const last = h.cut_by.at(-1);
  if (last) says += `. Cut by stage ${last.stage}, cutter ${last.number}, ${last.cutter}`;
  return `${says}.`;
}

/** @param {any} newPicture @param {any[]} newNotes @param {any[]} newHand @param {number | null} newStage */
export function set(newPicture, newNotes, newHand, newStage) {
  picture = newPicture;
  notes = newNotes;
  hand = newHand;
  stage = newStage;
  byId("plate").hidden = !picture;
  byId("bench").classList.toggle("bare", notes.length === 0);
  byId("plate").classList.toggle("stale", Boolean(picture && !picture.current && !picture.drawn));
  byId("plate").classList.toggle("uncut", Boolean(picture?.drawn));
  byId("paper").style.aspectRatio = picture?.drawn ? String((picture.window[2] - picture.window[0]) / (picture.window[3] - picture.window[1])) : "";
  near.set(picture, stage);
  if (!picture) return layOut();
  over().setAttribute("aria-label", `The plate from above, ${short(picture.blank[0], 2)} by ${short(picture.blank[1], 2)} mm; arrow keys move over it, plus and minus go nearer and farther, with control the arrow keys move what is seen`);
  show();
  layOut();
}

/** @param {{ along: string, at: number } | null} line */
export function setKnife(line) {
  knife = line;
  marks();
}

/** Shows the picture at the size that the screen has; the old one stays until the new one has come. */
async function show() {
  if (!picture) return;
  if (picture.drawn) {
    shown = "";
    byId("face").hidden = byId("while-said").hidden = true;
    return;
  }
  const wanted = byId("paper").clientWidth * Math.min(devicePixelRatio, 2);
  const width = WIDTHS.find((w) => w >= wanted) ?? 4000;
  const after = stage === null ? "" : `&stage=${stage}`;
  const source = `picture?run=${picture.run}&width=${width}&night=${night()}${after}`;
  if (source === shown) return;
  shown = source;
  const next = new Image();
  next.src = source;
  try {
    await next.decode();
  } catch {
    if (shown === source) shown = "";
    return;
  }
  if (shown !== source) return;
  const face = byId("face");
  face.src = source;
  face.alt = stage === null ? "The finished plate from above, as the proof cut it" : `The plate after stage ${stage + 1}`;
  face.hidden = false;
  again(next);
}

/** The same beside the sentences. @param {HTMLImageElement} image */
function again(image) {
  const paper = byId("again");
  [paper.width, paper.height] = [image.naturalWidth, image.naturalHeight];
  paper.getContext("2d")?.drawImage(image, 0, 0);
  byId("while-said").hidden = false;
}

/** Highlights an area of the run, or none. @param {number | null} area */
export async function highlight(area) {
  const before = over().querySelectorAll(".rings, .rings-under");
  if (area === null || !picture) return before.forEach((/** @type {Element} */ e) => e.remove());
  const reply = await get(`shape?run=${picture.run}&area=${area}`).catch(() => null);
  over().querySelectorAll(".rings, .rings-under").forEach((/** @type {Element} */ e) => e.remove());
  if (!reply?.ok || !picture) return;
  const d = reply.body.rings.map(path).join("");
  over().prepend(draw("path", { class: "rings-under", d }), draw("path", { class: "rings", d }));
}

/** @param {number[][]} points */
const path = (points) => `M${points.map(([x, y]) => drawn(x, y).map((v) => short(v, 3)).join(" ")).join("L")}Z`;

/** From the blank to the drawing, mm. @param {number} x @param {number} y */
const drawn = (x, y) => [x - picture.window[0], picture.window[3] - y];

/** Everything that depends on sizes on the screen. */
function layOut() {
  if (picture) {
    over().setAttribute("viewBox", near.box());
    show();
    scaleBar();
  }
  marks();
  leaders();
}

/** Marks on the plate: holds, corner, pins, knife, the place asked about. */
function marks() {
  const svg = over();
  svg.querySelectorAll(".mark").forEach((/** @type {Element} */ e) => e.remove());
  if (!picture) return;
  const mm = (near.seen()[2] - near.seen()[0]) / Math.max(svg.clientWidth, 1);
  picture.holds.forEach((/** @type {any} */ h, /** @type {number} */ i) => {
    const drawnHold = hold(h);
    drawnHold.setAttribute("data-hold", String(i));
    drawnHold.setAttribute("data-at", JSON.stringify(h.at));
    svg.append(drawnHold);
  });
  svg.append(corner(mm));
  if (knife) {
    const [w, h] = picture.blank;
    const beyond = 14 * mm;
    const [a, b] = knife.along === "x" ? [drawn(-beyond, knife.at), drawn(w + beyond, knife.at)] : [drawn(knife.at, -beyond), drawn(knife.at, h + beyond)];
    const ends = { x1: a[0], y1: a[1], x2: b[0], y2: b[1] };
    svg.append(draw("line", { class: "knife mark", ...ends }), draw("line", { class: `grip mark ${knife.along}`, ...ends }));
  }
  for (const left of stage === null ? hand : []) {
    const [x, y] = drawn(left.at[0], left.at[1]);
    const says = draw("title", {}, `left for hand in ${left.area}: ${left.why}`);
    svg.append(draw("g", { class: "hand mark" }, draw("circle", { class: "under", cx: x, cy: y, r: 5 * mm }), draw("circle", { cx: x, cy: y, r: 5 * mm }, says)));
  }
  for (const note of notes) {
    if (!note.at) continue;
    const [x, y] = drawn(note.at[0], note.at[1]);
    svg.append(
      draw("g", { class: "pin mark", "data-note": note.number, transform: `translate(${x} ${y}) scale(${mm})` },
        draw("circle", { r: 12 }), draw("text", { y: 5 }, String(note.number))),
    );
  }
  if (spot) {
    const [x, y] = drawn(spot[0], spot[1]);
    const r = 7 * mm;
    svg.append(draw("path", { class: "spot mark", d: `M${x - r} ${y}h${r * 0.6}m${r * 0.8} 0h${r * 0.6}M${x} ${y - r}v${r * 0.6}m0 ${r * 0.8}v${r * 0.6}` }));
  }
}

/** A hold as a drawn screw head. @param {any} h */
function hold(h) {
  const [x, y] = drawn(h.at[0], h.at[1]);
  const name = draw("title", {}, h.name);
  if (h.radius === null) return draw("g", { class: "hold mark" }, name, draw("path", { d: path(h.points) }));
  const r = h.radius;
  return draw("g", { class: "hold mark" }, name,
    draw("circle", { cx: x, cy: y, r }), draw("circle", { cx: x, cy: y, r: r * 0.72 }),
    draw("line", { x1: x - r * 0.5, y1: y + r * 0.18, x2: x + r * 0.5, y2: y - r * 0.18 }));
}

/** A carpenter's square laid against the zero corner. @param {number} mm of a pixel */
function corner(mm) {
  const [x, y] = drawn(0, 0);
  return draw("path", { class: "corner mark", transform: `translate(${x} ${y}) scale(${mm})`, d: "M-2 2V-30H-10V10H30V2Z" });
}

function scaleBar() {
  const svg = byId("scale");
  // Nothing has a size until it is laid out.
  if (byId("paper").clientWidth === 0) return;
  const px = byId("paper").clientWidth / (near.seen()[2] - near.seen()[0]);
  const most = Math.min(200, byId("paper").clientWidth / 3) / px;
  const decade = 10 ** Math.floor(Math.log10(most));
  const length = [5, 2, 1].map((s) => s * decade).find((l) => l <= most) ?? decade;
  const w = length * px;
  svg.setAttribute("width", String(w + 66));
  const says = length < 0.1 ? `${short(length * 1000, 1)} µm` : `${short(length, 2)} mm`;
  svg.setAttribute("aria-label", `scale: this bar is ${says}`);
  svg.replaceChildren(
    draw("line", { x1: 0, y1: 9, x2: w, y2: 9, "stroke-width": 1 }), draw("line", { x1: 0, y1: 9, x2: w / 2, y2: 9, "stroke-width": 3 }),
    ...[0, w / 2, w].map((x) => draw("line", { x1: x, y1: 4, x2: x, y2: 14, "stroke-width": 1 })),
    draw("text", { x: w + 8, y: 14 }, says),
  );
}

/** A fine line from each note to its place. */
function leaders() {
  const svg = byId("leaders");
  svg.replaceChildren();
  if (!picture || getComputedStyle(svg).display === "none") return;
  const bench = byId("bench").getBoundingClientRect();
  for (const note of notes) {
    const item = document.querySelector(`#notes > li[data-note="${note.number}"]`);
    const pin = over().querySelector(`.pin[data-note="${note.number}"] circle`);
    // A place that isn't seen has no line to it.
    if (!item || !pin || !inView(note.at)) continue;
    const [from, to] = [item.getBoundingClientRect(), pin.getBoundingClientRect()];
    const [x, y] = [from.left - bench.left, from.top - bench.top + 20];
    const [px, py] = [to.left + to.width / 2 - bench.left, to.top + to.height / 2 - bench.top];
    const bend = x - 26;
    const length = Math.hypot(bend - px, y - py) || 1;
    const r = to.width / 2;
    const d = `M${x} ${y}H${bend}L${px + ((bend - px) / length) * r} ${py + ((y - py) / length) * r}`;
    svg.append(draw("path", { class: "under", d }), draw("path", { "data-note": note.number, d }));
  }
}

/** @param {number[]} at */
const inView = ([x, y]) => {
  const [x0, y0, x1, y1] = near.seen();
  return !near.isNear() || (x >= x0 && x <= x1 && y >= y0 && y <= y1);
};

/** Marks a note's pin and leader. @param {number} number @param {boolean} on */
export function pickNote(number, on) {
  document.querySelectorAll(`[data-note="${number}"]`).forEach((e) => e.classList.toggle("picked", on));
}

/** Leader lines anew, when notes have moved. */
export const settle = () => requestAnimationFrame(leaders);
