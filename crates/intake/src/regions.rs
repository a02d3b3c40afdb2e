//! Areas as disjoint regions on the blank: contours picked by name, placed, combined so that the deepest wins, and
//! checked against the blank and the plate's outline.

use crate::heights::{Floor, instead};
use crate::kinds;
use crate::lettering::{self, Fonts};
use crate::lettering_said::LetteringSaid;
use crate::plate_file::{AreaSaid, OutlineSaid, Placing, PlateFile};
use crate::reading::{Reading, Said};
use doubt::{Doubt, Place, Severity};
use drawing::Drawing;
use plane::{Affine, Bounds, Contour, Path, Point, Region};
use plate::{Area, FloorKind, Held, Letters, Strokes};
use quantity::Length;
use std::collections::BTreeMap;
use std::ops::Range;

/// What is left between two contours drawn on the same line is dust; anything this wide on average is not, mm.
pub const SLIVER: f64 = 0.005;

/// A piece of the plate thinner than this on average, mm, is what two paths of a drawing leave where they meet: no tab could
/// hold it, and the cut alone breaks it off (common practice, no source).
pub const SPECK: f64 = 0.05;
/// So many specks are named with their places.
const NAMED: usize = 8;

/// The plate without its specks, and those; as it is where it is nothing else.
pub fn without_specks(mut plate: Region) -> (Region, Vec<plane::Shape>) {
    let (specks, pieces): (Vec<_>, Vec<_>) =
        std::mem::take(&mut plate.shapes).into_iter().partition(|s| s.is_sliver(SPECK));
    if pieces.is_empty() { (Region { shapes: specks }, Vec::new()) } else { (Region { shapes: pieces }, specks) }
}

/// Share of the blank's width or height that a drawing fills well.
const FILLS: f64 = 0.4;

/// The drawing's regions by name, in the blank's frame.
pub(crate) struct Artwork<'d> {
    drawing: &'d Drawing,
    names: Vec<drawing::NameSummary>,
    picked: BTreeMap<String, Region>,
    map: Affine,
}

/// Where a drawing lies on the blank by a plate file's text: the map from its frame to the blank's. Of a text that isn't whole
/// yet what can be read counts, and a drawing that can't be centred yet lies as it is drawn.
pub fn placing(text: &str, drawing: &Drawing) -> Affine {
    let (mut reading, root) = Reading::parse("", text);
    let top = reading.table(&crate::schema::PLATE, root.get_ref(), root.span());
    let (_, plate) = crate::plate_file::read(&mut reading, &top);
    if let Some(plate) = plate {
        let map = Artwork::pick(&mut reading, drawing, &plate).map(|a| a.map);
        return map.unwrap_or_else(|| {
            Artwork { drawing, names: Vec::new(), picked: BTreeMap::new(), map: Affine::IDENTITY }.placed(&plate)
        });
    }
    let shift = || {
        let unit = crate::floor_edit::unit(text);
        let said = crate::text_edit::plain(text)?;
        let coordinates = said.get("place")?.as_array()?;
        let length =
            |v: &toml::Value| Length::parse(&v.as_str().map_or_else(|| v.to_string(), str::to_owned), unit).ok();
        Some(Point::new(length(coordinates.first()?)?.to_mm(), length(coordinates.get(1)?)?.to_mm()))
    };
    Affine::shift(shift().unwrap_or(Point::new(0.0, 0.0)))
}

/// An area's region before deeper ones are taken from it, with what it wants there.
pub(crate) struct Wanted<'s> {
    pub(crate) said: &'s AreaSaid,
    pub(crate) region: Region,
    pub(crate) strokes: Strokes,
    pub(crate) floor: Floor,
}

impl<'d> Artwork<'d> {
    /// Picks every name that the plate file uses; names that the drawing lacks are doubts.
    pub(crate) fn pick(reading: &mut Reading<'_>, drawing: &'d Drawing, plate: &PlateFile) -> Option<Self> {
        let mut artwork = Self { drawing, names: drawing.names(), picked: BTreeMap::new(), map: Affine::IDENTITY };
        let mut whole = true;
        for name in used(plate) {
            whole &= artwork.pick_one(reading, name);
        }
        for said in letterings(plate) {
            // Lettering may run along what it stands on, if nothing else is said to lead it.
            let led = said.along.is_some() || said.arc.is_some();
            if let Some(name) = &said.on {
                let closed = artwork.known(reading, name).map(|s| s.is_none_or(|s| s.contours > 0));
                whole &= match closed {
                    Some(closed) => (!led && !closed) || artwork.pick_one(reading, name),
                    None => false,
                };
            }
            whole &= said.along.iter().all(|name| artwork.known(reading, name).is_some());
        }
        if !whole {
            return None;
        }
        artwork.map = artwork.placed(plate);
        let mapped: Option<BTreeMap<String, Region>> =
            artwork.picked.iter().map(|(n, r)| Some((n.clone(), r.mapped(artwork.map)?))).collect();
        let finite = |r: &Region| r.contours().all(|c| c.vertices.iter().all(|v| v.p.is_finite() && v.p.norm() < 1e7));
        match mapped.filter(|m| m.values().all(finite)) {
            Some(mapped) => artwork.picked = mapped,
            None => {
                let doubt = kinds::DRAWING_SHAPE
                    .refusal("scaled and placed as asked, the drawing has coordinates beyond 10 km")
                    .way_out("correct `scale` or `place`");
                reading.add(doubt.at(reading.place(0..0)));
                return None;
            }
        }
        Some(artwork)
    }

    /// A drawing in inches that was read as mm is 25.4 times too small: it covers a twenty-fifth of the blank and would
    /// fill it well in inches.
    pub(crate) fn size_is_likely(&self, reading: &mut Reading<'_>, blank: [Length; 2]) -> bool {
        let b = self.picked.values().fold(Bounds::EMPTY, |b, r| b.union(r.bounds()));
        let ([w, h], inch) = (blank.map(Length::to_mm), 25.4);
        let fits = b.width() * inch <= w && b.height() * inch <= h;
        let fills = b.width() * inch >= FILLS * w || b.height() * inch >= FILLS * h;
        if b.is_empty() || !fits || !fills || self.drawing.units.from == drawing::UnitsFrom::Given {
            return true;
        }
        let assumed = self.drawing.units.from == drawing::UnitsFrom::Assumed;
        let severity = if assumed { Severity::Refusal } else { Severity::Caution };
        let says = if assumed { "states no unit".to_owned() } else { format!("is in {}", self.drawing.units.name) };
        let size = |f: f64| format!("{} by {}", Length::mm(b.width() * f), Length::mm(b.height() * f));
        let message = format!(
            "`{}` {says} and is only {} as read; in inches it would be {} on a blank of {} by {}",
            self.drawing.file,
            size(1.0),
            size(inch),
            blank[0],
            blank[1]
        );
        let way_out = if assumed {
            "say `drawing_units = \"in\"`, or `drawing_units = \"mm\"` if it is that small"
        } else {
            "if it is too small, say `drawing_units = \"in\"`"
        };
        let doubt = kinds::DRAWING_TINY.of(severity, message).at(Place::file(&self.drawing.file));
        reading.add(doubt.way_out(way_out));
        !assumed
    }

    /// What a name picks, `None` in it for all that is painted; a name that the drawing lacks is a doubt.
    #[expect(clippy::option_option, reason = "unknown, everything and one name are three cases")]
    fn known(&self, reading: &mut Reading<'_>, name: &Said<String>) -> Option<Option<&drawing::NameSummary>> {
        let known = self.names.iter().find(|n| alike(self.drawing, &n.name, &name.value));
        if known.is_none() && name.value != drawing::EVERYTHING {
            let names: Vec<&str> = self.names.iter().map(|n| n.name.as_str()).collect();
            let doubt = kinds::UNKNOWN_CONTOUR
                .refusal(format!("`{}` has no layer, id or class `{}`", self.drawing.file, name.value))
                .way_out(instead(&name.value, &names, "it has"));
            reading.doubt(doubt, name.span.clone());
            return None;
        }
        Some(known)
    }

    /// The region of a name that is picked, on the blank.
    pub(crate) fn region(&self, name: &str) -> Option<&Region> {
        self.picked.get(name)
    }

    /// The closed contours and open paths of a name, on the blank.
    pub(crate) fn paths(&self, name: &str) -> Option<(Vec<Contour>, Vec<Path>)> {
        let named = self.drawing.named(name);
        let closed = named.closed.iter().map(|c| c.contour.mapped(self.map)).collect::<Option<_>>()?;
        let open = named.open.iter().map(|p| p.path.mapped(self.map)).collect::<Option<_>>()?;
        Some((closed, open))
    }

    fn pick_one(&mut self, reading: &mut Reading<'_>, name: &Said<String>) -> bool {
        if self.picked.contains_key(&name.value) {
            return true;
        }
        let Some(known) = self.known(reading, name) else { return false };
        let file = &self.drawing.file;
        match known {
            Some(summary) if summary.contours == 0 => {
                let b = summary.bounds;
                let paths = if summary.open == 1 { "path" } else { "paths" };
                let mut doubt = kinds::CONTOUR_OPEN
                    .refusal(format!(
                        "`{}` has {} open {paths} in `{file}` and no closed contour",
                        name.value, summary.open
                    ))
                    .at(reading.place(name.span.clone()));
                if !b.is_empty() {
                    let (layer, at) = (Some(summary.name.clone()), b.centre());
                    doubt = doubt.at(Place::Drawing { file: file.clone(), layer, x: at.x, y: at.y });
                }
                let doubt = doubt.way_out(
                    "close it in the drawing, allow a greater `close_gaps`, or, to cut \
                    strokes at their drawn width, say `strokes = \"outlines\"`",
                );
                reading.add(doubt);
                return false;
            }
            _ => {}
        }
        let (region, doubts) = self.drawing.region(&name.value);
        if region.is_empty() {
            let doubt = kinds::AREA_EMPTY
                .refusal(format!("the contours of `{}` enclose nothing", name.value))
                .way_out("look for contours without width in the drawing, or ones that run back over themselves");
            reading.doubt(doubt, name.span.clone());
            return false;
        }
        let blocked = doubt::any_blocks(&doubts);
        for doubt in doubts {
            let place = reading.place(name.span.clone());
            reading.add(doubt.at(place));
        }
        self.picked.insert(name.value.clone(), region);
        !blocked
    }

    /// The map from the drawing's frame to the blank's.
    fn placed(&self, plate: &PlateFile) -> Affine {
        let scale = Affine::scale(plate.scale, plate.scale);
        let shift = match plate.place {
            Placing::AsDrawn => Point::new(0.0, 0.0),
            Placing::Shift([x, y]) => Point::new(x.to_mm(), y.to_mm()),
            Placing::Centred => {
                let names: Vec<&Said<String>> = match &plate.outline {
                    Some(outline) => outline.within.iter().collect(),
                    None => used(plate).into_iter().chain(letterings(plate).flat_map(|l| &l.on)).collect(),
                };
                let regions = names.iter().filter_map(|n| self.picked.get(&n.value));
                let bounds = regions.fold(Bounds::EMPTY, |b, r| b.union(r.bounds()));
                if bounds.is_empty() {
                    return scale;
                }
                let [w, h] = plate.blank.size.value;
                Point::new(w.to_mm(), h.to_mm()) * 0.5 - scale.apply(bounds.centre())
            }
        };
        scale.then(Affine::shift(shift))
    }

    /// All contours of several names together, and letters.
    fn together(&self, names: &[Said<String>], letters: &[Region]) -> Region {
        let regions: Vec<&Region> = names.iter().filter_map(|n| self.picked.get(&n.value)).chain(letters).collect();
        let together = match regions.as_slice() {
            [one] => (*one).clone(),
            // Combining fits arcs anew; regions that lie apart don't need it.
            apart if pairwise_apart(apart) => Region { shapes: apart.iter().flat_map(|r| r.shapes.clone()).collect() },
            all => plane::union(all.iter().copied()),
        };
        // Nothing so thin stands or is cut: a path that overlaps itself may leave such a thing.
        together.without_slivers(SLIVER)
    }

    /// The region of an area before deeper ones are taken from it, and what is said of its narrow strokes.
    pub(crate) fn area(
        &self,
        reading: &mut Reading<'_>,
        fonts: &mut Fonts,
        said: &AreaSaid,
        blank: [Length; 2],
    ) -> Option<(Region, Strokes)> {
        let mut letters = |reading: &mut Reading<'_>, all: &[LetteringSaid]| -> Option<Vec<Region>> {
            let each: Vec<_> = all.iter().map(|l| lettering::lay(reading, self, fonts, l)).collect();
            each.into_iter().collect()
        };
        let (cut, kept) = (letters(reading, &said.lettering), letters(reading, &said.keep_lettering));
        let cut = cut?;
        let letters = |(l, region): (&LetteringSaid, &Region)| Letters {
            text: l.name(),
            height: l.height.value,
            bounds: region.bounds(),
        };
        let letters = said.lettering.iter().zip(&cut).map(letters).collect();
        let mut region = self.together(&said.on, &cut);
        let kept = self.together(&said.keep, &kept?);
        if !kept.is_empty() {
            region = without(&region, &kept);
            if substantial(&region).is_none() {
                let doubt = kinds::AREA_EMPTY
                    .refusal(format!("what is kept takes all of `{}` away", said.name()))
                    .way_out("name less under `keep` and `keep_lettering`, or leave the area out");
                reading.doubt(doubt, said.span.clone());
                return None;
            }
        }
        within_blank(reading, &region, &said.name(), said.span.clone(), blank)?;
        Some((region, Strokes { narrow: said.narrow, kept, letters }))
    }

    /// The inside of the plate's outline.
    pub(crate) fn outline(&self, reading: &mut Reading<'_>, said: &OutlineSaid, blank: [Length; 2]) -> Option<Region> {
        let region = self.together(&said.within, &[]);
        if let Some(hole) = region.shapes.iter().flat_map(|s| &s.holes).next() {
            let at = hole.bounds().centre();
            let doubt = kinds::OUTLINE_HOLES
                .refusal(format!("the outline `{}` has a hole in it", joined(&said.within)))
                .at(reading.place(said.span.clone()))
                .at(Place::Blank { x: at.x, y: at.y, z: None })
                .way_out(
                    "name the outer contour alone under `within`, and make the hole an [[area]] with `floor = \
                    \"through\"`",
                );
            reading.add(doubt);
            return None;
        }
        within_blank(reading, &region, &joined(&said.within), said.span.clone(), blank)?;
        let (region, specks) = without_specks(region);
        if let [first, ..] = &specks[..] {
            let wide = 2.0 * first.area() / first.outer.length();
            let mut doubt = kinds::PLATE_SPECKS
                .caution(format!(
                    "{} of the plate `{}` {} too thin to be held, the first {} mm wide on average, and cut to chips",
                    if specks.len() == 1 { "a piece".to_owned() } else { format!("{} pieces", specks.len()) },
                    joined(&said.within),
                    if specks.len() == 1 { "is" } else { "are" },
                    quantity::trimmed(wide, 3)
                ))
                .at(reading.place(said.span.clone()))
                .way_out("join it to its neighbour in the drawing, or take it out there");
            for speck in specks.iter().take(NAMED) {
                let at = speck.outer.bounds().centre();
                doubt = doubt.at(Place::Blank { x: at.x, y: at.y, z: None });
            }
            reading.add(doubt);
        }
        Some(region)
    }

    /// The names that a contour the plate uses goes by, in the drawing's spelling.
    pub(crate) fn used_names(drawing: &Drawing, plate: &PlateFile) -> Vec<String> {
        let letters = letterings(plate).flat_map(LetteringSaid::names);
        let asked: Vec<&str> = used(plate).into_iter().chain(letters).map(|n| n.value.as_str()).collect();
        let uses = |names: &[String]| {
            asked.contains(&drawing::EVERYTHING) || names.iter().any(|n| asked.iter().any(|a| alike(drawing, a, n)))
        };
        let closed = drawing.contours.iter().map(|c| &c.names);
        let open = drawing.open_paths.iter().map(|p| &p.names);
        let mut names: Vec<String> = closed.chain(open).filter(|n| uses(n)).flatten().cloned().collect();
        names.sort();
        names.dedup();
        names
    }
}

/// Whether all that a doubt speaks of is open paths that lettering runs along.
pub(crate) fn only_leads_letters(drawing: &Drawing, plate: &PlateFile, doubt: &Doubt) -> bool {
    let asked: Vec<&str> = letterings(plate).flat_map(LetteringSaid::names).map(|n| n.value.as_str()).collect();
    let leads = |names: &[String]| names.iter().any(|n| asked.iter().any(|a| alike(drawing, a, n)));
    let layers: Vec<&String> = doubt
        .places
        .iter()
        .filter_map(|p| match p {
            Place::Drawing { layer, .. } => layer.as_ref(),
            _ => None,
        })
        .collect();
    let spoken_of = |names: &[String]| names.first().is_some_and(|n| layers.contains(&n));
    let mut paths = drawing.open_paths.iter().filter(|p| spoken_of(&p.names)).peekable();
    doubt.id == "open-path" && paths.peek().is_some() && paths.all(|p| leads(&p.names))
}

/// Every name of contours that areas and the outline are made of.
fn used(plate: &PlateFile) -> Vec<&Said<String>> {
    let areas = plate.areas.iter().flat_map(|a| a.on.iter().chain(&a.keep));
    areas.chain(plate.outline.iter().flat_map(|o| &o.within)).collect()
}

/// All lettering in the plate file.
fn letterings(plate: &PlateFile) -> impl Iterator<Item = &LetteringSaid> {
    plate.areas.iter().flat_map(AreaSaid::all_lettering)
}

/// Names as messages show them: `field + moon`.
pub(crate) fn joined(names: &[Said<String>]) -> String {
    names.iter().map(|n| n.value.as_str()).collect::<Vec<_>>().join(" + ")
}

/// Whether two names pick the same: layers of a DXF are compared without regard to case, as the drawing does.
fn alike(drawing: &Drawing, a: &str, b: &str) -> bool {
    a == b || (drawing.format == drawing::Format::Dxf && a.to_uppercase() == b.to_uppercase())
}

fn pairwise_apart(regions: &[&Region]) -> bool {
    let boxes: Vec<Bounds> = regions.iter().map(|r| r.bounds()).collect();
    (0..boxes.len()).all(|i| (i + 1..boxes.len()).all(|j| !boxes[i].meets(boxes[j])))
}

/// What is in `a` and not in `b`; `a` as it is, arcs and all, where they don't share any area.
pub(crate) fn without(a: &Region, b: &Region) -> Region {
    if !a.bounds().meets(b.bounds()) || substantial(&plane::intersection(a, b)).is_none() {
        return a.clone();
    }
    // Contours drawn on the same line leave slivers between their chords.
    plane::difference(a, b).without_slivers(SLIVER)
}

/// A point inside a region that is more than slivers.
pub(crate) fn substantial(region: &Region) -> Option<Point> {
    let shape = region.shapes.iter().filter(|s| !s.is_sliver(SLIVER)).max_by(|a, b| a.area().total_cmp(&b.area()))?;
    let b = shape.outer.bounds();
    // Middles of ever finer cells, until one is inside.
    let cells = [1, 3, 7, 15, 31].into_iter().flat_map(|n| (0..n * n).map(move |i| (n, i % n, i / n)));
    let mut points = cells.map(|(n, i, j)| {
        let share = |k: i32| (f64::from(k) + 0.5) / f64::from(n);
        Point::new(b.min.x + b.width() * share(i), b.min.y + b.height() * share(j))
    });
    points.find(|&p| shape.contains(p)).or_else(|| shape.outer.vertices.first().map(|v| v.p))
}

/// Everything must lie on the blank; a micrometre over its edge is rounding.
fn within_blank(
    reading: &mut Reading<'_>,
    region: &Region,
    name: &str,
    span: Range<usize>,
    size: [Length; 2],
) -> Option<()> {
    let (b, [w, h]) = (region.bounds(), size.map(Length::to_mm));
    let over = [
        (-b.min.x, "left of", Point::new(b.min.x, b.centre().y)),
        (-b.min.y, "below", Point::new(b.centre().x, b.min.y)),
        (b.max.x - w, "right of", Point::new(b.max.x, b.centre().y)),
        (b.max.y - h, "above", Point::new(b.centre().x, b.max.y)),
    ];
    let (amount, side, at) = over.into_iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
    if amount <= 0.001 {
        return Some(());
    }
    let mut doubt = kinds::AREA_OUTSIDE_BLANK
        .refusal(format!("`{name}` reaches {} {side} the blank", Length::mm(amount)))
        .at(reading.place(span))
        .at(Place::Blank { x: at.x, y: at.y, z: None });
    let fits = |factor: f64| b.width() * factor <= w && b.height() * factor <= h;
    let extent = format!(
        "as placed it runs from x {:.2} y {:.2} to x {:.2} y {:.2}; the blank is {} by {}",
        b.min.x, b.min.y, b.max.x, b.max.y, size[0], size[1]
    );
    doubt = doubt.noting(extent);
    doubt = doubt.way_out(if fits(1.0) {
        "shift the drawing with `place`, for example `place = \"centred\"`, or give a larger blank"
    } else if fits(1.0 / 25.4) {
        "it is too large for the blank: is the drawing in mm but read in inches? say `drawing_units = \"mm\"`"
    } else {
        "it is too large for the blank: check `size`, `scale` and `drawing_units`"
    });
    reading.add(doubt);
    None
}

/// Areas made disjoint: from each, all deeper ones are taken. Contradictions and covered areas are doubts.
pub(crate) fn disjoint(reading: &mut Reading<'_>, wanted: Vec<Wanted<'_>>) -> Option<Vec<Area>> {
    let mut sound = true;
    let mut repeated = vec![false; wanted.len()];
    for j in 1..wanted.len() {
        for i in 0..j {
            let (a, b) = (&wanted[i], &wanted[j]);
            if repeated[i] || !same_place(&a.region, &b.region) {
                continue;
            }
            let alike = a.floor.height == b.floor.height
                && a.floor.kind == b.floor.kind
                && a.said.held == b.said.held
                && a.said.narrow == b.said.narrow
                && a.said.edge == b.said.edge
                && a.said.seamless == b.said.seamless;
            let (first, second) = (a.said, b.said);
            let name = second.name();
            let both = match first.name() {
                other if other == name => format!("`{name}`"),
                other => format!("`{other}` and `{name}`"),
            };
            if alike {
                repeated[j] = true;
                let doubt = kinds::AREA_REPEATED
                    .note(format!("the areas on lines {} and {} are the same ({both})", first.line, second.line))
                    .at(reading.place(second.span.clone()))
                    .way_out("take one out");
                reading.add(doubt);
            } else {
                sound = false;
                let doubt = kinds::AREAS_CONTRADICT
                    .refusal(format!(
                        "the areas on lines {} and {} have the same contour ({both}) but want different things: {} \
                            and {}",
                        first.line,
                        second.line,
                        wish(a),
                        wish(b)
                    ))
                    .at(reading.place(second.floor_span.clone()))
                    .at(reading.place(first.floor_span.clone()))
                    .way_out("take one of them out, or name the contours that differ");
                reading.add(doubt);
            }
            break;
        }
    }
    if !sound {
        return None;
    }
    let deeper = |i: usize, j: usize| {
        let (a, b) = (wanted[i].floor.height, wanted[j].floor.height);
        b < a || (b == a && j < i)
    };
    let mut regions = Vec::new();
    for i in (0..wanted.len()).filter(|&i| !repeated[i]) {
        let mut region = wanted[i].region.clone();
        for j in (0..wanted.len()).filter(|&j| j != i && !repeated[j] && deeper(i, j)) {
            region = without(&region, &wanted[j].region);
        }
        if substantial(&region).is_none() {
            let said = wanted[i].said;
            let doubt = kinds::AREA_COVERED
                .caution(format!("nothing is left of `{}`: deeper areas cover it entirely", said.name()))
                .way_out("leave it out if that is meant; otherwise look at the floors");
            reading.doubt(doubt, said.span.clone());
            continue;
        }
        regions.push((i, region));
    }
    let areas = regions.into_iter().map(|(i, region)| {
        let Wanted { said, strokes, floor, .. } = &wanted[i];
        let through = floor.kind == FloorKind::Through;
        Area {
            name: said.name(),
            region,
            floor: floor.height,
            kind: floor.kind,
            edge: said.edge,
            seamless: said.seamless,
            strokes: strokes.clone(),
            held: if through { said.held.clone() } else { Held::Cleared },
            reveal: floor.reveal,
            line: said.line,
        }
    });
    Some(areas.collect())
}

fn wish(w: &Wanted<'_>) -> String {
    match w.floor.kind {
        FloorKind::Through => "through".into(),
        _ => format!("a floor at {}{}", w.floor.height, crate::sentence::walls(w.said.edge)),
    }
}

fn same_place(a: &Region, b: &Region) -> bool {
    let (p, q) = (a.bounds(), b.bounds());
    let near = |a: Point, b: Point| a.distance(b) < 2.0 * SLIVER;
    near(p.min, q.min)
        && near(p.max, q.max)
        && (a == b
            || (substantial(&plane::difference(a, b)).is_none() && substantial(&plane::difference(b, a)).is_none()))
}

/// An area must lie inside the plate's outline.
pub(crate) fn inside_plate(reading: &mut Reading<'_>, wanted: &Wanted<'_>, plate: &Region) -> bool {
    let outside = plane::difference(&wanted.region, plate);
    let Some(at) = substantial(&outside) else { return true };
    let doubt = kinds::AREA_OUTSIDE_PLATE
        .refusal(format!(
            "`{}` reaches outside the plate's outline, with {} mm² of its area",
            wanted.said.name(),
            quantity::trimmed(outside.area(), 2)
        ))
        .at(reading.place(wanted.said.span.clone()))
        .at(Place::Blank { x: at.x, y: at.y, z: None })
        .way_out("draw it no farther than the outline, or widen the outline");
    reading.add(doubt);
    false
}
