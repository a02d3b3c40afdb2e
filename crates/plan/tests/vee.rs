//! Areas with leaning walls: where the vee's tip goes, by formula and by dense samples of its moves.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

mod common;

use common::{area, intent, rectangle, shop, star, travelled};
use motion::Stage;
use plane::{Contour, Point, Region, Segment, SegmentIndex};
use plate::*;
use proptest::prelude::*;
use quantity::{Angle, Length};

/// The face of the tests' blank, and of the thickest one, mm.
const FACE: f64 = 6.2;
const FACE_HIGH: f64 = 6.3;

fn vee(number: u32, degrees: f64, tip: f64) -> Cutter {
    Cutter {
        name: format!("{degrees} vee"),
        form: Form::Vee { angle: Angle::deg(degrees), tip: Length::mm(tip) },
        core: Length::mm(3.0),
        shank: Length::mm(6.35),
        ..common::cutter(number, 12.7, 14.0)
    }
}

/// A shop with a pointed vee as number 4.
fn with_vee(degrees: f64, tip: f64) -> Shop {
    let mut shop = shop();
    shop.cutters.push(vee(4, degrees, tip));
    shop
}

/// A plate with one area whose depth follows its width, `depth` below the face at most.
fn following(region: Region, degrees: f64, depth: f64) -> Intent {
    let mut intent = intent(vec![area("sign", region, FACE - depth)], None);
    intent.areas[0].edge = EdgeProfile::FollowsWidth(Angle::deg(degrees));
    intent.cutters.push(4);
    intent
}

fn vee_stage(shop: &Shop, intent: &Intent) -> Stage {
    let plan = plan::plan(shop, intent, &|| false).unwrap();
    assert!(!doubt::any_blocks(&plan.doubts), "{:?}", plan.doubts);
    plan.stages.into_iter().find(|s| s.cutter == 4).unwrap()
}

/// Places and heights of the tip, no further apart than `step`.
fn samples(stage: &Stage, step: f64) -> Vec<(Point, f64)> {
    let mut all = Vec::new();
    for (path, z0, z1, _) in travelled(stage) {
        let parts = (path.length() / step).ceil().max(1.0) as usize;
        for k in 0..=parts {
            let t = k as f64 / parts as f64;
            all.push((path.at(t), z0 + (z1 - z0) * t));
        }
    }
    all
}

/// The tip never comes so near an edge that the cone passes it at the face; and it never goes down into what isn't cut steeper
/// than the entry angle.
fn check(shop: &Shop, intent: &Intent) -> Stage {
    let stage = vee_stage(shop, intent);
    let Form::Vee { angle, tip } = shop.cutter(4).unwrap().form else { unreachable!("number 4 is a vee") };
    let (lean, tip) = (libm::tan(angle.to_rad() / 2.0), tip.to_mm() / 2.0);
    let region = &intent.areas[0].region;
    let edge = SegmentIndex::of_contours(region.contours());
    for (p, z) in samples(&stage, 0.02) {
        if z >= FACE {
            continue;
        }
        let room = edge.nearest(p).unwrap().distance;
        let needed = (FACE - z) * lean + tip;
        assert!(room >= needed - 0.002 && (room < 0.002 || region.contains(p)), "{p:?} at {z}: {room} for {needed}");
    }
    let steepest = libm::tan(3.0f64.to_radians());
    // Places cut so far, in cells of a tenth, with their heights.
    let mut cut: std::collections::BTreeMap<(i64, i64), Vec<(Point, f64)>> = std::collections::BTreeMap::new();
    let cell = |p: Point| ((p.x * 10.0).floor() as i64, (p.y * 10.0).floor() as i64);
    for (n, (path, z0, z1, rapid)) in travelled(&stage).into_iter().enumerate() {
        let falls = z0 - z1;
        let parts = (path.length() / 0.01).ceil().clamp(1.0, 1e5) as usize;
        let places = (0..=parts).map(|k| k as f64 / parts as f64).map(|t| (path.at(t), z0 - falls * t));
        let places: Vec<(Point, f64)> = places.collect();
        if falls > 0.0 && falls > steepest * path.length() + 1e-6 {
            for &(p, z) in places.iter().filter(|s| s.1 < FACE_HIGH) {
                let (i, j) = cell(p);
                let near = (-1..=1).flat_map(|a| (-1..=1).map(move |b| (i + a, j + b)));
                let mut near = near.filter_map(|k| cut.get(&k)).flatten();
                // A cut within a hundredth, no more above than its own steps and what a ramp may leave.
                let done = near.any(|(q, h)| q.distance(p) < 0.011 && *h <= z + 0.03);
                assert!(done && !rapid, "move {n}, {path:?} from {z0} to {z1}: not cut at {p:?}");
            }
        }
        for s in places {
            cut.entry(cell(s.0)).or_default().push(s);
        }
    }
    stage
}

/// A stroke of width w is w / (2 tan(angle / 2)) deep along its middle (derived), and rises into its corners along their
/// bisectors.
#[test]
fn a_stroke_is_as_deep_as_it_is_wide() {
    for (degrees, width) in [(90.0, 2.0), (60.0, 2.0), (60.0, 1.0), (30.0, 0.8)] {
        let shop = with_vee(degrees, 0.0);
        let plate = following(rectangle(20.0, 20.0, 30.0, width), degrees, 4.0);
        let stage = check(&shop, &plate);
        let deep = width / (2.0 * libm::tan((degrees / 2.0f64).to_radians()));
        let all = samples(&stage, 0.01);
        let lowest = all.iter().map(|s| s.1).fold(f64::INFINITY, f64::min);
        assert!((FACE - lowest - deep).abs() < 1e-3, "{degrees} {width}: {}", FACE - lowest);
        for corner in [(20.0, 20.0), (50.0, 20.0), (50.0, 20.0 + width), (20.0, 20.0 + width)] {
            let corner = Point::new(corner.0, corner.1);
            assert!(all.iter().any(|(p, z)| p.distance(corner) < 0.003 && (z - FACE).abs() < 0.003), "{corner:?}");
        }
        // All along the middle.
        for k in 0..=20 {
            let p = Point::new(21.5 + 1.35 * f64::from(k), 20.0 + width / 2.0);
            let near = all.iter().filter(|(q, _)| q.distance(p) < 0.011).map(|s| s.1).fold(f64::INFINITY, f64::min);
            assert!((near - lowest).abs() < 1e-3, "{p:?}: {near}");
        }
    }
}

/// A square pocket with walls of 45° and a floor: the ring lies as far from the edge as the floor is deep, and its corners run
/// out along the diagonals to the face.
#[test]
fn a_square_has_a_ring_and_diagonals() {
    let shop = with_vee(90.0, 0.0);
    let plate = following(rectangle(20.0, 20.0, 20.0, 20.0), 90.0, 2.0);
    let plan = plan::plan(&shop, &plate, &|| false).unwrap();
    assert_eq!(plan.stages.last().unwrap().cutter, 4);
    assert!(plan.stages.len() >= 2 && plan.stages[0].cutter != 4);
    let stage = check(&shop, &plate);
    let all = samples(&stage, 0.01);
    for k in 0..=40 {
        let t = f64::from(k) / 40.0;
        let along = Point::new(22.0 + 16.0 * t, 22.0);
        let diagonal = Point::new(20.0 + 2.0 * t, 20.0 + 2.0 * t);
        for (p, z) in [(along, FACE - 2.0), (diagonal, FACE - 2.0 * t)] {
            let near = all.iter().filter(|(q, _)| q.distance(p) < 0.008).map(|s| s.1).fold(f64::INFINITY, f64::min);
            assert!((near - z).abs() < 0.012, "{p:?}: {near} is not {z}");
        }
    }
    // Flat cutters stay on the floor: an upright wall of theirs stands where the floor begins.
    let floor = SegmentIndex::of_contours(rectangle(22.0, 22.0, 16.0, 16.0).contours());
    for stage in plan.stages.iter().filter(|s| s.cutter != 4) {
        let r = shop.cutter(stage.cutter).unwrap().radius();
        for (p, z) in samples(stage, 0.05) {
            assert!(z >= FACE_HIGH || floor.nearest(p).unwrap().distance >= r - 0.002, "{p:?}");
        }
    }
}

#[test]
fn rings_islands_lobes_dots_and_tips() {
    let square = rectangle(20.0, 20.0, 24.0, 24.0);
    let island = Region::solid(Contour::circle(Point::new(33.0, 31.0), 5.0));
    let round = |r: f64| Region::solid(Contour::circle(Point::new(40.0, 40.0), r));
    let lobes = plane::union([&rectangle(20.0, 20.0, 12.0, 12.0), &rectangle(31.0, 25.0, 9.0, 1.2), &round(6.0)]);
    for (region, depth) in [
        (plane::difference(&square, &island), 2.0),
        (plane::difference(&square, &island), 6.0),
        (plane::difference(&round(9.0), &round(7.5)), 3.0),
        (round(1.2), 3.0),
        (round(9.0), 2.0),
        (lobes, 1.5),
        (star(Point::new(50.0, 40.0), 6.0, 25.0), 2.5),
    ] {
        for (degrees, tip) in [(90.0, 0.0), (60.0, 0.1)] {
            check(&with_vee(degrees, tip), &following(region.clone(), degrees, depth));
        }
    }
}

#[test]
fn walls_are_climbed_or_cut_conventionally() {
    let plate = following(rectangle(20.0, 20.0, 30.0, 20.0), 90.0, 2.0);
    for (walls, left) in [(AlongWalls::Climb, true), (AlongWalls::Conventional, false)] {
        let mut shop = with_vee(90.0, 0.0);
        shop.machine.walls = walls;
        let stage = check(&shop, &plate);
        // Once round the floor at its full depth with the room on one side.
        let (mut with, mut against) = (0.0, 0.0);
        for (path, z0, z1, _) in travelled(&stage) {
            if z0 == z1
                && z0 < FACE - 2.0 + 1e-6
                && let Segment::Line { a, b } = path
            {
                let middle = Point::new(35.0, 30.0) - a.lerp(b, 0.5);
                let way = (b - a).cross(middle);
                // Diagonals lead nowhere near across.
                if way.abs() > 5.0 * path.length() {
                    if (way > 0.0) == left { with += path.length() } else { against += path.length() }
                }
            }
        }
        assert!(with > 82.0 && against < 0.05 * with, "{walls:?}: {with} and {against}");
    }
}

#[test]
fn what_no_vee_can_do_is_said() {
    let ids = |shop: &Shop, plate: &Intent| -> Vec<String> {
        plan::plan(shop, plate, &|| false).unwrap().doubts.iter().map(|d| d.id.to_string()).collect()
    };
    let stroke = || rectangle(20.0, 20.0, 30.0, 2.0);
    assert_eq!(ids(&shop(), &following(stroke(), 90.0, 2.0)), ["no-such-vee"]);
    let plan = plan::plan(&with_vee(60.0, 0.0), &following(stroke(), 90.0, 2.0), &|| false).unwrap();
    assert!(
        plan.doubts[0].message.contains("90°") && plan.doubts[0].message.contains("60 vee (60°)"),
        "{:?}",
        plan.doubts
    );
    // A tenth of a degree is the same, two aren't.
    assert!(ids(&with_vee(90.09, 0.0), &following(stroke(), 90.0, 2.0)).is_empty());
    assert_eq!(ids(&with_vee(90.2, 0.0), &following(stroke(), 90.0, 2.0)), ["no-such-vee"]);
    assert_eq!(ids(&with_vee(90.0, 3.0), &following(stroke(), 90.0, 2.0)), ["vee-tip-too-wide"]);
    assert_eq!(ids(&with_vee(90.0, 0.2), &following(stroke(), 90.0, 2.0)), ["vee-tip-leaves"]);
    let mut small = with_vee(90.0, 0.0);
    small.cutters[3].cutting_width = Length::mm(2.0);
    small.cutters[3].diameter = Length::mm(2.0);
    assert_eq!(ids(&small, &following(stroke(), 90.0, 2.0)), ["vee-too-small"]);
    // A floor of 0.4 mm between walls.
    assert_eq!(ids(&with_vee(90.0, 0.0), &following(stroke(), 90.0, 0.8)), ["floor-too-narrow"]);
    // A floor that is wide enough, but deeper than the flat cutters are long, and one without any.
    let mut short = with_vee(90.0, 0.0);
    short.cutters.iter_mut().take(3).for_each(|c| (c.flute_length, c.stick_out) = (Length::mm(1.5), Length::mm(1.8)));
    let square = || following(rectangle(20.0, 20.0, 20.0, 20.0), 90.0, 2.0);
    assert_eq!(ids(&short, &square()), ["no-cutter-fits"]);
    let mut only = square();
    only.cutters = vec![4];
    assert_eq!(ids(&with_vee(90.0, 0.0), &only), ["no-cutter-fits"]);
    // A slope that never comes to its floor.
    let mut slope = following(stroke(), 90.0, 2.0);
    slope.areas[0].edge = EdgeProfile::Sloped(Angle::deg(45.0));
    assert_eq!(ids(&with_vee(90.0, 0.0), &slope), ["floor-not-reached"]);
}

/// Letters in a floor that is already 1 mm below the face, near its wall.
#[test]
fn a_cone_keeps_clear_of_higher_walls() {
    let nested = |x: f64| {
        let sign = rectangle(x, 30.0, 20.0, 2.0);
        let field = plane::difference(&rectangle(20.0, 20.0, 50.0, 30.0), &sign);
        let mut plate = intent(vec![area("field", field, FACE - 1.0), area("sign", sign, FACE - 3.0)], None);
        plate.areas[1].edge = EdgeProfile::FollowsWidth(Angle::deg(90.0));
        plate.cutters.push(4);
        plan::plan(&with_vee(90.0, 0.0), &plate, &|| false).unwrap()
    };
    assert!(nested(35.0).doubts.is_empty(), "{:?}", nested(35.0).doubts);
    // 1 mm deep in the field, whose wall stands 1.1 mm higher on the thickest blank: the cone is 2.1 mm wide there, and its
    // tip 1 mm from the sign's end.
    assert!(nested(21.2).doubts.is_empty(), "{:?}", nested(21.2).doubts);
    let near = nested(20.5).doubts;
    assert_eq!(near[0].id, "vee-meets-wall");
    assert!(near[0].message.contains("0.6 mm"), "{near:?}");
}

/// A polygon from points in polar order, some of them near each other.
fn polygon() -> impl Strategy<Value = Region> {
    prop::collection::vec((0.05f64..1.0, 1.5f64..14.0), 3..12).prop_filter_map("simple", |corners| {
        let whole: f64 = corners.iter().map(|c| c.0).sum();
        let mut angle = 0.0;
        let points = corners.iter().map(|(turn, far)| {
            angle += turn / whole * std::f64::consts::TAU;
            Point::new(50.0, 40.0) + Point::at_angle(angle) * *far
        });
        let contour = Contour::polygon(points);
        let checked = plane::check([&contour], plane::FillRule::NonZero);
        (checked.region.area() > 2.0).then_some(checked.region)
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    #[test]
    fn the_cone_stays_within_any_polygon(region in polygon(), degrees in prop::sample::select(vec![40.0, 60.0, 90.0]), depth in 0.5f64..3.0) {
        check(&with_vee(degrees, 0.0), &following(region, degrees, depth));
    }
}
