// @ts-check
// Holds dragged over the plate: where one is let go it stands in the plate file.

import { byId } from "./make.js";
import { place } from "./plate.js";

/** What a place is rounded to, mm. */
const ROUND = 0.5;

/**
 * @param {(hold: number, at: number[]) => Promise<string | null>} put what to do when one is let go
 * @param {(says: string) => void} says where it would stand
 */
export function begin(put, says) {
  const over = byId("over");
  /** @type {{ index: number, group: SVGElement, from: number[], box: number[] } | null} */
  let held = null;
  const rounded = (/** @type {number} */ mm) => Math.round(mm / ROUND) * ROUND;
  over.addEventListener("pointerdown", (/** @type {PointerEvent} */ e) => {
    const group = /** @type {Element} */ (e.target).closest("[data-hold]");
    const from = place(e);
    if (!(group instanceof SVGElement) || !from) return;
    e.preventDefault();
    e.stopImmediatePropagation();
    over.setPointerCapture(e.pointerId);
    held = { index: Number(group.dataset.hold), group, from, box: JSON.parse(group.dataset.at ?? "[0,0]") };
  }, true);
  over.addEventListener("pointermove", (/** @type {PointerEvent} */ e) => {
    if (!held) return;
    e.stopImmediatePropagation();
    const at = place(e);
    if (!at) return;
    held.group.setAttribute("transform", `translate(${at[0] - held.from[0]} ${held.from[1] - at[1]})`);
    says(`This hold at x ${rounded(held.box[0] + at[0] - held.from[0])} y ${rounded(held.box[1] + at[1] - held.from[1])}.`);
  }, true);
  const drop = (/** @type {PointerEvent} */ e, /** @type {boolean} */ taken) => {
    if (!held) return;
    e.stopImmediatePropagation();
    const { index, group, from, box } = held;
    held = null;
    const at = place(e);
    const to = at ? [rounded(box[0] + at[0] - from[0]), rounded(box[1] + at[1] - from[1])] : box;
    if (!taken || (Math.abs(to[0] - box[0]) < ROUND && Math.abs(to[1] - box[1]) < ROUND)) return group.removeAttribute("transform");
    put(index, to).then((wrong) => {
      if (!wrong) return;
      group.removeAttribute("transform");
      says(wrong);
    });
  };
  over.addEventListener("pointerup", (/** @type {PointerEvent} */ e) => drop(e, true), true);
  over.addEventListener("pointercancel", (/** @type {PointerEvent} */ e) => drop(e, false), true);
}
