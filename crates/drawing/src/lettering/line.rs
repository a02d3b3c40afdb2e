//! A text set on a straight baseline, and the area its letters cover wherever they are put. In mm.

use super::font::{Font, Shaped};
use super::track::{OffTrack, Track};
use crate::crossing::any_meet;
use crate::curve::Trace;
use crate::region;
use plane::{Affine, Bounds, Contour, FillRule, Point, Region};
use quantity::Length;

/// No text has more letters than this.
pub const MOST_LETTERS: usize = 500;
/// Letters that share less than this touch at most, mm².
const TOUCH: f64 = 1e-4;

/// A text on a straight baseline along y 0, its pen starting at x 0.
#[derive(Debug, Clone)]
pub struct Line {
    letters: Vec<Letter>,
    /// Leftmost and rightmost ink.
    ink: [f64; 2],
}

/// What moves as one: a letter with its marks, or a ligature.
#[derive(Debug, Clone)]
pub struct Letter {
    /// Its outlines, in mm, the middle of its advance at x 0.
    traces: Vec<Trace>,
    region: Region,
    /// Where the middle of its advance stands on the baseline.
    middle: f64,
    /// The same as if no spacing were added.
    unspaced: f64,
}

/// Where a letter stands: the point of the baseline under the middle of its advance, and its turn in radians. A place
/// can't mirror.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// mm.
    pub at: Point,
    /// Radians, anticlockwise.
    pub turn: f64,
}

/// Which point of a line is put at the place asked for. Ends are those of the ink, as a rule would measure them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Align {
    /// The left end.
    Left,
    /// The middle between the ends.
    #[default]
    Centre,
    /// The right end.
    Right,
    /// Where the pen starts.
    Pen,
}

/// Why a text can't be set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TextFault {
    /// The font has no glyphs for these.
    Missing(Vec<char>),
    /// It has so many characters, more than [`MOST_LETTERS`].
    TooLong(usize),
    /// A line break, a tab or another control.
    Control(char),
    /// It runs partly from left to right and partly from right to left.
    MixedDirections,
    /// Nothing in it leaves a mark.
    NothingSeen,
    /// A glyph of it has more pieces than any letter could.
    Intricate,
}

impl Place {
    fn map(self) -> Affine {
        Affine::turn(self.turn).then(Affine::shift(self.at))
    }
}

impl Line {
    /// Sets a text with capitals of a height and with spacing added between letters. Spacing breaks up ligatures.
    pub fn set(font: &Font<'_>, text: &str, cap_height: Length, spacing: Length) -> Result<Self, TextFault> {
        check(text)?;
        let shaped = font.shape(text, spacing == Length::ZERO).map_err(TextFault::Missing)?;
        let (scale, spacing) = (font.scale(cap_height.to_mm()), spacing.to_mm());
        let mut letters: Vec<Letter> = Vec::new();
        for cluster in shaped.chunk_by(|a, b| a.cluster == b.cluster) {
            letters.push(letter(font, cluster, scale, letters.len() as f64 * spacing)?);
        }
        let ends = letters.iter().filter(|l| !l.region.is_empty()).map(|l| (l.middle, l.region.bounds()));
        let none = [f64::INFINITY, f64::NEG_INFINITY];
        let ink = ends.fold(none, |[a, b], (m, ink)| [a.min(m + ink.min.x), b.max(m + ink.max.x)]);
        if ink[0] < ink[1] { Ok(Self { letters, ink }) } else { Err(TextFault::NothingSeen) }
    }

    /// Its letters from left to right, spaces included.
    pub fn letters(&self) -> &[Letter] {
        &self.letters
    }

    /// From the left end of its ink to the right.
    pub fn width(&self) -> f64 {
        self.ink[1] - self.ink[0]
    }

    fn anchor(&self, align: Align) -> f64 {
        match align {
            Align::Left => self.ink[0],
            Align::Centre => 0.5 * (self.ink[0] + self.ink[1]),
            Align::Right => self.ink[1],
            Align::Pen => 0.0,
        }
    }

    /// Places on a straight baseline through a point, turned (radians, anticlockwise).
    pub fn straight(&self, at: Point, turn: f64, align: Align) -> Vec<Place> {
        let anchor = self.anchor(align);
        let place = |l: &Letter| Place { at: at + Point::new(l.middle - anchor, 0.0).rotated(turn), turn };
        self.letters.iter().map(place).collect()
    }

    /// Places along a track, the line's anchor `from` along it (mm of its baseline).
    pub fn along(&self, track: &Track, from: f64, align: Align) -> Result<Vec<Place>, OffTrack> {
        let start = from - self.anchor(align);
        track.holds(start + self.ink[0], start + self.ink[1])?;
        Ok(self.letters.iter().map(|l| track.at(start + l.middle)).collect())
    }

    /// The area that the letters cover at their places, one for each. Arcs stay exact where letters share no point.
    pub fn region(&self, places: &[Place]) -> Region {
        let placed: Vec<Region> = self.letters.iter().zip(places).map(|(l, p)| l.region_at(*p)).collect();
        let mut shapes = Vec::new();
        for group in meeting(&placed) {
            let contours: Vec<&Contour> = group.iter().flat_map(|&i| placed[i].contours()).collect();
            let whole = if group.len() == 1 || any_meet(&contours) == Some(false) {
                let fills: Vec<Vec<&Contour>> = group.iter().map(|&i| placed[i].contours().collect()).collect();
                if let [one] = group.as_slice() { placed[*one].clone() } else { region::nested_in(&fills) }
            } else {
                let rings: Vec<Contour> =
                    group.iter().flat_map(|&i| flattened(&self.letters[i].traces, places[i])).collect();
                plane::regions_from_rings(&rings, FillRule::NonZero)
            };
            shapes.extend(whole.shapes);
        }
        Region { shapes }
    }

    /// Neighbours that run into each other at their places but not when plainly set, with a point of what they share.
    pub fn crowded(&self, places: &[Place]) -> Vec<Point> {
        let n = self.letters.len();
        let seen: Vec<usize> = (0..n).filter(|&i| !self.letters[i].region.is_empty()).collect();
        let shared = |a: &Region, b: &Region| {
            let both = if a.bounds().meets(b.bounds()) { plane::intersection(a, b) } else { Region::default() };
            (both.area() > TOUCH).then(|| both.bounds().centre())
        };
        let plain = |i: usize| {
            let letter = &self.letters[i];
            letter.region_at(Place { at: Point::new(letter.unspaced, 0.0), turn: 0.0 })
        };
        let pairs = seen.windows(2).map(|w| (w[0], w[1]));
        // Round a circle the last may meet the first.
        let round = seen.first().copied().zip(seen.last().copied()).filter(|_| seen.len() > 2);
        let found = pairs.chain(round).filter_map(|(i, j)| {
            let at = shared(&self.letters[i].region_at(places[i]), &self.letters[j].region_at(places[j]))?;
            shared(&plain(i), &plain(j)).is_none().then_some(at)
        });
        found.collect()
    }
}

impl Letter {
    /// What it covers at a place. Moved as it is: arcs stay arcs.
    pub fn region_at(&self, place: Place) -> Region {
        // A turn and a shift always map arcs to arcs.
        self.region.mapped(place.map()).unwrap_or_default()
    }

    /// Where the middle of its advance stands on the straight baseline, mm from the pen's start.
    pub fn middle(&self) -> f64 {
        self.middle
    }
}

/// Whether a text can be set on one line in one direction at all.
fn check(text: &str) -> Result<(), TextFault> {
    let count = text.chars().count();
    if count > MOST_LETTERS {
        return Err(TextFault::TooLong(count));
    }
    let breaks = |c: char| c.is_control() || c == '\u{2028}' || c == '\u{2029}';
    if let Some(c) = text.chars().find(|c| breaks(*c)) {
        return Err(TextFault::Control(c));
    }
    // Hebrew, Arabic and their neighbours. Numbers run from left to right among them.
    let leftward = |c: char| matches!(c, '\u{590}'..='\u{8ff}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{fefe}');
    let rightward = |c: char| c.is_numeric() || (c.is_alphabetic() && !leftward(c));
    if text.chars().any(leftward) && text.chars().any(rightward) {
        return Err(TextFault::MixedDirections);
    }
    Ok(())
}

/// A cluster of glyphs as one letter.
fn letter(font: &Font<'_>, cluster: &[Shaped], scale: f64, added: f64) -> Result<Letter, TextFault> {
    let pens = cluster.iter().flat_map(|g| g.pen);
    let (from, to) = pens.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)));
    let middle = 0.5 * (from + to);
    let mut traces = Vec::new();
    for glyph in cluster {
        let map = Affine::shift(glyph.at - Point::new(middle, 0.0)).then(Affine::scale(scale, scale));
        let outline = font.traces(glyph.glyph).ok_or(TextFault::Intricate)?;
        traces.extend(outline.iter().map(|t| t.mapped(map)));
    }
    let unspaced = middle * scale;
    Ok(Letter { region: filled(&traces), traces, middle: unspaced + added, unspaced })
}

/// What a letter's outlines fill by the font's rule (non-zero): arcs kept where they share no point.
fn filled(traces: &[Trace]) -> Region {
    let chains = traces.iter().filter_map(Trace::chain);
    let contours: Vec<Contour> = chains.map(|c| c.contour()).collect();
    let all: Vec<&Contour> = contours.iter().collect();
    if any_meet(&all) == Some(false) {
        return region::nested_in(&[all]);
    }
    plane::regions_from_rings(&flattened(traces, Place { at: Point::default(), turn: 0.0 }), FillRule::NonZero)
}

/// Outlines at a place as straight chords, turned so that ink is on their left whichever way the font draws.
fn flattened(traces: &[Trace], place: Place) -> Vec<Contour> {
    let map = place.map();
    let rings: Vec<Contour> = traces.iter().filter_map(|t| t.mapped(map).chords()).map(Contour::polygon).collect();
    if rings.iter().map(Contour::area).sum::<f64>() < 0.0 {
        rings.iter().map(Contour::reversed).collect()
    } else {
        rings
    }
}

/// Groups of regions whose boxes hang together, each in order; empty regions are left out.
fn meeting(regions: &[Region]) -> Vec<Vec<usize>> {
    let boxes: Vec<Bounds> = regions.iter().map(|r| r.bounds().grown(0.001)).collect();
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for i in (0..regions.len()).filter(|&i| !regions[i].is_empty()) {
        let (with, apart): (Vec<_>, Vec<_>) =
            groups.into_iter().partition(|g| g.iter().any(|&j| boxes[i].meets(boxes[j])));
        let mut group: Vec<usize> = with.into_iter().flatten().collect();
        group.push(i);
        group.sort_unstable();
        groups = apart;
        groups.push(group);
    }
    groups.sort();
    groups
}
