//! Narrow strokes and the table of reach, end to end: a folder per case under `tests/strokes/`, and formulas from a plate file.
//!
//! A case's folder holds `plate.toml`, `plate.svg` if the common one doesn't serve, and `expected.txt`: verdict, doubts about strokes, hand
//! work and reach. With `UPDATE_CASES=1` in the environment the expected texts are written anew, to be read by a person
//! before they are committed.
#![expect(clippy::unwrap_used, reason = "a case that cannot be read fails its test")]

use packet::{AreaReach, Outcome, Spot, reached};
use proof::Settings;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

const SETTINGS: Settings = Settings { pitch: 0.04, picture_pitch: 1.0 };

fn cases() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/strokes")
}

/// Kinds of doubt that cases are about.
fn concerns(id: &str) -> bool {
    ["stroke", "no-cutter-fits", "hole-", "leftover", "gouge", "wall-"].iter().any(|k| id.starts_with(k))
}

fn shown(folder: &Path) -> String {
    let place = tempfile::tempdir().unwrap();
    for from in [cases().join("common"), folder.to_owned()] {
        for entry in fs::read_dir(from).unwrap().map(Result::unwrap) {
            fs::copy(entry.path(), place.path().join(entry.file_name())).unwrap();
        }
    }
    let fonts = Path::new(env!("CARGO_MANIFEST_DIR")).join("crates/sheet/fonts");
    fs::copy(fonts.join("GenBkBasR.ttf"), place.path().join("lettering.ttf")).unwrap();
    let mut outcome = Outcome::default();
    let computed = packet::compute(&place.path().join("plate.toml"), &SETTINGS, &(), &mut outcome);
    let mut text = match outcome.verdict {
        Some(verdict) => format!("{verdict:?}\n\n").to_lowercase(),
        None => "not proven: refused before\n\n".to_owned(),
    };
    for doubt in outcome.doubts.iter().filter(|d| concerns(d.id) || d.blocks()) {
        let _ = writeln!(text, "{}\n", doubt::render(doubt, &outcome.sources, false));
    }
    if let Some((computed, _)) = computed {
        for work in &computed.proof.hand_work {
            let takes = work.cutter_needed.map_or_else(|| "none".into(), |c| format!("{c:.2}"));
            let _ = writeln!(
                text,
                "by hand in `{}` at x {:.1} y {:.1}: {:.2} mm², gap {:.2}, cutter {takes}",
                work.area, work.at.x, work.at.y, work.area_left, work.gap
            );
        }
        let table = reached::table(&computed.job.shop, &computed.job.intent);
        let _ = write!(text, "\n{}", reached::text(&table));
    }
    text
}

#[test]
fn every_case_is_as_expected() {
    let mut wrong = String::new();
    let mut folders: Vec<PathBuf> = fs::read_dir(cases()).unwrap().map(|e| e.unwrap().path()).collect();
    folders.retain(|p| p.join("plate.toml").exists() && !p.ends_with("common"));
    folders.sort();
    assert!(folders.len() >= 8, "{}", folders.len());
    for folder in folders {
        let (shown, file) = (shown(&folder), folder.join("expected.txt"));
        if std::env::var_os("UPDATE_CASES").is_some() {
            fs::write(&file, &shown).unwrap();
        } else if fs::read_to_string(&file).unwrap_or_default() != shown {
            let _ = writeln!(wrong, "{}:\n{shown}", folder.display());
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// Programs are proven against the widened strokes whoever brings them, and against the drawn ones they would not be.
#[test]
fn programs_from_elsewhere_are_judged_by_the_same_strokes() {
    let place = tempfile::tempdir().unwrap();
    for file in ["common/plate.svg", "centre-line/plate.toml"] {
        let from = cases().join(file);
        fs::copy(&from, place.path().join(from.file_name().unwrap())).unwrap();
    }
    let plate = place.path().join("plate.toml");
    let (computed, _) = packet::compute(&plate, &SETTINGS, &(), &mut Outcome::default()).unwrap();
    let prove = |plate: &Path| {
        let open = |(name, text): &(String, String)| {
            fs::write(place.path().join(name), text).unwrap();
            packet::elsewhere::Foreign::open(&place.path().join(name), None).unwrap()
        };
        let programs = computed.programs.iter().skip(1).map(open).collect();
        packet::elsewhere::prove(plate, programs, proof::Zero::Table, &packet::Effort::from(&SETTINGS), None, &())
    };
    let outcome = prove(&plate);
    assert_eq!(outcome.verdict, Some(proof::Verdict::Proven), "{:?}", outcome.doubts);
    assert!(outcome.doubts.iter().any(|d| d.id == "stroke-widened"));
    let drawn = fs::read_to_string(&plate).unwrap().replace("centre line", "leave");
    fs::write(place.path().join("drawn.toml"), drawn).unwrap();
    let outcome = prove(&place.path().join("drawn.toml"));
    assert_eq!(outcome.verdict, Some(proof::Verdict::Refused));
    assert!(outcome.doubts.iter().any(|d| d.id == "wall-gouge" && d.blocks()), "{:?}", outcome.doubts);
}

/// The table of a drawing of one path, cut 2 mm deep by one cutter of a width.
fn table(path: &str, width: f64) -> AreaReach {
    let place = tempfile::tempdir().unwrap();
    let drawing = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"60mm\" height=\"60mm\" viewBox=\"0 0 60 60\"><path id=\"area\" d=\"{path}\"/></svg>"
    );
    let cutter = format!(
        "diameter = {width}\nflutes = 1\nflute_length = 6\ncore = {}\nshank = {width}\nstick_out = 20\n",
        0.6 * width
    );
    let (head, _) = intake::STARTER_SHOP.split_once("[[cutter]]").unwrap();
    let sheets = intake::STARTER_SHOP.split_once("[[sheet]]").unwrap().1;
    let shop = format!("{head}[[cutter]]\nnumber = 1\nname = \"one\"\nform = \"flat\"\n{cutter}\n[[sheet]]{sheets}");
    fs::write(place.path().join("shop.toml"), shop).unwrap();
    fs::write(place.path().join("drawing.svg"), drawing).unwrap();
    fs::write(
        place.path().join("plate.toml"),
        "title = \"reach\"\ndrawing = \"drawing.svg\"\n[blank]\nsize = [60, 60]\nbond = 0.05\nbond_spread = 0.0\nbow = 0.0\n\
         layers = [{ sheet = \"night black 3\", measured = [3.0] }, { sheet = \"ruby clear 3\", measured = [3.0] }]\n\
         [[area]]\non = \"area\"\nfloor = { below_face = 2 }\n",
    )
    .unwrap();
    let taken = intake::take(&place.path().join("plate.toml"));
    let job = taken.job.unwrap();
    reached::table(&job.shop, &job.intent).remove(0)
}

fn near(value: f64, expected: f64, tolerance: f64) {
    assert!((value - expected).abs() <= tolerance, "{value} is not {expected}");
}

/// Square of 20 opened by 1.5875: 397.8367; its corners r² (1 - pi/4) 0.540830 mm² with gaps r (1/sin(a/2) - 1) of 0.657564
/// (derived).
#[test]
fn a_square_through_the_table() {
    let square = table("M10 10h20v20h-20z", 3.175);
    near(square.size, 400.0, 1e-6);
    near(square.cutters[0].clears, 397.8367, 1e-4);
    near(square.cutters[0].leaves, 4.0 * 0.540_830, 1e-4);
    assert_eq!((square.cutters[0].spots, square.by_hand.len()), (4, 4));
    for spot in &square.by_hand {
        near(spot.area, 0.540_830, 1e-5);
        near(spot.gap.unwrap(), 0.657_564, 1e-5);
        assert_eq!((spot.what, spot.takes), (Spot::Corner, None));
    }
}

/// Corners of angle a and radius r leave r² (cot(a/2) - (pi - a)/2) with gaps r (1/sin(a/2) - 1): 60° 0.684853 and 1, 90°
/// 0.214602 and 0.414214, 120° 0.053751 and 0.154701 times r² and r; triangle of side 20 opened by 1: 171.1505 (derived).
#[test]
fn corners_by_angle_through_the_table() {
    let triangle = table(&format!("M10 40H30L20 {}z", 40.0 - 10.0 * 3f64.sqrt()), 2.0);
    near(triangle.cutters[0].clears, 171.1505, 1e-4);
    for (radius, corners, area, gap) in
        [(1.0, 3, 0.684_853, 1.0), (1.5, 4, 0.214_602, 0.414_214), (2.0, 6, 0.053_751, 0.154_701)]
    {
        let point = |k: u32| {
            let p = plane::Point::at_angle(std::f64::consts::TAU * (f64::from(k) + 0.2) / f64::from(corners)) * 14.0;
            format!("{} {}", 30.0 + p.x, 30.0 + p.y)
        };
        let points = (0..corners).map(point);
        let found = table(&format!("M{}z", points.collect::<Vec<_>>().join("L")), 2.0 * radius);
        assert_eq!(found.by_hand.len(), corners as usize);
        for spot in &found.by_hand {
            near(spot.area, area * radius * radius, 2e-5 * radius * radius);
            near(spot.gap.unwrap(), gap * radius, 2e-5 * radius);
            assert_eq!((spot.what, spot.takes), (Spot::Corner, None));
        }
    }
}

/// A slot exactly as wide as the cutter passes; 1 µm narrower it doesn't, and what lies behind is named as lost, with the cutter
/// that would take it.
#[test]
fn a_slot_and_a_neck_through_the_table() {
    let slot = |w: f64| {
        let (a, b) = (20.0 - w / 2.0, 20.0 + w / 2.0);
        table(&format!("M10 15H20V{a}H40V{b}H20V25H10z"), 3.175)
    };
    let passes = slot(3.175);
    assert!(passes.by_hand.iter().all(|s| s.what == Spot::Corner), "{:?}", passes.by_hand);
    assert_eq!(passes.by_hand.len(), 6);
    let narrower = slot(3.174);
    let lost: Vec<_> = narrower.by_hand.iter().filter(|s| s.what == Spot::Stroke).collect();
    assert_eq!((lost.len(), narrower.by_hand.len()), (1, 5));
    near(lost[0].takes.unwrap(), 3.174, 1e-6);
    assert!(lost[0].area > 3.174 * 18.0 && lost[0].at.x > 20.0, "{lost:?}");
    // A neck between two chambers is named by itself; a chamber behind it that no cutter enters is lost with it.
    let neck = |w: f64, far: f64| {
        let (a, b, c, d) = (20.0 - w / 2.0, 20.0 + w / 2.0, 20.0 - far / 2.0, 20.0 + far / 2.0);
        table(&format!("M10 15H20V{a}H26V{c}H40V{d}H26V{b}H20V25H10z"), 3.175)
    };
    let both = neck(3.174, 8.0);
    let lost: Vec<_> = both.by_hand.iter().filter(|s| s.what == Spot::Stroke).collect();
    assert_eq!((lost.len(), both.by_hand.len()), (1, 9));
    near(lost[0].takes.unwrap(), 3.174, 1e-6);
    assert!(lost[0].at.x > 20.0 && lost[0].at.x < 26.0);
    let far = neck(3.174, 3.1745);
    let lost: Vec<_> = far.by_hand.iter().filter(|s| s.what == Spot::Stroke).collect();
    assert_eq!(lost.len(), 1);
    assert!(lost[0].area > 3.174 * 18.0, "{lost:?}");
    assert!(neck(3.175, 8.0).by_hand.iter().all(|s| s.what == Spot::Corner));
}
