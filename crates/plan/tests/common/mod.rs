//! A shop, plates and a look at moves, for tests of plans.
#![allow(dead_code, reason = "not every test uses all of it")]

use motion::{Move, Stage};
use plane::{Bounds, Contour, Point, Region, Segment};
use plate::*;
use quantity::{Feed, Height, Length, Speed};

pub(crate) fn cutter(number: u32, width: f64, flutes: f64) -> Cutter {
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
        plunge: None,
        entry_angle: None,
        speed: None,
    }
}

pub(crate) fn shop() -> Shop {
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
            side_force: None,
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

pub(crate) fn blank(width: f64, height: f64) -> Blank {
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

pub(crate) fn area(name: &str, region: Region, floor: f64) -> Area {
    Area {
        name: name.into(),
        region,
        floor: Height::mm(floor),
        kind: FloorKind::AboveTable,
        edge: EdgeProfile::Upright,
        seamless: false,
        strokes: plate::Strokes::default(),
        held: Held::Cleared,
        reveal: None,
        line: 1,
    }
}

pub(crate) fn intent(areas: Vec<Area>, outline: Option<Outline>) -> Intent {
    Intent {
        title: "Test".into(),
        blank: blank(100.0, 80.0),
        areas,
        outline,
        holds: Vec::new(),
        cutters: vec![1, 2, 3],
    }
}

pub(crate) fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Region {
    Region::solid(Contour::rectangle(Bounds { min: Point::new(x, y), max: Point::new(x + w, y + h) }))
}

pub(crate) fn star(centre: Point, inner: f64, outer: f64) -> Region {
    let tip = |i: u32| {
        centre
            + Point::at_angle(f64::from(i) * std::f64::consts::PI / 5.0)
                * if i.is_multiple_of(2) { outer } else { inner }
    };
    Region::solid(Contour::polygon((0..10).map(tip)))
}

/// Segments of a stage with the heights at their ends; rapids and feeds alike.
pub(crate) fn travelled(stage: &Stage) -> Vec<(Segment, f64, f64, bool)> {
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
