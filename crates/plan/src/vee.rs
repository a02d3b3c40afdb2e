//! Areas whose walls lean: cut by a vee, whose flanks make the walls, after flat cutters have cleared what is level.
//!
//! What the flat cutters see of such an area is its floor alone, a pocket with upright walls ([`floors`]). The vee then runs
//! once round each floor and along the medial axis wherever walls meet above it ([`network`]), pass by pass ([`walk`]). It
//! leans by its own angle, which may differ a little from the one asked for: the upper edge is where it is seen, so
//! that edge is exact.
//!
//! Depth per pass is [`reckon::load`]'s for a full slot of the cutter's mean width. All passes run over the same ways, so none
//! cuts deeper anywhere than the step from the pass before.

mod network;
mod walk;

use crate::hop::Hops;
use crate::levels::levels;
use crate::pen::Pen;
use crate::pocket::{self, Pocket};
use crate::program;
use crate::tour::{Stop, tour};
use crate::{Tool, cleared, clock, flat_cutters, tool_of, traverse};
use doubt::{Doubt, Kind, Place};
use memo::Memo;
use motion::{At, Move, Stage};
use network::{Lean, Network, network};
use plane::{Point, RegionIndex, Segment, SegmentIndex};
use plate::{Area, Cutter, EdgeProfile, FloorKind, Form, Intent, Shop};
use quantity::{Height, Length, trimmed};
use rayon::prelude::*;
use reach::Rings;

/// A vee's included angle may differ from the one asked for by this, degrees.
const SAME_ANGLE: f64 = 0.1;
/// A wall beside which a cutter passes may be nearer by this, mm.
const TOUCH: f64 = 0.002;
/// What touches one wall or two is told to this, mm.
const NEAR: f64 = 0.005;
/// Floors of less than this are rounding, mm².
const SPECK: f64 = 1e-4;
/// How far the axis is followed over a floor where there is no flat cutter, mm.
const FURTHER: f64 = 0.4;

/// No vee of the angle.
pub const NO_SUCH_VEE: Kind = Kind {
    id: "no-such-vee",
    title: "No allowed cutter is a vee of the angle that a wall asks for",
    page: "A wall that leans is made by the flank of a vee of the same included angle (twice the slope's angle from upright), \
           and the plate may use none within a tenth of a degree. Any other would make another wall. Enter such a vee in the \
           shop file and allow it for the plate, or ask for the angle of one that there is.",
};
/// The vees of the angle don't reach.
pub const VEE_TOO_SMALL: Kind = Kind {
    id: "vee-too-small",
    title: "The vees of the right angle don't cut as deep as the area is",
    page: "A vee makes a leaning wall only as high as its cone is: half its cutting width over the tangent of half its angle. Above \
           that its sides, or its shank, are upright and cut away what shall stand. Make the floor shallower, draw the area \
           narrower, or allow a wider or longer vee.",
};
/// The tip's flat fits nowhere.
pub const VEE_TIP_TOO_WIDE: Kind = Kind {
    id: "vee-tip-too-wide",
    title: "The flat at the vee's tip is wider than the area",
    page: "A vee with a flat at its tip can stand only where walls are further apart than the flat is wide, and the area is narrower \
           everywhere. Nothing of it could be cut. Allow a sharper vee of the angle, or make the drawing larger there.",
};
/// What the tip's flat leaves.
pub const VEE_TIP_LEAVES: Kind = Kind {
    id: "vee-tip-leaves",
    title: "The flat at the vee's tip leaves a little",
    page: "A vee that isn't quite sharp can't cut corners sharp nor the bottom of a groove to a line: corners keep the radius of its \
           tip's flat, and a groove ends in a flat as wide. The plan keeps the walls right and leaves the rest; the proof \
           lists it as hand work where it counts. A vee with a finer point leaves less.",
};
/// Walls too near another wall for the cone.
pub const VEE_MEETS_WALL: Kind = Kind {
    id: "vee-meets-wall",
    title: "A vee would cut a wall beside the area",
    page: "Above the walls that it makes, a vee is wider still. Where the area lies in a deeper floor, close to a higher wall, or \
           reaches from one floor to another, the cone would cut that wall. Move the area away from it by the amount said, make \
           it shallower, or give it upright walls.",
};
/// No axis.
pub const VEE_NO_AXIS: Kind = Kind {
    id: "vee-no-axis",
    title: "The middle between an area's walls couldn't be found",
    page: "A vee runs in the middle between two walls. For this area the middle lines that were found don't hang together as they must, \
           which comes from contours that touch or cross themselves by a hair. Nothing is cut on a guess. Clean the contours in the \
           drawing near the place named, or give the area upright walls.",
};
/// Where walls meet above the floor that was asked for.
pub const FLOOR_NOT_REACHED: Kind = Kind {
    id: "floor-not-reached",
    title: "Leaning walls meet above the floor",
    page: "The area is too narrow in places for its floor: the walls, leaning as asked, meet above it, and the cut ends there as a groove. \
           A colour that only the floor shows doesn't show there. Draw these places wider, choose a steeper wall, or make \
           the floor shallower.",
};
/// Flat floors that no flat cutter fits into.
pub const FLOOR_TOO_NARROW: Kind = Kind {
    id: "floor-too-narrow",
    title: "Between leaning walls lies a floor narrower than every flat cutter",
    page: "Where leaning walls end on a floor, a flat cutter clears it. This floor is narrower than the finest one allowed, so only the \
           vee's point runs over it: low ridges stay and are hand work. Make the floor a little deeper so that the walls meet, \
           shallower so that a cutter fits in, or allow a finer one.",
};

/// The vees' programs, which are the same whatever flat cutters do before them.
#[derive(Debug, Clone, Default)]
pub(crate) struct Vees {
    pub(crate) stages: Vec<Stage>,
    /// Of all programs.
    pub(crate) seconds: f64,
    pub(crate) doubts: Vec<Doubt>,
}

/// The included angle of the vee that makes an area's walls, degrees; `None` for upright ones.
fn angle(area: &Area) -> Option<f64> {
    match area.edge {
        EdgeProfile::Upright => None,
        EdgeProfile::Sloped(angle) => Some(2.0 * angle.to_deg()),
        EdgeProfile::FollowsWidth(angle) => Some(angle.to_deg()),
    }
}

/// mm outward for each mm of height.
fn lean(area: &Area) -> Option<f64> {
    angle(area).map(|a| libm::tan(a.to_radians() / 2.0))
}

/// A connected region with leaning walls.
struct Work<'a> {
    area: &'a Area,
    /// What lies at the area's floor or lower here; its edge is where walls begin. Where it comes to the plate's edge it goes on
    /// outside, since there is no wall.
    region: Rings,
    /// What of it is the area's own.
    own: Rings,
    /// That and what lies just outside the plate beside it, where flat cutters go on.
    ground: Rings,
    /// Where walls begin, mm: the face as it was measured, or the floor around.
    top: f64,
    /// Height that is cut already when the work begins, mm.
    stock: f64,
    /// Regions further out with their walls, nearest first.
    around: Vec<Around>,
}

/// A region round an area.
struct Around {
    region: Rings,
    /// Height of its walls' tops, mm.
    top: f64,
    /// Its floor, mm.
    bottom: f64,
    /// How far its walls stand in at the floor, mm.
    foot: f64,
}

/// The connected regions of an intent's leaning areas, in the areas' order.
fn works<'a>(shop: &Shop, intent: &'a Intent, pockets: &[Pocket]) -> Vec<Work<'a>> {
    // So far out of the plate its finest flat cutter goes to clear a floor up to the edge.
    let out = flat_cutters(shop, intent).last().map_or(0.0, |t| 1.1 * t.radius) + 0.05;
    let (face, face_high) = (intent.blank.face.to_mm(), intent.blank.face_high.to_mm());
    let mut works = Vec::new();
    for area in intent.areas.iter().filter(|a| angle(a).is_some() && cleared(a)) {
        let own = Rings::of(&area.region);
        for pocket in pockets.iter().filter(|p| p.bottom == area.floor.to_mm()) {
            let own = if pocket.region.area() <= own.area() * (1.0 + 1e-9) && covers(&own, &pocket.region) {
                pocket.region.clone()
            } else {
                own.and(&pocket.region)
            };
            if own.area() < SPECK {
                continue;
            }
            let begins = |p: &Pocket| p.parent.map_or(face, |i| pockets[i].bottom);
            let by = lean(area).unwrap_or(0.0) * (face_high - pocket.bottom) + out;
            let mut around = Vec::new();
            let mut outer = pocket.parent;
            while let Some(i) = outer {
                let p = &pockets[i];
                let leaning = intent.areas.iter().filter(|a| a.floor.to_mm() == p.bottom);
                let most = leaning.filter_map(lean).fold(0.0, f64::max);
                let (top, bottom) = (begins(p), p.bottom);
                let region = open_edge(intent, &p.region, by);
                around.push(Around { region, top, bottom, foot: most * (top - bottom) });
                outer = p.parent;
            }
            works.push(Work {
                area,
                region: open_edge(intent, &pocket.region, by),
                ground: open_edge(intent, &own, out),
                own,
                top: begins(pocket),
                stock: pocket.parent.map_or(face_high, |i| pockets[i].bottom),
                around,
            });
        }
    }
    works
}

/// Whether a region lies in another but for rounding.
fn covers(outer: &Rings, inner: &Rings) -> bool {
    inner.minus(outer).area() < SPECK
}

/// A region that goes on outside the plate where it comes to its edge.
fn open_edge(intent: &Intent, region: &Rings, by: f64) -> Rings {
    let Some(outline) = &intent.outline else { return region.clone() };
    let inside = Rings::of(&outline.inside);
    let near = RegionIndex::new(&outline.inside);
    let ends = region.points().flatten().any(|p| near.signed_distance(p) > -0.01);
    if !ends {
        return region.clone();
    }
    region.union(&region.outset_within(by, 0.001).minus(&inside.inset_within(0.001, 0.000_5)))
}

/// The plate as flat cutters see it: of areas with leaning walls the floors only, each with upright walls. What is left of
/// such an area where it lies in a floor that is cut before belongs to that floor.
pub(crate) fn floors(shop: &Shop, intent: &Intent) -> Intent {
    if intent.areas.iter().all(|a| angle(a).is_none()) {
        return intent.clone();
    }
    let pockets = pocket::pockets(intent, &Memo::none());
    let mut areas: Vec<Area> = intent.areas.iter().filter(|a| angle(a).is_none() || !cleared(a)).cloned().collect();
    for work in works(shop, intent, &pockets) {
        let floor = work.floor();
        if !floor.is_empty() {
            let edge = EdgeProfile::Upright;
            areas.push(Area { region: floor.region(), edge, ..work.area.clone() });
        }
        let in_floor = pockets.iter().rev().find(|p| p.bottom == work.stock && work.stock < intent.blank.face.to_mm());
        if let Some(around) = in_floor {
            let region = work.own.minus(&floor).without_slivers(TOUCH).region();
            let (name, floor) = (around.name.clone(), Height::mm(work.stock));
            areas.push(Area { name, region, floor, edge: EdgeProfile::Upright, ..work.area.clone() });
        }
    }
    Intent { areas, ..intent.clone() }
}

impl Work<'_> {
    /// Where its floor is level.
    fn floor(&self) -> Rings {
        let depth = self.top - self.area.floor.to_mm();
        let lean = lean(self.area).unwrap_or(0.0);
        let level = self.region.inset(lean * depth);
        let whole = self.own.area() >= self.region.area() * (1.0 - 1e-9);
        let level = if whole { level } else { level.and(&self.ground) };
        level.without_slivers(TOUCH).without_specks(SPECK)
    }

    fn deepest(&self) -> f64 {
        self.area.floor.to_mm()
    }
}

/// Plans the vees' programs.
pub(crate) fn plan(shop: &Shop, intent: &Intent) -> Vees {
    let mut vees = Vees::default();
    if intent.areas.iter().all(|a| angle(a).is_none()) {
        return vees;
    }
    let pockets = pocket::pockets(intent, &Memo::none());
    let works = works(shop, intent, &pockets);
    let flats = flat_cutters(shop, intent);
    let further = flats.last().map_or(FURTHER, |t| t.radius);
    let allowed: Vec<(&Cutter, f64, f64)> = intent.cutters.iter().filter_map(|&n| vee(shop.cutter(n)?)).collect();
    let mut refused: Vec<usize> = Vec::new();
    let planned: Vec<Result<Planned<'_>, Doubt>> =
        works.par_iter().map(|w| planned(shop, intent, w, &allowed, further)).collect();
    let mut done: Vec<Planned<'_>> = Vec::new();
    for (work, planned) in works.iter().zip(planned) {
        match planned {
            Ok(planned) => done.push(planned),
            // The same is true of all letters of a word: it is said once.
            Err(doubt) if !refused.contains(&work.area.line) => {
                refused.push(work.area.line);
                vees.doubts.push(doubt);
            }
            Err(_) => {}
        }
    }
    vees.doubts.extend(tips(&done));
    vees.doubts.extend(shallow(&done));
    let mut numbers: Vec<u32> = done.iter().map(|p| p.cutter.number).collect();
    numbers.sort_unstable();
    numbers.dedup();
    for number in numbers {
        let of: Vec<&Planned<'_>> = done.iter().filter(|p| p.cutter.number == number).collect();
        let Some(cutter) = shop.cutter(number) else { continue };
        let stage = stage(shop, intent, cutter, &of);
        vees.seconds += clock::seconds(shop, &stage);
        vees.stages.push(stage);
    }
    vees
}

/// A vee with its included angle and the radius of its tip's flat.
fn vee(cutter: &Cutter) -> Option<(&Cutter, f64, f64)> {
    match cutter.form {
        Form::Vee { angle, tip } if cutter.radius() > 0.0 => Some((cutter, angle.to_deg(), tip.to_mm() / 2.0)),
        _ => None,
    }
}

/// A work with its cutter and ways.
struct Planned<'a> {
    work: &'a Work<'a>,
    cutter: &'a Cutter,
    lean: Lean,
    network: Network,
    /// Where the tip comes lowest.
    lowest: (Point, f64),
}

/// The cutter and the ways of one work.
fn planned<'a>(
    shop: &Shop,
    intent: &Intent,
    work: &'a Work<'a>,
    allowed: &[(&'a Cutter, f64, f64)],
    further: f64,
) -> Result<Planned<'a>, Doubt> {
    let asked = angle(work.area).unwrap_or_default();
    let name = &work.area.name;
    let mut vees: Vec<&(&Cutter, f64, f64)> =
        allowed.iter().filter(|(_, is, _)| (is - asked).abs() <= SAME_ANGLE).collect();
    // The finest point, then the widest: it also cuts the deepest.
    vees.sort_by(|a, b| {
        a.2.total_cmp(&b.2).then(b.0.radius().total_cmp(&a.0.radius())).then(a.0.number.cmp(&b.0.number))
    });
    if vees.is_empty() {
        let there: Vec<String> =
            allowed.iter().map(|(c, is, _)| format!("{} ({}°)", c.name, trimmed(*is, 2))).collect();
        let there =
            if there.is_empty() { "it may use no vee".into() } else { format!("its vees are {}", there.join(", ")) };
        return Err(NO_SUCH_VEE
            .refusal(format!("`{name}` needs a vee of {}°, but the plate may use none; {there}", trimmed(asked, 2)))
            .noting(format!("line {} of the plate file asks for it", work.area.line))
            .way_out("enter such a vee in the shop file and allow it, or ask for the angle of one that there is"));
    }
    let region = work.region.region();
    let mut last = None;
    for &&(cutter, is, tip) in &vees {
        let lean = Lean { top: work.top, floor: work.deepest(), lean: libm::tan(is.to_radians() / 2.0), tip };
        let ways = network(&region, &lean, further).map_err(|fault| {
            VEE_NO_AXIS
                .refusal(format!(
                    "the middle between the walls of `{name}` couldn't be found: it has {} loops where it must have {}",
                    fault.found, fault.expected
                ))
                .at(Place::Blank { x: fault.at.x, y: fault.at.y, z: None })
                .way_out("clean its contours in the drawing, or give it upright walls")
        })?;
        match fitted(shop, intent, work, cutter, lean, ways) {
            Ok(planned) => return Ok(planned),
            Err(doubt) => last = last.or(Some(doubt)),
        }
    }
    // There was one, so there is a reason.
    Err(last.unwrap_or_else(|| NO_SUCH_VEE.refusal(format!("`{name}` needs a vee"))))
}

/// Whether a vee may run over its ways: long and wide enough, and clear of the walls further out.
fn fitted<'a>(
    shop: &Shop,
    intent: &Intent,
    work: &'a Work<'a>,
    cutter: &'a Cutter,
    lean: Lean,
    mut network: Network,
) -> Result<Planned<'a>, Doubt> {
    let name = &work.area.name;
    if work.own.area() < work.region.area() * (1.0 - 1e-9) {
        // Only where a flank lies on a wall of the area's own.
        let (own, region) = (RegionIndex::new(&work.own.region()), work.region.region());
        let all = SegmentIndex::of_contours(region.contours());
        let is_own = |s: &&Segment| own.signed_distance(s.at(0.5)).abs() <= NEAR;
        let walls = SegmentIndex::new(all.segments().iter().filter(is_own).copied().collect());
        let touches = |p: Point| {
            let room = all.nearest(p).map_or(0.0, |n| n.distance);
            walls.nearest_within(p, room + NEAR).is_some_and(|n| {
                // Round a wall's end the way goes on only where the ground there is the area's too.
                let beside = n.at.lerp(p, (4.0 * NEAR / n.distance.max(1e-9)).min(1.0));
                own.signed_distance(beside) <= 0.2 * NEAR
            })
        };
        network.keep(touches);
    }
    let Some(low) = network.lowest() else {
        return Err(VEE_TIP_TOO_WIDE
            .refusal(format!(
                "`{name}` is narrower than the flat at the tip of {} ({} mm)",
                cutter.name,
                2.0 * lean.tip
            ))
            .at(place(work.own.bounds().centre(), None))
            .way_out("allow a sharper vee of this angle, or make the drawing larger"));
    };
    let tool = tool_of(shop, intent, cutter);
    let cone = (tool.radius - lean.tip) / lean.lean;
    let (needed, high) = (work.stock - low.z, intent.blank.face_high.to_mm() - low.z);
    if needed > cone + 1e-6 || !tool.reaches(needed) {
        return Err(VEE_TOO_SMALL
            .refusal(format!(
                "`{name}` is {} mm deep on the thickest blank; the cone of {} is {} mm high and its flutes are {} mm long",
                trimmed(needed, 3),
                cutter.name,
                trimmed(cone, 3),
                trimmed(cutter.flute_length.to_mm(), 3)
            ))
            .at(place(low.at, Some(low.z)))
            .way_out(format!(
                "make it shallower, or allow a vee at least {} mm wide with flutes as long as that is deep",
                trimmed(2.0 * (needed * lean.lean + lean.tip) + 0.005, 2)
            )));
    }
    // A wall further out stands higher, and there the cutter is wider.
    let widest = |rise: f64| {
        let edge = (lean.tip + lean.lean * rise).min(tool.radius);
        let shank = if rise > cutter.flute_length.to_mm() { cutter.shank.to_mm() / 2.0 } else { 0.0 };
        let nut = if rise > cutter.stick_out.to_mm() { shop.spindle.nut_diameter.to_mm() / 2.0 } else { 0.0 };
        edge.max(shank).max(nut)
    };
    let mut worst: Option<(f64, Point, f64)> = None;
    for around in &work.around {
        let walls = RegionIndex::new(&around.region.region());
        // The thickest blank stands higher than the face was measured.
        let top = if around.top >= intent.blank.face.to_mm() { low.z + high } else { around.top };
        for piece in &network.pieces {
            for (share, z) in [0.0, 0.5, 1.0].into_iter().zip(network.heights(piece)) {
                let p = piece.path.at(share);
                let needed = widest(top - z).max(around.foot + widest(around.bottom - z));
                let short = needed + walls.signed_distance(p);
                if short > TOUCH && worst.is_none_or(|w| short > w.0) {
                    worst = Some((short, p, z));
                }
            }
        }
    }
    if let Some((short, p, z)) = worst {
        return Err(VEE_MEETS_WALL
            .refusal(format!(
                "{} would cut {} mm into a wall that stands higher beside `{name}`",
                cutter.name,
                trimmed(short, 3)
            ))
            .at(place(p, Some(z)))
            .way_out("move the area away from that wall by as much, make it shallower, or give it upright walls"));
    }
    Ok(Planned { work, cutter, lean, network, lowest: (low.at, low.z) })
}

fn place(p: Point, z: Option<f64>) -> Place {
    Place::Blank { x: p.x, y: p.y, z }
}

/// What flats at tips leave, once for each cutter.
fn tips(done: &[Planned<'_>]) -> Vec<Doubt> {
    let mut told: Vec<u32> = Vec::new();
    let mut doubts = Vec::new();
    for p in done.iter().filter(|p| p.lean.tip > 0.0) {
        if told.contains(&p.cutter.number) {
            continue;
        }
        told.push(p.cutter.number);
        let (flat, short) = (2.0 * p.lean.tip, p.lean.tip / p.lean.lean);
        doubts.push(
            VEE_TIP_LEAVES
                .note(format!(
                    "the tip of {} is {} mm wide: corners keep a radius of {} mm, and where walls meet a flat of {} mm stays, {} mm \
                     above where a sharp point would end",
                    p.cutter.name,
                    trimmed(flat, 3),
                    trimmed(p.lean.tip, 3),
                    trimmed(flat, 3),
                    trimmed(short, 3)
                ))
                .way_out("nothing, if that is fine enough; else allow a vee with a finer point"),
        );
    }
    doubts
}

/// Floors that were asked for and aren't reached: where they show a layer, or where a plain slope was asked for.
fn shallow(done: &[Planned<'_>]) -> Vec<Doubt> {
    let mut doubts = Vec::new();
    let mut told: Vec<usize> = Vec::new();
    for p in done {
        let area = p.work.area;
        let matters = matches!(area.kind, FloorKind::Shows(_)) || matches!(area.edge, EdgeProfile::Sloped(_));
        if !matters || told.contains(&area.line) {
            continue;
        }
        told.push(area.line);
        let same = || done.iter().filter(|q| std::ptr::eq(q.work.area, area));
        let above = |q: &&Planned<'_>| q.lowest.1 > q.lean.floor + TOUCH;
        let Some(worst) = same().filter(above).reduce(|a, b| if b.lowest.1 > a.lowest.1 { b } else { a }) else {
            continue;
        };
        let needed = 2.0 * worst.lean.floor_from();
        doubts.push(
            FLOOR_NOT_REACHED
                .caution(format!(
                    "`{}` doesn't come to its floor in {} of {} parts: its walls meet {} mm above it",
                    area.name,
                    same().filter(above).count(),
                    same().count(),
                    trimmed(worst.lowest.1 - worst.lean.floor, 3)
                ))
                .at(place(worst.lowest.0, Some(worst.lowest.1)))
                .way_out(format!(
                    "draw strokes at least {} mm wide, choose steeper walls, or make the floor shallower",
                    trimmed(needed + 0.005, 2)
                )),
        );
    }
    doubts
}

/// What is said of a pocket that no flat cutter fits into, where it is a floor between leaning walls and narrower than the finest
/// cutter long enough for it, so that the vee's point runs over it; with the line of the area in the plate file.
pub(crate) fn narrow_floor(intent: &Intent, pocket: &Pocket, flats: &[Tool<'_>]) -> Option<(usize, Doubt)> {
    let (at, width) = pocket.widest();
    // Without any flat cutter long enough it is no matter of width.
    let finest = flats.iter().rfind(|t| pocket.reached_by(t))?;
    let leaning = |a: &&Area| a.floor.to_mm() == pocket.bottom && a.region.contains(at);
    let (area, lean) = intent.areas.iter().filter(leaning).find_map(|a| Some((a, lean(a)?)))?;
    if width > 2.0 * finest.radius + TOUCH {
        return None;
    }
    let doubt = FLOOR_TOO_NARROW
        .caution(format!(
            "between the leaning walls of `{}` lies a floor {} mm wide, narrower than every flat cutter that reaches it",
            area.name,
            trimmed(width, 3)
        ))
        .at(place(at, Some(pocket.bottom)))
        .way_out(format!(
            "make it {} deeper so that the walls meet, shallower so that a cutter fits in, or allow a finer one",
            Length::mm(width / (2.0 * lean))
        ));
    Some((area.line, doubt))
}

/// One vee's program.
fn stage(shop: &Shop, intent: &Intent, cutter: &Cutter, works: &[&Planned<'_>]) -> Stage {
    let tool = tool_of(shop, intent, cutter);
    let (rise, face) = (traverse(shop, intent).to_mm(), intent.blank.face_high.to_mm());
    let moves = |p: &&Planned<'_>| {
        let (_, bottom) = p.lowest;
        let heights = levels(&intent.blank, p.work.stock, bottom, tool.run.pass_depth.to_mm());
        let mut network = p.network.clone();
        network.divide(&heights);
        let mut pen = Pen::new(&tool, rise, face);
        walk::walk(&mut pen, shop, &network, &p.work.area.name, p.work.stock, &heights);
        // The first move rises from wherever the machine stands.
        let mut moves = pen.finish();
        moves.remove(0);
        moves
    };
    let all: Vec<Vec<Move>> = works.par_iter().map(moves).collect();
    let ends = |moves: &Vec<Move>| {
        let mut places = moves.iter().filter_map(|m| m.end().map(|to| to.p));
        let start = places.next().unwrap_or_default();
        Stop { start, end: places.next_back().unwrap_or(start) }
    };
    let stops: Vec<Stop> = all.iter().map(ends).collect();
    let mut moves = vec![Move::Rapid(At::new(Point::default(), rise))];
    // What lies in the floor of another comes after it.
    let lies_in = |i: &Planned<'_>, o: &Planned<'_>| {
        o.lean.floor > i.lean.floor
            && o.work.region.bounds().meets(i.work.region.bounds())
            && covers(&o.work.region, &i.work.own)
    };
    let pairs = (0..works.len()).flat_map(|o| (0..works.len()).map(move |i| (o, i)));
    let before: Vec<(usize, usize)> = pairs.filter(|&(o, i)| lies_in(works[i], works[o])).collect();
    for i in tour(Point::default(), &stops, &before) {
        moves.extend(all[i].iter().cloned());
    }
    let sharp = works.iter().all(|p| p.lowest.1 > p.lean.floor + TOUCH);
    let purpose = if sharp {
        "cuts areas whose depth follows their width, by a vee along the middle between their walls"
    } else {
        "cuts leaning walls and runs out into their corners, by a vee; flat cutters cleared the floors before"
    };
    program::hopping(program::stage(&tool, "0-vee".into(), purpose, rise, moves), &Hops::new(shop, intent))
}
