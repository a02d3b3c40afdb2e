//! The shop file as the domain's values, and the kinds of holds it knows.

use crate::kinds::{CLEARANCE_SMALL, CUTTER_CONTRADICTION, FORM_UNCLEAR, REPEATED_NAME, SPINDLE_SPEEDS, WIDTH_ASSUMED};
use crate::reading::{Reading, Said, Table};
use crate::schema;
use doubt::{Doubt, Place};
use plate::{
    AlongWalls, Cutter, Dialect, Form, Machine, Material, OutUnits, Process, Sheet, Shop, SpeedNote, Spindle,
    SpindleSpeed, TouchOff,
};
use quantity::{Angle, Length, Speed, Unit};
use reckon::load;
use std::ops::Range;

/// A screw or clamp that the shop has.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct HoldKind {
    pub(crate) name: String,
    pub(crate) round: bool,
    pub(crate) size: [Length; 2],
    pub(crate) height: Length,
}

/// What a shop file holds.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ShopFile {
    pub(crate) shop: Shop,
    pub(crate) holds: Vec<HoldKind>,
    /// Where each cutter's number is said.
    pub(crate) places: Vec<(u32, Place)>,
    /// By how much each cutter's touch-off repeats, by number.
    pub(crate) repeats: Vec<(u32, Length)>,
    /// The machine's play in z.
    pub(crate) backlash: Length,
}

/// Reads a shop file; `None` for the shop if anything blocks.
pub(crate) fn read(file: &str, text: &str) -> (Option<ShopFile>, Vec<Doubt>) {
    let (mut reading, root) = Reading::parse(file, text);
    let top = reading.table(&schema::SHOP, root.get_ref(), root.span());
    if let Some(unit) = reading.word_or(&top, "units").as_deref().and_then(Unit::named) {
        reading.set_unit(unit);
    }
    let found = shop(&mut reading, &top);
    let doubts = reading.finish();
    let whole = found.filter(|_| !doubt::any_blocks(&doubts));
    (whole, doubts)
}

fn shop(reading: &mut Reading<'_>, top: &Table<'_>) -> Option<ShopFile> {
    let name = reading.text(top, "name");
    let machine = reading.inner(top, "machine", &schema::MACHINE).and_then(|t| machine(reading, &t));
    let spindle = reading.inner(top, "spindle", &schema::SPINDLE).and_then(|t| spindle(reading, &t));
    let empty = toml::de::DeTable::new();
    let absent = |reading: &mut Reading<'_>, section| reading.table(section, &empty, 0..0);
    let touch_off = match reading.inner(top, "touch_off", &schema::TOUCH_OFF) {
        Some(table) => touch_off(reading, &table),
        None => {
            let table = absent(reading, &schema::TOUCH_OFF);
            touch_off(reading, &table)
        }
    };
    let dialect = match reading.inner(top, "dialect", &schema::DIALECT) {
        Some(table) => dialect(reading, &table),
        None => {
            let table = absent(reading, &schema::DIALECT);
            dialect(reading, &table)
        }
    };
    let (mut assumed, mut own_repeats) = (Vec::new(), Vec::new());
    let cutters: Vec<Option<(Said<Cutter>, Range<usize>)>> = reading
        .inner_list(top, "cutter", &schema::CUTTER)
        .iter()
        .map(|t| {
            own_repeats.push(reading.length(t, "repeatability").map(|r| r.value));
            Some((
                Said { value: cutter(reading, t, spindle.as_ref(), &mut assumed)?, span: t.key_span("name") },
                t.key_span("number"),
            ))
        })
        .collect();
    // A cutter without any is as good as the shop's; one that can't be read has its own doubt.
    let repeats: Vec<Option<Option<Length>>> =
        cutters.iter().zip(own_repeats).map(|(c, own)| c.as_ref().map(|_| own)).collect();
    if !assumed.is_empty() {
        let mut doubt = WIDTH_ASSUMED.note("figures of cutters that the shop file leaves out were assumed");
        doubt = assumed.into_iter().fold(doubt, Doubt::noting);
        let doubt = doubt.way_out("cut a test slot and give its width as `cutting_width`; measure the rest");
        reading.doubt(doubt, top.key_span("cutter"));
    }
    let sheets: Vec<Option<Said<Sheet>>> = reading
        .inner_list(top, "sheet", &schema::SHEET)
        .iter()
        .map(|t| Some(Said { value: sheet(reading, t)?, span: t.key_span("name") }))
        .collect();
    let holds: Vec<Option<Said<HoldKind>>> = reading
        .inner_list(top, "hold", &schema::SHOP_HOLD)
        .iter()
        .map(|t| Some(Said { value: hold(reading, t)?, span: t.key_span("name") }))
        .collect();
    let known = |c: &Option<(Said<Cutter>, Range<usize>)>| c.clone();
    let numbered: Vec<_> = cutters.iter().filter_map(known).collect();
    once_each(reading, "cutter", numbered.iter().map(|(c, _)| (c.value.name.as_str(), c.span.clone())));
    let numbers: Vec<_> = numbered.iter().map(|(c, at)| (c.value.number.to_string(), at.clone())).collect();
    once_each(reading, "cutter number", numbers.iter().map(|(n, at)| (n.as_str(), at.clone())));
    once_each(reading, "sheet", sheets.iter().flatten().map(|s| (s.value.name.as_str(), s.span.clone())));
    once_each(reading, "hold", holds.iter().flatten().map(|h| (h.value.name.as_str(), h.span.clone())));
    let (machine, backlash) = machine?;
    let touch_off = touch_off?;
    let repeats = numbered
        .iter()
        .map(|(c, _)| c.value.number)
        .zip(repeats.into_iter().flatten())
        .map(|(n, own)| (n, own.unwrap_or(touch_off.repeatability)))
        .collect();
    let places = numbered.iter().map(|(c, at)| (c.value.number, reading.place(at.clone()))).collect();
    Some(ShopFile {
        places,
        repeats,
        backlash,
        shop: Shop {
            name: name?.value,
            cutters: cutters.into_iter().map(|c| Some(c?.0.value)).collect::<Option<_>>()?,
            machine,
            spindle: spindle?,
            touch_off,
            dialect: dialect?,
            sheets: sheets.into_iter().map(|s| Some(s?.value)).collect::<Option<_>>()?,
        },
        holds: holds.into_iter().map(|h| Some(h?.value)).collect::<Option<_>>()?,
    })
}

/// Names must differ, so that a plate file means one thing only.
fn once_each<'n>(reading: &mut Reading<'_>, what: &str, names: impl Iterator<Item = (&'n str, Range<usize>)>) {
    let mut seen: Vec<(&str, Range<usize>)> = Vec::new();
    for (name, span) in names {
        if let Some((_, first)) = seen.iter().find(|(n, _)| *n == name) {
            let doubt = REPEATED_NAME
                .refusal(format!("two of the shop's entries share the {what} `{name}`"))
                .at(reading.place(span.clone()))
                .at(reading.place(first.clone()))
                .way_out("give each its own");
            reading.add(doubt);
        } else {
            seen.push((name, span));
        }
    }
}

/// Holds stand higher than their kinds say by as much, mm: screws not driven home, clamps that tip (common practice, no source).
const CLOSE: f64 = 2.0;

/// A clearance that leaves too little for holds that stand higher than they should.
fn close_above(reading: &mut Reading<'_>, t: &Table<'_>, clearance: Length) {
    if clearance.to_mm() >= CLOSE {
        return;
    }
    let doubt = CLEARANCE_SMALL
        .caution(format!("traverses run only {clearance} above the highest thing on the table"))
        .way_out("say `clearance = \"3 mm\"` in the shop file, or measure every hold as it stands");
    reading.doubt(doubt, t.key_span("clearance"));
}

/// The machine and its play in z.
fn machine(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<(Machine, Length)> {
    let name = reading.text_or(t, "name");
    let travel = reading.lengths(t, "travel");
    let [greatest_feed, greatest_feed_z, rapid, rapid_z] =
        ["greatest_feed", "greatest_feed_z", "rapid", "rapid_z"].map(|k| reading.feed_or(t, k));
    let acceleration = reading.numbers_or(t, "acceleration");
    let [corner_deviation, resolution, clearance, backlash] =
        ["corner_deviation", "resolution", "clearance", "backlash"].map(|k| reading.length_or(t, k));
    if let Some(clearance) = clearance {
        close_above(reading, t, clearance);
    }
    let walls = reading.word_or(t, "walls").map(|word| match word.as_str() {
        "conventional" => AlongWalls::Conventional,
        _ => AlongWalls::Climb,
    });
    let side_force = reading.number(t, "side_force").map(|f| f.value);
    let [program_start, cutter_change] = ["program_start", "cutter_change"].map(|k| reading.number_or(t, k));
    let machine = Machine {
        name: name?,
        travel: travel?.value.try_into().ok()?,
        greatest_feed: greatest_feed?,
        greatest_feed_z: greatest_feed_z?,
        rapid: rapid?,
        rapid_z: rapid_z?,
        acceleration: acceleration?.try_into().ok()?,
        corner_deviation: corner_deviation?,
        resolution: resolution?,
        clearance: clearance?,
        walls: walls?,
        side_force,
        program_start: program_start?,
        cutter_change: cutter_change?,
    };
    Some((machine, backlash?))
}

fn spindle(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<Spindle> {
    let speed = spindle_speed(reading, t);
    let power = reading.number_or(t, "power");
    let [nut_diameter, nut_length, body_diameter] =
        ["nut_diameter", "nut_length", "body_diameter"].map(|k| reading.length_or(t, k));
    Some(Spindle {
        speed: speed?,
        power: power?,
        nut_diameter: nut_diameter?,
        nut_length: nut_length?,
        body_diameter: body_diameter?,
    })
}

fn spindle_speed(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<SpindleSpeed> {
    let (least, greatest) = (reading.speed(t, "least"), reading.speed(t, "greatest"));
    let positions = reading.inner_list(t, "dial", &schema::DIAL);
    let dial: Vec<Option<(Said<String>, Said<Speed>)>> = positions
        .iter()
        .map(|p| {
            let (position, speed) = (reading.text(p, "position"), reading.speed(p, "speed"));
            position.zip(speed)
        })
        .collect();
    let two_ways = "give either `least` and `greatest`, or `dial` with at least one position";
    match (t.has("dial"), t.has("least"), t.has("greatest")) {
        (false, true, true) => {
            let (least, greatest) = (least?, greatest?);
            if least.value > greatest.value {
                let doubt = SPINDLE_SPEEDS
                    .refusal(format!("the slowest speed, {}, is above the fastest, {}", least.value, greatest.value))
                    .way_out("exchange the two");
                reading.doubt(doubt, least.span);
                return None;
            }
            Some(SpindleSpeed::Range { least: least.value, greatest: greatest.value })
        }
        (true, false, false) => {
            let dial: Vec<_> = dial.into_iter().collect::<Option<_>>()?;
            if dial.is_empty() {
                let doubt = SPINDLE_SPEEDS.refusal("the dial has no positions").way_out(two_ways);
                reading.doubt(doubt, t.key_span("dial"));
                return None;
            }
            let falls = dial.windows(2).find(|w| w[1].1.value <= w[0].1.value).map(|w| w[1].1.span.clone());
            if let Some(span) = falls {
                let doubt = SPINDLE_SPEEDS
                    .refusal("this position of the dial is not faster than the one before it")
                    .way_out("list the positions slowest first, each with its own speed");
                reading.doubt(doubt, span);
                return None;
            }
            once_each(reading, "dial position", dial.iter().map(|(p, _)| (p.value.as_str(), p.span.clone())));
            Some(SpindleSpeed::Dial(dial.into_iter().map(|(p, s)| (p.value, s.value)).collect()))
        }
        _ => {
            let doubt = SPINDLE_SPEEDS.refusal("the spindle's speeds are not clear").way_out(two_ways);
            reading.doubt(doubt, first_line(t));
            None
        }
    }
}

fn touch_off(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<TouchOff> {
    let [feeler, feeler_error, repeatability] =
        ["feeler", "feeler_error", "repeatability"].map(|k| reading.length_or(t, k));
    Some(TouchOff { feeler: feeler?, feeler_error: feeler_error?, repeatability: repeatability? })
}

fn dialect(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<Dialect> {
    let units = match reading.word_or(t, "units").as_deref() {
        Some("in") => OutUnits::Inch,
        _ => OutUnits::Mm,
    };
    let decimals = reading.whole(t, "decimals").map(|d| d.value);
    let (line_numbers, arcs) = (reading.flag(t, "line_numbers"), reading.flag(t, "arcs"));
    let end = reading.word_or(t, "end");
    let speed = match reading.word_or(t, "speed").as_deref() {
        Some("dial note") => SpeedNote::DialNote,
        _ => SpeedNote::Words,
    };
    let extension = reading.text_or(t, "extension").map(|e| e.trim_start_matches('.').to_owned());
    let odd = |e: &String| e.is_empty() || e.len() > 12 || !e.bytes().all(|b| b.is_ascii_alphanumeric());
    if let Some(e) = extension.as_ref().filter(|e| odd(e)) {
        let doubt = crate::kinds::OUT_OF_RANGE
            .refusal(format!("`extension` in [dialect] is \"{e}\"; it takes up to 12 letters and digits"))
            .way_out("write it as in `extension = \"nc\"`");
        reading.doubt(doubt, t.key_span("extension"));
    }
    let usual = if units == OutUnits::Mm { 3 } else { 5 };
    Some(Dialect {
        units,
        decimals: u8::try_from(decimals.unwrap_or(usual)).ok()?,
        line_numbers: line_numbers?,
        arcs: arcs?,
        end: end?,
        speed,
        extension: extension?,
    })
}

/// A speed of the maker's own must be one that the spindle can be set to.
fn settable(reading: &mut Reading<'_>, said: &Said<Speed>, spindle: &Spindle) {
    if load::settable(&spindle.speed, said.value) {
        return;
    }
    let way_out = match &spindle.speed {
        SpindleSpeed::Range { least, greatest } => format!("it runs from {least} to {greatest}"),
        SpindleSpeed::Dial(positions) => {
            let each: Vec<String> = positions.iter().map(|(name, s)| format!("{s} at {name}")).collect();
            format!("its dial has {}", each.join(", "))
        }
    };
    let doubt = SPINDLE_SPEEDS.refusal(format!("the spindle can't be set to {}", said.value)).way_out(way_out);
    reading.doubt(doubt, said.span.clone());
}

/// One cutter of a shop with this spindle; what is assumed about it is put with `said`.
fn cutter(
    reading: &mut Reading<'_>,
    t: &Table<'_>,
    spindle: Option<&Spindle>,
    said: &mut Vec<String>,
) -> Option<Cutter> {
    let (number, name) = (reading.whole(t, "number"), reading.text(t, "name"));
    let diameter = reading.length(t, "diameter").map(|d| d.value);
    let form = form(reading, t, diameter);
    let width = reading.length(t, "cutting_width");
    let flutes = reading.whole_or(t, "flutes");
    let (flute_length, stick_out) = (reading.length(t, "flute_length"), reading.length(t, "stick_out"));
    let (core, shank) = (reading.length(t, "core"), reading.length(t, "shank"));
    let may_drill = reading.flag(t, "may_drill");
    let stepover = reading.number_or(t, "stepover");
    let (chip_load, pass_depth) = (reading.length(t, "chip_load"), reading.length(t, "pass_depth"));
    let (feed, plunge) = (reading.feed(t, "feed"), reading.feed(t, "plunge"));
    let (entry_angle, speed) = (reading.number(t, "entry_angle"), reading.speed(t, "speed"));
    if let Some((said, spindle)) = speed.as_ref().zip(spindle) {
        settable(reading, said, spindle);
    }
    let (number, name, diameter) = (number?.value, name?.value, diameter?);
    let odd = |reading: &mut Reading<'_>, key: &str, message: String, way_out: &str| {
        let doubt = CUTTER_CONTRADICTION.refusal(format!("cutter {number} (`{name}`): {message}")).way_out(way_out);
        reading.doubt(doubt, t.key_span(key));
    };
    if let Some(w) = &width
        && !(0.5..=1.5).contains(&(w.value.to_mm() / diameter.to_mm()))
    {
        let message = format!("a cutting width of {} can't belong to a diameter of {diameter}", w.value);
        odd(reading, "cutting_width", message, "measure the slot of a test cut again, or correct the diameter");
    }
    if let Some(c) = &core
        && c.value > diameter
    {
        let message = format!("a core of {} is thicker than the diameter of {diameter}", c.value);
        odd(reading, "core", message, "the core is what is left between the flutes; leave it out if you don't know it");
    }
    if let (Some(f), Some(s)) = (&flute_length, &stick_out)
        && f.value > s.value
    {
        let message = format!("flutes of {} stand out by only {}", f.value, s.value);
        odd(
            reading,
            "stick_out",
            message,
            "the flutes must stay out of the collet: set it further out, or correct the lengths",
        );
    }
    let mut assumed = Vec::new();
    if width.is_none() && !t.has("cutting_width") {
        assumed.push(format!("cutting width {diameter} (the diameter)"));
    }
    let usual_core = Length::mm((diameter.to_mm() * 0.6 * 1e6).round() / 1e6);
    if core.is_none() && !t.has("core") {
        assumed.push(format!("core {usual_core} (0.6 of the diameter)"));
    }
    if shank.is_none() && !t.has("shank") {
        assumed.push(format!("shank {diameter} (the diameter)"));
    }
    if !assumed.is_empty() {
        said.push(format!("cutter {number} (`{name}`): {}", assumed.join(", ")));
    }
    Some(Cutter {
        number,
        name,
        form: form?,
        diameter,
        cutting_width: width.as_ref().map_or(diameter, |w| w.value),
        width_measured: width.is_some(),
        flutes: flutes?,
        flute_length: flute_length?.value,
        core: core.map_or(usual_core, |c| c.value),
        shank: shank.map_or(diameter, |s| s.value),
        stick_out: stick_out?.value,
        may_drill: may_drill?,
        stepover: stepover?,
        chip_load: chip_load.map(|c| c.value),
        feed: feed.map(|f| f.value),
        pass_depth: pass_depth.map(|d| d.value),
        plunge: plunge.map(|p| p.value),
        entry_angle: entry_angle.map(|a| Angle::deg(a.value)),
        speed: speed.map(|s| s.value),
    })
}

fn form(reading: &mut Reading<'_>, t: &Table<'_>, diameter: Option<Length>) -> Option<Form> {
    let word = reading.word_or(t, "form")?;
    let angle = reading.number(t, "angle");
    let tip = reading.length_or(t, "tip");
    let corner = reading.length(t, "corner");
    let mut contradicted = |message: String, way_out: &str, key: &str| {
        reading.doubt(CUTTER_CONTRADICTION.refusal(message).way_out(way_out), t.key_span(key));
    };
    let (takes, form): (&[&str], Option<Form>) = match word.as_str() {
        "vee" | "taper" => {
            if !t.has("angle") {
                let way_out = "add it in degrees as sold, for example `angle = 60`";
                contradicted(format!("a {word} cutter needs its included angle"), way_out, "form");
                return None;
            }
            let (angle, tip) = (Angle::deg(angle?.value), tip?);
            if diameter.is_some_and(|d| tip >= d) {
                let way_out =
                    "`tip` is the diameter of the small flat at a vee's point (0 for a point) or of a taper's ball";
                contradicted(format!("a tip of {tip} leaves nothing of the {word}"), way_out, "tip");
                return None;
            }
            if word == "taper" && tip <= Length::ZERO {
                let way_out = "add it, for example `tip = 0.5`, or say `form = \"vee\"`";
                contradicted("a taper needs the diameter of the ball at its tip".to_owned(), way_out, "form");
                return None;
            }
            (&["angle", "tip"], Some(if word == "vee" { Form::Vee { angle, tip } } else { Form::Taper { angle, tip } }))
        }
        "bull nose" => {
            if !t.has("corner") {
                let way_out = "add it, for example `corner = 0.5`";
                contradicted("a bull nose needs the radius of its corners".to_owned(), way_out, "form");
                return None;
            }
            let corner = corner?.value;
            if diameter.is_some_and(|d| corner * 2.0 > d) {
                let way_out = "`corner` is a radius, at most half the diameter; at half, say `form = \"ball\"`";
                contradicted(format!("corners of {corner} don't fit on the cutter"), way_out, "corner");
                return None;
            }
            (&["corner"], Some(Form::BullNose { corner }))
        }
        "ball" => (&[], Some(Form::Ball)),
        _ => (&[], Some(Form::Flat)),
    };
    for key in ["angle", "tip", "corner"].into_iter().filter(|k| t.has(k) && !takes.contains(k)) {
        let has = match key {
            "corner" => "say `form = \"bull nose\"`",
            _ => "say `form = \"vee\"`",
        };
        contradicted(format!("a {word} cutter has no `{key}`"), &format!("take it out, or {has}"), key);
    }
    form
}

fn sheet(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<Sheet> {
    let (name, thickness) = (reading.text(t, "name"), reading.length(t, "thickness"));
    let material = reading.word_or(t, "material");
    let other = material.as_deref().and_then(other_material);
    // Only of acrylic it is assumed how it was made.
    let made = if other.is_some() { None } else { reading.word_or(t, "made") };
    if let Some(material) = &material
        && other.is_some()
        && t.has("made")
    {
        let doubt = FORM_UNCLEAR
            .refusal(format!("`made` says how acrylic was made, but this sheet is {material}"))
            .way_out("take `made` out, or say `material = \"acrylic\"`");
        reading.doubt(doubt, t.key_span("made"));
    }
    let tolerance = reading.length(t, "tolerance");
    let colour = reading.colour(t, "colour");
    let passes_light = reading.number_or(t, "passes_light");
    let (material, process) = match (material?, other) {
        (_, Some(other)) => (other, Process::Usual(other)),
        _ if made? == "extruded" => (Material::ExtrudedAcrylic, Process::Extruded),
        _ => (Material::CastAcrylic, Process::Cast),
    };
    Some(Sheet {
        name: name?.value,
        thickness: thickness?.value,
        material,
        process: tolerance.map_or(process, |t| Process::Stated(t.value)),
        colour: colour?,
        passes_light: passes_light?,
    })
}

/// The material of a word of the file; `None` for acrylic, which is cast or extruded.
fn other_material(word: &str) -> Option<Material> {
    Some(match word {
        "polycarbonate" => Material::Polycarbonate,
        "ABS" => Material::Abs,
        "PETG" => Material::Petg,
        "expanded PVC" => Material::ExpandedPvc,
        "HDPE" => Material::Hdpe,
        "birch plywood" => Material::BirchPlywood,
        "hardwood" => Material::Hardwood,
        "aluminium" => Material::Aluminium,
        "brass" => Material::Brass,
        _ => return None,
    })
}

fn hold(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<HoldKind> {
    let name = reading.text(t, "name");
    let shape = reading.word_or(t, "shape");
    let (size, height) = (reading.lengths(t, "size"), reading.length(t, "height"));
    let round = shape? == "round";
    let (name, size) = (name?.value, size?);
    let pair: [Length; 2] = size.value.try_into().ok()?;
    if round && pair[0] != pair[1] {
        let doubt = crate::kinds::OUT_OF_RANGE
            .refusal(format!("`{name}` is round but {} by {}", pair[0], pair[1]))
            .way_out("give the diameter twice, or say `shape = \"rectangle\"`");
        reading.doubt(doubt, size.span);
        return None;
    }
    Some(HoldKind { name, round, size: pair, height: height?.value })
}

/// The start of a table, for doubts about all of it.
fn first_line(t: &Table<'_>) -> Range<usize> {
    t.span.start..(t.span.start + 1).min(t.span.end)
}
