//! Walls, floors and engagement cut with a known error, read back: program text with six decimals, intent with exact arcs.

mod common;

use common::*;
use plane::{Contour, Point, Region, Shape, Vertex};
use proof::Proof;

const R: f64 = 1.5875;
const CENTRE: (f64, f64) = (20.003_217, 19.996_841);
const OUTER: f64 = 14.123_457;
const INNER: f64 = 4.076_543;
/// Errors asked for by the wall probes, mm.
const ERRORS: [f64; 10] = [0.0005, -0.0005, 0.002, -0.002, 0.005, -0.005, 0.01, -0.01, 0.05, -0.05];

fn circle(radius: f64, turn: f64) -> Contour {
    let at = |x: f64| Vertex { p: Point::new(CENTRE.0 + x, CENTRE.1), bulge: turn };
    Contour { vertices: vec![at(radius), at(-radius)] }
}

/// A round pocket with a round boss in it.
fn ring_pocket() -> plate::Intent {
    let region = Region { shapes: vec![Shape { outer: circle(OUTER, 1.0), holes: vec![circle(INNER, -1.0)] }] };
    let mut intent = intent(blank(40.0, 40.0), vec![area("ring", region, 3.4)]);
    intent.cutters = vec![1];
    intent
}

/// Rounds of the given radii at each height, from a helix of 9 mm.
fn rounds(radii: &[f64], floor: f64) -> Text {
    let mut text = Text::start(1, 18000.0);
    let (x, y) = CENTRE;
    let mut top = 6.3;
    while top > floor + 1e-9 {
        let z: f64 = f64::max(top - 1.5, floor);
        text.helix(x, y, 9.0, top, z);
        for &radius in radii {
            text.put(format!("G1 X{:.6} Y{y:.6} Z{z:.6} F1000", x + radius));
            text.put(format!("G3 X{:.6} Y{y:.6} I{:.6} J0", x + radius, -radius));
        }
        text.put("G0 Z15");
        top = z;
    }
    text.end()
}

fn ring_program(outer: f64, inner: f64, floor: f64) -> Text {
    let (last_out, last_in) = (OUTER - R + outer, INNER + R - inner);
    rounds(&[9.0, 10.2, 11.4, last_out, 11.4, 9.0, 7.8, 6.6, last_in], floor)
}

#[track_caller]
fn reads(proof: &Proof, off: f64, tolerance: f64) {
    let walls = proof.walls;
    let is = if off > 0.0 { walls.worst_gouge } else { -walls.worst_leftover };
    assert!((is - off).abs() < tolerance, "{is} is not {off}: {walls:?}");
    let worst = &proof.wall_reports[0].worst;
    assert!((worst[0].off - off).abs() < tolerance, "{off}: {worst:?}");
    assert!(worst.len() <= 10 && worst[0].by.is_some(), "{worst:?}");
    let counted: u64 = proof.wall_reports[0].histogram.iter().map(|b| b.1).sum();
    assert_eq!(counted, walls.probes - walls.at_hand_work);
}

/// On arcs from inside and from outside. The text's sixth decimal is 0.5 nm of rounding for each word; 0.1 µm is asked for.
#[test]
fn errors_on_arcs_are_read_back() {
    for off in ERRORS {
        reads(&run(&shop(), &ring_pocket(), &[ring_program(off, 0.0, 3.4)]), off, 1e-4);
        reads(&run(&shop(), &ring_pocket(), &[ring_program(0.0, off, 3.4)]), off, 1e-4);
    }
}

/// On lines that lie askew: a stadium, which has no corners.
#[test]
fn errors_on_lines_are_read_back() {
    let along = Point::new(libm::cos(0.3), libm::sin(0.3));
    let middle = Point::new(CENTRE.0, CENTRE.1);
    let corners = |radius: f64| {
        let (way, aside) = (along * 8.0, along.left() * radius);
        [middle - way - aside, middle + way - aside, middle + way + aside, middle - way + aside]
    };
    let vertices =
        corners(6.0).into_iter().enumerate().map(|(k, p)| Vertex { p, bulge: if k % 2 == 1 { 1.0 } else { 0.0 } });
    let region = Region::solid(Contour { vertices: vertices.collect() });
    let mut intent = intent(blank(40.0, 40.0), vec![area("slot", region, 3.4)]);
    intent.cutters = vec![1];
    for off in ERRORS {
        let mut text = Text::start(1, 18000.0);
        for (top, z) in [(6.3, 4.8), (4.8, 3.4)] {
            text.helix(middle.x, middle.y, 1.2, top, z);
            for radius in [1.2, 2.4, 3.6, 6.0 - R + off] {
                let [a, b, c, d] = corners(radius);
                text.put(format!("G1 X{:.6} Y{:.6} F1000", a.x, a.y)).put(format!("G1 X{:.6} Y{:.6}", b.x, b.y));
                let round = |to: Point, hub: Point, from: Point| {
                    format!("G3 X{:.6} Y{:.6} I{:.6} J{:.6}", to.x, to.y, hub.x - from.x, hub.y - from.y)
                };
                text.put(round(c, b.lerp(c, 0.5), b));
                text.put(format!("G1 X{:.6} Y{:.6}", d.x, d.y));
                text.put(round(a, d.lerp(a, 0.5), d));
            }
            text.put("G0 Z15");
        }
        reads(&run(&shop(), &intent, &[text.end()]), off, 1e-4);
    }
}

/// Inside corners against r (1 / sin(a / 2) - 1) (derived): what the proof says is left for the hand.
#[test]
fn corners_are_left_as_the_formula_says() {
    for (sides, share) in [(3, 1.0), (4, 0.414_214), (6, 0.154_701)] {
        let corner = |radius: f64, k: i32| {
            let angle = 0.3 + 2.0 * std::f64::consts::PI / f64::from(sides) * f64::from(k);
            Point::new(CENTRE.0 + radius * libm::cos(angle), CENTRE.1 + radius * libm::sin(angle))
        };
        let region = Region::solid(Contour::polygon((0..sides).map(|k| corner(13.0, k)).collect::<Vec<_>>()));
        let mut intent = intent(blank(40.0, 40.0), vec![area("corners", region, 3.4)]);
        intent.cutters = vec![1];
        let across = libm::cos(std::f64::consts::PI / f64::from(sides));
        let mut text = Text::start(1, 18000.0);
        for (top, z) in [(6.3, 4.8), (4.8, 3.4)] {
            text.helix(CENTRE.0, CENTRE.1, 1.2, top, z);
            let last = 13.0 - R / across;
            let radii = (1..40).map(|k| 1.2 * f64::from(k)).take_while(|&r| r < last).chain([last]);
            for (radius, k) in radii.flat_map(|r| (0..=sides).map(move |k| (r, k))) {
                let p = corner(radius, k);
                text.put(format!("G1 X{:.6} Y{:.6} F1000", p.x, p.y));
            }
            text.put("G0 Z15");
        }
        let proof = run(&shop(), &intent, &[text.end()]);
        // Single cells of a corner's thin ends may stand apart on the grid; the rest is one spot a corner.
        let spots: Vec<_> = proof.hand_work.iter().filter(|h| h.area_left > 0.01).collect();
        assert_eq!(spots.len(), sides as usize, "{:?}", proof.hand_work);
        for spot in spots {
            // Where a cutter may stand is taken up to 2 µm nearer to both walls, which the angle makes 4 µm.
            assert!((spot.gap - R * share).abs() < 4e-3, "{} is not {}", spot.gap, R * share);
        }
    }
}

#[test]
fn errors_of_floors_are_read_back() {
    for off in [0.0005, 0.001, 0.0019, -0.0005, -0.0019] {
        let proof = run(&shop(), &ring_pocket(), &[ring_program(0.0, 0.0, 3.4 + off)]);
        assert!((proof.greatest_floor_error - f64::abs(off)).abs() < 1e-4, "{off}: {}", proof.greatest_floor_error);
    }
}

/// Engagement as the proof tells it, against acos((Rc² - p² - r²) / (2 p r)) for widening a round hole of radius Rc and its
/// mirror for narrowing a boss (derived), within half a degree.
#[test]
fn engagement_is_told_move_by_move() {
    let proof = run(&shop(), &ring_pocket(), &[ring_program(0.0, 0.0, 3.4)]);
    // The step onto a round widens the cut of its first quarters, so the least of the four is the even one.
    let least = |radius: f64| {
        let quarter = std::f64::consts::FRAC_PI_2 * radius;
        let same = |l: &&proof::MoveLoad| l.depth > 1.3 && (l.length - quarter).abs() < 1e-3;
        proof.stages[0].loads.iter().filter(same).map(|l| l.engagement).fold(f64::INFINITY, f64::min)
    };
    let hole = |p: f64, before: f64| libm::acos(((before + R).powi(2) - p * p - R * R) / (2.0 * p * R)).to_degrees();
    let boss = |p: f64, before: f64| libm::acos((p * p + R * R - (before - R).powi(2)) / (2.0 * p * R)).to_degrees();
    for (radius, expected) in [(10.2, hole(10.2, 9.0)), (7.8, boss(7.8, 9.0)), (6.6, boss(6.6, 7.8))] {
        assert!((least(radius) - expected).abs() < 0.5, "{} is not {expected}", least(radius));
    }
}

/// The same input gives the same proof to the last bit on one thread and on several, pictures and loads included.
#[test]
fn threads_change_nothing() {
    let (intent, program) = (ring_pocket(), ring_program(0.003, -0.002, 3.4));
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| run(&shop(), &intent, std::slice::from_ref(&program)))
    };
    let one = on(1);
    assert!(one.stages[0].loads.len() > 50 && one.relief.heights.len() > 1000);
    for threads in [2, 3, 8] {
        assert_eq!(one, on(threads), "{threads} threads");
    }
}
