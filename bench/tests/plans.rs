//! Every shape of the corpora planned, written and proven: as a pocket with three cutters, and as a plate cut out with tabs.
//!
//! Icons are 60 mm wide; every letter, digit and sign of ASCII of four fonts has capitals of 20 and of 8 mm. What must be there in
//! the end is told by another library: each part that a disc of the finest cutter's width can enter. Nothing may be refused but
//! a part into which no cutter gets, and that it is one is told by that library too.
//!
//! Which shapes is told by the environment: see [`corpus::shapes`]; `EVERY` takes one of so many, `ONLY` those whose names hold it;
//! `AS` asks for `pockets` or `plates` alone, and `PROGRAMS` names a folder for the programs of what is refused.

use bench::corpus::{self, Named};
use bench::oracle::Fine;
use intake::Job;
use packet::texts;
use plane::{Affine, Point, Region};
use plate::{FloorKind, Held, Tabs};
use proof::{Settings, Verdict};
use quantity::Length;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::time::Instant;

/// The plate file whose blank and cutters all shapes get.
const PLATE: &str = "title = \"shape\"\ndrawing = \"shape.svg\"\ncutters = [1, 2, 3]\n[blank]\nsize = [100, 100]\nbond = 0.0\n\
    bond_spread = 0.0\nbow = 0.0\nunder = [{ name = \"card\", thickness = 0.3 }]\n\
    layers = [{ sheet = \"night black 3\", measured = [3.0] }]\n[[area]]\non = \"shape\"\nfloor = { below_face = 2 }\n[plate]\nwithin = \"shape\"\n\
    held_by = { tabs = 2, length = 2, left = 0.6 }\n";
/// mm of blank round a shape.
const MARGIN: f64 = 15.0;
const PITCH: f64 = 0.05;
const PICTURE: f64 = 0.2;

fn template() -> Job {
    let dir = std::env::temp_dir().join(format!("plans-{}", std::process::id()));
    std::fs::create_dir_all(&dir).expect("a folder");
    let square = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"60mm\" height=\"60mm\" viewBox=\"0 0 60 60\">\
                  <rect id=\"shape\" x=\"20\" y=\"20\" width=\"20\" height=\"20\"/></svg>";
    std::fs::write(dir.join("shape.svg"), square).expect("a file");
    std::fs::write(dir.join("plate.toml"), PLATE).expect("a file");
    let job = intake::take(&dir.join("plate.toml")).job.expect("a plate");
    std::fs::remove_dir_all(&dir).expect("a folder removed");
    job
}

/// The job of a shape: a pocket of 2 mm, or a plate.
fn job(template: &Job, region: &Region, pocket: bool) -> Job {
    let mut job = template.clone();
    let b = region.bounds();
    let moved = region.mapped(Affine::shift(Point::new(MARGIN, MARGIN) - b.min)).expect("a shift keeps arcs");
    job.intent.blank.size = [Length::mm(b.width() + 2.0 * MARGIN), Length::mm(b.height() + 2.0 * MARGIN)];
    if pocket {
        job.intent.areas[0].region = moved;
        job.intent.outline = None;
        return job;
    }
    let (area, Some(outline)) = (&mut job.intent.areas[0], &mut job.intent.outline) else { return job };
    let (moved, _) = intake::without_specks(moved);
    // Holes in which no other part lies are cleared to chips, as a maker writes them; the plate is cut round them.
    let mut holes = Vec::new();
    let mut plate = moved.clone();
    for shape in &mut plate.shapes {
        shape.holes.retain(|hole| {
            let alone = |s: &plane::Shape| s.outer.vertices.iter().all(|v| !hole.contains(v.p));
            let clear = moved.shapes.iter().all(alone);
            if clear {
                holes.push(plane::Shape { outer: hole.reversed(), holes: Vec::new() });
            }
            !clear
        });
    }
    outline.inside = plate;
    (area.kind, area.floor, area.held) = (FloorKind::Through, outline.floor, Held::Cleared);
    area.region = Region { shapes: holes };
    if area.region.is_empty() {
        job.intent.areas.clear();
    }
    job
}

#[derive(Default)]
struct Tally {
    proven: usize,
    refused: BTreeMap<String, Vec<String>>,
    /// Refused where another library finds room for a cutter, or for something else than want of room.
    unfounded: Vec<String>,
    lost: Vec<String>,
    gouged: Vec<String>,
    slowest: (f64, String),
}

impl Tally {
    fn merge(mut self, other: Self) -> Self {
        self.proven += other.proven;
        for (why, names) in other.refused {
            self.refused.entry(why).or_default().extend(names);
        }
        self.unfounded.extend(other.unfounded);
        self.lost.extend(other.lost);
        self.gouged.extend(other.gouged);
        if other.slowest.0 > self.slowest.0 {
            self.slowest = other.slowest;
        }
        self
    }
}

fn run(template: &Job, named: &Named, pocket: bool) -> Tally {
    let mut tally = Tally::default();
    let name = format!("{} {}", named.name, if pocket { "as a pocket" } else { "as a plate" });
    let began = Instant::now();
    let job = job(template, &named.region, pocket);
    let plan = plan::plan(&job.shop, &job.intent, &|| false).expect("nobody stops it");
    let mut blocking: Vec<String> =
        plan.doubts.iter().filter(|d| d.blocks()).map(|d| doubt::render(d, &(), false)).collect();
    let mut why: Vec<&str> = plan.doubts.iter().filter(|d| d.blocks()).map(|d| d.id).collect();
    if why.is_empty() {
        let programs = packet::program_texts(&job, &plan);
        let settings = Settings { pitch: PITCH, picture_pitch: PICTURE };
        let proof = proof::prove(&job.shop, &job.intent, &texts(&programs), &settings, &()).expect("nobody stops it");
        if proof.verdict == Verdict::Proven {
            tally.proven += 1;
            if proof.walls.worst_gouge > 0.010 {
                tally.gouged.push(format!("{name}: {} mm", proof.walls.worst_gouge));
            }
            if pocket {
                let lost = lost(&job, &proof.relief);
                tally.lost.extend(lost.into_iter().map(|p| format!("{name}: at {:.3}, {:.3}", p.x, p.y)));
            }
        } else {
            why.extend(proof.findings.iter().filter(|d| d.blocks()).map(|d| d.id));
            blocking.extend(proof.findings.iter().filter(|d| d.blocks()).map(|d| doubt::render(d, &(), false)));
            if let Ok(folder) = std::env::var("PROGRAMS") {
                for (file, text) in &programs {
                    std::fs::write(format!("{folder}/{name} {file}"), text).expect("a folder for programs");
                }
            }
        }
    }
    let blocks = plan.doubts.iter().filter(|d| d.blocks());
    tally.unfounded.extend(blocks.filter(|d| !no_room(&job, d)).map(|d| format!("{name}: {}", d.message)));
    if let Some(first) = blocking.first() {
        tally.unfounded.extend(why.iter().filter(|w| !ENTERS_NOT.contains(w)).map(|w| format!("{name}: {w}")));
        why.sort_unstable();
        why.dedup();
        println!("{name}: {first}");
        tally.refused.entry(why.join(" + ")).or_default().push(name.clone());
    }
    tally.slowest = (began.elapsed().as_secs_f64(), name);
    tally
}

/// What may be refused: parts that no cutter gets into.
const ENTERS_NOT: [&str; 2] = ["no-cutter-fits", "hole-not-entered"];
/// Shortest way of the axis round a hole down which a cutter goes by a ramp, mm: less is as good as straight down.
const SHORTEST_RAMP: f64 = 0.05;
/// No rounding of either library decides, mm.
const ROUNDING: f64 = 0.000_2;

/// Whether no cutter gets into the part that a refusal names, by another library: its width is less than the finest one's
/// everywhere, or so hardly more that the cutter could only go straight down.
fn no_room(job: &Job, refusal: &doubt::Doubt) -> bool {
    let Some(at) = refusal.places.iter().find_map(|p| match p {
        doubt::Place::Blank { x, y, .. } => Some(Point::new(*x, *y)),
        _ => None,
    }) else {
        return false;
    };
    let part = job.intent.areas.iter().flat_map(|a| &a.region.shapes).find(|s| s.contains(at));
    let Some(part) = part else { return false };
    let part = Fine::of(&Region { shapes: vec![part.clone()] });
    let axis = |rounding: f64| part.offset(-finest(job) + rounding).length();
    match refusal.id {
        "no-cutter-fits" => axis(-ROUNDING) == 0.0,
        "hole-not-entered" => (0.0..SHORTEST_RAMP).contains(&axis(-ROUNDING)) && axis(ROUNDING) > 0.0,
        _ => false,
    }
}

/// Radius of the finest cutter that the plate may use, mm.
fn finest(job: &Job) -> f64 {
    let allowed = job.shop.cutters.iter().filter(|c| job.intent.cutters.contains(&c.number));
    allowed.map(plate::Cutter::radius).fold(f64::INFINITY, f64::min)
}

/// Places of parts that the finest cutter's centre can enter, by another library, and that stand as they were.
fn lost(job: &Job, map: &proof::HeightMap) -> Vec<Point> {
    let radius = finest(job);
    let area = &job.intent.areas[0];
    // A disc that is 2 µm wider, so that no rounding of either library decides.
    let centres = Fine::of(&area.region).offset(-radius - 0.001);
    let cut = |p: &Point| {
        let (i, j) = (((p.x - map.origin.x) / map.pitch) as usize, ((p.y - map.origin.y) / map.pitch) as usize);
        let height = map.heights.get(j * map.columns + i).copied().unwrap_or(f32::INFINITY);
        f64::from(height) <= area.floor.to_mm() + 0.002
    };
    centres.places().into_iter().filter(|p| !cut(p)).collect()
}

/// The shapes asked for, of letters those of ASCII alone, and of all of them one of every so many.
fn shapes() -> Vec<Named> {
    let every: usize = std::env::var("EVERY").ok().and_then(|n| n.parse().ok()).unwrap_or(1);
    let mut all = corpus::shapes(&[60.0], &[20.0, 8.0]);
    let code = |name: &str| u32::from_str_radix(name.split(" U+").nth(1)?.split(' ').next()?, 16).ok();
    all.retain(|named| code(&named.name).is_none_or(|c| ('!'..='~').any(|a| u32::from(a) == c)));
    if let Ok(only) = std::env::var("ONLY") {
        all.retain(|named| named.name.contains(&only));
    }
    all.into_iter().step_by(every.max(1)).collect()
}

#[test]
#[ignore = "an hour and more; ./test.sh --long runs it"]
fn plans_of_corpora() {
    let template = template();
    assert!(template.intent.outline.as_ref().is_some_and(|o| matches!(o.held, Held::Tabs(Tabs { count: 2, .. }))));
    assert!(matches!(template.intent.areas[0].kind, FloorKind::BelowFace(_)));
    let shapes = shapes();
    let began = Instant::now();
    let done = std::sync::atomic::AtomicUsize::new(0);
    let mut wrong = Vec::new();
    let alone = std::env::var("AS").unwrap_or_default();
    for pocket in [true, false].into_iter().filter(|&p| alone != if p { "plates" } else { "pockets" }) {
        let one = |named: &Named| {
            let tally = run(&template, named, pocket);
            let count = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
            if count.is_multiple_of(100) {
                println!("{count} of {}, {:.0} s", 2 * shapes.len(), began.elapsed().as_secs_f64());
            }
            tally
        };
        let all = shapes.par_iter().map(one).reduce(Tally::default, Tally::merge);
        println!(
            "{} shapes as {}: {} proven, slowest {} in {:.1} s",
            shapes.len(),
            if pocket { "pockets" } else { "plates" },
            all.proven,
            all.slowest.1,
            all.slowest.0
        );
        for (why, names) in &all.refused {
            println!("{} refused for {why}: {}", names.len(), names.join(", "));
        }
        println!(
            "{} parts lost {:?}; {} proven with a gouge {:?}",
            all.lost.len(),
            all.lost,
            all.gouged.len(),
            all.gouged
        );
        wrong.extend(all.lost);
        wrong.extend(all.gouged);
        wrong.extend(all.unfounded);
    }
    assert_eq!(wrong, Vec::<String>::new());
}
