// @ts-check
// The start page: the plates of this folder, and a new one from a dropped drawing.

import { Gone, get, post } from "./ask.js";
import { byId, make, put } from "./make.js";

/** Largest drawing, bytes. */
const LARGEST = 32 << 20;

/** @type {File | null} */
let drawing = null;

/** @param {any} p */
const line = (p) => make("li", {}, make("a", { href: `/plate/${p.number}/` }, p.title || p.name), " ", make("span", { class: "quiet" }, p.title ? p.name : ""));

async function show() {
  const reply = await get("/plates");
  if (!reply.ok) return;
  put("folder", reply.body.folder);
  const plates = reply.body.plates.map(line);
  put("plates", ...(plates.length > 0 ? plates : [make("li", {}, "There is none yet.")]));
}

/** @param {File | undefined} file */
function choose(file) {
  if (!file) return;
  put("says");
  if (!/\.(svg|dxf)$/i.test(file.name)) return put("says", `${file.name} is neither DXF nor SVG.`);
  if (file.size > LARGEST) return put("says", `${file.name} is larger than 32 MB.`);
  drawing = file;
  put("chosen", `Drawn in ${file.name}.`);
  const called = byId("called");
  if (!called.value) called.value = file.name.replace(/\.[^.]*$/, "").replace(/[-_]+/g, " ");
  called.focus();
}

/** A file's bytes in base 64. @param {File} file @returns {Promise<string>} */
const bytes = (file) => new Promise((done, failed) => {
  const reader = new FileReader();
  reader.onload = () => done(String(reader.result).replace(/^[^,]*,/, ""));
  reader.onerror = () => failed(reader.error);
  reader.readAsDataURL(file);
});

/** @param {Event} e */
async function begin(e) {
  e.preventDefault();
  put("says");
  if (!drawing) return put("says", "Choose its drawing first.");
  let read;
  try {
    read = await bytes(drawing);
  } catch {
    return put("says", `${drawing.name} can’t be read.`);
  }
  const reply = await post("/plates/new", { title: byId("called").value.trim(), file: drawing.name, bytes: read });
  if (reply.ok) location.assign(`/plate/${reply.body.number}/`);
  else put("says", `${String(reply.body.says ?? "that was not taken").replace(/^./, (c) => c.toUpperCase())}.`);
}

/** @param {unknown} error */
function gone(error) {
  if (!(error instanceof Gone)) throw error;
  put("news", make("p", {}, "The program that serves this page has ended or was started anew; start it again and open the address that it shows."));
}

byId("file").addEventListener("change", () => choose(byId("file").files[0]));
byId("new").addEventListener("submit", (/** @type {Event} */ e) => begin(e).catch(gone));
for (const kind of ["dragover", "drop"]) addEventListener(kind, (e) => e.preventDefault());
addEventListener("dragover", () => byId("drop").classList.add("over"));
addEventListener("dragleave", () => byId("drop").classList.remove("over"));
addEventListener("drop", (e) => {
  byId("drop").classList.remove("over");
  choose(e.dataTransfer?.files[0]);
});
show().catch(gone);
