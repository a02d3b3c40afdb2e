// @ts-check
// The page: what stands on the board is asked for, drawn, and asked for again when it has changed.

import { Gone, get, post } from "./ask.js";
import { byId, draw, make, night, put, time, told } from "./make.js";
import * as drag from "./drag.js";
import * as drawn from "./drawn.js";
import * as parts from "./parts.js";
import * as plate from "./plate.js";
import * as section from "./section.js";
import * as sentences from "./sentences.js";
import * as sets from "./sets.js";
import * as tilt from "./tilt.js";
import * as timeline from "./timeline.js";

/** @type {any} */
let state = null;
/** The stage after which the plate is shown, from 0; none for the finished plate. @type {number | null} */
let stage = null;
/** Whether places left for hand are ringed: on letters there can be a hundred, too many to see the plate by. */
let ringed = false;
/** @type {any[]} */
let notesBefore = [];
let storyDrawn = "";

const WORDS = { proven: "Proven", refused: "Refused", undecided: "Undecided" };

/** Each verdict has its own mark: a full stamp ring, a broken ring, a half ring; a dotted one while it isn't known. @param {string | null} word */
function mark(word) {
  const ring = (/** @type {object} */ said) => draw("circle", { cx: 20, cy: 20, r: 16, fill: "none", stroke: "currentColor", "stroke-width": 3.5, ...said });
  const svg = draw("svg", { viewBox: "0 0 40 40", "aria-hidden": "true" });
  if (word === "proven") svg.append(ring({}), ring({ r: 10.5, "stroke-width": 1.2 }));
  else if (word === "refused") svg.append(ring({ "stroke-dasharray": "38 7 28 9 12 6.5" }));
  else if (word === "undecided") svg.append(draw("path", { d: "M20 4a16 16 0 0 0 0 32", fill: "none", stroke: "currentColor", "stroke-width": 3.5 }));
  else svg.append(ring({ "stroke-width": 2, "stroke-dasharray": "1.5 4.8", "stroke-linecap": "round" }));
  return svg;
}

/** @param {any} now */
function show(now) {
  if (state && now.turn < state.turn) return;
  state = now;
  const title = now.title || now.file;
  document.title = `${title}, bench page`;
  put("title", title);
  const word = now.working ? null : now.verdict;
  for (const at of ["verdict", "verdict-again"]) put(at, mark(word), word ? WORDS[/** @type {"proven"} */ (word)] : "Not yet proven");
  put("first", word !== null && now.first && "first answer; the full proof follows");
  news();
  if (stage !== null && (stage >= now.stages.length || now.picture?.sketch)) stage = null;
  notes();
  plate.set(now.picture, now.notes, ringed ? now.hand : [], stage);
  which();
  ink();
  put("ways", now.plates && make("a", { href: "/" }, "all plates"), make("a", { href: "workshop" }, "the shop"));
  sentences.set(now);
  section.set(now);
  // What was cut is told of the last plate that was planned; what a change looks like comes before that.
  const cut = now.picture?.sketch ? { ...now, picture: now.run === null ? null : { ...now.picture, run: now.run } } : now;
  tilt.set(cut.picture, stage, now.stages.length);
  timeline.set(cut);
  sets.set(cut);
  story();
  packet();
  byId("story-part").hidden = now.stages.length === 0;
  byId("section-part").hidden = !now.picture;
  byId("assumed-part").hidden = now.assumed.length === 0;
  put("assumed", ...now.assumed.map((/** @type {any} */ n) =>
    make("li", {}, told(n.message), " ", n.places.length > 0 && make("span", { class: "where" }, `${n.places[0]}. `), n.way_out && told(n.way_out))));
}

/** A capital at the start and a full stop at the end. @param {string} words */
const sentence = (words) => `${words.charAt(0).toUpperCase()}${words.slice(1)}${/[.!?]$/.test(words) ? "" : "."}`;

/** What must be known at once. */
function news() {
  const says = [];
  if (state.unread) says.push(`${state.file} can’t be read: ${state.unread}. It is looked for until it is there again.`);
  if (state.broke_off) says.push(sentence(state.broke_off));
  if (state.elsewhere) says.push(`${state.elsewhere} was changed elsewhere; this page shows what it says now.`);
  put("news", ...says.map((s) => make("p", {}, s)));
}

/** The drawing in ink: where the plate can't be shown as cut yet, and while contours are chosen. */
async function ink() {
  if (!state.picture && state.working && !state.text) return;
  if (state.picture && !choosing) return drawn.show(state.picture, false);
  const now = state;
  const d = await drawn.load(now.hash, now.turn);
  if (now !== state) return;
  if (!d) return drawn.show(null, false);
  const picture = state.picture ?? drawn.standIn(d);
  if (!state.picture) {
    plate.set(picture, state.notes, [], null);
    put("which", `The drawing ${d.file} on the blank. ${d.whole ? "" : "Only a part of it is shown. "}What it will look like is shown as soon as it can be planned; the notes say what is missing.`);
  }
  drawn.show(picture, true);
}

/** Whether contours are chosen now. */
let choosing = false;

/** Which plate is shown, in words. */
function which() {
  const p = state.picture;
  if (!p) return put("which");
  const size = `Blank ${p.blank[0]} × ${p.blank[1]} mm, ${p.thick} mm thick.`;
  const what = stage === null ? "The finished plate from above, as the proof cut it from the programs’ own text." : `The plate after stage ${stage + 1}.`;
  const back = stage !== null && make("button", { type: "button", onclick: () => choose(null) }, "back to the finished plate");
  const stale = !p.current && (p.sketch ? "Not yet proven: this is what the plate file says, before it is planned. " : state.working ? "Not yet proven: this is the plate before the last change. " : "This is the plate as it last came through; the notes say what stands against it now. ");
  put("which", stale && make("strong", {}, stale), `${what} ${size} `, back);
}

function notes() {
  const items = state.notes.map(note);
  // Notes that are solved are struck through for a moment, then leave.
  const now = new Set(state.notes.map((/** @type {any} */ n) => n.message));
  const solved = state.working ? [] : notesBefore.filter((n) => !now.has(n.message));
  if (!state.working) notesBefore = state.notes;
  const gone = solved.map((n) => make("li", { class: "solved" }, make("span"), make("p", {}, told(n.message))));
  put("notes", ...items, ...gone);
  if (gone.length > 0) setTimeout(() => { gone.forEach((g) => g.remove()); plate.settle(); }, 2500);
}

/** @param {any} n */
function note(n) {
  const item = make("li", { "data-note": n.number });
  const more = n.more > 0 ? ` and ${n.more} more` : "";
  item.append(
    make("span", { class: "number" }, String(n.number)),
    make("div", {},
      make("p", { class: n.severity === "refusal" && "heavy" }, told(n.message)),
      n.places.length > 0 && make("p", { class: "where" }, n.places.join("; ") + more),
      ...n.notes.map((/** @type {string} */ s) => make("p", {}, told(s))),
      n.likely && make("p", {}, `Likely cause: ${n.likely}.`),
      n.way_out && make("p", {}, make("em", {}, told(n.way_out))),
      make("p", { class: "asks" },
        ...n.ways.map((/** @type {string} */ says, /** @type {number} */ i) => make("button", { type: "button", class: "way", onclick: () => wayOut(n.number, i) }, says)),
        n.area !== null && make("button", { type: "button", onclick: () => sentences.change(n.area) }, "change this floor"))),
  );
  item.addEventListener("pointerenter", () => plate.pickNote(n.number, true));
  item.addEventListener("pointerleave", () => plate.pickNote(n.number, false));
  return item;
}

/** Takes a way out. @param {number} number of the note @param {number} way */
async function wayOut(number, way) {
  const reply = await post("way", { hash: state.hash, note: number, way }).catch(() => null);
  if (reply?.body?.state) show(reply.body.state);
  if (reply && !reply.ok) put("news", make("p", {}, sentence(reply.body.says ?? "that was not taken")));
}

/** The stages as a strip of small plates. */
function story() {
  const key = JSON.stringify([state.run, state.stages, state.hand.length, ringed, stage, night()]);
  if (key === storyDrawn) return;
  storyDrawn = key;
  const print = (/** @type {any} */ s) => make("li", {},
    make("button", { type: "button", "aria-pressed": String(stage === s.index), onclick: () => choose(stage === s.index ? null : s.index) },
      make("img", { src: `picture?run=${state.run}&width=540&night=${night()}&stage=${s.index}`, alt: `The plate after stage ${s.index + 1}`, loading: "lazy" }),
      make("span", { class: "minutes" }, `${s.index + 1}. ${time(s.minutes)}`), `, ${s.purpose}`,
      make("small", {}, `Cutter ${s.number}, ${s.cutter}${s.dial ? `, dial ${s.dial}` : ""}. ${s.file}`)));
  put("story", ...state.stages.map(print));
  const hand = state.hand.length;
  const ring = make("button", { type: "button", "aria-pressed": String(ringed), onclick: () => { ringed = !ringed; choose(null); } },
    ringed ? "take the rings off" : "ring them on the plate");
  put("hand", hand > 0 && `Left for hand: ${hand} ${hand === 1 ? "place" : "places"}. `, hand > 0 && ring);
}

/** Shows the plate after a stage; the time line goes to that stage's end. @param {number | null} index */
function choose(index) {
  if (index !== null && state.picture?.sketch) return;
  timeline.to(index);
  showStage(index);
}

/** @param {number | null} index */
function showStage(index) {
  stage = index;
  plate.set(state.picture, state.notes, ringed ? state.hand : [], stage);
  tilt.set(state.picture, stage, state.stages.length);
  which();
  story();
}

function packet() {
  const p = state.packet;
  const may = !state.working && state.verdict === "proven" && !p?.making;
  const press = make("button", { type: "button", class: "press", disabled: !may, onclick: write }, "Write the packet");
  let says = may ? "Programs, proof, pictures and setup sheet go into the folder packet beside the plate file." : "It is written only when the plate is proven.";
  if (p?.making) says = "The packet is being made…";
  else if (p?.not) says = sentence(p.not);
  else if (p?.folder) says = `${p.files.length} files are in ${p.folder}.${p.current ? "" : " They are of the plate as it was before the last change."}`;
  put("packet", make("p", {}, press), make("p", { role: "status" }, says), p?.files && make("ul", {}, ...p.files.map((/** @type {string} */ f) => make("li", {}, f))));
}

async function write() {
  const reply = await post("packet", { hash: state.hash }).catch(() => null);
  if (reply?.body?.state) show(reply.body.state);
}

async function watch() {
  for (;;) {
    try {
      const reply = await get(state ? `state?after=${state.turn}` : "state");
      if (reply.ok) show(reply.body);
      else await new Promise((r) => setTimeout(r, 1000));
    } catch (error) {
      if (!(error instanceof Gone)) throw error;
      put("news", make("p", {}, "The program that serves this page has ended or was started anew. What was taken is in the plate file; start it again and open the address that it shows."));
      await new Promise((r) => setTimeout(r, 3000));
    }
  }
}

plate.begin((line, at) => {
  if (parts.toggle(drawn.namesAt(at))) return;
  sentences.pick(line);
}, (at) => section.move(at));
drag.begin((hold, at) => sentences.send([{ put: ["hold", hold, "at"], as: { list: at.map((v) => ({ length: `${v} mm` })) } }]), (says) => put("here", says));
parts.onChoosing((now) => {
  choosing = now;
  if (state) ink();
});
sentences.begin(show);
tilt.begin();
timeline.begin((index) => index !== stage && showStage(index));
sets.begin();
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => state && show(state));
watch();
