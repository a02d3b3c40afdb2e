//! The keys of a shop file.

use super::LeftOut::{Assumed, Means, Needed, Then};
use super::{Section, Takes, UNITS, key};

/// Top level of the shop file.
pub const SHOP: Section = Section {
    title: "the shop file",
    keys: &[
        key("name", Takes::Text, Needed, "name = \"Back room\"", "the workshop's name, for the setup sheet"),
        key(
            "units",
            Takes::Words(UNITS),
            Assumed("mm"),
            "units = \"mm\"",
            "unit of every number without one of its own in this file; feeds are in this unit per minute",
        ),
        key("machine", Takes::Table("[machine]"), Needed, "[machine]\ntravel = [600, 600, 80]", "the machine"),
        key("spindle", Takes::Table("[spindle]"), Needed, "[spindle]\nleast = 8000\ngreatest = 24000", "the spindle"),
        key(
            "touch_off",
            Takes::Table("[touch_off]"),
            Then("every value of it as assumed below"),
            "[touch_off]\nfeeler = 0.1",
            "how cutters are touched off on the table",
        ),
        key(
            "dialect",
            Takes::Table("[dialect]"),
            Then("every value of it as below"),
            "[dialect]\nend = \"M30\"",
            "how programs are written",
        ),
        key(
            "cutter",
            Takes::Tables("[[cutter]]"),
            Needed,
            "[[cutter]]\nnumber = 1\nname = \"flat 1/8\"\ndiameter = \"1/8 in\"",
            "a cutter; as many as there are",
        ),
        key(
            "sheet",
            Takes::Tables("[[sheet]]"),
            Needed,
            "[[sheet]]\nname = \"ruby clear 3\"\nthickness = 3\ncolour = \"#b01030\"",
            "a sheet that the shop buys; as many as there are",
        ),
        key(
            "hold",
            Takes::Tables("[[hold]] of the shop"),
            Then("plates on this machine have no holds"),
            "[[hold]]\nname = \"screw 4\"\nsize = [8, 8]\nheight = 3",
            "a screw or clamp; as many as there are",
        ),
    ],
};

/// `[machine]`.
pub const MACHINE: Section = Section {
    title: "[machine]",
    keys: &[
        key("name", Takes::Text, Means("machine"), "name = \"small router\"", "what the maker calls it"),
        key(
            "travel",
            Takes::Lengths(3, 1.0, 10_000.0),
            Needed,
            "travel = [600, 600, 80]",
            "travel in x, y and z; z is counted from the collet nut at the table",
        ),
        key(
            "greatest_feed",
            Takes::Feed(1.0, 100_000.0),
            Assumed("2000 mm/min"),
            "greatest_feed = 3000",
            "greatest feed in x and y while cutting",
        ),
        key(
            "greatest_feed_z",
            Takes::Feed(1.0, 100_000.0),
            Assumed("500 mm/min"),
            "greatest_feed_z = 800",
            "greatest feed in z while cutting",
        ),
        key("rapid", Takes::Feed(1.0, 200_000.0), Assumed("3000 mm/min"), "rapid = 4000", "speed of rapids in x and y"),
        key("rapid_z", Takes::Feed(1.0, 200_000.0), Assumed("1000 mm/min"), "rapid_z = 1500", "speed of rapids in z"),
        key(
            "acceleration",
            Takes::Numbers(3, 1.0, 100_000.0),
            Assumed("[200, 200, 150]"),
            "acceleration = [250, 250, 150]",
            "acceleration in x, y and z, mm/s²",
        ),
        key(
            "corner_deviation",
            Takes::Length(0.0, 1.0),
            Assumed("0.02 mm"),
            "corner_deviation = 0.02",
            "by how much a corner is rounded when it is passed without stopping",
        ),
        key("resolution", Takes::Length(0.000_01, 1.0), Assumed("0.01 mm"), "resolution = 0.005", "smallest step"),
        key(
            "backlash",
            Takes::Length(0.0, 2.0),
            Assumed("0 mm"),
            "backlash = 0.02",
            "play in z: by how much a height may be wrong because the cutter was touched off moving one way and cuts moving the other",
        ),
        key(
            "clearance",
            Takes::Length(0.5, 200.0),
            Assumed("3 mm"),
            "clearance = 5",
            "how far above everything a traverse runs",
        ),
        key(
            "side_force",
            Takes::Number(0.5, 10_000.0),
            Then("no limit"),
            "side_force = 15",
            "side force at the cutter, N, that a weak frame still bears without giving way: passes are no deeper than that",
        ),
        key(
            "walls",
            Takes::Words(&["climb", "conventional"]),
            Means("climb"),
            "walls = \"conventional\"",
            "which way cutters run along walls and outlines; conventional for a machine with play, which a climbing cutter pulls along",
        ),
        key(
            "program_start",
            Takes::Number(0.0, 86_400.0),
            Assumed("60"),
            "program_start = 60",
            "time to start one program, s",
        ),
        key(
            "cutter_change",
            Takes::Number(0.0, 86_400.0),
            Assumed("180"),
            "cutter_change = 180",
            "time to change and touch off a cutter, s",
        ),
    ],
};

/// `[spindle]`.
pub const SPINDLE: Section = Section {
    title: "[spindle]",
    keys: &[
        key(
            "least",
            Takes::Speed(1.0, 200_000.0),
            Then("`dial` is needed"),
            "least = 8000",
            "slowest speed, rev/min, of a spindle that runs at any speed of a range",
        ),
        key(
            "greatest",
            Takes::Speed(1.0, 200_000.0),
            Then("`dial` is needed"),
            "greatest = 24000",
            "fastest speed, rev/min",
        ),
        key(
            "dial",
            Takes::Tables("a dial position"),
            Then("`least` and `greatest` are needed"),
            "dial = [{ position = \"1\", speed = 10000 }, { position = \"2\", speed = 14000 }]",
            "positions of a speed dial, slowest first",
        ),
        key("power", Takes::Number(1.0, 100_000.0), Assumed("400"), "power = 400", "power at the cutter, W"),
        key(
            "nut_diameter",
            Takes::Length(1.0, 200.0),
            Assumed("20 mm"),
            "nut_diameter = 19",
            "diameter of the collet nut",
        ),
        key(
            "nut_length",
            Takes::Length(1.0, 200.0),
            Assumed("15 mm"),
            "nut_length = 14",
            "length of the nut; above it the body begins",
        ),
        key(
            "body_diameter",
            Takes::Length(1.0, 500.0),
            Assumed("70 mm"),
            "body_diameter = 65",
            "diameter of the body above the nut",
        ),
    ],
};

/// One position of a dial.
pub const DIAL: Section = Section {
    title: "a dial position",
    keys: &[
        key("position", Takes::Text, Needed, "dial = [{ position = \"1\", speed = 10000 }]", "what the dial shows"),
        key(
            "speed",
            Takes::Speed(1.0, 200_000.0),
            Needed,
            "dial = [{ position = \"1\", speed = 10000 }]",
            "speed there, rev/min",
        ),
    ],
};

/// `[touch_off]`.
pub const TOUCH_OFF: Section = Section {
    title: "[touch_off]",
    keys: &[
        key(
            "feeler",
            Takes::Length(0.0, 50.0),
            Assumed("0.1 mm"),
            "feeler = 0.1",
            "thickness of the feeler; measure 50 sheets of paper and divide",
        ),
        key(
            "feeler_error",
            Takes::Length(0.0, 1.0),
            Assumed("0.01 mm"),
            "feeler_error = 0.01",
            "by how much the feeler's thickness may be wrong",
        ),
        key(
            "repeatability",
            Takes::Length(0.0, 1.0),
            Assumed("0.02 mm"),
            "repeatability = 0.02",
            "by how much a touch-off repeats",
        ),
    ],
};

/// `[dialect]`.
pub const DIALECT: Section = Section {
    title: "[dialect]",
    keys: &[
        key(
            "units",
            Takes::Words(&["mm", "in"]),
            Means("mm"),
            "units = \"in\"",
            "units of the program text: G21 or G20",
        ),
        key("decimals", Takes::Whole(2, 6), Then("3 in mm, 5 in inches"), "decimals = 4", "decimals of coordinates"),
        key("line_numbers", Takes::Flag, Means("false"), "line_numbers = true", "whether lines are numbered"),
        key(
            "arcs",
            Takes::Flag,
            Means("true"),
            "arcs = false",
            "whether arcs are written as arcs; if not, as chords within 1 µm",
        ),
        key("end", Takes::Words(&["M30", "M2"]), Means("M30"), "end = \"M2\"", "the word that ends a program"),
        key(
            "speed",
            Takes::Words(&["words", "dial note"]),
            Means("words"),
            "speed = \"dial note\"",
            "S words, or only a comment that tells the dial's position",
        ),
        key("extension", Takes::Text, Means("nc"), "extension = \"nc\"", "file extension, letters and digits"),
    ],
};

/// `[[cutter]]`.
pub const CUTTER: Section = Section {
    title: "[[cutter]]",
    keys: &[
        key("number", Takes::Whole(1, 9999), Needed, "number = 1", "the number that the T word names"),
        key("name", Takes::Text, Needed, "name = \"single-flute flat 1/8\"", "what the maker calls it"),
        key(
            "form",
            Takes::Words(&["flat", "ball", "vee", "bull nose", "taper"]),
            Means("flat"),
            "form = \"vee\"",
            "form of its end; a bull nose is flat with rounded corners, a taper a cone that ends in a ball",
        ),
        key(
            "angle",
            Takes::Degrees(1.0, 170.0),
            Then("needed for a vee or a taper"),
            "angle = 60",
            "included angle of a vee or a taper, degrees",
        ),
        key(
            "tip",
            Takes::Length(0.0, 25.0),
            Means("0 mm"),
            "tip = 0.1",
            "diameter of the flat at a vee's tip, or of the ball at a taper's",
        ),
        key(
            "corner",
            Takes::Length(0.01, 25.0),
            Then("needed for a bull nose"),
            "corner = 0.5",
            "radius of a bull nose's corners",
        ),
        key("diameter", Takes::Length(0.05, 100.0), Needed, "diameter = \"1/8 in\"", "diameter as sold"),
        key(
            "cutting_width",
            Takes::Length(0.05, 100.0),
            Then("the diameter, and it is said"),
            "cutting_width = 3.19",
            "width of a slot it really cuts, by test cut",
        ),
        key("flutes", Takes::Whole(1, 12), Assumed("1"), "flutes = 2", "number of flutes"),
        key(
            "flute_length",
            Takes::Length(0.1, 200.0),
            Needed,
            "flute_length = 17",
            "length of the flutes from the tip",
        ),
        key(
            "core",
            Takes::Length(0.02, 100.0),
            Then("0.6 of the diameter, and it is said"),
            "core = 1.9",
            "diameter of the core left between the flutes",
        ),
        key(
            "shank",
            Takes::Length(0.1, 100.0),
            Then("the diameter, and it is said"),
            "shank = \"1/8 in\"",
            "diameter of the shank above the flutes",
        ),
        key(
            "stick_out",
            Takes::Length(0.5, 300.0),
            Needed,
            "stick_out = 20",
            "how far the tip stands out of the collet nut",
        ),
        key(
            "may_drill",
            Takes::Flag,
            Means("false"),
            "may_drill = true",
            "whether it may go straight down into material",
        ),
        key(
            "repeatability",
            Takes::Length(0.0, 1.0),
            Then("`repeatability` of [touch_off]"),
            "repeatability = 0.03",
            "by how much a touch-off of this cutter repeats, if it differs from the others",
        ),
        key(
            "stepover",
            Takes::Number(0.05, 0.5),
            Means("0.4"),
            "stepover = 0.3",
            "distance between neighbouring paths as a share of the cutting width",
        ),
        key(
            "chip_load",
            Takes::Length(0.001, 2.0),
            Then("the starter value for its diameter"),
            "chip_load = 0.07",
            "the maker's own chip load per flute",
        ),
        key("feed", Takes::Feed(1.0, 100_000.0), Then("reckoned"), "feed = 1200", "the maker's own feed"),
        key(
            "pass_depth",
            Takes::Length(0.01, 100.0),
            Then("reckoned"),
            "pass_depth = 1.2",
            "the maker's own greatest depth per pass",
        ),
        key(
            "plunge",
            Takes::Feed(1.0, 100_000.0),
            Then("reckoned"),
            "plunge = 200",
            "the maker's own feed straight down",
        ),
        key(
            "entry_angle",
            Takes::Degrees(0.5, 10.0),
            Then("3 degrees"),
            "entry_angle = 4",
            "the maker's own steepest entry along a ramp or helix, degrees",
        ),
        key(
            "speed",
            Takes::Speed(1.0, 200_000.0),
            Then("reckoned"),
            "speed = 18000",
            "the maker's own spindle speed, rev/min: one that the dial has, or within the range",
        ),
    ],
};

/// What sheets may be made of.
pub const MATERIALS: &[&str] = &[
    "acrylic",
    "polycarbonate",
    "ABS",
    "PETG",
    "expanded PVC",
    "HDPE",
    "birch plywood",
    "hardwood",
    "aluminium",
    "brass",
];

/// `[[sheet]]`.
pub const SHEET: Section = Section {
    title: "[[sheet]]",
    keys: &[
        key("name", Takes::Text, Needed, "name = \"ruby clear 3\"", "the name that plate files use"),
        key("thickness", Takes::Length(0.1, 100.0), Needed, "thickness = 3", "thickness on its label"),
        key(
            "material",
            Takes::Words(MATERIALS),
            Means("acrylic"),
            "material = \"polycarbonate\"",
            "what it is made of: which cutting values hold",
        ),
        key(
            "made",
            Takes::Words(&["cast", "extruded"]),
            Assumed("cast"),
            "made = \"extruded\"",
            "how acrylic was made: which tolerance and cutting values hold; other materials don't take it",
        ),
        key(
            "tolerance",
            Takes::Length(0.0, 20.0),
            Then(
                "for acrylic the standard's: ISO 7823-1 for cast, ISO 7823-2 for extruded; else what is usual, see Materials",
            ),
            "tolerance = 0.2",
            "plus or minus on the thickness, if the maker of the sheet gives one",
        ),
        key("colour", Takes::Colour, Needed, "colour = \"#b01030\"", "colour, sRGB"),
        key(
            "passes_light",
            Takes::Number(0.0, 1.0),
            Means("0"),
            "passes_light = 0.4",
            "share of light that passes at the label's thickness, 0 (opaque) to 1",
        ),
    ],
};

/// `[[hold]]` of the shop file.
pub const SHOP_HOLD: Section = Section {
    title: "[[hold]] of the shop",
    keys: &[
        key("name", Takes::Text, Needed, "name = \"screw 4\"", "the name that plate files use as `kind`"),
        key(
            "shape",
            Takes::Words(&["round", "rectangle"]),
            Means("round"),
            "shape = \"rectangle\"",
            "its outline seen from above",
        ),
        key(
            "size",
            Takes::Lengths(2, 0.5, 1000.0),
            Needed,
            "size = [8, 8]",
            "width and height; for a round one the diameter twice",
        ),
        key("height", Takes::Length(0.0, 200.0), Needed, "height = 3", "how far it stands above the blank's face"),
    ],
};

/// Sections of the shop file.
pub const SHOP_FILE: &[&Section] =
    &[&SHOP, &MACHINE, &SPINDLE, &DIAL, &TOUCH_OFF, &DIALECT, &CUTTER, &SHEET, &SHOP_HOLD];
