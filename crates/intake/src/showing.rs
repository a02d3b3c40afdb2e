//! Floors that show a layer: the height chosen, how likely it misses, and what would make it sure.

use crate::heights::{Floor, Heights, instead};
use crate::kinds;
use crate::reading::Reading;
use doubt::Doubt;
use plate::{FloorKind, Miss, Reveal};
use quantity::{Height, Length, trimmed};
use reckon::chance::one_in;
use reckon::margin::{self, ShowingFloor};
use reckon::remedy;
use std::ops::Range;

/// By how much higher a floor counted from the face must lie to be worth a word, mm (common practice, no source).
const WORTH_TELLING: f64 = 0.1;

/// By how much greater a margin counted from the face must be to be worth a word, mm (common practice, no source).
const SURER: f64 = 0.05;
/// A layer that more blanks than this would miss is refused (our own bound, no source).
const OFTEN: f64 = 0.1;
/// A layer that fewer blanks than this miss is likely to show (our own bound, no source).
const SELDOM: f64 = 0.05;

impl Heights {
    /// The floor that shows a sheet with the margin asked for.
    pub(crate) fn showing(
        &self,
        reading: &mut Reading<'_>,
        name: &str,
        span: Range<usize>,
        asked: Length,
    ) -> Option<Floor> {
        let layers = &self.blank.layers;
        // The top layer shows without a cut, so a name that occurs again means the next one down.
        let index = layers.iter().enumerate().skip(1).find(|(_, l)| l.sheet.name == name).map(|(i, _)| i);
        let Some(index) = index else {
            reading.doubt(self.no_such_layer(name), span);
            return None;
        };
        let level = &self.levels.layers[index];
        let mut chosen = margin::floor_that_shows(level, asked, self.bow);
        let mut miss = self.layered.miss(index, chosen.floor);
        if chosen.reveal.above_worst.min(chosen.reveal.below_worst) < Length::ZERO {
            // No floor is certain, so the best is the one that misses least often.
            let (low, high) = (level.bottom.height - level.bottom.worst, level.top.height + level.top.worst);
            if let Some((floor, found)) = self.layered.surest(index, low.max(self.blank.underside), high) {
                chosen = ShowingFloor { floor, reveal: margin::reveal(level, floor, self.bow) };
                miss = Some(found);
            }
        }
        let reveal = Reveal { miss, ..chosen.reveal };
        let least = reveal.above_worst.min(reveal.below_worst);
        let keeps = least.to_mm() >= asked.to_mm() - 1e-9;
        let inside = chosen.floor < level.top.height && chosen.floor > level.bottom.height;
        let hopeless = miss.is_some_and(|m| m.either() > OFTEN);
        if !inside || hopeless {
            let bow = if self.bow > Length::ZERO {
                format!(", up to {} higher where it bows", self.bow)
            } else {
                String::new()
            };
            let best = miss.map_or_else(String::new, |m| {
                format!("; at best, at {}, it would miss on {}", chosen.floor, one_in(m.either()))
            });
            let doubt = kinds::REVEAL_IMPOSSIBLE
                .refusal(format!(
                    "no floor shows `{name}`: it lies from {} ± {} to {} ± {}{bow}{best}",
                    level.bottom.height, level.bottom.worst, level.top.height, level.top.worst
                ))
                .way_out(self.what_would_do(index, asked));
            reading.doubt(doubt, span);
            return None;
        }
        if !keeps {
            let doubt = if least < Length::ZERO {
                self.unsure(name, index, chosen.floor, &reveal)
            } else {
                kinds::REVEAL_THIN.caution(format!(
                    "`{name}` shows at {} with only {least} to spare in the worst case, not the {asked} asked for",
                    chosen.floor
                ))
            };
            reading.doubt(doubt.way_out(self.what_would_do(index, asked)), span.clone());
        }
        self.say_face(reading, (name, index), asked, ShowingFloor { floor: chosen.floor, reveal }, span);
        Some(Floor { height: chosen.floor, kind: FloorKind::Shows(index), reveal: Some(reveal) })
    }

    fn no_such_layer(&self, name: &str) -> Doubt {
        let layers = &self.blank.layers;
        if layers.first().is_some_and(|l| l.sheet.name == name) {
            return kinds::FACE_SHOWN
                .refusal(format!("`{name}` is the top layer, which the face shows already"))
                .way_out("leave the area out, or give its depth as `floor = { below_face = 0.5 }`");
        }
        let names: Vec<&str> = layers.iter().skip(1).map(|l| l.sheet.name.as_str()).collect();
        kinds::UNKNOWN_SHEET.refusal(format!("the blank has no layer `{name}`")).way_out(instead(
            name,
            &names,
            "under its face it has",
        ))
    }

    fn unsure(&self, name: &str, index: usize, floor: Height, reveal: &Reveal) -> Doubt {
        let worst = -reveal.above_worst.min(reveal.below_worst);
        let rss = reveal.above_rss.min(reveal.below_rss);
        let by_rss = if rss >= Length::ZERO {
            format!("has {rss} to spare by root-sum-square")
        } else {
            format!("is {} short by root-sum-square", -rss)
        };
        let message = format!(
            "that `{name}` shows at {floor} is {}: it {by_rss}, and misses by {worst} in the worst case",
            how_likely(reveal)
        );
        let doubt = kinds::REVEAL_UNSURE.caution(message);
        match &reveal.miss {
            Some(miss) => doubt.noting(would_show(miss, &self.blank, index)),
            None => doubt,
        }
    }

    /// How exact a measurement, how thick a sheet, how small a margin would each make it work.
    fn what_would_do(&self, index: usize, asked: Length) -> String {
        let layers = &self.blank.layers;
        let unmeasured: Vec<usize> = (0..layers.len()).filter(|&i| !layers[i].measured).collect();
        let process = layers[index].sheet.process;
        let found = remedy::remedy(&self.stack, index, &unmeasured, process, asked, self.bow);
        let mut names: Vec<String> = Vec::new();
        for name in unmeasured.iter().map(|&i| format!("`{}`", layers[i].sheet.name)) {
            if !names.contains(&name) {
                names.push(name);
            }
        }
        let names = names.join(" and ");
        let mut ways = Vec::new();
        match found.measured_within {
            Some(error) => ways.push(format!("measure {names} to ± {error} or better and add `measured = [...]`")),
            None if unmeasured.is_empty() && !self.total_measured => {
                ways.push("measure the bonded blank and add `measured_total`, which may narrow it".into());
            }
            None if unmeasured.is_empty() => ways.push("measure with a better micrometer".into()),
            None => ways.push(format!("measure {names}, though at the labels' thickness that alone is not enough")),
        }
        ways.push(match found.thickness {
            Some(thickness) => format!("use a sheet of {thickness} or more instead of `{}`", layers[index].sheet.name),
            None => "use a thicker sheet".into(),
        });
        if let Some(margin) = found.margin {
            ways.push(format!("ask for no more than `margin = \"{} mm\"`", trimmed(margin.to_mm(), 2)));
        }
        match ways.split_last() {
            Some((last, rest)) if !rest.is_empty() => format!("{}, or {last}", rest.join(", ")),
            _ => ways.concat(),
        }
    }

    /// Where zero at the face would be better, with both margins.
    fn say_face(
        &self,
        reading: &mut Reading<'_>,
        (name, index): (&str, usize),
        asked: Length,
        table: ShowingFloor,
        span: Range<usize>,
    ) {
        let Ok(levels) = self.stack.from_face().levels() else { return };
        let Some(level) = levels.layers.iter().rev().nth(index) else { return };
        let face = margin::depth_that_shows(level, asked, self.bow);
        let least = face.above_worst.min(face.below_worst);
        let at_table = table.reveal.above_worst.min(table.reveal.below_worst);
        let keeps = |least: Length| least.to_mm() >= asked.to_mm() - 1e-9;
        let higher = (self.blank.face - face.depth) - table.floor;
        let better = if keeps(at_table) {
            keeps(least) && higher.to_mm() >= WORTH_TELLING
        } else {
            least.to_mm() > at_table.to_mm() + SURER
        };
        if !better {
            return;
        }
        let doubt = kinds::FACE_SURER
            .note(format!(
                "counted from the table `{name}` shows at {}, {} above and {} below in the worst case; counted from the face \
                it would at {} deep, {} above and {} below",
                table.floor,
                to_spare(table.reveal.above_worst),
                to_spare(table.reveal.below_worst),
                face.depth,
                to_spare(face.above_worst),
                to_spare(face.below_worst)
            ))
            .way_out("measure the sheets under it, or the bonded blank: the table then serves as well");
        reading.doubt(doubt, span);
    }
}

/// A word for the chance that a layer shows.
pub(crate) fn how_likely(reveal: &Reveal) -> &'static str {
    let likely = match &reveal.miss {
        Some(miss) => miss.either() < SELDOM,
        None => reveal.above_rss.min(reveal.below_rss) >= Length::ZERO,
    };
    if likely { "likely" } else { "a matter of luck" }
}

fn to_spare(length: Length) -> String {
    if length < Length::ZERO { format!("{} too little", -length) } else { format!("{length} to spare") }
}

/// What would show instead of a layer, and how often: "1 blank in 240 would show `night black 3` or its bond line".
pub(crate) fn would_show(miss: &Miss, blank: &plate::Blank, index: usize) -> String {
    let layer = |i: Option<usize>| i.and_then(|i| blank.layers.get(i)).map(|l| l.sheet.name.as_str());
    let above =
        layer(index.checked_sub(1)).map_or("the face".to_owned(), |n| format!("`{n}` or the bond line under it"));
    let below = layer(Some(index + 1)).map_or("a hole".to_owned(), |n| format!("the bond line over `{n}`, or that"));
    let seldom = |chance: f64| chance < 1e-6;
    match (seldom(miss.too_high), seldom(miss.too_deep)) {
        (_, true) => format!("{} would show {above}", one_in(miss.too_high)),
        (true, false) => format!("{} would show {below}", one_in(miss.too_deep)),
        (false, false) => format!("{} would show {above}, {} {below}", one_in(miss.too_high), one_in(miss.too_deep)),
    }
}
