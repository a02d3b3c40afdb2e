//! The kinds of doubt about a program's text, with the pages that explain them.
//!
//! Where a page says "the standard", it is NISTIR 6556. Ids that begin `undecided-` are text that is legal but whose
//! effect depends on something that the text doesn't say, or that this reader doesn't follow.

use doubt::Kind;

macro_rules! kinds {
    ($($name:ident $id:literal $title:literal $page:literal;)*) => {
        $(pub(crate) const $name: Kind = Kind { id: $id, title: $title, page: $page };)*
        /// All kinds that the reader raises.
        pub const KINDS: &[Kind] = &[$($name),*];
    };
}

kinds! {
    // The characters of a line.
    LINE_TOO_LONG "line-too-long" "A line has more than 256 characters"
        "A line of a program has at most 256 characters, comments and spaces included. A controller may cut a longer one off and run what is left. Break the line, or shorten its comment.";
    NOT_TEXT "program-not-text" "The program holds bytes that are no text"
        "Outside comments a program is plain ASCII. Bytes that aren't UTF-8 mean a damaged file, another kind of file, or an encoding that the machine doesn't know. Write the program again as plain text.";
    CHARACTER_UNKNOWN "character-unknown" "A character that has no meaning here"
        "What the standard doesn't explicitly allow is illegal, since controllers differ in what they make of it: some stop, some skip it. Remove the character, or put it in a comment.";
    COMMENT_UNCLOSED "comment-unclosed" "A comment isn't closed in its line"
        "A comment begins with ( and ends with ) in the same line. Without its end, words that were meant to run may be taken for the comment. Close it.";
    COMMENT_NESTED "comment-nested" "A ( stands inside a comment"
        "Comments don't nest: the first ) ends the comment, and what follows is run. Use other brackets inside the comment.";
    COMMENT_UNOPENED "comment-unopened" "A ) stands outside a comment"
        "A ) without its ( usually comes from a nested comment or from a lost character. What stands before it would have been run as words. Open the comment, or remove the bracket.";
    SEMICOLON_COMMENT "semicolon-comment" "Comments after a semicolon"
        "The standard knows comments in ( ) only; a semicolon that makes the rest of the line a comment is a common extension. They are read as comments here. If the machine doesn't know them, write ( ) instead.";
    PERCENT_STRAY "percent-stray" "A % where no program begins or ends"
        "A % stands alone in the first line that isn't blank, and then a second one ends the program. Anywhere else it has no meaning. Remove it, or put its partner in.";
    PERCENT_UNCLOSED "percent-unclosed" "The opening % has no closing %"
        "A program that begins with % ends with a % of its own. That it is missing means that the end of the file was lost, or the % at the beginning was added by hand. Write the program out again, or remove the first %.";
    PROGRAM_CUT_SHORT "program-cut-short" "The program has no end"
        "A program ends with M2 or M30, or with a closing % if it began with one. Without any of them the file was probably cut short on its way, and the machine would stop in the work with the spindle running. Write the file out again and compare its length; if it is complete, add M30.";
    TEXT_AFTER_END "text-after-end" "There is text after the end"
        "M2 and M30 end the program, and so does a closing %. What follows is not run, and isn't judged. If it was meant to run, remove the end before it.";
    DOUBTS_CUT "doubts-cut" "There are more doubts than are listed"
        "A program with very many faults is usually one fault over and over, or not a program at all. The first ones are listed. Put them right and read the program again.";

    // Numbers, words and expressions.
    LINE_NUMBER_BAD "line-number-bad" "A line number that is none"
        "N is followed by one to five digits, 0 to 99999, without sign or point, and stands first in its line. Correct it or leave it out; line numbers have no effect.";
    NUMBER_BAD "number-bad" "A word has no number, or a malformed one"
        "A number has an optional sign, digits, and at most one point; there are no exponents and no commas. A letter without a number is no word. A lost or doubled character here would send the cutter elsewhere, so nothing is assumed.";
    NUMBER_TOO_LARGE "number-too-large" "A number is beyond any machine"
        "Positions and lengths beyond 1000000 mm, and other numbers beyond 1000000, come from a lost point or a damaged file. Correct the number.";
    WORD_UNKNOWN "word-unknown" "A letter that begins no word"
        "The letters E, O, U, V and W begin no word of the language, and N stands first in its line only. Controllers with extensions would do something that isn't known here. Remove the word.";
    WORD_TWICE "word-twice" "A word is given twice in a line"
        "Only G and M may come more than once in a line. Which of two other words counts differs between controllers. Keep one.";
    TOO_MANY_M_WORDS "too-many-m-words" "More than four M words in a line"
        "A line has at most four M words. Put the others into a line of their own.";
    CODE_UNKNOWN "code-unknown" "A G or M code that the standard doesn't know"
        "Every maker of controllers adds codes of its own, with different meanings. What the code does on the machine isn't known here, so the program can't be judged. Replace it by codes of the standard.";
    EXPRESSION_BAD "expression-bad" "An expression is malformed"
        "An expression stands in [ ], with + - * / ** MOD AND OR XOR between its values; a function such as SIN is followed by [ ], and ATAN by [ ]/[ ]. Correct it, or write the number itself.";
    ARITHMETIC_IMPOSSIBLE "arithmetic-impossible" "An expression has no value"
        "Division by zero, the root of a negative number, an angle whose sine would be above 1, or a result too large to hold. A controller stops here or goes on with nonsense. Correct the expression or the parameters in it.";
    PARAMETER_BAD "parameter-bad" "A parameter's number is out of range"
        "Parameters are numbered 1 to 5399, by whole numbers. Correct the number after #.";

    // What may stand together in a line.
    CODES_CONTRADICT "codes-contradict" "Two codes of one group in a line"
        "Codes of one group exclude each other: G0 and G1, G20 and G21, M3 and M5. Which one counts differs between controllers. Keep one, or use two lines.";
    CODES_SHARE_AXES "codes-share-axes" "Two codes of a line want the same axis words"
        "G10, G28, G30 and G92 use the axis words of their line, and so does a motion code. Both can't have them. Use two lines.";
    AXIS_WORDS_MISSING "axis-words-missing" "A motion code without axis words"
        "The standard wants at least one axis word in the line of a motion code. A lost word would leave the cutter where it is and shift everything after. Add the word, or remove the code.";
    AXIS_WORDS_IDLE "axis-words-idle" "Axis words with nothing to use them"
        "No motion code is in force: none was given yet, or G80 ended it. Controllers differ in whether they move at all here, and how fast. Put G0, G1, G2 or G3 into the line.";
    WORD_IDLE "word-idle" "A word with nothing to use it"
        "The line holds a word that none of its codes uses, such as I without an arc or P without a dwell. Usually the code it belongs to was lost. Restore the code, or remove the word.";
    CODE_WORDS_MISSING "code-words-missing" "A code lacks a word that it needs"
        "The code can't be carried out without the word named. Add the word, or remove the code.";

    // Motion, feed, speed, cutter.
    ARC_AXES_MISSING "arc-axes-missing" "An arc without an end in its plane"
        "An arc needs at least one axis word of its plane: X or Y with G17, X or Z with G18, Y or Z with G19. Add the end; for a full circle repeat the start.";
    ARC_OFFSETS_MISSING "arc-offsets-missing" "An arc without a centre or radius"
        "An arc needs its centre, from the start, as I and J (G17), I and K (G18) or J and K (G19), or its radius as R. Without them its way isn't known. Add them.";
    ARC_FORMS_MIXED "arc-forms-mixed" "An arc's words don't fit together"
        "An arc has either a centre (I, J, K) or a radius (R), and its centre only has the two letters of its plane. Otherwise it isn't clear which way is meant. Remove the word that doesn't belong, or choose the right plane.";
    ARC_RADIUS_ZERO "arc-radius-zero" "An arc of radius zero"
        "The centre coincides with the start, so there is nothing to turn about. Usually the offsets were rounded away or lost. Correct them, or use G1.";
    ARC_RADII_DIFFER "arc-radii-differ" "An arc's end isn't on its circle"
        "The distances of start and end from the centre may differ by at most 0.002 mm (0.0002 in with G20). A larger difference means a wrong word or too few decimals; controllers stop, or bend the arc. Correct the words, or write more decimals.";
    ARC_RADIUS_SMALL "arc-radius-small" "An arc's radius doesn't reach its end"
        "R is smaller than half the distance from start to end, so no circle passes through both. Correct R or the end.";
    ARC_ENDS_COINCIDE "arc-ends-coincide" "An arc by radius ends where it starts"
        "With R, start and end must differ, since a full circle could lie in any direction. Use I and J for a full circle.";
    ARC_START_UNKNOWN "arc-start-unknown" "An arc starts from an unknown place"
        "An arc's words are reckoned from its start, and the text hasn't stated where the cutter is. Place all of its axes with G0 or G1 first.";
    FEED_MISSING "feed-missing" "A cut before any feed"
        "With G94 a cut moves at the last F. None was given yet (or none since G93 was left), so the speed isn't known. Put F into the line or before it.";
    FEED_TIME_MISSING "feed-time-missing" "A cut in inverse time without F"
        "With G93 every line with a cut states its own time: F2 is half a minute. Add F, or go back to G94.";
    FEED_BAD "feed-bad" "A feed that is zero or negative"
        "A cut at a feed of zero would never end, and a negative feed means nothing. Usually a digit or a sign was lost. Correct the F word.";
    FEED_BEFORE_UNITS "feed-before-units" "A feed was taken in other units than the moves"
        "By the standard's order of execution F is read before G20 and G21, even within a line, so it is in the units that held before. The feed is taken so. If the new units were meant, repeat F after the change.";
    SPEED_BAD "speed-bad" "A negative spindle speed"
        "S is a speed in rev/min and is never negative; the direction is told by M3 and M4. Correct the word.";
    CUTTER_NUMBER_BAD "cutter-number-bad" "T isn't the number of a cutter"
        "T is a whole number from 0 to 99999, the shop's number of the cutter. Correct the word.";
    OFFSET_NUMBER_BAD "offset-number-bad" "H or D isn't the number of an offset"
        "H and D name an offset kept in the machine and are whole numbers from 0 to 99999. Correct the word, or take it out: offsets are undecided anyway.";
    DWELL_BAD "dwell-bad" "A dwell without a time, or of negative time"
        "G4 needs P, the time in seconds, not below zero. Add or correct it.";
    MACHINE_FRAME_MISUSED "machine-frame-misused" "G53 without G0 or G1 in absolute mode"
        "G53 makes a rapid or a line of its own line go to a place in the machine's frame. With arcs, cycles or G91 it is illegal. Correct the line.";
    CYCLE_INCOMPLETE "cycle-incomplete" "A drilling cycle lacks a word"
        "The first line of a cycle needs the bottom and the return level R; G82 needs P and G83 needs Q above zero. Add the word.";
    CYCLE_HEIGHTS "cycle-heights" "A drilling cycle ends above its return level"
        "The level R is where the feed begins, so it can't be below the bottom. Correct R or the bottom.";
    CYCLE_IN_INVERSE_TIME "cycle-in-inverse-time" "A drilling cycle with G93"
        "A cycle is several moves, so it can't be given one time. Use G94.";
    CYCLE_REPEATS_BAD "cycle-repeats-bad" "A cycle's number of repeats is no whole number above zero"
        "L says how often a drilling cycle is done and takes a whole number above zero. Anything else leaves open how many holes are meant. Correct the word.";
    TOO_MANY_MOVES "too-many-moves" "The program grows to more moves than are read"
        "Pecks and repeats turn one line into many moves. More than 10000 for one line, or 2000000 for the program beside the first of each line, mean a wrong Q or L. Correct the word, or split the program.";

    CORNERS_BLENDED "corners-blended" "The controller may round corners"
        "With G64 a controller keeps its speed through corners and rounds them off, by as much as is set in the machine. What is judged here is the path as written. Use G61, or see that the machine's rounding is set well below the tolerance of the walls.";

    // What the text leaves open.
    UNDECIDED_LENGTH_UNIT "undecided-length-unit" "Moves before G20 or G21"
        "A controller starts in the units it was last set to, so the same text may be cut 25.4 times too large or too small. Millimetres are shown, but nothing is decided by them. Put G21 or G20 before the first move.";
    UNDECIDED_ARC_PLANE "undecided-arc-plane" "An arc or cycle before G17, G18 or G19"
        "G2, G3 and the drilling cycles work in the plane that was last chosen, perhaps by another program. Put G17 before the first arc.";
    UNDECIDED_DISTANCE_MODE "undecided-distance-mode" "Moves before G90 or G91"
        "With G90 a word is a position, with G91 a step from where the cutter is; which of them holds at the start depends on the machine. Put G90 before the first move.";
    UNDECIDED_FEED_UNIT "undecided-feed-unit" "A feed was given before G20 or G21"
        "By the standard's order of execution F is read before G20 and G21, even within a line. Before the text states its units, an F is in whatever units the machine was left in. Put the F word into a line after G21 or G20.";
    UNDECIDED_SKIPPED_LINE "undecided-skipped-line" "A line that a switch may leave out"
        "A line that begins with / runs or not, by a switch on the machine. Both ways would have to be judged; it is shown as if it runs. Remove the / or the line.";
    UNDECIDED_FRAME "undecided-frame" "The frame of the moves isn't known"
        "G10, G53, G55 to G59.3 and G92.1 to G92.3 refer to offsets or a zero that are kept in the machine and not in the text, and so do parameters 5161 and up. G92 itself is followed where the text has stated the cutter's place on every axis that it names. Where the following moves are on the blank can't be told. Use G54 and the zero that the setup states.";
    UNDECIDED_REFERENCE "undecided-reference" "A move to the machine's reference place"
        "G28 and G30 go to a place kept in the machine, in rapid, by a way that can't be told from the text. Rise with G0 Z and go to a stated place instead.";
    UNDECIDED_CUTTER_OFFSET "undecided-cutter-offset" "Cutter radius compensation"
        "With G41 and G42 the controller shifts the path by a radius kept in its own table, and controllers differ in how they enter and turn corners. The moves as run aren't in the text. Write the path of the cutter's centre, with G40.";
    UNDECIDED_LENGTH_OFFSET "undecided-length-offset" "Cutter length offset"
        "G43 shifts all heights by a length kept in the machine's table. Whether it is right can't be told from the text. Touch off each cutter and use G49.";
    UNDECIDED_PROBING "undecided-probing" "A probing move"
        "G38.2 moves until a probe trips, so its end isn't in the text. Probe by a program of its own.";
    UNDECIDED_CYCLE "undecided-cycle" "A cycle that isn't followed here"
        "G84 to G89 tap, bore and stop the spindle in ways that this reader doesn't follow. Use G81 to G83 or single moves.";
    UNDECIDED_CYCLE_START "undecided-cycle-start" "A drilling cycle from an unknown height"
        "A cycle rises to its return level if the cutter stands below it, and may come back to where it began. That height isn't stated by the text. Put G0 Z before the cycle.";
    UNDECIDED_RETURN_LEVEL "undecided-return-level" "A drilling cycle before G98 or G99"
        "With G98 the cutter returns to the height where it was before the cycle, with G99 to R. The text chose neither and the two differ here. Put G98 or G99 before the cycle.";
    UNDECIDED_ROTARY "undecided-rotary" "A rotary axis"
        "A, B and C turn the work or the cutter. Plates are cut with three axes, and rotary moves aren't followed. Remove the words.";
    UNDECIDED_STEP "undecided-step" "A step from an unknown place"
        "With G91 a word is a step from where the cutter is, and the text hasn't stated that. Place the axis with G90 first.";
    UNDECIDED_PARAMETER "undecided-parameter" "A parameter that the text hasn't set"
        "Parameters keep values in the machine from earlier programs. The value isn't in the text, so what the line does can't be told. Set the parameter in the program before it is used.";
    UNDECIDED_TIME "undecided-time" "A cut in inverse time from an unknown place"
        "With G93 the feed follows from the length of the cut, and its start isn't stated by the text. Place the axes with G0 first, or use G94.";
    UNDECIDED_DIAL_NOTES "undecided-dial-notes" "More dial notes than are followed"
        "A dial note tells the maker what speed to set. Nobody turns a dial ten thousand times; the notes after that many aren't followed, so the speed of the cuts after them isn't known. Split the program, or use S words.";
    UNDECIDED_ARC_TURN "undecided-arc-turn" "An arc whose ends all but coincide"
        "Start and end lie in the same direction from the centre but aren't the same point, so rounding in the controller decides between no turn and a full one. Use the start itself as the end of a full circle, or G1 for a short way.";
}
