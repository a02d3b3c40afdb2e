// @ts-check
// The drawing's contours in ink over the blank: for a plate that can't be shown as cut yet, and for choosing contours.

import { get } from "./ask.js";
import { byId, draw, short } from "./make.js";

/** @type {any} */
let drawing = null;
/** What the drawing that is here was asked for by. */
let asked = "";
let shown = false;
/** @type {any} */
let picture = null;

/**
 * The drawing of the plate as its file stands now.
 * @param {string} hash of the plate file @param {number} turn
 * @returns {Promise<any>} `null` if there is none to be shown
 */
export async function load(hash, turn) {
  const key = `${hash} ${turn}`;
  if (key === asked) return drawing;
  const reply = await get("drawing").catch(() => null);
  asked = key;
  drawing = reply?.ok ? reply.body : null;
  return drawing;
}

/** What stands in for a picture of a plate that isn’t cut yet. @param {any} d the drawing */
export function standIn(d) {
  const box = d.bounds ?? [0, 0, 100, 100];
  const [w, h] = d.blank ?? [box[2], box[3]];
  const rim = 0.04 * Math.max(w, h);
  const low = [Math.min(0, box[0]), Math.min(0, box[1])];
  const high = [Math.max(w, box[2]), Math.max(h, box[3])];
  return { drawn: true, run: null, current: false, blank: [w, h], holds: [], window: [low[0] - rim, low[1] - rim, high[0] + rim, high[1] + rim] };
}

/** @param {any} newPicture what the plate shows @param {boolean} on */
export function show(newPicture, on) {
  picture = newPicture;
  shown = on;
  paint();
}

/** Draws the contours, or takes them away. */
export function paint() {
  const over = byId("over");
  over.querySelectorAll(".drawn").forEach((/** @type {Element} */ e) => e.remove());
  if (!shown || !picture || !drawing) return;
  const [x0, , , y1] = picture.window;
  const path = (/** @type {number[][]} */ points) => `M${points.map(([x, y]) => `${short(x - x0, 3)} ${short(y1 - y, 3)}`).join("L")}Z`;
  const group = draw("g", { class: "drawn" });
  if (picture.drawn) {
    const [w, h] = picture.blank;
    group.append(draw("rect", { class: "sheet", x: -x0, y: y1 - h, width: w, height: h }));
  }
  const d = drawing.contours.map((/** @type {any} */ c) => path(c.points)).join("");
  group.append(draw("path", { class: "under", d }), draw("path", { d }));
  over.prepend(group);
}

/** The names of the smallest contour round a place, its own first. @param {number[]} at @returns {string[]} */
export function namesAt(at) {
  let best = null;
  let least = Infinity;
  for (const c of drawing?.contours ?? []) {
    const size = Math.abs(area(c.points));
    if (size < least && holds(c.points, at)) [best, least] = [c, size];
  }
  return best ? best.names : [];
}

/** @param {number[][]} points */
function area(points) {
  let sum = 0;
  points.forEach(([x, y], i) => {
    const [nx, ny] = points[(i + 1) % points.length];
    sum += x * ny - nx * y;
  });
  return sum / 2;
}

/** @param {number[][]} points @param {number[]} at */
function holds(points, [x, y]) {
  let inside = false;
  points.forEach(([ax, ay], i) => {
    const [bx, by] = points[(i + 1) % points.length];
    if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) inside = !inside;
  });
  return inside;
}
