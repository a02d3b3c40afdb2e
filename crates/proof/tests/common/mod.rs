//! A small shop, small plates, and program texts written by hand: no planner, no writer.

#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    clippy::allow_attributes,
    reason = "fixtures; each test file uses its own part"
)]

use doubt::Doubt;
use plane::{Bounds, Contour, Point, Region};
use plate::{
    Area, Blank, Cutter, Dialect, EdgeProfile, FloorKind, Form, Held, Hold, Intent, Layer, Machine, Material, OutUnits,
    Outline, Process, Sheet, Shop, SpeedNote, Spindle, SpindleSpeed, Tabs, TouchOff, Under,
};
use proof::{ProgramText, Proof, Settings, Verdict};
use quantity::{Angle, Feed, Height, Length, Speed};

pub(crate) fn mm(v: f64) -> Length {
    Length::mm(v)
}

pub(crate) fn cutter(number: u32, form: Form, width: f64, flutes: f64, shank: f64) -> Cutter {
    Cutter {
        number,
        name: format!("cutter {number}"),
        form,
        diameter: mm(width),
        cutting_width: mm(width),
        width_measured: true,
        flutes: 1,
        flute_length: mm(flutes),
        core: mm(width * 0.6),
        shank: mm(shank),
        stick_out: mm(20.0),
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

/// Cutters: 1 flat 3.175, 2 flat 1.5875, 3 flat 0.79375, 4 ball 3, 5 vee 90°.
pub(crate) fn shop() -> Shop {
    Shop {
        name: "bench".into(),
        cutters: vec![
            cutter(1, Form::Flat, 3.175, 12.0, 3.175),
            cutter(2, Form::Flat, 1.5875, 6.0, 3.175),
            cutter(3, Form::Flat, 0.79375, 3.0, 3.175),
            cutter(4, Form::Ball, 3.0, 10.0, 3.175),
            cutter(5, Form::Vee { angle: Angle::deg(90.0), tip: mm(0.1) }, 6.0, 3.0, 3.175),
        ],
        machine: Machine {
            name: "router".into(),
            travel: [mm(600.0), mm(600.0), mm(80.0)],
            greatest_feed: Feed::mm_per_min(3000.0),
            greatest_feed_z: Feed::mm_per_min(600.0),
            rapid: Feed::mm_per_min(3000.0),
            rapid_z: Feed::mm_per_min(1000.0),
            acceleration: [250.0; 3],
            corner_deviation: mm(0.01),
            resolution: mm(0.005),
            clearance: mm(3.0),
            walls: plate::AlongWalls::Climb,
            side_force: None,
            program_start: 60.0,
            cutter_change: 120.0,
        },
        spindle: Spindle {
            speed: SpindleSpeed::Range { least: Speed::rev_per_min(8000.0), greatest: Speed::rev_per_min(24000.0) },
            power: 500.0,
            nut_diameter: mm(17.0),
            nut_length: mm(15.0),
            body_diameter: mm(65.0),
        },
        touch_off: TouchOff { feeler: mm(0.1), feeler_error: mm(0.01), repeatability: mm(0.02) },
        dialect: Dialect {
            units: OutUnits::Mm,
            decimals: 3,
            line_numbers: false,
            arcs: true,
            end: "M30".into(),
            speed: SpeedNote::Words,
            extension: "nc".into(),
        },
        sheets: vec![sheet()],
    }
}

fn sheet() -> Sheet {
    Sheet {
        name: "night black".into(),
        thickness: mm(3.0),
        material: Material::CastAcrylic,
        process: Process::Cast,
        colour: [0, 0, 0],
        passes_light: 0.0,
    }
}

/// A blank of one 6 mm sheet on 0.2 mm of tape; its face is at 6.2, at most 6.3.
pub(crate) fn blank(x: f64, y: f64) -> Blank {
    let layer = Layer {
        sheet: sheet(),
        thickness: mm(6.0),
        spread: mm(0.1),
        measured: true,
        top: Height::mm(6.2),
        top_spread: mm(0.1),
        bottom: Height::mm(0.2),
        bottom_spread: mm(0.02),
    };
    Blank {
        size: [mm(x), mm(y)],
        layers: vec![layer],
        bond: mm(0.05),
        under: vec![Under { name: "tape".into(), thickness: mm(0.2) }],
        into_table: mm(0.0),
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

pub(crate) fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Region {
    Region::solid(Contour::rectangle(Bounds { min: Point::new(x, y), max: Point::new(x + w, y + h) }))
}

pub(crate) fn intent(blank: Blank, areas: Vec<Area>) -> Intent {
    Intent { title: "test".into(), blank, areas, outline: None, holds: vec![], cutters: vec![1, 2, 3] }
}

pub(crate) fn screw(x: f64, y: f64) -> Hold {
    Hold { name: "screw".into(), shape: Contour::circle(Point::new(x, y), 4.0), top: Height::mm(10.0) }
}

pub(crate) fn outline(inside: Region, floor: f64, tabs: Option<Tabs>) -> Outline {
    Outline {
        name: "rim".into(),
        inside,
        floor: Height::mm(floor),
        held: tabs.map_or(Held::Nothing, Held::Tabs),
        line: 1,
    }
}

/// Program text under construction.
#[derive(Clone, Default)]
pub(crate) struct Text {
    pub(crate) lines: Vec<String>,
}

impl Text {
    pub(crate) fn start(cutter: u32, speed: f64) -> Self {
        let mut text = Self::default();
        text.put("G21 G17 G90 G94").put(format!("T{cutter}")).put(format!("M3 S{speed:.0}")).put("G0 Z15");
        text
    }

    pub(crate) fn put(&mut self, line: impl Into<String>) -> &mut Self {
        self.lines.push(line.into());
        self
    }

    pub(crate) fn end(&mut self) -> Self {
        self.put("G0 Z15").put("M5").put("M30").clone()
    }

    /// A helix down about a centre from height `from` to `to`, counter-clockwise, at 3 degrees, with a level turn at
    /// the end.
    pub(crate) fn helix(&mut self, x: f64, y: f64, r: f64, from: f64, to: f64) -> &mut Self {
        self.put(format!("G0 X{:.4} Y{y:.4}", x + r)).put(format!("G0 Z{:.4}", from + 0.2));
        let pitch = 2.0 * std::f64::consts::PI * r * 0.052;
        let mut z = from + 0.2;
        self.put(format!("G1 Z{z:.4} F400"));
        while z > to {
            z = (z - pitch).max(to);
            self.put(format!("G3 X{:.4} Y{y:.4} Z{z:.4} I{:.4} J0 F800", x + r, -r));
        }
        self.put(format!("G3 X{:.4} Y{y:.4} I{:.4} J0 F800", x + r, -r))
    }

    /// Rectangle rings from the middle outward to half sizes, counter-clockwise at the height the cutter is at.
    pub(crate) fn rings(&mut self, x: f64, y: f64, half: (f64, f64), step: f64) -> &mut Self {
        let count = (half.0.min(half.1) / step).ceil() as usize;
        for k in (0..count).rev() {
            let back = step * k as f64;
            let (w, h) = (half.0 - back, half.1 - back);
            self.put(format!("G1 X{:.4} Y{:.4} F1000", x + w, y - h));
            self.put(format!("G1 Y{:.4}", y + h));
            self.put(format!("G1 X{:.4}", x - w));
            self.put(format!("G1 Y{:.4}", y - h));
            self.put(format!("G1 X{:.4}", x + w));
        }
        self
    }

    pub(crate) fn text(&self) -> String {
        self.lines.join("\n") + "\n"
    }
}

/// A rectangular pocket in passes of 1.5 mm from the blank's highest face, for cutter 1 (r 1.5875); `off` moves the
/// wall pass outward.
pub(crate) fn pocket(x: f64, y: f64, w: f64, h: f64, floor: f64, off: f64) -> Text {
    let mut text = Text::start(1, 18000.0);
    let r = 1.5875;
    let half = (w / 2.0 - r + off, h / 2.0 - r + off);
    let (cx, cy) = (x + w / 2.0, y + h / 2.0);
    let mut top = 6.3;
    while top > floor + 1e-9 {
        let z: f64 = f64::max(top - 1.5, floor);
        text.helix(cx, cy, 1.2, top, z);
        text.put(format!("G1 X{cx:.4} Y{cy:.4} F1000"));
        text.rings(cx, cy, half, 1.2);
        text.put("G0 Z15");
        top = z;
    }
    text.end()
}

pub(crate) fn settings() -> Settings {
    Settings { pitch: 0.05, picture_pitch: 0.1 }
}

pub(crate) fn run(shop: &Shop, intent: &Intent, texts: &[Text]) -> Proof {
    run_at(shop, intent, texts, &settings())
}

pub(crate) fn run_at(shop: &Shop, intent: &Intent, texts: &[Text], settings: &Settings) -> Proof {
    let bytes: Vec<(String, String)> = texts.iter().enumerate().map(|(i, t)| (format!("{i}.nc"), t.text())).collect();
    let programs: Vec<ProgramText> = bytes
        .iter()
        .map(|(file, text)| ProgramText { file, bytes: text.as_bytes(), cutter: None, cutting: true })
        .collect();
    proof::prove(shop, intent, &programs, settings, &()).unwrap()
}

pub(crate) fn ids(proof: &Proof) -> Vec<&'static str> {
    proof.findings.iter().map(|d| d.id).collect()
}

pub(crate) fn shown(proof: &Proof) -> String {
    proof.findings.iter().map(|d| doubt::render(d, &(), false) + "\n").collect()
}

pub(crate) fn assert_proven(proof: &Proof) {
    assert_eq!(proof.verdict, Verdict::Proven, "{}", shown(proof));
}

/// Refused by a finding with this id that names a line or a place.
pub(crate) fn assert_refused(proof: &Proof, id: &str) -> Doubt {
    assert_eq!(proof.verdict, Verdict::Refused, "{}", shown(proof));
    let found = proof.findings.iter().find(|d| d.id == id);
    let found = found.unwrap_or_else(|| panic!("no {id} in\n{}", shown(proof)));
    assert!(!found.places.is_empty(), "{found:?}");
    found.clone()
}
