//! How long planning takes: the demo, and letters from 1 to 500.
//!
//! `cargo bench --manifest-path bench/Cargo.toml --bench plan`

use plane::{Affine, Point, Region};
use plate::Intent;
use quantity::Length;
use std::path::Path;
use std::time::Instant;

fn main() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo/plate.toml");
    let job = intake::take(&demo).job.expect("the demo can be read");
    for threads in [1, 2] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        let least =
            pool.install(|| least_of(5, || plan::plan(&job.shop, &job.intent, &|| false).map(|p| p.stages.len())));
        println!("the demo on {threads} threads: {:.3} s", least.0);
    }
    let letters: Vec<Region> = job.intent.areas.iter().find(|a| a.name.contains("name")).map_or_else(Vec::new, |a| {
        a.region.clone().split().into_iter().filter(|r| r.bounds().height() > 6.0 && r.bounds().min.x > 90.0).collect()
    });
    println!("letters   seconds   seconds per n log n, in millionths");
    for n in [1usize, 2, 5, 10, 20, 50, 100, 200, 500] {
        let intent = lettered(&job.intent, &letters, n);
        let (seconds, _) =
            least_of(if n < 100 { 3 } else { 1 }, || plan::plan(&job.shop, &intent, &|| false).map(|p| p.stages.len()));
        let n = n as f64;
        println!("{n:7}   {seconds:7.3}   {:7.0}", 1e6 * seconds / (n * (n + 1.0).log2()));
    }
}

/// The least time of several runs, s, with what the last gave.
fn least_of<T>(runs: usize, mut run: impl FnMut() -> T) -> (f64, T) {
    let mut once = || {
        let start = Instant::now();
        let value = run();
        (start.elapsed().as_secs_f64(), value)
    };
    (1..runs).fold(once(), |best, _| {
        let next = once();
        (best.0.min(next.0), next.1)
    })
}

/// So many letters in rows, as one area of the demo's depth, and nothing else.
fn lettered(demo: &Intent, letters: &[Region], n: usize) -> Intent {
    let across = (n as f64).sqrt().ceil() as usize;
    let pitch = 14.0;
    let mut shapes = Vec::new();
    for i in 0..n {
        let letter = &letters[i % letters.len()];
        let b = letter.bounds();
        let to = Point::new(10.0 + (i % across) as f64 * pitch, 10.0 + (i / across) as f64 * pitch) - b.min;
        let moved = letter.mapped(Affine::shift(to));
        shapes.extend(moved.expect("a shift keeps arcs").shapes);
    }
    let mut intent = demo.clone();
    intent.areas.retain(|a| a.name.contains("name"));
    intent.areas.truncate(1);
    intent.areas[0].region = Region { shapes };
    intent.outline = None;
    intent.holds = Vec::new();
    let side = Length::mm(20.0 + across as f64 * pitch);
    intent.blank.size = [side, side];
    intent
}
