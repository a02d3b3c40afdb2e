// @ts-check
// The plate tilted, from the maker's side, with a light that follows the hand. Heights are true to scale. Drawn column by column
// from the front: what stands higher on the screen than all before it is seen.

import { byId, put } from "./make.js";
import { heights, palette, shadeOf } from "./heights.js";

/** Cells of the plate. */
const CELLS = 330000;
/** How steeply it is looked down on: sine and cosine of 58 degrees above the table. */
const SINE = 0.848, COSINE = 0.53;
/** How far the light moves with a press of an arrow key. */
const STEP = 0.15;
/** Least height of the light above the table, as a share. */
const LOW = 0.75;

/** @type {any} */
let picture = null;
/** @type {number | null} */
let stage = null;
let count = 0;
let on = false;
/** What is drawn. @type {{ of: string, heights: import("./heights.js").Heights, palette: { pixels: Uint32Array, count: number }, image: ImageData, dim: Uint8Array } | null} */
let drawn = null;
/** Where the light is over the plate, -1 to 1 from its middle. */
let lamp = [-0.6, 0.6];
let due = false;

export function begin() {
  byId("tilt").addEventListener("click", () => turn(!on));
  const canvas = byId("tilted");
  canvas.addEventListener("pointermove", (/** @type {PointerEvent} */ e) => {
    const b = canvas.getBoundingClientRect();
    move(((e.clientX - b.left) / b.width) * 2 - 1, 1 - ((e.clientY - b.top) / b.height) * 2);
  });
  canvas.addEventListener("keydown", (/** @type {KeyboardEvent} */ e) => {
    const by = { ArrowLeft: [-STEP, 0], ArrowRight: [STEP, 0], ArrowUp: [0, STEP], ArrowDown: [0, -STEP] }[e.key];
    if (e.key === "Escape") turn(false);
    else if (by) move(lamp[0] + by[0], lamp[1] + by[1]);
    else return;
    e.preventDefault();
  });
}

/** @param {any} newPicture @param {number | null} newStage @param {number} newCount of stages */
export function set(newPicture, newStage, newCount) {
  picture = newPicture;
  stage = newStage;
  count = newCount;
  if (on) show();
}

/** @param {boolean} now */
function turn(now) {
  on = now;
  put("tilt", on ? "from above" : "tilted");
  byId("tilted").hidden = !on;
  for (const id of ["paper", "below", "nearness", "near-says"]) byId(id).hidden = on;
  byId("plate").classList.toggle("is-tilted", on);
  put("tilt-says");
  // Leader lines end where the plate lies flat.
  byId("leaders").classList.toggle("gone", on);
  if (on) show();
}

/** @param {number} x @param {number} y */
function move(x, y) {
  lamp = [x, y].map((v) => Math.min(Math.max(v, -1), 1));
  if (due) return;
  due = true;
  requestAnimationFrame(() => {
    due = false;
    light();
  });
}

async function show() {
  if (!picture) return;
  const of = `${picture.run} ${stage}`;
  if (drawn?.of === of) return light();
  // The frame run comes first and cuts nothing.
  const got = await heights(picture.run, stage === null ? count : stage + 1, CELLS).catch(() => null);
  if (!on || `${picture?.run} ${stage}` !== of) return;
  const canvas = byId("tilted");
  const context = canvas.getContext("2d");
  if (!got || !context) {
    canvas.hidden = true;
    return put("tilt-says", got ? "This browser can’t draw the plate tilted." : "The plate can’t be drawn tilted: the server gave no heights of it.");
  }
  canvas.width = got.columns;
  canvas.height = Math.ceil((got.rows * got.pitch * SINE + (got.high - got.low) * COSINE) / got.pitch) + 1;
  drawn = { of, heights: got, palette: palette(got.colours), image: new ImageData(canvas.width, canvas.height), dim: new Uint8Array(got.columns * got.rows) };
  put("tilt-says", "From the maker’s side, heights true to scale. The light follows the pointer or the arrow keys.");
  light();
}

/** Draws it in the light as it is. */
function light() {
  if (!drawn || !on) return;
  const { heights: h, palette: { pixels, count: colours }, image, dim } = drawn;
  const { columns, rows, levels } = h;
  const out = new Uint32Array(image.data.buffer);
  out.fill(0);
  const mm = (h.high - h.low) / 65534;
  const away = Math.hypot(lamp[0], lamp[1], LOW);
  const [lx, ly, lz] = [lamp[0] / away, lamp[1] / away, LOW / away];
  shadows(h, mm, lx, ly, lz, dim);
  const slope = mm / (2 * h.pitch);
  const tall = image.height;
  // Walls that are seen face the maker.
  const wall = shadeOf(Math.min(Math.max(0.62 - 0.5 * ly, 0.35), 1.1));
  const plain = shadeOf(1), dark = shadeOf(0.7);
  const perMm = 1 / h.pitch;
  for (let x = 0; x < columns; x++) {
    const left = x > 0 ? -1 : 0, right = x + 1 < columns ? 1 : 0;
    let top = -1;
    for (let y = 0; y < rows; y++) {
      const at = y * columns + x, level = levels[at];
      if (level === 0) continue;
      const foot = y * SINE, head = Math.min(tall - 1, Math.round(foot + level * mm * COSINE * perMm));
      if (head <= top) continue;
      const sx = (levels[at + right] - levels[at + left]) * slope;
      const sy = (levels[y + 1 < rows ? at + columns : at] - levels[y > 0 ? at - columns : at]) * slope;
      let shade = dim[at] ? dark : plain;
      if (sx > 0.02 || sx < -0.02 || sy > 0.02 || sy < -0.02) {
        const factor = (lz - sx * lx - sy * ly) / Math.sqrt(1 + sx * sx + sy * sy) / lz;
        shade = shadeOf((factor < 0.4 ? 0.4 : factor > 1.2 ? 1.2 : factor) * (dim[at] ? 0.7 : 1));
      }
      // The uppermost of the pixels is the cell itself, the others the wall that it stands on.
      // Below the foot of that wall nothing stands: the ground is seen through the cut.
      for (let p = Math.max(top + 1, Math.ceil(foot)); p < head; p++) {
        const of = Math.max(1, Math.min(level, (p - foot) / (mm * COSINE * perMm)));
        out[(tall - 1 - p) * columns + x] = pixels[wall * colours + ((of * colours) >>> 16)];
      }
      out[(tall - 1 - head) * columns + x] = pixels[shade * colours + ((level * colours) >>> 16)];
      top = head;
    }
  }
  byId("tilted").getContext("2d").putImageData(image, 0, 0);
}

/** Which cells lie in shadow: the light is followed from cell to cell along the axis that it goes along most.
 * @param {import("./heights.js").Heights} h @param {number} mm of a step @param {number} lx @param {number} ly @param {number} lz @param {Uint8Array} dim */
function shadows(h, mm, lx, ly, lz, dim) {
  const { columns, rows, levels, pitch } = h;
  dim.fill(0);
  const flat = Math.hypot(lx, ly);
  if (flat < 0.02) return;
  const alongX = Math.abs(lx) >= Math.abs(ly);
  const [main, side] = alongX ? [lx, ly] : [ly, lx];
  const [length, across] = alongX ? [columns, rows] : [rows, columns];
  const [step, stride] = alongX ? [1, columns] : [columns, 1];
  // From the side where the light comes from; a cell's light comes from between two cells of the line before.
  const shift = side / Math.abs(main);
  const fall = ((pitch * Math.hypot(1, shift)) / mm) * (lz / flat);
  let before = new Float32Array(across), here = new Float32Array(across);
  const whole = Math.floor(shift), part = shift - whole;
  for (let i = 0; i < length; i++) {
    const line = (main > 0 ? length - 1 - i : i) * step;
    for (let j = 0; j < across; j++) {
      const a = j + whole, b = a + 1;
      const from = i === 0 ? 0 : (a >= 0 && a < across ? before[a] * (1 - part) : 0) + (b >= 0 && b < across ? before[b] * part : 0);
      const lit = from - fall, level = levels[line + j * stride];
      if (lit > level + 60) dim[line + j * stride] = 1;
      here[j] = lit > level ? lit : level;
    }
    [before, here] = [here, before];
  }
}
