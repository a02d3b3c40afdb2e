// @ts-check
// The code that lets a tablet in to the page at the machine.

import { Gone, post } from "./ask.js";
import { byId } from "./make.js";

async function enter() {
  const field = byId("code");
  byId("wrong").textContent = "";
  try {
    const reply = await post("/code", { code: field.value });
    if (reply.ok) return location.assign("/");
    byId("wrong").textContent = reply.body?.says || "That was not taken.";
  } catch (error) {
    if (!(error instanceof Gone)) throw error;
    byId("wrong").textContent = "No answer: the program at the bench has ended or was started anew.";
  }
  field.select();
  field.focus();
}

byId("enter").addEventListener("click", enter);
byId("code").addEventListener("keydown", (/** @type {KeyboardEvent} */ e) => e.key === "Enter" && enter());
byId("code").focus();
