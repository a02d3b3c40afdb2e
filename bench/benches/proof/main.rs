//! How long proofs take, beside the plainest way to lower the same cells: `z = min(z, h)` over rows.
//!
//! `cargo bench --manifest-path bench/Cargo.toml --bench proof` prints a table to be plotted, after the yardsticks. The
//! environment variable `PITCH` proves the demo only, at the pitches it lists, or with `MOVES` the sign of 600 mm, and
//! prints a number that is the same only if all that the proofs say is the same.

use plane::{Contour, Point, Region, Vertex};
use plate::{Area, EdgeProfile, FloorKind, Held, Intent, Shop, Strokes};
use proof::{Proof, Settings};
use quantity::{Height, Length};
use std::fmt::Write;
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

struct Work {
    shop: Shop,
    intent: Intent,
    programs: Vec<(String, String)>,
}

impl Work {
    fn prove(&self, pitch: f64) -> (f64, Option<Proof>) {
        let texts = packet::texts(&self.programs);
        let settings = Settings { pitch, ..Settings::default() };
        let began = Instant::now();
        let proof = proof::prove(&self.shop, &self.intent, &texts, &settings, &());
        (began.elapsed().as_secs_f64(), proof)
    }

    /// The best of three, on so many threads.
    fn best(&self, pitch: f64, threads: usize) -> (f64, Option<Proof>) {
        let Ok(pool) = rayon::ThreadPoolBuilder::new().num_threads(threads).build() else { return (f64::NAN, None) };
        let runs = (0..3).map(|_| pool.install(|| self.prove(pitch)));
        runs.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((f64::NAN, None))
    }
}

fn main() {
    let plate = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo/plate.toml");
    let mut outcome = packet::Outcome::default();
    let Some((computed, _)) = packet::compute(&plate, &Settings::default(), &(), &mut outcome) else {
        println!("the demo isn't computed: {:?}", outcome.doubts);
        return;
    };
    let demo = Work { shop: computed.job.shop, intent: computed.job.intent, programs: computed.programs };
    if let Ok(pitches) = std::env::var("PITCH") {
        if let Ok(moves) = std::env::var("MOVES") {
            for pitch in pitches.split(',').filter_map(|p| p.parse().ok()) {
                let work = sign(&demo, 600.0, moves.parse().unwrap_or(200_000));
                let before = processor();
                let (spent, proof) = work.prove(pitch);
                let used = processor() - before;
                let said = proof.map(|p| (p.cells, p.verdict, digest(&p)));
                println!("sign, pitch {pitch}: {spent:.3} s, {used:.2} s of processor time, {said:?}");
            }
            return;
        }
        for pitch in pitches.split(',').filter_map(|p| p.parse().ok()) {
            for _ in 0..3 {
                let before = processor();
                let (spent, proof) = demo.prove(pitch);
                let used = processor() - before;
                let said = proof.map(|p| (p.cells, p.verdict, digest(&p)));
                println!("demo, pitch {pitch}: {spent:.3} s, {used:.2} s of processor time, {said:?}");
            }
        }
        return;
    }
    let plain = yardstick(&demo);
    long_move(&demo);
    // A proof at a pitch less what it costs where cells are few is what its cells cost.
    let few = demo.best(0.5, 1).0;
    let cells = demo.best(PITCH, 1).0 - few;
    println!("removal in tiles (the demo's proof on one thread at {PITCH} less that at 0.5): {cells:.3} s");
    println!("removal in tiles / yardstick: {:.2}", cells / plain);
    println!("\nwork,side_mm,pitch_mm,moves,threads,seconds,million_cells,peak_mb,verdict");
    for pitch in [0.08, 0.04, 0.02, 0.01] {
        line(&demo, "demo", pitch, &[1, 2]);
    }
    // Against area, then pitch, then moves.
    for side in [150.0, 300.0] {
        line(&sign(&demo, side, 50_000), "sign", PITCH, &[2]);
    }
    for pitch in [0.08, 0.04, PITCH, 0.01] {
        line(&sign(&demo, 600.0, 50_000), "sign", pitch, &[2]);
    }
    for moves in [25_000, 100_000, 200_000] {
        line(&sign(&demo, 600.0, moves), "sign", PITCH, if moves == 200_000 { &[1, 2] } else { &[2] });
    }
}

/// The pitch of the yardsticks, mm.
const PITCH: f64 = 0.02;

/// Processor time of all threads so far, s, where the system tells it in hundredths.
fn processor() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields: Vec<&str> = stat.rsplit(") ").next().unwrap_or_default().split(' ').collect();
    let ticks = |k: usize| fields.get(k).and_then(|f| f.parse::<f64>().ok()).unwrap_or(0.0);
    (ticks(11) + ticks(12)) / 100.0
}

/// A number that is the same only if everything that a proof says is the same.
fn digest(proof: &Proof) -> u64 {
    let said = format!("{proof:?}");
    said.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, b| (hash ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3))
}

/// A line of the table for each number of threads.
fn line(work: &Work, name: &str, pitch: f64, threads: &[usize]) {
    let side = work.intent.blank.size[0].to_mm();
    let moves: usize = work.programs.iter().map(|(file, text)| read::read(file, text.as_bytes()).moves.len()).sum();
    for &n in threads {
        // Where the system allows it, the most memory is told of these proofs alone.
        let _ = std::fs::write("/proc/self/clear_refs", "5");
        let (spent, proof) = work.best(pitch, n);
        let cells = proof.as_ref().map_or(0, |p| p.cells) as f64 * 1e-6;
        let verdict = proof.map(|p| format!("{:?}", p.verdict)).unwrap_or_default();
        println!("{name},{side},{pitch},{moves},{n},{spent:.3},{cells:.1},{},{verdict}", peak());
    }
}

/// The most memory that the process has had since it was asked to forget, MB, where the system tells it.
fn peak() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.and_then(|l| l.trim().trim_end_matches(" kB").parse::<u64>().ok()).unwrap_or(0) / 1024
}

/// Stretches of rows and the height they are lowered to: row, first column, the one after the last, height.
type Spans = Vec<(usize, usize, usize, f32)>;

/// The rows of one level move: those of its box cut to the reach about its middle line.
fn rows_of(p: Point, q: Point, r: f64, z: f64, (columns, rows): (usize, usize), spans: &mut Spans) {
    let (low, high) = (p.y.min(q.y) - r, p.y.max(q.y) + r);
    let first = (low / PITCH).max(0.0) as usize;
    for row in first..((high / PITCH).max(0.0) as usize + 1).min(rows) {
        let y = (row as f64 + 0.5) * PITCH;
        let along = if p.y == q.y { 0.0 } else { ((y - p.y) / (q.y - p.y)).clamp(0.0, 1.0) };
        let nearest = p.lerp(q, along);
        let half = (r * r - (y - nearest.y).powi(2)).max(0.0).sqrt();
        let (x0, x1) = if p.y == q.y { (p.x.min(q.x), p.x.max(q.x)) } else { (nearest.x, nearest.x) };
        let at = |x: f64| ((x / PITCH).max(0.0) as usize).min(columns);
        spans.push((row, at(x0 - half), at(x1 + half), z as f32));
    }
}

/// Seconds to lower the rows and nothing else, the best of five; each thread has a part of the rows to itself.
fn lower(spans: &Spans, (columns, rows): (usize, usize), threads: usize) -> f64 {
    let part = rows.div_ceil(threads);
    let lists: Vec<Spans> = (0..threads).map(|t| spans.iter().filter(|s| s.0 / part == t).copied().collect()).collect();
    let mut best = f64::INFINITY;
    for _ in 0..5 {
        let mut heights = vec![7.0f32; columns * rows];
        let began = Instant::now();
        std::thread::scope(|scope| {
            for (t, (heights, list)) in heights.chunks_mut(part * columns).zip(&lists).enumerate() {
                scope.spawn(move || {
                    for &(row, x0, x1, z) in list {
                        let line = (row - t * part) * columns;
                        for cell in &mut heights[line + x0..line + x1] {
                            *cell = if *cell < z { *cell } else { z };
                        }
                    }
                });
            }
        });
        best = best.min(began.elapsed().as_secs_f64());
        black_box(&heights);
    }
    best
}

/// Lowers every cell that the demo's level moves sweep, row by row: what a grid without a second thought costs on one
/// thread, s.
fn yardstick(demo: &Work) -> f64 {
    let size = [demo.intent.blank.size[0].to_mm(), demo.intent.blank.size[1].to_mm()];
    let grid = ((size[0] / PITCH) as usize, (size[1] / PITCH) as usize);
    let mut spans = Spans::new();
    for (file, text) in &demo.programs {
        let program = read::read(file, text.as_bytes());
        let Some(cutter) = program.cutters.first().and_then(|c| demo.shop.cutter(c.0)) else { continue };
        for m in program.moves.iter() {
            let (Some(a), Some(b)) = (place(m.from), place(m.to)) else { continue };
            if a[2] == b[2] && m.feed.is_some() {
                rows_of(Point::new(a[0], a[1]), Point::new(b[0], b[1]), cutter.radius(), a[2], grid, &mut spans);
            }
        }
    }
    let cells = spans.iter().map(|s| s.2 - s.1).sum::<usize>() as f64 * 1e-6;
    let (one, two) = (lower(&spans, grid, 1), lower(&spans, grid, 2));
    println!("yardstick: z = min(z, h) over the rows of the demo's level moves at {PITCH}, {cells:.0} M cells:");
    println!("  one thread {one:.3} s, two threads {two:.3} s");
    one
}

/// One long level move, slanting, by rows and written cell by cell: each cell of its box asked for its distance.
fn long_move(demo: &Work) {
    let grid = (10_000, 10_000);
    let (p, q) = (Point::new(10.0, 10.0), Point::new(190.0, 187.0));
    let (r, z) = (demo.shop.cutter(1).map_or(1.5, |c| c.radius()), 5.0f32);
    let mut spans = Spans::new();
    rows_of(p, q, r, f64::from(z), grid, &mut spans);
    // Rows of a slanting move are as wide as its slope makes them, not as their nearest place is.
    let (along, length) = (q - p, p.distance(q));
    let wide = r * length / along.y.abs();
    for (row, x0, x1, _) in &mut spans {
        let y = (*row as f64 + 0.5) * PITCH;
        let middle = p.x + along.x * ((y - p.y) / along.y).clamp(0.0, 1.0);
        (*x0, *x1) = (((middle - wide) / PITCH) as usize, ((middle + wide) / PITCH) as usize);
    }
    let plain = lower(&spans, grid, 1);
    let mut best = f64::INFINITY;
    let share = 1.0 / along.dot(along);
    for _ in 0..5 {
        let mut heights = vec![7.0f32; grid.0 * grid.1];
        let began = Instant::now();
        for &(row, x0, x1, _) in &spans {
            let y = (row as f64 + 0.5) * PITCH - p.y;
            for (k, cell) in heights[row * grid.0..][x0..x1].iter_mut().enumerate() {
                let to = Point::new((f64::from((x0 + k) as i32) + 0.5) * PITCH - p.x, y);
                let off = to - along * (to.dot(along) * share).max(0.0).min(1.0);
                *cell = if off.dot(off) <= r * r && *cell > z { z } else { *cell };
            }
        }
        best = best.min(began.elapsed().as_secs_f64());
        black_box(&heights);
    }
    let cells = spans.iter().map(|s| s.2 - s.1).sum::<usize>() as f64 * 1e-6;
    println!(
        "one long level move of {cells:.1} M cells: by rows {plain:.4} s, a flat sweep written cell by cell {best:.4} s"
    );
    println!("  yardstick / cell by cell: {:.2} (0.9 asked)", plain / best);
}

fn place(at: [Option<f64>; 3]) -> Option<[f64; 3]> {
    Some([at[0]?, at[1]?, at[2]?])
}

/// A sign of square fields, each cleared in passes of short moves.
fn sign(demo: &Work, side: f64, moves: usize) -> Work {
    let mut intent = demo.intent.clone();
    intent.blank.size = [Length::mm(side), Length::mm(side)];
    intent.outline = None;
    intent.holds = Vec::new();
    let cell = 30.0;
    let count = ((side - 10.0) / cell) as usize;
    let top = intent.blank.face_high.to_mm();
    let floor = top - 0.75;
    let each = (moves / (count * count)).max(8);
    let r = demo.shop.cutter(1).map_or(1.5, |c| c.radius());
    let half = 12.0;
    let mut text = String::from("G21 G17 G90 G94\nT1\nM3 S18000\nG0 Z20\n");
    intent.areas.clear();
    for k in 0..count * count {
        let (x, y) = (20.0 + cell * (k % count) as f64, 20.0 + cell * (k / count) as f64);
        intent.areas.push(Area {
            name: format!("field {k}"),
            region: Region::solid(rounded(x, y, half, r + 0.5)),
            floor: Height::mm(floor),
            kind: FloorKind::AboveTable,
            edge: EdgeProfile::Upright,
            seamless: false,
            strokes: Strokes::default(),
            held: Held::Stated(String::new()),
            reveal: None,
            line: 1,
        });
        field(&mut text, x, y, half - r, (top, floor), each);
    }
    text.push_str("G0 Z20\nM5\nM30\n");
    Work { shop: demo.shop.clone(), intent, programs: vec![("sign.nc".to_owned(), text)] }
}

fn rounded(x: f64, y: f64, half: f64, r: f64) -> Contour {
    let quarter = libm::tan(std::f64::consts::FRAC_PI_8);
    let h = half - r;
    let v = |dx: f64, dy: f64, bulge: f64| Vertex { p: Point::new(x + dx, y + dy), bulge };
    let vertices = vec![
        v(-h, -half, 0.0),
        v(h, -half, quarter),
        v(half, -h, 0.0),
        v(half, h, quarter),
        v(h, half, 0.0),
        v(-h, half, quarter),
        v(-half, h, 0.0),
        v(-half, -h, quarter),
    ];
    Contour { vertices }
}

/// A helix in the middle and rounded rings outward, in about so many moves.
fn field(text: &mut String, x: f64, y: f64, half: f64, (top, floor): (f64, f64), moves: usize) {
    let _ = writeln!(text, "G0 X{:.4} Y{y:.4}\nG0 Z{:.4}", x + 1.2, top + 0.2);
    let mut z = top + 0.2;
    let _ = writeln!(text, "G1 Z{z:.4} F500");
    while z > floor {
        z = (z - 0.35).max(floor);
        let _ = writeln!(text, "G3 X{:.4} Y{y:.4} Z{z:.4} I-1.2 J0 F900", x + 1.2);
    }
    let _ = writeln!(text, "G3 X{:.4} Y{y:.4} I-1.2 J0 F1000", x + 1.2);
    let rings = (half / 1.2).ceil() as usize;
    let side_moves = (moves / (rings * 4)).max(1);
    for k in (0..rings).rev() {
        let h = half - 1.2 * k as f64;
        // Corners of half a millimetre, so that the region's own are met exactly by the last ring.
        let c = 0.5f64.min(h * 0.5);
        let corners = [(h, -h + c, h, h - c), (h - c, h, -h + c, h), (-h, h - c, -h, -h + c), (-h + c, -h, h - c, -h)];
        let _ = writeln!(text, "G1 X{:.4} Y{:.4}", x + h, y - h + c);
        for (i, (x0, y0, x1, y1)) in corners.into_iter().enumerate() {
            for m in 1..=side_moves {
                let t = m as f64 / side_moves as f64;
                let _ = writeln!(text, "G1 X{:.4} Y{:.4}", x + x0 + (x1 - x0) * t, y + y0 + (y1 - y0) * t);
            }
            let next = corners[(i + 1) % 4];
            let _ = writeln!(text, "G3 X{:.4} Y{:.4} R{c:.4}", x + next.0, y + next.1);
        }
    }
    let _ = writeln!(text, "G0 Z{:.4}", top + 10.0);
}
