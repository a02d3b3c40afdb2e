//! How long proofs take, beside the plainest way to lower the same cells: `z = min(z, h)` over rows.
//!
//! `cargo bench --manifest-path bench/Cargo.toml --bench proof`; the environment variable `PITCH` proves the demo only, at
//! the pitches it lists.

use plane::{Contour, Point, Region, Vertex};
use plate::{Area, EdgeProfile, FloorKind, Held, Intent, Shop};
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
        for pitch in pitches.split(',').filter_map(|p| p.parse().ok()) {
            for _ in 0..3 {
                let (spent, proof) = demo.prove(pitch);
                println!("demo, pitch {pitch}: {spent:.3} s, {:?}", proof.map(|p| (p.cells, p.verdict)));
            }
        }
        return;
    }
    yardstick(&demo);
    println!("\nthe demo's whole proof, loads included");
    for pitch in [0.08, 0.04, 0.02, 0.01] {
        line(&demo, "demo", pitch, &[1, 2]);
    }
    println!("\na sign of 600 x 600 mm: against moves");
    for moves in [25_000, 50_000, 100_000, 200_000] {
        line(&sign(&demo, 600.0, moves), &format!("600 mm, {moves} moves"), 0.02, if moves == 200_000 { &[1, 2] } else { &[2] });
    }
    println!("\nagainst area, 50,000 moves");
    for side in [150.0, 300.0, 600.0] {
        line(&sign(&demo, side, 50_000), &format!("{side} mm"), 0.02, &[2]);
    }
    println!("\nagainst pitch, 600 mm, 50,000 moves");
    for pitch in [0.08, 0.04, 0.02, 0.01] {
        line(&sign(&demo, 600.0, 50_000), "600 mm", pitch, &[2]);
    }
}

fn line(work: &Work, name: &str, pitch: f64, threads: &[usize]) {
    let mut text = format!("  {name:<24} pitch {pitch:<5}");
    let mut last = None;
    for &n in threads {
        let (spent, proof) = work.best(pitch, n);
        let _ = write!(text, "  {n} threads {spent:>7.3} s");
        last = proof;
    }
    let cells = last.as_ref().map_or(0, |p| p.cells);
    let verdict = last.map(|p| p.verdict);
    println!("{text}  {:>7.1} M cells  {verdict:?}  {} MB at most so far", cells as f64 * 1e-6, peak());
}

/// The most memory that the process has had, MB, where the system tells it.
fn peak() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.and_then(|l| l.trim().trim_end_matches(" kB").parse::<u64>().ok()).unwrap_or(0) / 1024
}

/// Lowers every cell that the demo's level moves sweep, row by row and nothing else: what a grid without a second thought
/// costs. Rows of a move are those of its box cut to the reach about its middle line.
fn yardstick(demo: &Work) {
    let pitch = 0.02;
    let size = [demo.intent.blank.size[0].to_mm(), demo.intent.blank.size[1].to_mm()];
    let (columns, rows) = ((size[0] / pitch) as usize, (size[1] / pitch) as usize);
    let mut spans: Vec<(usize, usize, usize, f32)> = Vec::new();
    for (file, text) in &demo.programs {
        let program = read::read(file, text.as_bytes());
        let Some(cutter) = program.cutters.first().and_then(|c| demo.shop.cutter(c.0)) else { continue };
        let r = cutter.radius();
        for m in program.moves.iter() {
            let (Some(a), Some(b)) = (place(m.from), place(m.to)) else { continue };
            if a[2] != b[2] || m.feed.is_none() {
                continue;
            }
            let (p, q) = (Point::new(a[0], a[1]), Point::new(b[0], b[1]));
            let (low, high) = (p.y.min(q.y) - r, p.y.max(q.y) + r);
            let first = (low / pitch).max(0.0) as usize;
            for row in first..((high / pitch).max(0.0) as usize + 1).min(rows) {
                let y = (row as f64 + 0.5) * pitch;
                let along = if p.y == q.y { 0.0 } else { ((y - p.y) / (q.y - p.y)).clamp(0.0, 1.0) };
                let nearest = p.lerp(q, along);
                let half = (r * r - (y - nearest.y).powi(2)).max(0.0).sqrt();
                let (x0, x1) = if p.y == q.y { (p.x.min(q.x), p.x.max(q.x)) } else { (nearest.x, nearest.x) };
                let at = |x: f64| ((x / pitch).max(0.0) as usize).min(columns);
                spans.push((row, at(x0 - half), at(x1 + half), a[2] as f32));
            }
        }
    }
    let cells: usize = spans.iter().map(|s| s.2 - s.1).sum();
    let mut best = f64::INFINITY;
    for _ in 0..3 {
        let mut heights = vec![7.0f32; columns * rows];
        let began = Instant::now();
        for &(row, x0, x1, z) in &spans {
            for cell in &mut heights[row * columns + x0..row * columns + x1] {
                *cell = if *cell < z { *cell } else { z };
            }
        }
        best = best.min(began.elapsed().as_secs_f64());
        black_box(&heights);
    }
    println!(
        "yardstick: z = min(z, h) over the rows of the demo's level moves at {pitch}: {best:.3} s for {:.0} M cells, one thread",
        cells as f64 * 1e-6
    );
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
