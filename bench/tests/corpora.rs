//! Every shape of the corpora, offset inward and outward and opened, against another library and against distances.
//!
//! Which shapes is told by the environment: see [`corpus::shapes`].

use bench::corpus::{self, Named};
use bench::oracle::{self, Fine};
use plane::{Region, SegmentIndex};
use std::path::Path;
use std::time::{Duration, Instant};

const RADII: [f64; 3] = [1.5875, 0.79375, 0.396875];

type Make = fn(&Region, f64) -> reach::Offset;
const KINDS: [(&str, Make); 3] = [("in", reach::inset), ("out", reach::outset), ("opened", reach::opening)];

#[derive(Default)]
struct Tally {
    shapes: usize,
    offsets: usize,
    by_chords: Vec<String>,
    exempt: Vec<String>,
    wrong: Vec<String>,
    worst_distance: f64,
    spent: Duration,
    slowest: Duration,
}

impl Tally {
    fn add(&mut self, other: Self) {
        self.shapes += other.shapes;
        self.offsets += other.offsets;
        self.by_chords.extend(other.by_chords);
        self.exempt.extend(other.exempt);
        self.wrong.extend(other.wrong);
        self.worst_distance = self.worst_distance.max(other.worst_distance);
        self.spent += other.spent;
        self.slowest = self.slowest.max(other.slowest);
    }
}

/// How an offset compares.
enum Judged {
    /// As it must be, and the greatest distance by which it is off, mm.
    Good(f64),
    /// It differs as the other library's own does when the radius changes by [`SWING`]: both answers are right.
    EitherWay(String),
    Wrong(String),
}

/// Where a feature is as narrow as 4 µm it may be there or not: 2 µm more or less of the radius on either side.
const SWING: f64 = 0.002;

/// The other library's offset.
fn their(fine: &Fine, kind: usize, r: f64) -> Fine {
    match kind {
        0 => fine.offset(-r),
        1 => fine.offset(r),
        _ => fine.offset(-r).offset(r),
    }
}

fn judge(source: &Region, kind: usize, r: f64, ours: &Region) -> Judged {
    let fine = Fine::of(source);
    let theirs = their(&fine, kind, r);
    let (a, b) = (ours.area(), theirs.area());
    let (mine, other) = (oracle::components(ours), theirs.components());
    // 1e-4 of the area; but no finer than 0.2 µm along the edge, which the other library's grid, chords and our hair cost.
    let slack = (1e-4 * a.max(b)).max(0.000_2 * ours.length()).max(0.004 * 0.004);
    if (a - b).abs() > slack || mine != other {
        let said = format!("area {a} beside {b}, parts and holes {mine:?} beside {other:?}");
        let (less, more) = (their(&fine, kind, r - SWING), their(&fine, kind, r + SWING));
        let (low, high) = (less.area().min(more.area()), less.area().max(more.area()));
        let between = a >= low - slack && a <= high + slack;
        let parts = [other, less.components(), more.components()];
        let same = |of: fn(&(usize, usize)) -> usize| {
            let (least, most) = (parts.iter().map(of).min(), parts.iter().map(of).max());
            least <= Some(of(&mine)) && Some(of(&mine)) <= most
        };
        // Parts that touch at a point or over a neck of less than 4 µm are one or two: cut there, both must agree.
        let cut = |rings: &Fine| rings.offset(-SWING).components();
        let either = between && ((same(|p| p.0) && same(|p| p.1)) || cut(&Fine::of(ours)) == cut(&theirs));
        return if either { Judged::EitherWay(said) } else { Judged::Wrong(said) };
    }
    let index = SegmentIndex::of_contours(source.contours());
    let (distance, at) = if kind == 2 {
        let core = reach::inset(source, r).region;
        let centres = SegmentIndex::of_contours(core.contours());
        oracle::worst(oracle::edge_points(ours, 0.5), |p| {
            // At r from where the centre may go, and on the source where it isn't inside it.
            let from_core = oracle::distance(&centres, p);
            (from_core - r).abs().max(if source.contains(p) { 0.0 } else { oracle::distance(&index, p) })
        })
    } else {
        oracle::worst(oracle::edge_points(ours, 0.5), |p| (oracle::distance(&index, p) - r).abs())
    };
    if distance > 0.002 {
        Judged::Wrong(format!("{distance} mm off at {:.4}, {:.4}", at.x, at.y))
    } else {
        Judged::Good(distance)
    }
}

fn run(named: &Named, tally: &mut Tally) {
    tally.shapes += 1;
    for r in RADII {
        for (k, (kind, make)) in KINDS.iter().enumerate() {
            let began = Instant::now();
            let made = make(&named.region, r);
            let spent = began.elapsed();
            tally.spent += spent;
            tally.slowest = tally.slowest.max(spent);
            tally.offsets += 1;
            let name = format!("{} {kind} by {r}", named.name);
            if let Some(fault) = made.by_chords {
                tally.by_chords.push(format!("{name}: {} at {:.4}, {:.4}", fault.why, fault.at.x, fault.at.y));
            }
            match judge(&named.region, k, r, &made.region) {
                Judged::Good(distance) => tally.worst_distance = tally.worst_distance.max(distance),
                Judged::EitherWay(said) => tally.exempt.push(format!("{name}: {said}")),
                Judged::Wrong(wrong) => {
                    println!("WRONG: {name}: {wrong}");
                    keep_reduced(&named.region, k, r, &name);
                    tally.wrong.push(format!("{name}: {wrong}"));
                }
            }
        }
    }
}

/// Takes away shapes, holes and corners as long as it stays wrong, and writes what is left among the kernel's cases.
fn keep_reduced(region: &Region, kind: usize, r: f64, name: &str) {
    let fails = |region: &Region| {
        !region.is_empty() && matches!(judge(region, kind, r, &(KINDS[kind].1)(region, r).region), Judged::Wrong(_))
    };
    let mut small = region.clone();
    let mut rounds = 0;
    'again: while rounds < 400 {
        rounds += 1;
        for k in 0..small.shapes.len() {
            let mut less = small.clone();
            less.shapes.remove(k);
            if fails(&less) {
                small = less;
                continue 'again;
            }
            for h in 0..small.shapes[k].holes.len() {
                let mut less = small.clone();
                less.shapes[k].holes.remove(h);
                if fails(&less) {
                    small = less;
                    continue 'again;
                }
            }
            for v in 0..small.shapes[k].outer.vertices.len() {
                let mut less = small.clone();
                less.shapes[k].outer.vertices.remove(v);
                if less.shapes[k].outer.area() > 0.0 && fails(&less) {
                    small = less;
                    continue 'again;
                }
            }
        }
        break;
    }
    let case = serde_json::json!({ "name": name, "kind": KINDS[kind].0, "r": r, "region": small });
    let file: String = name.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/reach/tests/cases");
    std::fs::create_dir_all(&folder).expect("a folder for cases");
    std::fs::write(folder.join(format!("{file}.json")), format!("{case:#}\n")).expect("a case is written");
}

#[test]
#[ignore = "minutes; ./test.sh --long runs it"]
fn offsets_of_corpora() {
    let shapes = corpus::shapes(&[30.0, 100.0], &[8.0, 20.0]);
    let next = std::sync::atomic::AtomicUsize::new(0);
    let threads: usize = std::env::var("THREADS").ok().and_then(|n| n.parse().ok()).unwrap_or(2);
    let mut all = Tally::default();
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads)
            .map(|_| {
                scope.spawn(|| {
                    let mut tally = Tally::default();
                    loop {
                        let k = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                        let Some(named) = shapes.get(k) else { return tally };
                        run(named, &mut tally);
                        if k % 200 == 199 {
                            println!("{} of {}", k + 1, shapes.len());
                        }
                    }
                })
            })
            .collect();
        for worker in workers {
            all.add(worker.join().expect("no panic"));
        }
    });
    println!(
        "{} shapes, {} offsets in {:.3} s (slowest {:.1} ms), {} by chords, {} exempt, {} wrong, greatest distance off {:.3} µm",
        all.shapes,
        all.offsets,
        all.spent.as_secs_f64(),
        all.slowest.as_secs_f64() * 1e3,
        all.by_chords.len(),
        all.exempt.len(),
        all.wrong.len(),
        all.worst_distance * 1e3
    );
    for line in &all.by_chords {
        println!("by chords: {line}");
    }
    for line in &all.exempt {
        println!("either way: {line}");
    }
    assert!(all.wrong.is_empty(), "{} wrong", all.wrong.len());
}
