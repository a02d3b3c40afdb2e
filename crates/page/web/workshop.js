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

/** @param {any} section */
function part(section) {
  const body = [];
  if (section.title) body.push(make("h2", {}, section.title));
  if (section.rows.length > 0) {
    const set = section.rows.filter((/** @type {any} */ r) => r.set);
    const rest = section.rows.filter((/** @type {any} */ r) => !r.set);
    body.push(make("table", { class: "keys" }, make("tbody", {}, ...set.map(row))));
    if (rest.length > 0) body.push(make("details", {}, make("summary", {}, `what else can be said (${rest.length})`), make("table", { class: "keys" }, make("tbody", {}, ...rest.map(row)))));
  }
  if (section.actions.length > 0 && !shop.shut) body.push(make("p", {}, ...parts.line({ pieces: [], actions: section.actions }, send)));
  return make("section", { "data-of": section.of }, ...body);
}

/** @param {any} now */
function show(now) {
  const path = document.activeElement?.getAttribute("data-path");
  const wide = [...document.querySelectorAll("#sections > section")].map((s) => s.querySelector("details")?.open ?? false);
  shop = now;
  put("title", now.shop?.name || "The shop");
  put("which-file", now.shut ? `${now.file}: ${now.shut}.` : now.built_in ? "This is the built-in starter shop; its figures are common practice, not measured here. The first change writes it beside the plate file as shop.toml." : `What stands here is ${now.file}.`);
  if (!now.shop) return put("sections", make("p", {}, `${now.file} can’t be read as a shop file; the plate’s notes say why.`));
  put("sections", ...now.shop.sections.map(part));
  document.querySelectorAll("#sections > section").forEach((s, i) => {
    const details = s.querySelector("details");
    if (details && wide[i]) details.open = true;
  });
  if (path) /** @type {HTMLElement | null} */ (document.querySelector(`button[data-path="${path}"]`))?.focus();
}

addEventListener("beforeunload", (e) => {
  if (parts.isTyped()) e.preventDefault();
});
get("shop").then((reply) => reply.ok && show(reply.body)).catch((error) => {
  if (!(error instanceof Gone)) throw error;
  put("news", make("p", {}, "The program that serves this page has ended or was started anew; start it again and open the address that it shows."));
});
