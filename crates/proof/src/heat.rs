//! Heat: where a cutter rubs instead of cutting, because the machine must slow down there or stands still.
//!
//! A flute that takes less than the material's thinnest chip rubs, and what it rubs gets hot. Feeds that are too slow as
//! written are the loads' business ([`loads`](crate::loads)); here it is the machine: near corners, stops and on tight
//! arcs the acceleration holds the feed below what cuts ([`reckon::slow`]), and a dwell in the cut turns the cutter on one
//! place. Each such place is told once, however many passes come by.

use crate::course::{Course, speed_of};
use crate::finding::{Found, Tally};
use crate::kinds;
use crate::leg::{Leg, Run};
use crate::loads::{BADLY, Loads};
use crate::relief::Touch;
use crate::verdict::{CutterUse, MoveLoad, Proof, SlowPlace, StageProof};
use plane::Point;
use plate::{Intent, SpeedNote};
use quantity::trimmed;
use reckon::material::{hardest, stock_of};
use reckon::{load, pace, slow};
use std::collections::BTreeMap;

/// F words are rounded down: what is slower than this share of the feed that cuts is slow.
const ROUNDED: f64 = 0.998;
/// A turn of less than this is no corner, degrees (our own limit, no source).
const CORNER: f64 = 10.0;
/// Places told for a program.
const TOLD: usize = 5;
/// Share of the cutting that may run slower than [`BADLY`] before a caution, in what softens (our own limit, no source).
const HOT: f64 = 0.25;
/// A dwell in the cut longer than this is cautioned, s (our own limit, no source).
const DWELL: f64 = 0.5;

/// What is slow, of one program.
#[derive(Default)]
pub(crate) struct Warmed {
    pub(crate) places: Vec<SlowPlace>,
    /// Seconds in all that the cutter stands in the cut, and where it does so longest.
    dwell: f64,
    longest: Option<(f64, u32, Point, f64)>,
}

/// The legs of one move of the program.
struct Piece {
    step: usize,
    line: u32,
    ends: [Point; 2],
    z: [f64; 2],
    ways: [Option<Point>; 2],
    /// Length along which it is slow, mm.
    slow: f64,
}

impl Piece {
    /// Whether the way turns between this piece and the one that follows it; a stop counts as a turn.
    fn turns_to(&self, next: Option<&Self>) -> bool {
        let Some(next) = next.filter(|n| n.step == self.step + 1) else { return true };
        match (self.ways[1], next.ways[0]) {
            (Some(a), Some(b)) => a.dot(b) < libm::cos(CORNER.to_radians()) * a.norm() * b.norm(),
            (None, None) => false,
            _ => true,
        }
    }
}

impl Loads<'_> {
    /// Adds up what is slow and thin, and says it where the material doesn't stand it.
    pub(crate) fn heat(
        &self,
        touches: &[Option<Touch>],
        loads: &[MoveLoad],
        tally: &mut Tally,
        sum: &mut CutterUse,
    ) -> Vec<SlowPlace> {
        if !self.cutting || sum.cutting_length <= 0.0 {
            return Vec::new();
        }
        let width = load::mean_width(self.cutter);
        sum.least_chip = load::rubbing_chip(self.material, width);
        sum.thin_length = loads.iter().filter(|l| l.thickest_chip < sum.least_chip * ROUNDED).map(|l| l.length).sum();
        let mut warmed = Warmed::default();
        sum.slow_feed = self.fastest(touches) * f64::from(self.cutter.flutes.max(1)) * sum.least_chip;
        if sum.slow_feed > 0.0 {
            let lengths = slow::lengths(&self.shop.machine, &self.course.steps, sum.slow_feed * ROUNDED);
            let pieces = self.pieces(touches, &lengths);
            sum.slow_length = pieces.iter().map(|p| p.slow).sum();
            if sum.slow_length > HOT * sum.cutting_length {
                let lengths = slow::lengths(&self.shop.machine, &self.course.steps, sum.slow_feed * BADLY);
                sum.crawl_length = self.pieces(touches, &lengths).iter().map(|p| p.slow).sum();
            }
            warmed.places = places(&pieces, self.cutter.radius().max(0.1));
        }
        dwells(self.course, touches, &mut warmed);
        sum.dwell = warmed.dwell;
        self.caution(&warmed, sum, tally);
        warmed.places
    }

    /// The fastest that the spindle turns in material, rev/min.
    fn fastest(&self, touches: &[Option<Touch>]) -> f64 {
        let words = self.shop.dialect.speed == SpeedNote::Words;
        let mut last = (usize::MAX, None);
        let mut fastest = 0.0;
        for (leg, _) in cutting(self.course, touches) {
            if leg.step != last.0 {
                let m = self.program.moves.get(leg.step);
                last = (leg.step, m.and_then(|m| speed_of(self.program, m, words)));
                fastest = f64::max(fastest, last.1.unwrap_or(0.0));
            }
        }
        fastest
    }

    /// Moves that cut, each with how far it is slow.
    fn pieces(&self, touches: &[Option<Touch>], lengths: &[f64]) -> Vec<Piece> {
        let mut pieces: Vec<Piece> = Vec::new();
        for (leg, touch) in cutting(self.course, touches) {
            let cut = if touch.area > 0.0 { leg.length() } else { 0.0 };
            let (ends, ways) = ([leg.path.start(), leg.path.end()], [0.0, 1.0].map(|t| leg.path.direction(t)));
            match pieces.last_mut().filter(|p| p.step == leg.step) {
                Some(piece) => {
                    (piece.ends[1], piece.ways[1], piece.z[1]) = (ends[1], ways[1], leg.z[1]);
                    piece.slow += cut;
                }
                None => pieces.push(Piece { step: leg.step, line: leg.line, ends, z: leg.z, ways, slow: cut }),
            }
        }
        // So far it is what the move cuts; it can be slow no farther than that.
        for piece in &mut pieces {
            piece.slow = piece.slow.min(lengths.get(piece.step).copied().unwrap_or(0.0));
        }
        pieces
    }

    fn caution(&self, warmed: &Warmed, sum: &CutterUse, tally: &mut Tally) {
        let stock = stock_of(self.material);
        if !stock.heat.softens() {
            return;
        }
        if let Some((seconds, line, at, z)) = warmed.longest.filter(|d| d.0 > DWELL) {
            tally.add(
                Found::new(&kinds::HEAT, self.stage)
                    .line(line)
                    .at(at.x, at.y, z)
                    .amount(seconds)
                    .saying(
                        format!(
                            "the cutter stands turning in the cut for {} s, and {} {}",
                            trimmed(seconds, 1),
                            stock.name,
                            stock.heat.words()
                        ),
                        "take the dwell out, or raise the cutter before it",
                    )
                    .caution(),
            );
        }
        let share = sum.crawl_length / sum.cutting_length;
        let Some(worst) = warmed.places.first().filter(|_| share > HOT) else { return };
        tally.add(
            Found::new(&kinds::HEAT, self.stage)
                .line(worst.line)
                .at(worst.at.x, worst.at.y, worst.z)
                .amount(share)
                .saying(
                    format!(
                        "along {} % of the cutting chips are thinner than {} mm, half of what cuts: corners, stops and tight arcs hold the \
                         machine under {} mm/min, and {} {}",
                        trimmed(100.0 * share, 0),
                        trimmed(sum.least_chip * BADLY, 4),
                        trimmed(sum.slow_feed * BADLY, 0),
                        stock.name,
                        stock.heat.words()
                    ),
                    "round the corners in the drawing, turn the spindle slower, or blow air on the cutter and look after each pass",
                )
                .caution(),
        );
    }
}

/// Legs with feed that touch material.
fn cutting<'t>(course: &'t Course, touches: &'t [Option<Touch>]) -> impl Iterator<Item = (&'t Leg, &'t Touch)> {
    let touched = |(leg, touch): (&'t Leg, &'t Option<Touch>)| {
        let touch = touch.as_ref().filter(|t| t.area > 0.0 && leg.run == Run::Feed)?;
        Some((leg, touch))
    };
    course.legs.iter().zip(touches).filter_map(touched)
}

/// The slow places of a program by length, longest first: what is slow lies at the ends where the way turns or stops, else
/// all along a tight arc. Places within a radius of each other are one.
fn places(pieces: &[Piece], radius: f64) -> Vec<SlowPlace> {
    let mut found: BTreeMap<(i64, i64), SlowPlace> = BTreeMap::new();
    let mut add = |line: u32, at: Point, z: f64, length: f64| {
        if length <= 0.0 {
            return;
        }
        let cell = |v: f64| (v / (2.0 * radius)).round().clamp(-1e9, 1e9) as i64;
        let place =
            found.entry((cell(at.x), cell(at.y))).or_insert_with(|| SlowPlace { line, at, z, length: 0.0, passes: 0 });
        place.length += length;
        place.passes += 1;
    };
    let mut turned = true;
    for (i, piece) in pieces.iter().enumerate() {
        let turns = piece.turns_to(pieces.get(i + 1));
        let [start, end] = piece.ends;
        match (turned, turns) {
            (true, true) => {
                add(piece.line, start, piece.z[0], piece.slow / 2.0);
                add(piece.line, end, piece.z[1], piece.slow / 2.0);
            }
            (true, false) => add(piece.line, start, piece.z[0], piece.slow),
            (false, true) => add(piece.line, end, piece.z[1], piece.slow),
            (false, false) => add(piece.line, start.lerp(end, 0.5), piece.z[0], piece.slow),
        }
        turned = turns;
    }
    let mut all: Vec<SlowPlace> = found.into_values().collect();
    all.sort_by(|a, b| b.length.total_cmp(&a.length));
    all.truncate(TOLD);
    all
}

/// Dwells whose last move before them cut.
fn dwells(course: &Course, touches: &[Option<Touch>], warmed: &mut Warmed) {
    let mut legs = cutting(course, touches).map(|l| l.0).peekable();
    let mut last: Option<&Leg> = None;
    for (step, is) in course.steps.iter().enumerate() {
        while let Some(leg) = legs.next_if(|l| l.step <= step) {
            last = Some(leg);
        }
        let pace::Step::Wait(seconds) = *is else { continue };
        let Some(leg) = last.filter(|l| l.step + 1 == step && seconds > 0.0) else { continue };
        warmed.dwell += seconds;
        if warmed.longest.is_none_or(|l| seconds > l.0) {
            warmed.longest = Some((seconds, leg.line, leg.path.end(), leg.z[1]));
        }
    }
}

/// What a program's report says of heat; nothing where nothing is cut.
pub(crate) fn words(used: &CutterUse, places: &[SlowPlace]) -> Option<String> {
    if used.cutting_length <= 0.0 || used.least_chip <= 0.0 {
        return None;
    }
    let share = |length: f64| trimmed(100.0 * length / used.cutting_length, 1);
    let mut text = format!(
        "chips under {} mm rub: {} % of the cutting by its feed, {} % where the machine is held under {} mm/min; along {} % even the \
         thickest chip is thinner, most of it because the cut is narrow",
        trimmed(used.least_chip, 4),
        share(used.rubbing_length),
        share(used.slow_length),
        trimmed(used.slow_feed, 0),
        share(used.thin_length),
    );
    if used.dwell > 0.0 {
        text += &format!("; {} s standing in the cut", trimmed(used.dwell, 1));
    }
    let told: Vec<String> = places.iter().map(SlowPlace::worded).collect();
    if !told.is_empty() {
        text += &format!("; slowest at {}", told.join("; "));
    }
    Some(text)
}

/// One sentence on heat for all programs: what the material does, and how much of the cutting is too slow for it. `None`
/// where nothing is cut.
pub fn heat_sentence(proof: &Proof, intent: &Intent) -> Option<String> {
    let stock = stock_of(hardest(intent.blank.layers.iter().map(|l| l.sheet.material)));
    let cut: f64 = proof.stages.iter().map(|s| s.cutter_use.cutting_length).sum();
    if cut <= 0.0 {
        return None;
    }
    let rubbed = |u: &CutterUse| u.slow_length + u.rubbing_length;
    let rubs: f64 = proof.stages.iter().map(|s| rubbed(&s.cutter_use)).sum();
    let mut name = stock.name.to_owned();
    if let Some(first) = name.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    let mut text = format!("{name} {}; ", stock.heat.words());
    if rubs <= 0.0 {
        return Some(text + "no chip is too thin to cut.");
    }
    text += &format!("chips are too thin to cut along {} % of the way", trimmed(100.0 * rubs / cut, 1));
    let share = |s: &StageProof| rubbed(&s.cutter_use) / s.cutter_use.cutting_length.max(1e-9);
    let hottest = proof.stages.iter().max_by(|a, b| share(a).total_cmp(&share(b)));
    if let Some((stage, place)) = hottest.and_then(|s| Some((s, s.slow_places.first()?))) {
        let (percent, file) = (trimmed(100.0 * share(stage), 1), &stage.file);
        text += &format!(", {percent} % in {file}, most at x {:.1} y {:.1}", place.at.x, place.at.y);
    }
    let dwell: f64 = proof.stages.iter().map(|s| s.cutter_use.dwell).sum();
    if dwell > 0.0 {
        text += &format!("; the cutter stands in the cut for {} s", trimmed(dwell, 1));
    }
    Some(text + ".")
}
