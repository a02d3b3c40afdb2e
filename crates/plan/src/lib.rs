//! The planner: intent to motions.
//!
//! What a cutter of radius r can clear of a region is its opening by r; each finer cutter takes only what is left. The
//! plate is cut as nested pockets ([`pocket`]), each from the floor above it to its own floor, height by height; walls that
//! lean are cut by a vee after that ([`vee`]); the plate's own edge comes last ([`groove`]). Depth per pass is what the cutter stands in a full slot, so no path can
//! overload it, whatever it meets. The planner knows nothing of program text and nothing of the prover.

mod baseline;
mod clear;
mod clearing;
mod clock;
mod drill;
mod frame;
mod groove;
mod grow;
mod hop;
mod levels;
mod mirror;
mod pen;
mod pocket;
mod program;
mod rest;
mod rings;
mod room;
mod stint;
mod strain;
mod subsets;
mod survey;
mod tabs;
mod tour;
mod vee;

pub use baseline::{Baseline, Way, baselines};
pub use clock::{seconds, steps};
pub use drill::{SNUG, is_snug, round_hole};
pub use room::{Room, rooms, rooms_again};
pub use strain::{CUTS_TOO_FAST, DIAL_TOO_FAST, OWN_NUMBERS_RUB, SEVERAL_MATERIALS, SLENDER};
pub use subsets::Subset;
pub use vee::{
    FLOOR_NOT_REACHED, FLOOR_TOO_NARROW, NO_SUCH_VEE, VEE_MEETS_WALL, VEE_NO_AXIS, VEE_TIP_LEAVES, VEE_TIP_TOO_WIDE,
    VEE_TOO_SMALL,
};

use doubt::{Doubt, Kind, Place};
use memo::Memo;
use motion::Stage;
use plate::{AlongWalls, Cutter, Form, Held, Intent, Material, OutUnits, Shop};
use pocket::Pocket;
use quantity::Feed;
use reckon::load::{Cutting, cutting};
use stint::{Book, Planning};
use survey::{Reached, Survey};

/// Everything the planner found.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Programs in the order they are run.
    pub stages: Vec<Stage>,
    /// The frame run: spindle off, above everything, round the stages' extents.
    pub frame: Stage,
    /// Sets of cutters compared.
    pub subsets: Vec<Subset>,
    /// What the maker must decide.
    pub doubts: Vec<Doubt>,
}

/// A pocket that no cutter fits into.
pub const NO_CUTTER_FITS: Kind = Kind {
    id: "no-cutter-fits",
    title: "No cutter of the shop fits into an area",
    page: "An area is narrower everywhere than the finest cutter that is long enough for its depth. Nothing of it could be cut. \
           Make the drawing larger there, allow a finer cutter, or make the area shallower so that a finer cutter's flutes reach.",
};
/// A hole as wide as a cutter that may not go straight down.
pub const HOLE_NOT_ENTERED: Kind = Kind {
    id: "hole-not-entered",
    title: "A hole is as wide as a cutter that may not go straight down",
    page: "A hole wider than the cutter is bored down a helix, and a round one exactly as wide is drilled by a cutter that may drill. Here \
           the hole leaves no room for a helix or a ramp, and the cutter has no leave to go straight down, since most flat cutters \
           don't cut with their middle. Draw it a little wider, allow a finer cutter, say `may_drill = true` for a cutter that does cut there, or leave the hole out and drill it by hand.",
};
/// Nothing to do.
pub const NOTHING_TO_CUT: Kind = Kind {
    id: "no-program-needed",
    title: "The plate file asks for no cut",
    page: "There is no area, no cut-out and no outline that would need a program. Add an [[area]] or a [plate].",
};
/// No cutter is long enough for a through cut.
pub const NO_CUTTER_LONG_ENOUGH: Kind = Kind {
    id: "no-cutter-long-enough",
    title: "No flat cutter's flutes reach through the blank",
    page: "The outline or a cut-out goes deeper than the flutes of every flat cutter that the plate may use. Allow a longer cutter, or use a thinner blank.",
};
/// What wider cutters leave in a seamless area.
pub const LEFT_FOR_THE_FINEST: Kind = Kind {
    id: "left-for-the-finest",
    title: "Wider cutters leave a little for the finest one",
    page: "The area asks for no steps between cutters. Wider cutters keep off its walls and its floor by a little, and the finest cutter \
           that reaches it cuts all of them, so that no seam shows where two cutters meet. That takes longer. Take `seamless` out \
           where a step of a few hundredths doesn't matter.",
};
/// Tabs don't fit.
pub const TABS_DO_NOT_FIT: Kind = Kind {
    id: "tabs-do-not-fit",
    title: "The tabs asked for don't fit on the outline",
    page: "Between two tabs there must be room for the cutter to come down. The outline is too short for this many tabs of this length. \
           Ask for fewer or shorter tabs, or hold the plate otherwise.",
};

/// The planner's kinds of doubt.
pub const KINDS: &[Kind] = &[
    NO_CUTTER_FITS,
    HOLE_NOT_ENTERED,
    NOTHING_TO_CUT,
    NO_CUTTER_LONG_ENOUGH,
    LEFT_FOR_THE_FINEST,
    TABS_DO_NOT_FIT,
    DIAL_TOO_FAST,
    OWN_NUMBERS_RUB,
    CUTS_TOO_FAST,
    SLENDER,
    SEVERAL_MATERIALS,
    NO_SUCH_VEE,
    VEE_TOO_SMALL,
    VEE_TIP_TOO_WIDE,
    VEE_TIP_LEAVES,
    VEE_MEETS_WALL,
    VEE_NO_AXIS,
    FLOOR_NOT_REACHED,
    FLOOR_TOO_NARROW,
];

/// Plans the programs of a plate. `None` if `stopped` said so.
pub fn plan(shop: &Shop, intent: &Intent, stopped: &(dyn Fn() -> bool + Sync)) -> Option<Plan> {
    plan_again(shop, intent, &Memo::none(), stopped)
}

/// The same plan, with what was kept of others used again: ways over the ground stay the same where only heights change.
pub fn plan_again(shop: &Shop, intent: &Intent, memo: &Memo, stopped: &(dyn Fn() -> bool + Sync)) -> Option<Plan> {
    match shop.machine.walls {
        AlongWalls::Climb => climbing(shop, intent, memo, stopped),
        AlongWalls::Conventional => {
            let seen = mirror::seen(intent);
            climbing(shop, &seen, memo, stopped).map(|plan| mirror::back(shop, intent, plan))
        }
    }
}

/// The plan whose cutters climb.
fn climbing(shop: &Shop, intent: &Intent, memo: &Memo, stopped: &(dyn Fn() -> bool + Sync)) -> Option<Plan> {
    let mut doubts = Vec::new();
    let vees = vee::plan(shop, intent);
    let floors = vee::floors(shop, intent);
    let pockets = pocket::pockets(&floors, memo);
    let all = flat_cutters(shop, intent);
    if stopped() {
        return None;
    }
    let survey = Survey::of(&pockets, &all, memo);
    if stopped() {
        return None;
    }
    let mut book = Book::new(shop, &floors, &pockets, &all, &survey, &vees, Planning { memo, stopped });
    let edges = subsets::edges(&book);
    let (compared, chosen) = subsets::compare(&mut book, &edges, stopped);
    if stopped() {
        return None;
    }
    doubts.extend(vees.doubts.iter().cloned());
    let mut narrow: Vec<usize> = Vec::new();
    let thicker = (intent.blank.face_high - intent.blank.face).to_mm();
    for (i, pocket) in pockets.iter().enumerate() {
        let Some(unfit) = unfit(pocket, &all, thicker, |t| survey.reach(i, t)) else { continue };
        match vee::narrow_floor(intent, pocket, &all) {
            None => doubts.push(unfit),
            // The same is true of all letters of a word: it is said once.
            Some((line, doubt)) if !narrow.contains(&line) => {
                narrow.push(line);
                doubts.push(doubt);
            }
            Some(_) => {}
        }
    }
    doubts.extend(seamless(intent, &pockets, &all, &compared, &survey));
    let stages = chosen.stages;
    doubts.extend(chosen.doubts);
    doubts.extend(strain::said(shop, intent, stages.iter().map(|s| s.cutter).collect()));
    if stages.is_empty() && !doubt::any_blocks(&doubts) {
        doubts.push(NOTHING_TO_CUT.refusal("the plate file asks for no cut").way_out("add an [[area]] or a [plate]"));
    }
    let frame = frame::run(shop, intent, &stages);
    (!stopped()).then_some(Plan { stages, frame, subsets: compared, doubts })
}

/// What wider cutters leave in seamless pockets, said for each of them that several cutters share.
fn seamless(intent: &Intent, pockets: &[Pocket], all: &[Tool<'_>], sets: &[Subset], survey: &Survey) -> Vec<Doubt> {
    let Some(chosen) = sets.iter().find(|s| s.chosen) else { return Vec::new() };
    let said = |(i, pocket): (usize, &Pocket)| {
        let used = (0..all.len()).filter(|&t| chosen.cutters.contains(&all[t].cutter.number));
        let reaching: Vec<usize> = used.filter(|&t| survey.reach(i, t).is_some()).collect();
        let finest = all[*reaching.last().filter(|_| reaching.len() > 1 && pocket.seamless)?].cutter;
        let (walls, floor) = (pocket::ON_WALLS, pocket::allowance(intent, pocket));
        Some(LEFT_FOR_THE_FINEST.note(format!(
            "in `{}` wider cutters leave {walls:.2} mm on the walls and {floor:.2} mm on the floor; {} takes them all",
            pocket.name, finest.name
        )))
    };
    let mut said: Vec<Doubt> = pockets.iter().enumerate().filter_map(said).collect();
    said.dedup();
    said
}

/// A cutter with how it is run.
#[derive(Debug, Clone)]
pub(crate) struct Tool<'a> {
    pub(crate) cutter: &'a Cutter,
    pub(crate) run: Cutting,
    /// mm.
    pub(crate) radius: f64,
    /// Distance between neighbouring paths, mm.
    pub(crate) stepover: f64,
    /// Feed straight up.
    pub(crate) rise_feed: Feed,
    /// Least step of numbers in the text, mm.
    pub(crate) text_step: f64,
}

impl Tool<'_> {
    /// Whether its flutes are long enough for a wall of this height, mm. A shank no wider than the cut may go deeper.
    pub(crate) fn reaches(&self, wall: f64) -> bool {
        wall <= self.reach() + 1e-9
    }

    /// With all of it that decides its ways over the ground.
    pub(crate) fn put(&self, key: memo::Key) -> memo::Key {
        key.with(&self.radius).with(&self.stepover)
    }

    /// The highest wall beside which it can cut, mm.
    pub(crate) fn reach(&self) -> f64 {
        let c = self.cutter;
        let slim = c.shank <= c.cutting_width;
        if slim { c.stick_out.to_mm() } else { c.flute_length.to_mm() }
    }
}

/// A cutter with how it is run in the plate's material.
pub(crate) fn tool_of<'a>(shop: &Shop, intent: &Intent, cutter: &'a Cutter) -> Tool<'a> {
    let run = cutting(shop, cutter, material_of(intent));
    // At most a half, so that nothing stays between two paths.
    let stepover = cutter.stepover.clamp(0.02, 0.5) * 2.0 * cutter.radius();
    let rise_feed = run.feed.min(shop.machine.greatest_feed_z);
    let unit = if shop.dialect.units == OutUnits::Inch { 25.4 } else { 1.0 };
    let text_step = unit / 10f64.powi(i32::from(shop.dialect.decimals));
    Tool { cutter, run, radius: cutter.radius(), stepover, rise_feed, text_step }
}

/// The material by which the blank is cut.
pub(crate) fn material_of(intent: &Intent) -> Material {
    reckon::material::hardest(intent.blank.layers.iter().map(|l| l.sheet.material))
}

/// The flat cutters that the plate may use, widest first.
fn flat_cutters<'a>(shop: &'a Shop, intent: &Intent) -> Vec<Tool<'a>> {
    let usable =
        shop.cutters.iter().filter(|c| c.form == Form::Flat && intent.cutters.contains(&c.number) && c.radius() > 0.0);
    let mut tools: Vec<Tool<'a>> = usable.map(|cutter| tool_of(shop, intent, cutter)).collect();
    tools.sort_by(|a, b| b.radius.total_cmp(&a.radius).then(a.cutter.number.cmp(&b.cutter.number)));
    tools.dedup_by(|b, a| {
        b.radius == a.radius
            && b.cutter.flute_length <= a.cutter.flute_length
            && (a.cutter.may_drill || !b.cutter.may_drill)
    });
    tools
}

/// A doubt for a pocket into which no cutter fits anywhere; the thickest blank is `thicker` than the usual one, mm.
fn unfit<'s>(
    pocket: &Pocket,
    cutters: &[Tool<'_>],
    thicker: f64,
    reach: impl Fn(usize) -> Option<&'s Reached>,
) -> Option<Doubt> {
    if (0..cutters.len()).any(|t| reach(t).is_some_and(|r| !r.centre.is_empty())) {
        return None;
    }
    let (at, width) = pocket.widest();
    let hole =
        (0..cutters.len()).rev().find(|&t| reach(t).is_some() && drill::snug(&pocket.region, &cutters[t]).is_some());
    if let Some(tool) = hole.map(|t| &cutters[t]) {
        let (name, cut) = (&tool.cutter.name, tool.cutter.cutting_width.to_mm());
        let message = format!(
            "`{}` has a hole of {width:.3} mm, as wide as {name} ({cut:.3} mm), which may not go straight down",
            pocket.name
        );
        let finer = (width / BORED * 100.0).floor() / 100.0;
        let way_out = format!(
            "allow a cutter of {finer} mm or finer, which bores it down a helix; say `may_drill = true` for `{name}` if it cuts with \
             its middle; or leave the hole out and drill it by hand"
        );
        let place = Place::Blank { x: at.x, y: at.y, z: Some(pocket.bottom) };
        return Some(HOLE_NOT_ENTERED.refusal(message).at(place).way_out(way_out));
    }
    // Whoever leaves narrow strokes uncut leaves parts as well.
    if pocket.left {
        return None;
    }
    let finest = (0..cutters.len()).filter(|&t| reach(t).is_some()).map(|t| cutters[t].cutter).next_back();
    let room = |c: &Cutter| Some(pocket.region.inset(c.radius())).filter(|room| !room.is_empty());
    if let Some((c, room)) = finest.and_then(|c| Some((c, room(c)?))) {
        // It fits in, but leaves itself no way round on which to come down.
        let (at, spare) = pocket::widest(&room);
        let width = 2.0 * c.radius() + spare;
        let message = format!(
            "`{}` is at most {width:.3} mm wide, and {} ({:.3} mm) has no way there on which to come down by a ramp",
            pocket.name,
            c.name,
            c.cutting_width.to_mm()
        );
        let finer = (width / BORED * 100.0).floor() / 100.0;
        let wider = (2.0 * c.radius() * BORED * 100.0).ceil() / 100.0;
        let way_out = format!(
            "allow a cutter of {finer} mm or finer, draw the place {wider} mm wide or wider, or say with `narrow` what becomes of strokes \
             as narrow as that"
        );
        let place = Place::Blank { x: at.x, y: at.y, z: Some(pocket.bottom) };
        return Some(HOLE_NOT_ENTERED.refusal(message).at(place).way_out(way_out));
    }
    let short = strain::too_short(cutters, pocket.wall(), thicker, width);
    let mut message = match finest {
        Some(c) => format!(
            "`{}` is at most {:.3} mm wide, narrower than the finest cutter that reaches its floor ({}, {:.3} mm)",
            pocket.name,
            width,
            c.name,
            c.cutting_width.to_mm()
        ),
        None => format!(
            "`{}` is {:.2} mm deep, deeper than the flutes of every flat cutter allowed",
            pocket.name,
            pocket.wall()
        ),
    };
    let mut way_out = "make the drawing larger there, allow a finer or longer cutter, make the area shallower, or say with `narrow` what \
                       becomes of strokes as narrow as that"
        .to_owned();
    if let Some((why, numbers)) = short {
        if finest.is_some() {
            message = format!("{message}; the floor is {:.2} mm deep", pocket.wall());
        }
        message = format!("{message}; {why}");
        way_out = format!("{numbers}; or {way_out}");
    }
    Some(NO_CUTTER_FITS.refusal(message).at(Place::Blank { x: at.x, y: at.y, z: Some(pocket.bottom) }).way_out(way_out))
}

/// Holes from this many cutters' widths on are bored down a helix.
const BORED: f64 = 1.02;

/// Height at which traverses run: above the thickest blank and every hold.
pub(crate) fn traverse(shop: &Shop, intent: &Intent) -> quantity::Height {
    intent.highest() + shop.machine.clearance
}

/// Whether what is cut out of an area is cleared to chips.
pub(crate) fn cleared(area: &plate::Area) -> bool {
    !matches!(area.kind, plate::FloorKind::Through) || matches!(area.held, Held::Cleared)
}
