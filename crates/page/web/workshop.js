// @ts-check
// The shop: cutters, sheets, holds, machine, dial and touch-off, each value changed in its line.

import { Gone, get, post } from "./ask.js";
import { make, put } from "./make.js";
import * as parts from "./parts.js";

/** @type {any} */
let shop = null;

/** Sends changes of the shop file. @type {parts.Send} */
async function send(changes) {
  const reply = await post("shop", { hash: shop.hash, changes }).catch(() => null);
  if (!reply) return "No answer: the program that serves this page has ended.";
  if (reply.status === 409) shop.hash = reply.body.hash;
  if (!reply.ok) return `${reply.body.says ?? "That was not taken"}.${reply.status === 409 ? " Take it once more to change what stands there now." : ""}`;
  parts.closeOpen();
  show(reply.body);
  return null;
}

/** @param {any} row */
function row(row) {
  return make("tr", { class: row.set ? "set" : null },
    make("th", { scope: "row" }, row.key),
    make("td", {}, ...(shop.shut ? row.pieces.map((/** @type {any} */ p) => p.said ?? p) : parts.line(row, send))),
    make("td", { class: "quiet" }, row.says));
}

/** Keys that the line of a folded section tells. */
const TOLD = ["diameter", "cutting width", "stick out", "thickness", "size", "height", "travel", "feeler", "speed", "power", "decimals"];

/** @param {any} section */
function part(section) {
  /** @type {HTMLElement[]} */
  const body = [];
  if (section.rows.length > 0) {
    const set = section.rows.filter((/** @type {any} */ r) => r.set);
    const rest = section.rows.filter((/** @type {any} */ r) => !r.set);
    body.push(make("table", { class: "keys" }, make("tbody", {}, ...set.map(row))));
    if (rest.length > 0) body.push(make("details", {}, make("summary", {}, `what else can be said (${rest.length})`), make("table", { class: "keys" }, make("tbody", {}, ...rest.map(row)))));
  }
  if (section.actions.length > 0 && !shop.shut) body.push(make("p", {}, ...parts.line({ pieces: [], actions: section.actions }, send)));
  if (!section.title) return make("section", { "data-of": section.of }, ...body);
  // Folded, so that a shop of many cutters can be seen at once; a line says what matters of each.
  const told = section.rows.filter((/** @type {any} */ r) => TOLD.includes(r.key) && r.set).map((/** @type {any} */ r) => `${r.key} ${r.pieces.map((/** @type {any} */ p) => p.said ?? p).join("")}`);
  return make("section", { "data-of": section.of },
    make("details", { class: "whole" }, make("summary", {}, make("em", {}, section.title), told.length > 0 && make("span", { class: "quiet" }, `; ${told.join(", ")}`)), ...body));
}

/** @param {any} now */
function show(now) {
  const path = document.activeElement?.getAttribute("data-path");
  const wide = [...document.querySelectorAll("#sections details")].map((d) => /** @type {HTMLDetailsElement} */ (d).open);
  shop = now;
  put("title", now.shop?.name || "The shop");
  put("which-file", now.shut ? `${now.file}: ${now.shut}.` : now.built_in ? "This is the built-in starter shop; its figures are common practice, not measured here. The first change writes it beside the plate file as shop.toml." : `What stands here is ${now.file}.`);
  if (!now.shop) return put("sections", make("p", {}, `${now.file} can’t be read as a shop file; the plate’s notes say why.`));
  put("sections", ...now.shop.sections.map(part));
  const details = document.querySelectorAll("#sections details");
  // Something was added or taken out where the number differs; what was open is then no longer told by its place.
  if (details.length === wide.length) details.forEach((d, i) => (/** @type {HTMLDetailsElement} */ (d).open = wide[i]));
  if (path) /** @type {HTMLElement | null} */ (document.querySelector(`button[data-path="${path}"]`))?.focus();
}

addEventListener("beforeunload", (e) => {
  if (parts.isTyped()) e.preventDefault();
});
get("shop").then((reply) => reply.ok && show(reply.body)).catch((error) => {
  if (!(error instanceof Gone)) throw error;
  put("news", make("p", {}, "The program that serves this page has ended or was started anew; start it again and open the address that it shows."));
});
