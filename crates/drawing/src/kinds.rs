//! The kinds of doubt a drawing can raise, and the sentences that raise them.

use crate::model::{Drawing, Mend, NamedContour, Repair, Why};
use doubt::{Doubt, Kind, Place};
use plane::{Bounds, Point};
use quantity::trimmed;
use std::collections::BTreeMap;

/// Places listed in one doubt; the rest are counted.
const PLACES: usize = 20;

macro_rules! kinds {
    ($($name:ident = $id:literal, $title:literal, $page:literal;)*) => {
        $(pub(crate) const $name: Kind = Kind { id: $id, title: $title, page: $page };)*
        /// Every kind of doubt this crate raises.
        pub const KINDS: &[Kind] = &[$($name),*];
    };
}

kinds! {
    NOT_A_DRAWING = "not-a-drawing", "The file is neither DXF nor SVG",
        "The first bytes of a drawing say what it is: an SVG begins with `<`, a DXF with a group code or the words of a \
         binary DXF. This file begins with neither, or is empty, so nothing was read. Export the drawing again as DXF \
         or SVG, or name the right file.";
    CUT_SHORT = "drawing-cut-short", "The drawing ends before its end",
        "The file stops before the end mark that every whole DXF or SVG carries, so a part of the drawing may be \
         missing. A plate made from a part of a drawing would be wrong without looking wrong, so nothing is read from \
         it. Export or copy the file again and see that the disk or stick was not full.";
    DXF_BROKEN = "dxf-broken", "A line of the DXF can't be read",
        "A DXF is a list of pairs: a line with a group code, which is a whole number, and a line with its value. Here a \
         group code was expected and something else stands there, so that everything after it would be read wrongly. \
         Export the drawing again; if the file was edited by hand, look for a line too many or too few.";
    XML_BROKEN = "svg-broken", "The SVG is not well-formed XML",
        "An SVG must be well-formed XML: every element closed, every quote paired, every prefix declared. The place \
         where reading stopped is given; nothing is taken from a file that can't be read to its end. Export the \
         drawing again, or mend the place named.";
    NO_ENTITIES = "drawing-empty", "There is nothing to cut in the drawing",
        "The file could be read, but holds no outline that can be cut: it may be empty, or everything in it is hidden, \
         text without a font, or of kinds that are left out. The list of what was left out says which. Show the \
         layers that matter, or turn text into outlines, and export again.";
    DXF_COUNT = "dxf-count", "The DXF holds entities that were not accounted for",
        "Entities are counted a second time, apart from the reading, and the two counts must agree: every entity is \
         read or listed as left out. They differ here, so something may be missing and nothing should be cut from \
         this reading. Export the drawing again with another version setting, and keep this file as an example.";
    UNITS_ASSUMED = "units-assumed", "The drawing doesn't say what its units are",
        "The numbers of the drawing have no unit in the file, so one was assumed. A drawing made in inches and read as \
         mm comes out 25.4 times too small. Set the unit when exporting, or state it beside the drawing's name, and \
         compare the overall size given with the one you drew.";
    UNITS_OVERRIDDEN = "units-overridden", "The stated unit isn't the one used",
        "The file states a unit and you asked for another one; yours was used. That is right if the file's header is \
         wrong, as it often is after conversion. Compare the overall size with the one you drew.";
    GAP_CLOSED = "gap-closed", "A gap was closed",
        "Two ends that nearly meet were joined, because the gap is within the tolerance for closing gaps. Where two \
         straight sides meet they meet in their corner; ends up to 0.01 mm apart meet in the middle; wider gaps get a \
         straight piece between them. If the gap was meant, set a smaller `close_gaps`; else close it in the drawing.";
    OPEN_PATH = "open-path", "A path doesn't close",
        "The ends of this path don't meet, so that it has no inside. That is right for a line to be engraved along its \
         length; an outline or a pocket must close. The places of the ends are given. Close the path in the drawing, \
         or, where the gap is small and not meant, allow it with `close_gaps`.";
    DUPLICATE_DROPPED = "duplicate-dropped", "A second copy was dropped",
        "The same line or contour is in the drawing twice within 0.001 mm, in the same or the other direction. Cut as \
         drawn, an area under two copies of its contour would cancel itself out; one copy was dropped. Nothing needs \
         doing, but a copy may be a sign that something was pasted twice.";
    ZERO_LENGTH = "zero-length-dropped", "A piece without length was dropped",
        "A line, arc or path whose points are all the same was dropped. Such pieces are left behind by trimming in \
         drawing programs and draw nothing.";
    OVERLAP_MERGED = "overlap-merged", "Pieces that ran over each other became one",
        "Two lines on one straight line, or two arcs of one circle, partly cover each other. They were merged into one \
         piece, so that the contour can close. Nothing needs doing if the shape is right.";
    FILL_CLOSED = "fill-closed", "A filled path was closed",
        "The path is filled but its ends don't meet. Filling an open path closes it with a straight line, and so was it \
         read. If that line isn't where an edge should be, close the path in the drawing or take its fill away.";
    CROSSES_ITSELF = "crosses-itself", "A contour crosses or touches itself",
        "Where a contour crosses itself it is not clear what is inside. It is filled by its fill rule: in a DXF, what \
         lies an odd number of crossings in. Where it only touches itself the shape has a place of no width, which no \
         cutter leaves standing. Look at the places given and redraw them if this isn't what you mean.";
    CONTOURS_CROSS = "contours-cross", "Contours of one layer cross or touch",
        "Contours of one layer are filled by nesting: outer, hole, island. Where two of them cross or touch they do not \
         nest, and what both cover is taken as not filled. Put them on layers of their own, or unite them in the \
         drawing.";
    CROSSINGS_NOT_COUNTED = "crossings-not-counted", "Too many contours lie over each other to find all crossings",
        "The search for crossings looks at pairs of lines and arcs that lie near each other, and was ended after twenty \
         million pairs. The contours are read all the same, but crossings may be unlisted. This usually means a \
         pattern pasted many times in one place.";
    LEFT_OUT = "left-out", "Something in the drawing was not read",
        "Only outlines that can be cut are read. Text, fills, dimensions, hidden layers, printing sheets and entities of \
         unknown kinds are left out, each kind counted with its layer and reason, so that nothing is missing \
         unnoticed. If one of them should be cut, turn it into outlines, or show its layer, and export again.";
    TILTED = "tilted-entity", "An entity is tilted in space",
        "The drawing is read in plan, seen from above. This entity doesn't lie level, so its plan is foreshortened: a \
         tilted circle is read as an ellipse. If the plan is not what you mean, lay the entity flat in the drawing.";
    FREE_SPLINE = "free-spline", "A spline is given only by the points it passes",
        "The file holds the points this spline passes through but not its curve, and drawing programs draw such a \
         spline differently between its points. It was read as the cubic with continuous curvature over the chord \
         lengths. Check its shape in the picture, or turn it into a plain polyline or spline before exporting.";
    TOO_MANY = "too-many-entities", "The drawing unfolds into too many entities",
        "Blocks that hold blocks, or large arrays of them, multiply quickly. Unfolding was ended at a limit that no \
         drawing of a plate comes near, and nothing should be cut from the part that was read. Look for an array with \
         wrong row or column counts.";
    NAME_NOT_FOUND = "name-not-found", "Nothing in the drawing has this name",
        "An area names contours by their layer, or in an SVG by id, class or the id of a group around them. Nothing that \
         closes has the name given. The nearest name in the drawing is suggested where there is one; a name may also be \
         on a hidden layer, which is left out.";
    OPEN_LEFT_OUT = "open-left-out", "Open paths of this name have no area",
        "Some of what this name picks doesn't close, and adds nothing to the area. If it should, close the ends; the \
         places are listed with the drawing's open paths.";
    NO_AREA = "no-area", "What the name picks has no area",
        "The contours picked enclose nothing: they are too thin, or cancel each other out. Look at the contours of this \
         name in the drawing.";
    SIZE_ASSUMED = "svg-size-assumed", "The SVG doesn't say how large it is",
        "Without a width and height in real units on its root element, an SVG has no size in mm. Its numbers were taken \
         as px at 96 to the inch, as the standard says. Set the page size in mm when exporting, or state the unit \
         beside the drawing's name, and compare the overall size with the one you drew.";
    ASPECT = "svg-aspect", "The page and its viewBox have different proportions",
        "The viewBox doesn't fit the page in both directions. As the standard says, it was scaled and set in the page \
         by its preserveAspectRatio: by default evenly, centred, with a strip left at two sides. If a shape comes out \
         shifted or stretched, give the viewBox the proportions of the page.";
    PATH_BROKEN = "path-broken", "The data of a path breaks off",
        "The list of commands of a path holds something that is not one, and what follows can't be read. A viewer would \
         draw the part before it; a cut must not be made from a part. Export the drawing again, or mend the path.";
    UNEVEN_STROKE = "uneven-stroke", "A stroke is wider one way than the other",
        "A transform that stretches stretches the pen too, so that the stroke's width changes with its direction. Its \
         outline was made with the mean width. Turn the stroke into a path in the drawing program to keep it as seen.";
    TEXT_WITHOUT_FONT = "text-without-font", "A text has no font to give it outlines",
        "Letters are cut from outlines, and a text has none until it is set in a font. The font must be a file that you \
         name, so that the same drawing is cut alike everywhere; fonts of the machine are never used. Name the font's \
         file, or turn the text into paths in the drawing program.";
    EFFECT = "effect-left-out", "An effect changes how this looks, but not what is cut",
        "Clips, masks, filters, patterns, markers and gradients change what is seen without changing the outlines. They \
         were left out, so the cut shape can differ from the picture. Apply them in the drawing program (clips and masks by \
         cutting the paths), then export again.";
    STYLE = "style-not-understood", "A piece of style wasn't understood",
        "Style sheets are read for simple selectors (element, class, id) and for the properties that decide what is \
         filled, stroked or hidden. This piece uses more than that and was left out. Give the elements their style \
         directly if it matters there.";
    BAD_NUMBERS = "bad-numbers", "Numbers are missing, not finite or too large",
        "The geometry of this element can't be read: a number is missing, isn't a number, or is larger than any drawing \
         (a hundred kilometres). The element was left out. Mend it, or delete it if it is rubbish.";
}

fn amount(mm: f64) -> String {
    trimmed(mm, if mm.abs() < 0.001 { 6 } else { 3 })
}

fn spot(p: Point) -> String {
    format!("x {} y {}", trimmed(p.x, 3), trimmed(p.y, 3))
}

fn on(name: &str) -> String {
    if name.is_empty() { String::new() } else { format!(" on `{name}`") }
}

fn many(count: usize, one: &str, more: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {more}") }
}

fn in_drawing(file: &str, name: &str, p: Point) -> Place {
    let layer = (!name.is_empty()).then(|| name.to_owned());
    Place::Drawing { file: file.to_owned(), layer, x: p.x, y: p.y }
}

fn at_points(mut doubt: Doubt, file: &str, name: &str, points: impl IntoIterator<Item = Point>) -> Doubt {
    let mut more = 0;
    for p in points {
        if doubt.places.len() < PLACES {
            doubt.places.push(in_drawing(file, name, p));
        } else {
            more += 1;
        }
    }
    if more > 0 { doubt.noting(format!("and {more} more places")) } else { doubt }
}

pub(crate) fn line_place(file: &str, line: usize) -> Place {
    Place::File { file: file.to_owned(), line, column: usize::from(line > 0), span: 0..0 }
}

pub(crate) fn at_lines(mut doubt: Doubt, file: &str, lines: &[usize]) -> Doubt {
    doubt.places.extend(lines.iter().filter(|&&l| l > 0).take(PLACES).map(|&l| line_place(file, l)));
    if doubt.places.is_empty() { doubt.at(Place::file(file)) } else { doubt }
}

pub(crate) fn not_a_drawing(file: &str, bytes: &[u8]) -> Doubt {
    let what = if bytes.is_empty() { "is empty" } else { "is neither a DXF nor an SVG" };
    NOT_A_DRAWING
        .refusal(format!("`{file}` {what}"))
        .at(Place::file(file))
        .way_out("export the drawing as DXF or SVG, or name the right file")
}

pub(crate) fn dxf_no_code(file: &str, line: usize, text: &str) -> Doubt {
    DXF_BROKEN
        .refusal(format!("line {line} should hold a group code, a whole number, but holds `{text}`"))
        .at(line_place(file, line))
        .way_out("export the drawing again")
}

pub(crate) fn cut_short(file: &str, line: usize, where_it_ends: &str) -> Doubt {
    CUT_SHORT
        .refusal(format!("`{file}` ends {where_it_ends}: part of the drawing may be missing"))
        .at(line_place(file, line))
        .way_out("export or copy the file again")
}

pub(crate) fn empty(file: &str) -> Doubt {
    NO_ENTITIES
        .refusal(format!("`{file}` holds nothing that can be cut"))
        .at(Place::file(file))
        .way_out("show the layers that matter and turn text into outlines, then export again")
}

pub(crate) fn dxf_count(file: &str, raw: usize, read: usize) -> Doubt {
    DXF_COUNT
        .refusal(format!("`{file}` holds {raw} entities by a plain count, but {read} were read or listed as left out"))
        .at(Place::file(file))
        .way_out("export the drawing again with another version setting")
}

pub(crate) fn units_assumed(
    file: &str,
    bounds: Option<Bounds>,
    small: bool,
    english: bool,
    odd_code: Option<i64>,
) -> Doubt {
    let size = bounds.map_or_else(String::new, |b| {
        format!("; the drawing is {} x {} of them", trimmed(b.width(), 3), trimmed(b.height(), 3))
    });
    let message = format!("`{file}` doesn't say its units: mm assumed{size}");
    let mut doubt = if small {
        UNITS_ASSUMED.caution(message).noting("that is small for a plate: it may have been drawn in inches")
    } else {
        UNITS_ASSUMED.note(message)
    };
    if english {
        doubt = doubt.noting("its header hints at inches ($MEASUREMENT is 0)");
    }
    if let Some(code) = odd_code {
        doubt = doubt.noting(format!("its unit code {code} is not one of a unit used for plates"));
    }
    doubt.at(Place::file(file)).way_out("set the unit when exporting, or say it in the plate file: `units = \"in\"`")
}

pub(crate) fn units_overridden(file: &str, stated: &str, used: &str) -> Doubt {
    UNITS_OVERRIDDEN
        .note(format!("`{file}` states {stated}; {used} was used, as asked"))
        .at(Place::file(file))
        .way_out("leave the unit out of the plate file to use the drawing's own")
}

/// One doubt for each kind of repair on each name.
pub(crate) fn repairs(file: &str, repairs: &[Repair]) -> Vec<Doubt> {
    let mut groups: BTreeMap<(Mend, &str), Vec<&Repair>> = BTreeMap::new();
    for repair in repairs {
        groups.entry((repair.mend, &repair.name)).or_default().push(repair);
    }
    groups
        .into_iter()
        .map(|((mend, name), group)| {
            let most = group.iter().map(|r| r.amount).fold(0.0, f64::max);
            let doubt = repaired(mend, name, group.len(), most);
            at_points(doubt, file, name, group.iter().map(|r| r.at))
        })
        .collect()
}

fn repaired(mend: Mend, name: &str, count: usize, most: f64) -> Doubt {
    let (on, most_mm) = (on(name), amount(most));
    match mend {
        Mend::GapClosed => {
            let message = format!("{} closed{on}, the widest {most_mm} mm", many(count, "gap was", "gaps were"));
            // Up to the tolerance used when nothing is said, a gap is a drawing program's rounding.
            let doubt = if most > 0.0101 { GAP_CLOSED.caution(message) } else { GAP_CLOSED.note(message) };
            doubt.way_out("close the ends in the drawing, or set a smaller `close_gaps` if the gap is meant")
        }
        Mend::DuplicateDropped => {
            DUPLICATE_DROPPED.note(format!("{} dropped{on}", many(count, "second copy was", "second copies were")))
        }
        Mend::ZeroLengthDropped => ZERO_LENGTH
            .note(format!("{} dropped{on}", many(count, "piece without length was", "pieces without length were"))),
        Mend::OverlapMerged => OVERLAP_MERGED.note(format!(
            "{} merged{on}; up to {most_mm} mm was drawn more than once",
            many(
                count,
                "line or arc drawn in overlapping pieces was",
                "lines or arcs drawn in overlapping pieces were"
            )
        )),
        Mend::FillClosed => {
            let message = format!(
                "{} closed{on} by a straight line of up to {most_mm} mm, as filling does",
                many(count, "filled path was", "filled paths were")
            );
            let doubt = if most > 0.5 { FILL_CLOSED.caution(message) } else { FILL_CLOSED.note(message) };
            doubt.way_out("close the path in the drawing, or give it no fill if it is a line to engrave")
        }
    }
}

pub(crate) fn open_ends(file: &str, name: &str, ends: &[(Point, Point)], nearest: Option<f64>) -> Doubt {
    let on = on(name);
    let (first, last) = ends.first().copied().unwrap_or_default();
    let message = format!(
        "{}{on}: the ends are at {} and {}",
        many(ends.len(), "path doesn't close", "paths don't close; of the first"),
        spot(first),
        spot(last)
    );
    let doubt = match nearest {
        Some(gap) => {
            // Rounded up, so that the tolerance named does close it.
            let wide = (gap * 1000.0 + 1e-9).ceil() / 1000.0;
            OPEN_PATH
                .caution(message)
                .noting(format!("the nearest ends are only {} mm apart", amount(gap)))
                .way_out(format!("close them in the drawing or set `close_gaps = \"{} mm\"`", trimmed(wide, 3)))
        }
        None => OPEN_PATH.note(message).way_out("nothing, if it is to be engraved along its length; else close it"),
    };
    at_points(doubt, file, name, ends.iter().flat_map(|&(a, b)| [a, b]))
}

fn contour_name(contour: &NamedContour) -> &str {
    contour.names.first().map_or("", String::as_str)
}

pub(crate) fn crosses_itself(file: &str, contour: &NamedContour, points: &[Point]) -> Doubt {
    let name = contour_name(contour);
    let first = points.first().copied().unwrap_or_default();
    let places = if points.len() == 1 { String::new() } else { format!(", first of {} places", points.len()) };
    let doubt = CROSSES_ITSELF
        .caution(format!("a contour{} crosses or touches itself at {}{places}", on(name), spot(first)))
        .way_out("redraw the contour there if what lies inside isn't what you mean");
    at_points(doubt, file, name, points.iter().copied())
}

pub(crate) fn contours_cross(file: &str, contour: &NamedContour, points: &[Point]) -> Doubt {
    let name = contour_name(contour);
    let first = points.first().copied().unwrap_or_default();
    let doubt = CONTOURS_CROSS
        .caution(format!("contours{} cross or touch each other at {}", on(name), spot(first)))
        .way_out("put them on layers of their own, or unite them in the drawing");
    at_points(doubt, file, name, points.iter().copied())
}

pub(crate) fn crossings_not_counted(file: &str) -> Doubt {
    CROSSINGS_NOT_COUNTED
        .caution(format!("`{file}` has too many lines over each other to find all crossings"))
        .at(Place::file(file))
        .way_out("delete what is pasted more than once")
}

/// One doubt for each kind and reason that was left out.
pub(crate) fn skipped(drawing: &Drawing) -> Vec<Doubt> {
    drawing
        .skipped
        .iter()
        .map(|s| {
            let message = format!("{} `{}`{} left out: {}", s.count, s.kind, on(&s.name), s.why.words());
            let (kind, caution) = match s.why {
                Why::Text => (&TEXT_WITHOUT_FONT, true),
                Why::Effect => (&EFFECT, true),
                Why::BadNumbers => (&BAD_NUMBERS, true),
                Why::Fill | Why::Unknown | Why::MissingReference | Why::TooDeep => (&LEFT_OUT, true),
                _ => (&LEFT_OUT, false),
            };
            let doubt = if caution { kind.caution(message) } else { kind.note(message) };
            let doubt = match s.why {
                Why::Text => doubt.way_out("name the font's file, or turn the text into outlines and export again"),
                Why::Fill => doubt.way_out("draw its outline, if it should be cut"),
                Why::LayerOff | Why::LayerFrozen | Why::Invisible => doubt.way_out("show it, if it should be cut"),
                Why::Effect => doubt.way_out("apply the effect to the paths in the drawing program"),
                _ => doubt,
            };
            if s.places.is_empty() {
                at_lines(doubt, &drawing.file, &s.lines)
            } else {
                at_points(doubt, &drawing.file, &s.name, s.places.iter().copied())
            }
        })
        .collect()
}

pub(crate) fn tilted(file: &str, layer: &str, lines: &[usize]) -> Doubt {
    let message =
        format!("{}{} read in plan", many(lines.len(), "tilted entity was", "tilted entities were"), on(layer));
    at_lines(TILTED.caution(message).way_out("lay it flat in the drawing if the plan isn't what you mean"), file, lines)
}

pub(crate) fn free_spline(file: &str, layer: &str, lines: &[usize]) -> Doubt {
    let message =
        format!("{}{} given only by the points passed", many(lines.len(), "spline is", "splines are"), on(layer));
    at_lines(FREE_SPLINE.caution(message).way_out("check the shape, or export it as a polyline"), file, lines)
}

pub(crate) fn too_many(file: &str, most: usize, block: &str) -> Doubt {
    let inside = if block.is_empty() { String::new() } else { format!(", inside block `{block}`") };
    TOO_MANY
        .refusal(format!("`{file}` unfolds into more than {most} entities{inside}"))
        .at(Place::file(file))
        .way_out("look for an array with wrong row or column counts")
}

pub(crate) fn nothing_named(drawing: &Drawing, name: &str, open: usize) -> Doubt {
    let known: Vec<String> = drawing.contours.iter().flat_map(|c| c.names.iter().cloned()).collect();
    let doubt = if open > 0 {
        NAME_NOT_FOUND
            .refusal(format!("`{name}` picks {open} open paths in `{}`, but nothing that closes", drawing.file))
    } else {
        NAME_NOT_FOUND.refusal(format!("nothing in `{}` is named `{name}`", drawing.file))
    };
    let doubt = doubt.at(Place::file(&drawing.file));
    let hidden = drawing.skipped.iter().find(|s| s.name.to_uppercase() == name.to_uppercase());
    let doubt = match hidden {
        Some(s) => doubt.noting(format!("{} `{}` of that name left out: {}", s.count, s.kind, s.why.words())),
        None => doubt,
    };
    match doubt::nearest(name, known.iter().map(String::as_str)) {
        Some(near) => doubt.way_out(format!("did you mean `{near}`?")),
        None => {
            let mut names: Vec<&str> = Vec::new();
            for n in &known {
                if !names.contains(&n.as_str()) && names.len() < 8 {
                    names.push(n);
                }
            }
            let list = if names.is_empty() { "none".to_owned() } else { format!("`{}`", names.join("`, `")) };
            doubt.way_out(format!("use a name that the drawing has: {list}"))
        }
    }
}

pub(crate) fn open_left_out(file: &str, name: &str, open: usize) -> Doubt {
    OPEN_LEFT_OUT
        .note(format!("{} named `{name}` left out of its area", many(open, "open path", "open paths")))
        .at(Place::file(file))
        .way_out("close them, if they should count")
}

pub(crate) fn no_area(file: &str, name: &str) -> Doubt {
    NO_AREA
        .refusal(format!("what `{name}` picks in `{file}` encloses no area"))
        .at(Place::file(file))
        .way_out("look at the contours of this name in the drawing")
}

pub(crate) fn svg_encoding(file: &str) -> Doubt {
    XML_BROKEN
        .refusal(format!("`{file}` is not in UTF-8 or UTF-16"))
        .at(Place::file(file))
        .way_out("export it again as UTF-8")
}

pub(crate) fn not_svg(file: &str, root: &str) -> Doubt {
    NOT_A_DRAWING
        .refusal(format!("`{file}` is XML, but its root is `{root}`, not `svg`"))
        .at(Place::file(file))
        .way_out("export the drawing as SVG or DXF")
}

pub(crate) fn svg_broken(file: &str, line: usize, error: &str) -> Doubt {
    XML_BROKEN
        .refusal(format!("`{file}` can't be read as XML: {error}"))
        .at(line_place(file, line))
        .way_out("export the drawing again")
}

pub(crate) fn size_assumed(file: &str, width: f64, height: f64, said: bool) -> Doubt {
    let what = if said { "gives its size in px" } else { "gives no size" };
    SIZE_ASSUMED
        .note(format!(
            "`{file}` {what}: read at 96 px to the inch it is {} x {} mm",
            trimmed(width, 3),
            trimmed(height, 3)
        ))
        .at(Place::file(file))
        .way_out("export it with width and height in mm, or say its unit in the plate file: `units = \"mm\"`")
}

pub(crate) fn aspect(file: &str, across: f64, along: f64) -> Doubt {
    ASPECT
        .note(format!(
            "width and viewBox of `{file}` give a scale of {}, height and viewBox {}",
            trimmed(across, 6),
            trimmed(along, 6)
        ))
        .at(Place::file(file))
        .way_out("give the viewBox the proportions of the page")
}

pub(crate) fn path_broken(file: &str, line: usize, what: &str) -> Doubt {
    PATH_BROKEN
        .refusal(format!("the path data on line {line} breaks off: {what}"))
        .at(line_place(file, line))
        .way_out("export the drawing again, or mend or delete the path")
}

pub(crate) fn uneven_stroke(file: &str, line: usize) -> Doubt {
    UNEVEN_STROKE
        .caution(format!("the stroke on line {line} is stretched by its transform; its mean width was used"))
        .at(line_place(file, line))
        .way_out("turn the stroke into a path in the drawing program")
}

pub(crate) fn text_not_set(file: &str, line: usize, why: &str) -> Doubt {
    TEXT_WITHOUT_FONT
        .caution(format!("the text on line {line} can't be set: {why}"))
        .at(line_place(file, line))
        .way_out("turn the text into outlines in the drawing program")
}

pub(crate) fn style_not_understood(file: &str, selector: &str) -> Doubt {
    STYLE
        .caution(format!("the style rule `{selector}` was left out"))
        .at(Place::file(file))
        .way_out("give the elements their fill, stroke or display directly")
}
