// @ts-check
// One program's way, and the plate as it is cut at any moment of it: the cutter's shape is taken out of the heights along the way,
// from the nearest moment that was kept. Nothing of it judges: the proof did.

import { columns } from "./heights.js";

/** How the cutter goes. */
export const STILL = 0, RAPID = 1, AIR = 2, CUT = 3;
/** Cells that are looked at between two moments that are kept. */
const APART = 1.5e6;
/** Moments that are kept. */
const KEPT = 32;

/**
 * @typedef {object} Way
 * @property {number} count of places; each is reached from the one before
 * @property {number} seconds @property {number} radius mm @property {number[]} edge heights of the cutter's edge from its axis out, mm
 * @property {Float32Array} x @property {Float32Array} y @property {Float32Array} z
 * @property {Float32Array} time s @property {Float32Array} feed mm/min @property {Float32Array} engagement degrees
 * @property {Float32Array} force N @property {Uint32Array} line from 1 @property {Uint8Array} running
 * @property {string[]} text lines of the program
 */

/** @param {number} run @param {number} program @returns {Promise<Way | null>} */
export async function way(run, program) {
  const got = await columns(`way?run=${run}&program=${program}`);
  if (!got) return null;
  const { head, buffer } = got;
  let at = got.at;
  const floats = () => {
    const column = new Float32Array(buffer, at, head.count);
    at += 4 * head.count;
    return column;
  };
  const [x, y, z, time, feed, engagement, force] = [floats(), floats(), floats(), floats(), floats(), floats(), floats()];
  const line = new Uint32Array(buffer, at, head.count);
  at += 4 * head.count;
  const running = new Uint8Array(buffer, at, head.count);
  const text = new TextDecoder().decode(new Uint8Array(buffer, at + head.count, head.text)).split("\n");
  return { ...head, x, y, z, time, feed, engagement, force, line, running, text };
}

/** The first place that is reached at a time or later. @param {Way} way @param {number} time */
export function placeAt(way, time) {
  let low = 0, high = way.count - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (way.time[middle] < time) low = middle + 1;
    else high = middle;
  }
  return Math.max(low, 0);
}

/** Where the cutter is at a time: the place that it goes to, and how far it has come. @param {Way} way @param {number} time */
export function cutterAt(way, time) {
  const to = placeAt(way, time), from = Math.max(to - 1, 0);
  const took = way.time[to] - way.time[from];
  const share = took > 0 ? Math.min(Math.max((time - way.time[from]) / took, 0), 1) : 1;
  const between = (/** @type {Float32Array} */ c) => c[from] + (c[to] - c[from]) * share;
  return { to, share, x: between(way.x), y: between(way.y), z: between(way.z) };
}

/** The plate over one program. */
export class Replay {
  /** @param {import("./heights.js").Heights} before @param {Way} way */
  constructor(before, way) {
    this.before = before;
    this.way = way;
    this.grid = before.levels.slice();
    /** Places up to which the way is taken out. */
    this.done = 0;
    /** How far the next way is taken out. */
    this.part = 0;
    this.work = 0;
    this.apart = APART;
    /** @type {{ done: number, grid: Uint16Array }[]} */
    this.kept = [{ done: 0, grid: before.levels }];
    /** What was changed since it was last looked at: left, lower, right, upper cell. @type {[number, number, number, number]} */
    this.box = [before.columns, before.rows, 0, 0];
    const perMm = 65534 / (before.high - before.low);
    this.perMm = perMm;
    this.flat = way.edge.every((/** @type {number} */ e) => e === 0);
  }

  clean() {
    this.box = [this.before.columns, this.before.rows, 0, 0];
  }

  /** Brings the plate to a place of the way, the last step by a share. @param {number} to @param {number} share */
  go(to, share) {
    if (to - 1 < this.done || (to - 1 === this.done && share < this.part)) this.back(to - 1);
    while (this.done < to - 1) {
      this.step(this.done + 1, 1);
      this.done += 1;
      this.part = 0;
      if (this.work > this.apart) this.keep();
    }
    if (to > 0) {
      this.step(to, share);
      this.part = share;
    }
  }

  keep() {
    this.work = 0;
    if (this.kept.some((k) => k.done === this.done)) return;
    this.kept.push({ done: this.done, grid: this.grid.slice() });
    if (this.kept.length > KEPT) {
      this.kept = this.kept.filter((_, i) => i % 2 === 0);
      this.apart *= 2;
    }
  }

  /** The last moment kept that isn't later than a place. @param {number} to */
  back(to) {
    this.kept.sort((a, b) => a.done - b.done);
    const kept = this.kept.findLast((k) => k.done <= to) ?? this.kept[0];
    if (!kept) return;
    this.grid.set(kept.grid);
    this.done = kept.done;
    this.part = 0;
    this.work = 0;
    this.box = [0, 0, this.before.columns, this.before.rows];
  }

  /** Takes the way to a place out, up to a share of it. @param {number} i @param {number} share */
  step(i, share) {
    const { x, y, z, running } = this.way;
    if (running[i] < RAPID || !(this.way.radius > 0) || i < 1) return;
    const [ax, ay, az] = [x[i - 1], y[i - 1], z[i - 1]];
    const [bx, by, bz] = [ax + (x[i] - ax) * share, ay + (y[i] - ay) * share, az + (z[i] - az) * share];
    if (Math.min(az, bz) >= this.before.high) return;
    if (Math.abs(az - bz) < 1e-4) this.level(ax, ay, bx, by, bz);
    else this.slope(ax, ay, az, bx, by, bz);
  }

  /** Steps above the underside, in the heights' own. @param {number} z mm */
  height(z) {
    const share = (z - this.before.low) * this.perMm;
    return share <= 0.5 ? 0 : share + 1;
  }

  /** A way up or down is taken out place by place. @param {number} ax @param {number} ay @param {number} az @param {number} bx @param {number} by @param {number} bz */
  slope(ax, ay, az, bx, by, bz) {
    const count = Math.max(1, Math.ceil(Math.hypot(bx - ax, by - ay) / this.before.pitch));
    for (let k = 0; k <= count; k++) {
      const s = k / count;
      const p = [ax + (bx - ax) * s, ay + (by - ay) * s];
      const height = az + (bz - az) * s;
      if (height < this.before.high) this.level(p[0], p[1], p[0], p[1], height);
    }
  }

  /** A way at one height: row by row what lies within the cutter's reach of it. @param {number} ax @param {number} ay @param {number} bx @param {number} by @param {number} z */
  level(ax, ay, bx, by, z) {
    const { pitch, columns, rows } = this.before;
    const r = this.way.radius, square = r * r;
    const y0 = Math.max(0, Math.ceil((Math.min(ay, by) - r) / pitch - 0.5)), y1 = Math.min(rows - 1, Math.floor((Math.max(ay, by) + r) / pitch - 0.5));
    const [dx, dy] = [bx - ax, by - ay];
    const length = Math.hypot(dx, dy);
    const [nx, ny] = length > 0 ? [(-dy / length) * r, (dx / length) * r] : [0, 0];
    const floor = this.height(z), flat = this.flat, grid = this.grid;
    const along = length > 0 ? 1 / (length * length) : 0;
    const box = this.box;
    for (let row = y0; row <= y1; row++) {
      const y = (row + 0.5) * pitch;
      let low = Infinity, high = -Infinity;
      const within = (/** @type {number} */ cx, /** @type {number} */ cy) => {
        const q = square - (y - cy) * (y - cy);
        if (q < 0) return;
        const half = Math.sqrt(q);
        if (cx - half < low) low = cx - half;
        if (cx + half > high) high = cx + half;
      };
      within(ax, ay);
      within(bx, by);
      if (dy !== 0) {
        for (let side = -1; side <= 1; side += 2) {
          const share = (y - (ay + side * ny)) / dy;
          if (share < 0 || share > 1) continue;
          const x = ax + side * nx + dx * share;
          if (x < low) low = x;
          if (x > high) high = x;
        }
      }
      if (low > high) continue;
      const from = Math.max(0, Math.ceil(low / pitch - 0.5)), until = Math.min(columns - 1, Math.floor(high / pitch - 0.5));
      if (from > until) continue;
      const start = row * columns;
      this.work += until - from + 1;
      if (flat) {
        for (let at = start + from; at <= start + until; at++) if (grid[at] > floor) grid[at] = floor;
      } else {
        for (let column = from; column <= until; column++) {
          const x = (column + 0.5) * pitch;
          let s = ((x - ax) * dx + (y - ay) * dy) * along;
          s = s < 0 ? 0 : s > 1 ? 1 : s;
          const h = this.height(z + this.rise(Math.hypot(x - ax - dx * s, y - ay - dy * s)));
          if (grid[start + column] > h) grid[start + column] = h;
        }
      }
      if (from < box[0]) box[0] = from;
      if (until + 1 > box[2]) box[2] = until + 1;
    }
    if (y0 < box[1]) box[1] = y0;
    if (y1 + 1 > box[3]) box[3] = y1 + 1;
  }

  /** Height of the edge above the tip at a distance from the axis, mm. @param {number} distance */
  rise(distance) {
    const { edge, radius } = this.way;
    const at = Math.min(distance / radius, 1) * (edge.length - 1);
    const i = Math.min(Math.floor(at), edge.length - 2);
    return edge[i] + (edge[i + 1] - edge[i]) * (at - i);
  }
}
