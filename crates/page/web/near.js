// @ts-check
// The plate near: what of it is seen, moved and drawn nearer by hand, wheel and keys, down to microns. The picture that is there
// stays, scaled, until a sharp one has come.

import { NOTHING } from "./ask.js";
import { byId, make, night, put, short } from "./make.js";

/** The least that is seen across, mm. */
const LEAST = 0.4;
/** How much nearer one press goes. */
const STEP = 1.6;
/** How long the hand rests before a sharp picture is asked for, ms. */
const REST = 90;
/** How much more than is seen a sharp picture shows, a share on each side. */
const BESIDE = 0.1;
/** Most pixels across of a sharp picture. */
const WIDEST = 1200;
/** Movement that makes a press a drag, pixels. */
const DRAG = 5;

/** @type {any} */
let picture = null;
/** @type {number | null} */
let stage = null;
/** What is seen, mm; none for the whole plate. @type {number[] | null} */
let view = null;
/** Of which the sharp picture is. @type {{ of: string, window: number[], width: number } | null} */
let sharp = null;
/** @type {number[] | null} */
let spot = null;
/** @type {() => void} */
let moved = () => {};
/** @type {AbortController | null} */
let asking = null;
let resting = 0;
/** Fingers and mice that are down. @type {Map<number, { x: number, y: number }>} */
const down = new Map();
/** @type {{ x: number, y: number } | null} */
let pressed = null;
let dragging = false;

const over = () => byId("over");

/** What is seen, mm on the blank: left, lower, right, upper. @returns {number[]} */
export const seen = () => view ?? picture.window;
/** Whether less than the whole plate is seen. */
export const isNear = () => view !== null;
/** What is seen, in the drawing that lies over the whole plate. */
export function box() {
  const [x0, , x1, y1] = seen(), y0 = seen()[1];
  return `${x0 - picture.window[0]} ${picture.window[3] - y1} ${x1 - x0} ${y1 - y0}`;
}
/** How far a press of an arrow key goes, mm. */
export function step() {
  if (!view) return 1;
  return Math.min(1, 10 ** Math.round(Math.log10((view[2] - view[0]) / 80)));
}

/** @param {() => void} onMoved what to do when something else is seen */
export function begin(onMoved) {
  moved = onMoved;
  const svg = over();
  svg.addEventListener("wheel", wheel, { passive: false });
  svg.addEventListener("keydown", keys, true);
  svg.addEventListener("pointerdown", press, true);
  svg.addEventListener("pointermove", drag, true);
  svg.addEventListener("pointerup", lift, true);
  svg.addEventListener("pointercancel", lift, true);
  const button = (/** @type {string} */ id, /** @type {string} */ says, /** @type {() => void} */ what) => make("button", { type: "button", id, onclick: what }, says);
  put("nearness", button("nearer", "nearer", () => zoom(STEP, centre())), button("farther", "farther", () => zoom(1 / STEP, centre())), button("whole", "whole plate", whole));
  new ResizeObserver(() => picture && lay()).observe(byId("paper"));
  said();
}

/** @param {any} newPicture @param {number | null} newStage */
export function set(newPicture, newStage) {
  const before = picture;
  picture = newPicture;
  stage = newStage;
  byId("views").hidden = !picture;
  if (!picture) return;
  if (before && String(before.window) !== String(picture.window)) view = null;
  lay();
}

/** The place that keys go nearer to. @param {number[] | null} at */
export function setSpot(at) {
  spot = at;
  if (!view || !at) return;
  // A place that leaves what is seen takes the view along.
  const [x0, y0, x1, y1] = view;
  const [dx, dy] = [Math.min(0, at[0] - x0) + Math.max(0, at[0] - x1), Math.min(0, at[1] - y0) + Math.max(0, at[1] - y1)];
  if (dx || dy) look([x0 + dx, y0 + dy, x1 + dx, y1 + dy]);
}

function centre() {
  const [x0, y0, x1, y1] = seen();
  const there = spot && spot[0] >= x0 && spot[0] <= x1 && spot[1] >= y0 && spot[1] <= y1;
  return there && spot ? spot : [(x0 + x1) / 2, (y0 + y1) / 2];
}

function whole() {
  view = null;
  changed();
}

/** @param {number} by @param {number[]} at a place that stays where it is */
function zoom(by, at) {
  if (!picture) return;
  const [x0, y0, x1, y1] = seen();
  const all = picture.window[2] - picture.window[0];
  const wide = Math.min(Math.max((x1 - x0) / by, LEAST), all);
  if (wide > all * 0.97) return whole();
  const k = wide / (x1 - x0);
  look([at[0] - (at[0] - x0) * k, at[1] - (at[1] - y0) * k, at[0] + (x1 - at[0]) * k, at[1] + (y1 - at[1]) * k]);
}

/** Looks at a window, kept on the plate. @param {number[]} window */
function look([x0, y0, x1, y1]) {
  const [l, b, r, t] = picture.window;
  const dx = Math.max(l - x0, 0) + Math.min(r - x1, 0), dy = Math.max(b - y0, 0) + Math.min(t - y1, 0);
  view = [x0 + dx, y0 + dy, x1 + dx, y1 + dy];
  changed();
}

function changed() {
  lay();
  moved();
}

/** Lays the pictures where they belong, and asks for a sharp one if there is none of this window. */
function lay() {
  const [x0, y0, x1, y1] = seen(), [l, b, r, t] = picture.window;
  byId("paper").classList.toggle("near", view !== null);
  const face = byId("face");
  face.style.transformOrigin = "0 0";
  face.style.transform = view ? `scale(${(r - l) / (x1 - x0)}) translate(${(-100 * (x0 - l)) / (r - l)}%, ${(-100 * (t - y1)) / (t - b)}%)` : "";
  const canvas = byId("sharp");
  const of = `${picture.run} ${stage} ${night()}`;
  // Of an older proof it stays until the new one has come; of another stage it would be untrue.
  canvas.hidden = !view || sharp?.of.split(" ")[1] !== String(stage);
  if (sharp && !canvas.hidden) {
    const [sx0, sy0, sx1, sy1] = sharp.window;
    canvas.style.left = `${(100 * (sx0 - x0)) / (x1 - x0)}%`;
    canvas.style.top = `${(100 * (y1 - sy1)) / (y1 - y0)}%`;
    canvas.style.width = `${(100 * (sx1 - sx0)) / (x1 - x0)}%`;
    canvas.style.height = `${(100 * (sy1 - sy0)) / (y1 - y0)}%`;
  }
  said();
  clearTimeout(resting);
  if (view && !covers(of)) resting = window.setTimeout(() => sharpen(of), REST);
}

/** Whether the sharp picture shows what is seen, about as finely as can be. @param {string} of */
function covers(of) {
  if (!view || sharp?.of !== of) return false;
  const [a, b] = [sharp.window, view];
  const holds = a[0] <= b[0] + 1e-9 && a[1] <= b[1] + 1e-9 && a[2] >= b[2] - 1e-9 && a[3] >= b[3] - 1e-9;
  return holds && sharp.width > 0.8 * pixels() && a[2] - a[0] < (b[2] - b[0]) * (1 + 3 * BESIDE);
}

/** Pixels across that a sharp picture is asked for at. */
const pixels = () => Math.min(WIDEST, Math.max(200, Math.round(byId("paper").clientWidth * Math.min(devicePixelRatio, 2) * (1 + 2 * BESIDE))));

/** @param {string} of */
async function sharpen(of) {
  if (!view || picture.drawn) return;
  const [x0, y0, x1, y1] = view, dx = (x1 - x0) * BESIDE, dy = (y1 - y0) * BESIDE;
  const window = [x0 - dx, y0 - dy, x1 + dx, y1 + dy];
  const width = pixels();
  const after = stage === null ? "" : `&stage=${stage}`;
  const places = ["x0", "y0", "x1", "y1"].map((name, i) => `${name}=${window[i].toFixed(6)}`).join("&");
  asking?.abort();
  const mine = new AbortController();
  asking = mine;
  byId("near-says").dataset.waits = "yes";
  try {
    const reply = await fetch(`near?run=${picture.run}&${places}&width=${width}&night=${night()}${after}`, { signal: mine.signal, cache: "no-store", credentials: "same-origin", redirect: "error" });
    if (!reply.ok || reply.status === NOTHING) return;
    const bitmap = await createImageBitmap(await reply.blob());
    if (asking !== mine) return bitmap.close();
    const canvas = byId("sharp");
    canvas.width = bitmap.width;
    canvas.height = bitmap.height;
    canvas.getContext("2d").drawImage(bitmap, 0, 0);
    bitmap.close();
    sharp = { of, window, width };
    canvas.dataset.pitch = reply.headers.get("x-pitch") ?? "";
    lay();
  } catch {
    // Something else is looked at by now, or the server has ended, which is said elsewhere.
  } finally {
    if (asking === mine) {
      asking = null;
      delete byId("near-says").dataset.waits;
    }
  }
}

function said() {
  const [a, b] = view ?? [0, 0];
  byId("zero").classList.toggle("gone", view !== null && (a > 0 || b > 0));
  for (const id of ["farther", "whole"]) byId(id).disabled = !view;
  if (!view) return put("near-says");
  const across = view[2] - view[0];
  byId("nearer").disabled = across <= LEAST * 1.001;
  const pitch = byId("sharp").hidden ? 0 : Number(byId("sharp").dataset.pitch);
  const fine = pitch > 0 && pitch < 0.9 * 1000 * picture.pitch;
  const how = pitch === 0 ? "" : fine ? ` Heights ${short(pitch, pitch < 10 ? 1 : 0)} µm apart, cut anew here from the programs’ own text.` : ` Heights ${short(pitch, 0)} µm apart, as in the proof’s picture.`;
  put("near-says", `${across < 10 ? short(across, 2) : short(across, 0)} mm across.${how}`);
}

/** The place under a pointer, mm. @param {{ clientX: number, clientY: number }} e */
function place(e) {
  const b = over().getBoundingClientRect(), [x0, y0, x1, y1] = seen();
  return [x0 + ((e.clientX - b.left) / b.width) * (x1 - x0), y1 - ((e.clientY - b.top) / b.height) * (y1 - y0)];
}

/** The wheel goes nearer where the plate is in hand; elsewhere it moves the page. @param {WheelEvent} e */
function wheel(e) {
  if (!picture || !(e.ctrlKey || view || document.activeElement === over())) return;
  if (!view && e.deltaY > 0 && !e.ctrlKey) return;
  e.preventDefault();
  const pixels = e.deltaMode === 1 ? e.deltaY * 30 : e.deltaY;
  zoom(Math.exp(-Math.min(Math.max(pixels, -240), 240) * (e.ctrlKey ? 0.008 : 0.0025)), place(e));
}

/** @param {KeyboardEvent} e */
function keys(e) {
  if (!picture || e.altKey || e.metaKey) return;
  const [x0, y0, x1, y1] = seen(), [dx, dy] = [(x1 - x0) / 4, (y1 - y0) / 4];
  const by = e.ctrlKey ? { ArrowLeft: [-dx, 0], ArrowRight: [dx, 0], ArrowUp: [0, dy], ArrowDown: [0, -dy] }[e.key] : undefined;
  if (by) {
    if (view) look([x0 + by[0], y0 + by[1], x1 + by[0], y1 + by[1]]);
  } else if (e.ctrlKey) return;
  else if (e.key === "+" || e.key === "=") zoom(STEP, centre());
  else if (e.key === "-") zoom(1 / STEP, centre());
  else if (e.key === "0") whole();
  else return;
  e.preventDefault();
  e.stopImmediatePropagation();
}

/** @param {PointerEvent} e */
function press(e) {
  // The knife and holds are dragged themselves.
  const target = /** @type {Element} */ (e.target);
  if (!picture || target.classList.contains("grip") || target.closest("[data-hold]")) return;
  down.set(e.pointerId, { x: e.clientX, y: e.clientY });
  pressed = { x: e.clientX, y: e.clientY };
  if (down.size === 2) dragging = true;
}

/** @param {PointerEvent} e */
function drag(e) {
  // A mouse that was let go of elsewhere.
  if (e.pointerType === "mouse" && e.buttons === 0) lift(e);
  const from = down.get(e.pointerId);
  if (!from || !picture) return;
  const others = [...down.entries()].filter(([id]) => id !== e.pointerId).map(([, p]) => p);
  const b = over().getBoundingClientRect();
  const [x0, y0, x1, y1] = seen();
  const mm = (x1 - x0) / b.width;
  if (others.length === 1) {
    const other = others[0];
    const before = Math.hypot(from.x - other.x, from.y - other.y), now = Math.hypot(e.clientX - other.x, e.clientY - other.y);
    down.set(e.pointerId, { x: e.clientX, y: e.clientY });
    if (before > 0 && now > 0) zoom(now / before, place({ clientX: (e.clientX + other.x) / 2, clientY: (e.clientY + other.y) / 2 }));
    if (view) {
      const [a, c, d, f] = view, m = (d - a) / b.width / 2;
      look([a - (e.clientX - from.x) * m, c + (e.clientY - from.y) * m, d - (e.clientX - from.x) * m, f + (e.clientY - from.y) * m]);
    }
  } else if (view) {
    if (!dragging && pressed && Math.hypot(e.clientX - pressed.x, e.clientY - pressed.y) < DRAG) return;
    if (!dragging) over().setPointerCapture(e.pointerId);
    dragging = true;
    down.set(e.pointerId, { x: e.clientX, y: e.clientY });
    look([x0 - (e.clientX - from.x) * mm, y0 + (e.clientY - from.y) * mm, x1 - (e.clientX - from.x) * mm, y1 + (e.clientY - from.y) * mm]);
  } else return;
  e.stopImmediatePropagation();
}

/** What was dragged was not pressed. @param {PointerEvent} e */
function lift(e) {
  if (!down.delete(e.pointerId)) return;
  if (dragging) e.stopImmediatePropagation();
  if (down.size === 0) {
    dragging = false;
    pressed = null;
  }
}
