// @ts-check
// The work at the machine: one step a screen, ticked when it is done.

import { Gone, get, post } from "./ask.js";
import { byId, draw, make, put, told } from "./make.js";
import { sight } from "./steps.js";

/** What is read before the first step; it is not ticked. */
const FIRST = { id: "", about: "cautions", stage: null, says: [], ticked: false, changed: false };

/** @type {any} */
let state = null;
/** The step that is shown, by its name. @type {string | null} */
let at = null;
/** What the screen was drawn from. */
let drawn = "";
let moreDrawn = "";
/** What was typed and not yet taken, by the name of its field. @type {Map<string, string>} */
const typed = new Map();
/** What a field is told. @type {Map<string, string>} */
const wrong = new Map();
/** A wish on its way. */
let busy = false;

/** @returns {any[]} */
const steps = () => [FIRST, ...state.steps];
const index = () => Math.max(0, steps().findIndex((s) => s.id === at));

/** @param {any} now */
function show(now) {
  if (state && now.turn < state.turn) return;
  state = now;
  if (at === null && now.steps.length > 0) at = begin();
  render();
}

/** The first step that is not ticked; the cautions before anything is. */
function begin() {
  if (!state.steps.some((/** @type {any} */ s) => s.ticked)) return "";
  return (state.steps.find((/** @type {any} */ s) => !s.ticked) ?? state.steps[state.steps.length - 1]).id;
}

function render() {
  const step = steps()[index()];
  const key = JSON.stringify([state, at, [...wrong], busy]);
  if (key === drawn) return;
  drawn = key;
  const title = state.title || state.file;
  document.title = `${title}, at the machine`;
  put("title", title);
  put("where", step === FIRST ? "Before you begin" : `Step ${index()} of ${state.steps.length}`);
  news();
  const ready = state.plate && state.picture;
  const seen = step !== FIRST && ready ? sight(state, step) : { sight: null, caption: "" };
  put("sight", seen.sight);
  put("caption", seen.caption);
  byId("shown").hidden = seen.sight === null;
  byId("step").classList.toggle("alone", seen.sight === null);
  put("says", ...says(step));
  more(step);
  put("does", ...buttons(step));
  changes(step);
}

/** What must be known whatever the step. */
function news() {
  const lines = [];
  if (state.unread) lines.push(make("p", {}, `${state.file} can’t be read: ${state.unread}.`));
  else if (state.working) lines.push(make("p", {}, "The plate is being planned and proven; nothing can be ticked until it is."));
  else if (!state.good) {
    lines.push(make("p", {}, make("strong", {}, state.verdict === "undecided" ? "Do not run these programs yet." : "Do not run these programs."), " The plate as it is described now is not proven."));
    for (const d of state.against) lines.push(make("p", {}, told(d.message), " ", d.way_out && make("em", {}, told(d.way_out))));
  }
  const changed = state.steps.filter((/** @type {any} */ s) => s.changed);
  if (changed.length > 0 && !state.working) {
    const names = changed.map((/** @type {any} */ s) => state.steps.indexOf(s) + 1).join(", ");
    lines.push(make("p", {}, changed.length === 1
      ? `Step ${names} was ticked, but has changed since: its tick is not true any more.`
      : `Steps ${names} were ticked, but have changed since: their ticks are not true any more.`));
  }
  if (state.gone > 0 && !state.working && state.steps.length > 0) lines.push(make("p", {}, `${state.gone} ${state.gone === 1 ? "tick is" : "ticks are"} of steps that are no more.`));
  if (state.ticks_unread) lines.push(make("p", {}, `The file of ticks can’t be read (${state.ticks_unread}); the next tick writes it anew.`));
  put("news", ...lines);
}

/** The step's words, numbers large. @param {any} step */
function says(step) {
  if (step === FIRST) {
    if (state.steps.length === 0 && !state.working) return [make("p", {}, "There are no programs to run.")];
    return state.cautions.map((/** @type {string} */ c) => make("p", {}, ...c.split("**").map((w, i) => (i % 2 ? make("strong", {}, w) : w))));
  }
  const piece = (/** @type {any} */ p) => (p.as === "plain" ? p.words : make("strong", { class: p.as === "number" && "number" }, p.words));
  return [make("p", {}, ...step.says.map(piece))];
}

/** What belongs to a step beside its sentence. @param {any} step */
function more(step) {
  // A field that is being typed in stays as it is while nothing about it changes.
  const key = JSON.stringify([at, step, state.layers, state.shop, state.programs, [...wrong], busy]);
  if (key === moreDrawn) return;
  moreDrawn = key;
  const lines = [];
  if (step.changed) lines.push(make("p", { class: "loud" }, "You ticked this before the plate changed. Do it again."));
  if (step.about === "run" || step.about === "frame") lines.push(program(step));
  if (step.about === "finished") lines.push(make("ul", {}, ...state.sentences.map((/** @type {string} */ s) => make("li", {}, s.replaceAll("*", "")))));
  if (step.about === measuring()) state.layers.forEach((/** @type {any} */ l, /** @type {number} */ i) => lines.push(sheet(l, i)));
  if (step.about === "cutter") lines.push(diameter(step));
  const focus = document.activeElement instanceof HTMLInputElement ? document.activeElement.id : null;
  put("more", ...lines);
  if (focus) document.getElementById(focus)?.focus();
}

/** Whether the packet holds the program as it was proven. @param {any} step */
function program(step) {
  const p = state.programs?.[step.stage === null ? 0 : step.stage + 1];
  if (p?.packet === "same") return make("p", {}, "It is in the folder packet, as it was proven.");
  if (p?.packet === "other") return make("p", { class: "loud" }, "The folder packet has another text under this name: write it anew at the bench first.");
  return make("p", { class: "loud" }, "The packet is not written yet: write it at the bench first.");
}

/**
 * A reading with its field.
 * @param {string} name @param {string} label @param {string} value @param {string} hint @param {(value: string) => Promise<any>} take
 */
function field(name, label, value, hint, take) {
  const input = /** @type {HTMLInputElement} */ (make("input", { id: name, type: "text", inputmode: "text", autocomplete: "off", spellcheck: "false", value: typed.get(name) ?? value, "aria-describedby": `${name}-says` }));
  input.addEventListener("input", () => typed.set(name, input.value));
  const send = () => reading(name, () => take(input.value));
  input.addEventListener("keydown", (/** @type {KeyboardEvent} */ e) => e.key === "Enter" && send());
  return make("div", { class: "reading" },
    make("label", { for: name }, label),
    make("div", { class: "line" }, input, make("button", { type: "button", class: "press", disabled: busy, onclick: send }, "take it")),
    make("p", { id: `${name}-says`, class: wrong.has(name) ? "wrong" : "quiet" }, wrong.get(name) ?? hint));
}

/** @param {any} layer @param {number} i */
function sheet(layer, i) {
  const hint = layer.measured.length > 0 ? "Readings with commas between." : "Not measured: readings with commas between.";
  return field(`sheet-${i}`, `${layer.sheet} reads`, layer.measured.map((/** @type {string} */ m) => m.replace(/ mm$/, "")).join(", "), hint,
    (value) => post("machine/thickness", { hash: state.hash, layer: i, readings: value }));
}

/** @param {any} step */
function diameter(step) {
  const number = state.plate.stages[step.stage]?.number;
  const said = state.shop?.cutters.find((/** @type {any} */ c) => c.number === number);
  if (!state.shop) return make("p", { class: "quiet" }, "The built-in shop keeps no readings.");
  return field(`cutter-${number}`, `Cutter ${number} measures`, said?.diameter ?? "", `Goes into ${state.shop.file}.`,
    (value) => post("machine/diameter", { hash: state.shop.hash, cutter: number, diameter: value }));
}

/** Sends a reading. @param {string} name @param {() => Promise<any>} ask */
async function reading(name, ask) {
  if (busy) return;
  wrong.delete(name);
  const reply = await wish(ask);
  if (!reply) return;
  if (reply.ok) {
    typed.delete(name);
    // The field is done with: arrow keys lead on again.
    byId("on")?.focus({ preventScroll: true });
  } else wrong.set(name, sentence(reply.body?.says ?? "that was not taken"));
  if (reply.body?.state) show(reply.body.state);
  render();
}

/** One wish at a time. @param {() => Promise<any>} ask */
async function wish(ask) {
  if (busy) return null;
  busy = true;
  try {
    return await ask();
  } catch (error) {
    if (!(error instanceof Gone)) throw error;
    ended();
    return null;
  } finally {
    busy = false;
  }
}

/** @param {string} words */
const sentence = (words) => `${words.charAt(0).toUpperCase()}${words.slice(1)}${/[.!?]$/.test(words) ? "" : "."}`;

/** @param {any} step */
function buttons(step) {
  const i = index();
  const last = i === steps().length - 1;
  const back = make("button", { type: "button", id: "back", disabled: i === 0, onclick: () => go(i - 1) }, "back");
  const on = make("button", { type: "button", id: "on", disabled: last, onclick: () => go(i + 1) }, "on");
  if (step === FIRST) {
    return [back, make("button", { type: "button", id: "tick", class: "tick", disabled: state.steps.length === 0, onclick: () => go(1) }, "I have read this"), on];
  }
  const box = draw("svg", { viewBox: "0 0 72 72", "aria-hidden": "true" }, draw("rect", { x: 4, y: 4, width: 64, height: 64, rx: 4 }), step.ticked && draw("path", { d: "M16 38L31 54L58 18" }));
  const tick = make("button", { type: "button", id: "tick", class: "tick", "aria-pressed": String(step.ticked), disabled: !state.good, onclick: () => press(step) }, box, step.ticked ? "done" : "tick it off");
  const all = last && state.steps.some((/** @type {any} */ s) => s.ticked);
  return [back, tick, all ? make("button", { type: "button", id: "anew", onclick: anew }, "begin again") : on];
}

/** Shows another step. @param {number} i */
function go(i) {
  const to = steps()[i];
  if (!to) return;
  at = to.id;
  wrong.clear();
  typed.clear();
  render();
  byId("tick").focus({ preventScroll: true });
  scrollTo(0, 0);
}

/** Ticks the step and goes on, or takes its tick back. @param {any} step */
async function press(step) {
  const ticked = !step.ticked;
  const reply = await wish(() => post("machine/tick", { step: step.id, mark: step.mark, ticked }));
  if (!reply?.body?.state) return;
  show(reply.body.state);
  const i = steps().findIndex((s) => s.id === step.id);
  if (reply.ok && ticked && at === step.id && i + 1 < steps().length) go(i + 1);
  else byId("tick").focus({ preventScroll: true });
}

async function anew() {
  const reply = await wish(() => post("machine/anew", {}));
  if (!reply?.ok) return;
  show(reply.body.state);
  go(0);
}

/** The step at which sheets are measured: where the film comes off, or else before the blank is laid down. */
const measuring = () => (state.steps.some((/** @type {any} */ s) => s.about === "film") ? "film" : "under");

/** What the last reading changed, before → after; told where readings are taken, and out of the way elsewhere. @param {any} step */
function changes(step) {
  const reading = state.reading;
  if (!reading || (step.about !== measuring() && step.about !== "cutter")) return put("changes");
  const head = make("h2", {}, `${sentence(reading.said)}`);
  const what = reading.changed;
  if (!what) return put("changes", head, make("p", {}, "Being planned and proven anew…"));
  const rows = what.rows.flatMap((/** @type {any} */ r) => [make("dt", {}, r.what), make("dd", {}, `${r.before} → ${r.after}`)]);
  const list = (/** @type {string} */ name, /** @type {string[]} */ all) =>
    all.length > 0 && make("div", {}, make("p", {}, name), make("ul", {}, ...all.map((m) => make("li", {}, told(m)))));
  const same = rows.length + what.new.length + what.gone.length === 0;
  put("changes", head, same ? make("p", {}, "It changes nothing.") : rows.length > 0 && make("dl", {}, ...rows), list("New doubts:", what.new), list("Doubts that are gone:", what.gone));
}

function ended() {
  put("news", make("p", {}, "No answer: the program at the bench has ended or was started anew. Ticks are kept; open the address that it shows."));
  drawn = "";
}

async function watch() {
  for (;;) {
    try {
      const reply = await get(state ? `machine/state?after=${state.turn}` : "machine/state");
      if (reply.ok) show(reply.body);
      else await new Promise((r) => setTimeout(r, 1000));
    } catch (error) {
      if (!(error instanceof Gone)) throw error;
      ended();
      await new Promise((r) => setTimeout(r, 3000));
    }
  }
}

document.addEventListener("keydown", (e) => {
  if (!state || e.altKey || e.ctrlKey || e.metaKey || e.target instanceof HTMLInputElement) return;
  if (e.key === "ArrowLeft") go(index() - 1);
  else if (e.key === "ArrowRight") go(index() + 1);
});
/** The same again, drawn for another screen. */
const redraw = () => { drawn = ""; if (state) render(); };
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
addEventListener("resize", redraw);
watch();
