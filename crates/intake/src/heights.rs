//! Heights: the blank as it lies on the table and the floor of every area, chosen here and nowhere later.

use crate::kinds;
use crate::plate_file::{AreaSaid, BlankSaid, FloorSaid, LayerSaid};
use crate::reading::Reading;
use doubt::nearest;
use plate::{Blank, FloorKind, Held, Layer, Process, Reveal, Sheet, Shop, Under};
use quantity::{Height, Length, trimmed};
use reckon::margin::{self, Level, Levels, Stack, Thickness};
use std::ops::Range;

/// How far a through cut goes below the underside if there is room, mm (common practice, no source).
const OVERCUT: f64 = 0.15;
/// What an overcut leaves of what lies under the blank at the least, mm (common practice, no source).
const LEAVES_UNDER: f64 = 0.02;
/// How much deeper than the underside's spread a through cut goes if there is room, mm (common practice, no source).
const SURE_BY: f64 = 0.05;

/// The blank with what is needed to choose floors on it.
pub(crate) struct Heights {
    pub(crate) blank: Blank,
    levels: Levels,
    bow: Length,
    total_measured: bool,
    /// By how much a touched-off height may be wrong, worst case.
    touch_off: Length,
    through_said: bool,
}

/// A floor and why it is there.
pub(crate) struct Floor {
    pub(crate) height: Height,
    pub(crate) kind: FloorKind,
    pub(crate) reveal: Option<Reveal>,
}

/// The blank's layers with their heights.
pub(crate) fn blank(reading: &mut Reading<'_>, said: &BlankSaid, shop: &Shop) -> Option<Heights> {
    let sheets: Vec<Option<Sheet>> = said.layers.iter().map(|l| sheet(reading, l, shop)).collect();
    let sheets: Vec<Sheet> = sheets.into_iter().collect::<Option<_>>()?;
    let thicknesses: Vec<Thickness> =
        said.layers.iter().zip(&sheets).map(|(l, s)| thickness(reading, l, s, said.micrometer)).collect();
    let total = said.total.as_ref().and_then(|t| margin::measured(&t.value, said.micrometer));
    let touch_off = vec![shop.touch_off.repeatability, shop.touch_off.feeler_error];
    let touch_off_worst = margin::worst(&touch_off);
    let stack = Stack {
        sheets: thicknesses.clone(),
        bond: Thickness { mean: said.bond, spread: said.bond_spread.min(said.bond) },
        total,
        under: said.under.iter().map(|u| Thickness { mean: u.thickness, spread: u.spread.min(u.thickness) }).collect(),
        touch_off,
    };
    let levels = match stack.levels() {
        Ok(levels) => levels,
        Err(apart) => {
            let span = said.total.as_ref().map_or(0..0, |t| t.span.clone());
            reading.doubt(contradiction(&apart, said.layers.len()), span);
            return None;
        }
    };
    let layers = sheets.into_iter().zip(&said.layers).zip(&thicknesses).zip(&levels.layers);
    let layers = layers.map(|(((sheet, said), t), level)| Layer {
        sheet,
        thickness: t.mean,
        spread: t.spread,
        measured: said.measured.is_some(),
        top: level.top.height,
        top_spread: level.top.worst,
        bottom: level.bottom.height,
        bottom_spread: level.bottom.worst,
    });
    let face = levels.face;
    let blank = Blank {
        size: said.size.value,
        layers: layers.collect(),
        bond: said.bond,
        under: said.under.iter().map(|u| Under { name: u.name.clone(), thickness: u.thickness }).collect(),
        into_table: said.into_table,
        underside: levels.underside.height,
        face: face.height,
        face_low: face.height - face.worst,
        face_high: face.height + face.worst + said.bow,
    };
    Some(Heights {
        blank,
        levels,
        bow: said.bow,
        total_measured: total.is_some(),
        touch_off: touch_off_worst,
        through_said: false,
    })
}

fn sheet(reading: &mut Reading<'_>, layer: &LayerSaid, shop: &Shop) -> Option<Sheet> {
    let found = shop.sheets.iter().find(|s| s.name == layer.sheet.value);
    if found.is_none() {
        let names: Vec<&str> = shop.sheets.iter().map(|s| s.name.as_str()).collect();
        let doubt = kinds::UNKNOWN_SHEET
            .refusal(format!("the shop has no sheet `{}`", layer.sheet.value))
            .way_out(instead(&layer.sheet.value, &names, "it has"));
        reading.doubt(doubt, layer.sheet.span.clone());
    }
    found.cloned()
}

/// "did you mean ..., it has ..."
pub(crate) fn instead(word: &str, known: &[&str], it_has: &str) -> String {
    let all = match known {
        [] => "none".to_owned(),
        _ => known.iter().take(24).map(|n| format!("`{n}`")).collect::<Vec<_>>().join(", "),
    };
    let more = if known.len() > 24 { format!(" and {} more", known.len() - 24) } else { String::new() };
    match nearest(word, known.iter().copied()) {
        Some(near) => format!("did you mean `{near}`? {it_has} {all}{more}"),
        None => format!("{it_has} {all}{more}"),
    }
}

fn thickness(reading: &mut Reading<'_>, layer: &LayerSaid, sheet: &Sheet, micrometer: Length) -> Thickness {
    if let Some(found) = layer.measured.as_ref().and_then(|m| margin::measured(&m.value, micrometer)) {
        let label = margin::labelled(sheet.thickness, sheet.process);
        if (found.mean - label.mean).to_mm().abs() > (label.spread + found.spread).to_mm() {
            let doubt = kinds::LABEL_DIFFERS
                .caution(format!(
                    "`{}` measures {} but its label says {} ± {}",
                    sheet.name, found.mean, label.mean, label.spread
                ))
                .way_out(
                    "check that it is this sheet, without its masking film, and that the readings are in this \
                    file's unit",
                );
            reading.doubt(doubt, layer.measured.as_ref().map_or(0..0, |m| m.span.clone()));
        }
        return found;
    }
    let label = margin::labelled(sheet.thickness, sheet.process);
    let by = match sheet.process {
        Process::Cast => "the tolerance of cast sheet, ISO 7823-1",
        Process::Extruded => "the tolerance of extruded sheet, ISO 7823-2",
        Process::Stated(_) => "the shop file's tolerance",
    };
    let doubt = kinds::THICKNESS_ASSUMED
        .note(format!("`{}` was not measured: {} ± {} is assumed, {by}", sheet.name, label.mean, label.spread))
        .way_out("measure it in a few places and add `measured = [...]`");
    reading.doubt(doubt, layer.sheet.span.clone());
    label
}

fn contradiction(apart: &margin::Contradiction, layers: usize) -> doubt::Doubt {
    let doubt = kinds::THICKNESS_CONTRADICTION.refusal(format!(
        "the measured total is {} ± {}, but the layers and bond lines add up to {} ± {}",
        apart.total.mean, apart.total.spread, apart.sum.mean, apart.sum.spread
    ));
    let bond = apart.bond.to_mm();
    if layers > 1 && (0.0..=0.5).contains(&bond) {
        let bond = trimmed(bond, 3);
        return doubt
            .way_out(format!("measure again; if every sheet is right, `bond = \"{bond} mm\"` makes them agree"));
    }
    doubt.way_out("measure again without masking film, and check that every layer is listed")
}

impl Heights {
    /// The floor that an area asks for.
    pub(crate) fn floor(&mut self, reading: &mut Reading<'_>, area: &AreaSaid, asked: Length) -> Option<Floor> {
        let span = area.floor_span.clone();
        match &area.floor {
            FloorSaid::Shows(sheet) => self.showing(reading, &sheet.value, sheet.span.clone(), asked),
            FloorSaid::BelowFace(depth) => self.below_face(reading, *depth, span),
            FloorSaid::AboveTable(height) => self.above_table(reading, *height, span),
            FloorSaid::Through => {
                let height = self.through(reading, &area.held, span, area.held_span.clone());
                Some(Floor { height, kind: FloorKind::Through, reveal: None })
            }
        }
    }

    fn showing(&self, reading: &mut Reading<'_>, name: &str, span: Range<usize>, asked: Length) -> Option<Floor> {
        let layers = &self.blank.layers;
        // The top layer shows without a cut, so a name that occurs again means the next one down.
        let index = layers.iter().enumerate().skip(1).find(|(_, l)| l.sheet.name == name).map(|(i, _)| i);
        let Some(index) = index else {
            let doubt = if layers.first().is_some_and(|l| l.sheet.name == name) {
                kinds::FACE_SHOWN
                    .refusal(format!("`{name}` is the top layer, which the face shows already"))
                    .way_out("leave the area out, or give its depth as `floor = { below_face = 0.5 }`")
            } else {
                let names: Vec<&str> = layers.iter().skip(1).map(|l| l.sheet.name.as_str()).collect();
                kinds::UNKNOWN_SHEET.refusal(format!("the blank has no layer `{name}`")).way_out(instead(
                    name,
                    &names,
                    "under its face it has",
                ))
            };
            reading.doubt(doubt, span);
            return None;
        };
        let level = &self.levels.layers[index];
        let chosen = margin::floor_that_shows(level, asked, self.bow);
        let reveal = chosen.reveal;
        let least = reveal.above_worst.min(reveal.below_worst);
        let inside = chosen.floor < level.top.height && chosen.floor > level.bottom.height;
        let measure = self.what_to_measure();
        if !inside {
            let doubt = kinds::REVEAL_IMPOSSIBLE
                .refusal(format!(
                    "no floor shows `{name}`: it lies from {} ± {} to {} ± {}",
                    level.bottom.height, level.bottom.worst, level.top.height, level.top.worst
                ))
                .way_out(measure);
            reading.doubt(doubt, span);
            return None;
        }
        if least < Length::ZERO {
            let likely = reveal.above_rss.min(reveal.below_rss);
            let chance = if likely >= Length::ZERO {
                format!("likely, with {likely} to spare by root-sum-square")
            } else {
                format!("a matter of luck, {} short even by root-sum-square", -likely)
            };
            let doubt = kinds::REVEAL_UNSURE
                .caution(format!(
                    "that `{name}` shows at {} is {chance}, but in the worst case it misses by {}",
                    chosen.floor, -least
                ))
                .way_out(measure);
            reading.doubt(doubt, span);
        } else if least.to_mm() < asked.to_mm() - 1e-9 {
            let doubt = kinds::REVEAL_THIN
                .caution(format!(
                    "`{name}` shows at {} with only {least} to spare in the worst case, not the {asked} asked for",
                    chosen.floor
                ))
                .way_out(measure);
            reading.doubt(doubt, span);
        }
        Some(Floor { height: chosen.floor, kind: FloorKind::Shows(index), reveal: Some(reveal) })
    }

    fn what_to_measure(&self) -> String {
        let unmeasured: Vec<String> =
            self.blank.layers.iter().filter(|l| !l.measured).map(|l| format!("`{}`", l.sheet.name)).collect();
        match (unmeasured.as_slice(), self.total_measured) {
            ([], true) => "measure with a better micrometer, or use a thicker sheet".into(),
            ([], false) => "measure the bonded blank and add `measured_total`, or use a thicker sheet".into(),
            (some, _) => format!("measure {} and add `measured = [...]`, or use a thicker sheet", some.join(", ")),
        }
    }

    fn below_face(&self, reading: &mut Reading<'_>, depth: Length, span: Range<usize>) -> Option<Floor> {
        let height = microns(self.blank.face - depth);
        self.inside(reading, height, span.clone())?;
        if !self.total_measured {
            let spread = self.levels.face.worst;
            let sure = self.blank.layers.iter().all(|l| l.measured);
            let bow = if self.bow > Length::ZERO {
                format!(", and deeper by up to {} where it bows", self.bow)
            } else {
                String::new()
            };
            let message =
                format!("the depth of {depth} is certain only to ± {spread}{bow}: the bonded blank was not measured");
            let doubt = if sure { kinds::DEPTH_UNSURE.note(message) } else { kinds::DEPTH_UNSURE.caution(message) };
            reading.doubt(
                doubt.way_out("measure the bonded blank and add `measured_total = [...]` to [blank]"),
                span.clone(),
            );
        }
        self.clear_of_bonds(reading, height, span);
        Some(Floor { height, kind: FloorKind::BelowFace(depth), reveal: None })
    }

    fn above_table(&self, reading: &mut Reading<'_>, height: Length, span: Range<usize>) -> Option<Floor> {
        let height = microns(Height::ZERO + height);
        self.inside(reading, height, span.clone())?;
        self.clear_of_bonds(reading, height, span);
        Some(Floor { height, kind: FloorKind::AboveTable, reveal: None })
    }

    /// A floor must lie between underside and face.
    fn inside(&self, reading: &mut Reading<'_>, height: Height, span: Range<usize>) -> Option<()> {
        let (face, underside) = (self.blank.face, self.blank.underside);
        let doubt = if height >= face {
            kinds::FLOOR_OUTSIDE
                .refusal(format!("a floor at {height} is not below the face, which is {face} above the table"))
                .way_out(format!("give a height from {underside} to {face}"))
        } else if height <= underside {
            kinds::FLOOR_OUTSIDE
                .refusal(format!(
                    "a floor at {height} is not above the underside, which is {underside} above the table"
                ))
                .way_out("for a cut-out say `floor = \"through\"`")
        } else {
            let high = underside + self.levels.underside.worst + self.bow;
            if height <= high {
                let doubt = kinds::WEB_UNSURE
                    .caution(format!("a floor at {height} may break through: the underside may be at {high}"))
                    .way_out("choose a higher floor, or `floor = \"through\"`");
                reading.doubt(doubt, span);
            }
            return Some(());
        };
        reading.doubt(doubt, span);
        None
    }

    /// A floor that may lie in either of two layers of different sheets is said.
    fn clear_of_bonds(&self, reading: &mut Reading<'_>, height: Height, span: Range<usize>) {
        let pairs = self.blank.layers.windows(2).zip(self.levels.layers.windows(2));
        for (layers, levels) in pairs {
            let [upper, lower]: [&Level; 2] = [&levels[0], &levels[1]];
            let low = lower.top.height - lower.top.worst;
            let high = upper.bottom.height + upper.bottom.worst + self.bow;
            if height > low && height < high && layers[0].sheet.name != layers[1].sheet.name {
                let doubt = kinds::COLOUR_UNSURE
                    .caution(format!(
                        "a floor at {height} may show `{}` or `{}`: they meet between {low} and {high}",
                        layers[0].sheet.name, layers[1].sheet.name
                    ))
                    .way_out(format!(
                        "say `floor = {{ shows = \"{}\" }}`, choose another height, or measure",
                        layers[1].sheet.name
                    ));
                reading.doubt(doubt, span.clone());
            }
        }
    }

    /// The floor of a cut that goes through, or of the skin that it leaves.
    pub(crate) fn through(
        &mut self,
        reading: &mut Reading<'_>,
        held: &Held,
        span: Range<usize>,
        held_span: Range<usize>,
    ) -> Height {
        let underside = self.blank.underside;
        let spread = self.levels.underside.worst;
        let thickness = self.blank.face - underside;
        match held {
            Held::Skin(skin) => {
                let doubt = if *skin >= thickness {
                    Some(kinds::TABS_WRONG.refusal(format!("a skin of {skin} is all of the blank's {thickness}")))
                } else if *skin <= spread {
                    Some(kinds::SKIN_UNSURE.caution(format!(
                        "a skin of {skin} may be gone in places: the underside is certain to ± {spread}"
                    )))
                } else {
                    None
                };
                if let Some(doubt) = doubt {
                    reading.doubt(doubt.way_out("choose another thickness, or hold it by `tabs`"), held_span);
                }
                return microns(underside + *skin);
            }
            Held::Tabs(tabs) if tabs.left >= thickness => {
                let doubt = kinds::TABS_WRONG
                    .refusal(format!("tabs of {} are as high as the blank's {thickness}", tabs.left))
                    .way_out("choose a lower `left`, such as 0.6 mm");
                reading.doubt(doubt, held_span);
            }
            _ => {}
        }
        let floor = self.overcut_floor();
        if !self.through_said {
            self.through_said = true;
            self.say_through(reading, floor, span);
        }
        floor
    }

    /// As deep as makes sure of it, if what lies under the blank or the grant leaves room; above the table by what the
    /// touch-off may be wrong if there is neither.
    fn overcut_floor(&self) -> Height {
        let wished = OVERCUT.max(self.levels.underside.worst.to_mm() + SURE_BY);
        let wished = self.blank.underside - Length::mm(wished);
        let lowest = if self.blank.into_table > Length::ZERO {
            self.blank.lowest()
        } else {
            Height::ZERO + self.touch_off.max(Length::mm(LEAVES_UNDER))
        };
        let lowest = if self.blank.under.is_empty() && self.blank.into_table == Length::ZERO {
            Height::ZERO + self.touch_off
        } else {
            lowest
        };
        microns(wished.max(lowest))
    }

    fn say_through(&self, reading: &mut Reading<'_>, floor: Height, span: Range<usize>) {
        let underside = self.blank.underside;
        let low = underside - self.levels.underside.worst;
        let ways = "lay tape or a sacrificial sheet under the blank and list it in `under`, or grant a depth with \
            `into_table`";
        if floor >= underside {
            let (skin, most) = (floor - underside, floor - low);
            let doubt = kinds::SKIN_LEFT
                .caution(format!(
                    "a through cut leaves a skin of about {skin}, at most {most}: there is nothing \
                    under the blank to cut into"
                ))
                .way_out(ways);
            reading.doubt(doubt, span);
        } else if floor > low {
            let doubt = kinds::THROUGH_SHALLOW
                .caution(format!("a through cut ends at {floor}, and may leave a skin of up to {}", floor - low))
                .way_out(ways);
            reading.doubt(doubt, span);
        }
    }
}

/// Heights in whole micrometres, as programs say them.
fn microns(height: Height) -> Height {
    Height::mm((height.to_mm() * 1000.0).round() / 1000.0)
}
