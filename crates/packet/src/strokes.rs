//! Strokes too narrow for the finest cutter that reaches their floor: what the maker chose for them, made part of the intent.
//!
//! Between reading and planning, so that plan, proof and pictures speak of the same plate. A stroke that is cut along its
//! middle comes out as wide as the cutter: then the *intent* grows by what that cutter sweeps, and that is said. All else
//! only says what isn't reached, where, and the ways out.

use crate::holes;
use doubt::{Doubt, Kind, Place, Severity};
use memo::{Key, Memo};
use plan::Room;
use plane::{Bounds, Point, Region, arcs};
use plate::{Area, Cutter, EdgeProfile, Intent, Narrow, Shop};
use quantity::{Length, trimmed};
use reach::{CentreLine, Left};

/// Strokes narrower than the cutters.
pub(crate) const STROKE_NARROW: Kind = Kind {
    id: "stroke-narrow",
    title: "A stroke is narrower than the finest cutter that reaches its floor",
    page: "Some places of the area let no cutter pass that is allowed and long enough: a thin stroke, a thin end of one, a neck. They \
           stay uncut and are left for hand, or, with `narrow = \"refuse\"`, nothing is made. Scale the drawing or the letters, allow a \
           finer cutter, make the floor shallower so that a finer one reaches it, or say what becomes of them: \
           `narrow = \"leave\"` leaves them uncut, `narrow = \"centre line\"` cuts them once along their middle, as wide as the cutter.",
};
/// Strokes cut wider than drawn.
pub(crate) const STROKE_WIDENED: Kind = Kind {
    id: "stroke-widened",
    title: "Narrow strokes are cut wider than drawn",
    page: "The area asks for `narrow = \"centre line\"`: where it is narrower than the finest cutter that reaches its floor, that cutter runs \
           once along the middle, and the stroke comes out as wide as the cutter. Plan, proof and pictures take the wider stroke as what \
           is wanted. Look at the picture of the face; if it is too bold, scale the drawing, allow a finer cutter, or leave those strokes.",
};
/// A widened stroke would cut something else.
pub(crate) const STROKE_RUNS_INTO: Kind = Kind {
    id: "stroke-runs-into",
    title: "A stroke as wide as the cutter would run into something else",
    page: "Cut along its middle a narrow stroke comes out wider than drawn, and here that would reach another area, something that shall \
           stay uncut, or beyond the plate's edge. Draw it farther away, allow a finer cutter, or choose another way for the area's \
           narrow strokes.",
};
/// No middle to cut along.
pub(crate) const STROKE_NO_MIDDLE: Kind = Kind {
    id: "stroke-without-middle",
    title: "The middle of a narrow stroke could not be found",
    page: "To cut along the middle of narrow strokes the area's contours must be sound. Here they run so close together, or cross so often, that \
           the middle line could not be made out. Clean the contours up in the drawing, or leave these strokes.",
};

/// How much wider than the cutter a stroke becomes, on each side, so that the cutter passes for sure, mm: the corridor for its
/// axis must be wider than what fitting and combining may move edges by.
const SURE: f64 = 0.002;
/// Overlaps smaller than this are rounding, mm².
const TOUCHING: f64 = 1e-4;
/// Areas nearer than this share an edge, mm: such edges were fitted apart.
const SEAM: f64 = 0.005;
/// Places named in a doubt.
const NAMED: usize = 5;

/// What is wanted with each area's choice made, and what there is to say about it.
pub fn settle(shop: &Shop, intent: Intent) -> (Intent, Vec<Doubt>) {
    settle_again(shop, intent, &Memo::none())
}

/// The same, with what was kept of others used again.
pub(crate) fn settle_again(shop: &Shop, mut intent: Intent, memo: &Memo) -> (Intent, Vec<Doubt>) {
    let doubts = holes::all_chips(shop, &mut intent);
    let rooms = plan::rooms_again(shop, &intent, memo);
    let mut settled = Settling { shop, intent, rooms, doubts, memo };
    for i in 0..settled.intent.areas.len() {
        settled.area(i);
    }
    (settled.intent, settled.doubts)
}

/// The finest cutter of a room.
pub(crate) fn finest<'a>(shop: &'a Shop, room: &Room) -> Option<&'a Cutter> {
    shop.cutter(*room.cutters.last()?)
}

/// What of the places left in a room is an area's own.
pub(crate) fn own(left: Vec<Left>, area: &Area, room: &Room) -> Vec<Left> {
    if room.region == area.region {
        return left;
    }
    let mine = |l: &Left| shared(&l.region, &area.region).area() > reach::TRACE.min(0.5 * l.area);
    left.into_iter().filter(mine).collect()
}

/// What a place shares with a region of many shapes.
pub(crate) fn shared(place: &Region, region: &Region) -> Region {
    let bounds = place.bounds();
    let near = region.shapes.iter().filter(|s| s.outer.bounds().meets(bounds)).cloned().collect();
    arcs::intersection(place, &Region { shapes: near })
}

struct Settling<'a> {
    shop: &'a Shop,
    intent: Intent,
    rooms: Vec<Room>,
    doubts: Vec<Doubt>,
    memo: &'a Memo,
}

impl Settling<'_> {
    fn area(&mut self, i: usize) {
        let (area, room) = (&self.intent.areas[i], &self.rooms[i]);
        // Where walls lean, flat cutters don't tell what is narrow.
        if area.edge != EdgeProfile::Upright {
            return;
        }
        // Without any cutter the planner refuses.
        let Some(cutter) = finest(self.shop, room) else { return };
        let of = || Key::named("covered").with(&room.region).with(&cutter.radius());
        let covered = self.memo.recall(of, || reach::covered(&room.region, cutter.radius()));
        let mut left = own(covered.left.clone(), area, room);
        left.retain(|l| l.stroke.is_some() || l.whole_part);
        // The part that no cutter reaches is refused by the planner.
        if area.strokes.narrow == Narrow::ByHand {
            left.retain(|l| !l.whole_part);
        }
        if left.is_empty() {
            return;
        }
        let doubt = match area.strokes.narrow {
            Narrow::CentreLine => {
                let cutter = cutter.clone();
                return self.widen(i, &left, &cutter);
            }
            Narrow::Refused => {
                let doubt = STROKE_NARROW.refusal(not_reached(area, &left, cutter));
                doubt.way_out(ways_out(
                    area,
                    &left,
                    cutter,
                    "choose `narrow = \"leave\"` or `\"centre line\"` for the area",
                ))
            }
            Narrow::Left => {
                let doubt =
                    STROKE_NARROW.caution(format!("{}; they stay uncut, as asked", not_reached(area, &left, cutter)));
                doubt.way_out(ways_out(
                    area,
                    &left,
                    cutter,
                    "cut them as wide as the cutter with `narrow = \"centre line\"`",
                ))
            }
            Narrow::ByHand => {
                // Points are left by any cutter, as corners are.
                let severity = if left.iter().all(|l| l.to_point) { Severity::Note } else { Severity::Caution };
                let message = format!("{}; they are left for hand", not_reached(area, &left, cutter));
                let doubt = STROKE_NARROW.of(severity, message);
                doubt.way_out(ways_out(
                    area,
                    &left,
                    cutter,
                    "cut them as wide as the cutter with `narrow = \"centre line\"`",
                ))
            }
        };
        let mut doubt = self.too_short(i, placed(doubt, &left, area));
        doubt.notes.push(format!("line {} of the plate file describes the area", area.line));
        self.doubts.push(doubt);
    }

    /// Says which finer cutters would be allowed but for their flutes.
    fn too_short(&self, i: usize, doubt: Doubt) -> Doubt {
        let names = self.rooms[i].too_short.iter().filter_map(|&n| self.shop.cutter(n)).map(|c| c.name.as_str());
        let names: Vec<&str> = names.collect();
        if names.is_empty() {
            return doubt;
        }
        doubt.noting(format!("the flutes of {} don't reach so deep", names.join(", ")))
    }

    /// Grows an area by what the cutter sweeps along the middle of its narrow strokes.
    fn widen(&mut self, i: usize, left: &[Left], cutter: &Cutter) {
        let (area, room, r) = (&self.intent.areas[i], &self.rooms[i], cutter.radius());
        let no_middle = |at: Point| {
            STROKE_NO_MIDDLE
                .refusal(format!("the middle of a narrow stroke of `{}` could not be found", area.name))
                .at(Place::Blank { x: at.x, y: at.y, z: Some(area.floor.to_mm()) })
                .noting(format!("line {} of the plate file asks for it", area.line))
                .way_out("clean the contours up in the drawing, or choose `narrow = \"leave\"` for the area")
        };
        let lines = match reach::centre_lines(&room.region, left, r) {
            Ok(lines) => lines,
            Err(fault) => {
                let doubt = no_middle(fault.at);
                return self.doubts.push(doubt);
            }
        };
        let sweeps: Result<Vec<Region>, Point> = lines.iter().map(|l| swept(l, r + SURE).ok_or(l.at)).collect();
        let sweeps = match sweeps {
            Ok(sweeps) => arcs::union(&sweeps),
            Err(at) => {
                let doubt = no_middle(at);
                return self.doubts.push(doubt);
            }
        };
        let added = arcs::difference(&sweeps, &room.region);
        let ground = self.ground(i);
        let into = self.runs_into(i, &added, &ground, cutter);
        if !into.is_empty() {
            return self.doubts.extend(into);
        }
        // Deeper areas stay as they are; every edge that is kept is kept exactly, in the area and in what it is cut into.
        let own = self.deeper(i).fold(sweeps, |own, j| arcs::difference(&own, &self.intent.areas[j].region));
        let grown = arcs::union([&area.region, &own]);
        let doubt = widened(area, &lines, cutter, grown.area() - area.region.area());
        self.doubts.push(doubt);
        for j in ground {
            let rest = arcs::difference(&self.intent.areas[j].region, &grown);
            self.intent.areas[j].region = rest;
        }
        self.intent.areas[i].region = grown;
    }

    /// Other areas as deep as this one or deeper.
    fn deeper(&self, i: usize) -> impl Iterator<Item = usize> {
        let floor = self.intent.areas[i].floor;
        (0..self.intent.areas.len()).filter(move |&j| j != i && self.intent.areas[j].floor <= floor)
    }

    /// The areas that an area is cut into or beside: higher ones that share an edge with it.
    fn ground(&self, i: usize) -> Vec<usize> {
        let area = &self.intent.areas[i];
        let near = reach::outset(&area.region, SEAM).region;
        let beside = |j: &usize| {
            let other = &self.intent.areas[*j];
            *j != i
                && other.floor > area.floor
                && other.region.bounds().meets(near.bounds())
                && arcs::intersection(&other.region, &near).area() > TOUCHING
        };
        (0..self.intent.areas.len()).filter(beside).collect()
    }

    /// What a stroke must not reach and would.
    fn runs_into(&self, i: usize, added: &Region, ground: &[usize], cutter: &Cutter) -> Vec<Doubt> {
        let area = &self.intent.areas[i];
        let mut found: Vec<(String, Region)> = Vec::new();
        for (j, other) in self.intent.areas.iter().enumerate() {
            if j != i && !ground.contains(&j) && other.region.bounds().meets(added.bounds()) {
                found.push((format!("the area `{}`", other.name), arcs::intersection(added, &other.region)));
            }
        }
        found.push(("what shall stay uncut".into(), arcs::intersection(added, &area.strokes.kept)));
        let [w, h] = self.intent.blank.size.map(Length::to_mm);
        let blank = Region::solid(plane::Contour::rectangle(Bounds { min: Point::default(), max: Point::new(w, h) }));
        found.push(match &self.intent.outline {
            Some(outline) => {
                (format!("beyond the plate's edge `{}`", outline.name), arcs::difference(added, &outline.inside))
            }
            None => ("beyond the blank's edge".into(), arcs::difference(added, &blank)),
        });
        let worst = |region: &Region| {
            region
                .shapes
                .iter()
                .map(|s| (s.area(), s.outer.bounds().centre()))
                .reduce(|a, b| if b.0 > a.0 { b } else { a })
        };
        let doubt = |(what, region): (String, Region)| {
            let (_, at) = worst(&region).filter(|w| w.0 > TOUCHING)?;
            let to = if what.starts_with("beyond") { "" } else { "into " };
            let message = format!(
                "cut {} mm wide along their middle, narrow strokes of `{}` would run {to}{what}, by {} mm² in {} places",
                trimmed(cutter.cutting_width.to_mm(), 5),
                area.name,
                trimmed(region.area(), 3),
                region.shapes.len()
            );
            let doubt = STROKE_RUNS_INTO.refusal(message.replace(" in 1 places", ""));
            Some(
                doubt
                    .at(Place::Blank { x: at.x, y: at.y, z: Some(area.floor.to_mm()) })
                    .noting(format!("line {} of the plate file asks for `narrow = \"centre line\"`", area.line))
                    .way_out("draw it farther away, allow a finer cutter, or choose `narrow = \"leave\"` for the area"),
            )
        };
        found.into_iter().filter_map(doubt).collect()
    }
}

/// What a cutter sweeps along a line.
fn swept(line: &CentreLine, r: f64) -> Option<Region> {
    // What coincides at one radius, to the last digits, doesn't at the next.
    [0.0, 0.37e-4, 0.93e-4].into_iter().find_map(|more| reach::swept(&line.segments, r + more).ok())
}

/// The width of a place as it counts for advice: none where no size helps.
fn width(left: &Left) -> Option<f64> {
    left.diameter().filter(|&w| w > 0.0)
}

fn narrowest(left: &[Left]) -> Option<f64> {
    left.iter().filter_map(width).reduce(f64::min)
}

fn not_reached(area: &Area, left: &[Left], cutter: &Cutter) -> String {
    let places = if left.len() == 1 { "one place".to_owned() } else { format!("{} places", left.len()) };
    let least = match narrowest(left) {
        Some(w) => format!("{} mm wide", millimetres(w)),
        None => "running out to a point".into(),
    };
    let is = if left.len() == 1 { "there" } else { "at the narrowest" };
    format!(
        "`{}` has strokes too narrow for {}, the finest cutter that reaches its floor ({} mm): {places}, {least} {is}",
        area.name,
        cutter.name,
        trimmed(cutter.cutting_width.to_mm(), 5)
    )
}

/// The narrowest places, in the doubt's places and as a note.
fn placed(mut doubt: Doubt, left: &[Left], area: &Area) -> Doubt {
    let mut sorted: Vec<&Left> = left.iter().collect();
    sorted.sort_by(|a, b| width(a).unwrap_or(0.0).total_cmp(&width(b).unwrap_or(0.0)).then(b.area.total_cmp(&a.area)));
    let mut words = Vec::new();
    for left in sorted.iter().take(NAMED) {
        let at = left.stroke.map_or(left.at, |s| s.at);
        doubt = doubt.at(Place::Blank { x: at.x, y: at.y, z: Some(area.floor.to_mm()) });
        let wide = width(left).map_or_else(|| "to a point".into(), |w| format!("{} mm wide", millimetres(w)));
        words.push(format!("{wide}, {} mm², at x {} y {}", trimmed(left.area, 2), trimmed(at.x, 2), trimmed(at.y, 2)));
    }
    let more = sorted.len().saturating_sub(NAMED);
    let more = if more > 0 { format!("; and {more} more") } else { String::new() };
    doubt.noting(format!("{}{more}", words.join("; ")))
}

/// Ways out with their numbers, the area's own choice last.
fn ways_out(area: &Area, left: &[Left], cutter: &Cutter, choice: &str) -> String {
    let needs = cutter.cutting_width.to_mm();
    let Some(least) = narrowest(left) else {
        return format!("round off the points in the drawing, or {choice}");
    };
    // Of the places in each text, and of those in none, the narrowest says how much larger.
    let within = |l: &Left, b: &Bounds| b.contains(l.stroke.map_or(l.at, |s| s.at));
    let letters = &area.strokes.letters;
    let mut ways = Vec::new();
    let drawn: Vec<Left> = left.iter().filter(|l| !letters.iter().any(|t| within(l, &t.bounds))).cloned().collect();
    if let Some(w) = narrowest(&drawn) {
        ways.push(format!("scale the drawing by {}", trimmed(up(needs / w, 0.01), 2)));
    }
    for text in letters {
        let own: Vec<Left> = left.iter().filter(|l| within(l, &text.bounds)).cloned().collect();
        if let Some(w) = narrowest(&own) {
            let height = text.height.to_mm();
            let enough = trimmed(up(height * needs / w, 0.1), 1);
            ways.push(format!("take the letters of `{}` from {} to {enough} mm high", text.text, trimmed(height, 2)));
        }
    }
    ways.push(format!("use a cutter of {} mm or finer", trimmed((least * 100.0 + 1e-9).floor() / 100.0, 2)));
    format!("{}, or {choice}", ways.join(", "))
}

/// The next whole number of steps.
fn up(value: f64, step: f64) -> f64 {
    (value / step - 1e-9).ceil() * step
}

/// A width in words: to the micrometre, since one decides.
fn millimetres(w: f64) -> String {
    trimmed(w, 3)
}

fn widened(area: &Area, lines: &[CentreLine], cutter: &Cutter, more: f64) -> Doubt {
    let width = cutter.cutting_width.to_mm();
    let mut sorted: Vec<&CentreLine> = lines.iter().collect();
    sorted.sort_by(|a, b| a.width.total_cmp(&b.width).then(a.at.x.total_cmp(&b.at.x)));
    let most = sorted.first().map_or(0.0, |l| width - l.width);
    let mut doubt = STROKE_WIDENED.caution(format!(
        "narrow strokes of `{}` are cut along their middle by {} and come out {} mm wide: up to {} mm wider than drawn, in {} {}",
        area.name,
        cutter.name,
        trimmed(width, 5),
        trimmed(up(most, 0.001), 3),
        lines.len(),
        if lines.len() == 1 { "place" } else { "places" }
    ));
    let mut words = Vec::new();
    for line in sorted.iter().take(NAMED) {
        doubt = doubt.at(Place::Blank { x: line.at.x, y: line.at.y, z: Some(area.floor.to_mm()) });
        let wider = trimmed(up(width - line.width, 0.001), 3);
        words.push(format!("{wider} mm wider at x {} y {}", trimmed(line.at.x, 2), trimmed(line.at.y, 2)));
    }
    let rest = sorted.len().saturating_sub(NAMED);
    let rest = if rest > 0 { format!("; and {rest} more") } else { String::new() };
    doubt
        .noting(format!("{}{rest}", words.join("; ")))
        .noting(format!("the area grows by {} mm²; line {} of the plate file asks for it", trimmed(more, 2), area.line))
        .way_out("look at the picture of the face; scale the drawing or allow a finer cutter if it is too bold")
}
