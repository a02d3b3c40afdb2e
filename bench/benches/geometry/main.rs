//! The kernel beside general-purpose libraries: one run, one core, the same shapes and accuracy, failures in the same
//! table. `cargo bench --manifest-path bench/Cargo.toml`; `-- offsets pockets unions axes growth` picks parts.
//!
//! A result fails if its area is off by more than 1e-4 (or 0.3 µm along its edge), it has more or fewer parts or holes that hold a disc of
//! 4 µm than the finely flattened reference, or a point of it lies nearer than `r` - 2 µm to the source.

mod others;

use bench::corpus::{self, Named};
use bench::oracle::{self, Fine};
use others::{Flat, Other};
use plane::{Contour, FIT, Point, Region, Segment, SegmentIndex};
use std::path::Path;
use std::time::Instant;

fn main() {
    let wanted: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with('-')).collect();
    let wants = |part: &str| wanted.is_empty() || wanted.iter().any(|w| w == part);
    let shapes = shapes();
    let vertices: usize = shapes.iter().flat_map(|s| s.region.contours()).map(|c| c.vertices.len()).sum();
    let flat: Vec<Flat> = shapes.iter().map(|s| Flat::of(&s.region)).collect();
    println!(
        "{} shapes: {vertices} lines and arcs, {} points when flattened at 1 µm",
        shapes.len(),
        flat.iter().map(Flat::len).sum::<usize>()
    );
    if wants("offsets") {
        offsets(&shapes, &flat);
    }
    if wants("pockets") {
        pockets(&shapes, &flat);
    }
    if wants("unions") {
        unions();
    }
    if wants("axes") {
        axes(&shapes, &flat);
    }
    if wants("growth") {
        growth();
    }
}

/// 324 and 380 filled icons 100 mm wide, the glyphs of a bold sans 20 mm high where `FONT` names one, and made shapes up to 900 and some.
fn shapes() -> Vec<Named> {
    let solid = corpus::icons_of_crate("icondata_hi", |n| n.contains("SolidLg"));
    let filled = corpus::icons_of_crate("icondata_bs", |n| n.ends_with("Fill"));
    let icons = solid.iter().chain(filled.iter().take(380));
    let mut shapes: Vec<Named> = icons.filter_map(|(name, view, data)| corpus::icon(name, view, data, 100.0)).collect();
    let font = std::env::var("FONT").unwrap_or_else(|_| "../crates/sheet/fonts/GenBkBasB.ttf".to_owned());
    let font = Path::new(env!("CARGO_MANIFEST_DIR")).join(font);
    shapes.extend(corpus::glyphs(&font, 20.0).into_iter().take(189));
    shapes.extend(corpus::made());
    shapes
}

/// Runs one contender over all cases and prints its line.
fn row(
    name: &str,
    cases: usize,
    base: &mut f64,
    mut run: impl FnMut(usize) -> Option<Region>,
    judge: impl Fn(usize, &Region) -> bool,
) {
    let mut results: Vec<Option<Region>> = Vec::with_capacity(cases);
    let mut spent = 0.0;
    for k in 0..cases {
        let began = Instant::now();
        let made = run(k);
        spent += began.elapsed().as_secs_f64();
        results.push(made);
    }
    let failed = results.iter().enumerate().filter(|(k, r)| !r.as_ref().is_some_and(|r| judge(*k, r))).count();
    let out: usize = results.iter().flatten().flat_map(Region::contours).map(|c| c.vertices.len()).sum();
    if *base == 0.0 {
        *base = spent;
    }
    println!("  {name:<44} {spent:>9.3} s  {:>8.1}x  {out:>9} out  {failed:>4} failed", spent / *base);
}

fn offsets(shapes: &[Named], flat: &[Flat]) {
    for r in [1.5875, 0.396875] {
        println!("\none inward offset of {} shapes by {r}", shapes.len());
        let references: Vec<Fine> = shapes.iter().map(|s| Fine::of(&s.region).offset(-r)).collect();
        let walls: Vec<SegmentIndex> = shapes.iter().map(|s| SegmentIndex::of_contours(s.region.contours())).collect();
        let judge = |k: usize, made: &Region| good(made, &references[k], &walls[k], r);
        let mut base = 0.0;
        let mut by_chords = 0;
        row(
            "ours, lines and arcs",
            shapes.len(),
            &mut base,
            |k| {
                let made = reach::inset(&shapes[k].region, r);
                by_chords += usize::from(made.by_chords.is_some());
                Some(made.region)
            },
            judge,
        );
        println!("    of these by chords: {by_chords}");
        for other in Other::ALL {
            row(other.name(), shapes.len(), &mut base, |k| other.inset(&shapes[k].region, &flat[k], r), judge);
        }
    }
}

fn good(made: &Region, reference: &Fine, walls: &SegmentIndex, r: f64) -> bool {
    let (a, b) = (made.area(), reference.area());
    let near = (a - b).abs() <= (1e-4 * a.max(b)).max(0.000_3 * made.length()).max(0.004 * 0.004);
    let parts = oracle::components(made) == reference.components()
        || Fine::of(made).offset(-0.002).components() == reference.offset(-0.002).components();
    let clear = oracle::edge_points(made, 5.0).all(|p| oracle::distance(walls, p) >= r - 0.002);
    near && parts && clear
}

fn pockets(shapes: &[Named], flat: &[Flat]) {
    for (diameter, slow) in [(3.175, 176), (0.79375, 20)] {
        let step = 0.4 * diameter;
        let count = 176;
        println!(
            "\nfull pockets of {count} icons, 0.4 D of {diameter} until empty (loops that a finely flattened run gives are the measure)"
        );
        let mut base = 0.0;
        let mut loops = Vec::new();
        let began = Instant::now();
        for s in &shapes[..count] {
            let all = reach::insets(&s.region, diameter / 2.0, step, 10_000);
            loops.push(all.iter().map(|o| oracle::components(&o.region).0).sum::<usize>());
        }
        base += began.elapsed().as_secs_f64();
        let expected: Vec<usize> = shapes[..slow].iter().map(|s| fine_loops(&s.region, diameter / 2.0, step)).collect();
        let failed = expected.iter().zip(&loops).filter(|(a, b)| a != b).count();
        println!(
            "  {:<44} {base:>9.3} s  {:>8.1}x  {:>6} parts  {failed:>4} of {slow} differ",
            "ours, each from the one before",
            1.0,
            loops.iter().sum::<usize>()
        );
        for other in Other::ALL {
            // Those that take minutes show their ratio on a few.
            let cases = if other.is_quick() { count } else { 10 };
            let began = Instant::now();
            let theirs: Vec<Option<usize>> =
                (0..cases).map(|k| other.pocket(&shapes[k].region, &flat[k], diameter / 2.0, step)).collect();
            let spent = began.elapsed().as_secs_f64();
            let ours: f64 = if cases == count {
                base
            } else {
                let began = Instant::now();
                for s in &shapes[..cases] {
                    reach::insets(&s.region, diameter / 2.0, step, 10_000);
                }
                began.elapsed().as_secs_f64()
            };
            let failed = expected.iter().zip(&theirs).filter(|(a, b)| Some(**a) != **b).count();
            println!(
                "  {:<44} {spent:>9.3} s  {:>8.1}x  {:>6} parts  {failed:>4} of {} differ  ({cases} icons)",
                other.name(),
                spent / ours,
                theirs.iter().flatten().sum::<usize>(),
                slow.min(cases),
            );
        }
    }
}

/// Parts that hold a disc of 4 µm in all offsets, each from the source, finely flattened.
fn fine_loops(region: &Region, first: f64, step: f64) -> usize {
    let fine = Fine::of(region);
    let mut count = 0;
    for k in 0.. {
        let inner = fine.offset(-(first + step * f64::from(k)));
        if inner.area() <= 0.0 {
            return count;
        }
        count += inner.components().0;
    }
    count
}

fn unions() {
    println!("\nunion of 10,000 capsules, 1 to 6 mm long, radius 0.8 (ours: as a sweep, and by `plane::union`)");
    let capsules = others::capsules(10_000, 0.8);
    let segments: Vec<Segment> = capsules.iter().map(|&(a, b)| Segment::Line { a, b }).collect();
    let began = Instant::now();
    let swept = reach::swept(&segments, 0.8);
    let base = began.elapsed().as_secs_f64();
    let area = swept.as_ref().map_or(f64::NAN, Region::area);
    println!(
        "  {:<44} {base:>9.3} s  {:>8.1}x  area {area:.4} {}",
        "ours, swept",
        1.0,
        swept.err().map_or(String::new(), |e| format!("{e:?}"))
    );
    let regions: Vec<Region> = segments.iter().filter_map(|&s| reach::swept(&[s], 0.8).ok()).collect();
    let began = Instant::now();
    let united = plane::union(&regions);
    let spent = began.elapsed().as_secs_f64();
    println!(
        "  {:<44} {spent:>9.3} s  {:>8.1}x  area {:.4}",
        "ours, plane::union of regions",
        spent / base,
        united.area()
    );
    let rings: Vec<Vec<Point>> = regions.iter().map(|r| r.shapes[0].outer.flatten(0.001)).collect();
    for other in Other::ALL {
        let began = Instant::now();
        let Some(area) = other.union(&rings) else { continue };
        let spent = began.elapsed().as_secs_f64();
        println!("  {:<44} {spent:>9.3} s  {:>8.1}x  area {area:.4}", other.name(), spent / base);
    }
}

fn axes(shapes: &[Named], flat: &[Flat]) {
    println!("\nmedial axis of {} shapes", shapes.len());
    let began = Instant::now();
    let axes: Vec<_> = shapes.iter().map(|s| reach::Axis::of(&s.region, 0.005, 1.0)).collect();
    let base = began.elapsed().as_secs_f64();
    let failed = axes.iter().filter(|a| a.is_err()).count();
    let mut off = 0.0f64;
    for (axis, shape) in axes.iter().zip(shapes) {
        let walls = SegmentIndex::of_contours(shape.region.contours());
        let spots = axis.iter().flat_map(|a| a.branches.iter().flat_map(|b| &b.spots));
        off = spots.map(|s| (oracle::distance(&walls, s.at) - s.radius).abs()).fold(off, f64::max);
    }
    println!(
        "  {:<44} {base:>9.3} s  {:>8.1}x  {failed:>4} failed, distances within {off:.1e} mm",
        "ours, on lines and arcs", 1.0
    );
    for (axis, shape) in axes.iter().zip(shapes) {
        if let Err(fault) = axis {
            println!("    {}: {fault:?}", shape.name);
        }
    }
    let began = Instant::now();
    let wrong = others::voronoi(flat);
    let spent = began.elapsed().as_secs_f64();
    println!("  {:<44} {spent:>9.3} s  {:>8.1}x  {wrong}", "boostvoronoi 0.12, segments", spent / base);
}

/// One inward offset of a toothed disc with more and more teeth, at one size of tooth and at one size of disc.
fn growth() {
    println!("\ncost against size: one inward offset by 0.4 (seconds, and per vertex and log2 n)");
    for (name, fixed_tooth) in [
        ("teeth of 2 mm, the disc grows", true),
        ("a disc of 100 mm, the teeth shrink", false),
        ("a smooth curve of 100 mm, flattened finer", false),
    ] {
        println!("  {name}");
        for n in [100usize, 316, 1000, 3162, 10_000, 31_623, 100_000] {
            let smooth = name.starts_with("a smooth");
            let radius = if fixed_tooth { n as f64 * 2.0 / std::f64::consts::TAU } else { 50.0 };
            let ring = (0..n).map(|k| {
                let angle = k as f64 / n as f64 * std::f64::consts::TAU;
                let tooth = if smooth {
                    3.0 * libm::sin(5.0 * angle)
                } else if k % 2 == 0 {
                    0.0
                } else {
                    (radius / n as f64).min(1.0)
                };
                Point::at_angle(angle) * (radius + tooth)
            });
            let region = Region::solid(Contour::polygon(ring));
            let began = Instant::now();
            let mut rounds = 0;
            let mut failed = 0;
            while rounds == 0 || began.elapsed().as_secs_f64() < 0.2 {
                failed += usize::from(reach::try_inset(&region, 0.4).is_err());
                rounds += 1;
            }
            let spent = began.elapsed().as_secs_f64() / f64::from(rounds);
            println!(
                "    {n:>7} {spent:>10.6} s  {:>7.1} ns  {failed} failed",
                spent * 1e9 / n as f64 / (n as f64).log2()
            );
        }
    }
    let _ = FIT;
}
