// @ts-check
// A knife line across the plate and the section that it gives, true to scale, after ISO 128: thick cut edges, hatching by layer,
// thin lines for heights.

import { get } from "./ask.js";
import { byId, draw, make, put, short } from "./make.js";
import { setKnife } from "./plate.js";

/** Sizes of the drawing, pixels; its width is that of the screen, so that its words stay legible. */
const WIDEST = 1400, TALLEST = 230;
/** How much heights may be stretched. */
const STRETCHES = [10, 8, 5, 4, 3, 2, 1];

/** @type {any} */
let picture = null;
/** @type {{ along: string, at: number } | null} */
let knife = null;
/** The section that is drawn. @type {any} */
let drawn = null;
let drawnAt = 0;
let busy = false;
let again = false;

new ResizeObserver(() => {
  if (drawn && byId("cut").clientWidth !== drawnAt) show(drawn);
}).observe(byId("cut"));

/** @param {any} now the state */
export function set(now) {
  const before = picture?.run;
  picture = now.picture;
  if (!picture) return put("cut");
  if (!knife || knife.at > across()) knife = picture.telling ?? { along: "x", at: picture.blank[1] / 2 };
  if (before !== picture.run || !byId("knife").firstChild) {
    controls();
    cut();
  }
}

/** How far the knife can be moved, mm. */
const across = () => picture.blank[knife?.along === "y" ? 0 : 1];

/** Moves the knife. @param {number} at mm */
export function move(at) {
  if (!knife || !picture) return;
  knife = { ...knife, at: Math.min(Math.max(at, 0.05), across() - 0.05) };
  const range = document.querySelector("#knife input");
  if (range instanceof HTMLInputElement) range.value = String(knife.at);
  cut();
}

function controls() {
  if (!knife) return;
  const turn = (/** @type {string} */ along, /** @type {string} */ says) =>
    make("button", { type: "button", "aria-pressed": String(knife?.along === along), onclick: () => {
      knife = { along, at: picture.blank[along === "x" ? 1 : 0] / 2 };
      controls();
      cut();
    } }, says);
  put("knife", turn("x", "left to right"), turn("y", "front to back"),
    make("input", { type: "range", min: 0.05, max: across() - 0.05, step: 0.1, value: knife.at, "aria-label": "where the knife lies, mm",
      oninput: (/** @type {Event} */ e) => move(Number(/** @type {HTMLInputElement} */ (e.target).value)) }));
}

/** Asks for the section; one question at a time, and the last place asked for is the one that stands. */
async function cut() {
  if (!knife || !picture) return;
  setKnife(knife);
  if (busy) {
    again = true;
    return;
  }
  busy = true;
  const asked = `section?run=${picture.run}&along_x=${knife.along === "x" ? 1 : 0}&at=${knife.at.toFixed(3)}`;
  const reply = await get(asked).catch(() => null);
  busy = false;
  if (reply?.ok) show(reply.body);
  if (again) {
    again = false;
    cut();
  }
}

/** @param {any} s */
function show(s) {
  drawn = s;
  drawnAt = byId("cut").clientWidth;
  const wide = Math.max(260, Math.min(WIDEST, byId("cut").clientWidth));
  const labels = wide < 700 ? 118 : 230;
  const scale = (wide - labels) / s.length;
  const stretch = STRETCHES.find((k) => s.face * scale * k <= TALLEST) ?? 1;
  const [left, top] = [4, 12];
  const table = top + s.face * scale * stretch;
  const at = (/** @type {number[]} */ p) => `${short(left + p[0] * scale, 2)} ${short(table - p[1] * scale * stretch, 2)}`;
  const svg = draw("svg", { viewBox: `0 0 ${wide} ${table + 24}`, role: "img", "aria-labelledby": "cut-says" });
  const patterns = draw("defs");
  s.layers.forEach((/** @type {any} */ _, /** @type {number} */ i) => {
    const gap = 7 + 3 * (i % 3);
    patterns.append(draw("pattern", { id: `hatch-${i}`, width: gap, height: gap, patternUnits: "userSpaceOnUse", patternTransform: `rotate(${i % 2 ? -45 : 45})` },
      draw("line", { class: "hatch", x1: 0, y1: 0, x2: 0, y2: gap })));
  });
  svg.append(patterns);
  s.layers.forEach((/** @type {any} */ layer, /** @type {number} */ i) => {
    const d = layer.pieces.map((/** @type {number[][]} */ p) => `M${p.map(at).join("L")}Z`).join("");
    svg.append(draw("path", { d, fill: layer.colour, "fill-opacity": 0.3 }), draw("path", { class: "edge", d, fill: `url(#hatch-${i})` }));
  });
  const right = left + s.length * scale;
  svg.append(draw("line", { class: "dim", x1: left, y1: table, x2: right + 8, y2: table }));
  heights(s, wide < 700).forEach(({ height, says, y }) => {
    const from = table - height * scale * stretch;
    svg.append(draw("path", { class: "dim", d: `M${right + 3} ${from}h9L${right + 20} ${y(from)}h6` }), draw("text", { x: right + 31, y: y(from) + 5 }, says));
  });
  spread(svg);
  put("cut", svg);
  const scaleSays = stretch > 1 ? `heights are drawn ${stretch} times larger than lengths` : "heights and lengths are drawn to the same scale";
  const [axis, seen] = s.along === "x" ? ["y", "from the maker’s side"] : ["x", "from the right"];
  put("cut-says", `Section at ${axis} ${short(s.at, 2)} mm, seen ${seen}, through the plate as the proof cut it; ${scaleSays}. Heights are above the table, on which it lies${s.under.length ? ` with ${s.under.map((/** @type {any} */ u) => `${short(u.thickness, 2)} mm of ${u.name}`).join(" and ")} between` : ""}.`);
}

/** Heights that are told, highest first; on a narrow screen without words. @param {any} s @param {boolean} narrow */
function heights(s, narrow) {
  const told = new Map([[short(s.face, 2), "face"]]);
  for (const f of s.floors) if (!told.has(short(Number(f), 2))) told.set(short(Number(f), 2), "floor");
  told.set(short(s.underside, 2), "underside");
  for (const layer of s.layers.slice(0, -1)) if (!told.has(short(layer.bottom, 2))) told.set(short(layer.bottom, 2), `under ${layer.sheet}`);
  const same = (/** @type {number} */ y) => y;
  return [...told].map(([h, what]) => ({ height: Number(h), says: narrow ? `${Number(h).toFixed(2)} mm` : `${Number(h).toFixed(2)} mm ${what}`, y: same }))
    .sort((a, b) => b.height - a.height);
}

/** Labels that lie on each other move apart. @param {SVGElement} svg */
function spread(svg) {
  const texts = [...svg.querySelectorAll("text")];
  const lines = [...svg.querySelectorAll("path.dim")];
  let last = -Infinity;
  texts.forEach((text, i) => {
    const y = Math.max(Number(text.getAttribute("y")), last + 18);
    last = y;
    text.setAttribute("y", String(y));
    const line = lines[i];
    const d = line?.getAttribute("d") ?? "";
    line?.setAttribute("d", d.replace(/L(\S+) \S+h6$/, `L$1 ${y - 5}h6`));
  });
  const box = /** @type {SVGSVGElement} */ (svg).viewBox.baseVal;
  if (last + 10 > box.height) svg.setAttribute("viewBox", `0 0 ${box.width} ${last + 10}`);
}
