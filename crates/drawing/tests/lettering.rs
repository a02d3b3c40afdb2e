//! Lettering against the font files themselves: areas by Green's theorem on the exact curves, advances and kerning as
//! the tables state them, and layouts by their distances.
//!
//! The planted fonts are made by `tests/fonts/make_fonts.py`, where every figure used here is chosen; the text face is
//! Gentium Book Basic (SIL Open Font License 1.1, `crates/sheet/fonts/OFL.txt`).

#![expect(clippy::unwrap_used, reason = "a font that cannot be read fails its test")]

use drawing::ReadOptions;
use drawing::lettering::{
    Align, CapHeight, Font, FontFault, LARGEST_FONT, Line, MOST_LETTERS, OffTrack, TextFault, Track, outline,
};
use plane::{Affine, Contour, Path, Point, Region, SegmentIndex, Vertex};
use quantity::Length;
use rustybuzz::ttf_parser::{Face, GlyphId, OutlineBuilder};
use std::f64::consts::PI;

const GENTIUM: &[u8] = include_bytes!("../../sheet/fonts/GenBkBasR.ttf");
const GENTIUM_ITALIC: &[u8] = include_bytes!("../../sheet/fonts/GenBkBasI.ttf");
const PLANTED: &[u8] = include_bytes!("fonts/planted.ttf");
const CUBIC: &[u8] = include_bytes!("fonts/planted-cubic.otf");
const PAIR: &[u8] = include_bytes!("fonts/pair.ttc");

fn font(bytes: &[u8]) -> Font<'_> {
    Font::read(bytes, 0).unwrap()
}

/// Capitals of 7 mm: a hundredth of a mm for each unit of the planted fonts.
fn set(bytes: &[u8], text: &str) -> Line {
    Line::set(&font(bytes), text, Length::mm(7.0), Length::ZERO).unwrap()
}

fn middles(line: &Line) -> Vec<f64> {
    line.letters().iter().map(|l| (l.middle() * 1e6).round() / 1e6).collect()
}

/// A glyph's exact curves.
#[derive(Default)]
struct Exact {
    start: Point,
    at: Point,
    /// By Green's theorem, font units squared.
    area: f64,
    /// Points on the curves.
    points: Vec<Point>,
}

fn point(x: f32, y: f32) -> Point {
    Point::new(f64::from(x), f64::from(y))
}

impl Exact {
    /// Half the integral of x dy - y dx over a cubic with control points p, in closed form (derived: products of
    /// Bernstein polynomials integrated).
    fn cubic(&mut self, p: [Point; 4]) {
        let weights = [((0, 1), 6.0), ((0, 2), 3.0), ((0, 3), 1.0), ((1, 2), 3.0), ((1, 3), 3.0), ((2, 3), 6.0)];
        self.area += weights.iter().map(|((i, j), w)| w * p[*i].cross(p[*j])).sum::<f64>() / 20.0;
        for k in 1..=16 {
            let (t, s) = (f64::from(k) / 16.0, 1.0 - f64::from(k) / 16.0);
            let on = p[0] * (s * s * s) + p[1] * (3.0 * s * s * t) + p[2] * (3.0 * s * t * t) + p[3] * (t * t * t);
            self.points.push(on);
        }
        self.at = p[3];
    }
}

impl OutlineBuilder for Exact {
    fn move_to(&mut self, x: f32, y: f32) {
        self.start = point(x, y);
        self.at = self.start;
    }
    fn line_to(&mut self, x: f32, y: f32) {
        let (a, b) = (self.at, point(x, y));
        self.cubic([a, a.lerp(b, 1.0 / 3.0), a.lerp(b, 2.0 / 3.0), b]);
    }
    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let (a, c, b) = (self.at, point(x1, y1), point(x, y));
        self.cubic([a, a.lerp(c, 2.0 / 3.0), b.lerp(c, 2.0 / 3.0), b]);
    }
    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.cubic([self.at, point(x1, y1), point(x2, y2), point(x, y)]);
    }
    fn close(&mut self) {
        self.line_to(self.start.x as f32, self.start.y as f32);
    }
}

fn exact(face: &Face<'_>, c: char) -> Option<(GlyphId, Exact)> {
    let id = face.glyph_index(c)?;
    let mut exact = Exact::default();
    face.outline_glyph(id, &mut exact)?;
    Some((id, exact))
}

fn length_around(region: &Region) -> f64 {
    region.contours().map(Contour::length).sum()
}

/// Basic Latin, Latin-1 and Latin Extended-A: the area is that of the exact curves to within the tolerance times the
/// length around, and every point of the exact curves lies within 1 µm of the outline.
#[test]
fn every_latin_glyph_is_its_own_curves() {
    let mut checked = 0;
    for bytes in [GENTIUM, GENTIUM_ITALIC, CUBIC, PLANTED] {
        let (font, face) = (font(bytes), Face::parse(bytes, 0).unwrap());
        for height in [8.0, 20.0] {
            let scale = height / f64::from(face.capital_height().unwrap());
            // A soft hyphen is only seen at a line's end.
            for c in ('!'..='\u{17f}').filter(|c| *c != '\u{ad}') {
                let Some((id, exact)) = exact(&face, c) else { continue };
                let regions = outline(&c.to_string(), &font, Length::mm(height)).unwrap();
                let [region] = regions.as_slice() else { panic!("{c}: {}", regions.len()) };
                let wanted = exact.area.abs() * scale * scale;
                // The planted X and H are drawn of pieces that overlap; their areas are checked below.
                if bytes.len() > 10_000 || !"XH".contains(c) {
                    let off = (region.area() - wanted).abs();
                    assert!(off <= 0.001 * length_around(region), "{c} at {height}: {} for {wanted}", region.area());
                    let edge = SegmentIndex::of_contours(region.contours());
                    let advance = f64::from(face.glyph_hor_advance(id).unwrap());
                    // A letter stands on a straight baseline that starts at 0.
                    assert!(region.bounds().min.x < advance * scale);
                    for p in &exact.points {
                        let off = edge.nearest(*p * scale).unwrap().distance;
                        assert!(off <= 0.001, "{c} at {height}: {off} mm off at {p:?}");
                    }
                }
                checked += 1;
            }
        }
    }
    assert!(checked > 1000, "{checked}");
}

/// Pieces of a glyph that overlap are ink once: the X is 500 x 100 and 100 x 700 with 100 x 100 shared, the H two stems
/// of 100 x 700 and the 300 between them of a bar 100 high. A ring of quadratics has the area 8/3 r² a quarter drawn
/// with its control point in the corner has 5/6 of its square (derived).
#[test]
fn planted_areas() {
    let area =
        |bytes, text: &str| set(bytes, text).region(&set(bytes, text).straight(Point::default(), 0.0, Align::Pen));
    for bytes in [PLANTED, CUBIC] {
        for (text, units) in [("X", 110_000.0), ("H", 170_000.0), ("A", 210_000.0), ("XH", 280_000.0)] {
            let region = area(bytes, text);
            assert!((region.area() - units / 1e4).abs() < 1e-6, "{text}: {}", region.area());
            assert_eq!(region.shapes.len(), text.len());
        }
    }
    let ring = area(PLANTED, "O");
    assert!((ring.area() - 4.0 * 5.0 / 6.0 * (3.5 * 3.5 - 2.0 * 2.0)).abs() < 0.001 * length_around(&ring));
    assert_eq!((ring.shapes.len(), ring.shapes[0].holes.len()), (1, 1));
}

/// Letters that run into each other, as in a script, are one piece without seams: bars of 600 at a pitch of 500.
#[test]
fn letters_that_overlap_are_one() {
    let line = set(PLANTED, "mmm");
    let places = line.straight(Point::default(), 0.0, Align::Pen);
    let region = line.region(&places);
    assert_eq!((region.shapes.len(), region.shapes[0].holes.len()), (1, 0));
    assert!((region.area() - 16.0).abs() < 1e-6, "{}", region.area());
    assert!(line.crowded(&places).is_empty(), "as drawn is not crowded");
    let apart = Line::set(&font(PLANTED), "HHH", Length::mm(7.0), Length::mm(-2.0)).unwrap();
    assert_eq!(apart.crowded(&apart.straight(Point::default(), 0.0, Align::Pen)).len(), 2);
}

/// A and V are 600 wide and stand 150 closer together, by GPOS and by a `kern` table; V and A are not a pair.
#[test]
fn kerning_is_the_tables() {
    for bytes in [PLANTED, CUBIC, include_bytes!("fonts/kern-table.ttf")] {
        assert_eq!(middles(&set(bytes, "VA")), [3.0, 9.0]);
        let line = set(bytes, "AV");
        let [a, v] = line.straight(Point::default(), 0.0, Align::Left)[..] else { panic!() };
        let ink = |i: usize, place| line.letters()[i].region_at(place).bounds();
        assert!((ink(0, a).min.x - 0.0).abs() < 1e-9 && (ink(0, a).max.x - 6.0).abs() < 1e-9);
        assert!((ink(1, v).min.x - 4.5).abs() < 1e-9 && (line.width() - 10.5).abs() < 1e-9);
    }
}

/// Gentium has no kerning: pens advance by `hmtx` alone.
#[test]
fn advances_add_up() {
    let (face, line) = (Face::parse(GENTIUM, 0).unwrap(), set(GENTIUM, "KESTREL HILL"));
    let scale = 7.0 / 1260.0; // its OS/2 states a cap height of 1260
    let mut pen = 0.0;
    for (letter, c) in line.letters().iter().zip("KESTREL HILL".chars()) {
        let advance = f64::from(face.glyph_hor_advance(face.glyph_index(c).unwrap()).unwrap()) * scale;
        assert!((letter.middle() - (pen + advance / 2.0)).abs() < 1e-9);
        pen += advance;
    }
    let h = outline("H", &font(GENTIUM), Length::mm(14.0)).unwrap();
    assert!((h[0].bounds().max.y - 14.0).abs() < 1e-6 && h[0].bounds().min.y.abs() < 1e-6);
}

/// A ligature is one letter, unless letters are spaced; a mark moves with its letter.
#[test]
fn clusters_move_as_one() {
    assert_eq!(middles(&set(PLANTED, "fi")), [2.6]);
    let spaced = |by| Line::set(&font(PLANTED), "fi", Length::mm(7.0), Length::mm(by)).unwrap();
    assert_eq!(middles(&spaced(1.0)), [1.5, 5.0]);
    assert_eq!(middles(&spaced(-0.5)), [1.5, 3.5]);
    let marked = set(PLANTED, "A\u{301}H");
    assert_eq!(middles(&marked), [3.0, 9.0]);
    assert_eq!(outline("A\u{301} H", &font(PLANTED), Length::mm(7.0)).unwrap().len(), 2);
}

/// Ends are the ink's: the H has 50 of white on either side.
#[test]
fn anchors_are_the_inks_ends() {
    let line = set(PLANTED, "HH");
    assert!((line.width() - 11.0).abs() < 1e-9);
    for (align, from) in [(Align::Left, 20.0), (Align::Centre, 14.5), (Align::Right, 9.0), (Align::Pen, 20.5)] {
        let bounds = line.region(&line.straight(Point::new(20.0, 3.0), 0.0, align)).bounds();
        assert!((bounds.min.x - from).abs() < 1e-9 && (bounds.width() - 11.0).abs() < 1e-9, "{align:?} {bounds:?}");
        assert!((bounds.min.y - 3.0).abs() < 1e-9 && (bounds.max.y - 10.0).abs() < 1e-9);
    }
    let turned = line.region(&line.straight(Point::new(20.0, 3.0), PI / 2.0, Align::Left)).bounds();
    assert!((turned.min.y - 3.0).abs() < 1e-9 && (turned.min.x - 13.0).abs() < 1e-9 && turned.height() > 10.9);
}

/// Round a circle: every letter's foot at the radius, turned square to it, letters at their distances along the
/// baseline; outside on top of it, inside under it, and right way up at the top and at the bottom.
#[test]
fn on_a_circle() {
    let (centre, radius) = (Point::new(50.0, 40.0), 25.0);
    let circle = Contour::circle(centre, radius);
    let line = set(GENTIUM, "Kestrel");
    let middles = middles(&line);
    for (angle, over, foot) in
        [(PI / 2.0, 2.0, 27.0), (PI / 2.0, -9.0, 16.0), (-PI / 2.0, 2.0, 23.0), (-PI / 2.0, -9.0, 34.0)]
    {
        let near = centre + Point::at_angle(angle) * radius;
        let track = Track::closed(&circle, near, over).unwrap();
        assert!((track.length() - 2.0 * PI * foot).abs() < 1e-9);
        let places = line.along(&track, track.nearest(near), Align::Centre).unwrap();
        let way = if angle > 0.0 { -1.0 } else { 1.0 };
        for (i, place) in places.iter().enumerate() {
            let out = place.at - centre;
            assert!((out.norm() - foot).abs() < 1e-9, "{} {foot}", out.norm());
            assert!(out.dot(Point::at_angle(place.turn)).abs() < 1e-9);
            assert!(Point::at_angle(place.turn).x > 0.0, "reads to the right");
            if i > 0 {
                let before = places[i - 1].at - centre;
                let arc = way * foot * libm::atan2(before.cross(out), before.dot(out));
                assert!((arc - (middles[i] - middles[i - 1])).abs() < 1e-6, "{arc}");
            }
            // A letter is the straight one, turned and moved: never mirrored, never bent.
            let back = Affine::shift(-place.at).then(Affine::turn(-place.turn));
            let letter = &line.letters()[i];
            let straight = letter.region_at(drawing::lettering::Place { at: Point::default(), turn: 0.0 });
            let returned = letter.region_at(*place).mapped(back).unwrap();
            for (a, b) in straight.contours().zip(returned.contours()) {
                assert!(
                    a.vertices.iter().zip(&b.vertices).all(|(v, w)| v.p.distance(w.p) < 1e-9 && v.bulge == w.bulge)
                );
            }
        }
        // Ink from the left end to the right is centred on the angle.
        let even = set(PLANTED, "HOH");
        let places = even.along(&track, track.nearest(near), Align::Centre).unwrap();
        assert!((even.region(&places).bounds().centre().x - centre.x).abs() < 1e-4);
    }
}

/// A drawing's own text is set from the same glyphs: one em of the planted font is 1000 units.
#[test]
fn text_in_a_drawing() {
    let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='40mm' height='20mm' viewBox='0 0 40 20'>\
               <text id='t' x='5' y='15' font-family='Planted' font-size='10'>fi AV\u{301}O</text></svg>";
    let fonts = vec![("planted".to_owned(), PLANTED.to_vec())];
    let drawing = drawing::read("a.svg", svg.as_bytes(), &ReadOptions { fonts, ..ReadOptions::default() });
    let (region, doubts) = drawing.region("t");
    assert!(doubts.is_empty() && drawing.doubts.is_empty(), "{:?}", drawing.doubts);
    let line = set(PLANTED, "fi AV\u{301}O");
    let wanted = line.region(&line.straight(Point::new(5.0, 5.0), 0.0, Align::Pen));
    assert!((region.area() - wanted.area()).abs() < 1e-4);
    let (a, b) = (region.bounds(), wanted.bounds());
    assert!(a.min.distance(b.min) < 1e-6 && a.max.distance(b.max) < 1e-6, "{a:?} {b:?}");
}

/// Which way a path was drawn makes no difference.
#[test]
fn paths_read_whichever_way_they_were_drawn() {
    let v = |x: f64, y: f64, bulge: f64| Vertex { p: Point::new(x, y), bulge };
    let arch = Path { vertices: vec![v(0.0, 0.0, -0.3), v(60.0, 0.0, 0.0), v(90.0, 10.0, 0.0)] };
    let line = set(PLANTED, "HAVOX");
    for path in [arch.clone(), Path::polyline([Point::new(5.0, 5.0), Point::new(5.0, 80.0)])] {
        for (align, share) in [(Align::Left, 0.0), (Align::Centre, 0.5), (Align::Right, 1.0)] {
            let placed = |path: &Path| {
                let track = Track::open(path, 0.5).unwrap();
                line.along(&track, share * track.length(), align).unwrap()
            };
            let (one, other) = (placed(&path), placed(&path.reversed()));
            for (a, b) in one.iter().zip(&other) {
                assert!(a.at.distance(b.at) < 1e-9 && (a.turn - b.turn).abs() < 1e-9);
                let ahead = Point::at_angle(a.turn);
                assert!(ahead.x > 1e-9 || ahead.y > 0.0);
            }
        }
    }
    // Half a millimetre over the arch, the baseline is longer by half a millimetre times the turn (derived).
    let turn = 4.0 * libm::atan(0.3);
    assert!((Track::open(&arch, 0.5).unwrap().length() - (arch.length() + 0.5 * turn)).abs() < 1e-9);
}

#[test]
fn tracks_that_do_not_hold_a_text() {
    let line = set(PLANTED, "HHHH"); // 23 wide
    let short = Track::open(&Path::polyline([Point::default(), Point::new(20.0, 0.0)]), 0.0).unwrap();
    for (from, align) in [(0.0, Align::Left), (10.0, Align::Centre), (20.0, Align::Right)] {
        assert!(matches!(line.along(&short, from, align), Err(OffTrack::Short(n, h)) if n > 22.9 && h < 20.1));
    }
    let fits = Track::open(&Path::polyline([Point::default(), Point::new(23.0, 0.0)]), 0.0).unwrap();
    assert!(line.along(&fits, 11.5, Align::Centre).is_ok() && line.along(&fits, 11.0, Align::Centre).is_err());
    let small = Contour::circle(Point::default(), 3.0);
    let top = Point::new(0.0, 9.0);
    let track = Track::closed(&small, top, 0.0).unwrap();
    assert!(matches!(line.along(&track, 0.0, Align::Centre), Err(OffTrack::Short(..))));
    assert_eq!(Track::closed(&small, top, -3.0).unwrap_err(), OffTrack::Tight(3.0));
    assert!(Track::closed(&small, top, 50.0).is_ok());
    assert_eq!(Track::open(&Path::default(), 0.0).unwrap_err(), OffTrack::Nothing);
    assert_eq!(Track::open(&Path::polyline([top, top]), 0.0).unwrap_err(), OffTrack::Nothing);
    assert_eq!(Track::closed(&Contour::default(), top, 0.0).unwrap_err(), OffTrack::Nothing);
}

/// On the inside of a tight arc heads run together; on its outside they spread.
#[test]
fn crowding_is_seen() {
    let circle = Contour::circle(Point::default(), 9.0);
    let bottom = Point::new(0.0, -9.0);
    let line = set(PLANTED, "HHHHH");
    let inside = Track::closed(&circle, bottom, 0.0).unwrap();
    let places = line.along(&inside, inside.nearest(bottom), Align::Centre).unwrap();
    assert_eq!(line.crowded(&places).len(), 4);
    let outside = Track::closed(&circle, Point::new(0.0, 9.0), 0.0).unwrap();
    let places = line.along(&outside, 0.0, Align::Centre).unwrap();
    assert!(line.crowded(&places).is_empty());
}

/// Where the cap height comes from: stated (700), measured on the H where it is not stated or twice what the H has.
#[test]
fn cap_heights() {
    for (bytes, from) in [
        (PLANTED, CapHeight::Stated),
        (include_bytes!("fonts/unstated.ttf").as_slice(), CapHeight::Measured),
        (include_bytes!("fonts/wrong-cap.ttf"), CapHeight::Measured),
    ] {
        let font = font(bytes);
        assert_eq!(font.cap_height(), from);
        let h = outline("H", &font, Length::mm(7.0)).unwrap();
        assert!((h[0].bounds().max.y - 7.0).abs() < 1e-9);
    }
}

#[test]
fn what_is_no_font_for_lettering() {
    let fault = |bytes: &[u8], face| Font::read(bytes, face).err();
    assert_eq!(fault(b"", 0), Some(FontFault::NotAFont));
    assert_eq!(fault(b"not a font at all", 0), Some(FontFault::NotAFont));
    assert_eq!(fault(&PLANTED[..40], 0), Some(FontFault::NotAFont));
    assert_eq!(fault(b"wOF2....", 0), Some(FontFault::Packed));
    assert_eq!(fault(b"ttcf\0\x01\0\0\0\0\0\0", 0), Some(FontFault::NotAFont));
    assert_eq!(fault(PLANTED, 1), Some(FontFault::NoSuchFace(1)));
    assert_eq!(fault(PAIR, 2), Some(FontFault::NoSuchFace(2)));
    assert_eq!(fault(include_bytes!("fonts/hollow.ttf"), 0), Some(FontFault::NoOutlines));
    assert_eq!(fault(include_bytes!("fonts/no-h.ttf"), 0), Some(FontFault::NoCapHeight));
    assert_eq!(fault(&vec![0; LARGEST_FONT + 1], 0), Some(FontFault::TooLarge(LARGEST_FONT + 1)));
    assert!(
        [FontFault::Packed, FontFault::NoSuchFace(1), FontFault::NoSuchFace(2)].iter().all(|f| f.words().len() > 9)
    );
}

/// The second face of the collection has stems of 200; the varied font's default has those of 100.
#[test]
fn faces_and_variations() {
    let area = |font: &Font<'_>| outline("H", font, Length::mm(7.0)).unwrap()[0].area();
    assert!((area(&Font::read(PAIR, 0).unwrap()) - 17.0).abs() < 1e-6);
    assert!((area(&Font::read(PAIR, 1).unwrap()) - (28.0 + 1.0)).abs() < 1e-6);
    let varied = include_bytes!("fonts/varied.ttf");
    assert!(font(varied).is_variable() && !font(PLANTED).is_variable());
    assert!((area(&font(varied)) - 17.0).abs() < 1e-6);
}

#[test]
fn texts_that_cannot_be_set() {
    let fault = |text: &str| Line::set(&font(PLANTED), text, Length::mm(7.0), Length::ZERO).err();
    assert_eq!(fault("HßA→ßV"), Some(TextFault::Missing(vec!['ß', '→'])));
    assert_eq!(fault("H\nA"), Some(TextFault::Control('\n')));
    assert_eq!(fault("H\u{2028}A"), Some(TextFault::Control('\u{2028}')));
    assert_eq!(fault(&"H".repeat(MOST_LETTERS + 1)), Some(TextFault::TooLong(MOST_LETTERS + 1)));
    assert_eq!(fault(&"H".repeat(MOST_LETTERS)), None);
    for unseen in ["", "   ", "\u{200c}", " \u{200c} "] {
        assert_eq!(fault(unseen), Some(TextFault::NothingSeen), "{unseen:?}");
    }
    assert_eq!(fault("אH"), Some(TextFault::MixedDirections));
    assert_eq!(fault("אב 1"), Some(TextFault::MixedDirections));
    // From right to left: the first letter, 400 wide, stands right of the second, 500 wide.
    assert_eq!(middles(&set(PLANTED, "אב")), [2.5, 7.0]);
}

/// Damage to a font file never panics.
#[test]
fn damaged_fonts() {
    let mut read = 0;
    for bytes in [PLANTED, CUBIC, PAIR] {
        let mut seed = 1_u32;
        for _ in 0..300 {
            let mut harmed = bytes.to_vec();
            for _ in 0..4 {
                seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let at = (seed >> 8) as usize % harmed.len();
                harmed[at] = seed as u8;
            }
            if let Ok(font) = Font::read(&harmed, 0) {
                read += 1;
                let _ = outline("HAVOX fi m", &font, Length::mm(7.0));
            }
        }
    }
    assert!(read > 300, "{read}");
}
