//! What holds for every text: reading ends without a panic and in time that grows with the text; spaces, case, line ends
//! and line numbers change nothing; a program in inches is the one in millimetres, 25.4 times smaller.

mod common;

use proptest::prelude::*;
use read::{Move, Program, Shape, read, read_text};

/// Legal lines of all kinds, after which any other may follow.
const LINES: &[&str] = &[
    "G0 X10 Y10 Z10",
    "G1 X12.5 Y-3 Z2 F400",
    "G1 X[1 + 2 * 3] Y-.5",
    "G90 G2 X20 Y10 Z10 I5 J0 F300",
    "G4 P0.5",
    "S12000 M3",
    "M5",
    "T3 M6",
    "(dial 3 = 18000 rev/min)",
    "#7=1.5 #8=[#1 - 2]",
    "G98 G81 X5 Y6 Z1 R4 F100",
    "G99 G83 X5 Y6 Z1 R4 Q0.7 F100",
    "G80",
    "G93 G1 X3 F4",
    "G94 F250",
    "G91 G0 X1 Z1",
    "G90",
    "G18",
    "G17",
    "/G0 Z20",
    "G92 X0",
    "G41 D1",
    "M0",
    "",
];

/// A start from which the lines above are legal.
const START: &str = "G21 G17 G90 G94\n#1=4\nG0 X0 Y0 Z10\nF500\n";

fn program() -> impl Strategy<Value = String> {
    prop::collection::vec(prop::sample::select(LINES), 0..25)
        .prop_map(|lines| format!("{START}{}\nG90 G0 X10 Y10 Z10\nM30\n", lines.join("\n")))
}

/// What a program comes to, without its text: moves, doubts, dial notes.
fn meaning(program: &Program) -> (Vec<Move>, Vec<String>, Vec<(u32, f64)>) {
    let doubts = program.doubts.iter().map(|d| format!("{}: {}", d.id, d.message)).collect();
    (program.moves.iter().collect(), doubts, program.dial_notes.clone())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let program = read("noise.nc", &bytes);
        prop_assert_eq!(common::check(&bytes), Ok(()));
        // Noise is never a program.
        prop_assert!(program.doubts.iter().any(|d| d.blocks()));
    }

    #[test]
    fn any_words(text in "[GMXYZIJKRFPQLNT#=\\[\\]0-9.+*/()%; \n-]{0,300}") {
        prop_assert_eq!(common::check(text.as_bytes()), Ok(()));
    }

    #[test]
    fn any_expression(text in "(\\[|\\]|#|[0-9]|[0-9]\\.|\\+|-|\\*|/|mod|and|or|xor|sin|fix|atan|sqrt|ln|exp){0,60}") {
        let text = format!("#1=2\nG21 G90\nG0 X{text}\nM2\n");
        prop_assert_eq!(common::check(text.as_bytes()), Ok(()));
    }

    #[test]
    fn damaged(text in program(), changes in prop::collection::vec((any::<prop::sample::Index>(), 0..4, any::<u8>()), 1..6)) {
        let mut bytes = text.into_bytes();
        for (at, how, byte) in changes {
            if bytes.is_empty() {
                break;
            }
            let at = at.index(bytes.len());
            match how {
                0 => bytes[at] = byte,
                1 => drop(bytes.remove(at)),
                2 => bytes.insert(at, byte),
                _ => bytes.truncate(at),
            }
        }
        prop_assert_eq!(common::check(&bytes), Ok(()));
    }

    /// A program cut off anywhere before its end is refused.
    #[test]
    fn cut_short(text in program(), at in any::<prop::sample::Index>()) {
        let end = text.trim_end().len();
        let cut = &text[..at.index(end)];
        prop_assert!(read_text("cut.nc", cut).doubts.iter().any(|d| d.id == "program-cut-short"));
    }

    /// NISTIR 6556 §3.3: spaces, tabs and case don't matter outside comments; nor do line ends and line numbers (seen).
    #[test]
    fn spaces_case_and_numbers(text in program(), seed in any::<u32>()) {
        let plain = read_text("a.nc", &text);
        prop_assert!(!plain.moves.is_empty());
        let mut noise = seed;
        let mut changed = String::new();
        for (number, line) in text.lines().enumerate() {
            if !line.is_empty() && !line.starts_with('/') {
                changed.push_str(&format!("n{:05} ", number * 7));
            }
            let mut comment = false;
            for c in line.chars() {
                noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                comment |= c == '(';
                changed.push_str(["", " ", "\t", ""][if comment { 0 } else { (noise >> 30) as usize }]);
                changed.push(if comment || noise & 0x100 == 0 { c } else { c.to_ascii_lowercase() });
            }
            changed.push_str("\r\n");
        }
        let changed = read_text("a.nc", &changed);
        prop_assert_eq!(meaning(&plain), meaning(&changed));
    }

    /// 1 in = 25.4 mm exactly (international yard and pound agreement, 1959; from memory): the same numbers under G20 are 25.4
    /// times as large.
    #[test]
    fn inches(points in prop::collection::vec((0..400i32, 0..400i32, 1..100i32), 1..12)) {
        let body: String = points.iter().map(|(x, y, r)| {
            let (x, y, r) = (f64::from(*x) / 100.0, f64::from(*y) / 100.0, f64::from(*r) / 100.0);
            format!("G1 X{x} Y{y} F{}\nG2 X{x} Y{y} I{r} J0\nG3 X{} R{r}\nG98 G81 Z0.1 R0.5 X{x}\n", r * 10.0, x + r)
        }).collect();
        let text = |units: &str| format!("{units} G17 G90 G94\nG0 X0 Y0 Z1\n{body}M2\n");
        let (mm, inch) = (read_text("a.nc", &text("G21")), read_text("a.nc", &text("G20")));
        prop_assert!(mm.doubts.is_empty() && inch.doubts.is_empty(), "{:?}", mm.doubts);
        prop_assert_eq!(mm.moves.len(), inch.moves.len());
        let near = |a: f64, b: f64| (a * 25.4 - b).abs() < 1e-6;
        for (a, b) in mm.moves.iter().zip(inch.moves.iter()) {
            let ends = a.from.iter().chain(&a.to).zip(b.from.iter().chain(&b.to));
            prop_assert!(ends.into_iter().all(|(a, b)| near(a.unwrap_or(0.0), b.unwrap_or(0.0))), "{a:?} {b:?}");
            prop_assert!(near(a.feed.unwrap_or(0.0), b.feed.unwrap_or(0.0)));
            if let (Shape::Arc { centre: c, radius: r, sweep: s, .. }, Shape::Arc { centre, radius, sweep, .. }) = (a.shape, b.shape) {
                prop_assert!(near(c[0], centre[0]) && near(c[1], centre[1]) && near(r, radius) && (s - sweep).abs() < 1e-6);
            }
        }
    }

    /// Start and end of an arc lie on its circle, and its sweep leads from one to the other.
    #[test]
    fn arcs_lead_to_their_ends(a in -3.0..3.0f64, turn in 0.05..6.2f64, r in 0.5..50.0f64, clockwise: bool, by_radius: bool) {
        let sweep = if clockwise { -turn } else { turn };
        let at = |angle: f64| (20.0 + r * libm::cos(angle), 30.0 + r * libm::sin(angle));
        let ((x0, y0), (x1, y1)) = (at(a), at(a + sweep));
        let code = if clockwise { "G2" } else { "G3" };
        let how = if by_radius {
            format!("R{:.9}", if turn > std::f64::consts::PI { -r } else { r })
        } else {
            format!("I{:.9} J{:.9}", 20.0 - x0, 30.0 - y0)
        };
        let text = format!("G21 G17 G90 G94\nG0 X{x0:.9} Y{y0:.9} Z1\nF100\n{code} X{x1:.9} Y{y1:.9} {how}\nM2\n");
        let program = read_text("arc.nc", &text);
        prop_assert!(program.doubts.is_empty(), "{:?}", program.doubts);
        let Shape::Arc { centre, radius, sweep: got, .. } = program.moves.get(1).unwrap().shape else { panic!("{program:?}") };
        // Where half a turn is near, R tells the centre badly: an error of 1e-9 in R is its root in the centre.
        let within = if by_radius { 3e-3 } else { 1e-6 };
        prop_assert!((radius - r).abs() < 1e-6 && (got - sweep).abs() < within, "{got} {sweep}");
        prop_assert!(libm::hypot(centre[0] - 20.0, centre[1] - 30.0) < within * r.max(1.0), "{centre:?}");
    }
}

#[test]
fn many_doubts_are_cut() {
    let text = "G5\n".repeat(200) + "G21 G90\n" + &"#1=#2\n".repeat(200) + "M2\n";
    let program = read_text("a.nc", &text);
    assert_eq!(program.doubts.len(), 52);
    assert_eq!(program.doubts[50].notes, ["the same in 199 more lines"]);
    assert_eq!(program.doubts[51].id, "doubts-cut");
    assert!(program.doubts[51].message.starts_with("150 "), "{}", program.doubts[51].message);
}

/// What coverage-guided fuzzing found to differ, and the seeds it began from; `fuzz/LOG.md` tells the runs.
#[test]
fn the_fuzzers_corpus_holds() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fuzz/corpus/program");
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    files.sort();
    assert!(files.len() > 100, "{} files", files.len());
    for file in files {
        let text = common::text_of(&std::fs::read(&file).unwrap());
        assert_eq!(common::check(&text), Ok(()), "{}", file.display());
    }
}

/// Nobody turns a dial ten thousand times.
#[test]
fn many_dial_notes_are_undecided() {
    let notes = |n: usize| read_text("a.nc", &format!("{}G21 G90\nG0 X1\nM2\n", "(dial 1 = 9000 rev/min)\n".repeat(n)));
    assert!(notes(10_000).doubts.is_empty());
    let program = notes(10_003);
    assert_eq!(program.dial_notes.len(), 10_000);
    let [doubt] = &program.doubts[..] else { panic!("{:?}", program.doubts) };
    assert_eq!((doubt.id, doubt.notes.len()), ("undecided-dial-notes", 1));
}

/// No clock is asked: the work is just done, and wouldn't end if it grew with the square of the text.
#[test]
fn long_texts_end() {
    let lines = 200_000;
    let body: String = (0..lines).map(|i| format!("G1 X{} Y{}\n", i % 300, i % 200)).collect();
    let program = read_text("long.nc", &format!("G21 G90 G94\nG0 X0 Y0 Z5\nF100\n{body}M2\n"));
    assert_eq!(program.moves.len(), lines + 1);
    assert!(program.doubts.is_empty());
    // One line without end, and faults in every line.
    assert!(read("long.nc", &vec![b'('; 5_000_000]).doubts.iter().any(|d| d.id == "line-too-long"));
    assert!(read_text("long.nc", &"(\n".repeat(lines)).doubts.len() <= 52);
    assert!(read_text("long.nc", &"#1=#2\n".repeat(lines)).doubts.len() <= 52);
    // Cycles that grow without end are stopped.
    let text = "G83 X1 Z0 R10 Q0.01\n".repeat(lines);
    let program = read_text("long.nc", &format!("G21 G17 G90 G94 G99\nG0 X0 Y0 Z10\nF100\n{text}M2\n"));
    assert!(program.moves.len() <= 2_000_000 + lines && program.doubts.iter().any(|d| d.id == "too-many-moves"));
}

#[test]
fn what_is_read_is_all_there_is() {
    let program = read_text("a.nc", "G21 G90\nG0 X1\nM2");
    assert_eq!(program.lines.iter().collect::<Vec<_>>(), ["G21 G90", "G0 X1", "M2"]);
    assert_eq!((program.lines.len(), program.lines.get(1).as_deref()), (3, Some("G0 X1")));
    assert_eq!(program.file, "a.nc");
    let place = program.moves.first().unwrap();
    assert_eq!((place.line, place.from, place.to), (2, [None; 3], [Some(1.0), None, None]));
}
