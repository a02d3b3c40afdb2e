// @ts-check
// The sets of cutters that were compared, as thin bars of minutes: a table, so that it can be read without seeing it.

import { get } from "./ask.js";
import { byId, draw, make, put, time } from "./make.js";

/** Length of the longest bar, units of its drawing. */
const LONG = 300;
/** A bar that would be longer than this many of the shortest is cut off. */
const MOST = 6;

let run = 0;
let seen = false;
/** @type {any} */
let picture = null;

export function begin() {
  const watch = new IntersectionObserver((entries) => {
    if (!entries.some((e) => e.isIntersecting)) return;
    seen = true;
    load();
  }, { rootMargin: "300px" });
  watch.observe(byId("sets-part"));
}

/** @param {any} now the state */
export function set(now) {
  picture = now.picture;
  byId("sets-part").hidden = !picture;
  if (seen) load();
}

async function load() {
  if (!picture || run === picture.run) return;
  const asked = picture.run;
  run = asked;
  const reply = await get(`sets?run=${asked}`).catch(() => null);
  if (picture?.run !== asked) return;
  if (reply?.ok) show(reply.body);
  else run = 0;
}

/** @param {any} told */
function show(told) {
  const used = told.sets.find((/** @type {any} */ s) => s.used);
  if (!used) return put("sets", make("p", {}, "No sets were compared: there is one way to cut this plate with these cutters."));
  const least = Math.min(...told.sets.map((/** @type {any} */ s) => s.minutes));
  const most = Math.min(Math.max(...told.sets.map((/** @type {any} */ s) => s.minutes)), MOST * least);
  const scale = LONG / Math.max(most, 1e-9);
  const minutes = (/** @type {number} */ m) => time(m);
  const changes = Math.max(0, used.minutes - told.cutting - told.air);
  const row = (/** @type {any} */ s) => {
    const parts = s.used ? [["cutting", told.cutting], ["air", told.air], ["changes", changes]] : [["whole", s.minutes]];
    const beyond = s.minutes > most * 1.001;
    const bar = draw("svg", { viewBox: `0 0 ${LONG + 14} 16`, preserveAspectRatio: "none", "aria-hidden": "true", class: "bar" });
    let x = 0;
    for (const [name, amount] of parts) {
      const long = Math.min(amount * scale, LONG - x);
      bar.append(draw("rect", { class: name, x, y: 4, width: Math.max(long, 0.5), height: 8 }));
      x += long;
    }
    if (!s.planned || beyond) bar.append(draw("path", { class: "open", d: `M${x + 3} 4l5 4l-5 4` }));
    const than = s.minutes - used.minutes;
    const against = s.used ? "used" : [s.note, Math.abs(than) >= 0.5 ? `${s.planned ? "" : than > 0 ? "at least " : "at most "}${minutes(Math.abs(than))} ${than > 0 ? "longer" : "shorter"}` : "hardly another time"].filter(Boolean).join("; ");
    return make("tr", { class: s.used && "used" },
      make("th", { scope: "row" }, s.cutters), make("td", { class: "amount" }, `${s.planned ? "" : "at least "}${minutes(s.minutes)}`),
      make("td", { class: "drawn", "aria-hidden": "true" }, bar), make("td", {}, against));
  };
  put("sets",
    make("p", {}, make("strong", {}, used.cutters), `: ${minutes(used.minutes)}, of which ${minutes(told.cutting)} in material, ${minutes(told.air)} in air and ${minutes(changes)} starting programs and changing cutters.`),
    make("table", {}, make("caption", {}, "Minutes of the sets of cutters compared. In the bar of the one used: full, in material; open, in air; dashed, starts and changes. An open end: at least so long."),
      make("thead", {}, make("tr", {}, ...["Cutters", "Minutes"].map((h) => make("th", { scope: "col" }, h)), make("th", { class: "drawn", "aria-hidden": "true" }), make("th", { scope: "col" }, "Against the one used"))),
      make("tbody", {}, ...told.sets.map(row))));
}
