//! Tabs: runs of the groove around a held piece that keep enough material for long enough.
//!
//! The groove is looked at across its width: at each place along the edge the least height across it counts, and a
//! tab's length is measured in the middle of the groove, where lifted flat cutters leave the least.

use crate::access::{self, Access};
use crate::finding::{Found, Tally, mm};
use crate::intent::{AREAS, Class, MARGIN, Wanted};
use crate::kinds;
use crate::leg::Leg;
use crate::near::Near;
use crate::relief::Tooling;
use plane::{Contour, Point};
use plate::Tabs;
use quantity::Length;

/// Places along the edge are this far apart, mm; ends of tabs are then found by halving.
const STEP: f64 = 0.05;
/// A tab may be this much lower than asked, mm.
const LOW: f64 = 0.005;
/// A tab may be this much shorter than asked, mm.
const SHORT: f64 = 0.020;
/// A tab may be longer than asked by four cutting widths and two ramps of this slope (common practice: about 3 to 5°).
const RAMP: f64 = 0.05;

/// Checks the tabs of the plate and of the cut-outs that shall have them.
pub(crate) fn judge(
    wanted: &Wanted,
    access: &Access,
    near: &Near,
    legs: &[Leg],
    tooling: &[Option<Tooling>],
    tally: &mut Tally,
) {
    if let Some(outline) = &wanted.intent.outline
        && let Some(tabs) = crate::probes::tabs_of(wanted, MARGIN)
    {
        // The plate is to the left of its outer edge, the groove to the right.
        for shape in &outline.inside.shapes {
            let edge = shape.outer.reversed();
            Edge { wanted, access, near, class: MARGIN, contour: &edge, tabs }.judge(legs, tooling, tally);
        }
    }
    for (i, area) in wanted.intent.areas.iter().enumerate() {
        let class = AREAS + i as Class;
        let Some(tabs) = crate::probes::tabs_of(wanted, class) else { continue };
        for shape in &area.region.shapes {
            Edge { wanted, access, near, class, contour: &shape.outer, tabs }.judge(legs, tooling, tally);
        }
    }
}

/// One edge with its groove to the left.
struct Edge<'a, 'b> {
    wanted: &'a Wanted<'a>,
    access: &'a Access<'b>,
    near: &'a Near<'a>,
    class: Class,
    contour: &'a Contour,
    tabs: Tabs,
}

/// A place on the edge.
#[derive(Clone, Copy)]
struct Spot {
    segment: usize,
    share: f64,
}

impl Edge<'_, '_> {
    fn judge(&self, legs: &[Leg], tooling: &[Option<Tooling>], tally: &mut Tally) {
        let top = self.wanted.underside + self.tabs.left.to_mm();
        let width = self.groove(legs, tooling, top);
        if width <= 0.0 && !self.is_reached() {
            // Nothing sets it free; what stands beside it is left to the hand, as its walls tell.
            return;
        }
        if width <= 0.0 {
            let at = self.contour.vertices.first().map_or(Point::default(), |v| v.p);
            return self.report_long(self.contour.length(), at, tally);
        }
        let segments: Vec<plane::Segment> = self.contour.segments().filter(|s| s.length() > 0.0).collect();
        let stands = |s: Spot| {
            self.least(segments[s.segment].at(s.share), segments[s.segment].direction(s.share), width) >= top - LOW
        };
        let middle = |s: Spot| {
            let aside = segments[s.segment].direction(s.share).map_or(Point::default(), Point::left);
            segments[s.segment].at(s.share) + aside * (0.5 * width)
        };
        let mut spots: Vec<(Spot, bool)> = Vec::new();
        for (k, segment) in segments.iter().enumerate() {
            let parts = ((segment.length() / STEP).ceil() as usize).clamp(1, 1_000_000);
            for i in 0..parts {
                let spot = Spot { segment: k, share: (i as f64 + 0.5) / parts as f64 };
                spots.push((spot, stands(spot)));
            }
        }
        let n = spots.len();
        let Some(start) = (0..n).find(|&i| !spots[i].1) else {
            let (at, _) = spots[0];
            return self.report_long(self.contour.length(), middle(at), tally);
        };
        let (mut lengths, mut i): (Vec<f64>, usize) = (Vec::new(), 0);
        while i < n {
            let at = |k: usize| spots[(start + k) % n];
            if !at(i).1 {
                i += 1;
                continue;
            }
            let end = (i..n).find(|&k| !at(k).1).unwrap_or(n);
            let (first, last) = (at(i).0, at(end - 1).0);
            let mut length: f64 = (i + 1..end).map(|k| middle(at(k - 1).0).distance(middle(at(k).0))).sum();
            length += grow(at((i + n - 1) % n).0, first, &stands, &middle);
            length += grow(at(end % n).0, last, &stands, &middle);
            lengths.push(length);
            let most = self.tabs.length.to_mm() + 4.0 * width + 2.0 * self.tabs.left.to_mm() / RAMP;
            if length > most {
                self.report_long(length, middle(at((i + end) / 2).0), tally);
            }
            i = end;
        }
        self.count(&lengths, tally);
    }

    /// Whether what stands to the end is enough: what is asked, or on an edge that has no room for that, the least that it must keep.
    fn count(&self, lengths: &[f64], tally: &mut Tally) {
        let long = |length: Length| lengths.iter().filter(|&&l| l >= length.to_mm() - SHORT).count() as u32;
        let good = long(self.tabs.length);
        if good >= self.tabs.count {
            return;
        }
        let edge = Length::try_mm(self.contour.length()).unwrap_or(Length::ZERO);
        let finest = Length::try_mm(2.0 * self.access.thinnest(self.class)).unwrap_or(Length::ZERO);
        let longest = lengths.iter().copied().fold(0.0, f64::max);
        match self.tabs.least_on(edge, finest) {
            Some(least) if long(least.length) >= least.count => self.report_fewer(long(least.length), longest, tally),
            least => self.report_missing(good, least.unwrap_or(self.tabs), longest, tally),
        }
    }

    /// Whether some cutter gets beside the edge anywhere.
    fn is_reached(&self) -> bool {
        self.contour.segments().any(|s| {
            let parts = ((s.length() / STEP).ceil() as usize).clamp(1, 1_000_000);
            (0..parts).map(|i| (i as f64 + 0.5) / parts as f64).any(|share| {
                let inward = s.direction(share).map(Point::left);
                inward.is_some_and(|d| self.access.stands_beside(self.class, s.at(share), d))
            })
        })
    }

    /// Width of the widest cutter that runs along the edge below the tabs' top.
    fn groove(&self, legs: &[Leg], tooling: &[Option<Tooling>], top: f64) -> f64 {
        let box_of = self.contour.bounds();
        // A path beside the edge keeps off it by its radius and rounding.
        let near =
            |leg: &Leg, t: &Tooling| leg.lowest() < top - LOW && leg.bounds(1.5 * t.profile.radius).meets(box_of);
        let begins = |leg: &Leg, t: &Tooling| {
            self.contour.segments().any(|s| s.distance(leg.path.start()) <= t.profile.radius * 1.5)
        };
        // Long legs may pass a short edge.
        let passes = |leg: &Leg, t: &Tooling| {
            self.contour.segments().any(|s| {
                [0.0, 0.5].iter().any(|&share| leg.path.distance(s.at(share)) <= t.profile.radius + access::SHORT)
            })
        };
        let widest = |beside: &dyn Fn(&Leg, &Tooling) -> bool| {
            let tools = legs.iter().filter_map(|leg| Some((leg, tooling[leg.stage].as_ref()?)));
            let widths = tools.filter(|(leg, t)| near(leg, t) && beside(leg, t)).map(|(_, t)| 2.0 * t.profile.radius);
            widths.fold(0.0, f64::max)
        };
        let width = widest(&begins);
        if width > 0.0 { width } else { widest(&passes) }
    }

    /// The least height across the groove.
    fn least(&self, edge: Point, direction: Option<Point>, width: f64) -> f64 {
        let Some(direction) = direction else { return f64::NEG_INFINITY };
        let aside = direction.left();
        let height = |share: f64| self.near.height(edge + aside * (width * share), self.wanted.face_high);
        [0.5, 0.3, 0.7, 0.15, 0.85, 0.04, 0.96].into_iter().map(height).fold(f64::INFINITY, f64::min)
    }

    fn report_missing(&self, good: u32, least: Tabs, longest: f64, tally: &mut Tally) {
        let at = self.contour.vertices.first().map_or(Point::default(), |v| v.p);
        let Tabs { count, length, left } = self.tabs;
        let found = Found::on_plate(&kinds::TAB_MISSING)
            .group(format!("{:05}", self.class))
            .at(at.x, at.y, self.wanted.underside + left.to_mm())
            .amount(f64::from(count - good.min(count)))
            .saying(
                format!(
                    "`{}` keeps {good} of {count} tabs that are {length} long and {left} high",
                    self.wanted.name(self.class)
                ),
                "add the lifts of the path over each tab's length and the cutter's width",
            )
            .noting(format!("the longest piece left at that height is {}", mm(longest)));
        let found = if least == self.tabs {
            found
        } else {
            found.noting(format!(
                "its edge of {} has no room for that, but must keep at least {} of {}",
                mm(self.contour.length()),
                least.count,
                least.length
            ))
        };
        tally.add(found);
    }

    fn report_fewer(&self, kept: u32, longest: f64, tally: &mut Tally) {
        let at = self.contour.vertices.first().map_or(Point::default(), |v| v.p);
        let Tabs { count, length, left } = self.tabs;
        tally.add(
            Found::on_plate(&kinds::TABS_FEWER)
                .caution()
                .group(format!("{:05}", self.class))
                .at(at.x, at.y, self.wanted.underside + left.to_mm())
                .amount(f64::from(count) * length.to_mm() - f64::from(kept) * longest.min(length.to_mm()))
                .saying(
                    format!(
                        "a piece of `{}` that is {} round is held by {kept} tab{} of up to {} in place of {count} that are {length} long",
                        self.wanted.name(self.class),
                        mm(self.contour.length()),
                        if kept == 1 { "" } else { "s" },
                        mm(longest)
                    ),
                    "see that it stays where it is, or ask for shorter tabs, a skin, or tape under it",
                ),
        );
    }

    fn report_long(&self, length: f64, at: Point, tally: &mut Tally) {
        let kind = if self.class == MARGIN { &kinds::THROUGH_MISSING } else { &kinds::LEFTOVER };
        tally.add(
            Found::on_plate(kind)
                .group(format!("tabs {:05}", self.class))
                .at(at.x, at.y, self.wanted.underside + self.tabs.left.to_mm())
                .amount(length)
                .saying(
                    format!(
                        "material stands in the groove of `{}` over {}; a tab shall be {} long",
                        self.wanted.name(self.class),
                        mm(length),
                        self.tabs.length
                    ),
                    "cut through between the tabs",
                ),
        );
    }
}

/// How far a run goes on from its outermost place toward the next one outside, found by halving.
fn grow(outside: Spot, inside: Spot, stands: &impl Fn(Spot) -> bool, middle: &impl Fn(Spot) -> Point) -> f64 {
    if outside.segment != inside.segment {
        return 0.5 * middle(outside).distance(middle(inside));
    }
    let (mut out, mut own) = (outside.share, inside.share);
    for _ in 0..12 {
        let share = 0.5 * (out + own);
        if stands(Spot { segment: inside.segment, share }) { own = share } else { out = share }
    }
    middle(Spot { segment: inside.segment, share: own }).distance(middle(inside))
}
