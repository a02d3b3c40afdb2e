// @ts-check
// Heights of the plate as they come from the proof, and their colours under a light from the upper left: flat places keep the
// colour of the sheet that lies open there, walls and what lies in their shadow don't.

import { Gone, NOTHING } from "./ask.js";

/** Shades that colours are kept at. */
const SHADES = 32;
const DARKEST = 0.3, LIGHTEST = 1.2;

/**
 * @typedef {object} Heights
 * @property {number} columns @property {number} rows @property {number} pitch mm
 * @property {number} low height of the underside, mm @property {number} high of the face, mm
 * @property {number[]} blank its size, mm
 * @property {Uint16Array} levels row by row from the lower left: 0 where nothing is left, 65535 at the face
 * @property {Uint8Array} colours of floors from the underside up to the face, three bytes each
 */

/**
 * Columns behind a head of JSON.
 * @param {string} path @param {AbortSignal} [signal]
 * @returns {Promise<{ head: any, buffer: ArrayBuffer, at: number } | null>}
 */
export async function columns(path, signal) {
  let reply;
  try {
    reply = await fetch(path, { signal, cache: "no-store", credentials: "same-origin", redirect: "error" });
  } catch (error) {
    if (signal?.aborted) throw error;
    throw new Gone("no answer");
  }
  if (!reply.ok || reply.status === NOTHING) return null;
  const buffer = await reply.arrayBuffer();
  const length = new DataView(buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  return { head, buffer, at: 4 + length };
}

/**
 * @param {number} run @param {number} after so many programs, the frame run counted @param {number} cells at most
 * @returns {Promise<Heights | null>}
 */
export async function heights(run, after, cells) {
  const got = await columns(`heights?run=${run}&after=${after}&cells=${cells}`);
  if (!got) return null;
  const count = got.head.columns * got.head.rows;
  const levels = new Uint16Array(got.buffer, got.at, count);
  return { ...got.head, levels, colours: new Uint8Array(got.buffer, got.at + 2 * count, 3 * got.head.colours) };
}

/** sRGB to light and back (IEC 61966-2-1). @param {number} s */
const light = (s) => (s <= 0.04045 ? s / 12.92 : ((s + 0.055) / 1.055) ** 2.4);
/** @param {number} l */
const signal = (l) => (l <= 0.0031308 ? 12.92 * l : 1.055 * l ** (1 / 2.4) - 0.055);

/**
 * Pixels by shade and level, to be looked up: as many levels as there are colours.
 * @param {Uint8Array} colours
 */
export function palette(colours) {
  const count = colours.length / 3;
  const pixels = new Uint32Array(SHADES * count);
  for (let shade = 0; shade < SHADES; shade++) {
    // In dark sheets edges toward the light glint; otherwise no step would be seen in them.
    const factor = DARKEST + ((LIGHTEST - DARKEST) * shade) / (SHADES - 1);
    for (let i = 0; i < count; i++) {
      const [r, g, b] = [0, 1, 2].map((k) => {
        const lit = light((colours[3 * i + k] ?? 0) / 255) * factor + Math.max(0, factor - 1.02) * 0.45;
        return Math.round(255 * signal(Math.min(1, lit)));
      });
      pixels[shade * count + i] = (0xff000000 | ((b ?? 0) << 16) | ((g ?? 0) << 8) | (r ?? 0)) >>> 0;
    }
  }
  return { pixels, count };
}

/** The shade of a factor on the light. @param {number} factor */
export const shadeOf = (factor) => Math.round(((Math.min(Math.max(factor, DARKEST), LIGHTEST) - DARKEST) / (LIGHTEST - DARKEST)) * (SHADES - 1));

/**
 * Paints cells from column x0 and row y0 up to, without, x1 and y1; the top row of pixels comes first.
 * @param {Uint16Array} grid @param {Heights} of its size @param {{ pixels: Uint32Array, count: number }} palette
 * @param {Uint32Array} out @param {number} x0 @param {number} y0 @param {number} x1 @param {number} y1
 */
export function paint(grid, of, palette, out, x0, y0, x1, y1) {
  const { columns, rows } = of;
  const mm = (of.high - of.low) / 65535;
  const { pixels, count } = palette;
  const slope = mm / (2 * of.pitch) * 0.45;
  const far = Math.max(2, Math.round(0.8 / of.pitch));
  const near = Math.max(1, far >> 1);
  // A shadow falls by three quarters of its length.
  const fallNear = (near * of.pitch * 1.06) / mm, fallFar = (far * of.pitch * 1.06) / mm;
  const plain = shadeOf(1), steps = (SHADES - 1) / (LIGHTEST - DARKEST);
  for (let y = y0; y < y1; y++) {
    const row = y * columns;
    const up = (y + 1 < rows ? y + 1 : y) * columns, down = (y > 0 ? y - 1 : y) * columns;
    const upNear = Math.min(y + near, rows - 1) * columns, upFar = Math.min(y + far, rows - 1) * columns;
    let to = (rows - 1 - y) * columns + x0;
    for (let x = x0; x < x1; x++, to++) {
      const h = grid[row + x];
      if (h === 0) {
        out[to] = 0;
        continue;
      }
      const left = x > 0 ? x - 1 : x, right = x + 1 < columns ? x + 1 : x;
      const rise = grid[row + right] - grid[row + left] - grid[up + x] + grid[down + x];
      const atNear = grid[upNear + (x > near ? x - near : 0)], atFar = grid[upFar + (x > far ? x - far : 0)];
      let shade = plain;
      const shadow = atNear - h > fallNear || atFar - h > fallFar;
      if (rise !== 0 || shadow) {
        let factor = 1 + rise * slope;
        factor = factor < 0.45 ? 0.45 : factor > 1.15 ? 1.15 : factor;
        if (shadow) factor *= 0.72;
        shade = ((factor - DARKEST) * steps + 0.5) | 0;
      }
      out[to] = pixels[shade * count + ((h * count) >>> 16)];
    }
  }
}
