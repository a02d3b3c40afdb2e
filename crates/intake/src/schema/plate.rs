//! The keys of a plate file.

use super::LeftOut::{Assumed, Means, Needed, Then};
use super::{Section, Takes, UNITS, key};

/// Sides with masking film.
const FILM: &[&str] = &["none", "one side", "both sides"];

/// Top level of the plate file.
pub const PLATE: Section = Section {
    title: "the plate file",
    keys: &[
        key(
            "title",
            Takes::Text,
            Needed,
            r#"title = "Kestrel Hill door plate""#,
            "what the plate is called on every sheet",
        ),
        key(
            "units",
            Takes::Words(UNITS),
            Assumed("mm"),
            r#"units = "mm""#,
            "unit of every number without one of its own in this file",
        ),
        key("drawing", Takes::Text, Needed, r#"drawing = "door-plate.svg""#, "the drawing, beside the plate file"),
        key(
            "shop",
            Takes::Text,
            Then("`shop.toml` beside the plate file, or else the built-in starter shop; either is said"),
            r#"shop = "shop.toml""#,
            "the shop file",
        ),
        key(
            "drawing_units",
            Takes::Words(&["mm", "cm", "m", "in", "thou"]),
            Then("the drawing's own"),
            r#"drawing_units = "in""#,
            "unit of the drawing, if it states none or the wrong one",
        ),
        key("scale", Takes::Number(0.001, 1000.0), Means("1"), "scale = 1.02", "factor on the drawing's size"),
        key(
            "place",
            Takes::Forms("`\"as drawn\"`, `\"centred\"`, or a shift `[x, y]` of two lengths"),
            Means("as drawn"),
            r#"place = "centred""#,
            "where the drawing lies on the blank: its origin at the zero corner; the box around `within` (or around \
                all contours that are used) centred; or its origin shifted from the zero corner",
        ),
        key(
            "close_gaps",
            Takes::Length(0.0, 5.0),
            Means("0.01 mm"),
            r#"close_gaps = "0.2 mm""#,
            "greatest gap between ends that is closed; every one is said",
        ),
        key(
            "strokes",
            Takes::Words(&["centre lines", "outlines"]),
            Means("centre lines"),
            r#"strokes = "outlines""#,
            "whether a stroked path means its centre line or the outline of its stroke",
        ),
        key(
            "fonts",
            Takes::Names,
            Then("text in the drawing is reported, not cut"),
            r#"fonts = ["lettering.ttf"]"#,
            "font files for text in the drawing; a font's family is its file's name without ending",
        ),
        key(
            "cutters",
            Takes::Forms("a list of cutter numbers or names"),
            Then("all cutters of the shop"),
            r#"cutters = [1, "fine flat 1/32"]"#,
            "the cutters that this plate may use",
        ),
        key(
            "margin",
            Takes::Length(0.0, 2.0),
            Means("0.1 mm"),
            "margin = 0.1",
            "least distance from a floor that shows a layer to either surface of it, in the worst case",
        ),
        key(
            "blank",
            Takes::Table("[blank]"),
            Needed,
            "[blank]\nsize = [220, 120]\nlayers = [{ sheet = \"night black 3\" }]",
            "the blank",
        ),
        key(
            "area",
            Takes::Tables("[[area]]"),
            Then("nothing but the outline is cut"),
            "[[area]]\non = \"field\"\nfloor = { shows = \"ruby clear 3\" }",
            "an area with a floor; as many as there are",
        ),
        key(
            "plate",
            Takes::Table("[plate]"),
            Then("the plate is not cut out of the blank"),
            "[plate]\nwithin = \"outline\"",
            "the plate's own edge",
        ),
        key(
            "hold",
            Takes::Tables("[[hold]]"),
            Then("nothing stands on the blank"),
            "[[hold]]\nkind = \"screw 4\"\nat = [8, 8]",
            "a screw or clamp on the blank",
        ),
    ],
};

/// `[blank]`.
pub const BLANK: Section = Section {
    title: "[blank]",
    keys: &[
        key(
            "size",
            Takes::Lengths(2, 1.0, 10_000.0),
            Needed,
            "size = [220, 120]",
            "width and height as it lies on the table, as bonded, before cutting",
        ),
        key(
            "layers",
            Takes::Tables("a layer"),
            Needed,
            "layers = [{ sheet = \"night black 3\", measured = [2.91, 2.95] }, { sheet = \"ruby clear 3\" }]",
            "its layers, top first",
        ),
        key(
            "bond",
            Takes::Length(0.0, 2.0),
            Assumed("0.05 mm"),
            "bond = 0.05",
            "thickness of each bond line between two layers",
        ),
        key(
            "bond_spread",
            Takes::Length(0.0, 2.0),
            Assumed("0.02 mm"),
            "bond_spread = 0.02",
            "by how much a bond line may be thicker or thinner",
        ),
        key(
            "bow",
            Takes::Length(0.0, 10.0),
            Assumed("0 mm"),
            "bow = 0.2",
            "by how much the blank may stand up from where it lies",
        ),
        key(
            "micrometer_error",
            Takes::Length(0.0, 0.5),
            Means("0.01 mm"),
            "micrometer_error = 0.01",
            "by how much a reading may be wrong",
        ),
        key(
            "measured_total",
            Takes::Readings(0.1, 200.0),
            Then("the total is the sum of the layers"),
            "measured_total = [5.98, 6.01]",
            "readings of the bonded blank's whole thickness, without what lies under it",
        ),
        key(
            "measured_at",
            Takes::Forms("a list of readings `[x, y, thickness]`"),
            Then("`measured_total` counts, without points"),
            "measured_at = [[10, 10, 6.02], [220, 10, 6.05], [220, 130, 6.09], [10, 130, 6.05]]",
            "readings of the bonded blank's whole thickness at points from its zero corner; a wedge is found from three or more",
        ),
        key(
            "total_film",
            Takes::Words(FILM),
            Means("none"),
            "total_film = \"one side\"",
            "masking film that was on the bonded blank when it was measured",
        ),
        key(
            "film",
            Takes::Length(0.0, 1.0),
            Means("0.06 mm"),
            "film = 0.08",
            "thickness of masking film on one side, where readings were taken with it (common practice, no source)",
        ),
        key(
            "film_spread",
            Takes::Length(0.0, 1.0),
            Means("0.02 mm"),
            "film_spread = 0.02",
            "by how much the film may be thicker or thinner (common practice, no source)",
        ),
        key(
            "under",
            Takes::Tables("what lies under"),
            Then("the blank lies on the table"),
            "under = [{ name = \"carpet tape\", thickness = 0.2 }]",
            "what lies between blank and table, top first",
        ),
        key(
            "into_table",
            Takes::Length(0.0, 20.0),
            Means("0 mm"),
            "into_table = 0.3",
            "depth into the table that may be cut; the only leave for a negative height",
        ),
    ],
};

/// One layer of `[blank]`.
pub const LAYER: Section = Section {
    title: "a layer",
    keys: &[
        key("sheet", Takes::Text, Needed, "layers = [{ sheet = \"ruby clear 3\" }]", "name of a sheet of the shop"),
        key(
            "measured",
            Takes::Readings(0.1, 100.0),
            Then("the label's thickness with the standard's tolerance, and it is said"),
            "layers = [{ sheet = \"ruby clear 3\", measured = [2.91, 2.95, 2.93] }]",
            "readings of its thickness, without masking film unless `film` says otherwise",
        ),
        key(
            "film",
            Takes::Words(FILM),
            Means("none"),
            "layers = [{ sheet = \"ruby clear 3\", measured = [3.05, 3.06], film = \"one side\" }]",
            "masking film that was on it when it was measured; film that stays under the blank while it is cut belongs into `under`",
        ),
    ],
};

/// One thing under the blank.
pub const UNDER: Section = Section {
    title: "what lies under",
    keys: &[
        key("name", Takes::Text, Needed, "under = [{ name = \"carpet tape\", thickness = 0.2 }]", "what it is"),
        key(
            "thickness",
            Takes::Length(0.01, 50.0),
            Needed,
            "under = [{ name = \"carpet tape\", thickness = 0.2 }]",
            "how thick it is",
        ),
        key(
            "spread",
            Takes::Length(0.0, 5.0),
            Assumed("0.02 mm"),
            "under = [{ name = \"carpet tape\", thickness = 0.2, spread = 0.03 }]",
            "by how much it may be thicker or thinner",
        ),
    ],
};

/// `[[area]]`.
pub const AREA: Section = Section {
    title: "[[area]]",
    keys: &[
        key(
            "on",
            Takes::Names,
            Then("needed, unless there is `lettering`"),
            "on = [\"field\", \"moon\"]",
            "contours of the drawing, by layer, id or class; `\"*\"` is all that is painted",
        ),
        key(
            "lettering",
            Takes::Forms("a table or a list of tables: lettering"),
            Then("no letters"),
            "lettering = { text = \"KESTREL HILL\", font = \"lettering.ttf\", height = 14, on = \"field\" }",
            "letters that are part of the area, with or without contours of `on`",
        ),
        key("keep", Takes::Names, Then("nothing is kept"), "keep = \"star\"", "contours inside it that stay uncut"),
        key(
            "keep_lettering",
            Takes::Forms("a table or a list of tables: lettering"),
            Then("no letters are kept"),
            "keep_lettering = { text = \"12\", font = \"lettering.ttf\", height = 30, on = \"field\" }",
            "letters inside it that stay uncut, so that they stand proud",
        ),
        key(
            "floor",
            Takes::Forms("`\"through\"`, or a table with one of `shows`, `below_face`, `above_table`"),
            Needed,
            "floor = { shows = \"ruby clear 3\" }",
            "where it ends",
        ),
        key(
            "edge",
            Takes::Forms("`\"upright\"`, or a table with one of `follows_width`, `slope`"),
            Means("upright"),
            "edge = { follows_width = \"60 deg\" }",
            "how its walls stand; walls that lean are cut by a vee, and `floor` is then the deepest it goes: where they \
                meet above it, there is no floor",
        ),
        key(
            "narrow",
            Takes::Words(&["refuse", "leave", "centre line"]),
            Then("left for hand and said; a part of which no cutter reaches anything is refused"),
            "narrow = \"centre line\"",
            "what becomes of strokes narrower than the finest cutter that reaches the floor: the plate is refused, they \
                stay uncut, or that cutter runs once along their middle and they come out as wide as it is",
        ),
        key(
            "seamless",
            Takes::Flag,
            Means("false"),
            "seamless = true",
            "no steps between cutters: wider ones leave a little, the finest does all walls and the floor",
        ),
        key(
            "held_by",
            Takes::Forms("`\"clearing\"`, or a table with one of `tabs`, `skin`, `by`"),
            Means("clearing"),
            "held_by = { tabs = 3 }",
            "only for `through`: what holds the cut-out; `\"clearing\"` cuts all of it to chips",
        ),
    ],
};

/// `lettering = { … }`.
pub const LETTERING: Section = Section {
    title: "lettering",
    keys: &[
        key("text", Takes::Text, Needed, "text = \"KESTREL HILL\"", "what it says, on one line"),
        key(
            "font",
            Takes::Text,
            Needed,
            "font = \"lettering.ttf\"",
            "the font file, TrueType or OpenType, beside the plate file; a variable one is read as its default",
        ),
        key(
            "font_face",
            Takes::Whole(1, 1000),
            Means("1"),
            "font_face = 2",
            "which face of a file that collects several, from 1",
        ),
        key(
            "height",
            Takes::Length(0.5, 500.0),
            Needed,
            "height = \"14 mm\"",
            "height of the capitals, from the baseline to the top of an H",
        ),
        key(
            "spacing",
            Takes::Length(-20.0, 200.0),
            Means("0 mm"),
            "spacing = 0.8",
            "added between letters, over the font's own; with any, ligatures are not used",
        ),
        key(
            "on",
            Takes::Text,
            Then("one of `on`, `at`, `along`, `arc` is needed"),
            "on = \"field\"",
            "name of closed contours that the letters stand in the middle of, and must stay inside of; or of an open \
                path that they run along",
        ),
        key(
            "at",
            Takes::Lengths(2, -10_000.0, 10_000.0),
            Then("the middle of `on`, or a path's own"),
            "at = [110, 42]",
            "point of the baseline that `align` speaks of, from the blank's zero corner; with a path, the point of it \
                nearest to this",
        ),
        key(
            "along",
            Takes::Text,
            Then("a straight line"),
            "along = \"arch\"",
            "name of the one path of the drawing, open or closed, that they run along",
        ),
        key(
            "arc",
            Takes::Table("arc"),
            Then("a straight line"),
            "arc = { centre = [110, 60], radius = 45 }",
            "circle that they run round",
        ),
        key(
            "align",
            Takes::Words(&["left", "centre", "right"]),
            Means("centre"),
            "align = \"left\"",
            "whether the left end, the middle or the right end is put at `at`, or at that part of the path; ends are \
                where the ink ends",
        ),
        key(
            "turn",
            Takes::Degrees(-360.0, 360.0),
            Means("0"),
            "turn = 90",
            "turn of a straight line about its point, anticlockwise, degrees",
        ),
        key(
            "side",
            Takes::Words(&["over", "under"]),
            Means("over"),
            "side = \"under\"",
            "with a path: feet on it, or heads under it",
        ),
        key(
            "gap",
            Takes::Length(0.0, 500.0),
            Means("0 mm"),
            "gap = 1.5",
            "with a path: distance of feet or heads from it",
        ),
    ],
};

/// `arc = { … }` of lettering.
pub const ARC: Section = Section {
    title: "arc",
    keys: &[
        key(
            "centre",
            Takes::Lengths(2, -100_000.0, 100_000.0),
            Then("the middle of the box around `on`"),
            "arc = { centre = [110, 60], radius = 45 }",
            "its centre, from the blank's zero corner",
        ),
        key("radius", Takes::Length(0.5, 100_000.0), Needed, "arc = { radius = 45 }", "its radius"),
        key(
            "middle",
            Takes::Degrees(-360.0, 360.0),
            Means("90"),
            "arc = { radius = 45, middle = -90 }",
            "where on it the point of `align` lies, degrees anticlockwise from the right: 90 is the top, -90 the bottom",
        ),
    ],
};

/// `floor = { … }`.
pub const FLOOR: Section = Section {
    title: "floor",
    keys: &[
        key(
            "shows",
            Takes::Text,
            Then("one of the three"),
            "floor = { shows = \"ruby clear 3\" }",
            "the highest floor that shows this sheet with the margin asked for",
        ),
        key(
            "below_face",
            Takes::Length(0.001, 200.0),
            Then("one of the three"),
            "floor = { below_face = 0.5 }",
            "a depth below the face",
        ),
        key(
            "above_table",
            Takes::Length(0.0, 250.0),
            Then("one of the three"),
            "floor = { above_table = 1.2 }",
            "a height above the table",
        ),
    ],
};

/// `edge = { … }`.
pub const EDGE: Section = Section {
    title: "edge",
    keys: &[
        key(
            "follows_width",
            Takes::Angle(10.0, 160.0),
            Then("one of the two"),
            "edge = { follows_width = \"60 deg\" }",
            "depth follows the width, down to `floor` at most, as a vee of this included angle cuts: narrow strokes are \
                shallow, corners run out sharp",
        ),
        key(
            "slope",
            Takes::Angle(5.0, 80.0),
            Then("one of the two"),
            "edge = { slope = \"30 deg\" }",
            "walls lean outward by this from upright, as a vee of twice the angle cuts; the drawing is their upper edge, \
                and where two meet above `floor` it is said",
        ),
    ],
};

/// `held_by = { … }`.
pub const HELD: Section = Section {
    title: "held_by",
    keys: &[
        key(
            "tabs",
            Takes::Whole(1, 99),
            Then("one of `tabs`, `skin`, `by`"),
            "held_by = { tabs = 4, length = 5, left = 0.6 }",
            "how many tabs",
        ),
        key(
            "length",
            Takes::Length(0.5, 50.0),
            Means("4 mm"),
            "held_by = { tabs = 4, length = 5 }",
            "with `tabs`: length of material left along the edge, each",
        ),
        key(
            "left",
            Takes::Length(0.05, 100.0),
            Means("0.6 mm"),
            "held_by = { tabs = 4, left = 0.8 }",
            "with `tabs`: height of material left above the underside",
        ),
        key(
            "skin",
            Takes::Length(0.05, 5.0),
            Then("one of `tabs`, `skin`, `by`"),
            "held_by = { skin = 0.2 }",
            "thickness left under the whole cut",
        ),
        key(
            "by",
            Takes::Text,
            Then("one of `tabs`, `skin`, `by`"),
            "held_by = { by = \"carpet tape under all of it\" }",
            "something else that holds it, in the maker's words",
        ),
    ],
};

/// `[plate]`.
pub const OUTLINE: Section = Section {
    title: "[plate]",
    keys: &[
        key(
            "within",
            Takes::Names,
            Needed,
            "within = \"outline\"",
            "contours whose inside is the plate; the rest of the blank is margin",
        ),
        key(
            "held_by",
            Takes::Forms("`\"nothing\"`, or a table with one of `tabs`, `skin`, `by`"),
            Assumed("{ tabs = 4 }"),
            "held_by = { tabs = 4, left = 0.6 }",
            "what holds the plate while it is cut out",
        ),
    ],
};

/// `[[hold]]` of the plate file.
pub const HOLD: Section = Section {
    title: "[[hold]]",
    keys: &[
        key("kind", Takes::Text, Needed, "kind = \"screw 4\"", "name of a hold of the shop"),
        key(
            "at",
            Takes::Lengths(2, -10_000.0, 10_000.0),
            Needed,
            "at = [8, 8]",
            "its middle, from the blank's zero corner",
        ),
        key(
            "size",
            Takes::Lengths(2, 0.5, 1000.0),
            Then("the shop's"),
            "size = [30, 12]",
            "width and height of a rectangle, or the diameter twice, instead of the shop's",
        ),
        key(
            "height",
            Takes::Length(0.0, 200.0),
            Then("the shop's"),
            "height = 3.5",
            "how far it stands above the face, instead of the shop's",
        ),
        key(
            "turn",
            Takes::Degrees(-360.0, 360.0),
            Means("0"),
            "turn = 45",
            "turn about its middle, anticlockwise, degrees",
        ),
    ],
};

/// Sections of the plate file.
pub const PLATE_FILE: &[&Section] =
    &[&PLATE, &BLANK, &LAYER, &UNDER, &AREA, &LETTERING, &ARC, &FLOOR, &EDGE, &HELD, &OUTLINE, &HOLD];
