//! What must hold of every offset.
//!
//! The referee is the distance to the source itself: a point belongs to an inset if it is inside and further than `r`
//! from the source's edge, to an outset if it is inside or nearer. Within [`OFF`] of the limit either answer is right.
//! Where to ask is told by [`reach::Rings`], the way by chords, which knows nothing of the arcs: its offsets by
//! [`NEAR`] more and less have corners in every part that must be there, and in every hole.

use crate::bytes::Bytes;
use crate::region::{Made, valid};
use crate::{Case, Held};
use plane::{Bounds, Contour, Point, Region, Segment, SegmentIndex};
use reach::{HAIR, Offset, Rings, closing, inset, insets, opening, outset, swept};

/// The budget of an offset and the hair it is taken short, mm.
const OFF: f64 = 2e-3 + 2.0 * HAIR;
/// How far from the limit the way by chords is asked, mm.
const NEAR: f64 = 4e-3;
/// Chords, fit and whole nanometres move an edge of the way by chords by no more, mm.
const CHORDS: f64 = 1e-3;
/// Mean half width of a part that the way by chords cannot tell from nothing, mm.
const SLIVER: f64 = 5e-4;
/// Points asked of one set of rings.
const ASKED: usize = 120;

/// What to make.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Kind {
    In,
    Out,
    Opened,
    Closed,
    Insets,
    Swept,
}

/// A region, its radius and what to make of it; `None` where the bytes make none.
pub fn read(data: &[u8]) -> Option<(Kind, Made)> {
    let mut b = Bytes::new(data);
    let kinds = [Kind::In, Kind::Out, Kind::Opened, Kind::Closed, Kind::Insets, Kind::Swept, Kind::Opened, Kind::In];
    let kind = b.of(&kinds);
    Some((kind, valid(&mut b)?))
}

/// Whether all properties hold; `None` where the bytes make no valid region.
pub fn check(data: &[u8]) -> Option<Held> {
    let (kind, made) = read(data)?;
    let began = std::time::Instant::now();
    let held = check_made(kind, &made);
    let seconds = began.elapsed().as_secs_f64();
    Some(held.and_then(|()| if seconds > 4.0 { Err(format!("slow: {seconds} s")) } else { Ok(()) }))
}

/// The case as the replay tests of `reach` read it.
pub fn case(kind: Kind, made: &Made, name: &str) -> Case {
    let kind = match kind {
        Kind::In | Kind::Insets => "in",
        Kind::Out | Kind::Swept => "out",
        Kind::Opened => "opened",
        Kind::Closed => "closed",
    };
    Case { name: name.to_owned(), kind: kind.to_owned(), r: made.r, region: made.region.clone() }
}

/// Whether all properties of one kind hold of a region.
pub fn check_made(kind: Kind, made: &Made) -> Held {
    let (region, r) = (&made.region, made.r);
    let told = match kind {
        Kind::In => one(region, r, false),
        Kind::Out => one(region, r, true),
        Kind::Opened => opened(region, r),
        Kind::Closed => closed(region, r),
        Kind::Insets => all_insets(region, r),
        Kind::Swept => sweep(region, r),
    };
    // Kept apart, so that what rings that touch cause does not hide the rest.
    let told = told.map_err(|said| if made.touching { format!("touching {said}") } else { said })?;
    match told {
        // Touching rings may be refused; others should not be.
        // A sweep may be refused where segments share a curve.
        Some(said) if kind == Kind::Swept => Err(format!("sweep refused: {said}")),
        Some(said) if !made.touching => Err(format!("by chords: {kind:?} {said}")),
        _ => Ok(()),
    }
}

type Told = Result<Option<String>, String>;

fn fault_of(offset: &Offset) -> Option<String> {
    offset.by_chords.map(|f| format!("{f:?}"))
}

fn one(region: &Region, r: f64, out: bool) -> Told {
    let made = if out { outset(region, r) } else { inset(region, r) };
    let source = Walls::of(region, out);
    source.level("offset", &made.region, r, OFF)?;
    if far(region) {
        return Ok(fault_of(&made));
    }
    let rings = Rings::of(region);
    let (small, large) = if out {
        (rings.outset(r - NEAR), rings.outset(r + NEAR))
    } else {
        (rings.inset(r + NEAR), rings.inset(r - NEAR))
    };
    source.same_parts(&made.region, &small, &large, r)?;
    let same = if out { rings.outset(r) } else { rings.inset(r) };
    let (area, expected) = (made.region.area(), same.area());
    // Slots that are there in one and not in the other are no wider than the budget.
    let tolerance = CHORDS * (made.region.length() + same.length() + 10.0 * r) + OFF * large.length() * 0.5;
    if (area - expected).abs() > tolerance {
        return Err(format!("area: {area} instead of {expected} within {tolerance}"));
    }
    Ok(fault_of(&made))
}

fn opened(region: &Region, r: f64) -> Told {
    let (inner, made) = (inset(region, r), opening(region, r));
    let source = Walls::of(region, false);
    source.level("inset", &inner.region, r, OFF)?;
    // By chords a slot at the limit may be open that is closed by arcs, so only like is compared with like.
    if inner.by_chords.is_some() == made.by_chords.is_some() {
        Walls::of(&inner.region, true).level("outset of inset", &made.region, r, OFF)?;
    }
    for (p, _) in points_of(&made.region) {
        if !region.contains(p) && source.distance(p) > OFF {
            return Err(format!("opening is larger: at {p:?} by {}", source.distance(p)));
        }
    }
    if far(region) {
        return Ok(fault_of(&inner).or(fault_of(&made)));
    }
    let rings = Rings::of(region);
    between(&made.region, region, &rings.opening(r + NEAR), &rings.opening(r - NEAR))?;
    if made.region.area() > region.area() + CHORDS * region.length() {
        return Err(format!("opening has more area: {} {}", made.region.area(), region.area()));
    }
    Ok(fault_of(&inner).or(fault_of(&made)))
}

fn closed(region: &Region, r: f64) -> Told {
    let (outer, made) = (outset(region, r), closing(region, r));
    let source = Walls::of(region, true);
    source.level("outset", &outer.region, r, OFF)?;
    if outer.by_chords.is_some() == made.by_chords.is_some() {
        Walls::of(&outer.region, false).level("inset of outset", &made.region, r, OFF)?;
    }
    for (p, _) in points_of(&made.region) {
        if region.contains(p) && source.distance(p) > OFF {
            return Err(format!("closing is smaller: at {p:?} by {}", source.distance(p)));
        }
    }
    if far(region) {
        return Ok(fault_of(&outer).or(fault_of(&made)));
    }
    let rings = Rings::of(region);
    let closing = |r: f64| rings.outset(r).inset(r);
    between(&made.region, region, &closing(r - NEAR), &closing(r + NEAR))?;
    Ok(fault_of(&outer).or(fault_of(&made)))
}

/// Where whole nanometres no longer fit the chords' arithmetic: there the referee is the distance alone.
fn far(region: &Region) -> bool {
    region.bounds().centre().norm() > 2e5
}

/// Openings and closings grow and shrink with the radius, so one lies between its neighbours.
fn between(made: &Region, region: &Region, small: &Rings, large: &Rings) -> Held {
    let (area, least, most) = (made.area(), small.area(), large.area());
    let slack = CHORDS * (made.length() + region.length());
    if area < least - slack || area > most + slack {
        return Err(format!("area: {area} is not between {least} and {most} within {slack}"));
    }
    Ok(())
}

fn all_insets(region: &Region, r: f64) -> Told {
    let (first, step) = (r, 0.8 * r);
    let source = Walls::of(region, false);
    let all = insets(region, first, step, 8);
    let (mut before, mut told) = (region.area(), None);
    for (k, one) in all.iter().enumerate() {
        let by = first + step * k as f64;
        source.level("full set", &one.region, by, OFF + k as f64 * HAIR)?;
        let area = one.region.area();
        if area >= before {
            return Err(format!("insets grow: {before} to {area} at {k}"));
        }
        before = area;
        told = told.or(fault_of(one).map(|f| format!("{k} {f}")));
    }
    if all.len() < 8 && !far(region) {
        let by = first + step * all.len() as f64;
        if let Some(p) = corners(&Rings::of(region).inset(by + NEAR)).find(|&p| source.sure(p, by, OFF) == Some(true)) {
            return Err(format!("full set ends early: after {} something is left at {p:?}", all.len()));
        }
    }
    Ok(told)
}

fn sweep(region: &Region, r: f64) -> Told {
    let segments: Vec<Segment> = region.contours().flat_map(|c| c.segments().collect::<Vec<_>>()).collect();
    let nothing = Region::default();
    let path = Walls { region: &nothing, walls: SegmentIndex::new(segments.clone()), out: true };
    match swept(&segments, r) {
        Ok(made) => path.level("swept", &made, r, OFF)?,
        Err(fault) => return Ok(Some(format!("{fault:?}"))),
    }
    Ok(None)
}

/// A source and the distance to its edge.
struct Walls<'a> {
    region: &'a Region,
    walls: SegmentIndex,
    out: bool,
}

impl<'a> Walls<'a> {
    fn of(region: &'a Region, out: bool) -> Self {
        Self { region, walls: SegmentIndex::of_contours(region.contours()), out }
    }

    fn distance(&self, p: Point) -> f64 {
        self.walls.nearest(p).map_or(f64::INFINITY, |n| n.distance)
    }

    /// Whether a point belongs to the offset by `r`; `None` within `off` of the limit.
    fn sure(&self, p: Point, r: f64, off: f64) -> Option<bool> {
        let (inside, d) = (self.region.contains(p), self.distance(p));
        if self.out {
            (inside || (d - r).abs() > off).then_some(inside || d < r)
        } else {
            ((inside && (d - r).abs() > off) || (!inside && d > off) || d < r - off).then_some(inside && d > r)
        }
    }

    /// All points of the offset's edge at `r` within `off`, on the right side of the source and of the edge itself.
    fn level(&self, of: &str, made: &Region, r: f64, off: f64) -> Held {
        // A sliver thinner than a fit may be turned inside out by it.
        let wound = |c: &Contour, turn: f64| c.area() * turn > 0.0 || c.area().abs() <= SLIVER * c.length();
        for shape in &made.shapes {
            if !wound(&shape.outer, 1.0) || !shape.holes.iter().all(|h| wound(h, -1.0)) {
                return Err(format!("{of} wound the wrong way: {}", shape.outer.area()));
            }
        }
        for (k, (p, left)) in points_of(made).enumerate() {
            let d = self.distance(p);
            if (d - r).abs() > off {
                return Err(format!("{of} off its distance: {p:?} is {d} from its source instead of {r}"));
            }
            if r > 2.0 * off && self.region.contains(p) == self.out {
                return Err(format!("{of} on the wrong side: {p:?}"));
            }
            if k < 4 {
                let least = self.walls.segments().iter().map(|s| s.distance(p)).fold(f64::INFINITY, f64::min);
                if (least - d).abs() > 1e-9 {
                    return Err(format!("index wrong: {p:?} {least} {d}"));
                }
            }
            let Some(left) = left else { continue };
            self.agrees(of, made, p + left * 0.005, r, off)?;
            self.agrees(of, made, p - left * 0.005, r, off)?;
        }
        let box_ = self.walls.segments().iter().fold(Bounds::EMPTY, |b, s| b.union(s.bounds())).grown(r);
        for k in 0..64_u32 {
            // A lattice that no grid shares (fractions of the plastic number).
            let f = |m: f64| (0.5 + f64::from(k) * m).fract();
            let p = box_.min + Point::new(box_.width() * f(0.754_877_666), box_.height() * f(0.569_840_291));
            self.agrees(of, made, p, r, off)?;
        }
        Ok(())
    }

    fn agrees(&self, of: &str, made: &Region, p: Point, r: f64, off: f64) -> Held {
        let Some(expected) = self.sure(p, r, off) else { return Ok(()) };
        let found = made.shapes.iter().filter(|s| s.contains(p)).count();
        if found != usize::from(expected) {
            return Err(format!(
                "{of} membership: {p:?} at {} lies in {found} shapes instead of {expected}",
                self.distance(p)
            ));
        }
        Ok(())
    }

    /// No part lost, added, joined or split: `small` lies within the offset, `large` around it.
    fn same_parts(&self, made: &Region, small: &Rings, large: &Rings, r: f64) -> Held {
        for p in corners(small).chain(corners(large)) {
            self.agrees("chords", made, p, r, OFF)?;
        }
        let around = large.parts();
        let mut home: Vec<Option<usize>> = vec![None; made.shapes.len()];
        for part in small.parts() {
            let mut one: Option<usize> = None;
            for p in corners(&part).filter(|&p| self.sure(p, r, OFF) == Some(true)) {
                let Some(shape) = made.shapes.iter().position(|s| s.contains(p)) else { continue };
                if one.is_some_and(|o| o != shape) {
                    return Err(format!("split: {p:?}"));
                }
                one = Some(shape);
                let Some(room) = around.iter().position(|a| a.contains(p)) else { continue };
                if home[shape].is_some_and(|h| h != room) {
                    return Err(format!("joined: {p:?}"));
                }
                home[shape] = Some(room);
            }
        }
        Ok(())
    }
}

/// Points along the edge of a region with the unit normal to the left where it has one.
fn points_of(region: &Region) -> impl Iterator<Item = (Point, Option<Point>)> + '_ {
    let segments = |c: &Contour| c.segments().collect::<Vec<_>>();
    let along =
        |s: Segment| [0.0, 0.13, 0.5, 0.77].map(|t| (s.at(t), s.direction(t).filter(|_| t > 0.0).map(Point::left)));
    region.contours().flat_map(segments).flat_map(along)
}

/// Some corners of rings, of every ring at least three.
fn corners(rings: &Rings) -> impl Iterator<Item = Point> {
    let all: Vec<Vec<Point>> = rings.points().collect();
    let each = (ASKED / all.len().max(1)).max(3);
    all.into_iter().flat_map(move |ring| {
        let step = (ring.len() / each).max(1);
        ring.into_iter().step_by(step)
    })
}
