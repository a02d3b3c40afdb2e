//! The plates that can be opened: the one that was named, or those of a folder. Each has a number for as long as the server
//! lives; what a browser says never becomes a path.

use crate::board::{Board, PacketState};
use crate::changes::beside;
use crate::paper::Paper;
use quantity::trimmed;
use serde_json::{Value, json};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Plates of a folder that are listed.
const MOST: usize = 500;
/// How long an end waits for a packet that is being written.
const LAST_WAIT: Duration = Duration::from_secs(10);

/// The plates.
pub(crate) struct Shelf {
    /// The folder that is looked through; none if one plate was named.
    folder: Option<PathBuf>,
    plates: Mutex<Vec<Slot>>,
    date: fn() -> String,
}

/// A plate, opened or not.
struct Slot {
    path: PathBuf,
    open: Option<Open>,
}

struct Open {
    board: Arc<Board>,
    threads: [JoinHandle<()>; 2],
}

impl Open {
    fn begin(paper: Paper, root: &Path, many: bool, date: fn() -> String) -> Self {
        let board = Arc::new(Board::new(paper, root.to_owned(), many, date));
        let threads = board.start();
        Self { board, threads }
    }
}

impl Shelf {
    /// One plate alone, opened. `date` gives a packet's date line.
    ///
    /// # Errors
    /// If its file can't be found.
    pub(crate) fn one(plate: &Path, date: fn() -> String) -> io::Result<Self> {
        let paper = Paper::at(plate)?;
        let root = paper.beside().to_owned();
        let open = Open::begin(paper, if root.as_os_str().is_empty() { Path::new(".") } else { &root }, false, date);
        let slot = Slot { path: plate.to_owned(), open: Some(open) };
        Ok(Self { folder: None, plates: Mutex::new(vec![slot]), date })
    }

    /// The plates of a folder, none of them opened.
    ///
    /// # Errors
    /// If it is no folder that can be read.
    pub(crate) fn of(folder: &Path, date: fn() -> String) -> io::Result<Self> {
        std::fs::read_dir(folder)?;
        Ok(Self { folder: Some(folder.to_owned()), plates: Mutex::default(), date })
    }

    /// Whether it is one plate alone.
    pub(crate) fn is_one(&self) -> bool {
        self.folder.is_none()
    }

    /// A plate by its number, from 1; opened if it wasn't.
    pub(crate) fn board(&self, number: usize) -> Option<Arc<Board>> {
        let mut plates = self.plates();
        let slot = plates.get_mut(number.checked_sub(1)?)?;
        if slot.open.is_none() {
            let paper = Paper::at(&slot.path).ok()?;
            // What a link leads out of the folder is none of its plates.
            let root = self.folder.as_deref().filter(|folder| paper.is_within(folder))?;
            slot.open = Some(Open::begin(paper, root, true, self.date));
        }
        slot.open.as_ref().map(|o| Arc::clone(&o.board))
    }

    /// The plates of the folder as they are now.
    pub(crate) fn list(&self) -> Value {
        let Some(folder) = &self.folder else { return json!({ "plates": [] }) };
        let found = plate_files(folder);
        let mut plates = self.plates();
        for path in &found {
            if !plates.iter().any(|slot| slot.path == *path) {
                plates.push(Slot { path: path.clone(), open: None });
            }
        }
        let listed = plates.iter().enumerate().filter(|(_, slot)| found.contains(&slot.path));
        let one = |(index, slot): (usize, &Slot)| {
            let beside = slot.path.strip_prefix(folder).unwrap_or(&slot.path);
            json!({ "number": index + 1, "name": beside.display().to_string(), "title": title(&slot.path) })
        };
        let name = folder.canonicalize().unwrap_or_else(|_| folder.clone());
        let mut listed: Vec<Value> = listed.map(one).collect();
        listed.sort_by(|a, b| a["name"].as_str().cmp(&b["name"].as_str()));
        json!({ "folder": name.display().to_string(), "plates": listed })
    }

    /// Begins a new plate of this folder from a drawing: a folder of its own with the drawing, and a plate file that names it. The
    /// shop file of all its plates lies in the folder itself and is begun from the built-in shop if there is none.
    ///
    /// # Errors
    /// In words for the maker; nothing was written then.
    pub(crate) fn begin_plate(&self, title: &str, file: &str, bytes: &[u8]) -> Result<usize, String> {
        let folder = self.folder.as_ref().ok_or("this page is of one plate alone")?;
        let title = title.trim();
        let name = folder_name(title);
        if name.is_empty() {
            return Err("give the plate a name with letters in it".into());
        }
        let made = folder.join(&name);
        if made.exists() {
            return Err(format!("there is a folder {name} already; give the plate another name"));
        }
        let file = if beside(file) { file.to_owned() } else { "drawing.svg".into() };
        let drawing = drawing::read(&file, bytes, &drawing::ReadOptions::default());
        if drawing.contours.is_empty() {
            let why = drawing.doubts.iter().max_by_key(|d| d.severity).map_or_else(
                || "there is no closed contour in it".to_owned(),
                |d| match &d.way_out {
                    Some(way) => format!("{}; {way}", d.message),
                    None => d.message.clone(),
                },
            );
            return Err(format!("nothing in {file} can be cut: {why}"));
        }
        let text = first_text(title, &file, &drawing);
        let system = |error: io::Error| format!("the new plate could not be written: {error}");
        let shop = folder.join("shop.toml");
        if !shop.exists() {
            Paper::begin(&shop, intake::STARTER_SHOP).map_err(system)?;
        }
        // Whole before it has its name: half a plate is never listed.
        let beside = folder.join(format!(".{name}.page-new"));
        let _ = std::fs::remove_dir_all(&beside);
        let write = || {
            std::fs::create_dir(&beside)?;
            std::fs::write(beside.join(&file), bytes)?;
            std::fs::write(beside.join("plate.toml"), &text)?;
            std::fs::rename(&beside, &made)
        };
        if let Err(error) = write() {
            let _ = std::fs::remove_dir_all(&beside);
            return Err(system(error));
        }
        self.list();
        let plate = made.join("plate.toml");
        let number = self.plates().iter().position(|slot| slot.path == plate).map(|index| index + 1);
        number.ok_or_else(|| "the new plate was written but is not found again".into())
    }

    fn plates(&self) -> MutexGuard<'_, Vec<Slot>> {
        self.plates.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Ends all boards and their threads; a packet that is being written has a while to be finished.
    pub(crate) fn end(&self) {
        let open: Vec<Open> = self.plates().iter_mut().filter_map(|slot| slot.open.take()).collect();
        for one in &open {
            one.board.end();
        }
        let began = Instant::now();
        for Open { board, threads } in open {
            for thread in threads {
                // A thread that panicked has nothing more to end.
                let _ = thread.join();
            }
            while board.now().packet == PacketState::Making && began.elapsed() < LAST_WAIT {
                std::thread::sleep(Duration::from_millis(20));
            }
        }
    }
}

/// A title as the name of a folder.
fn folder_name(title: &str) -> String {
    let mut name = String::new();
    for c in title.chars().flat_map(char::to_lowercase).take(60) {
        if c.is_alphanumeric() {
            name.push(c);
        } else if !name.ends_with('-') && !name.is_empty() {
            name.push('-');
        }
    }
    name.trim_end_matches('-').to_owned()
}

/// Margin round a drawing that has no page of its own, mm.
const MARGIN: f64 = 10.0;

/// The first text of a new plate's file: its drawing on a blank that holds it, and no layer yet.
fn first_text(title: &str, file: &str, drawing: &drawing::Drawing) -> String {
    let said = |text: &str| toml::Value::from(text).to_string();
    let bounds = drawing.contours.iter().fold(plane::Bounds::EMPTY, |b, c| b.union(c.contour.bounds()));
    let page = drawing.size.filter(|s| {
        bounds.min.x >= -1e-6
            && bounds.min.y >= -1e-6
            && bounds.max.x <= s.width + 1e-6
            && bounds.max.y <= s.height + 1e-6
    });
    let up = |mm: f64| trimmed((mm * 10.0 - 1e-6).ceil() / 10.0, 1);
    let (width, height, place) = match page {
        Some(size) => (up(size.width), up(size.height), String::new()),
        None => {
            let shift = |least: f64| trimmed(MARGIN - least, 3);
            let place = format!(
                "place = [\"{} mm\", \"{} mm\"]           # so that it lies {MARGIN} mm from the blank's edges\n",
                shift(bounds.min.x),
                shift(bounds.min.y)
            );
            (up(bounds.width() + 2.0 * MARGIN), up(bounds.height() + 2.0 * MARGIN), place)
        }
    };
    format!(
        "title = {}\nunits = \"mm\"\ndrawing = {}\nshop = \"../shop.toml\"\n{place}\n[blank]\nsize = [{width}, {height}]\n\
         layers = [                       # top first; measure your own\n]\n",
        said(title),
        said(file),
    )
}

/// The plate files of a folder: `plate.toml` in it and in the folders in it, by name.
fn plate_files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut take = |path: PathBuf| {
        if path.is_file() {
            found.push(path);
        }
    };
    take(folder.join("plate.toml"));
    let mut inner: Vec<PathBuf> =
        std::fs::read_dir(folder).into_iter().flatten().filter_map(Result::ok).map(|e| e.path()).collect();
    inner.sort();
    inner.into_iter().filter(|p| p.is_dir()).for_each(|p| take(p.join("plate.toml")));
    found.truncate(MOST);
    found
}

/// The plate's title as its file says it; empty if it can't be read.
fn title(plate: &Path) -> String {
    Paper::at(plate)
        .and_then(|p| p.read())
        .ok()
        .and_then(|bytes| String::from_utf8(bytes).ok())
        .and_then(|text| intake::title(&text))
        .unwrap_or_default()
}
