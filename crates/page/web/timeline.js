// @ts-check
// The time line: the plate as cut so far at any moment, the cutter where it is, its way in ink, the program's line, and what the
// cutter is asked for over time. Times are the proof's. The server is asked for whole programs only; moments are drawn here.

import { get } from "./ask.js";
import { byId, draw, make, put, short, time as minutes } from "./make.js";
import { heights, paint, palette } from "./heights.js";
import { AIR, CUT, RAPID, Replay, cutterAt, way } from "./replay.js";

/** Cells of the plate that is cut here. */
const CELLS = 300000;
/** Ways that are inked at most in one go: where the line jumps, those before the moment. */
const INKED = 3000;
/** How long the hand rests after a jump before the way is inked anew, ms: the plate comes first. */
const REST = 70;
/** Weights of ink that the engagement is told in. */
const WEIGHTS = 6;
/** Height of a graph, pixels. */
const TALL = 46;
/** Programs that are kept ready. */
const READY = 8;

/** @typedef {{ replay: Replay, palette: { pixels: Uint32Array, count: number } }} Program */

/** @type {any} */
let picture = null;
/** @type {any} */
let times = null;
/** Programs of this run that were asked for. @type {Map<number, Promise<Program | null>>} */
let ready = new Map();
let wanted = 0;
/** The stage that was chosen elsewhere. @type {number | null} */
let chosen = null;
let seen = false;
let asking = 0;
let due = false;
/** What is on the canvas. @type {{ index: number, run: number } | null} */
let shown = null;
/** Up to which place of which program the paper is inked, and how wide it is. */
let ink = { index: -1, last: 0, width: 0 };
let resting = 0;
/** What to do when the time line comes to rest at a program's end or elsewhere. @type {(stage: number | null) => void} */
let rested = () => {};

/** @param {(stage: number | null) => void} atRest */
export function begin(atRest) {
  rested = atRest;
  const watch = new IntersectionObserver((entries) => {
    if (!entries.some((e) => e.isIntersecting)) return;
    seen = true;
    load();
  }, { rootMargin: "400px" });
  watch.observe(byId("time-line"));
  new ResizeObserver(() => shown && soon()).observe(byId("time-line"));
}

/** @param {any} now the state */
export function set(now) {
  const before = picture?.run;
  picture = now.picture;
  byId("time-line").hidden = !picture;
  if (!picture || before === picture.run) return;
  times = null;
  shown = null;
  ready = new Map();
  if (seen) load();
}

async function load() {
  if (!picture || times || asking === picture.run) return;
  const run = picture.run;
  asking = run;
  const reply = await get(`times?run=${run}`).catch(() => null);
  if (asking === run) asking = 0;
  if (!reply?.ok || picture?.run !== run) return;
  times = reply.body;
  wanted = times.seconds;
  build();
  to(chosen);
}

/** Moves the line to the end of a stage, or of all. @param {number | null} stage from 0 */
export function to(stage) {
  chosen = stage;
  if (!times) return;
  // The frame run comes first and is none of the stages.
  const last = stage === null ? times.stages.at(-1) : times.stages[stage + 1];
  if (last) go(last.start + last.seconds, false);
}

/** @param {number} at s @param {boolean} rest whether the hand rests there */
function go(at, rest) {
  wanted = Math.min(Math.max(at, 0), times.seconds);
  const range = byId("moment");
  range.value = String(wanted);
  range.setAttribute("aria-valuetext", clock(wanted));
  soon();
  if (rest) atRest();
}

/** Tells at which stage's end the line rests. */
function atRest() {
  const stage = times.stages.findIndex((/** @type {any} */ s) => Math.abs(s.start + s.seconds - wanted) < 0.06);
  if (stage === times.stages.length - 1) rested(null);
  else if (stage > 0) rested(stage - 1);
}

/** @param {number} s */
const clock = (s) => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;

/** The program that runs at a moment; at the moment where one ends and the next begins, the one that ends. @param {number} at */
function programAt(at) {
  const i = times.stages.findLastIndex((/** @type {any} */ s) => s.start < at - 1e-9);
  return Math.max(i, 0);
}

/** The line's own parts: graphs, marks, the slider. */
function build() {
  const across = times.feed.length;
  const graph = (/** @type {string} */ name, /** @type {number[]} */ values, /** @type {string} */ unit, /** @type {number} */ digits) => {
    const most = Math.max(...values, 1e-9);
    const points = values.map((v, i) => `${i} ${short(TALL - 3 - (v / most) * (TALL - 6), 1)}`).join(" ");
    const svg = draw("svg", { viewBox: `0 0 ${across} ${TALL}`, preserveAspectRatio: "none", "aria-hidden": "true" }, draw("polyline", { points }));
    return make("div", { class: "graph" }, make("p", {}, name, ", up to ", make("span", { class: "most" }, `${short(most, digits)}${unit}`)), svg);
  };
  const share = (/** @type {number} */ at) => `${(100 * at) / Math.max(times.seconds, 1e-9)}%`;
  const stages = times.stages.map((/** @type {any} */ s, /** @type {number} */ i) => {
    const part = make("span", { class: "part" }, i === 0 ? "" : String(i));
    part.style.left = share(s.start);
    part.style.width = share(s.seconds);
    return part;
  });
  const marks = times.marks.map((/** @type {any} */ m) => {
    const press = make("button", { type: "button", "aria-label": `${said(m)} Go there.`, title: said(m), onclick: () => {
      put("mark-says", said(m));
      go(m.at, true);
    } });
    press.style.left = share(m.at);
    return press;
  });
  const range = make("input", { id: "moment", type: "range", min: 0, max: times.seconds, step: "any", value: wanted, "aria-label": "the moment that is shown, from the first program’s start",
    "aria-valuetext": clock(wanted), "aria-describedby": "moment-says", oninput: input, onchange: atRest, onkeydown: keys, onfocus: fetchAll, onpointerenter: fetchAll });
  put("over-time",
    graph("Feed", times.feed, " mm/min", 0), graph("Engagement", times.engagement, "°", 0), graph("Side force on a flute", times.force, " N", 1),
    make("div", { id: "parts", "aria-hidden": "true" }, ...stages), make("div", { id: "marks" }, ...marks), make("div", { id: "needle" }), range);
  const most = times.marks.length + times.more;
  put("mark-says", most === 0 ? "The proof has no finding on a line of a program." : `${most} ${most === 1 ? "finding is" : "findings are"} marked on the line${times.more ? `, the first ${times.marks.length} of them` : ""}.`);
  put("moment-keys", "Arrow keys: a second; with shift, a program line; page keys: a program.");
}

/** @param {any} m */
const said = (m) => `${times.stages[m.program].file}, line ${m.line}: ${m.says.charAt(0).toUpperCase()}${m.says.slice(1)}${/[.!?]$/.test(m.says) ? "" : "."}`;

/** @param {Event} e */
function input(e) {
  wanted = Number(/** @type {HTMLInputElement} */ (e.target).value);
  /** @type {HTMLInputElement} */ (e.target).setAttribute("aria-valuetext", clock(wanted));
  soon();
}

/** @param {KeyboardEvent} e */
async function keys(e) {
  const forth = e.key === "ArrowRight" || e.key === "ArrowUp" || e.key === "PageUp";
  const back = e.key === "ArrowLeft" || e.key === "ArrowDown" || e.key === "PageDown";
  if (e.altKey || e.ctrlKey || e.metaKey) return;
  if (e.key === "Home" || e.key === "End") {
    e.preventDefault();
    return go(e.key === "Home" ? 0 : times.seconds, true);
  }
  if (!forth && !back) return;
  e.preventDefault();
  if (e.key.startsWith("Page")) {
    const ends = [0, ...times.stages.map((/** @type {any} */ s) => s.start + s.seconds)];
    const next = forth ? ends.find((t) => t > wanted + 0.06) : ends.findLast((t) => t < wanted - 0.06);
    return go(next ?? wanted, true);
  }
  if (!e.shiftKey) return go(wanted + (forth ? 1 : -1), true);
  const index = programAt(wanted), start = times.stages[index].start;
  const program = await ready.get(index)?.catch(() => null);
  if (!program) return;
  const w = program.replay.way, { to } = cutterAt(w, wanted - start);
  let next = to;
  if (forth) while (next < w.count - 1 && (w.line[next] === w.line[to] || w.time[next] + start <= wanted + 1e-4)) next++;
  else while (next > 0 && (w.line[next] === w.line[to] || w.time[next] + start >= wanted - 1e-4)) next--;
  go(start + w.time[next], true);
}

/** Draws the moment that is wanted with the next frame. */
function soon() {
  if (due) return;
  due = true;
  requestAnimationFrame(() => {
    due = false;
    show();
  });
}

/** @param {number} index */
function fetched(index) {
  let program = ready.get(index);
  if (program || !picture) return program ?? Promise.resolve(null);
  const run = picture.run;
  program = Promise.all([heights(run, Math.max(index - 1, 0), CELLS), way(run, index)])
    .then(([before, along]) => (before && along ? { replay: new Replay(before, along), palette: palette(before.colours) } : null))
    .catch(() => null);
  ready.set(index, program);
  for (const old of ready.keys()) {
    if (ready.size <= READY) break;
    if (old !== index) ready.delete(old);
  }
  return program;
}

async function show() {
  if (!times || !picture) return;
  const run = picture.run, index = programAt(wanted);
  needle();
  // Plate, graphs and slider are seen together.
  const [w, h] = picture.blank;
  byId("so-far-plate").style.maxWidth = `max(min(100%, 420px), min(100%, calc((100vh - 430px) * ${w / h})))`;
  const program = await fetched(index);
  // Something else is wanted by now, or another plate is shown.
  if (picture?.run !== run || !times || programAt(wanted) !== index) return;
  if (!program) return put("moment-says", "This program can’t be shown over time: the server gave no way of it.");
  const start = times.stages[index].start;
  const { replay } = program;
  if (replay.way.count === 0) return;
  const at = cutterAt(replay.way, wanted - start);
  replay.go(at.to, at.share);
  onCanvas(program, index, run);
  cutter(replay, at);
  inked(replay, index, at);
  words(replay.way, index, at);
}

/** The hand is at the line: programs are fetched one after the other, the one that is shown first. */
async function fetchAll() {
  const run = picture?.run, first = programAt(wanted);
  const order = times.stages.map((/** @type {any} */ _, /** @type {number} */ i) => i).sort((/** @type {number} */ a, /** @type {number} */ b) => Math.abs(a - first) - Math.abs(b - first));
  for (const index of order.slice(0, READY)) {
    if (picture?.run !== run || !times) return;
    await fetched(index);
  }
}

function needle() {
  const share = wanted / Math.max(times.seconds, 1e-9);
  byId("needle").style.left = `calc(var(--thumb) / 2 + ${share} * (100% - var(--thumb)))`;
}

/** @type {ImageData | null} */
let image = null;

/** @param {Program} program @param {number} index @param {number} run */
function onCanvas({ replay, palette: colours }, index, run) {
  const canvas = byId("so-far");
  const { columns, rows } = replay.before;
  if (canvas.width !== columns || canvas.height !== rows || !image) {
    canvas.width = columns;
    canvas.height = rows;
    image = new ImageData(columns, rows);
    shown = null;
  }
  let [x0, y0, x1, y1] = shown?.index === index && shown.run === run ? replay.box : [0, 0, columns, rows];
  shown = { index, run };
  replay.clean();
  if (x1 <= x0 || y1 <= y0) return;
  // Shadows reach a little beyond what was cut.
  const about = Math.max(3, Math.round(0.8 / replay.before.pitch) + 1);
  [x0, y0, x1, y1] = [Math.max(0, x0 - 2), Math.max(0, y0 - about), Math.min(columns, x1 + about), Math.min(rows, y1 + 2)];
  paint(replay.grid, replay.before, colours, new Uint32Array(image.data.buffer), x0, y0, x1, y1);
  canvas.getContext("2d").putImageData(image, 0, 0, x0, rows - y1, x1 - x0, y1 - y0);
}

/** @param {Replay} replay @param {{ x: number, y: number, z: number }} at */
function cutter(replay, at) {
  const [w, h] = replay.before.blank;
  const svg = byId("so-far-over");
  svg.setAttribute("viewBox", `0 0 ${w} ${h}`);
  const r = Math.max(replay.way.radius, w / 400);
  svg.replaceChildren(...["under", "cutter"].map((c) => draw("circle", { class: c, cx: at.x, cy: h - at.y, r })));
}

/** The way so far: heavy where the cutter is much engaged, dotted in air. @param {Replay} replay @param {number} index @param {{ to: number, x: number, y: number }} at */
function inked(replay, index, at, now = false) {
  clearTimeout(resting);
  const canvas = byId("so-far-ink");
  const width = Math.round(canvas.clientWidth * Math.min(devicePixelRatio, 2));
  if (width === 0) return;
  const [w, h] = replay.before.blank;
  const last = at.to - 1;
  if (ink.index !== index || ink.width !== width || last < ink.last || last - ink.last > INKED) {
    if (canvas.width !== width) {
      canvas.width = width;
      canvas.height = Math.round((width * h) / w);
    }
    if (!now) {
      if (ink.index >= 0) clear(canvas);
      ink.index = -1;
      resting = window.setTimeout(() => inked(replay, index, at, true), REST);
      return;
    }
    clear(canvas);
    ink = { index, last: Math.max(0, last - INKED), width };
  }
  const context = canvas.getContext("2d");
  context.setTransform(width / w, 0, 0, -width / w, 0, canvas.height);
  stroke(context, inkOn(replay.before.colours), replay.way, ink.last, last, w / width);
  ink.last = Math.max(last, ink.last);
}

/** @param {HTMLCanvasElement} canvas */
function clear(canvas) {
  const context = canvas.getContext("2d");
  context?.setTransform(1, 0, 0, 1, 0, 0);
  context?.clearRect(0, 0, canvas.width, canvas.height);
}

/** Ink that is seen on the plate's face. @param {Uint8Array} colours */
function inkOn(colours) {
  const [r, g, b] = [3, 2, 1].map((k) => colours[colours.length - k] ?? 0);
  return 0.2126 * (r ?? 0) + 0.7152 * (g ?? 0) + 0.0722 * (b ?? 0) < 90 ? "#faf7f0" : "#1c1916";
}

/** @param {CanvasRenderingContext2D} context @param {string} pen @param {import("./replay.js").Way} way @param {number} from @param {number} to @param {number} px a pixel, mm */
function stroke(context, pen, way, from, to, px) {
  const paths = Array.from({ length: WEIGHTS + 1 }, () => new Path2D());
  const ends = new Int32Array(WEIGHTS + 1).fill(-1);
  for (let i = from + 1; i <= to; i++) {
    const how = way.running[i];
    if (how < RAPID) continue;
    const weight = how === CUT ? Math.min(WEIGHTS - 1, Math.floor((way.engagement[i] / 180) * WEIGHTS)) : WEIGHTS;
    const path = paths[weight];
    if (ends[weight] !== i - 1) path.moveTo(way.x[i - 1], way.y[i - 1]);
    path.lineTo(way.x[i], way.y[i]);
    ends[weight] = i;
  }
  context.lineJoin = "round";
  context.strokeStyle = pen;
  paths.forEach((path, weight) => {
    const air = weight === WEIGHTS;
    context.setLineDash(air ? [1.2 * px, 4 * px] : []);
    context.lineWidth = air ? px : (0.35 + (1.9 * weight) / (WEIGHTS - 1)) * px;
    context.globalAlpha = air ? 0.8 : 0.5;
    context.stroke(path);
  });
}

/** @type {Record<number, string>} */
const HOW = { [RAPID]: "Moving rapidly, in air", [AIR]: "Moving in air", [CUT]: "Cutting" };

/** @param {import("./replay.js").Way} way @param {number} index @param {{ to: number, x: number, y: number, z: number }} at */
function words(way, index, at) {
  const stage = times.stages[index], { to } = at;
  const line = way.line[to] ?? 0;
  const text = (way.text[line - 1] ?? "").trim();
  const name = index === 0 ? "Frame run" : `Stage ${index} of ${times.stages.length - 1}`;
  const how = HOW[way.running[to]] ?? "Standing still";
  const done = Math.abs(wanted - stage.start - stage.seconds) < 0.06;
  const asked = way.running[to] === CUT ? `, feed ${short(way.feed[to], 0)} mm/min, engaged ${short(way.engagement[to], 0)}°, side force up to ${short(way.force[to], 1)} N` : way.running[to] === AIR ? `, feed ${short(way.feed[to], 0)} mm/min` : "";
  put("moment-says",
    make("strong", {}, `${clock(wanted)} of ${clock(times.seconds)}`), ` ${name}, ${stage.file}${stage.cutter === "none" ? "" : `, cutter ${stage.number}, ${stage.cutter}`}. `,
    make("span", {}, `${how} at x ${at.x.toFixed(2)} y ${at.y.toFixed(2)}, tip ${at.z.toFixed(2)} mm above the table${asked}. `),
    make("span", { class: "line" }, `Line ${line}: `, make("span", { class: "of-file" }, text)),
    done ? ` End of the program, after ${minutes(stage.seconds / 60)}.` : "");
}
