//! How far the cutters stand in material, as the prover measures it from the text: the demo and filled icons.
//!
//! Steady clearing must keep near the angle of a straight cut at the stepover. Entries, outlines and strokes under two
//! diameters, where the shape forces a wide cut, are told apart; they stand under the slot's force.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

#[path = "icons/mod.rs"]
mod icons;
#[path = "icons/pocket.rs"]
mod pocket;

use packet::Computed;
use plane::Point;
use plate::{Intent, Shop};
use proof::{Settings, Stretch};
use reckon::load;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

/// Share of the straight cut's angle that steady clearing may have, and that nothing else may exceed.
const STEADY: f64 = 1.25;
const MOST: f64 = 2.0;

/// Cutting length by kind, mm.
#[derive(Debug, Clone, Copy, Default)]
struct Lengths {
    entries: f64,
    outlines: f64,
    strokes: f64,
    steady: f64,
    over: f64,
    beyond: f64,
}

impl Lengths {
    fn add(&mut self, other: Self) {
        self.entries += other.entries;
        self.outlines += other.outlines;
        self.strokes += other.strokes;
        self.steady += other.steady;
        self.over += other.over;
        self.beyond += other.beyond;
    }

    fn clearing(&self) -> f64 {
        self.steady + self.over + self.beyond
    }
}

/// Where a cutter of a diameter is in a stroke narrower than two diameters, by height of the pass: its centre, or the middle of its
/// front, so that the mouth of a stroke in which the front stands counts as the stroke. Corners that the centre can't enter are no
/// strokes: the front cuts them as it clears.
struct Strokes<'a> {
    intent: &'a Intent,
    diameter: f64,
    by_height: BTreeMap<i64, (plane::RegionIndex, plane::RegionIndex)>,
}

impl Strokes<'_> {
    fn hold(&mut self, s: &Stretch) -> bool {
        let areas = self.intent.areas.iter().filter(|a| a.floor.to_mm() <= s.z + 1e-3);
        let floors: Vec<i64> = areas.clone().map(|a| (a.floor.to_mm() * 1e6) as i64).collect();
        let key = floors.iter().copied().max().unwrap_or(0);
        let (wide, strokes) = self.by_height.entry(key).or_insert_with(|| {
            let all = plane::arcs::union(areas.map(|a| &a.region).collect::<Vec<_>>());
            let wide = reach::opening(&all, self.diameter).region;
            let centre = reach::inset(&all, self.diameter / 2.0).region;
            let mut strokes = plane::arcs::difference(&all, &wide);
            strokes.shapes.retain(|shape| {
                let alone = plane::Region { shapes: vec![shape.clone()] };
                plane::arcs::intersection(&alone, &centre).area() > 1e-3
            });
            (plane::RegionIndex::new(&wide), plane::RegionIndex::new(&strokes))
        });
        let [from, to] = s.ends.map(|[x, y]| Point::new(x, y));
        let at = Point::new(s.at[0], s.at[1]);
        let front = (to - from).unit().map_or(at, |along| at + along * (self.diameter / 2.0));
        !wide.contains(at) || strokes.contains(front)
    }
}

fn measured(shop: &Shop, computed: &Computed, show: bool) -> Lengths {
    let mut all = Lengths::default();
    let intent = &computed.job.intent;
    if let Ok(dir) = std::env::var("PROGRAMS") {
        fs::create_dir_all(&dir).unwrap();
        for (file, text) in &computed.programs {
            fs::write(Path::new(&dir).join(file), text).unwrap();
        }
        for stage in &computed.proof.stages {
            let lines = stage.stretches.iter().map(|s| {
                format!(
                    "{} {:.4} {:.4} {:.4} {:.4} {:.4} {:.1}\n",
                    s.line, s.at[0], s.at[1], s.z, s.fall, s.length, s.engagement
                )
            });
            fs::write(Path::new(&dir).join(format!("{}.csv", stage.file)), lines.collect::<String>()).unwrap();
        }
    }
    for stage in computed.proof.stages.iter().filter(|s| !s.stretches.is_empty()) {
        let cutter = shop.cutters.iter().find(|c| c.number == stage.cutter_number).unwrap();
        let diameter = cutter.cutting_width.to_mm();
        let straight = load::engagement(cutter.stepover * diameter, diameter).to_degrees();
        let mut strokes = Strokes { intent, diameter, by_height: BTreeMap::new() };
        let outline = stage.file.contains("outline");
        let mut sum = Lengths::default();
        let mut worst: Vec<&Stretch> = Vec::new();
        // The level round after a helix belongs to the entry: it cuts what the last turn of the helix left.
        let helix = 2.0 * std::f64::consts::PI * 0.9 * diameter / 2.0 + 0.1;
        let mut level = helix;
        for s in &stage.stretches {
            level = if s.fall > 1e-6 { 0.0 } else { level + s.length };
            let into = if level <= helix && level < f64::INFINITY {
                &mut sum.entries
            } else if outline {
                &mut sum.outlines
            } else if strokes.hold(s) {
                &mut sum.strokes
            } else if s.engagement <= STEADY * straight {
                &mut sum.steady
            } else if s.engagement <= MOST * straight {
                worst.push(s);
                &mut sum.over
            } else {
                worst.push(s);
                &mut sum.beyond
            };
            *into += s.length;
        }
        if show {
            println!(
                "{:<22} {:6.2} min, cut {:7.0} mm, air {:6.0}; entries {:6.0}, outlines {:5.0}, strokes {:5.0}; \
                 clearing {:7.0}: over {:5.2} %, beyond {:5.2} %",
                stage.file,
                stage.minutes,
                stage.cutter_use.cutting_length,
                stage.cutter_use.air_length,
                sum.entries,
                sum.outlines,
                sum.strokes,
                sum.clearing(),
                100.0 * (sum.over + sum.beyond) / sum.clearing().max(1e-9),
                100.0 * sum.beyond / sum.clearing().max(1e-9),
            );
            worst.sort_by(|a, b| b.engagement.total_cmp(&a.engagement));
            if std::env::var("WORST").is_ok() {
                for s in worst.iter().take(12) {
                    println!(
                        "    line {:5} at {:7.2} {:7.2} z {:6.3}: {:5.1}° over {:.3}",
                        s.line, s.at[0], s.at[1], s.z, s.engagement, s.length
                    );
                }
            }
        }
        all.add(sum);
    }
    all
}

/// Minutes of all programs but the frame run, and the bound that no way of clearing one area can be much below: what each
/// cutter newly covers x passes / (stepover x the feed that the place allows). Where the axis can turn on a circle of radius
/// R at most, it can go no faster than sqrt(a R).
fn time_and_bound(shop: &Shop, computed: &Computed) -> (f64, f64) {
    let intent = &computed.job.intent;
    let [area] = &intent.areas[..] else { return (0.0, 0.0) };
    let deep = intent.blank.face_high.to_mm() - area.floor.to_mm();
    let material = intent.blank.layers[0].sheet.material;
    let (mut minutes, mut bound) = (0.0, 0.0);
    let mut done = plane::Region::default();
    for stage in computed.proof.stages.iter().filter(|s| s.cutter_use.cutting_length > 0.0) {
        let cutter = shop.cutters.iter().find(|c| c.number == stage.cutter_number).unwrap();
        let run = load::cutting(shop, cutter, material);
        let covered = reach::opening(&area.region, cutter.radius()).region;
        let passes = (deep / run.pass_depth.to_mm() - 1e-9).ceil();
        let stepover = cutter.stepover * 2.0 * cutter.radius();
        minutes += stage.minutes;
        let feed = run.feed.to_mm_per_min();
        let axis = reach::inset(&area.region, cutter.radius()).region;
        let slow = (feed / 60.0).powi(2) / shop.machine.acceleration[0];
        // The share of the place where a turn is between two radii.
        let steps = 12;
        let turned = |k: i32| slow * f64::from(k) / f64::from(steps);
        let reached =
            |k: i32| reach::outset(&reach::inset(&axis, turned(k)).region, turned(k) + cutter.radius()).region;
        let areas: Vec<f64> = (0..=steps).map(|k| plane::arcs::difference(&reached(k), &done).area()).collect();
        let at = |radius: f64| (shop.machine.acceleration[0] * radius).sqrt() * 60.0;
        for k in 0..steps as usize {
            let between = (areas[k] - areas[k + 1]).max(0.0);
            bound += between * passes / (stepover * at(turned(k as i32 + 1)).min(feed));
        }
        bound += areas[steps as usize] * passes / (stepover * feed);
        done = plane::arcs::union([&done, &covered]);
    }
    (minutes, bound)
}

/// Minutes of all programs in which the cutter is in material: what is left of [`time_and_bound`]'s without ways through air.
fn in_material(shop: &Shop, computed: &Computed) -> f64 {
    let (programs, named) = packet::read_all(&computed.programs);
    let stages = programs.iter().zip(&named).zip(&computed.proof.stages);
    let seconds = |((program, named), stage): ((&read::Program, &_), &_)| -> f64 {
        let trace = proof::trace(shop, &computed.job.intent, program, *named, stage);
        let cutting = trace.passed.windows(2).filter(|w| w[1].running == proof::Running::Cut);
        cutting.map(|w| w[1].time - w[0].time).sum()
    };
    stages.map(seconds).sum::<f64>() / 60.0
}

fn computed(plate: &Path) -> Option<Computed> {
    let mut outcome = packet::Outcome::default();
    let settings = Settings { pitch: 0.05, picture_pitch: 1.0 };
    let computed = packet::compute(plate, &settings, &(), &mut outcome);
    for doubt in outcome.doubts.iter().filter(|d| d.blocks()) {
        println!("{}", doubt::render(doubt, &(), false));
    }
    println!("{:?} {:?}", outcome.verdict, outcome.seconds);
    computed.map(|c| c.0)
}

#[test]
fn the_demo_is_cleared_with_bounded_engagement() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/plate.toml");
    let computed = computed(&demo).unwrap();
    let all = measured(&computed.job.shop, &computed, true);
    println!("{all:?}");
    assert!(all.over + all.beyond <= 0.01 * all.clearing(), "{all:?}");
}

/// The demo's field alone, with the widest cutter.
#[test]
fn the_field_is_cleared_in_little_more_than_the_least_time() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    let dir = tempfile::tempdir().unwrap();
    fs::copy(demo.join("door-plate.svg"), dir.path().join("door-plate.svg")).unwrap();
    let text = fs::read_to_string(demo.join("plate.toml")).unwrap();
    let start = text.find("[[area]]").unwrap();
    let head = text[..start].replace("[blank]", "cutters = [1]\n[blank]");
    let field = "[[area]]\non = \"field\"\nfloor = { below_face = 0.8 }\n";
    fs::write(dir.path().join("plate.toml"), format!("{head}{field}")).unwrap();
    let computed = computed(&dir.path().join("plate.toml")).unwrap();
    measured(&computed.job.shop, &computed, true);
    let (minutes, bound) = time_and_bound(&computed.job.shop, &computed);
    let cutting = in_material(&computed.job.shop, &computed);
    println!(
        "{minutes:.2} min, {cutting:.2} in material, bound {bound:.2}: {:.3} and {:.3}",
        minutes / bound,
        cutting / bound
    );
    assert!(minutes <= 1.25 * bound, "{minutes} min, bound {bound}");
}

#[test]
#[ignore = "minutes; ./test.sh --long runs it"]
fn icons_are_cleared_with_bounded_engagement() {
    let most: usize = std::env::var("ICONS").ok().and_then(|n| n.parse().ok()).unwrap_or(200);
    let only = std::env::var("ICON").ok();
    let mut all = Lengths::default();
    let (mut ratios, mut cut): (Vec<(f64, String)>, Vec<f64>) = (Vec::new(), Vec::new());
    for (name, view, data) in icons::icons().iter().take(most).filter(|i| only.as_ref().is_none_or(|o| i.0.contains(o)))
    {
        let dir = tempfile::tempdir().unwrap();
        let icon = icons::placed(view, data, 60.0, 30.0);
        let drawing = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"60mm\" height=\"60mm\" viewBox=\"0 0 60 60\">{icon}</svg>"
        );
        fs::write(dir.path().join("plate.toml"), pocket::plate_file("[1, 2, 3]")).unwrap();
        fs::write(dir.path().join("icon.svg"), drawing).unwrap();
        println!("{name}");
        if let Some(computed) = computed(&dir.path().join("plate.toml")) {
            all.add(measured(&computed.job.shop, &computed, true));
            let (minutes, bound) = time_and_bound(&computed.job.shop, &computed);
            println!("{minutes:.2} min, bound {bound:.2}: {:.3}", minutes / bound);
            ratios.push((minutes / bound, name.clone()));
            cut.push(in_material(&computed.job.shop, &computed) / bound);
        }
    }
    ratios.sort_by(|a, b| a.0.total_cmp(&b.0));
    if let (Some(least), Some(most)) = (ratios.first(), ratios.last()) {
        cut.sort_by(f64::total_cmp);
        let median = cut[cut.len() / 2];
        println!("time over bound: least {least:?}, median {:?}, most {most:?}", ratios[ratios.len() / 2]);
        println!("time in material over bound: median {median:.3}");
        assert!(median <= 1.5, "{median}");
    }
    println!(
        "{all:?}; over {:.3} %, beyond {:.3} %",
        100.0 * (all.over + all.beyond) / all.clearing(),
        100.0 * all.beyond / all.clearing()
    );
    assert!(all.over + all.beyond <= 0.01 * all.clearing(), "{all:?}");
}
