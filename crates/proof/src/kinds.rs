//! The kinds of finding, with the pages that explain them.

use doubt::Kind;

macro_rules! kinds {
    ($($name:ident $id:literal $title:literal $page:literal;)*) => {
        $(pub(crate) const $name: Kind = Kind { id: $id, title: $title, page: $page };)*
        /// All kinds that the prover raises.
        pub const KINDS: &[Kind] = &[$($name),*];
    };
}

kinds! {
    UNITS_UNSTATED "undecided-units" "The program doesn't state its units"
        "A controller starts in the units it was last set to, so a program without G20 or G21 may be cut 25.4 times too large or too small. Nothing is assumed: put G21 (mm) or G20 (inches) before the first move.";
    PLANE_UNSTATED "undecided-plane" "The program doesn't state the plane of its arcs"
        "G2 and G3 turn in the plane that was last chosen. Put G17 before the first arc; then the arc means the same on every machine.";
    DISTANCE_UNSTATED "undecided-distance" "The program doesn't say whether words are positions or steps"
        "With G90 a word is a position, with G91 it is a step from where the cutter is. Put G90 before the first move.";
    START_UNKNOWN "undecided-start" "A move starts from an unknown place"
        "Where the cutter stands when the program starts isn't known. A rise of Z above everything, then a traverse, is safe from anywhere; any other first move could cut through the blank or a hold. Begin with G0 Z to a safe height, then G0 X Y.";
    CUTTER_UNNAMED "undecided-cutter" "Nothing says which cutter the program is for"
        "The cutter's shape decides what the program cuts. Put a T word with the shop's cutter number into the program, or name the cutter beside the file.";
    SPEED_UNSTATED "undecided-speed" "The spindle's speed isn't stated"
        "Without an S word or a dial note the chip that each flute takes is unknown, and so is whether the cutter survives. State the speed in the program.";
    END_MISSING "end-missing" "The program has no end"
        "A program ends with M2, M30 or a closing %. Without it the file was probably cut short on its way, and the machine stops in the work with the spindle running. Write the file again.";
    FACE_ZERO_THROUGH "undecided-face-zero" "Zeroed at the face, but it goes through the blank"
        "Programs whose zero is the blank's face are exact below the face and as wrong above the table as the blank's thickness may be. A cut through the blank, its tabs and its skin end at the table, so they can't be judged by such programs unless the thickness is known. Measure the sheets and say so in the plate file, or zero these programs at the table.";
    NOTHING_MOVES "nothing-moves" "The program moves nothing"
        "The file was understood but holds no move. Probably the wrong file was named, or it was cut short.";
    CUTTER_CHANGES "cutter-changes" "More than one cutter in a program"
        "One program is one cutter and one fixing: every cutter is touched off anew. Split the program where the cutter changes.";
    CUTTER_CONTRADICTED "cutter-contradicted" "The text and the maker name different cutters"
        "The T word names one cutter and the maker another. Proven with the wrong one, the program would cut a different plate. Correct one of the two.";
    CUTTER_UNKNOWN "cutter-unknown" "The shop has no cutter of this number"
        "T words name the numbers of the shop file. Correct the T word or add the cutter to the shop file.";
    CUTTER_NOT_ALLOWED "cutter-not-allowed" "The plate file doesn't list this cutter"
        "The program uses a cutter of the shop that the plate file leaves out. The proof holds for it, but check that it was meant.";
    GOUGE "gouge" "A surface is cut too deep"
        "A floor or the face ends lower than the plate file asks by more than 0.002 mm. What is cut away doesn't come back. Look at the line named: a height, a position or a missing rise is wrong there.";
    WALL_GOUGE "wall-gouge" "A wall is cut into"
        "The cutting edge passes an intended wall by more than 0.010 mm. Look at the line named; the path is too near the wall for this cutter's width.";
    LEFTOVER "leftover" "Material is left that a cutter reaches"
        "A floor ends higher than the plate file asks by more than 0.002 mm at a place that an allowed cutter can reach. A pass is missing, or it runs too high, or the cutter is narrower than the path was made for.";
    WALL_LEFTOVER "wall-leftover" "Material is left on a wall"
        "More than 0.010 mm is left on a wall where an allowed cutter can reach. The path keeps too far away from the wall for this cutter's width, or a pass along it is missing.";
    THROUGH_MISSING "through-missing" "A through cut doesn't go through"
        "An area or outline that shall go through the blank keeps material at its bottom. Lower the cut to the floor that the plate file asks for, with something under the blank to cut into.";
    WRONG_LAYER "wrong-layer" "The wrong layer may show"
        "A floor that shall show a layer lies outside the heights where that layer is certain to be, taking thicknesses and touch-off at their worst. Measure the sheets, or move the floor.";
    MARGIN_CUT "margin-cut" "Something is cut where nothing is asked for"
        "Material outside the plate's edge is cut farther away than the groove around it can explain. It may hold the blank or a screw. Look for a wrong position at the line named.";
    TABLE_HIT "table-hit" "The cutter reaches below what the plate file allows"
        "Heights are above the table. The lowest height allowed is the table, or the depth into it that the plate file grants; what lies under the blank may be cut. Raise the move or grant the depth in the plate file.";
    RAPID_IN_MATERIAL "rapid-in-material" "A rapid runs through material"
        "A rapid moves at full speed and its axes need not arrive together, so everything in the box between its ends must be clear. The cutter would break. Rise above everything first, or use a feed move.";
    HOLD_HIT "hold-hit" "A hold is hit"
        "The cutter, its shank, the collet nut or the spindle's body touches a screw or clamp. Move the hold, or rise above it.";
    TRAVEL_EXCEEDED "travel-exceeded" "The moves are longer than the machine's travel"
        "From one end to the other the program needs more room than the machine has. Check the units, or turn the blank.";
    SPINDLE_OFF "spindle-off" "The cutter meets material with the spindle still"
        "The spindle isn't running when the cutter touches the blank. The cutter would break. Start it (M3) before the first cut.";
    SPINDLE_BACKWARD "spindle-backward" "The spindle runs backward"
        "M4 turns the spindle counter-clockwise, where right-hand cutters only rub. Use M3.";
    SPEED_OUT_OF_RANGE "speed-out-of-range" "The spindle can't run at this speed"
        "The speed is outside the spindle's range, or no position of its dial gives it within 1 %. Choose one that the shop file lists.";
    PLUNGE "plunge" "Straight down into material"
        "The cutter goes straight down into material and may not drill. Enter by a helix or a ramp, or go down where the material is already gone.";
    STEEP_ENTRY "steep-entry" "The entry is too steep"
        "The cutter goes down into material steeper than its end can cut. Common practice is 3 to 5 degrees; more than 5.5 is refused (45 for a vee, which cuts with its point). Make the ramp longer.";
    FEED_TOO_FAST "feed-too-fast" "The feed is faster than the machine can move"
        "The feed along x and y or along z is over the machine's greatest. The controller would slow down or lose steps, and the time would be wrong. Lower the F word.";
    CHIP_TOO_THICK "chip-too-thick" "The chip is too thick for the cutter"
        "Feed divided by speed and flutes is more than the cutter's greatest chip. It would break. Lower the feed or raise the speed.";
    CHIP_TOO_THIN "chip-too-thin" "The cutter rubs instead of cutting"
        "Over more than half of what a program cuts, feed divided by speed and flutes is less than half the chip that a flute of this size needs to bite: it rubs, and acrylic melts and welds to it. Raise the feed or lower the speed. It is only a caution where the machine can do neither.";
    HEAT "heat" "The cutter rubs where the machine is slow, and the material softens"
        "A flute that takes too thin a chip rubs and gets hot. Near corners and stops the machine must slow down while the spindle doesn't, and a dwell in the cut turns the cutter on one place. Plastics soften, stick to the flute and weld shut behind it. Round the corners where the drawing allows, turn the spindle slower, take dwells out, and keep air on the cutter.";
    BITE_TOO_DEEP "bite-too-deep" "The pass is too deep"
        "The cutter takes more depth at once than its strength, its stiffness or the spindle's power allow, with a quarter on top. Divide the depth into more passes.";
    FLUTES_TOO_SHORT "flutes-too-short" "The cut is deeper than the flutes"
        "Above the flutes a cutter doesn't cut. Material stands higher beside the tip than the flutes reach at the moment it is cut. Take several passes, or a cutter with longer flutes.";
    SHANK_RUB "shank-rub" "The shank rubs"
        "The shank is thicker than the flutes and runs through material that stands higher than the flutes reach. It would melt the wall and break the cutter. Use a cutter with longer flutes, or clear more room.";
    NUT_RUB "nut-rub" "The collet nut or the spindle hits the blank"
        "The tip is deeper than the cutter stands out of its collet. Clamp it farther out, or use a longer cutter.";
    PIECE_LOOSE "piece-loose" "A piece comes loose"
        "Material is cut free from what is held. A loose piece is caught by the cutter and thrown. Leave tabs or a skin, clear the piece to chips before it comes free, or state in the plate file what holds it.";
    TAB_MISSING "tab-missing" "A tab is missing, too low or too short"
        "The plate shall stay held by tabs until the program is done. Fewer are left than asked for, or they are lower or shorter. Add the lifts of the path, or change the tabs in the plate file.";
    TABS_FEWER "tabs-fewer" "A small piece is held by fewer or shorter tabs than asked"
        "A tab takes its length of the edge, the cutter's width and a way for the cutter to come down. A piece whose edge is too short for all the tabs asked for keeps as many as it has room for, at least one, which on the smallest pieces is shorter. See that the piece stays where it is; a skin or tape under it holds it all over.";
    SKIN_MISSING "skin-missing" "The skin is cut through"
        "The plate shall stay held by a skin under the cut. It is cut thinner than asked for. Raise the last pass.";
    STROKE_LOST "stroke-lost" "A whole part of the drawing can't be cut"
        "No allowed cutter reaches any of this part, so it would be missing from the plate. Allow a finer cutter, draw the part wider, or leave it out.";
    FRAME_TOUCHES "frame-touches" "The frame run touches something"
        "The frame run is made with the spindle still and shows where the program will move. It must run above everything. Raise it.";
}
