//! Runs files through the properties of one target without a fuzzer, says what does not hold, and reduces it.
//!
//! `replay offset|combine FILE…` prints a line for each file that fails; `replay reduce FILE` prints a failing offset as a
//! small case for `crates/reach/tests/cases`.

use fuzz::offsets::{Kind, case, check_made, read};
use fuzz::region::Made;
use fuzz::{combining, offsets};
use plane::{Affine, Contour, Region};

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let Some((what, files)) = arguments.split_first() else { return eprintln!("replay offset|combine|reduce FILE…") };
    let (mut cases, mut rejected, mut failed) = (0, 0, 0);
    for file in files {
        let Ok(data) = std::fs::read(file) else { continue };
        if what == "reduce" {
            reduce(&data, file);
            continue;
        }
        let held = if what == "offset" { offsets::check(&data) } else { combining::check(&data) };
        match held {
            None => rejected += 1,
            Some(Ok(())) => cases += 1,
            Some(Err(said)) => {
                failed += 1;
                println!("{file}: {said}");
            }
        }
    }
    if what != "reduce" {
        println!("{cases} hold, {failed} fail, {rejected} are no case");
    }
}

/// Drops rings and vertices and rounds numbers as long as the same property fails.
fn reduce(data: &[u8], file: &str) {
    let Some((kind, mut made)) = read(data) else { return };
    let property = |made: &Made| fails(kind, made).map(|said| said.split(':').next().unwrap_or("").to_owned());
    let Some(first) = property(&made) else { return eprintln!("{file}: holds") };
    loop {
        let smaller = smaller(&made).into_iter().find(|m| valid(m) && property(m).as_ref() == Some(&first));
        match smaller {
            Some(m) => made = m,
            None => break,
        }
    }
    eprintln!("{file}: {}", fails(kind, &made).unwrap_or_default());
    if let Ok(text) = serde_json::to_string_pretty(&case(kind, &made, &first)) {
        println!("{text}");
    }
}

fn fails(kind: Kind, made: &Made) -> Option<String> {
    check_made(kind, made).err()
}

fn valid(made: &Made) -> bool {
    use fuzz::valid::{Two, meets_itself, two};
    let rings: Vec<&Contour> = made.region.contours().collect();
    let shapes_right =
        made.region.shapes.iter().all(|s| s.outer.area() > 1e-4 && s.holes.iter().all(|h| h.area() < -1e-4));
    let nested = fuzz::valid::nested(rings.iter().map(|&c| c.clone()).collect());
    let same = nested.is_some_and(|n| (n.area() - made.region.area()).abs() < 1e-6);
    let ways: Vec<Two> = (0..rings.len())
        .flat_map(|i| (i + 1..rings.len()).map(move |j| (i, j)))
        .map(|(i, j)| two(rings[i], rings[j]))
        .collect();
    let apart = ways.iter().all(|&w| w == Two::Apart || (made.touching && w == Two::Touching));
    // Corners of cells may make a ring touch itself.
    let before = made.touching && rings.iter().all(|c| c.vertices.iter().all(|v| v.bulge == 0.0));
    shapes_right && same && apart && (before || rings.iter().all(|c| !meets_itself(c)))
}

/// The same with one thing less.
fn smaller(made: &Made) -> Vec<Made> {
    let mut all = Vec::new();
    let mut push = |region: Region| all.push(Made { region, r: made.r, touching: made.touching });
    let region = &made.region;
    let middle = region.bounds().centre();
    if middle.norm() > 100.0
        && let Some(moved) = region.mapped(Affine::shift(-middle))
    {
        push(moved);
    }
    for k in 0..region.shapes.len() {
        let mut less = region.clone();
        less.shapes.remove(k);
        if !less.shapes.is_empty() {
            push(less);
        }
        for h in 0..region.shapes[k].holes.len() {
            let mut less = region.clone();
            less.shapes[k].holes.remove(h);
            push(less);
        }
    }
    let contours = |region: &mut Region, each: &mut dyn FnMut(usize, &mut Contour)| {
        let mut i = 0;
        for shape in &mut region.shapes {
            for c in std::iter::once(&mut shape.outer).chain(&mut shape.holes) {
                each(i, c);
                i += 1;
            }
        }
    };
    let counts: Vec<usize> = region.contours().map(|c| c.vertices.len()).collect();
    for (i, &n) in counts.iter().enumerate() {
        for v in 0..n {
            let mut change = |how: &dyn Fn(&mut Contour)| {
                let mut less = region.clone();
                contours(&mut less, &mut |k, c| {
                    if k == i {
                        how(c);
                    }
                });
                if less != *region {
                    push(less);
                }
            };
            if n > 2 {
                change(&|c| {
                    c.vertices.remove(v);
                });
            }
            change(&|c| c.vertices[v].bulge = 0.0);
            for unit in [1.0, 8.0, 100.0, 1000.0] {
                let round = |x: f64| (x * unit).round() / unit;
                // Only numbers that are not yet on a coarser grid change, so this ends.
                let on = |x: f64| [1.0, 8.0, 100.0, 1000.0].iter().any(|u| (x * u).round() / u == x);
                change(&|c| {
                    let q = &mut c.vertices[v];
                    if !on(q.p.x) {
                        q.p.x = round(q.p.x);
                    }
                });
                change(&|c| {
                    let q = &mut c.vertices[v];
                    if !on(q.p.y) {
                        q.p.y = round(q.p.y);
                    }
                });
                change(&|c| {
                    let q = &mut c.vertices[v];
                    if !on(q.bulge) {
                        q.bulge = round(q.bulge);
                    }
                });
            }
        }
    }
    all
}
