// @ts-check
// Sentences made of words and values: a value becomes a small field in the line, and what can be done stands behind it.

import { make } from "./make.js";

/** Sends changes; the words of what went wrong, or none. @typedef {(changes: any[]) => Promise<string | null>} Send */

/** The field that is open, and what its contours are chosen with on the plate. @type {{ close: () => void, toggle: ((name: string) => boolean) | null, was: string, form: HTMLFormElement } | null} */
let open = null;
/** @type {(choosing: boolean) => void} */
let choosing = () => {};

/** Whether a field is open, so that nothing is drawn anew under the maker's hand. */
export const isOpen = () => open !== null;

/** Whether leaving now would lose what was typed. */
export const isTyped = () => open !== null && state(open.form) !== open.was;

/** Leaves the field that is open as it was. */
export const closeOpen = () => open?.close();

/** What to do when contours can be chosen on the plate, and when no longer. @param {(choosing: boolean) => void} does */
export const onChoosing = (does) => (choosing = does);

/** Chooses a contour's name in the field that is open. @param {string[]} names of the contour, its own first */
export function toggle(names) {
  if (!open?.toggle) return false;
  return names.some((name) => open?.toggle?.(name));
}

/** @param {HTMLFormElement} form */
const state = (form) => [...form.querySelectorAll("input, select")].map((e) => { const i = /** @type {HTMLInputElement} */ (e); return i.type === "checkbox" ? i.checked : i.value; }).join("|");

/**
 * The nodes of a sentence.
 * @param {any} sentence @param {Send} send
 * @returns {(Node | string)[]}
 */
export function line(sentence, send) {
  /** @type {(Node | string)[]} */
  const nodes = sentence.pieces.map((/** @type {any} */ p) => (typeof p === "string" ? p : value(p, send)));
  for (const a of sentence.actions) nodes.push(" ", act(a, send));
  return nodes;
}

/** A value that can be changed. @param {any} piece @param {Send} send */
function value(piece, send) {
  const button = make("button", { type: "button", class: "said", "data-path": piece.path.join(" "), "aria-label": `${piece.label}: ${piece.said}, change it` }, swatch(piece), piece.said.replaceAll("`", "") || "…");
  button.addEventListener("click", () => field(button, piece, (said) => send([change(piece.path, said)])));
  return button;
}

/** @param {any} piece */
function swatch(piece) {
  if (piece.kind !== "colour" || !/^#[0-9a-f]{6}$/i.test(piece.said)) return null;
  const shown = make("span", { class: "swatch", "aria-hidden": "true" });
  shown.style.backgroundColor = piece.said;
  return shown;
}

/** Something that can be done. @param {any} action @param {Send} send */
function act(action, send) {
  const button = make("button", { type: "button", class: "act" }, action.says);
  button.addEventListener("click", async () => {
    if (action.ask) {
      const filled = (/** @type {any} */ said) => action.changes.map((/** @type {any} */ c) => (c.as || c.take || c.move ? c : c.wrap ? { add: c.add, as: { table: [[c.wrap, said]] } } : { ...c, as: said }));
      field(button, { value: "", choices: [], ...action.ask }, (said) => send(filled(said)));
      return;
    }
    const wrong = await send(action.changes);
    if (wrong) button.after(make("span", { class: "wrong", role: "alert" }, ` ${wrong}`));
  });
  return button;
}

/** @param {(string | number)[]} path @param {any} said */
const change = (path, said) => (said === null ? { take: path } : { put: path, as: said });

/**
 * Puts a field in a button's place until it is taken or left.
 * @param {HTMLElement} button @param {any} piece @param {(said: any) => Promise<string | null>} take
 */
function field(button, piece, take) {
  fieldOf(button, ask(piece), take);
}

/**
 * The field of a kind of value.
 * @param {any} piece
 * @returns {{ nodes: (Node | string)[], said: () => any, toggle: ((name: string) => boolean) | null, first: HTMLElement | null }}
 */
function ask(piece) {
  const { kind, label } = piece;
  if (kind === "names" || kind === "cutters") return many(piece);
  if (kind === "choice" || kind === "flag") {
    const all = piece.choices.map((/** @type {any} */ c) => (typeof c === "object" ? c : { value: c, says: c }));
    if (!all.some((/** @type {any} */ c) => c.value === piece.value)) all.unshift({ value: piece.value, says: piece.value || "choose" });
    const select = /** @type {HTMLSelectElement} */ (make("select", { "aria-label": label }, ...all.map((/** @type {any} */ c) => make("option", { value: c.value, selected: c.value === piece.value }, c.says))));
    const said = () => (select.value === "" ? null : kind === "flag" ? { flag: select.value === "true" } : { text: select.value });
    return { nodes: [select], said, toggle: null, first: select };
  }
  const input = /** @type {HTMLInputElement} */ (make("input", { type: kind === "colour" ? "color" : "text", class: kind === "text" ? "long" : null, "aria-label": kind === "length" ? `${label}, with its unit` : label, value: piece.value, autocomplete: "off", spellcheck: kind === "text" ? null : "false", maxlength: 200 }));
  const said = () => {
    const words = input.value.trim();
    if (kind === "text" || kind === "colour") return { text: words };
    if (words === "") return null;
    if (kind === "length") return { length: words };
    return kind !== "amount" || /^[\d.]+$/.test(words) ? { number: words } : { text: words };
  };
  return { nodes: [input], said, toggle: null, first: input };
}

/** Several of a list. @param {any} piece */
function many(piece) {
  const numbers = piece.kind === "cutters";
  const has = new Set((piece.value || []).map(String));
  const all = piece.choices.map((/** @type {any} */ c) => (typeof c === "object" ? c : { value: c, says: c }));
  for (const name of has) if (!all.some((/** @type {any} */ c) => String(c.value) === name)) all.unshift({ value: name, says: `${name} (not there)` });
  const boxes = all.map((/** @type {any} */ c) => {
    const box = /** @type {HTMLInputElement} */ (make("input", { type: "checkbox", value: c.value, checked: has.has(String(c.value)) }));
    return { box, label: make("label", { class: "tick" }, box, " ", c.says) };
  });
  const set = make("fieldset", {}, make("legend", {}, numbers ? piece.label : `${piece.label}; they can be pressed on the plate as well`), ...boxes.map((/** @type {any} */ b) => b.label));
  const chosen = () => boxes.filter((/** @type {any} */ b) => b.box.checked).map((/** @type {any} */ b) => b.box.value);
  const said = () => {
    const values = chosen();
    if (numbers) return values.length === boxes.length ? null : { list: values.map((/** @type {string} */ n) => ({ number: n })) };
    if (values.length === 0) return null;
    return values.length === 1 ? { text: values[0] } : { list: values.map((/** @type {string} */ n) => ({ text: n })) };
  };
  const pick = (/** @type {string} */ name) => {
    const found = boxes.find((/** @type {any} */ b) => b.box.value === name);
    if (!found) return false;
    found.box.checked = !found.box.checked;
    return true;
  };
  return { nodes: [set], said, toggle: numbers ? null : pick, first: boxes[0]?.box ?? null };
}

/**
 * A button that opens a form for a new area: contours, and where it ends.
 * @param {any} choices contours and sheets @param {Send} send
 */
export function newArea(choices, send) {
  const button = make("button", { type: "button", class: "act", id: "new-area" }, "a new area");
  button.addEventListener("click", () => {
    const names = many({ kind: "names", label: "contours of the new area", value: [], choices: choices.contours });
    const floor = ending(choices);
    const piece = {
      nodes: [...names.nodes, ...floor.nodes], toggle: names.toggle, first: names.first,
      said: () => {
        const on = names.said();
        return on === null ? null : { table: [["on", on], ["floor", floor.said()]] };
      },
    };
    fieldOf(button, piece, (said) => (said === null ? Promise.resolve("Choose contours first.") : send([{ add: ["area"], as: said }])));
  });
  return button;
}

/**
 * A button that opens a form for a new area of lettering: what it says, the font, how high, in the middle of what, and where it ends.
 * @param {any} choices contours, sheets and fonts @param {Send} send
 */
export function newLettering(choices, send) {
  const button = make("button", { type: "button", class: "act", id: "new-lettering" }, "new lettering");
  if (choices.fonts.length === 0) {
    button.addEventListener("click", () => {
      if (!button.nextElementSibling) button.after(make("span", { class: "wrong", role: "alert" }, " Put a font file (.ttf or .otf) beside the plate file; then it can be chosen here."));
    });
    return button;
  }
  button.addEventListener("click", () => {
    const box = (/** @type {string} */ label, /** @type {string} */ value, long = false) => /** @type {HTMLInputElement} */ (make("input", { type: "text", class: long && "long", "aria-label": label, value, maxlength: 200, autocomplete: "off" }));
    const pick = (/** @type {string} */ label, /** @type {string[]} */ all) => /** @type {HTMLSelectElement} */ (make("select", { "aria-label": label }, ...all.map((v) => make("option", { value: v }, v))));
    const text = box("what the lettering says", "", true), height = box("height of the capitals, with its unit", "10 mm");
    const font = pick("font file", choices.fonts), on = pick("contours that it stands in the middle of", choices.contours);
    const floor = ending(choices);
    const piece = {
      nodes: [text, " in ", font, ", capitals ", height, " high, in the middle of ", on, ", ", ...floor.nodes], toggle: null, first: text,
      said: () => {
        if (text.value.trim() === "" || on.value === "") return null;
        const letters = [["text", { text: text.value.trim() }], ["font", { text: font.value }], ["height", { length: height.value.trim() }], ["on", { text: on.value }]];
        return { table: [["lettering", { table: letters }], ["floor", floor.said()]] };
      },
    };
    fieldOf(button, piece, (said) => (said === null ? Promise.resolve("Write what it shall say, and choose what it stands in.") : send([{ add: ["area"], as: said }])));
  });
  return button;
}

/** Where a new area ends. @param {any} choices */
function ending(choices) {
  const floors = [...choices.sheets.map((/** @type {string} */ s) => ({ value: `shows ${s}`, says: `shows ${s}` })), { value: "below_face", says: "ends below the face by" }, { value: "above_table", says: "ends above the table at" }, { value: "through", says: "goes through" }];
  const floor = /** @type {HTMLSelectElement} */ (make("select", { "aria-label": "where the new area ends" }, ...floors.map((f) => make("option", { value: f.value }, f.says))));
  const amount = /** @type {HTMLInputElement} */ (make("input", { type: "text", "aria-label": "depth or height of the new area, with its unit", value: "0.5 mm", maxlength: 40 }));
  const fit = () => (amount.hidden = !["below_face", "above_table"].includes(floor.value));
  floor.addEventListener("change", fit);
  fit();
  const said = () => (floor.value === "through" ? { text: "through" } : floor.value.startsWith("shows ") ? { table: [["shows", { text: floor.value.slice(6) }]] } : { table: [[floor.value, { length: amount.value.trim() }]] });
  return { nodes: [floor, amount], said };
}

/** @param {HTMLElement} button @param {ReturnType<typeof ask>} asked @param {(said: any) => Promise<string | null>} take */
function fieldOf(button, asked, take) {
  const says = make("span", { class: "wrong", role: "alert" });
  open?.close();
  const form = /** @type {HTMLFormElement} */ (make("form", { class: "edit" }, ...asked.nodes,
    make("button", { type: "submit" }, "take it"), make("button", { type: "button", onclick: () => close() }, "leave it"), says));
  const close = () => {
    open = null;
    form.replaceWith(button);
    choosing(false);
    button.focus();
  };
  form.addEventListener("keydown", (e) => e.key === "Escape" && close());
  form.addEventListener("submit", async (e) => {
    e.preventDefault();
    const wrong = await take(asked.said());
    if (wrong === null) {
      if (form.isConnected) close();
      open = null;
    } else says.replaceChildren(wrong);
  });
  button.replaceWith(form);
  open = { close, toggle: asked.toggle, was: state(form), form };
  choosing(asked.toggle !== null);
  asked.first?.focus();
  if (asked.first instanceof HTMLInputElement && asked.first.type === "text") asked.first.select();
}
