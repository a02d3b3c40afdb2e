//! Plans looked at as moves: where the cutter goes, and that it comes everywhere it can.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use motion::{Move, Stage};
use plane::{Bounds, Contour, Point, Region, Segment, SegmentIndex, Vertex};
use plate::*;
use quantity::{Feed, Height, Length, Speed};

fn cutter(number: u32, width: f64, flutes: f64) -> Cutter {
    Cutter {
        number,
        name: format!("{width} flat"),
        form: Form::Flat,
        diameter: Length::mm(width),
        cutting_width: Length::mm(width),
        width_measured: false,
        flutes: 1,
        flute_length: Length::mm(flutes),
        core: Length::mm(width * 0.6),
        shank: Length::mm(3.175),
        stick_out: Length::mm(20.0),
        may_drill: false,
        stepover: 0.4,
        chip_load: None,
        feed: None,
        pass_depth: None,
    }
}

fn shop() -> Shop {
    let feed = Feed::mm_per_min;
    Shop {
        name: "Test".into(),
        cutters: vec![cutter(1, 3.175, 12.0), cutter(2, 1.5875, 6.0), cutter(3, 0.79375, 4.0)],
        machine: Machine {
            name: "Router".into(),
            travel: [Length::mm(600.0), Length::mm(600.0), Length::mm(80.0)],
            greatest_feed: feed(3000.0),
            greatest_feed_z: feed(1000.0),
            rapid: feed(4000.0),
            rapid_z: feed(1500.0),
            acceleration: [300.0, 300.0, 200.0],
            corner_deviation: Length::mm(0.02),
            resolution: Length::mm(0.005),
            clearance: Length::mm(3.0),
            walls: AlongWalls::Climb,
            program_start: 60.0,
            cutter_change: 120.0,
        },
        spindle: Spindle {
            speed: SpindleSpeed::Range { least: Speed::rev_per_min(8000.0), greatest: Speed::rev_per_min(24000.0) },
            power: 500.0,
            nut_diameter: Length::mm(17.0),
            nut_length: Length::mm(14.0),
            body_diameter: Length::mm(65.0),
        },
        touch_off: TouchOff {
            feeler: Length::mm(0.1),
            feeler_error: Length::mm(0.01),
            repeatability: Length::mm(0.02),
        },
        dialect: Dialect {
            units: OutUnits::Mm,
            decimals: 3,
            line_numbers: false,
            arcs: true,
            end: "M30".into(),
            speed: SpeedNote::Words,
            extension: "nc".into(),
        },
        sheets: Vec::new(),
    }
}

fn blank(width: f64, height: f64) -> Blank {
    Blank {
        size: [Length::mm(width), Length::mm(height)],
        layers: Vec::new(),
        bond: Length::ZERO,
        under: Vec::new(),
        into_table: Length::ZERO,
        underside: Height::mm(0.2),
        face: Height::mm(6.2),
        face_low: Height::mm(6.1),
        face_high: Height::mm(6.3),
    }
}

fn area(name: &str, region: Region, floor: f64) -> Area {
    Area {
        name: name.into(),
        region,
        floor: Height::mm(floor),
        kind: FloorKind::AboveTable,
        edge: EdgeProfile::Upright,
        seamless: false,
        strokes: Strokes::default(),
        held: Held::Cleared,
        reveal: None,
        line: 1,
    }
}

fn intent(areas: Vec<Area>, outline: Option<Outline>) -> Intent {
    Intent {
        title: "Test".into(),
        blank: blank(100.0, 80.0),
        areas,
        outline,
        holds: Vec::new(),
        cutters: vec![1, 2, 3],
    }
}

fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Region {
    Region::solid(Contour::rectangle(Bounds { min: Point::new(x, y), max: Point::new(x + w, y + h) }))
}

fn star(centre: Point, inner: f64, outer: f64) -> Region {
    let tip = |i: u32| {
        centre
            + Point::at_angle(f64::from(i) * std::f64::consts::PI / 5.0)
                * if i.is_multiple_of(2) { outer } else { inner }
    };
    Region::solid(Contour::polygon((0..10).map(tip)))
}

/// Segments of a stage with the heights at their ends; rapids and feeds alike.
fn travelled(stage: &Stage) -> Vec<(Segment, f64, f64, bool)> {
    let mut found = Vec::new();
    let mut here: Option<(Point, f64)> = None;
    for step in &stage.moves {
        let (to, segment, rapid) = match step {
            Move::Pass(_) => continue,
            Move::Rapid(to) => (*to, here.map(|(p, _)| Segment::Line { a: p, b: to.p }), true),
            Move::Line { to, .. } => (*to, here.map(|(p, _)| Segment::Line { a: p, b: to.p }), false),
            Move::Arc { to, centre, ccw, .. } => {
                let arc = here.map(|(p, _)| {
                    let from = (p - *centre).angle();
                    let turn = ((to.p - *centre).angle() - from).rem_euclid(std::f64::consts::TAU);
                    let sweep = if *ccw { turn } else { turn - std::f64::consts::TAU };
                    Segment::with_bulge(p, to.p, libm::tan(sweep / 4.0))
                });
                (*to, arc, false)
            }
        };
        if let (Some((_, z)), Some(segment)) = (here, segment) {
            found.push((segment, z, to.z, rapid));
        }
        here = Some((to.p, to.z));
    }
    found
}

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
