//! The kinds of doubt that plate and shop files raise, each with the page that `explain` prints.

use doubt::Kind;

macro_rules! kinds {
    ($($name:ident = $id:literal, $title:literal, $page:literal;)*) => {
        $(pub(crate) const $name: Kind = Kind { id: $id, title: $title, page: $page };)*

        /// Every kind of doubt that this crate raises.
        pub const KINDS: &[Kind] = &[$($name),*];
    };
}

kinds! {
    FILE_MISSING = "file-missing", "A file is not there or can't be read",
        "A file that the plate file names, or the plate file itself, can't be opened. Names are taken from the \
         plate file's own folder. Check the spelling, upper and lower case included, and that the file may be \
         read.";
    FILE_NOT_TEXT = "file-not-text", "A file is not text",
        "Plate and shop files are TOML, which is text in UTF-8. This one holds bytes that are no such text: it \
         may be a drawing, a picture, or text saved in another encoding. Save it again as UTF-8, or name the \
         right file.";
    FILE_SYNTAX = "file-syntax", "A file is not TOML",
        "The text breaks the rules of TOML at this place, so that what follows may be misread. Everything that \
         can still be understood is checked as well, but nothing is said about keys that seem to be missing, \
         since they may only be hidden. Mend the place and try again.";
    UNKNOWN_KEY = "unknown-key", "A key that means nothing",
        "Nothing in a file is silently ignored: a key that isn't known might be a misspelt one, and then the \
         plate would not be what the file says. The message names the nearest known key and all keys of that \
         table. Correct it, or put `#` before the line.";
    MISSING_KEY = "missing-key", "A key that is needed is not there",
        "Without this key the plate or the shop isn't fully described, and there is no value that could honestly \
         be assumed for it. Add it; the message shows an example line.";
    WRONG_TYPE = "wrong-type", "A value of the wrong kind",
        "The value can't be read as what this key takes: a text where a length belongs, say, or a number where a \
         list does. Lengths are numbers in the file's `units`, or texts with their own unit such as \"6 mm\", \
         \"0.118 in\", \"1/8 in\" or \"15 thou\".";
    OUT_OF_RANGE = "out-of-range", "A value outside what this key takes",
        "The value is outside the range in which it can make sense: negative thicknesses, sizes of a kilometre, \
         numbers that aren't numbers. Such a value is nearly always a slip of the decimal point or of the unit. \
         The message gives the range; every range is in the docs of the file.";
    FORM_UNCLEAR = "form-unclear", "A value that can be read in more than one way",
        "A table that takes exactly one of several keys has none of them or more than one, or has a key that \
         belongs to another form. Which one counts would be a guess, so nothing is assumed. Keep the one that is \
         meant.";
    ASSUMED = "assumed", "A value was assumed",
        "The file leaves this value out and the usual one was taken. It is said so that nothing is guessed \
         silently: if the real value differs, heights, times or widths differ with it. State it in the file to be \
         rid of the note.";
    WIDTH_ASSUMED = "cutter-assumed", "Figures of a cutter were assumed",
        "A cutter's slot is usually a little wider than its diameter, since it never runs quite true; walls then \
         stand off by half the difference. Cut a test slot, measure it and give it as `cutting_width`. The core \
         between the flutes rules how stiff the cutter is, and the shank how deep it can go beside a wall.";
    STARTER_SHOP = "starter-shop", "The built-in starter shop was used",
        "The plate file names no shop and there is no `shop.toml` beside it, so the built-in starter shop was \
         taken. Its cutters, sheets, machine and feeds are common practice with no source, not your workshop's. \
         Copy it beside the plate file as `shop.toml` and put in your own figures.";
    SHOP_FOUND = "shop-found", "The shop file beside the plate was used",
        "The plate file names no shop, but there is a `shop.toml` beside it, and that was taken. Add `shop = \
         \"shop.toml\"` to the plate file to make it explicit.";
    REPEATED_NAME = "repeated-name", "Two entries share a name",
        "Plate files pick cutters, sheets and holds by name or number, and programs pick cutters by number. Two \
         entries with the same one would leave it open which is meant. Give each its own.";
    SPINDLE_SPEEDS = "spindle-speeds", "The spindle's speeds are not clear",
        "A spindle either runs at any speed between two, given as `least` and `greatest`, or has a dial, given as \
         a list of positions with their speeds, slowest first. Both or neither leaves the speed of every cut \
         open. Positions that don't get faster are most likely a slip.";
    CUTTER_CONTRADICTION = "cutter-contradiction", "A cutter's figures contradict each other",
        "The figures of this cutter can't all be true of one cutter: flutes longer than what stands out of the \
         collet, a core thicker than the diameter, a vee without an angle. Reach, force and collisions are worked \
         out from them, so they must fit together. Measure it again.";
    UNKNOWN_SHEET = "unknown-sheet", "A sheet that the shop does not have",
        "The plate file names a sheet that isn't in the shop file. Its thickness, tolerance and colour are needed \
         for every height. Correct the name, or add the sheet to the shop file.";
    UNKNOWN_CUTTER = "unknown-cutter", "A cutter that the shop does not have",
        "The plate file's `cutters` names one that isn't in the shop file. Correct its number or name, or add it \
         to the shop file.";
    UNKNOWN_HOLD = "unknown-hold", "A hold that the shop does not have",
        "The plate file places a screw or clamp whose kind isn't in the shop file, so its size and height aren't \
         known and nothing can be kept clear of it. Correct the name, or add the hold to the shop file.";
    UNKNOWN_CONTOUR = "unknown-contour", "A name that the drawing does not have",
        "No contour of the drawing has this layer, id or class. Areas are made of contours by name, so this one \
         would be nowhere. The message lists the names that are in the drawing.";
    CONTOUR_OPEN = "contour-open", "A name that only open paths have",
        "An area needs closed contours, and the drawing has only open paths of this name. Close them in the \
         drawing, allow a greater `close_gaps` if their ends nearly meet, or, for strokes that are to be cut at \
         their drawn width, say `strokes = \"outlines\"`.";
    FONT_UNREADABLE = "font-unreadable", "A font file that lettering can't be made of",
        "Lettering is cut from the outlines in a font file, TrueType or OpenType. This one is something else, is broken, is \
         packed for web pages, has only pictures of letters, or lacks the face asked for. Nothing is put in its place, \
         since another font would be another plate. Name a file that has outlines.";
    FONT_VARIED = "font-varied", "A variable font is used as its default",
        "The file holds a whole range of weights or widths, and the plate file has no way to choose among them, so its \
         default is used. If another is meant, name a font file made for that one alone.";
    LETTERS_MISSING = "letters-missing", "A font without some of the letters",
        "The font has no shape for characters of this text. Fonts show an empty box in such a place, and that would be cut \
         into the plate; leaving them out would change what it says. Write the text without them, or name a font that \
         has them.";
    LETTERING_TEXT = "lettering-text", "A text that can't be set as lettering",
        "Lettering is one line of text in one direction, of a sensible length, with something in it that is seen. Several \
         lines, or parts that run from right to left beside others that don't, are given as several tables in a list: \
         `lettering = [{ … }, { … }]`, each with its own place.";
    LETTERING_LARGE = "lettering-large", "Lettering that doesn't fit where it stands",
        "At this height the letters reach outside the contours that `on` names, or are longer than the path they run along. \
         The message gives the greatest height that fits in the same place. Take that, choose a narrower font, or, if \
         letters may well reach outside, say where they stand by `at` without `on`.";
    LETTERING_PATH = "lettering-path", "A path that lettering can't run along",
        "Letters run along one path: one open path, or one closed contour, of lines and arcs. Several of one name leave it \
         open which is meant; a path without length leads nowhere; and inside an arc that is tighter than the letters are \
         high their feet would have no room at all.";
    LETTERING_CROWDED = "lettering-crowded", "Letters that run into each other",
        "Letters that the font keeps apart overlap where they stand: on the inside of a tight arc heads or feet lean together, \
         and a negative `spacing` can push them into each other. They are cut as one shape, which is seldom what is wanted.";
    NOTHING_TO_CUT = "nothing-to-cut", "The plate file cuts nothing",
        "There is neither an area nor an outline, so the finished plate is the blank as it lies there. Add an \
         `[[area]]` with a floor, or a `[plate]` with its outline.";
    AREA_EMPTY = "area-empty", "An area that is nowhere",
        "The contours of this area enclose nothing, or its `keep` takes all of it away. Look at the drawing: a \
         contour may have no width, or may run back over itself.";
    AREA_COVERED = "area-covered", "An area that deeper ones cover entirely",
        "Where areas lie over each other the deepest wins, and nothing of this one is left. That may be meant; if \
         not, look at the floors and at the drawing.";
    AREAS_CONTRADICT = "areas-contradict", "Two areas want the same place differently",
        "Two areas have the very same contour but different floors or holds. One of them can't be meant: the \
         deeper one would win and the other be lost without a trace. Take one out, or draw what differs.";
    AREA_REPEATED = "area-repeated", "An area is there twice",
        "Two areas have the same contour and say the same. The second changes nothing and can be taken out.";
    AREA_OUTSIDE_BLANK = "area-outside-blank", "Something lies outside the blank",
        "The drawing as placed reaches beyond the blank, where there is nothing to cut. Either the blank's size \
         or the drawing's place, unit or scale is wrong: a drawing in inches read as millimetres, say, or one \
         whose origin isn't the blank's zero corner. `place = \"centred\"` puts it in the middle.";
    DRAWING_TINY = "drawing-tiny", "The drawing may be in inches",
        "As read, the drawing covers hardly any of the blank, but 25.4 times larger it would fill it well: most \
         likely its numbers are inches and were read as millimetres. Where the drawing states no unit this is \
         refused, since a plate of the wrong size is sure to be wrong; where it states one, it is only said. Give \
         `drawing_units`.";
    AREA_OUTSIDE_PLATE = "area-outside-plate", "An area reaches outside the plate's outline",
        "What lies outside the outline is margin that holds the plate while it is cut; an area there would weaken \
         it and cut what isn't part of the plate. Draw the area no farther than the outline, or leave out what is \
         too much.";
    OUTLINE_HOLES = "outline-holes", "The outline has holes in it",
        "The contours of `within` leave holes, so that it isn't clear how what is inside them is held or cleared. \
         Put the outer contour alone under `within`, and make each hole an `[[area]]` with `floor = \"through\"`.";
    PLATE_SPECKS = "plate-specks", "The plate has pieces too thin to be held",
        "Where two paths of a drawing nearly meet, a shred thinner than 0.05 mm may lie between them that counts as a \
         piece of the plate of its own. No tab could hold it, and it would break off as it is cut. It is taken for no \
         part of the plate and goes to chips. Join it to its neighbour in the drawing, or take it out there.";
    DRAWING_SHAPE = "drawing-shape", "The drawing could not be placed",
        "Scaled and shifted as asked, the drawing has coordinates farther away than any machine reaches, and no figure \
         worked out from them could be trusted. Correct `scale` or `place`, or look for a stray point in the drawing.";
    THICKNESS_ASSUMED = "thickness-assumed", "A sheet was not measured",
        "Without readings a sheet has its label's thickness with the tolerance of its standard: for cast acrylic \
         ISO 7823-1, plus or minus 0.4 mm and a tenth of the thickness (second-hand); for extruded ISO 7823-2, 5 \
         % from 3 mm and 10 % below (from memory); other materials have what is usual for them (docs/shop-file.md). Every height above it carries that spread. Three readings with \
         a micrometer, without the masking film, narrow it to hundredths.";
    FILM_TAKEN_OFF = "film-taken-off", "Readings with masking film on",
        "The readings were taken with masking film on the sheet, so the film's thickness is taken off them. How thick film is \
         varies by maker, and its spread is added to the sheet's. Peel it off and measure again for a better figure, or \
         measure the film and give it as `film`.";
    WEDGE = "wedge", "The blank is a wedge",
        "The readings at points lie on a slope that is more than the micrometer's error could make: the bonded blank is \
         thicker at one end. Which layer it is in isn't known, so it counts in every surface above the underside, at the \
         worst corner. Tape that is doubled somewhere, a chip under the blank or a bond that set unevenly makes one.";
    POINT_OFF_BLANK = "point-off-blank", "A reading beside the blank",
        "A reading of `measured_at` is given at a point that the blank doesn't reach. Points are counted from the blank's \
         zero corner, x to the right and y away from you. A slope worked out from a misplaced point would be wrong.";
    FACE_SURER = "face-surer", "Touched off on the face this would be surer",
        "Heights are counted from the table, so a floor carries what isn't known of the sheets under it. Counted from the \
         face it would carry what isn't known of the sheets over it instead, and here that is less. Programs are always zeroed \
         on the table; measuring the lower sheets, or the bonded whole, brings the table as near.";
    TABS_UNSURE = "tabs-unsure", "Tabs that may come out low",
        "The height of tabs is counted from where the underside should be, and what lies under the blank and the touch-off \
         make that uncertain by as much as half of a tab. A tab that is much lower than asked may tear while the cutter is \
         still beside it. Choose a greater `left`.";
    THICKNESS_CONTRADICTION = "thickness-contradiction", "The measured total and the layers disagree",
        "The sheets and bond lines, even at the extremes of their spreads, don't add up to the measured total. \
         Something was measured wrong, the masking film was left on, a bond line is thicker than stated, or a \
         layer is missing from the list. Heights would be wrong by the difference, so it has to be settled first.";
    LABEL_DIFFERS = "label-differs", "A sheet measures unlike its label",
        "The readings lie outside what the label's thickness allows with its tolerance. The readings are used. But it \
         may be another sheet than the one named, or one measured with its masking film on, or the readings may be in \
         another unit than the file's.";
    REVEAL_THIN = "reveal-thin", "A layer is shown with less margin than asked for",
        "The floor shows the layer even in the worst case, but the layer is too thin, or too uncertain, for the \
         margin asked for on both sides. The floor lies in the middle of what is left. Measure the sheets or the \
         total, or ask for less `margin`.";
    REVEAL_UNSURE = "reveal-unsure", "A layer may not be shown",
        "With all errors the same way no floor shows this layer for certain; the floor lies where the fewest blanks miss it. \
         How many those are is worked out with every thickness anywhere within its tolerance as likely, and readings \
         scattering as they do. Measure the sheets or the bonded total: that is what narrows it.";
    REVEAL_IMPOSSIBLE = "reveal-impossible", "No floor shows this layer",
        "Even the best floor would miss this layer on more than 1 blank in 10, or lies outside of it on the nominal one. Measure the \
         sheets, or use a thicker one.";
    FACE_SHOWN = "face-shown", "The face shows this sheet already",
        "The sheet asked for is the top layer, which shows wherever nothing is cut. Leave the area out, or, for a \
         recess in the top sheet, give its depth by `below_face`.";
    FLOOR_OUTSIDE = "floor-outside", "A floor outside the blank",
        "The floor lies at or above the face, where there is nothing to cut, or at or below the underside, where \
         it isn't a floor but a cut-out. A cut that goes through is said as `floor = \"through\"`, so that the \
         cut-out is held or cleared and the table is kept.";
    DEPTH_UNSURE = "depth-unsure", "A depth below the face that is not certain",
        "Heights are counted from the table, so a depth below the face is only as good as the thickness of the \
         blank. Measure the bonded blank and give the readings as `measured_total`; then the depth is as good as \
         the micrometer.";
    COLOUR_UNSURE = "colour-unsure", "A floor where two layers meet",
        "Within the spreads this floor may end in either of two layers, so which colour shows is not certain. If \
         a colour is meant, say `floor = { shows = \"...\" }`; if a depth is meant, choose it clear of the bond \
         line or measure the sheets.";
    WEB_UNSURE = "web-unsure", "A floor that may break through",
        "In the worst case this floor lies below the blank's underside: the sheet is thinner, or lies higher, \
         than thought. Choose a higher floor, or measure.";
    SKIN_LEFT = "skin-left", "A through cut leaves a skin",
        "There is nothing under the blank to cut into and no leave to cut into the table, so a through cut ends \
         above the table by what the touch-off may be wrong. A thin skin is left, to be trimmed by hand. Put tape \
         or a sacrificial sheet under the blank and list it in `under`, or grant a depth with `into_table`.";
    THROUGH_SHALLOW = "through-shallow", "A through cut may not go through",
        "What lies under the blank is too thin, or too uncertain, for the overcut that would make sure of it. At \
         the extreme a skin of the amount stated is left. Put something thicker under the blank, or grant a depth \
         with `into_table`.";
    SKIN_UNSURE = "skin-unsure", "A skin that may be cut through",
        "The skin asked for is thinner than what the height of the underside may be wrong by, so that in places \
         there may be none. Ask for a thicker one, or hold the piece by tabs.";
    NOTHING_HOLDS = "nothing-holds", "Nothing holds the plate",
        "When the outline is cut through, the plate comes loose beside a turning cutter, which can seize it. \
         Tabs, a skin, or tape under all of it hold it until the spindle stands.";
    TABS_WRONG = "tabs-wrong", "Tabs that can't be",
        "The tabs asked for are as high as the blank or take up most of the edge, so that nothing would be cut \
         free. Ask for fewer, shorter or lower ones.";
    HOLD_IN_PLATE = "hold-in-plate", "A hold where the plate is",
        "A screw or clamp stands on the plate itself. Over an area it is in the way of the cut; elsewhere it \
         marks the face, and a screw makes a hole. Put it in the margin, or into a cut-out that is already there.";
    HOLD_OFF_BLANK = "hold-off-blank", "A hold beside the blank",
        "A screw or clamp stands entirely beside the blank, where it holds nothing. It is still kept clear of. \
         Check `at`, which is counted from the blank's zero corner to the hold's middle.";
    BLANK_TOO_LARGE = "blank-too-large", "The blank is larger than the machine's travel",
        "The machine can't reach all of the blank, so parts of the plate could never be cut, and a cutter sent there \
         would run into the machine's ends. Use a smaller blank, or turn it by a quarter.";
    CLEARANCE_SMALL = "clearance-small", "Traverses run close above the holds",
        "Rapid moves from place to place run above the highest thing on the table by the shop file's `clearance`. Screws \
         that aren't driven home, clamps that tip and chips stand higher than the shop file says. With so little room \
         to spare a traverse may strike one. Raise `clearance`, or measure every hold as it stands.";
    CUTTER_TOO_LONG = "cutter-too-long", "A cutter is longer than the machine's reach",
        "With this cutter in the collet its tip can't be lifted clear of the blank and everything on it: the \
         travel in z, counted from the nut at the table, must hold the stick-out, the highest thing on the table \
         and the clearance. Set the cutter further in, leave it out of `cutters`, or lower the holds.";
}
