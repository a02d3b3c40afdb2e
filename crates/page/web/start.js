// @ts-check
// The start page: the plates of this folder.

import { Gone, get } from "./ask.js";
import { make, put } from "./make.js";

/** @param {any} p */
const line = (p) => make("li", {}, make("a", { href: `/plate/${p.number}/` }, p.title || p.name), " ", make("span", { class: "quiet" }, p.title ? p.name : ""));

async function show() {
  const reply = await get("/plates");
  if (!reply.ok) return;
  put("folder", reply.body.folder);
  put("plates", ...reply.body.plates.map(line));
}

show().catch((error) => {
  if (!(error instanceof Gone)) throw error;
  put("news", make("p", {}, "The program that serves this page has ended or was started anew; start it again and open the address that it shows."));
});
