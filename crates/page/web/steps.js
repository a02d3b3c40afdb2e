// @ts-check
// One drawing for each step of the work at the machine, made from the plate's own numbers.

import { draw, make, night, short } from "./make.js";

/** Width that drawings are laid out in. */
const WIDE = 900;
/** Smallest letters on the screen, pixels. */
const LETTERS = 28;
/** Height of drawings from the side. */
const TALL = 420;

/**
 * What is seen at a step, and the words below it.
 * @param {any} state @param {any} step
 * @returns {{ sight: Element | null, caption: string }}
 */
export function sight(state, step) {
  const p = state.plate;
  const cutter = step.stage === null ? null : p.stages[step.stage];
  switch (step.about) {
    case "film": return { sight: stack(p, "film"), caption: "The sheets as bonded, top first." };
    case "under": return { sight: stack(p, "under"), caption: p.under.length > 0 ? "From the side; what lies under it is drawn thicker than it is." : "From the side." };
    case "holds": return { sight: above(state, "holds"), caption: "From above." };
    case "zero": return { sight: above(state, "zero"), caption: "From above, as you stand at the machine." };
    case "frame": return { sight: above(state, "frame"), caption: "From above; the line is the plate’s edge." };
    case "touch-off": return { sight: feeler(p), caption: "The feeler lies on the table, the cutter just holds it." };
    case "traverse": return { sight: stack(p, "traverse"), caption: "From the side." };
    case "cutter": return { sight: cutter && tool(p, cutter), caption: cutter ? `${cutter.name}, ${short(cutter.width, 3)} mm wide.` : "" };
    case "dial": return { sight: cutter && dial(p, cutter), caption: "" };
    case "check": return step.id.endsWith(" check") ? { sight: feeler(p), caption: "" } : { sight: above(state, "holds"), caption: "From above." };
    case "run": return { sight: step.stage > 0 ? photo(state, step.stage - 1, []) : above(state, "frame"), caption: "As it should look before this program." };
    case "look": return { sight: photo(state, step.stage, []), caption: "From the proof of this program’s own text." };
    case "hand": return { sight: photo(state, null, state.hand ?? []), caption: "The rings are the places." };
    default: return { sight: photo(state, null, []), caption: "The finished plate." };
  }
}

/** Height of letters in a drawing of a width, so that on the screen they are no smaller than all others. @param {number} wide */
function letters(wide) {
  const narrow = innerWidth <= 760 && innerHeight > innerWidth ? innerWidth - 24 : innerWidth * 0.5;
  return Math.max(26, Math.ceil((LETTERS * wide) / Math.max(narrow - 10, 100)));
}

/** Words in a drawing. @param {Record<string, any>} said @param {string} words @param {number} size */
function lettered(said, words, size) {
  const text = draw("text", said, words);
  text.style.fontSize = `${size}px`;
  return text;
}

/** The plate after a stage, or at the end, with rings. @param {any} state @param {number | null} stage @param {number[][]} rings */
function photo(state, stage, rings) {
  const p = state.picture;
  const wide = innerWidth * devicePixelRatio > 1500 ? 1600 : 900;
  const [x0, y0, x1, y1] = p.window;
  const src = `picture?run=${p.run}&width=${wide}&night=${night()}${stage === null ? "" : `&stage=${stage}`}`;
  const alt = stage === null ? "The finished plate from above" : `The plate from above after program ${stage + 1}`;
  const img = make("img", { src, alt, width: wide, height: Math.round((wide * (y1 - y0)) / (x1 - x0)) });
  if (rings.length === 0) return img;
  const svg = draw("svg", { viewBox: `0 0 ${x1 - x0} ${y1 - y0}`, "aria-hidden": "true" });
  const r = (x1 - x0) / 80;
  for (const [x, y] of rings) svg.append(draw("circle", { class: "mark", cx: x - x0, cy: y1 - y, r }));
  svg.querySelectorAll("circle").forEach((c) => { c.style.strokeWidth = String(rings.length > 30 ? r / 7 : r / 4); });
  return make("div", { class: "over" }, img, svg);
}

/** The blank from above, with what the step is about drawn strongly. @param {any} state @param {"holds" | "zero" | "frame"} about */
function above(state, about) {
  const [x0, y0, x1, y1] = state.picture.window;
  const [w, h] = state.picture.blank;
  const scale = (WIDE - 80) / (x1 - x0);
  const at = (/** @type {number} */ x, /** @type {number} */ y) => [40 + (x - x0) * scale, 30 + (y1 - y) * scale];
  const size = letters(WIDE);
  const tall = (y1 - y0) * scale + (about === "zero" ? 50 + size : 60);
  const names = { holds: "The blank from above with its holds", zero: "The blank from above with its zero corner, lower left", frame: "The blank from above with the plate’s edge" };
  const svg = draw("svg", { viewBox: `0 0 ${WIDE} ${short(tall, 1)}`, role: "img", "aria-label": names[about] });
  const [left, top] = at(0, h);
  svg.append(draw("rect", { class: "face", x: left, y: top, width: w * scale, height: h * scale, fill: state.plate.layers[0]?.colour ?? "none" }));
  const ring = (/** @type {number[][]} */ points) => `M${points.map(([x, y]) => at(x, y).map((n) => short(n, 1)).join(" ")).join("L")}Z`;
  if (state.plate.edge) svg.append(draw("path", { class: about === "frame" ? "mark" : "thin", d: state.plate.edge.map(ring).join("") }));
  for (const hold of state.picture.holds) {
    const [cx, cy] = at(hold.at[0], hold.at[1]);
    if (hold.radius !== null) svg.append(draw("circle", { class: "metal", cx, cy, r: hold.radius * scale }));
    else svg.append(draw("path", { class: "metal", d: ring(hold.points) }));
    if (about === "holds") svg.append(draw("circle", { class: "mark", cx, cy, r: (hold.radius ?? 5) * scale + 12 }));
  }
  if (about === "zero") {
    const [zx, zy] = at(0, 0);
    svg.append(draw("path", { class: "mark", d: `M${zx} ${zy - 120}V${zy}H${zx + 120}` }), draw("circle", { class: "solid", cx: zx, cy: zy, r: 10 }));
    svg.append(lettered({ x: zx + 4, y: zy + 12 + size }, "zero here", size));
  }
  return svg;
}

/** The blank from the side. @param {any} p @param {"film" | "under" | "traverse"} about */
function stack(p, about) {
  const names = { film: "The sheets from the side, the film peeled off", under: "The blank on the table from the side", traverse: "The blank from the side, and the height of traverses above the table" };
  const svg = draw("svg", { viewBox: `0 0 ${WIDE} ${TALL}`, role: "img", "aria-label": names[about] });
  const table = TALL - 50;
  const size = letters(WIDE);
  // Where letters must be so large that they have no room the sentence beside the drawing says the same.
  const roomy = size <= 34;
  const top = about === "traverse" ? Math.max(p.traverse, p.face) : p.face;
  const scale = Math.min(44, (table - 90) / Math.max(top, 0.1));
  const [left, wide] = [120, 520];
  svg.append(draw("rect", { class: "table", x: 20, y: table, width: WIDE - 40, height: 34 }), roomy && lettered({ x: WIDE - 40, y: table + 27, "text-anchor": "end" }, "table", size) || "");
  const y = (/** @type {number} */ mm) => table - mm * scale;
  if (p.under.length > 0 && p.underside > 0) {
    const tall = Math.max(p.underside * scale, 10);
    svg.append(draw("rect", { class: about === "under" ? "solid" : "table", x: left, y: table - tall, width: wide, height: tall }));
    if (about === "under" && roomy) svg.append(draw("path", { class: "thin", d: `M${left + wide} ${table - tall / 2}H${left + wide + 24}` }), lettered({ x: left + wide + 32, y: table - tall / 2 + 2 }, p.under[0].name.slice(0, 16), size));
  }
  p.layers.forEach((/** @type {any} */ l) => {
    svg.append(draw("rect", { class: "face", x: left, y: y(l.top), width: wide, height: Math.max((l.top - l.bottom) * scale, 2), fill: l.colour }));
    if (about === "film" && roomy) svg.append(lettered({ x: left + wide + 32, y: y((l.top + l.bottom) / 2) + 8 }, l.sheet.slice(0, 16), size));
  });
  if (about === "film") svg.append(draw("path", { class: "mark", d: `M${left} ${y(p.face) - 7}H${left + wide * 0.55}C${left + wide * 0.8} ${y(p.face) - 7} ${left + wide * 0.8} ${y(p.face) - 70} ${left + wide * 0.5} ${y(p.face) - 74}` }));
  if (about === "traverse") {
    svg.append(draw("path", { class: "mark", d: `M30 ${y(p.traverse)}H${WIDE - 30}` }));
    const x = left + wide + 60;
    svg.append(draw("path", { class: "ink", d: `M${x} ${table}V${y(p.traverse) + 4}M${x - 9} ${y(p.traverse) + 20}L${x} ${y(p.traverse) + 4}L${x + 9} ${y(p.traverse) + 20}` }));
    if (roomy) svg.append(lettered({ x: x + 16, y: (table + y(p.traverse)) / 2 }, `${short(p.traverse, 2)} mm`, size));
  }
  return svg;
}

/** The cutter over the feeler on the table. @param {any} p */
function feeler(p) {
  const wide = 660;
  const size = letters(wide);
  const svg = draw("svg", { viewBox: `0 0 ${wide} ${TALL}`, role: "img", "aria-label": "The cutter touches the feeler that lies on the table" });
  const table = TALL - size - 24;
  svg.append(
    draw("rect", { class: "table", x: 10, y: table, width: wide - 20, height: size + 20 }),
    lettered({ x: wide - 30, y: table + size + 2, "text-anchor": "end" }, "table", size),
    draw("rect", { class: "metal", x: 120, y: 10, width: 120, height: 110 }),
    draw("rect", { class: "metal", x: 152, y: 120, width: 56, height: table - 134 }),
    draw("path", { class: "ink", d: `M152 ${table - 60}L208 ${table - 110}M152 ${table - 110}L208 ${table - 160}` }),
    draw("rect", { class: "solid", x: 60, y: table - 14, width: 320, height: 13 }),
    lettered({ x: 250, y: table - 30 }, `feeler ${short(p.feeler, 3)} mm`, size),
  );
  return svg;
}

/** A cutter in its nut with its stick-out. @param {any} p @param {any} c */
function tool(p, c) {
  const svg = draw("svg", { viewBox: `200 0 560 ${TALL}`, role: "img", "aria-label": `Cutter ${c.number}, ${short(c.stick_out, 1)} mm out of the collet` });
  const scale = 290 / Math.max(c.stick_out, 1);
  const [middle, nut] = [370, 90];
  const half = (/** @type {number} */ mm) => Math.max(Math.min((mm * scale) / 2, 130), 4);
  const tip = nut + c.stick_out * scale;
  const neck = tip - Math.min(c.flutes, c.stick_out) * scale;
  const wide = Math.max(half(p.nut), half(c.shank) + 20);
  svg.append(
    draw("path", { class: "metal", d: `M${middle - wide} 10H${middle + wide}V${nut - 20}L${middle + wide - 16} ${nut}H${middle - wide + 16}L${middle - wide} ${nut - 20}Z` }),
    draw("rect", { class: "metal", x: middle - half(c.shank), y: nut, width: 2 * half(c.shank), height: Math.max(neck - nut, 0) }),
    draw("rect", { class: "ground", x: middle - half(c.diameter), y: neck, width: 2 * half(c.diameter), height: tip - neck }),
  );
  for (let y = neck; y + 34 < tip; y += 34) svg.append(draw("path", { class: "ink", d: `M${middle - half(c.diameter)} ${y + 34}L${middle + half(c.diameter)} ${y + 4}` }));
  const x = middle + wide + 50;
  svg.append(
    draw("path", { class: "thin", d: `M${middle + 30} ${nut}H${x + 16}M${middle + 30} ${tip}H${x + 16}` }),
    draw("path", { class: "mark", d: `M${x} ${nut + 3}V${tip - 3}M${x - 10} ${nut + 20}L${x} ${nut + 3}L${x + 10} ${nut + 20}M${x - 10} ${tip - 20}L${x} ${tip - 3}L${x + 10} ${tip - 20}` }),
  );
  svg.append(lettered({ x: x + 24, y: (nut + tip) / 2 + 14 }, `${short(c.stick_out, 1)} mm`, Math.max(44, letters(560))));
  return svg;
}

/** The spindle's dial with its position; nothing where there is none. @param {any} p @param {any} c */
function dial(p, c) {
  if (!c.dial || p.dial.length === 0) return null;
  const size = letters(480);
  const svg = draw("svg", { viewBox: `${WIDE / 2 - 240} 0 480 ${TALL}`, role: "img", "aria-label": `The dial at ${c.dial}` });
  const [cx, cy, r] = [WIDE / 2, TALL / 2 + 10, 130];
  svg.append(draw("circle", { class: "metal", cx, cy, r }));
  p.dial.forEach((/** @type {string} */ position, /** @type {number} */ i) => {
    const turn = ((-140 + (280 * i) / Math.max(p.dial.length - 1, 1)) * Math.PI) / 180;
    const at = (/** @type {number} */ d) => [short(cx + d * Math.sin(turn), 1), short(cy - d * Math.cos(turn), 1)];
    const here = position === c.dial;
    const words = lettered({ x: at(r + 44)[0], y: Number(at(r + 44)[1]) + size / 3, "text-anchor": "middle" }, position, here ? 1.7 * size : size);
    if (here) words.style.fontWeight = "700";
    svg.append(words);
    if (here) svg.append(draw("path", { class: "mark strong", d: `M${at(r - 70).join(" ")}L${at(r - 8).join(" ")}` }));
  });
  return svg;
}
