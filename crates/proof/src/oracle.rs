//! A slow and simple oracle for the swept removal: the path as thousands of cutters standing still.

use crate::leg::{Leg, Run, Way};
use crate::near::Near;
use crate::profile::{Edge, Profile};
use crate::relief::{Grid, Tooling, Work};
use crate::tile::Tile;
use memo::Memo;
use plane::{Bounds, Point, Segment};

const FACE: f64 = 6.0;

fn profile(edge: Edge, radius: f64) -> Profile {
    Profile {
        edge,
        radius,
        flutes: 20.0,
        shank_radius: radius,
        stick_out: 30.0,
        nut_radius: 8.0,
        body_from: 45.0,
        body_radius: 30.0,
    }
}

/// A ball of 0.3 mm on a cone of 10 degrees each side.
fn taper() -> Edge {
    let half: f64 = 10f64.to_radians();
    let (sine, cosine) = (libm::sin(half), libm::cos(half));
    Edge::Taper { ball: 0.3, joint: 0.3 * cosine, from: 0.3 * (1.0 - sine), rise: cosine / sine }
}

fn leg(path: Segment, z: [f64; 2]) -> Leg {
    Leg::new(Way { stage: 0, line: 1, run: Run::Feed, feed: Some(1000.0), step: 0 }, path, z)
}

fn line(a: (f64, f64), b: (f64, f64)) -> Segment {
    Segment::Line { a: Point::new(a.0, a.1), b: Point::new(b.0, b.1) }
}

fn arc(centre: (f64, f64), radius: f64, from: f64, sweep: f64) -> Segment {
    let centre = Point::new(centre.0, centre.1);
    let at = |angle: f64| centre + Point::at_angle(angle) * radius;
    Segment::Arc { a: at(from), b: at(from + sweep), centre, radius, from, sweep }
}

fn legs() -> Vec<Leg> {
    let quarter = std::f64::consts::FRAC_PI_2;
    let mut legs = vec![
        leg(line((1.0, 1.0), (8.0, 1.5)), [4.0, 4.0]),
        leg(line((8.0, 1.5), (8.0, 6.0)), [4.0, 2.0]),
        leg(line((8.0, 6.0), (2.0, 7.3)), [2.0, 5.0]),
        leg(line((5.0, 5.0), (5.0, 5.0)), [5.0, 1.5]),
        leg(line((3.0, 4.0), (3.4, 4.1)), [5.5, 2.5]),
        leg(arc((3.0, 5.0), 2.0, 0.3, 1.4), [3.0, 3.0]),
        leg(arc((6.0, 3.0), 0.8, 2.0, -1.5), [3.0, 3.0]),
        leg(arc((6.0, 7.0), 2.5, 4.0, -quarter), [5.0, 3.5]),
    ];
    // Helices, one of them smaller than the cutter.
    for (centre, radius) in [((2.5, 7.0), 1.2), ((6.5, 5.0), 0.4)] {
        for k in 0..8 {
            let z = 5.5 - 0.3 * f64::from(k);
            legs.push(leg(arc(centre, radius, quarter * f64::from(k), quarter), [z, z - 0.3]));
        }
    }
    legs
}

/// The height of a point by brute force: the path's steps are short against the cutter.
fn slow(legs: &[Leg], profile: &Profile, p: Point) -> f64 {
    const STEPS: usize = 800;
    let mut least = FACE;
    for leg in legs {
        if leg.path.distance(p) > profile.radius {
            continue;
        }
        for i in 0..=STEPS {
            let t = i as f64 / STEPS as f64;
            let d = leg.path.at(t).distance(p);
            if d <= profile.radius {
                least = least.min(leg.z[0] + (leg.z[1] - leg.z[0]) * t + profile.rise(d));
            }
        }
    }
    least
}

#[test]
fn the_sweep_is_what_many_cutters_cut() {
    let legs = legs();
    let bull = Edge::Bull { corner: 0.4 };
    for edge in
        [Edge::Flat, Edge::Ball, Edge::Vee { tip: 0.1, rise: 1.0 }, Edge::Vee { tip: 0.0, rise: 1.8 }, bull, taper()]
    {
        let profile = profile(edge, 1.1);
        let tooling = [Some(Tooling { profile, deep: 9.0 })];
        let size = Bounds { min: Point::default(), max: Point::new(10.0, 9.0) };
        let grid = Grid::new(size, 0.15, 0.3);
        let work = Work { grid, face_high: FACE, through: 0.0, legs: &legs, tooling: &tooling, memo: &Memo::none() };
        let near = Near::new(&legs, &tooling, size, FACE);
        let cuts = work
            .cut(
                |tile: &Tile, _| {
                    (0..tile.height)
                        .map(|r| (0..tile.width).map(|c| tile.height_at(c, r)).collect::<Vec<_>>())
                        .collect::<Vec<_>>()
                },
                &(),
            )
            .unwrap()
            .tiles;
        assert_eq!(cuts.len(), 1);
        let mut removed = 0.0;
        for (row, cells) in cuts[0].judged.iter().enumerate() {
            for (column, &h) in cells.iter().enumerate() {
                let p = grid.centre(column, row);
                removed += FACE - f64::from(h);
                // At the edge of the swept shape steps miss what the sweep has, by a sliver.
                let edge_near = legs.iter().any(|l| (l.path.distance(p) - profile.radius).abs() < 1e-3);
                let expected = slow(&legs, &profile, p);
                let exact = near.height(p, FACE);
                assert!((exact - f64::from(h)).abs() < 2e-6, "{edge:?} {p:?} {exact} {h}");
                // A flat edge of a ramp advances with the steps: 3.5 mm over 800 of them.
                assert!(edge_near || (f64::from(h) - expected).abs() < 7e-3, "{edge:?} {p:?} {h} {expected}");
                assert!(f64::from(h) <= expected + 2e-6, "{edge:?} {p:?} {h} {expected}");
            }
        }
        let sum: f64 = cuts[0].touches.iter().map(|t| t.removed).sum();
        assert!((sum - removed * 0.0225).abs() < 1e-3 * sum, "{sum}");
    }
}

/// Signed distances of the edge at a height, against the path as many cutters.
#[test]
fn edges_at_a_height_are_what_many_cutters_reach() {
    let legs = legs();
    let bull = Edge::Bull { corner: 0.4 };
    for edge in [Edge::Flat, Edge::Ball, Edge::Vee { tip: 0.1, rise: 1.0 }, bull, taper()] {
        let profile = profile(edge, 1.1);
        let tooling = [Some(Tooling { profile, deep: 9.0 })];
        let size = Bounds { min: Point::default(), max: Point::new(10.0, 9.0) };
        let near = Near::new(&legs, &tooling, size, FACE);
        for i in 0..120 {
            let p = Point::new(f64::from(i % 20) * 0.5 + 0.03, f64::from(i / 20) * 1.5 + 0.02);
            for height in [2.2, 3.05, 4.1, 5.4] {
                let mut most = -crate::near::FAR;
                for leg in &legs {
                    for k in 0..=800 {
                        let t = f64::from(k) / 800.0;
                        let z = leg.z[0] + (leg.z[1] - leg.z[0]) * t;
                        most = most.max(profile.radius_at(height - z) - leg.path.at(t).distance(p));
                    }
                }
                let (exact, _) = near.beyond(p, height);
                assert!(exact >= most - 1e-6 && exact < most + 6e-3, "{edge:?} {p:?} {height}: {exact} {most}");
            }
        }
    }
}

/// No bound over a disc is higher than what the edge leaves in it, small helices and all sides of them included.
#[test]
fn bounds_hold_all_over_a_disc() {
    let mut tight = 0;
    for radius in [0.4, 0.8, 1.2, 2.5] {
        for (z, turn) in [([3.0, 2.7], 1.0), ([2.7, 3.0], 1.0), ([3.0, 2.7], -1.0)] {
            let leg = leg(arc((0.0, 0.0), radius, 0.3, turn * std::f64::consts::FRAC_PI_2), z);
            let profile = profile(Edge::Flat, 1.1);
            for i in 0..40 * 40 {
                let centre = Point::new(f64::from(i % 40) * 0.2 - 4.0, f64::from(i / 40) * 0.2 - 4.0);
                let half = 0.35;
                let bound = leg.least_over(&profile, centre, half);
                let inside = (0..200).map(|k| {
                    let (share, angle) = (f64::from(k % 20) / 19.0, f64::from(k / 20) * 0.63);
                    centre + Point::at_angle(angle) * (half * share)
                });
                let least = inside.filter_map(|p| leg.lowest_at(&profile, p)).fold(f64::INFINITY, f64::min);
                assert!(bound <= least + 1e-9, "r {radius} {z:?} {turn} {centre:?}: {bound} above {least}");
                tight += usize::from(least.is_finite() && least - bound < 0.05);
            }
        }
    }
    assert!(tight > 1000, "{tight}");
}
