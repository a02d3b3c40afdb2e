//! What a finding most likely comes from, in the maker's words.
//!
//! A cause is a guess from the kind of finding and how much it is; it says where to look first and decides nothing.

/// A wall that is off by less than this is off by a cutter's width or a rounding rather than by a wrong number, mm.
const BY_WIDTH: f64 = 0.2;

/// The likely cause of a finding of this kind and amount (in the finding's own unit); `None` for a kind that says all
/// itself.
pub(crate) fn likely(id: &str, amount: f64) -> Option<&'static str> {
    plate(id, amount).or_else(|| machine(id)).or_else(|| stated(id)).or_else(|| text(id))
}

/// What comes out wrong on the plate.
fn plate(id: &str, amount: f64) -> Option<&'static str> {
    Some(match id {
        "gouge" if amount < BY_WIDTH => {
            "a Z is a little too low: the program was made for another floor or sheet, or zeroed elsewhere"
        }
        "gouge" => "a Z is too low, or the line before it that should rise or move away is missing",
        "wall-gouge" if amount < BY_WIDTH => {
            "the path was made for a narrower cutter than the one named, or its corner is cut across"
        }
        "wall-gouge" => "an X, Y, I or J is wrong, an arc turns the wrong way, or another cutter was meant",
        "leftover" => "a pass is missing, runs too high, or was made for a wider cutter",
        "wall-leftover" if amount < BY_WIDTH => {
            "the path was made for a wider cutter than the one named, or the last pass along the wall is missing"
        }
        "wall-leftover" => "the pass along this wall is missing, or it doesn't go down to the floor",
        "through-missing" => "the last pass stops too high, or the program was made for a thinner blank",
        "wrong-layer" => "the sheets aren't measured, or the floor lies too near the seam between two of them",
        "margin-cut" => "an X or Y is wrong, or the program is placed for another zero corner",
        "piece-loose" => "the tabs or the skin are cut through, or the cut-out isn't cleared to chips first",
        "tab-missing" => "the path isn't lifted there, or its lift is shorter than the tab and the cutter together",
        "tabs-fewer" => "the piece's edge is too short for all the tabs asked for",
        "skin-missing" => "the last pass is too deep by what is missing of the skin",
        "stroke-lost" => "the stroke is narrower than the finest cutter that the plate allows",
        _ => return None,
    })
}

/// What the cutter and the machine can't do.
fn machine(id: &str) -> Option<&'static str> {
    Some(match id {
        "table-hit" => {
            "Z is counted from the face instead of the table, a minus sign has slipped in, or the blank is thinner than the program's"
        }
        "rapid-in-material" => "the rise before this traverse is missing or too low, or G0 stands for G1",
        "hold-hit" => "the hold stands elsewhere than where it was when the program was made, or the rise is too low",
        "travel-exceeded" => "inches were read as mm or the other way round, or the plate lies the wrong way",
        "spindle-off" => "M3 is missing, or M5 comes too early",
        "spindle-backward" => "M4 stands for M3",
        "speed-out-of-range" => "the S word or dial note was made for another spindle",
        "plunge" => "the program enters by a drilling move, or the ramp in its text is missing",
        "steep-entry" => "the ramp is too short for its drop, or a Z is too low",
        "feed-too-fast" => "the F word is in another unit, or was made for another machine",
        "chip-too-thick" => "the F word is too high or the speed too low: perhaps they are another cutter's",
        "chip-too-thin" => "the F word is too low or the speed too high: perhaps they are another cutter's",
        "heat" => {
            "corners or arcs are too tight for the machine's acceleration at this speed of the spindle, or a G4 stands in the cut"
        }
        "bite-too-deep" => "a pass before this one is missing, or the passes are made for a stronger cutter",
        "flutes-too-short" => "a pass before this one is missing, or a cutter with longer flutes was meant",
        "shank-rub" => "the pocket is deeper than this cutter's flutes, and the ground beside it isn't cleared yet",
        "nut-rub" => "the cutter isn't clamped out as far as the program goes down",
        "frame-touches" => "the frame run's height is below the face or a hold",
        _ => return None,
    })
}

/// What a program doesn't say.
fn stated(id: &str) -> Option<&'static str> {
    Some(match id {
        "undecided-units" | "undecided-length-unit" | "undecided-feed-unit" => {
            "the head of the program is missing, or its maker relied on the machine's own setting"
        }
        "undecided-plane" | "undecided-arc-plane" | "undecided-distance" | "undecided-distance-mode" => {
            "the head of the program is missing, or its maker relied on the machine's own setting"
        }
        "undecided-start" => "the program begins where another one ended, or its first rise is missing",
        "undecided-cutter" => "the program was made for a machine that doesn't change cutters, so it has no T word",
        "undecided-speed" => "the spindle is set by hand, and nobody wrote down how",
        "undecided-face-zero" => "the blank's sheets aren't measured, and the programs count from its face",
        "undecided-frame" | "undecided-reference" | "undecided-length-offset" | "undecided-rotary" => {
            "the program was made for a machine that knows this from its own settings"
        }
        "undecided-cutter-offset" => "the program leaves the cutter's radius to the machine",
        "undecided-skipped-line" => "the program has parts that a switch on the machine leaves out",
        "undecided-probing" => "the program measures, and goes on from what it measured",
        "undecided-cycle" | "undecided-cycle-start" | "undecided-return-level" => {
            "the program drills by a cycle that relies on the machine's own setting"
        }
        "undecided-step" | "undecided-time" | "undecided-parameter" => {
            "something before this line was meant to set it, perhaps another program"
        }
        "undecided-dial-notes" => "the program is several programs in one",
        "undecided-arc-turn" => "rounding has brought the two ends of a short arc or a full circle together",
        "end-missing" | "program-cut-short" | "percent-unclosed" => "the file was cut short on its way",
        "nothing-moves" => "another file was meant, or its moves were lost on the way",
        "cutter-changes" => "several programs were put into one file",
        "cutter-contradicted" => "the programs or their cutters were swapped on the command line",
        "cutter-unknown" => "the T word counts another shop's cutters",
        "cutter-not-allowed" => "the plate file's list of cutters is older than the program",
        _ => return None,
    })
}

/// What isn't legal in a program's text.
fn text(id: &str) -> Option<&'static str> {
    Some(match id {
        "program-not-text" | "character-unknown" | "line-too-long" => {
            "the file was damaged on its way, or it is no program"
        }
        "comment-unclosed" | "comment-nested" | "comment-unopened" | "percent-stray" => {
            "the text was changed by hand, and a bracket or % went with it"
        }
        "line-number-bad" | "number-bad" | "number-too-large" | "word-unknown" | "word-twice" | "expression-bad" => {
            "a slip of the keyboard, or a damaged file"
        }
        "code-unknown" | "too-many-m-words" | "codes-contradict" | "codes-share-axes" => {
            "the program was made for a machine with codes of its own"
        }
        "arithmetic-impossible" | "parameter-bad" => "a value before this line isn't what the formula expects",
        "axis-words-missing" | "axis-words-idle" | "word-idle" | "code-words-missing" => {
            "words were lost from the line, or the line belongs to a code that the program doesn't have"
        }
        "arc-axes-missing" | "arc-offsets-missing" | "arc-forms-mixed" | "arc-ends-coincide" => {
            "words were lost from the line"
        }
        "arc-radius-zero" | "arc-radii-differ" | "arc-radius-small" => {
            "a digit of X, Y, I, J or R is wrong, centres are counted from zero instead of the start, or it has too few decimals"
        }
        "arc-start-unknown" => "the first move to a place is missing",
        "feed-missing" | "feed-time-missing" | "feed-bad" | "feed-before-units" => {
            "the F word is missing, or stands before the units are chosen"
        }
        "speed-bad" | "cutter-number-bad" | "offset-number-bad" | "dwell-bad" => "a digit or sign is wrong",
        "machine-frame-misused" => "G90 is missing, or another code was meant",
        "cycle-incomplete" | "cycle-heights" | "cycle-in-inverse-time" | "cycle-repeats-bad" => {
            "words of the drilling cycle were lost or swapped"
        }
        "too-many-moves" => "a drilling cycle repeats far too often",
        "corners-blended" => "the program was made for speed rather than for sharp corners",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Kinds that only inform.
    const NOTES: [&str; 3] = ["semicolon-comment", "text-after-end", "doubts-cut"];

    #[test]
    fn every_kind_has_a_cause() {
        for kind in crate::KINDS.iter().chain(read::KINDS).filter(|k| !NOTES.contains(&k.id)) {
            let cause = likely(kind.id, 1.0).unwrap_or_else(|| panic!("{} has none", kind.id));
            assert!(cause.len() > 10 && !cause.ends_with('.') && !kind.page.contains(cause), "{}", kind.id);
        }
        assert_ne!(likely("wall-gouge", 0.02), likely("wall-gouge", 2.0));
        assert_eq!(likely("no-such-kind", 1.0), None);
    }
}
