//! Pictures and setup sheet of a plate built in code: bytes, colours, words, and odd inputs.

#![expect(clippy::unwrap_used, reason = "what these helpers read was just written by the crate under test")]

#[path = "fixture/mod.rs"]
mod fixture;

use doubt::Kind;
use fixture::{BLACK, FACE, Fixture, RUBY, RUBY_FLOOR, door_plate, door_plate_with_many_corners};
use plane::{Contour, Point};
use plate::Hold;
use proof::{HandWork, HeightMap, Verdict};
use quantity::{Height, Length};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// One fixture for all tests that don't change it; the pitch is coarse to keep them quick.
fn plate() -> &'static Fixture {
    static PLATE: OnceLock<Fixture> = OnceLock::new();
    PLATE.get_or_init(|| door_plate(0.5))
}

/// A coarse one to be changed.
fn coarse() -> Fixture {
    static PLATE: OnceLock<Fixture> = OnceLock::new();
    PLATE.get_or_init(|| door_plate(1.0)).clone()
}

struct Picture {
    width: usize,
    height: usize,
    bytes: Vec<u8>,
}

impl Picture {
    fn read(png: &[u8]) -> Self {
        let mut reader = png::Decoder::new(std::io::Cursor::new(png)).read_info().unwrap();
        assert!(reader.info().srgb.is_some(), "colours are stated to be sRGB");
        let mut bytes = vec![0; reader.output_buffer_size().unwrap()];
        let frame = reader.next_frame(&mut bytes).unwrap();
        assert_eq!(frame.color_type, png::ColorType::Rgb);
        Self { width: frame.width as usize, height: frame.height as usize, bytes }
    }

    fn at(&self, x: usize, y: usize) -> [u8; 3] {
        let i = (y * self.width + x) * 3;
        [self.bytes[i], self.bytes[i + 1], self.bytes[i + 2]]
    }

    /// The pixel at a place on the fixture's blank, mm. The picture is 1600 px wide with 72 px clear at either side and
    /// 36 px at the top; between them lies the blank with its holds (x -10 to 230, y 0 to 120) and 4 mm of paper.
    fn place(x: f64, y: f64) -> (usize, usize) {
        let scale = (1600.0 - 144.0) / 248.0;
        ((72.0 + (x + 14.0) * scale) as usize, (36.0 + (124.0 - y) * scale) as usize)
    }

    fn on_blank(&self, x: f64, y: f64) -> [u8; 3] {
        let (x, y) = Self::place(x, y);
        self.at(x, y)
    }
}

fn near(a: [u8; 3], b: [u8; 3], by: u8) -> bool {
    a.iter().zip(b).all(|(a, b)| a.abs_diff(b) <= by)
}

/// Number of pages, and all text in drawing order without its spaces: words are placed one by one.
fn pages_and_words(pdf: &[u8]) -> (usize, String) {
    let document = lopdf::Document::load_mem(pdf).unwrap();
    let pages = document.get_pages();
    let mut words = String::new();
    for id in pages.values() {
        let fonts: BTreeMap<Vec<u8>, BTreeMap<u16, String>> = document
            .get_page_fonts(*id)
            .unwrap()
            .into_iter()
            .map(|(name, font)| (name, letters(&document, font)))
            .collect();
        let mut font: Option<&BTreeMap<u16, String>> = None;
        for operation in document.get_and_decode_page_content(*id).unwrap().operations {
            if operation.operator == "Tf" {
                font = fonts.get(operation.operands[0].as_name().unwrap());
            }
            let mut show = |codes: &[u8]| {
                for pair in codes.chunks_exact(2) {
                    let letter = font.and_then(|f| f.get(&u16::from_be_bytes([pair[0], pair[1]])));
                    words.push_str(letter.map_or("?", String::as_str));
                }
            };
            for operand in operation.operands {
                match (operation.operator.as_str(), operand) {
                    ("Tj", lopdf::Object::String(codes, _)) => show(&codes),
                    ("TJ", lopdf::Object::Array(parts)) => {
                        parts.iter().filter_map(|p| p.as_str().ok()).for_each(&mut show)
                    }
                    _ => {}
                }
            }
        }
    }
    (pages.len(), words.split_whitespace().collect())
}

/// A font's ToUnicode map (ISO 32000-1, 9.10.3): codes of two bytes to text, from its `bfchar` and `bfrange` lines.
fn letters(document: &lopdf::Document, font: &lopdf::Dictionary) -> BTreeMap<u16, String> {
    let id = font.get(b"ToUnicode").unwrap().as_reference().unwrap();
    let map = document.get_object(id).unwrap().as_stream().unwrap().get_plain_content().unwrap();
    let map = String::from_utf8(map).unwrap();
    let (mut letters, mut ranges) = (BTreeMap::new(), false);
    for line in map.lines() {
        ranges = (ranges || line.ends_with("beginbfrange")) && !line.ends_with("endbfrange");
        let numbers: Vec<&str> = line.split(['<', '>']).skip(1).step_by(2).collect();
        let code = |text: &str| u16::from_str_radix(text, 16).unwrap();
        let text = |hex: &str| {
            let units: Vec<u16> = hex.as_bytes().chunks(4).map(|c| code(std::str::from_utf8(c).unwrap())).collect();
            String::from_utf16_lossy(&units)
        };
        match numbers.as_slice() {
            [from, to] if !ranges && from.len() == 4 && !line.contains("codespace") => {
                letters.insert(code(from), text(to));
            }
            [from, to, first] if ranges => {
                for at in code(from)..=code(to) {
                    let unit = char::from_u32(u32::from(code(first)) + u32::from(at - code(from))).unwrap();
                    letters.insert(at, unit.to_string());
                }
            }
            _ => {}
        }
    }
    letters
}

#[test]
fn the_same_job_gives_the_same_bytes() {
    let (a, b) = (plate(), door_plate(0.5));
    assert_eq!(sheet::face(&a.job()), sheet::face(&b.job()));
    assert_eq!(sheet::after_stage(&a.job(), 1), sheet::after_stage(&b.job(), 1));
    assert_eq!(sheet::section(&a.job()), sheet::section(&b.job()));
    assert_eq!(sheet::hand_work(&a.job()), sheet::hand_work(&b.job()));
    assert_eq!(sheet::setup_sheet(&a.job()), sheet::setup_sheet(&b.job()));
}

#[test]
fn the_bytes_do_not_depend_on_threads() {
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let many = rayon::ThreadPoolBuilder::new().num_threads(5).build().unwrap();
    let face = || sheet::face(&plate().job());
    assert_eq!(one.install(face), many.install(face));
}

#[test]
fn flat_places_have_their_sheets_colours() {
    let picture = Picture::read(&sheet::face(&plate().job()));
    assert_eq!(picture.width, 1600);
    let at = |x: f64, y: f64| picture.on_blank(x, y);
    assert!(near(at(60.0, 50.0), BLACK, 1), "face {:?}", at(60.0, 50.0));
    assert!(near(at(140.0, 90.0), BLACK, 1), "recessed field {:?}", at(140.0, 90.0));
    // The seat leaves 2.61 of 3.00 mm of ruby that passes half the light: close to the sheet's own colour, lighter.
    let seat = at(165.0, 62.5);
    assert!(near(seat, RUBY, 14) && seat[0] >= RUBY[0] - 6, "seat {seat:?}");
    // The lamp leaves 1.2 mm: the ground tints through clearly.
    let lamp = at(177.0, 79.0);
    assert!(lamp[0] > seat[0] && lamp[1] > seat[1] + 40, "lamp {lamp:?}");
    // Above and beside the blank lies the ground.
    assert!(near(picture.at(4, 4), [250, 247, 240], 0));
}

/// A 0.5 mm step in a black sheet must be seen at 800 px: at half size, along a line across each edge, some pixel
/// differs from the flat sheet by at least 1.2 : 1 (our own measure, no source).
#[test]
fn a_half_millimetre_step_reads_at_800_px() {
    let mut fixture = coarse();
    let (columns, rows, pitch) = (2200, 1200, 0.1);
    let low = |i: usize, j: usize| (400..1800).contains(&i) && (300..900).contains(&j);
    let height = |k: usize| (FACE - if low(k % columns, k / columns) { 0.5 } else { 0.0 }) as f32;
    let heights = (0..columns * rows).map(height).collect();
    fixture.proof.relief = HeightMap { pitch, origin: Point::new(0.0, 0.0), columns, rows, heights };
    let picture = Picture::read(&sheet::face(&fixture.job()));
    let at = Picture::place;
    let light = |c: [u8; 3]| 0.2126 * linear(c[0]) + 0.7152 * linear(c[1]) + 0.0722 * linear(c[2]);
    // Four pixels of the picture make one at 800 px.
    let half = |x: usize, y: usize| (0..4).map(|k| light(picture.at(x + k % 2, y + k / 2))).sum::<f64>() / 4.0;
    for (x, y, across) in [(40.0, 60.0, true), (180.0, 60.0, true), (110.0, 30.0, false), (110.0, 90.0, false)] {
        let (x, y) = at(x, y);
        let line = (0..16).step_by(2).map(|k| if across { half(x + k - 8, y) } else { half(x, y + k - 8) });
        let ratio = (line.fold(0.0, f64::max) + 0.05) / (light(BLACK) + 0.05);
        assert!(ratio > 1.2, "{ratio} at {x} {y}");
    }
    // Away from edges the step changes nothing.
    let (x, y) = at(110.0, 60.0);
    assert_eq!(picture.at(x, y), BLACK);
}

/// Decoding of IEC 61966-2-1.
fn linear(byte: u8) -> f64 {
    let s = f64::from(byte) / 255.0;
    if s <= 0.04045 { s / 12.92 } else { libm::pow((s + 0.055) / 1.055, 2.4) }
}

#[test]
fn the_picture_shows_the_model_and_not_the_intent() {
    let mut wrong = plate().clone();
    wrong.proof.relief = wrong.proof.stages[0].relief.clone();
    assert_eq!(wrong.proof.stages[0].relief.heights.len(), 440 * 240);
    assert_ne!(sheet::face(&wrong.job()), sheet::face(&plate().job()));
    // Without lettering in the model there is no ruby where the K stands.
    let picture = Picture::read(&sheet::face(&wrong.job()));
    let k = picture.on_blank(31.3, 80.0);
    assert!(near(k, BLACK, 3), "{k:?}");
}

#[test]
fn the_setup_sheet_says_what_the_machine_needs() {
    let (pages, words) = pages_and_words(&sheet::setup_sheet(&plate().job()));
    assert_eq!(pages, 2);
    for expected in [
        "KestrelHilldoorplate",
        "Proven",
        "Setthedisplayto0.10mm,notto0",
        "carpettape",
        "12.20",
        "10.20",
        "zerohere",
        "drawn1:2.5",
        "6.18",
        "5.68",
        "2.81",
        "1.40",
        "3-thirty-second.nc",
        "0-frame-run.nc",
        "1/32singleflute",
        "18000rev/min",
        "Rotatingcutters",
        "Fire",
        "localcodes",
        "licensedpractice",
        "ISO7823-1",
        "page1of",
    ] {
        assert!(words.contains(expected), "{expected} is missing in {words}");
    }
    assert!(!words.contains("Donotrun"));
}

/// What leads through the work at the machine says what the sheet says, word for word and number for number.
#[test]
fn the_order_of_work_is_the_sheets() {
    let plate = plate();
    let job = plate.job();
    let (_, words) = pages_and_words(&sheet::setup_sheet(&job));
    let close = |text: &str| text.split_whitespace().collect::<String>();
    let said = |step: &sheet::Step| -> String {
        step.says
            .iter()
            .map(|p| match p {
                sheet::Piece::Plain(w) | sheet::Piece::Strong(w) | sheet::Piece::Number(w) => close(w),
            })
            .collect()
    };
    let before = sheet::before(&job);
    assert!(before.len() >= 6, "{before:?}");
    for step in &before {
        assert!(words.contains(&said(step)), "{} is missing in {words}", said(step));
    }
    let order = sheet::order(&job);
    assert_eq!(order[..before.len()], before[..]);
    assert_eq!(order.last().map(|s| s.about), Some(sheet::About::Finished));
    for (index, stage) in job.stages.iter().enumerate() {
        let of = |about| order.iter().find(|s| s.stage == Some(index) && s.about == about).unwrap();
        let number = sheet::Piece::Number(stage.cutter_number.to_string());
        assert!(of(sheet::About::Cutter).says.contains(&number));
        assert!(said(of(sheet::About::Run)).contains(&close(&stage.file)));
        for check in &stage.checks {
            let check = close(&check.replace('*', ""));
            let found = order.iter().any(|s| s.stage == Some(index) && said(s) == check);
            assert!(found && words.contains(&check), "{check}");
        }
        if let Some(dial) = &stage.dial {
            assert!(of(sheet::About::Dial).says.contains(&sheet::Piece::Number(dial.clone())));
        }
    }
    for caution in sheet::cautions() {
        assert!(words.contains(&close(&caution.replace('*', ""))), "{caution}");
    }
}

#[test]
fn the_file_has_no_date() {
    let pdf = sheet::setup_sheet(&plate().job());
    for word in ["CreationDate", "ModDate", "CreateDate", "ModifyDate"] {
        assert!(!pdf.windows(word.len()).any(|w| w == word.as_bytes()), "{word}");
    }
    for png in [sheet::face(&plate().job()), sheet::section(&plate().job())] {
        assert!(!png.windows(4).any(|w| w == b"tIME" || w == b"tEXt"));
    }
}

/// ISO 216: A4 is 210 × 297 mm; Letter is 8.5 × 11 in (ANSI Y14.1, from memory). Marks stay on the paper of both.
#[test]
fn it_prints_on_a4_and_letter() {
    let document = lopdf::Document::load_mem(&sheet::setup_sheet(&plate().job())).unwrap();
    for id in document.get_pages().values() {
        let page = document.get_dictionary(*id).unwrap();
        let edges: Vec<f32> =
            page.get(b"MediaBox").unwrap().as_array().unwrap().iter().map(|v| v.as_float().unwrap()).collect();
        assert!((edges[2] - 595.276).abs() < 0.01 && (edges[3] - 841.89).abs() < 0.01, "{edges:?}");
    }
}

#[test]
fn a_refused_job_says_so_first() {
    const GOUGE: Kind = Kind { id: "gouge", title: "", page: "" };
    for (verdict, word) in [(Verdict::Refused, "Refused"), (Verdict::Undecided, "Undecided")] {
        let mut bad = coarse();
        bad.proof.verdict = verdict;
        bad.proof.findings =
            vec![GOUGE.refusal("the cutter goes 0.31 mm into the wall of *seat*").way_out("plan again")];
        let (_, words) = pages_and_words(&sheet::setup_sheet(&bad.job()));
        assert!(words.contains(word) && words.contains("Donotruntheseprograms"), "{words}");
        assert!(words.contains("0.31mmintothewall"));
    }
}

/// No input may end in a panic or in no picture at all.
#[test]
fn odd_jobs_are_drawn_all_the_same() {
    type Change = fn(&mut Fixture);
    let odd: [(&str, Change); 14] = [
        ("no model", |f| f.proof.relief = HeightMap::default()),
        ("no stages", |f| {
            f.stages.clear();
            f.proof.stages.clear();
        }),
        ("stages the proof doesn't know", |f| f.proof.stages.clear()),
        ("no areas", |f| f.intent.areas.clear()),
        ("no layers", |f| f.intent.blank.layers.clear()),
        ("no thickness", |f| f.intent.blank.face = f.intent.blank.underside),
        ("no outline, no holds, nothing under", |f| {
            f.intent.outline = None;
            f.intent.holds.clear();
            f.intent.blank.under.clear();
        }),
        ("a hundred holds", |f| {
            f.intent.holds = (0..100)
                .map(|i| Hold {
                    name: "clamp".into(),
                    shape: Contour::circle(Point::new(f64::from(i) * 2.2, -6.0), 1.0),
                    top: Height::mm(12.0),
                })
                .collect();
        }),
        ("long and foreign names", |f| {
            f.intent.title = "Türschild 天文台 ".repeat(60);
            f.stages[0].file = "x".repeat(400);
            f.shop.cutters[0].name = "𝕎 \u{202e}reversed\u{202c} \0 \n\t".repeat(30);
            f.intent.blank.layers[0].sheet.name = "é".repeat(300);
            f.sentences = vec!["*".repeat(50), "**a*b**c".into(), "\u{301}\u{301}".into(), String::new()];
        }),
        ("no words", |f| {
            f.intent.title = String::new();
            f.shop.name = " ".into();
            f.stages.iter_mut().for_each(|s| (s.file, s.purpose) = (String::new(), String::new()));
            f.sentences.clear();
            f.assumed.clear();
            f.doubts.clear();
            f.subsets.clear();
            f.reach.clear();
        }),
        ("broken heights", |f| {
            f.proof.relief.heights.iter_mut().step_by(7).for_each(|h| *h = f32::NAN);
            f.proof.relief.heights.iter_mut().step_by(11).for_each(|h| *h = f32::INFINITY);
            f.proof.relief.heights.iter_mut().step_by(13).for_each(|h| *h = -1e30);
        }),
        ("a map that isn't as large as it says", |f| f.proof.relief.columns += 1),
        ("a blank too small or too long", |f| f.intent.blank.size = [Length::mm(0.0), Length::mm(90_000.0)]),
        ("times that are none", |f| f.proof.stages.iter_mut().for_each(|s| s.minutes = f64::NAN)),
    ];
    for (what, change) in odd {
        let mut fixture = coarse();
        change(&mut fixture);
        let job = fixture.job();
        for png in [
            sheet::face(&job),
            sheet::after_stage(&job, 0),
            sheet::after_stage(&job, 99),
            sheet::section(&job),
            sheet::hand_work(&job),
        ] {
            let picture = Picture::read(&png);
            assert!(picture.width == 1600 && picture.height > 50, "{what}");
        }
        let (pages, _) = pages_and_words(&sheet::setup_sheet(&job));
        assert!(pages >= 1, "{what}");
    }
}

/// What is read at the machine stands on two pages; what is looked up at a desk (what was assumed, where numbers come from, sets
/// compared) may take a third.
#[test]
fn a_plate_with_many_corners_takes_three_pages() {
    let fixture = door_plate_with_many_corners(1.0);
    let spots = &fixture.proof.hand_work;
    assert!(spots.len() > 100 && spots.iter().filter(|s| s.gap > 0.25).count() == 11);
    let (pages, words) = pages_and_words(&sheet::setup_sheet(&fixture.job()));
    assert_eq!(pages, 3);
    // Sentences by area with counts, the largest spots one by one, all assumptions with their figures.
    let of = |area: &str| spots.iter().filter(|s| s.area == area).count();
    for expected in [
        format!("smalllettering:{}insidecorners,upto0.", of("small lettering")),
        "lamp:2places,upto0.64mm,narrowerthanthethinnestallowedcutter(0.794mm)".into(),
        "1lamp,x176y74.3,gap0.64mm:takesa0.47mmcutter".into(),
        "everyspotisinproof.json".into(),
        "±0.123mm".into(),
        "bond_spread0.02mm;bow0mm.".into(),
        "cuttingwidth3.175mm(thediameter).And2more.".into(),
        "44min,used;".into(),
        "leavesmorebyhand;and3more.".into(),
    ] {
        assert!(words.contains(&expected), "{expected} is missing in {words}");
    }
    // Eight are listed, from the largest gap down, and no ninth; what to change in which file isn't said here.
    assert!(words.contains("8lettering,x") || words.contains("8smalllettering,x"), "{words}");
    assert!(!words.contains("9lettering,x") && !words.contains("9smalllettering,x"), "{words}");
    assert!(!words.contains("Whattodo") && !words.contains("column"), "{words}");
    assert!(!words.contains("…"), "nothing is cut off: {words}");
}

#[test]
fn many_spots_of_hand_work_fill_no_more_pages() {
    let mut fixture = coarse();
    let spot = |i: usize| HandWork {
        area: format!("letter {}", i % 9),
        at: Point::new(20.0 + (i % 40) as f64 * 4.5, 15.0 + (i / 40) as f64 * 9.0),
        floor: RUBY_FLOOR,
        area_left: 0.03,
        gap: 0.16,
        cutter_needed: None,
        why: "a corner".into(),
    };
    fixture.proof.hand_work = (0..400).map(spot).collect();
    let (pages, words) = pages_and_words(&sheet::setup_sheet(&fixture.job()));
    assert_eq!(pages, 2);
    // 400 over nine areas: 45 or 44 each. Six are told, three are summed up.
    assert!(words.contains("letter0:45places,upto0.16mm,acorner."), "{words}");
    assert!(words.contains("Elsewhere132morespots,upto0.16mm"), "{words}");
    assert!(words.contains("Everyspot,withsizeandplace,isinproof.json"));
    assert!(Picture::read(&sheet::hand_work(&fixture.job())).height > 300);
    fixture.proof.hand_work.clear();
    let (_, words) = pages_and_words(&sheet::setup_sheet(&fixture.job()));
    assert!(words.contains("none,thecuttersreacheverywall"));
}

#[test]
fn the_section_meets_every_floor_that_a_line_can() {
    // The line through field, lettering, seat and lamp crosses the rim step too: five heights in the picture's words
    // can't be read from pixels, but the sheet draws the same section with text.
    let (_, words) = pages_and_words(&sheet::setup_sheet(&plate().job()));
    for words_of_heights in
        ["6.18face", "5.68field,rimstep", "2.81lettering", "1.40lamp", "0.00table", "0.20oncarpettape"]
    {
        assert!(words.contains(words_of_heights), "{words_of_heights} in {words}");
    }
    assert!(words.contains("timeslargerthanlengths"));
}

/// A planted spot: a strip cut 0.5 mm too deep beside the wanted edge is hatched and its neighbours are not, its tints are
/// told apart, and the same spot gives the same bytes.
#[test]
fn a_spot_shows_what_is_wrong() {
    use plane::{Point, Segment};
    use proof::{CloseUp, Going, HeightMap, Spot};
    let fixture = coarse();
    let kind = doubt::Kind { id: "gouge", title: "A surface is cut too deep", page: "" };
    let finding =
        kind.refusal("`field` is cut 0.5 mm below its floor").likely("a Z is too low").way_out("look at the line");
    let at = Point::new(60.0, 50.0);
    let spot = Spot {
        finding: 0,
        stage: Some(0),
        line: Some(12),
        at,
        height: Some(4.5),
        amount: 0.5,
        words: "0.5 mm too deep".into(),
        message: finding.message.clone(),
    };
    // 4 mm square: the left half 0.5 mm too deep, the right half as wanted.
    let (cells, pitch) = (200usize, 0.02);
    let heights: Vec<f32> = (0..cells * cells).map(|i| if i % cells < cells / 2 { 4.5 } else { 5.0 }).collect();
    let close = CloseUp {
        heights: HeightMap { pitch, origin: Point::new(58.0, 48.0), columns: cells, rows: cells, heights },
        wanted: vec![5.0; cells * cells],
        way: vec![(Segment::Line { a: Point::new(59.0, 40.0), b: Point::new(59.0, 49.0) }, Going::Feed)],
    };
    let picture = sheet::SpotPicture {
        number: 1,
        title: kind.title,
        finding: &finding,
        spot: &spot,
        place: (1, 1),
        close: &close,
        whole: &fixture.proof.relief,
        after: (1, 3, "1-clear.nc"),
        line: Some(("1-clear.nc", "G1 X59 Y49", (1, "flat 1/8", 3.175))),
        left: false,
    };
    let bytes = sheet::spot(&fixture.intent, &picture);
    assert_eq!(bytes, sheet::spot(&fixture.intent, &picture));
    let seen = Picture::read(&bytes);
    // The window is 500 units wide from (36, 18), two pixels a unit: looked at where no line and no slip is.
    let colours = |x0: usize, x1: usize| {
        let places = (x0..x1).flat_map(|x| (150..260).map(move |y| (x, y)));
        places.map(|(x, y)| seen.at(x, y)).collect::<std::collections::BTreeSet<[u8; 3]>>()
    };
    assert_eq!(colours(700, 1000).len(), 1, "as wanted: one tint and no hatching");
    assert_eq!(colours(100, 160).len(), 2, "too deep: a tint and its hatching");
    assert!(colours(100, 160).is_disjoint(&colours(700, 1000)));
    // Odd ones are drawn all the same.
    let odd = CloseUp::default();
    let empty = sheet::SpotPicture { close: &odd, line: None, ..picture };
    assert!(sheet::spot(&fixture.intent, &empty).starts_with(b"\x89PNG"));
    let off = Spot { at: Point::new(-1e6, f64::MAX / 4.0), words: "w".repeat(300), height: None, ..spot.clone() };
    assert!(sheet::spot(&fixture.intent, &sheet::SpotPicture { spot: &off, ..picture }).starts_with(b"\x89PNG"));
}
