//! Nothing in a file may make reading panic or hang, and nothing that is only arrangement may change what is read.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use drawing::{Drawing, EVERYTHING, ReadOptions, Strokes, read};
use proptest::prelude::*;
use quantity::Unit;
use std::path::Path;
use std::time::{Duration, Instant};

fn samples() -> Vec<(String, Vec<u8>)> {
    let mut samples = Vec::new();
    for folder in ["tests/dxf-cases", "tests/svg-cases"] {
        let mut names: Vec<_> = std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join(folder))
            .unwrap()
            .map(|e| e.unwrap().path())
            .filter(|p| p.extension().is_some_and(|e| e == "dxf" || e == "svg"))
            .collect();
        names.sort();
        samples.extend(names.into_iter().map(|p| (p.to_string_lossy().into_owned(), std::fs::read(&p).unwrap())));
    }
    samples
}

/// Reads, asks for every name, and checks what must hold of any reading.
fn read_all(name: &str, bytes: &[u8]) -> Drawing {
    let mut last = None;
    for strokes in [Strokes::CentreLines, Strokes::Outlines] {
        let drawing = read(name, bytes, &ReadOptions { strokes, ..ReadOptions::default() });
        for c in &drawing.contours {
            assert!(c.contour.vertices.iter().all(|v| v.p.is_finite() && v.bulge.is_finite()));
        }
        let names = drawing.names();
        assert!(names.iter().all(|n| n.area.is_finite()));
        let nothing = drawing.contours.is_empty() && drawing.open_paths.is_empty();
        assert!(!nothing || doubt::any_blocks(&drawing.doubts), "nothing read, and nothing said");
        last = Some(drawing);
    }
    last.unwrap()
}

fn in_time<T>(limit: Duration, what: &str, run: impl FnOnce() -> T) -> T {
    let start = Instant::now();
    let result = run();
    assert!(start.elapsed() < limit, "{what} took {:?}", start.elapsed());
    result
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, ..ProptestConfig::default() })]

    #[test]
    fn random_bytes(bytes in prop::collection::vec(any::<u8>(), 0..400), start in 0usize..4) {
        let starts: [&[u8]; 4] = [b"", b"<svg>", b"0\nSECTION\n2\nENTITIES\n", b"AutoCAD Binary DXF\r\n\x1a\0"];
        read_all("noise", &[starts[start], &bytes].concat());
    }

    /// Bytes changed, lines dropped, doubled and swapped in real files.
    #[test]
    fn damaged_files(pick in any::<prop::sample::Index>(), changes in prop::collection::vec(
        (any::<prop::sample::Index>(), any::<u8>(), 0u8..6), 1..6)) {
        let samples = samples();
        let (name, mut bytes) = samples[pick.index(samples.len())].clone();
        for (at, byte, kind) in changes {
            if bytes.is_empty() {
                break;
            }
            let i = at.index(bytes.len());
            match kind {
                0 => bytes[i] = byte,
                1 => { bytes.remove(i); }
                2 => bytes.insert(i, byte),
                3 => bytes.truncate(i.max(bytes.len() / 2)),
                _ => {
                    let mut lines: Vec<&[u8]> = bytes.split_inclusive(|&b| b == b'\n').collect();
                    let line = at.index(lines.len());
                    let other = usize::from(byte) % lines.len();
                    if kind == 4 { lines.swap(line, other) } else { lines[line] = lines[other] }
                    bytes = lines.concat();
                }
            }
        }
        in_time(Duration::from_secs(20), &name, || read_all(&name, &bytes));
    }

    /// Numbers of a real file replaced by awkward ones.
    #[test]
    fn awkward_numbers(pick in any::<prop::sample::Index>(), at in any::<prop::sample::Index>(), number in
        prop::sample::select(vec!["1e308", "-1e308", "NaN", "inf", "0", "-0", "1e-320", "99999999", "-5", "1e9", ""])) {
        let samples = samples();
        let (name, bytes) = &samples[pick.index(samples.len())];
        let Ok(text) = std::str::from_utf8(bytes) else { return Ok(()) };
        let is_number = |c: char| c.is_ascii_digit() || c == '.' || c == '-';
        let starts: Vec<usize> = text.match_indices(is_number).map(|(i, _)| i)
            .filter(|&i| i == 0 || !text[..i].ends_with(is_number)).collect();
        let start = starts[at.index(starts.len())];
        let end = text[start..].find(|c| !is_number(c)).map_or(text.len(), |n| start + n);
        let changed = format!("{}{number}{}", &text[..start], &text[end..]);
        in_time(Duration::from_secs(20), name, || read_all(name, changed.as_bytes()));
    }
}

/// A text DXF with the records of its entities section in another order.
fn shuffled(bytes: &[u8], keys: &[u32]) -> Vec<u8> {
    let text = String::from_utf8(bytes.to_vec()).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let pairs: Vec<[&str; 2]> = lines.chunks_exact(2).map(|c| [c[0], c[1]]).collect();
    let start = pairs.iter().position(|p| p[0].trim() == "2" && p[1].trim() == "ENTITIES").unwrap() + 1;
    let end = start + pairs[start..].iter().position(|p| p[0].trim() == "0" && p[1].trim() == "ENDSEC").unwrap();
    let mut records: Vec<Vec<[&str; 2]>> = Vec::new();
    for pair in &pairs[start..end] {
        let part = matches!(pair[1].trim(), "VERTEX" | "SEQEND" | "ATTRIB");
        if pair[0].trim() == "0" && !part {
            records.push(Vec::new());
        }
        records.last_mut().unwrap().push(*pair);
    }
    let mut order: Vec<usize> = (0..records.len()).collect();
    order.sort_by_key(|&i| (keys[i % keys.len()].wrapping_mul(i as u32 + 7), i));
    let mut out: Vec<[&str; 2]> = pairs[..start].to_vec();
    out.extend(order.iter().flat_map(|&i| records[i].clone()));
    out.extend(&pairs[end..]);
    out.iter().flat_map(|p| [p[0], "\n", p[1], "\n"]).collect::<String>().into_bytes()
}

/// What is read, without its order.
fn gist(drawing: &Drawing) -> [Vec<String>; 4] {
    let mut contours: Vec<String> = drawing
        .contours
        .iter()
        .map(|c| {
            let b = c.contour.bounds();
            format!(
                "{} {:.6} {:.6} {:.6} {:.6}",
                c.names[0],
                b.min.x,
                b.min.y,
                c.contour.area().abs(),
                c.contour.length()
            )
        })
        .collect();
    let mut open: Vec<String> = drawing
        .open_paths
        .iter()
        .map(|p| format!("{} {:.6} {:.6}", p.names[0], p.path.bounds().min.x, p.path.length()))
        .collect();
    contours.sort();
    open.sort();
    let skipped = drawing.skipped.iter().map(|s| format!("{} {}", s.kind, s.count)).collect();
    let repairs = drawing.repairs.iter().map(|r| format!("{:?} {:.6}", r.mend, r.amount)).collect();
    [contours, open, skipped, repairs]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// The order of entities in a DXF means nothing.
    #[test]
    fn order_means_nothing(pick in any::<prop::sample::Index>(), keys in prop::collection::vec(any::<u32>(), 8..30)) {
        let texts: Vec<_> = samples().into_iter()
            .filter(|(n, b)| n.ends_with(".dxf") && !n.contains("28_") && std::str::from_utf8(b).is_ok()).collect();
        let (name, bytes) = &texts[pick.index(texts.len())];
        let options = ReadOptions::default();
        let (a, b) = (read(name, bytes, &options), read(name, &shuffled(bytes, &keys), &options));
        prop_assert_eq!(gist(&a), gist(&b), "{}", name);
    }

    /// The same numbers in another unit are the same drawing at another size.
    #[test]
    fn units_scale(pick in any::<prop::sample::Index>(), unit in prop::sample::select(vec![Unit::Inch, Unit::Centimetre])) {
        let all = samples();
        let (name, bytes) = &all[pick.index(all.len())];
        let in_mm = read(name, bytes, &ReadOptions { units: Some(Unit::Millimetre), ..ReadOptions::default() });
        let other = read(name, bytes, &ReadOptions { units: Some(unit), ..ReadOptions::default() });
        let scale = unit.in_mm();
        let (a, b) = (in_mm.region(EVERYTHING).0, other.region(EVERYTHING).0);
        if name.contains("11_gap") || name.contains("28_") {
            return Ok(());
        }
        let tolerance = 0.002 * (b.length() + 1.0) + 0.002 * scale * scale * (a.length() + 1.0);
        prop_assert!((a.area() * scale * scale - b.area()).abs() <= tolerance, "{} {} {}", name, a.area(), b.area());
    }
}

fn dxf(blocks: &str, entities: &str) -> Vec<u8> {
    let words = format!("0 SECTION 2 BLOCKS {blocks} 0 ENDSEC 0 SECTION 2 ENTITIES {entities} 0 ENDSEC 0 EOF");
    words.split_whitespace().collect::<Vec<_>>().join("\n").into_bytes()
}

fn refused(drawing: &Drawing, id: &str) -> bool {
    drawing.doubts.iter().any(|d| d.id == id && d.blocks())
}

#[test]
fn inserts_that_multiply_are_stopped() {
    let ten = |inner: &str| format!("0 INSERT 8 0 2 {inner} 10 0 20 0 70 10 71 10 44 1 45 1 ");
    let block = |name: &str, inside: String| format!("0 BLOCK 2 {name} 10 0 20 0 {inside} 0 ENDBLK ");
    let mut blocks = block("A", "0 CIRCLE 8 0 10 0 20 0 40 1 ".into());
    for (name, inner) in [("B", "A"), ("C", "B"), ("D", "C"), ("E", "D")] {
        blocks += &block(name, ten(inner));
    }
    let drawing = in_time(Duration::from_secs(20), "nested arrays", || {
        read("a.dxf", &dxf(&blocks, &ten("E")), &ReadOptions::default())
    });
    assert!(refused(&drawing, "too-many-entities"));
    // An empty block in a huge array, and blocks that hold themselves.
    let empty = dxf(&block("A", String::new()), "0 INSERT 8 0 2 A 10 0 20 0 70 32000 71 32000 44 1 45 1");
    assert!(refused(
        &in_time(Duration::from_secs(20), "empty array", || read("a.dxf", &empty, &ReadOptions::default())),
        "too-many-entities"
    ));
    let circular = dxf(&(block("A", ten("B")) + &block("B", ten("A"))), "0 INSERT 8 0 2 A 10 0 20 0");
    let drawing = read("a.dxf", &circular, &ReadOptions::default());
    assert!(drawing.skipped.iter().any(|s| s.why == drawing::Why::TooDeep));
}

#[test]
fn deep_and_large_files_end() {
    // Far above what they take: it tells a hang from a busy machine.
    let limit = Duration::from_secs(30);
    let wrap = |open: &str, close: &str, n: usize| {
        format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='9mm' height='9mm'>{}<rect width='5' height='5'/>{}</svg>",
            open.repeat(n),
            close.repeat(n)
        )
    };
    let deep = in_time(limit, "nested groups", || {
        read("a.svg", wrap("<g>", "</g>", 100_000).as_bytes(), &ReadOptions::default())
    });
    assert!(deep.skipped.iter().any(|s| s.why == drawing::Why::TooDeep));
    // Entities that double at each level.
    let mut bomb = String::from("<!DOCTYPE svg [<!ENTITY a '<rect width=\"1\" height=\"1\"/>'>");
    for (name, inner) in ["b", "c", "d", "e", "f", "g", "h", "i"].iter().zip(["a", "b", "c", "d", "e", "f", "g", "h"]) {
        bomb += &format!("<!ENTITY {name} '{}'>", format!("&{inner};").repeat(10));
    }
    bomb += "]><svg xmlns='http://www.w3.org/2000/svg'>&i;</svg>";
    let bomb = in_time(limit, "entities", || read("a.svg", bomb.as_bytes(), &ReadOptions::default()));
    assert!(doubt::any_blocks(&bomb.doubts));
    // References that double at each level.
    let mut uses = String::from("<svg xmlns='http://www.w3.org/2000/svg'><defs><rect id='u0' width='1' height='1'/>");
    for i in 1..40 {
        uses += &format!("<g id='u{i}'><use href='#u{0}'/><use href='#u{0}'/></g>", i - 1);
    }
    uses += "</defs><use href='#u39'/></svg>";
    let uses = in_time(limit, "references", || read("a.svg", uses.as_bytes(), &ReadOptions::default()));
    assert!(refused(&uses, "too-many-entities"));
    // Many ends at one place, many lines over each other, many equal circles.
    let star: String = (0..6_000).map(|i| format!("0 LINE 8 0 10 0 20 0 11 {} 21 {} ", i % 80, i / 80 + 1)).collect();
    in_time(limit, "star", || read_all("a.dxf", &dxf("", &star)));
    let pile: String = (0..3_000).map(|i| format!("0 LINE 8 0 10 {i} 20 0 11 {} 21 0 ", i + 1500)).collect();
    in_time(limit, "pile", || read_all("a.dxf", &dxf("", &pile)));
    let holes: String = (0..6_000).map(|i| format!("0 CIRCLE 8 0 10 {} 20 {} 40 0.4 ", i % 80, i / 80)).collect();
    let holes = in_time(limit, "holes", || read_all("a.dxf", &dxf("", &holes)));
    assert_eq!(holes.contours.len(), 6_000);
}
