//! A folder per case under `tests/cases/`: a plate file, what it names, and the doubts and heights expected of it in
//! `expected.txt`. Files that a case lacks are taken from `tests/cases/common/`, fonts from the crates that have them. With `UPDATE_CASES=1` in the
//! environment the expected texts are written anew, to be read by a person before they are committed.

#![expect(clippy::unwrap_used, reason = "a case that cannot be read fails its test")]

use intake::{Taken, sentence, take_named, through_sentence};
use quantity::trimmed;
use std::fmt::Write;
use std::io;
use std::path::{Path, PathBuf};

fn cases() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases")
}

fn taken(case: &Path) -> Taken {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let beside = [cases().join("common"), crates.join("drawing/tests/fonts"), crates.join("sheet/fonts")];
    let lookup = |name: &str| {
        let missing = |found: &io::Result<_>| matches!(found, Err(e) if e.kind() == io::ErrorKind::NotFound);
        let own = std::fs::read(case.join(name));
        if missing(&own) {
            beside.iter().map(|f| std::fs::read(f.join(name))).find(|f| !missing(f)).unwrap_or(own)
        } else {
            own
        }
    };
    take_named("plate.toml", &std::fs::read(case.join("plate.toml")).unwrap(), &lookup)
}

fn shown(taken: &Taken) -> String {
    let mut text = String::new();
    for doubt in &taken.doubts {
        let _ = writeln!(text, "{}\n", doubt::render(doubt, &taken.sources, false));
    }
    let Some(job) = &taken.job else {
        text.push_str("no job\n");
        return text;
    };
    let (blank, mm) = (&job.intent.blank, |v: f64| trimmed(v, 3));
    let _ = writeln!(
        text,
        "{}: face {} ({} to {}), underside {}, cutters {:?}",
        job.intent.title, blank.face, blank.face_low, blank.face_high, blank.underside, job.intent.cutters
    );
    for layer in &blank.layers {
        let _ = writeln!(
            text,
            "  {}: {} ± {} to {} ± {}",
            layer.sheet.name, layer.bottom, layer.bottom_spread, layer.top, layer.top_spread
        );
    }
    for area in &job.intent.areas {
        let _ = writeln!(text, "  line {}: {}; {} mm²", area.line, sentence(area, blank), mm(area.region.area()));
    }
    if let Some(outline) = &job.intent.outline {
        let area = mm(outline.inside.area());
        let _ = writeln!(text, "  line {}: {}; {area} mm²", outline.line, through_sentence(outline, blank));
    }
    for hold in &job.intent.holds {
        let at = hold.shape.bounds().centre();
        let _ = writeln!(text, "  {} at {}, {}, top {}", hold.name, mm(at.x), mm(at.y), hold.top);
    }
    text
}

fn folders() -> Vec<PathBuf> {
    let entries = std::fs::read_dir(cases()).unwrap().map(|e| e.unwrap().path());
    let mut folders: Vec<PathBuf> = entries.filter(|p| p.join("plate.toml").exists()).collect();
    folders.sort();
    folders
}

#[test]
fn every_case_is_as_expected() {
    let mut wrong = String::new();
    for case in folders() {
        let (shown, file) = (shown(&taken(&case)), case.join("expected.txt"));
        if std::env::var_os("UPDATE_CASES").is_some() {
            std::fs::write(&file, &shown).unwrap();
        }
        let expected = std::fs::read_to_string(&file).unwrap_or_default();
        if expected != shown {
            let name = case.file_name().unwrap().to_string_lossy().into_owned();
            let _ = writeln!(wrong, "--- {name}: expected\n{expected}\n--- {name}: got\n{shown}");
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn a_shop_says_how_its_cutters_run() {
    let job = taken(&cases().join("good-shop-walls")).job.unwrap();
    assert_eq!(job.shop.machine.walls, plate::AlongWalls::Conventional);
    assert_eq!(job.shop.cutters.iter().map(|c| c.stepover).collect::<Vec<_>>(), [0.25, 0.4, 0.4]);
}

/// A bad case's name says so, and what makes it bad: a case `bad-<id>-...` must raise a refusal, a good one a job.
#[test]
fn bad_cases_are_refused_and_good_ones_give_a_job() {
    let (mut good, mut bad) = (0, 0);
    for case in folders() {
        let name = case.file_name().unwrap().to_string_lossy().into_owned();
        let taken = taken(&case);
        assert_eq!(taken.job.is_some(), !name.starts_with("bad-"), "{name}");
        assert_eq!(taken.job.is_none(), doubt::any_blocks(&taken.doubts), "{name}");
        for doubt in taken.doubts.iter().filter(|d| d.blocks()) {
            assert!(!doubt.places.is_empty() && doubt.way_out.is_some(), "{name}: {doubt:?}");
            if !doubt.id.starts_with("drawing") {
                let known = intake::KINDS.iter().chain(drawing::KINDS).any(|k| k.id == doubt.id);
                assert!(known, "{name}: {}", doubt.id);
            }
        }
        if name.starts_with("bad-") {
            bad += 1;
        } else {
            good += 1;
        }
    }
    assert!(bad >= 25 && good >= 8, "{bad} bad, {good} good");
}

/// Every kind of doubt is raised by some case.
#[test]
fn every_kind_has_a_case() {
    let raised: Vec<&str> = folders().iter().flat_map(|c| taken(c).doubts).map(|d| d.id).collect();
    let never: Vec<&str> = intake::KINDS.iter().map(|k| k.id).filter(|id| !raised.contains(id)).collect();
    assert!(never.is_empty(), "no case raises {never:?}");
}

/// Kinds have different ids, and pages that say more than their titles.
#[test]
fn kinds_have_pages() {
    let mut ids: Vec<&str> = intake::KINDS.iter().map(|k| k.id).collect();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), intake::KINDS.len());
    for kind in intake::KINDS {
        assert!(kind.id.bytes().all(|b| b.is_ascii_lowercase() || b == b'-'), "{}", kind.id);
        assert!(kind.page.len() > kind.title.len() + 60 && kind.page.ends_with('.'), "{}", kind.id);
    }
}

#[test]
fn a_plate_file_that_cannot_be_read_is_a_doubt() {
    for path in [cases().join("no-such/plate.toml"), cases().join("common"), PathBuf::new()] {
        let taken = intake::take(&path);
        assert!(taken.job.is_none());
        assert_eq!(taken.doubts.iter().map(|d| d.id).collect::<Vec<_>>(), ["file-missing"], "{}", path.display());
    }
}

/// From disk and from bytes come the same doubts and the same job; every file read is listed with its bytes.
#[test]
fn from_disk_as_from_bytes() {
    let case = cases().join("good-dxf");
    let (disk, bytes) = (intake::take(&case.join("plate.toml")), taken(&case));
    assert_eq!(disk.job, bytes.job);
    assert_eq!(disk.doubts, bytes.doubts);
    let names: Vec<&str> = disk.inputs.iter().map(|(n, _)| n.as_str()).collect();
    assert_eq!(names, ["plate.toml", intake::STARTER_SHOP_FILE, "plate.dxf"]);
    for (name, found) in disk.inputs.iter().filter(|(n, _)| n != intake::STARTER_SHOP_FILE) {
        assert_eq!(*found, std::fs::read(case.join(name)).unwrap());
    }
}
