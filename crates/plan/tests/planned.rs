//! Plans looked at as moves: where the cutter goes, and that it comes everywhere it can.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

mod common;

use common::{area, intent, rectangle, shop, star, travelled};
use plane::{Contour, Point, Region, Segment, SegmentIndex, Vertex};
use plate::*;
use quantity::{Height, Length};

fn check(intent: &Intent, region: &Region, floor: f64) {
    check_in(&shop(), intent, region, floor);
}

fn check_in(shop: &Shop, intent: &Intent, region: &Region, floor: f64) {
    let plan = plan::plan(shop, intent, &|| false).unwrap();
    assert!(plan.doubts.is_empty(), "{:?}", plan.doubts);
    let walls = SegmentIndex::of_contours(region.contours());
    let mut cut: Vec<(f64, SegmentIndex)> = Vec::new();
    for stage in &plan.stages {
        let r = shop.cutter(stage.cutter).unwrap().radius();
        let mut at_floor = Vec::new();
        for (segment, z0, z1, rapid) in travelled(stage) {
            if z0.min(z1) < 6.3 {
                for t in [0.0, 0.3, 0.5, 0.8, 1.0] {
                    let p = segment.at(t);
                    let room = walls.nearest(p).unwrap().distance;
                    assert!(region.contains(p) && room >= r - 0.002, "{}: {p:?} is {room} from a wall", stage.name);
                }
            }
            assert!(z0.min(z1) >= floor - 1e-9);
            if !rapid && z0 == floor && z1 == floor {
                at_floor.push(segment);
            }
        }
        cut.push((r, SegmentIndex::new(at_floor)));
    }
    // Every point that the finest cutter can cover is covered by some cutter at the floor.
    let reachable = reach::Rings::of(region).opening(0.79375 / 2.0).inset(0.004);
    let b = region.bounds();
    let (mut looked, mut missed) = (0, Vec::new());
    for i in 0..200 {
        for j in 0..200 {
            let p =
                b.min + Point::new(b.width() * (f64::from(i) + 0.5) / 200.0, b.height() * (f64::from(j) + 0.5) / 200.0);
            if reachable.contains(p) {
                looked += 1;
                if !cut.iter().any(|(r, path)| path.nearest_within(p, r + 0.002).is_some()) {
                    missed.push(p);
                }
            }
        }
    }
    assert!(looked > 1000 && missed.is_empty(), "{} of {looked} missed, first {:?}", missed.len(), missed.first());
}

#[test]
fn a_rectangle() {
    let region = rectangle(20.0, 20.0, 50.0, 30.0);
    check(&intent(vec![area("field", region.clone(), 3.0)], None), &region, 3.0);
}

#[test]
fn a_star_with_sharp_tips() {
    let region = star(Point::new(50.0, 40.0), 8.0, 25.0);
    check(&intent(vec![area("star", region.clone(), 4.0)], None), &region, 4.0);
}

#[test]
fn a_ring_round_an_island() {
    let region = plane::difference(
        &rectangle(20.0, 20.0, 50.0, 40.0),
        &Region::solid(Contour::circle(Point::new(45.0, 40.0), 12.0)),
    );
    check(&intent(vec![area("ring", region.clone(), 4.0)], None), &region, 4.0);
}

#[test]
fn a_small_round_hole_and_a_thin_stroke() {
    let stroke = rectangle(20.0, 20.0, 30.0, 0.9);
    let v = |x: f64, y: f64, bulge: f64| Vertex { p: Point::new(x, y), bulge };
    let slot = Region::solid(Contour {
        vertices: vec![v(20.0, 30.0, 0.0), v(50.0, 30.0, 1.0), v(50.0, 34.0, 0.0), v(20.0, 34.0, 1.0)],
    });
    let region = plane::union([&stroke, &slot, &Region::solid(Contour::circle(Point::new(70.0, 40.0), 1.0))]);
    check(&intent(vec![area("strokes", region.clone(), 4.0)], None), &region, 4.0);
}

/// What is left and right of level cuts along a wall, mm: length with the wall on either side.
fn beside_wall(shop: &Shop, intent: &Intent, region: &Region) -> [f64; 2] {
    let walls = SegmentIndex::of_contours(region.contours());
    let mut sides = [0.0; 2];
    for stage in plan::plan(shop, intent, &|| false).unwrap().stages {
        let r = shop.cutter(stage.cutter).unwrap().radius();
        for (segment, z0, z1, rapid) in travelled(&stage) {
            let (at, Some(along)) = (segment.at(0.5), segment.direction(0.5)) else { continue };
            let near = walls.nearest(at).unwrap();
            if !rapid && z0 == z1 && z0 < 6.0 && (near.distance - r).abs() < 0.002 {
                sides[usize::from(along.cross(near.at - at) < 0.0)] += segment.length();
            }
        }
    }
    sides
}

#[test]
fn walls_are_climbed_or_cut_conventionally_as_the_shop_says() {
    let region = plane::difference(
        &star(Point::new(50.0, 40.0), 14.0, 30.0),
        &Region::solid(Contour::circle(Point::new(52.0, 40.0), 6.0)),
    );
    let pocket = intent(vec![area("star", region.clone(), 4.0)], None);
    let plate = rectangle(20.0, 15.0, 60.0, 50.0);
    let held = Held::Tabs(Tabs { count: 3, length: Length::mm(5.0), left: Length::mm(0.6) });
    let outline = Outline { name: "rim".into(), inside: plate.clone(), floor: Height::mm(0.1), held, line: 1 };
    let outline = intent(Vec::new(), Some(outline));
    let mut shop = shop();
    for (walls, side) in [(AlongWalls::Climb, 1), (AlongWalls::Conventional, 0)] {
        shop.machine.walls = walls;
        check_in(&shop, &pocket, &region, 4.0);
        // Ramps between tabs go to and fro, and so do the finer cutters' runs into what is free already.
        for (intent, region) in [(&pocket, &region), (&outline, &plate)] {
            let sides = beside_wall(&shop, intent, region);
            assert!(sides[side] > 100.0 && sides[1 - side] < 0.1 * sides[side], "{walls:?}: {sides:?}");
        }
    }
}

#[test]
fn the_stepover_of_a_cutter_is_kept() {
    let region = rectangle(20.0, 20.0, 24.0, 18.0);
    let pocket = intent(vec![area("field", region.clone(), 4.0)], None);
    let mut shop = shop();
    let mut cut = Vec::new();
    for share in [0.5, 0.4, 0.2, 0.05] {
        shop.cutters.iter_mut().for_each(|c| c.stepover = share);
        check_in(&shop, &pocket, &region, 4.0);
        let stage = plan::plan(&shop, &pocket, &|| false).unwrap().stages.remove(0);
        let level = travelled(&stage).into_iter().filter(|(_, z0, z1, rapid)| !rapid && z0 == z1 && *z0 < 6.0);
        cut.push(level.map(|t| t.0.length()).sum::<f64>());
    }
    // Half the stepover is nearly twice the way.
    assert!(cut[0] < cut[1] && cut[2] > 1.6 * cut[1] && cut[3] > 2.5 * cut[2], "{cut:?}");
}

/// Else a sliver as high as the ramp's last half round stays, into which the next way down would plunge.
#[test]
fn a_helix_ends_with_a_whole_level_round() {
    let region = rectangle(20.0, 20.0, 9.0, 7.0);
    let about = |s: &Segment| match *s {
        Segment::Arc { centre, sweep, .. } => Some((centre, sweep.abs())),
        Segment::Line { .. } => None,
    };
    let mut halfway = 0;
    for tenths in 1..60 {
        let floor = 6.2 - f64::from(tenths) / 20.0;
        let plan = plan::plan(&shop(), &intent(vec![area("field", region.clone(), floor)], None), &|| false).unwrap();
        for stage in &plan.stages {
            let moves = travelled(stage);
            for (k, (ramp, z0, z1, _)) in moves.iter().enumerate() {
                let (Some((centre, turned)), true) = (about(ramp), z1 < z0) else { continue };
                let level = |&(s, a, b, _): &(Segment, f64, f64, bool)| {
                    let (c, sweep) = about(&s)?;
                    (a == b && c.distance(centre) < 1e-6).then_some(sweep)
                };
                let round: Vec<f64> = moves[k + 1..].iter().map_while(level).collect();
                if round.is_empty() {
                    continue;
                }
                assert!(turned > 3.0);
                halfway += usize::from(round.len() > 2);
                let whole = round.iter().sum::<f64>() >= std::f64::consts::TAU - 1e-3;
                assert!(whole, "{} at {floor}: {round:?} after {ramp:?}", stage.name);
            }
        }
    }
    assert!(halfway > 10);
}

/// Into a place narrower than the finest cutter none fits; into one hardly wider it fits, but has no way on which to come down, and what
/// would do is said.
#[test]
fn places_as_narrow_as_the_finest_cutter() {
    let refused = |wide: f64| {
        let plan =
            plan::plan(&shop(), &intent(vec![area("slit", rectangle(20.0, 20.0, wide, wide), 3.0)], None), &|| false);
        let doubts = plan.unwrap().doubts;
        doubts.iter().find(|d| d.blocks()).map(|d| (d.id, format!("{}; {}", d.message, d.way_out.clone().unwrap())))
    };
    assert_eq!(refused(0.79).map(|r| r.0), Some("no-cutter-fits"));
    let (id, says) = refused(0.80).unwrap();
    assert_eq!(id, "hole-not-entered");
    assert!(
        says.contains("0.800 mm wide") && says.contains("0.78 mm or finer") && says.contains("0.81 mm wide"),
        "{says}"
    );
    assert_eq!(refused(0.82), None);
}
