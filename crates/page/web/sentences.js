// @ts-check
// The sentences that are the whole description of the plate, and the floors in them, changed in the line.

import { get, post } from "./ask.js";
import { byId, make, put } from "./make.js";
import * as parts from "./parts.js";
import { highlight } from "./plate.js";

/** @type {any} */
let state = null;
/** The sentence that is being changed, by its place in the text. @type {number | null} */
let open = null;
/** @type {(state: any) => void} */
let took = () => {};
let drawn = "";

/** @param {(state: any) => void} taken what to do with what stands there after an edit */
export function begin(taken) {
  took = taken;
  for (const what of ["undo", "redo"]) byId(what).addEventListener("click", () => step(what));
  addEventListener("keydown", (e) => {
    const key = e.key.toLowerCase();
    const writing = /** @type {Element} */ (e.target).closest("input, select");
    if (!(e.ctrlKey || e.metaKey) || e.altKey || writing) return;
    const what = key === "y" || (key === "z" && e.shiftKey) ? "redo" : key === "z" ? "undo" : null;
    if (what) {
      e.preventDefault();
      step(what);
    }
  });
  addEventListener("beforeunload", (e) => {
    const form = document.querySelector("form.edit");
    if (parts.isTyped() || (form instanceof HTMLFormElement && form.dataset.was !== undefined && form.dataset.was !== words(form))) e.preventDefault();
  });
}

/** @param {any} now */
export function set(now) {
  state = now;
  byId("undo").disabled = !now.undo;
  byId("redo").disabled = !now.redo;
  const key = JSON.stringify([now.areas, now.edge, now.sheets, now.picture?.run, now.text]);
  // What the maker is writing stays as it is until it is taken or left.
  if (open !== null || parts.isOpen() || key === drawn) return;
  drawn = key;
  render();
}

function render() {
  const focused = document.activeElement?.closest("#sentences > li")?.getAttribute("data-index");
  const path = document.activeElement?.getAttribute("data-path");
  const said = (/** @type {any} */ s) => make("li", {}, ...parts.line(s, send));
  const text = state.text;
  byId("about").hidden = byId("holds-said").hidden = !text;
  if (text) {
    put("about", ...text.plate.map(said), ...text.blank.map(said));
    put("holds-said", said(text.edge), ...text.holds.map(said));
    put("new-area-line", parts.newArea(text.new_area, send), " ", parts.newLettering(text.new_area, send));
  }
  put("sentences", ...state.areas.map(sentence));
  put("edge", state.edge && state.edge.says.replace(/^t/, "T"), " ", state.edge && asked(state.edge.why, byId("edge")));
  if (path) /** @type {HTMLElement | null} */ (document.querySelector(`button[data-path="${path}"]`))?.focus();
  else if (focused != null) /** @type {HTMLElement | null} */ (document.querySelector(`#sentences > li[data-index="${focused}"] button.said`))?.focus();
}

/** @param {any} area */
function sentence(area) {
  const item = make("li", { "data-index": area.index, "data-line": area.line });
  const name = area.before.startsWith(area.name) ? area.name : "";
  item.append(make("em", {}, name), area.before.slice(name.length));
  if (area.said) {
    item.append(make("button", { type: "button", class: "said", "aria-label": `${area.said}, change it`, onclick: () => edit(item, area) }, area.said), area.after);
  }
  item.append(" ", asked(area.why, item) || "");
  const more = state.text?.areas[area.index];
  if (more) {
    const line = parts.line(more, send);
    if (area.form === "through") {
      const end = { says: "let it end above the table", changes: [{ put: ["area", area.index, "floor"], as: { table: [["below_face", { length: "0.5 mm" }]] } }] };
      line.push(" ", ...parts.line({ pieces: [], actions: [end] }, send));
    }
    for (const letters of more.lettering) item.append(make("p", { class: "more" }, ...parts.line(letters, send)));
    item.append(make("p", { class: "more" }, ...line));
  }
  if (area.area !== null) {
    const show = (/** @type {boolean} */ on) => () => highlight(on ? area.area : null);
    item.addEventListener("pointerenter", show(true));
    item.addEventListener("pointerleave", show(false));
    item.addEventListener("focusin", show(true));
    item.addEventListener("focusout", show(false));
  }
  return item;
}

/** That word; while a change is planned only its room, so that the lines stay where they are. @param {number | null} n @param {HTMLElement} under */
function asked(n, under) {
  if (n !== null) return why(n, under);
  return Boolean(state.picture?.sketch) && make("button", { type: "button", class: "no-why", disabled: true }, "why?");
}

/** A word that opens where a number comes from, beneath it. @param {number} n @param {HTMLElement} under */
function why(n, under) {
  const run = state.picture?.run;
  const button = make("button", { type: "button", "aria-expanded": "false" }, "why?");
  button.addEventListener("click", async () => {
    const had = under.querySelector(".why-says");
    if (had) {
      had.remove();
      button.setAttribute("aria-expanded", "false");
      return;
    }
    const reply = await get(`why?run=${run}&n=${n}`).catch(() => null);
    if (!reply?.ok) return;
    under.append(answer(reply.body));
    button.setAttribute("aria-expanded", "true");
  });
  return button;
}

/** @param {any} a */
function answer(a) {
  const rows = a.steps.map((/** @type {any} */ s) =>
    make("tr", { class: s.asked && "asked" },
      make("td", {}, s.name), make("td", { class: "amount" }, s.value),
      make("td", { class: "quiet" }, s.made ? `= ${s.made}` : s.source)));
  return make("div", { class: "why-says" }, make("p", {}, `${a.about}: ${a.told}.`), make("table", {}, make("tbody", {}, ...rows)));
}

/** The forms that a floor can have here. @param {any} area */
function forms(area) {
  const sheets = new Set([...state.sheets, ...(area.form === "shows" ? [area.amount] : [])]);
  return [
    { form: "below_face", sheet: "", says: "below the face" },
    { form: "above_table", sheet: "", says: "above the table" },
    ...[...sheets].map((sheet) => ({ form: "shows", sheet, says: `shows ${sheet}` })),
    { form: "through", sheet: "", says: "goes through" },
  ];
}

/** @param {HTMLFormElement} form */
const words = (form) => [...form.querySelectorAll("input, select")].map((e) => /** @type {any} */ (e).value).join("|");

/** Puts a small field in the line. @param {HTMLElement} item @param {any} area */
function edit(item, area) {
  if (open !== null) leave();
  parts.closeOpen();
  open = area.index;
  const all = forms(area);
  const field = /** @type {HTMLInputElement} */ (make("input", { type: "text", "aria-label": `floor of ${area.name}, with its unit`, inputmode: "text", autocomplete: "off", spellcheck: "false", value: area.form === "shows" ? "" : area.amount, maxlength: 40 }));
  const choice = /** @type {HTMLSelectElement} */ (make("select", { "aria-label": `how the floor of ${area.name} is said` },
    ...all.map((f, i) => make("option", { value: i, selected: f.form === area.form && (f.form !== "shows" || f.sheet === area.amount) }, f.says))));
  const says = make("span", { class: "wrong", role: "alert" });
  const form = /** @type {HTMLFormElement} */ (make("form", { class: "edit" }, field, choice,
    make("button", { type: "submit" }, "take it"), make("button", { type: "button", onclick: leave }, "leave it"), says));
  const fit = () => (field.hidden = ["shows", "through"].includes(all[Number(choice.value)]?.form));
  choice.addEventListener("change", () => {
    fit();
    if (!field.hidden && !field.value) field.focus();
  });
  form.addEventListener("keydown", (e) => e.key === "Escape" && leave());
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    const chosen = all[Number(choice.value)];
    take(area, chosen.form, chosen.form === "shows" ? chosen.sheet : field.value.trim(), says);
  });
  fit();
  const name = area.before.startsWith(area.name) ? area.name : area.before;
  item.replaceChildren(make("em", {}, name), " ends ", form);
  if (all[Number(choice.value)]?.form === "shows") item.replaceChildren(make("em", {}, name), " ", form);
  form.dataset.was = words(form);
  (field.hidden ? choice : field).focus();
  if (!field.hidden) field.select();
}

/** Leaves the field as it was. */
function leave() {
  const index = open;
  open = null;
  drawn = "";
  set(state);
  /** @type {HTMLElement | null} */ (document.querySelector(`#sentences > li[data-index="${index}"] button.said`))?.focus();
}

/** @param {any} area @param {string} form @param {string} amount @param {HTMLElement} says */
async function take(area, form, amount, says) {
  const through = { hash: state.hash, changes: [{ put: ["area", area.index, "floor"], as: { text: "through" } }] };
  const reply = await (form === "through" ? post("change", through) : post("floor", { hash: state.hash, area: area.index, form, amount })).catch(() => null);
  if (!reply) return says.replaceChildren("No answer: the program that serves this page has ended.");
  if (reply.ok) {
    open = null;
    drawn = "";
    took(reply.body.state);
    return /** @type {HTMLElement | null} */ (document.querySelector(`#sentences > li[data-index="${area.index}"] button.said`))?.focus();
  }
  if (reply.status !== 409) return says.replaceChildren(String(reply.body.says ?? "That was not taken."));
  // Somebody else changed the file: nothing is written over, and the maker decides.
  state = reply.body.state;
  const there = state.areas[area.index];
  const same = there && there.name.split(", ").some((/** @type {string} */ n) => area.name.split(", ").includes(n));
  const now = same ? ` This floor there: ${there.form === "shows" ? `shows ${there.amount}` : there.amount || there.form}.` : "";
  says.replaceChildren(
    `${state.file} was changed elsewhere meanwhile; nothing was written over.${now} `,
    same ? make("button", { type: "button", onclick: () => take(there, form, amount, says) }, "put mine in all the same") : "",
    " ",
    make("button", { type: "button", onclick: () => { open = null; drawn = ""; took(state); } }, "keep theirs"),
  );
}

/** Sends changes of the plate file; the words of what went wrong. @type {parts.Send} */
export async function send(changes) {
  const reply = await post("change", { hash: state.hash, changes }).catch(() => null);
  if (!reply) return "No answer: the program that serves this page has ended.";
  if (!reply.ok) {
    // What stands there now is taken up, so that taking it once more is a choice and not an accident.
    if (reply.status === 409) state = reply.body.state;
    return `${reply.body.says ?? "That was not taken"}.${reply.status === 409 ? " Take it once more to change what stands there now." : ""}`;
  }
  parts.closeOpen();
  took(reply.body.state);
  return null;
}

/** @param {string} what undo or redo */
async function step(what) {
  if (open !== null || parts.isOpen() || byId(what).disabled) return;
  const reply = await post(`${what}`, { hash: state.hash }).catch(() => null);
  if (reply?.body?.state) took(reply.body.state);
}

/** Marks the sentence of an area chosen on the plate, by its line of the plate file. @param {number | null} line */
export function pick(line) {
  document.querySelectorAll("#sentences > li.picked").forEach((e) => e.classList.remove("picked"));
  if (line !== null) document.querySelector(`#sentences > li[data-line="${line}"]`)?.classList.add("picked");
}

/** Opens the floor of an area, by its place in the text. @param {number} index */
export function change(index) {
  const button = document.querySelector(`#sentences > li[data-index="${index}"] button.said`);
  if (button instanceof HTMLElement) {
    button.scrollIntoView({ block: "center" });
    button.click();
  }
}
