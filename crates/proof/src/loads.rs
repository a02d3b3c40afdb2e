//! What each leg asks of cutter, spindle and machine: speed, feed, chip, depth, entry, shank and nut.

use crate::Watch;
use crate::course::{Course, speed_of};
use crate::engage::{Engaged, Paths};
use crate::finding::{Found, Tally, mm};
use crate::kinds;
use crate::known::{Along, Known};
use crate::leg::{Leg, Run};
use crate::profile::{Edge, Profile};
use crate::relief::{TOUCH, Touch};
use crate::verdict::{CutterUse, MoveLoad, SlowPlace, Stretch};
use memo::{Key, Print};
use plate::{Cutter, Machine, Material, Shop, SpeedNote, SpindleSpeed};
use quantity::{Speed, trimmed};
use rayon::prelude::*;
use read::{Program, Spindle};
use reckon::load;
use std::sync::Arc;

/// A pass may be this much deeper than the safe depth.
pub(crate) const DEPTH_SLACK: f64 = 1.25;
/// Steepest entry, degrees: common practice is 3 to 5.
const STEEPEST: f64 = 5.5;
/// An entry may be this much steeper than the maker's own angle.
const ABOVE_OWN: f64 = 1.1;
/// Steepest entry of a vee or a taper, which cuts with its point, degrees (our own limit, no source).
const STEEPEST_VEE: f64 = 45.0;
/// A way down on which a vee or a taper takes off no more than this isn't an entry, mm: it goes over what is cut but for the
/// rounding of its ends and the last bit of a ramp that had no level stretch (our own limit, no source).
const SHAVING: f64 = 0.03;
/// F words are rounded: a feed may be this share over a limit.
const ROUNDING: f64 = 0.002;
/// A chip is never taken for a smaller share of the feed per flute: that is 0.3 µm of wall at a 1/8 in cutter, and the rounding of
/// the text leaves as much between passes.
const LEAST_SHARE: f64 = 0.02;
/// A way down along a wall just cut leaves this on it without being a plunge, mm.
const SLIVER: f64 = 0.005;

/// Chips below this share of the rubbing limit don't cut at all (our own limit, no source).
pub(crate) const BADLY: f64 = 0.5;
/// Share of a program's cutting that may rub like that.
const RUBBING_SHARE: f64 = 0.5;
/// Engagement is looked at this often, radii.
const SAMPLE: f64 = 0.5;
/// On one leg at most so many times.
const MOST_SAMPLES: usize = 400;

/// Greatest depth below the surface met, mm, for a full slot.
pub(crate) fn deepest_pass(shop: &Shop, cutter: &Cutter, material: Material) -> f64 {
    load::cutting(shop, cutter, material).pass_depth.to_mm() * DEPTH_SLACK
}

/// What the legs of one program are judged by.
pub(crate) struct Loads<'a> {
    pub(crate) shop: &'a Shop,
    pub(crate) stage: usize,
    pub(crate) program: &'a Program,
    pub(crate) course: &'a Course,
    pub(crate) cutter: &'a Cutter,
    pub(crate) profile: Profile,
    /// Deepest pass.
    pub(crate) deepest: f64,
    /// False for the frame run.
    pub(crate) cutting: bool,
    /// Pitch of the grid, mm.
    pub(crate) pitch: f64,
    /// All legs by place, and the number of this program's first one.
    pub(crate) paths: &'a Paths<'a>,
    pub(crate) first_leg: usize,
    /// What is known of legs from other proofs.
    pub(crate) known: &'a Known<'a>,
    pub(crate) watch: &'a dyn Watch,
    /// The hardest material of the blank.
    pub(crate) material: Material,
}

/// What the legs of one program came to.
pub(crate) struct Judged {
    pub(crate) cutter_use: CutterUse,
    pub(crate) loads: Vec<MoveLoad>,
    pub(crate) stretches: Vec<Stretch>,
    pub(crate) slow_places: Vec<SlowPlace>,
}

impl Judged {
    /// Of a program whose cutter isn't known.
    pub(crate) fn nothing() -> Self {
        let cutter_use = CutterUse { lowest: f64::INFINITY, ..CutterUse::default() };
        Self { cutter_use, loads: Vec::new(), stretches: Vec::new(), slow_places: Vec::new() }
    }
}

impl CutterUse {
    fn add(&mut self, load: &MoveLoad) {
        self.widest_engagement = self.widest_engagement.max(load.engagement);
        self.greatest_rate = self.greatest_rate.max(load.rate);
        self.greatest_power = self.greatest_power.max(load.power);
        if load.force > self.greatest_force {
            (self.greatest_force, self.greatest_bend, self.hardest_line) = (load.force, load.bend, load.line);
        }
    }
}

impl Loads<'_> {
    /// Judges all legs of the program with what they touched, and adds up what the cutter does.
    pub(crate) fn judge(&self, touches: &[Option<Touch>], tally: &mut Tally) -> Judged {
        let (engaged, stretches) = self.engaged(touches);
        let mut loads = Vec::new();
        let mut sum =
            CutterUse { rapid_length: self.course.rapid_length, lowest: f64::INFINITY, ..CutterUse::default() };
        for ((leg, touch), engaged) in self.course.legs.iter().zip(touches).zip(&engaged) {
            sum.lowest = sum.lowest.min(leg.lowest());
            if leg.run == Run::Feed {
                let b = leg.bounds(0.0);
                let e = sum.extents.unwrap_or([b.min.x, b.min.y, b.max.x, b.max.y]);
                sum.extents = Some([e[0].min(b.min.x), e[1].min(b.min.y), e[2].max(b.max.x), e[3].max(b.max.y)]);
                self.feed(leg, tally);
                let length = leg.length();
                sum.short_moves += u64::from(length > 0.0 && length < self.shop.machine.resolution.to_mm());
            }
            let cuts = touch.as_ref().is_some_and(|t| t.area > 0.0);
            match touch {
                Some(touch) if cuts || touch.rapid.is_some() || touch.shank.is_some() || touch.nut.is_some() => {
                    self.contact(leg, touch, engaged.as_ref(), tally, &mut sum);
                    if let Some(load) = engaged.as_ref().and_then(|e| self.load(leg, touch, e)) {
                        sum.add(&load);
                        loads.push(load);
                    }
                }
                _ if leg.run == Run::Feed => sum.air_length += leg.length(),
                _ => {}
            }
        }
        self.rubbing(touches, &sum, tally);
        let slow_places = self.heat(touches, &loads, tally, &mut sum);
        Judged { cutter_use: sum, loads, stretches, slow_places }
    }

    /// The chip below which a flute rubs in a cut, mm: a vee is as thin as it is deep.
    fn least_chip(&self, touch: &Touch) -> f64 {
        load::rubbing_chip(self.material, 2.0 * self.profile.radius_at(touch.bite).min(self.profile.radius))
    }

    /// A program that rubs badly for the greater part of its cutting; entries and corners may.
    fn rubbing(&self, touches: &[Option<Touch>], sum: &CutterUse, tally: &mut Tally) {
        let (mut rubbed, mut first) = (0.0, None);
        for (leg, touch) in self.course.legs.iter().zip(touches) {
            let Some(touch) = touch.as_ref().filter(|t| t.area > 0.0 && leg.run == Run::Feed) else { continue };
            if self.chip(leg).is_some_and(|chip| chip < BADLY * self.least_chip(touch)) {
                rubbed += leg.length();
                first = first.or(Some(leg));
            }
        }
        let Some(leg) = first.filter(|_| rubbed > RUBBING_SHARE * sum.cutting_length) else { return };
        let machine = &self.shop.machine;
        let slowest = match &self.shop.spindle.speed {
            SpindleSpeed::Range { least, .. } => least.to_rev_per_min(),
            SpindleSpeed::Dial(positions) => {
                positions.iter().map(|p| p.1.to_rev_per_min()).fold(f64::INFINITY, f64::min)
            }
        };
        let needed = BADLY * load::rubbing_chip(self.material, load::mean_width(self.cutter));
        let most = load::chip_at(machine.greatest_feed.to_mm_per_min(), slowest.max(1e-9), self.cutter.flutes);
        let share = 100.0 * rubbed / sum.cutting_length;
        let p = leg.path.start();
        let found = self.found(&kinds::CHIP_TOO_THIN, leg).at(p.x, p.y, leg.z[0]).amount(share).saying(
            format!("{share:.0} % of the cutting is done with chips thinner than {}: the cutter rubs", mm(needed)),
            "raise the feed or lower the spindle's speed",
        );
        tally.add(if most < needed { found.caution() } else { found });
    }

    /// The engagement of every leg that cuts: the most that any place looked at is engaged, each figure for itself; and
    /// the places one by one.
    fn engaged(&self, touches: &[Option<Touch>]) -> (Vec<Option<Engaged>>, Vec<Stretch>) {
        let step = (SAMPLE * self.profile.radius).max(0.01);
        let one = |(i, leg): (usize, &Leg)| {
            let touch = touches[i].as_ref().filter(|t| t.area > 0.0 && self.cutting && !leg.is_upright())?;
            if self.watch.stopped() {
                return None;
            }
            let parts = ((leg.path.length() / step).ceil() as usize).clamp(1, MOST_SAMPLES);
            let print = self.known.print(self.first_leg + i, touch);
            let found = self.known.found(print).unwrap_or_else(|| {
                let alike = self.alike(i, touch, parts);
                self.known.found(alike).unwrap_or_else(|| Arc::new(self.along(i, leg, touch, parts, alike)))
            });
            Some((print, found))
        };
        let legs: Vec<_> = self.course.legs.par_iter().enumerate().map(one).collect();
        let mut all = Vec::new();
        for (leg, (_, found)) in
            self.course.legs.iter().zip(&legs).filter_map(|(leg, found)| Some((leg, found.as_ref()?)))
        {
            let parts = found.angles.len() as f64;
            let (length, fall) = (leg.length() / parts, leg.z[0] - leg.z[1]);
            all.extend(found.angles.iter().enumerate().map(|(k, &engagement)| {
                let share = (k as f64 + 0.5) / parts;
                let p = leg.path.at(share);
                let ends = [k, k + 1].map(|k| leg.path.at(k as f64 / parts)).map(|e| [e.x, e.y]);
                let z = leg.z[0] + (leg.z[1] - leg.z[0]) * share;
                Stretch { line: leg.line, at: [p.x, p.y], ends, z, fall, length, engagement }
            }));
        }
        let engaged = legs.iter().map(|l| l.as_ref().map(|(_, found)| found.most)).collect();
        self.known.add(legs.into_iter().flatten());
        (engaged, all)
    }

    /// What decides the engagement along a leg at whatever height; `None` where that can't be told or nothing is kept.
    fn alike(&self, i: usize, touch: &Touch, parts: usize) -> Option<Print> {
        let print = self.known.keeps().then(|| self.paths.print(self.first_leg + i, touch.bite))??;
        let looked_at = (parts > 1).then_some(touch.bite_at);
        Some(Key::named("along alike").with(&print).with(&parts).with(&looked_at).print())
    }

    /// The engagement along a leg, looked at in so many places and where it bites deepest.
    fn along(&self, i: usize, leg: &Leg, touch: &Touch, parts: usize, alike: Option<Print>) -> Along {
        let at = |share: f64| self.paths.engaged(self.first_leg + i, share, touch.bite);
        let mut along = Along { most: Engaged::default(), angles: Vec::with_capacity(parts), alike };
        for k in 0..parts {
            let here = at((k as f64 + 0.5) / parts as f64);
            along.angles.push(here.angle.to_degrees());
            along.most = along.most.or_more(here);
        }
        if parts > 1 {
            along.most = along.most.or_more(at(leg.path.nearest_share(touch.bite_at)));
        }
        along
    }

    /// Chip per flute of a leg, mm; `None` where the text gives no feed or no speed.
    fn chip(&self, leg: &Leg) -> Option<f64> {
        let speed =
            speed_of(self.program, self.program.moves.get(leg.step)?, self.shop.dialect.speed == SpeedNote::Words)?;
        Some(load::chip_at(leg.feed?, speed.max(1e-9), self.cutter.flutes))
    }

    /// What a leg asks of the cutter.
    fn load(&self, leg: &Leg, touch: &Touch, engaged: &Engaged) -> Option<MoveLoad> {
        let (chip, feed) = (self.chip(leg)?, leg.feed?);
        let rate = feed * touch.bite * engaged.width;
        let share = load::together(self.cutter.flutes);
        let force = load::side_force(self.material, chip * engaged.thickest, touch.bite) * share;
        Some(MoveLoad {
            line: leg.line,
            length: leg.length(),
            engagement: engaged.angle.to_degrees(),
            depth: touch.bite,
            width: engaged.width,
            thickest_chip: chip * engaged.thickest,
            mean_chip: chip * engaged.mean,
            rate,
            power: load::power(rate, load::specific_energy(self.material)),
            force,
            bend: load::bend(self.cutter, force),
        })
    }

    fn found(&self, kind: &'static doubt::Kind, leg: &Leg) -> Found {
        Found::new(kind, self.stage).line(leg.line)
    }

    /// Feed against the machine, in air as well.
    fn feed(&self, leg: &Leg, tally: &mut Tally) {
        let (Some(feed), length) = (leg.feed, leg.length()) else { return };
        if length <= 0.0 {
            return;
        }
        let Machine { greatest_feed, greatest_feed_z, .. } = &self.shop.machine;
        let level = feed * leg.path.length() / length;
        let rise = feed * (leg.z[1] - leg.z[0]).abs() / length;
        for (is, most, way) in [
            (level, greatest_feed.to_mm_per_min(), "along x and y"),
            (rise, greatest_feed_z.to_mm_per_min(), "along z"),
        ] {
            if is > most * (1.0 + ROUNDING) + 0.5 {
                let p = leg.path.start();
                tally.add(self.found(&kinds::FEED_TOO_FAST, leg).at(p.x, p.y, leg.z[0]).amount(is / most).saying(
                    format!("the feed is {is:.0} mm/min {way}, but the machine's greatest is {most:.0}"),
                    "lower the F word",
                ));
            }
        }
    }

    /// A leg that touches material.
    fn contact(&self, leg: &Leg, touch: &Touch, engaged: Option<&Engaged>, tally: &mut Tally, sum: &mut CutterUse) {
        let at = touch.bite_at;
        let place = |found: Found| found.at(at.x, at.y, leg.lowest());
        if !self.cutting {
            let by = touch.rapid.map_or(touch.bite, |r| r.0);
            tally.add(place(self.found(&kinds::FRAME_TOUCHES, leg)).amount(by).saying(
                format!("the frame run meets material {} deep", mm(by)),
                "raise the frame run above the face and the holds",
            ));
            return;
        }
        if let Some((by, p)) = touch.rapid {
            tally.add(self.found(&kinds::RAPID_IN_MATERIAL, leg).at(p.x, p.y, leg.lowest()).amount(by).saying(
                format!("material stands {} above the tip during a rapid", mm(by)),
                "rise above everything before the traverse, or use a feed move",
            ));
        }
        for (rub, kind, part, way_out) in [
            (touch.shank, &kinds::SHANK_RUB, "the shank", "use a cutter with longer flutes, or clear more room"),
            (touch.nut, &kinds::NUT_RUB, "the collet nut", "clamp the cutter farther out, or use a longer one"),
        ] {
            if let Some((by, p)) = rub {
                tally.add(
                    self.found(kind, leg).at(p.x, p.y, leg.lowest()).amount(by).saying(
                        format!("{part} runs into material that stands {} too high beside it", mm(by)),
                        way_out,
                    ),
                );
            }
        }
        if touch.area <= 0.0 {
            return;
        }
        sum.removed += touch.removed;
        let length = leg.length();
        if leg.run == Run::Feed {
            sum.cutting_length += length;
        }
        self.spindle(leg, touch, tally, sum);
        self.depth(leg, touch, engaged, tally, sum);
        if leg.run == Run::Feed {
            self.entry(leg, touch, tally, sum);
        }
    }

    fn spindle(&self, leg: &Leg, touch: &Touch, tally: &mut Tally, sum: &mut CutterUse) {
        let at = touch.bite_at;
        let place = |found: Found| found.at(at.x, at.y, leg.lowest());
        let Some(m) = self.program.moves.get(leg.step) else { return };
        match m.spindle {
            Spindle::Still => {
                tally.add(place(self.found(&kinds::SPINDLE_OFF, leg)).amount(touch.removed).saying(
                    "the cutter meets material while the spindle stands still",
                    "start the spindle with M3 before the first cut",
                ));
                return;
            }
            Spindle::CounterClockwise(_) => {
                tally.add(
                    place(self.found(&kinds::SPINDLE_BACKWARD, leg))
                        .amount(touch.removed)
                        .saying("the spindle turns counter-clockwise (M4) while cutting", "use M3"),
                );
            }
            Spindle::Clockwise(_) => {}
        }
        let words = self.shop.dialect.speed == SpeedNote::Words;
        let Some(speed) = speed_of(self.program, m, words) else {
            tally.add(self.found(&kinds::SPEED_UNSTATED, leg).saying(
                "neither an S word nor a dial note says how fast the spindle turns",
                "put an S word with M3, or a dial note in a comment",
            ));
            return;
        };
        if !Speed::try_rev_per_min(speed).is_some_and(|s| load::settable(&self.shop.spindle.speed, s)) {
            tally.add(self.found(&kinds::SPEED_OUT_OF_RANGE, leg).amount(speed).saying(
                format!("the spindle can't be set to {speed:.0} rev/min"),
                "choose a speed that the shop file lists",
            ));
        }
        let Some(feed) = leg.feed else { return };
        let chip = load::chip_at(feed, speed.max(1e-9), self.cutter.flutes);
        let most = load::greatest_chip_allowed(self.cutter, self.material);
        sum.thickest_chip = sum.thickest_chip.max(chip);
        if chip < self.least_chip(touch) * (1.0 - ROUNDING) {
            sum.rubbing_length += leg.length();
        }
        if chip > most * (1.0 + ROUNDING) {
            tally.add(place(self.found(&kinds::CHIP_TOO_THICK, leg)).amount(chip).saying(
                format!(
                    "each flute takes {} at {feed:.0} mm/min and {speed:.0} rev/min; at most {} is allowed",
                    mm(chip),
                    mm(most)
                ),
                "lower the feed or raise the spindle's speed",
            ));
        }
    }

    fn depth(&self, leg: &Leg, touch: &Touch, engaged: Option<&Engaged>, tally: &mut Tally, sum: &mut CutterUse) {
        let at = touch.bite_at;
        let place = |found: Found| found.at(at.x, at.y, leg.lowest());
        let drilling = leg.is_upright() && self.cutter.may_drill;
        // Side force goes with the chip, and a thin cut's chip is thinner: the depth may grow as the chip shrinks.
        // The grid tells a width to one cell, and passes that differ in their last digit leave a film between them that
        // one row of cells may catch: what is no wider than a cell loads nothing.
        let width = (touch.deep_area / touch.deep_length.max(self.profile.radius * 0.5) - self.pitch).max(0.0);
        let straight =
            load::greatest_chip(load::engagement(width.min(2.0 * self.profile.radius), 2.0 * self.profile.radius));
        let share = engaged.map_or(straight, |e| if width > 0.0 { e.thickest } else { 0.0 });
        // A film that a leg shaves off where the passes before came this deep already says nothing about depth.
        if width > 0.0 || touch.deep_area <= 0.0 {
            sum.deepest_bite = sum.deepest_bite.max(touch.bite);
        }
        let allowed = self.deepest / share.max(LEAST_SHARE);
        if !drilling && touch.bite > allowed + TOUCH {
            tally.add(place(self.found(&kinds::BITE_TOO_DEEP, leg)).amount(touch.bite).saying(
                format!("the pass cuts {} deep; at most {} is safe for this cutter here", mm(touch.bite), mm(allowed)),
                "divide the depth into more passes",
            ));
        }
        if touch.bite > self.profile.flutes + TOUCH && width > 0.0 {
            tally.add(place(self.found(&kinds::FLUTES_TOO_SHORT, leg)).amount(touch.bite).saying(
                format!("the cut is {} deep, but the flutes are only {} long", mm(touch.bite), mm(self.profile.flutes)),
                "cut in several passes, or take a cutter with longer flutes",
            ));
        }
    }

    fn entry(&self, leg: &Leg, touch: &Touch, tally: &mut Tally, sum: &mut CutterUse) {
        let descent = leg.descent();
        let edge = std::f64::consts::PI * self.profile.radius + 2.0 * leg.path.length();
        let pointed = matches!(self.profile.edge, Edge::Vee { .. } | Edge::Taper { .. });
        // Down a slope along a wall that is cut, the rounding of a line's ends shaves off what one row of cells may catch.
        let film = if leg.is_upright() { 0.0 } else { leg.path.length() * self.pitch };
        if descent <= 1e-6 || touch.area <= edge * SLIVER + film || (pointed && touch.bite <= SHAVING) {
            return;
        }
        let at = touch.bite_at;
        let place = |found: Found| found.at(at.x, at.y, leg.lowest());
        if leg.is_upright() {
            if !self.cutter.may_drill {
                tally.add(place(self.found(&kinds::PLUNGE, leg)).amount(touch.bite).saying(
                    format!(
                        "cutter {} goes straight down {} into material and may not drill",
                        self.cutter.number,
                        mm(touch.bite)
                    ),
                    "enter by a helix or a ramp",
                ));
            }
            sum.steepest_entry = sum.steepest_entry.max(90.0);
            return;
        }
        sum.steepest_entry = sum.steepest_entry.max(descent);
        // An angle of the maker's own counts as far as rounding lets the program keep it.
        let own = self.cutter.entry_angle.map_or(0.0, |a| a.to_deg() * ABOVE_OWN);
        let steepest = if pointed { STEEPEST_VEE } else { STEEPEST.max(own) };
        if descent > steepest {
            tally.add(place(self.found(&kinds::STEEP_ENTRY, leg)).amount(descent).saying(
                format!("the cutter enters at {descent:.1} degrees; at most {} is allowed", trimmed(steepest, 1)),
                "make the ramp or helix longer",
            ));
        }
    }
}
