//! Heights: the blank as it lies on the table and the floor of every area, chosen here and nowhere later.

use crate::kinds;
use crate::plate_file::{AreaSaid, BlankSaid, FloorSaid, LayerSaid};
use crate::reading::Reading;
use crate::shop_file::ShopFile;
use doubt::nearest;
use plate::{Blank, FloorKind, Held, Layer, Process, Reveal, Sheet, Shop, Under};
use quantity::{Height, Length, trimmed};
use reckon::chance::{Figure, Layered, one_in};
use reckon::margin::{self, LEAVES_UNDER, Level, Levels, OVERCUT, SURE_BY, Stack, Thickness};
use reckon::material::stock_of;
use reckon::wedge::{self, Plane};
use std::ops::Range;

/// The blank with what is needed to choose floors on it.
pub(crate) struct Heights {
    pub(crate) blank: Blank,
    pub(crate) levels: Levels,
    pub(crate) bow: Length,
    pub(crate) total_measured: bool,
    micrometer: Length,
    /// By how much a touched-off height may be wrong, worst case.
    touch_off: Length,
    through_said: bool,
    /// What is known of everything that heights are made of.
    pub(crate) layered: Layered,
    /// The same for the worst case.
    pub(crate) stack: Stack,
}

/// A floor and why it is there.
pub(crate) struct Floor {
    pub(crate) height: Height,
    pub(crate) kind: FloorKind,
    pub(crate) reveal: Option<Reveal>,
}

/// The blank's layers with their heights. `cutters` are the numbers of those that the plate may use.
pub(crate) fn blank(
    reading: &mut Reading<'_>,
    said: &BlankSaid,
    shop: &ShopFile,
    cutters: Option<&[u32]>,
) -> Option<Heights> {
    let sheets: Vec<Option<Sheet>> = said.layers.iter().map(|l| sheet(reading, l, &shop.shop)).collect();
    let sheets: Vec<Sheet> = sheets.into_iter().collect::<Option<_>>()?;
    let figures: Vec<Figure> = said.layers.iter().zip(&sheets).map(|(l, s)| thickness(reading, l, s, said)).collect();
    let (total, wedge) = whole(reading, said)?;
    let layered = Layered {
        sheets: figures,
        bond: Figure::within(
            "bond line",
            Thickness { mean: said.bond, spread: said.bond_spread.min(said.bond) },
            "plate file",
        ),
        total,
        under: said
            .under
            .iter()
            .map(|u| {
                let value = Thickness { mean: u.thickness, spread: u.spread.min(u.thickness) };
                Figure::within(u.name.clone(), value, "plate file")
            })
            .collect(),
        cut: cut_errors(shop, cutters),
        bow: said.bow,
        wedge,
    };
    let stack = layered.stack();
    let levels = match stack.levels() {
        Ok(levels) => levels,
        Err(apart) => {
            let span = said.total.as_ref().map(|t| t.span.clone());
            let span = span.or_else(|| said.points.as_ref().map(|p| p.span.clone())).unwrap_or(0..0);
            reading.doubt(contradiction(&apart, said.layers.len()), span);
            return None;
        }
    };
    let layers = sheets.into_iter().zip(&said.layers).zip(&stack.sheets).zip(&levels.layers);
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
    let touch_off = margin::worst(&stack.touch_off);
    Some(Heights {
        blank,
        levels,
        bow: said.bow,
        total_measured: stack.total.is_some(),
        micrometer: said.micrometer,
        touch_off,
        through_said: false,
        layered,
        stack,
    })
}

/// By how much a cut's height may be wrong. An area may be cut by any of the cutters, so the one that is touched off worst
/// counts.
fn cut_errors(shop: &ShopFile, cutters: Option<&[u32]>) -> Vec<Figure> {
    let used = shop.repeats.iter().filter(|(n, _)| cutters.is_none_or(|all| all.contains(n)));
    let worst = used.max_by(|a, b| a.1.to_mm().total_cmp(&b.1.to_mm()));
    let (repeats, source) = match worst {
        Some((number, repeats)) if *repeats != shop.shop.touch_off.repeatability => {
            (*repeats, format!("shop file, cutter {number}"))
        }
        _ => (shop.shop.touch_off.repeatability, "shop file, [touch_off]".to_owned()),
    };
    let touch_off = &shop.shop.touch_off;
    let step = margin::step_error(shop.shop.machine.resolution, touch_off.feeler);
    let error = |name: &str, spread: Length, source: String| {
        Figure::within(name, Thickness { mean: Length::ZERO, spread }, source)
    };
    vec![
        error("touch-off", repeats, source),
        error("feeler", touch_off.feeler_error, "shop file, [touch_off]".into()),
        error("step of the machine", step, "shop file, `resolution`".into()),
        error("play in z", shop.backlash, "shop file, `backlash`".into()),
    ]
}

/// The bonded whole, and by how much its corners differ from its middle.
fn whole(reading: &mut Reading<'_>, said: &BlankSaid) -> Option<(Option<Figure>, Length)> {
    let span = said.total.as_ref().map(|t| t.span.clone()).or_else(|| said.points.as_ref().map(|p| p.span.clone()));
    if let Some(span) = span {
        say_film(reading, "the bonded blank", said.total_film, said.film, span);
    }
    let less_film = |figure: Figure| film_off(figure, said.total_film, said.film);
    let Some(points) = &said.points else {
        let total = said.total.as_ref().and_then(|t| Figure::measured("bonded blank", &t.value, said.micrometer));
        return Some((total.map(less_film), Length::ZERO));
    };
    let [wide, deep] = said.size.value.map(Length::to_mm);
    if let Some(off) = points.value.iter().find(|r| r.at.x > wide || r.at.y > deep) {
        let doubt = kinds::POINT_OFF_BLANK
            .refusal(format!(
                "a reading at x {} y {} is off the blank, which is {} by {}",
                trimmed(off.at.x, 2),
                trimmed(off.at.y, 2),
                said.size.value[0],
                said.size.value[1]
            ))
            .way_out("count points from the blank's zero corner, in this file's unit");
        reading.doubt(doubt, points.span.clone());
        return None;
    }
    let Some(plane) = wedge::plane(&points.value, said.size.value, said.micrometer).filter(Plane::is_wedge) else {
        let thicknesses: Vec<Length> = points.value.iter().map(|r| r.thickness).collect();
        let total = Figure::measured("bonded blank", &thicknesses, said.micrometer);
        return Some((total.map(less_film), Length::ZERO));
    };
    let doubt = kinds::WEDGE
        .caution(format!(
            "the blank is a wedge: across it thickness changes by {}, of which the readings' error explains {}; it is \
            thickest at x {} y {}",
            microns_of(plane.across),
            microns_of(plane.explained),
            trimmed(plane.thickest.x, 2),
            trimmed(plane.thickest.y, 2)
        ))
        .noting(format!("every margin counts the worst corner, ± {} from the middle", microns_of(plane.half())))
        .way_out("look at the bond and at what lies under; a thicker layer or less `margin` is what a wedge takes");
    reading.doubt(doubt, points.span.clone());
    Some((Some(less_film(Figure::middle_of("bonded blank", &plane, said.micrometer))), plane.half()))
}

fn say_film(reading: &mut Reading<'_>, what: &str, sides: u32, film: Thickness, span: Range<usize>) {
    let on = match sides {
        0 => return,
        1 => "one side",
        _ => "both sides",
    };
    let doubt = kinds::FILM_TAKEN_OFF
        .note(format!(
            "{what} was read with masking film on {on}: {} ± {} a side is taken off",
            film.mean,
            film.spread.min(film.mean)
        ))
        .way_out("measure without the film, or give the film's thickness as `film` in [blank]");
    reading.doubt(doubt, span);
}

/// Readings that were taken with masking film on so many sides.
fn film_off(figure: Figure, sides: u32, film: Thickness) -> Figure {
    if sides == 0 {
        return figure;
    }
    let times = f64::from(sides);
    let spread = film.spread.min(film.mean);
    figure.less(Thickness { mean: film.mean * times, spread: spread * times }, "masking film")
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

fn thickness(reading: &mut Reading<'_>, layer: &LayerSaid, sheet: &Sheet, blank: &BlankSaid) -> Figure {
    let read = layer.measured.as_ref().and_then(|m| Figure::measured(&sheet.name, &m.value, blank.micrometer));
    if let Some(figure) = read.map(|f| film_off(f, layer.film, blank.film)) {
        let found = figure.value;
        let span = layer.measured.as_ref().map_or(0..0, |m| m.span.clone());
        say_film(reading, &format!("`{}`", sheet.name), layer.film, blank.film, span);
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
        return figure;
    }
    let label = margin::labelled(sheet.thickness, sheet.process);
    let by = match sheet.process {
        Process::Cast => "the tolerance of cast sheet, ISO 7823-1".to_owned(),
        Process::Extruded => "the tolerance of extruded sheet, ISO 7823-2".to_owned(),
        Process::Stated(_) => "the shop file's tolerance".to_owned(),
        Process::Usual(material) => {
            let stock = stock_of(material);
            format!("what is usual for {} ({})", stock.name, stock.tolerance.map_or("", |t| t.2))
        }
    };
    let doubt = kinds::THICKNESS_ASSUMED
        .note(format!("`{}` was not measured: {} ± {} is assumed, {by}", sheet.name, label.mean, label.spread))
        .way_out("measure it in a few places and add `measured = [...]`");
    reading.doubt(doubt, layer.sheet.span.clone());
    Figure::within(&sheet.name, label, by)
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
            // What stays when the blank is measured: what lies under it, the touch-off, the micrometer.
            let measured = microns_of(self.levels.underside.worst + self.micrometer);
            let from_face = microns_of(self.touch_off);
            let doubt = doubt.noting(format!(
                "counted from the table, a depth carries all of the blank's thickness; touched off on the face it would be \
                certain to ± {from_face}"
            ));
            reading.doubt(
                doubt.way_out(format!(
                    "measure the bonded blank and add `measured_total = [...]` to [blank]: readings good to {} make the \
                    depth certain to ± {measured}",
                    self.micrometer
                )),
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
                    .caution(format!(
                        "a floor at {height} may break through on {}: the underside may be at {high}",
                        one_in(self.layered.breaks_through(height))
                    ))
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
                        "a skin of {skin} may be gone in places on {}: the underside is certain to ± {spread}",
                        one_in(self.layered.breaks_through(microns(underside + *skin)))
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
            Held::Tabs(tabs) if tabs.left / 2.0 <= spread => {
                let half = microns(underside + tabs.left / 2.0);
                let doubt = kinds::TABS_UNSURE
                    .caution(format!(
                        "tabs of {} may come out less than half as high on {}: the underside is certain to ± {spread}",
                        tabs.left,
                        one_in(self.layered.breaks_through(half))
                    ))
                    .way_out(format!("choose a `left` above {}", microns_of(spread * 2.0)));
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
                .caution(format!(
                    "a through cut ends at {floor}, and may leave a skin of up to {} on {}",
                    floor - low,
                    one_in(1.0 - self.layered.breaks_through(floor))
                ))
                .way_out(ways);
            reading.doubt(doubt, span);
        }
    }
}

/// A length in whole micrometres, for messages.
fn microns_of(length: Length) -> Length {
    Length::mm((length.to_mm() * 1000.0).round() / 1000.0)
}

/// Heights in whole micrometres, as programs say them.
fn microns(height: Height) -> Height {
    Height::mm((height.to_mm() * 1000.0).round() / 1000.0)
}
