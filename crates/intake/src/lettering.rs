//! Lettering as regions on the blank: a text set in its font, put where the plate file says, and checked against the
//! contours it stands in or runs along.
//!
//! All of it is in mm in the blank's frame; heights are as said, whatever the drawing's scale.

use crate::kinds;
use crate::lettering_said::LetteringSaid;
use crate::reading::{Reading, Said};
use crate::regions::{Artwork, substantial};
use doubt::{Doubt, Place};
use drawing::lettering::Place as Stand;
use drawing::lettering::{Align, Font, FontFault, Line, MOST_LETTERS, OffTrack, TextFault, Track};
use plane::{Contour, Path, Point, Region};
use quantity::{Length, trimmed};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

/// Least height that is offered instead of one that is too great, mm.
const LEAST: f64 = 0.5;
/// Halvings in the search for a height that fits: to a ten-thousandth of what was asked for.
const HALVINGS: usize = 14;

/// Font files by name, and what was said of them already.
#[derive(Debug, Default)]
pub(crate) struct Fonts {
    pub(crate) files: BTreeMap<String, Vec<u8>>,
    said: BTreeSet<(String, u32)>,
}

/// Where lettering stands.
struct Ground {
    /// What it must stay inside of, with its name.
    inside: Option<(String, Region)>,
    stands: Stands,
}

enum Stands {
    /// With the middle of its capitals on a point.
    Amid(Point),
    /// With its baseline on a point.
    At(Point),
    /// Along an open path, at the point nearest to one given.
    Along(Path, Option<Point>),
    /// Round a closed contour, at the point nearest to this.
    Round(Contour, Point),
}

/// Lettering in its place.
struct Laid {
    line: Line,
    places: Vec<Stand>,
    region: Region,
}

/// Why it can't be laid so.
enum Off {
    Text(TextFault),
    Track(OffTrack),
    /// It reaches outside, here; it is so wide.
    Outside(Point, f64),
}

/// The area that lettering covers on the blank.
pub(crate) fn lay(
    reading: &mut Reading<'_>,
    artwork: &Artwork<'_>,
    fonts: &mut Fonts,
    said: &LetteringSaid,
) -> Option<Region> {
    let ground = ground(reading, artwork, said);
    let font = fonts.face(reading, said);
    let (ground, font) = (ground?, font?);
    let height = said.height.value;
    let off = match laid(&font, said, &ground, height) {
        Ok(laid) => {
            crowded(reading, said, &laid);
            return Some(laid.region);
        }
        Err(off) => off,
    };
    match off {
        Off::Text(fault) => text_fault(reading, said, &fault),
        Off::Track(OffTrack::Tight(radius)) => {
            let doubt = kinds::LETTERING_PATH
                .refusal(format!(
                    "`{}` can't stand inside an arc of radius {} with its feet {} from it",
                    said.name(),
                    Length::mm(radius),
                    Length::mm(-baseline(said, height))
                ))
                .way_out("put it on the other side with `side`, or make the arc wider");
            reading.doubt(doubt, said.span.clone());
        }
        Off::Track(OffTrack::Nothing) => {
            let doubt = kinds::LETTERING_PATH
                .refusal(format!("the path that `{}` runs along has no length", said.name()))
                .way_out("look for a path that runs nowhere in the drawing, or name another");
            reading.doubt(doubt, said.span.clone());
        }
        Off::Track(OffTrack::Short(needs, has)) => {
            let fits = greatest(height, |h| laid(&font, said, &ground, h).is_ok());
            let message = format!(
                "`{}` {height} high needs {} along its path, which has {} there",
                said.name(),
                short(needs),
                short(has)
            );
            too_large(reading, said, message, None, fits);
        }
        Off::Outside(at, width) => {
            let fits = greatest(height, |h| laid(&font, said, &ground, h).is_ok());
            let name = ground.inside.as_ref().map_or("", |(name, _)| name);
            let message =
                format!("`{}` {height} high is {} wide and reaches outside `{name}`", said.name(), short(width));
            too_large(reading, said, message, Some(at), fits);
        }
    }
    None
}

/// How far over its path the baseline lies, mm: negative is under it.
fn baseline(said: &LetteringSaid, height: Length) -> f64 {
    let gap = said.gap.as_ref().map_or(0.0, |g| g.value.to_mm());
    let under = said.side.as_ref().is_some_and(|s| s.value == "under");
    if under { -(gap + height.to_mm()) } else { gap }
}

fn laid(font: &Font<'_>, said: &LetteringSaid, ground: &Ground, height: Length) -> Result<Laid, Off> {
    let line = Line::set(font, &said.text.value, height, said.spacing).map_err(Off::Text)?;
    let align = match said.align.as_ref().map(|a| a.value.as_str()) {
        Some("left") => Align::Left,
        Some("right") => Align::Right,
        _ => Align::Centre,
    };
    let turn = said.turn.as_ref().map_or(0.0, |t| t.value.to_radians());
    let over = baseline(said, height);
    let places = match &ground.stands {
        Stands::At(at) => line.straight(*at, turn, align),
        Stands::Amid(at) => {
            let down = Point::new(0.0, -0.5 * height.to_mm()).rotated(turn);
            line.straight(*at + down, turn, align)
        }
        Stands::Along(path, near) => {
            let track = Track::open(path, over).map_err(Off::Track)?;
            let from = match (near, align) {
                (Some(near), _) => track.nearest(*near),
                (None, Align::Left | Align::Pen) => 0.0,
                (None, Align::Centre) => 0.5 * track.length(),
                (None, Align::Right) => track.length(),
            };
            line.along(&track, from, align).map_err(Off::Track)?
        }
        Stands::Round(contour, near) => {
            let track = Track::closed(contour, *near, over).map_err(Off::Track)?;
            line.along(&track, track.nearest(*near), align).map_err(Off::Track)?
        }
    };
    let region = line.region(&places);
    if let Some((_, inside)) = &ground.inside
        && let Some(at) = substantial(&plane::difference(&region, inside))
    {
        return Err(Off::Outside(at, line.width()));
    }
    Ok(Laid { line, places, region })
}

/// The greatest height under one that is too great, rounded down as a maker would write it.
fn greatest(height: Length, fits: impl Fn(Length) -> bool) -> Option<Length> {
    let (mut low, mut high) = (0.0, height.to_mm());
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if fits(Length::mm(middle)) {
            low = middle;
        } else {
            high = middle;
        }
    }
    let per_mm = if low >= 5.0 { 10.0 } else { 100.0 };
    let rounded = (low * per_mm).floor() / per_mm;
    let found = Length::mm(rounded);
    (rounded >= LEAST && fits(found)).then_some(found)
}

fn ground(reading: &mut Reading<'_>, artwork: &Artwork<'_>, said: &LetteringSaid) -> Option<Ground> {
    let inside = said.on.as_ref().and_then(|on| Some((on.value.clone(), artwork.region(&on.value)?.clone())));
    let at = said.at.as_ref().map(|at| point(at.value));
    let middle = inside.as_ref().map(|(_, region)| region.bounds().centre());
    let path = match (&said.along, &said.arc, &said.on) {
        (Some(along), Some(arc), _) => {
            let message = "lettering runs either `along` a path of the drawing or round an `arc`, not both";
            unclear(
                reading,
                message,
                "take one of them out",
                arc.span.start.min(along.span.start)..arc.span.end.max(along.span.end),
            );
            return None;
        }
        (Some(name), None, _) => Some(drawn(reading, artwork, name, at)?),
        (None, Some(arc), _) => {
            let Some(centre) = arc.centre.map(point).or(middle) else {
                let message = "`arc` has no `centre`, and there is no `on` whose middle it could be";
                unclear(
                    reading,
                    message,
                    "add it, as in `arc = { centre = [110, 60], radius = 45 }`",
                    arc.span.clone(),
                );
                return None;
            };
            let near = centre + Point::at_angle(arc.middle.to_radians()) * arc.radius.to_mm();
            Some(Stands::Round(Contour::circle(centre, arc.radius.to_mm()), near))
        }
        (None, None, Some(on)) if inside.is_none() => Some(drawn(reading, artwork, on, at)?),
        _ => None,
    };
    let bent = path.is_some();
    let stands = match path.or(at.map(Stands::At)).or(middle.map(Stands::Amid)) {
        Some(stands) => stands,
        None => {
            let message = format!("lettering `{}` doesn't say where it stands", said.name());
            let way_out = "add one of `on`, `at`, `along`, `arc`, for example `on = \"field\"`";
            unclear(reading, &message, way_out, said.span.clone());
            return None;
        }
    };
    let amid = matches!(stands, Stands::Amid(_));
    let straight = "a path, and this line is straight";
    let misplaced = [
        ("turn", span_of(said.turn.as_ref()), bent, "a straight line, and this one follows a path"),
        ("side", span_of(said.side.as_ref()), !bent, straight),
        ("gap", span_of(said.gap.as_ref()), !bent, straight),
        ("align", span_of(said.align.as_ref()), amid, "`at` or a path; inside `on` alone letters are centred"),
        ("at", span_of(said.at.as_ref()), said.arc.is_some(), "other lines; an `arc` says it by its `middle`"),
    ];
    let mut sound = true;
    for (key, span, wrong, belongs) in misplaced {
        if let (Some(span), true) = (span, wrong) {
            sound = false;
            unclear(reading, &format!("`{key}` belongs to {belongs}"), "take it out, or say what it goes with", span);
        }
    }
    sound.then_some(Ground { inside, stands })
}

fn span_of<T>(said: Option<&Said<T>>) -> Option<Range<usize>> {
    said.map(|s| s.span.clone())
}

fn point([x, y]: [Length; 2]) -> Point {
    Point::new(x.to_mm(), y.to_mm())
}

/// The one path of a name, on the blank.
fn drawn(reading: &mut Reading<'_>, artwork: &Artwork<'_>, name: &Said<String>, at: Option<Point>) -> Option<Stands> {
    let (closed, open) = artwork.paths(&name.value)?;
    match (closed.as_slice(), open.as_slice()) {
        ([contour], []) => {
            let bounds = contour.bounds();
            let top = Point::new(bounds.centre().x, bounds.max.y);
            Some(Stands::Round(contour.clone(), at.unwrap_or(top)))
        }
        ([], [path]) => Some(Stands::Along(path.clone(), at)),
        _ => {
            let doubt = kinds::LETTERING_PATH
                .refusal(format!(
                    "`{}` is {} paths, and lettering runs along one",
                    name.value,
                    closed.len() + open.len()
                ))
                .way_out("give the one that is meant an id or a layer of its own");
            reading.doubt(doubt, name.span.clone());
            None
        }
    }
}

fn unclear(reading: &mut Reading<'_>, message: &str, way_out: &str, span: Range<usize>) {
    reading.doubt(kinds::FORM_UNCLEAR.refusal(message).way_out(way_out), span);
}

fn too_large(
    reading: &mut Reading<'_>,
    said: &LetteringSaid,
    message: String,
    at: Option<Point>,
    fits: Option<Length>,
) {
    let mut doubt = kinds::LETTERING_LARGE.refusal(message).at(reading.place(said.height.span.clone()));
    if let Some(p) = at {
        doubt = doubt.at(Place::Blank { x: p.x, y: p.y, z: None });
    }
    reading.add(doubt.way_out(match fits {
        Some(height) => format!("`height = \"{height}\"` fits there"),
        None => format!("no height from {} up fits there: put it elsewhere", Length::mm(LEAST)),
    }));
}

fn text_fault(reading: &mut Reading<'_>, said: &LetteringSaid, fault: &TextFault) {
    let name = said.name();
    let (kind, message, way_out) = match fault {
        TextFault::Missing(missing) => {
            let all = missing.iter().map(|c| shown(*c)).collect::<Vec<_>>().join(", ");
            let message = format!("the font `{}` has no {all}", said.font.value);
            (kinds::LETTERS_MISSING, message, "write the text without, or name a font that has them".to_owned())
        }
        TextFault::TooLong(count) => (
            kinds::LETTERING_TEXT,
            format!("`{name}` has {count} characters, more than {MOST_LETTERS}"),
            "split it into several, as `lettering = [{ … }, { … }]`".into(),
        ),
        TextFault::Control(c) => (
            kinds::LETTERING_TEXT,
            format!("the text has a line break or another control in it ({})", shown(*c)),
            "give each line its own table, as `lettering = [{ … }, { … }]`".into(),
        ),
        TextFault::MixedDirections => (
            kinds::LETTERING_TEXT,
            format!("`{name}` runs partly from right to left and partly, or in its numbers, from left to right"),
            "give each direction its own table, as `lettering = [{ … }, { … }]`".into(),
        ),
        TextFault::NothingSeen => (
            kinds::LETTERING_TEXT,
            "nothing of this text leaves a mark".into(),
            "write something that is seen, or take the lettering out".into(),
        ),
        TextFault::Intricate => (
            kinds::FONT_UNREADABLE,
            format!("the font `{}` has a glyph of this text with more pieces than any letter has", said.font.value),
            "name another font".into(),
        ),
    };
    reading.doubt(kind.refusal(message).way_out(way_out), said.text.span.clone());
}

/// A character as a message shows it.
fn shown(c: char) -> String {
    let code = format!("U+{:04X}", u32::from(c));
    if c.is_alphanumeric() || c.is_ascii_punctuation() || (c > '\u{a0}' && !c.is_whitespace() && !c.is_control()) {
        format!("`{c}` ({code})")
    } else {
        code
    }
}

fn short(mm: f64) -> String {
    format!("{} mm", trimmed(mm, 2))
}

/// Letters that run into each other where they stand, though the font keeps them apart.
fn crowded(reading: &mut Reading<'_>, said: &LetteringSaid, laid: &Laid) {
    let places = laid.line.crowded(&laid.places);
    let Some(first) = places.first() else { return };
    let (pairs, run) = if places.len() == 1 { ("pair", "runs") } else { ("pairs", "run") };
    let doubt = kinds::LETTERING_CROWDED
        .caution(format!("{} {pairs} of letters of `{}` {run} into each other", places.len(), said.name()))
        .at(reading.place(said.text.span.clone()))
        .at(Place::Blank { x: first.x, y: first.y, z: None })
        .way_out("add `spacing`, make the letters smaller or the arc wider, or put them on its other side");
    reading.add(doubt);
}

impl Fonts {
    /// The face that lettering asks for. What is wrong with one is said once.
    fn face<'f>(&'f mut self, reading: &mut Reading<'_>, said: &LetteringSaid) -> Option<Font<'f>> {
        // A file that couldn't be opened has its own doubt.
        let bytes = self.files.get(&said.font.value)?;
        let first = self.said.insert((said.font.value.clone(), said.font_face));
        let doubt = match Font::read(bytes, said.font_face - 1) {
            Ok(font) => {
                if first && font.is_variable() {
                    let doubt = varied(&said.font.value);
                    reading.doubt(doubt, said.font.span.clone());
                }
                return Some(font);
            }
            Err(fault) => unreadable(&said.font.value, &fault),
        };
        if first {
            reading.doubt(doubt, said.font.span.clone());
        }
        None
    }
}

fn varied(font: &str) -> Doubt {
    kinds::FONT_VARIED
        .note(format!("the font `{font}` can be varied in weight or width; its default is used"))
        .way_out("nothing, if the default is meant; else name a file made for the one that is")
}

fn unreadable(font: &str, fault: &FontFault) -> Doubt {
    kinds::FONT_UNREADABLE.refusal(format!("the font `{font}` {}", fault.words())).way_out(match fault {
        FontFault::NoSuchFace(has) => format!("say a `font_face` of 1 to {has}"),
        FontFault::Packed => "name the TrueType or OpenType file that it was packed from".into(),
        FontFault::NoCapHeight => "name a font that has capitals".into(),
        _ => "name a TrueType or OpenType file with outlines".into(),
    })
}
