//! The plates that can be opened: the one that was named, or those of a folder. Each has a number for as long as the server
//! lives; what a browser says never becomes a path.

use crate::board::{Board, PacketState};
use crate::paper::Paper;
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
    fn begin(paper: Paper, date: fn() -> String) -> Self {
        let board = Arc::new(Board::new(paper, date));
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
        let open = Open::begin(Paper::at(plate)?, date);
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
            slot.open = Some(Open::begin(Paper::at(&slot.path).ok()?, self.date));
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
