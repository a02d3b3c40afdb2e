//! Plate file, shop file and drawing to the domain's values: a shop and an intent. Heights are chosen here.
//!
//! Reading never fails: it gives what it understood and the doubts, every one with its place and a way out, and a job
//! only if none of them blocks. This crate plans nothing and writes nothing. Its one idea: a value is checked once
//! where it is read, through one [`schema`] that the messages and the docs are made from as well.
//!
//! Order of the work: the plate file by itself, the shop, the drawing, then each against the others: layers to
//! heights, names to regions, floors, deepest wins, outline, holds, machine.

mod edit;
mod floor_edit;
mod heights;
mod holds;
mod kinds;
mod lettering;
mod lettering_said;
mod plate_file;
mod reading;
mod readings_edit;
mod regions;
pub mod schema;
mod sentence;
mod shop_edit;
mod shop_file;
mod showing;
mod text_edit;

pub use edit::{Change, Said as Put, Step, with_changes};
pub use floor_edit::{FloorLine, FloorWords, floors, shop_named, title, with_floor};
pub use kinds::KINDS;
pub use readings_edit::{CutterLine, LayerLine, cutter_lines, layer_lines, with_diameter, with_measured};
pub use regions::{SLIVER, SPECK, placing, without_specks};
pub use sentence::{floor_said, sentence, through_sentence};
pub use shop_edit::{pace_lines, with_pace};
pub use text_edit::NoEdit;

use doubt::{Doubt, Place, Severity};
use drawing::{Drawing, ReadOptions, Strokes};
use lettering::Fonts;
use plate::{Held, Intent, Outline, Shop};
use plate_file::{CutterName, Named, PlateFile};
use quantity::Length;
use reading::{Reading, Said};
use reckon::chance::Layered;
use regions::{Artwork, Wanted};
use std::collections::BTreeMap;
use std::io;
use std::path::Path;

/// The built-in shop, used when a plate file names no shop and there is no `shop.toml` beside it.
pub const STARTER_SHOP: &str = include_str!("starter-shop.toml");
/// How doubts and places name the built-in shop.
pub const STARTER_SHOP_FILE: &str = "starter-shop.toml (built in)";
/// Largest file that is read, bytes.
const LARGEST_FILE: usize = 64 << 20;

/// What is to be made and with what.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// The workshop.
    pub shop: Shop,
    /// The finished plate.
    pub intent: Intent,
    /// What is known of every thickness and height that floors were chosen by, with where it comes from.
    pub layered: Layered,
    /// Margin that floors which show a layer shall keep on both sides.
    pub margin: Length,
    /// By how much each cutter's touch-off repeats, by its number.
    pub repeats: Vec<(u32, Length)>,
}

/// All that came of a plate file.
#[derive(Debug, Clone, Default)]
pub struct Taken {
    /// The job, if no doubt blocks.
    pub job: Option<Job>,
    /// Doubts in the order of the files.
    pub doubts: Vec<Doubt>,
    /// Texts of the files that doubts point into, by the name that places use.
    pub sources: BTreeMap<String, String>,
    /// Every file read, by the name the plate file uses, with its bytes.
    pub inputs: Vec<(String, Vec<u8>)>,
    /// The drawing as read.
    pub drawing: Option<Drawing>,
}

/// Reads a plate file from disk, with its drawing, shop and fonts from its own folder.
pub fn take(plate_path: &Path) -> Taken {
    let name = plate_path.file_name().map_or_else(|| "plate.toml".into(), |n| n.to_string_lossy().into_owned());
    let folder = plate_path.parent().unwrap_or(Path::new("")).to_path_buf();
    match read_file(plate_path) {
        Ok(bytes) => take_named(&name, &bytes, &|file| read_file(&folder.join(file))),
        Err(error) => {
            let doubt = kinds::FILE_MISSING
                .refusal(format!("the plate file `{}` can't be read: {}", plate_path.display(), reason(&error)))
                .at(Place::file(&name))
                .way_out("check its name and folder");
            Taken { doubts: vec![doubt], ..Taken::default() }
        }
    }
}

/// The bytes of a plain file of a size that can be one of ours: a device could go on for ever.
fn read_file(path: &Path) -> io::Result<Vec<u8>> {
    let found = std::fs::metadata(path)?;
    if found.is_dir() {
        return Err(io::ErrorKind::IsADirectory.into());
    }
    if !found.is_file() {
        return Err(io::Error::other("it is not a plain file"));
    }
    if found.len() > LARGEST_FILE as u64 {
        return Err(io::ErrorKind::FileTooLarge.into());
    }
    std::fs::read(path)
}

/// Reads a plate file from its text; `lookup` gives the bytes of the files that it names.
pub fn take_from(plate_text: &str, lookup: &dyn Fn(&str) -> io::Result<Vec<u8>>) -> Taken {
    take_named("plate.toml", plate_text.as_bytes(), lookup)
}

/// Reads a plate file of a name from its bytes; `lookup` gives the bytes of the files that it names.
pub fn take_named(name: &str, bytes: &[u8], lookup: &dyn Fn(&str) -> io::Result<Vec<u8>>) -> Taken {
    let mut taken = Taken { inputs: vec![(name.to_owned(), bytes.to_vec())], ..Taken::default() };
    let text = match as_text(name, bytes) {
        Ok(text) => text,
        Err(doubt) => {
            taken.doubts.push(doubt);
            return taken;
        }
    };
    taken.sources.insert(name.to_owned(), text.to_owned());
    let (mut reading, root) = Reading::parse(name, text);
    let top = reading.table(&schema::PLATE, root.get_ref(), root.span());
    let (named, plate) = plate_file::read(&mut reading, &top);
    let shop = find_shop(&mut reading, &named, lookup, &mut taken);
    let drawing = find_drawing(&mut reading, &named, lookup, &mut taken);
    let fonts = find_fonts(&mut reading, &named, lookup, &mut taken);
    let mut intent = None;
    if let (Some(plate), Some(drawing)) = (&plate, &drawing) {
        taken.doubts.extend(weighed(drawing, Some(plate)));
        if let Some(shop) = &shop {
            intent = compare(&mut reading, plate, shop, drawing, fonts);
        }
    } else if let Some(drawing) = &drawing {
        taken.doubts.extend(weighed(drawing, None));
    }
    taken.drawing = drawing;
    taken.doubts.splice(0..0, reading.finish());
    in_order(&mut taken.doubts, name);
    if let (Some((intent, layered)), Some(shop)) = (intent, shop)
        && !doubt::any_blocks(&taken.doubts)
    {
        let margin = plate.map_or(Length::ZERO, |p| p.margin);
        taken.job = Some(Job { shop: shop.shop, intent, layered, margin, repeats: shop.repeats });
    }
    taken
}

/// Reads a shop file by itself; `None` for the shop if anything blocks.
pub fn shop(file: &str, text: &str) -> (Option<Shop>, Vec<Doubt>) {
    let (found, doubts) = shop_file::read(file, text);
    (found.map(|f| f.shop), doubts)
}

/// A plate's shop, taken without looking at anything else of the plate.
#[derive(Debug, Clone, Default)]
pub struct ShopTaken {
    /// The shop, if no doubt blocks.
    pub shop: Option<Shop>,
    /// The shop file as the plate file names it, or [`STARTER_SHOP_FILE`].
    pub name: String,
    /// The shop file's text.
    pub text: String,
    /// Doubts about the shop file, and about the plate file as far as it keeps the shop from being found.
    pub doubts: Vec<Doubt>,
    /// Texts of the files that doubts point into, by the name that places use.
    pub sources: BTreeMap<String, String>,
}

/// Finds and reads the shop of a plate file on disk.
pub fn shop_of(plate_path: &Path) -> ShopTaken {
    let name = plate_path.file_name().map_or_else(|| "plate.toml".into(), |n| n.to_string_lossy().into_owned());
    let folder = plate_path.parent().unwrap_or(Path::new("")).to_path_buf();
    let bytes = match read_file(plate_path) {
        Ok(bytes) => bytes,
        Err(error) => {
            let doubt = kinds::FILE_MISSING
                .refusal(format!("the plate file `{}` can't be read: {}", plate_path.display(), reason(&error)))
                .at(Place::file(&name))
                .way_out("check its name and folder");
            return ShopTaken { doubts: vec![doubt], ..ShopTaken::default() };
        }
    };
    let text = match as_text(&name, &bytes) {
        Ok(text) => text,
        Err(doubt) => return ShopTaken { doubts: vec![doubt], ..ShopTaken::default() },
    };
    // The plate's other doubts are said where the plate is made.
    let (mut unsaid, root) = Reading::parse(&name, text);
    let top = unsaid.table(&schema::PLATE, root.get_ref(), root.span());
    let (named, _) = plate_file::read(&mut unsaid, &top);
    let (mut reading, _) = Reading::parse(&name, text);
    let mut taken = Taken::default();
    taken.sources.insert(name.clone(), text.to_owned());
    let found = find_shop(&mut reading, &named, &|file| read_file(&folder.join(file)), &mut taken);
    let doubts = reading.finish();
    let name = taken.inputs.first().map(|i| i.0.clone()).unwrap_or_default();
    let text = taken.sources.get(&name).cloned().unwrap_or_default();
    let shop = found.filter(|_| !doubt::any_blocks(&doubts)).map(|f| f.shop);
    ShopTaken { shop, name, text, doubts, sources: taken.sources }
}

/// The plate file's own doubts in the order of its text, then other files'; doubts without a place last.
fn in_order(doubts: &mut [Doubt], plate: &str) {
    doubts.sort_by_key(|d| match d.places.first() {
        Some(Place::File { file, line, span, .. }) if file == plate => (0, usize::from(*line == 0), span.start),
        Some(Place::File { span, .. }) => (1, 0, span.start),
        Some(_) => (2, 0, 0),
        None => (3, 0, 0),
    });
}

fn as_text<'b>(name: &str, bytes: &'b [u8]) -> Result<&'b str, Doubt> {
    let wrong = |message: String| kinds::FILE_NOT_TEXT.refusal(message).at(Place::file(name));
    if bytes.len() > LARGEST_FILE {
        return Err(wrong(format!("`{name}` has {} bytes", bytes.len())).way_out("this can't be a file of this kind"));
    }
    std::str::from_utf8(bytes).map_err(|error| {
        wrong(format!("`{name}` is not text in UTF-8: byte {} is none", error.valid_up_to() + 1))
            .way_out("name the right file, or save it as UTF-8")
    })
}

fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "it is not there".into(),
        io::ErrorKind::PermissionDenied => "it may not be read".into(),
        io::ErrorKind::IsADirectory => "it is a folder".into(),
        io::ErrorKind::FileTooLarge => format!("it is larger than {} MiB", LARGEST_FILE >> 20),
        _ => error.to_string(),
    }
}

fn missing(reading: &mut Reading<'_>, what: &str, name: &Said<String>, error: &io::Error) {
    let doubt = kinds::FILE_MISSING
        .refusal(format!("the {what} `{}` can't be read: {}", name.value, reason(error)))
        .way_out("names are taken from the plate file's folder; check spelling and upper and lower case");
    reading.doubt(doubt, name.span.clone());
}

type Lookup<'l> = &'l dyn Fn(&str) -> io::Result<Vec<u8>>;

fn find_shop(
    reading: &mut Reading<'_>,
    named: &Named,
    lookup: Lookup<'_>,
    taken: &mut Taken,
) -> Option<shop_file::ShopFile> {
    let (name, bytes) = match &named.shop {
        Some(said) => match lookup(&said.value) {
            Ok(bytes) => (said.value.clone(), bytes),
            Err(error) => {
                missing(reading, "shop file", said, &error);
                return None;
            }
        },
        None => match lookup("shop.toml") {
            Ok(bytes) => {
                let doubt = kinds::SHOP_FOUND.note("the plate file names no shop; `shop.toml` beside it is used");
                reading.add(doubt.at(Place::file("shop.toml")).way_out("add `shop = \"shop.toml\"` to the plate file"));
                ("shop.toml".to_owned(), bytes)
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                let doubt = kinds::STARTER_SHOP
                    .note(
                        "the built-in starter shop is used: its cutters, sheets, machine and feeds are common \
                        practice, not measured here",
                    )
                    .at(Place::file(STARTER_SHOP_FILE))
                    .way_out("put your own figures in a `shop.toml` beside the plate file");
                reading.add(doubt);
                (STARTER_SHOP_FILE.to_owned(), STARTER_SHOP.as_bytes().to_vec())
            }
            Err(error) => {
                let doubt = kinds::FILE_MISSING
                    .refusal(format!("`shop.toml` is there but can't be read: {}", reason(&error)))
                    .at(Place::file("shop.toml"))
                    .way_out("make it readable, or name another shop file with `shop = \"...\"`");
                reading.add(doubt);
                return None;
            }
        },
    };
    taken.inputs.push((name.clone(), bytes.clone()));
    let text = match as_text(&name, &bytes) {
        Ok(text) => text,
        Err(doubt) => {
            reading.add(doubt);
            return None;
        }
    };
    taken.sources.insert(name.clone(), text.to_owned());
    let (found, doubts) = shop_file::read(&name, text);
    // What the starter shop assumes is said once, by its own note.
    let own = name != STARTER_SHOP_FILE;
    doubts.into_iter().filter(|d| own || d.severity > Severity::Note).for_each(|d| reading.add(d));
    found
}

fn find_drawing(reading: &mut Reading<'_>, named: &Named, lookup: Lookup<'_>, taken: &mut Taken) -> Option<Drawing> {
    let said = named.drawing.as_ref()?;
    let bytes = match lookup(&said.value) {
        Ok(bytes) => bytes,
        Err(error) => {
            missing(reading, "drawing", said, &error);
            return None;
        }
    };
    let mut options = ReadOptions { units: named.drawing_units, ..ReadOptions::default() };
    options.close_gaps = named.close_gaps.unwrap_or(options.close_gaps);
    options.strokes = if named.outlines { Strokes::Outlines } else { Strokes::CentreLines };
    for font in &named.fonts {
        match lookup(&font.value) {
            Ok(bytes) => {
                taken.inputs.push((font.value.clone(), bytes.clone()));
                let family = Path::new(&font.value).file_stem().map(|s| s.to_string_lossy().into_owned());
                options.fonts.push((family.unwrap_or_else(|| font.value.clone()), bytes));
            }
            Err(error) => missing(reading, "font", font, &error),
        }
    }
    let drawing = drawing::read(&said.value, &bytes, &options);
    if let Ok(text) = std::str::from_utf8(&bytes) {
        taken.sources.insert(said.value.clone(), text.to_owned());
    }
    taken.inputs.push((said.value.clone(), bytes));
    Some(drawing)
}

/// The font files of lettering, each read once.
fn find_fonts(reading: &mut Reading<'_>, named: &Named, lookup: Lookup<'_>, taken: &mut Taken) -> Fonts {
    let mut fonts = Fonts::default();
    let mut asked: Vec<&str> = Vec::new();
    for said in &named.letter_fonts {
        let name = &said.value;
        if asked.contains(&name.as_str()) {
            continue;
        }
        asked.push(name);
        // The drawing's text may use the same file.
        let read = taken.inputs.iter().find(|(n, _)| n == name).map(|(_, bytes)| bytes.clone());
        let already = read.is_some();
        match read.map_or_else(|| lookup(name), Ok) {
            Ok(bytes) => {
                if !already {
                    taken.inputs.push((name.clone(), bytes.clone()));
                }
                fonts.files.insert(name.clone(), bytes);
            }
            Err(error) => missing(reading, "font", said, &error),
        }
    }
    fonts
}

/// The drawing's doubts: those about contours that the plate doesn't use only inform, and that a path which leads letters
/// doesn't close needs no word.
fn weighed(drawing: &Drawing, plate: Option<&PlateFile>) -> Vec<Doubt> {
    let used = plate.map(|p| Artwork::used_names(drawing, p));
    let elsewhere = |doubt: &Doubt| {
        let Some(used) = &used else { return false };
        let mut layers = doubt.places.iter().filter_map(|p| match p {
            Place::Drawing { layer: Some(layer), .. } => Some(layer),
            _ => None,
        });
        let mut any = false;
        let all = layers.all(|l| {
            any = true;
            !used.iter().any(|u| u.eq_ignore_ascii_case(l))
        });
        any && all
    };
    let weigh = |d: &Doubt| {
        let mut doubt = d.clone();
        if doubt.severity > Severity::Note && elsewhere(d) {
            doubt.severity = Severity::Note;
            doubt = doubt.noting("no area of this plate uses these contours");
        }
        doubt
    };
    let led = |doubt: &&Doubt| !plate.is_some_and(|plate| regions::only_leads_letters(drawing, plate, doubt));
    drawing.doubts.iter().filter(led).map(weigh).collect()
}

/// Plate file, shop and drawing against each other.
fn compare(
    reading: &mut Reading<'_>,
    plate: &PlateFile,
    shop: &shop_file::ShopFile,
    drawing: &Drawing,
    mut fonts: Fonts,
) -> Option<(Intent, Layered)> {
    let cutters = cutters(reading, plate, &shop.shop);
    let heights = heights::blank(reading, &plate.blank, shop, cutters.as_deref());
    // A drawing that can't be read has its own doubt; that its names are missing says nothing more.
    let unread = drawing.contours.is_empty() && doubt::any_blocks(&drawing.doubts);
    let artwork = if unread { None } else { Artwork::pick(reading, drawing, plate) };
    if plate.areas.is_empty() && plate.outline.is_none() {
        let doubt = kinds::NOTHING_TO_CUT
            .refusal("there is no area and no outline: nothing would be cut")
            .way_out("add an [[area]] with `on` and `floor`, or a [plate] with `within`");
        reading.add(doubt.at(reading.place(0..0)));
        return None;
    }
    let (mut heights, artwork) = (heights?, artwork?);
    let size = plate.blank.size.value;
    if !artwork.size_is_likely(reading, size) {
        return None;
    }
    let mut sound = true;
    let mut wanted = Vec::new();
    for said in &plate.areas {
        let region = artwork.area(reading, &mut fonts, said, size);
        let floor = heights.floor(reading, said, plate.margin);
        match region.zip(floor) {
            Some(((region, strokes), floor)) => wanted.push(Wanted { said, region, strokes, floor }),
            None => sound = false,
        }
    }
    let outline = plate.outline.as_ref().map(|said| {
        let inside = artwork.outline(reading, said, size)?;
        let floor = heights.through(reading, &said.held, said.span.clone(), said.held_span.clone());
        if said.held == Held::Nothing {
            let doubt = kinds::NOTHING_HOLDS.caution("nothing holds the plate while it is cut out").way_out(
                "say `held_by = { tabs = 4 }`, a skin, or tape under all of it as `held_by = { by = \"carpet tape\" }`",
            );
            reading.doubt(doubt, said.held_span.clone());
        }
        Some(Outline { name: regions::joined(&said.within), inside, floor, held: said.held.clone(), line: said.line })
    });
    let outline = match outline {
        Some(None) => {
            sound = false;
            None
        }
        Some(found) => found,
        None => None,
    };
    if let Some(outline) = &outline {
        for w in &wanted {
            sound &= regions::inside_plate(reading, w, &outline.inside);
        }
    }
    tabs_fit(reading, plate, &wanted, outline.as_ref());
    let areas = regions::disjoint(reading, wanted)?;
    let holds = holds::holds(reading, &plate.holds, &shop.holds, &heights.blank, &areas, outline.as_ref());
    let cutters = cutters?;
    let intent = Intent {
        title: plate.title.clone(),
        blank: heights.blank,
        areas,
        outline,
        holds,
        cutters: shop.shop.cutters.iter().map(|c| c.number).filter(|n| cutters.contains(n)).collect(),
    };
    holds::fits(reading, &intent, shop, &plate.blank.size);
    sound.then_some((intent, heights.layered))
}

/// Numbers of the cutters that the plate may use.
fn cutters(reading: &mut Reading<'_>, plate: &PlateFile, shop: &Shop) -> Option<Vec<u32>> {
    let Some(said) = &plate.cutters else { return Some(shop.cutters.iter().map(|c| c.number).collect()) };
    let mut found = Vec::new();
    let mut whole = true;
    for name in said {
        let cutter = shop.cutters.iter().find(|c| match &name.value {
            CutterName::Number(n) => i64::from(c.number) == *n,
            CutterName::Name(text) => c.name == *text,
        });
        if let Some(cutter) = cutter {
            found.push(cutter.number);
            continue;
        }
        whole = false;
        let word = match &name.value {
            CutterName::Number(n) => n.to_string(),
            CutterName::Name(text) => text.clone(),
        };
        let names: Vec<&str> = shop.cutters.iter().map(|c| c.name.as_str()).collect();
        let all = shop.cutters.iter().map(|c| format!("{} (`{}`)", c.number, c.name)).collect::<Vec<_>>().join(", ");
        let near = match &name.value {
            CutterName::Name(text) => doubt::nearest(text, names).map(|n| format!("did you mean `{n}`? ")),
            CutterName::Number(_) => None,
        };
        let doubt = kinds::UNKNOWN_CUTTER
            .refusal(format!("the shop has no cutter `{word}`"))
            .way_out(format!("{}it has {all}", near.unwrap_or_default()));
        reading.doubt(doubt, name.span.clone());
    }
    whole.then_some(found)
}

/// Tabs must leave most of the edge to be cut.
fn tabs_fit(reading: &mut Reading<'_>, plate: &PlateFile, wanted: &[Wanted<'_>], outline: Option<&Outline>) {
    let areas = wanted.iter().map(|w| (&w.said.held, &w.region, w.said.held_span.clone()));
    let plates = outline.zip(plate.outline.as_ref()).map(|(o, s)| (&o.held, &o.inside, s.held_span.clone()));
    for (held, region, span) in areas.chain(plates) {
        let Held::Tabs(tabs) = held else { continue };
        // Each separate piece gets its own tabs. How few a small one beside larger ones may keep is for the planner to find.
        let longest = region.shapes.iter().map(|s| s.outer.length()).fold(0.0, f64::max);
        let taken = f64::from(tabs.count) * tabs.length.to_mm();
        if taken > 0.5 * longest {
            let doubt = kinds::TABS_WRONG
                .refusal(format!(
                    "{} tabs of {} take {} mm of an edge that is {} mm long",
                    tabs.count,
                    tabs.length,
                    quantity::trimmed(taken, 2),
                    quantity::trimmed(longest, 2)
                ))
                .way_out("ask for fewer or shorter ones");
            reading.doubt(doubt, span);
        }
    }
}
