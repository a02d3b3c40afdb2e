// @ts-check
// Asking the server. It answers to this page alone: the cookie is sent by the browser, and never read here.

/** What a request came to. @typedef {{ ok: boolean, status: number, body: any }} Reply */

/** Status of an answer about a run that is not shown any more. */
export const NOTHING = 204;

/** The server has ended or does not know this page any more. */
export class Gone extends Error {}

/**
 * @param {string} path
 * @param {RequestInit} [init]
 * @returns {Promise<Reply>}
 */
async function ask(path, init) {
  let reply;
  try {
    reply = await fetch(path, { ...init, cache: "no-store", credentials: "same-origin", redirect: "error" });
  } catch (error) {
    if (init?.signal?.aborted) throw error;
    throw new Gone("no answer");
  }
  if (reply.status === 403) throw new Gone("not known");
  const text = await reply.text();
  const json = reply.headers.get("content-type") === "application/json";
  return { ok: reply.ok && reply.status !== NOTHING, status: reply.status, body: json ? JSON.parse(text) : text };
}

/** @param {string} path @param {AbortSignal} [signal] */
export const get = (path, signal) => ask(path, { signal });

/** @param {string} path @param {object} body */
export const post = (path, body) =>
  ask(path, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });
