//! What stands on the page: the plate file's text, the last runs, the edits that can be undone, the packet.
//!
//! Two threads of its own stand beside the server. One plans and proves what is wanted last; a newer wish stops an older run.
//! The other looks at the files, so that a change made elsewhere is seen. Every change counts up a number for which the page waits.

mod answering;
mod readings;

pub(crate) use readings::Reading;

use crate::paper::{NotReplaced, Paper, hash};
use crate::run::Run;
use intake::{Change, FloorWords, NoEdit};
use packet::folder::RealDisk;
use packet::{Effort, Places};
use proof::Watch;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, SystemTime};
use tokio::sync::watch;

/// How often the files are looked at.
const LOOK: Duration = Duration::from_millis(400);
/// Font files that are offered.
const MOST_FONTS: usize = 200;
/// Edits that are kept for undoing.
const KEPT: usize = 200;

/// The board; shared by the server and its threads.
pub(crate) struct Board {
    pub(crate) paper: Paper,
    /// The folder that nothing outside of is written.
    root: PathBuf,
    /// Whether it is one of a folder's plates.
    many: bool,
    now: Mutex<Now>,
    wake: Condvar,
    /// The run that is wanted; a run of a lower number stops.
    wanted: AtomicU64,
    over: AtomicBool,
    turned: watch::Sender<u64>,
    date: fn() -> String,
}

/// What stands there now.
#[derive(Default)]
pub(crate) struct Now {
    /// The plate file's text.
    pub(crate) text: String,
    /// Its hash.
    pub(crate) hash: String,
    /// Why the plate file can't be read, if so.
    pub(crate) unread: Option<String>,
    /// The last run that ended.
    pub(crate) last: Option<Arc<Run>>,
    /// The last run with a model, which the picture shows.
    pub(crate) shown: Option<Arc<Run>>,
    /// The plate as its file says it, while it is planned and proven.
    pub(crate) sketch: Option<Arc<Run>>,
    /// Whether a run is going on or wanted.
    pub(crate) working: bool,
    /// Whether the last run is the first answer to what is wanted, which a full run is going to confirm.
    pub(crate) answered: bool,
    /// Something was changed elsewhere, and what.
    pub(crate) elsewhere: Option<String>,
    /// The packet written from here.
    pub(crate) packet: PacketState,
    /// The last reading that was taken at the bench.
    pub(crate) reading: Option<Reading>,
    undo: Vec<Step>,
    redo: Vec<Step>,
    /// Hash of the shop file as it was written from here last, so that it isn't taken for a change made elsewhere.
    own_shop: Option<String>,
}

/// A change that can be taken back, or made again.
struct Step {
    of: Of,
    /// The text that comes back.
    text: String,
    /// Hash of the text that must stand there for it.
    over: String,
}

/// Which file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Of {
    /// The plate file.
    Plate,
    /// The shop file.
    Shop,
}

/// The shop file of the plate.
#[derive(Debug)]
pub(crate) struct ShopSaid {
    /// As the plate file names it, or `shop.toml`.
    pub(crate) name: String,
    /// Its text; the built-in shop's if there is no file yet.
    pub(crate) text: String,
    /// Its hash; empty if there is no file yet.
    pub(crate) hash: String,
    /// Why it can't be changed from here, if so.
    pub(crate) shut: Option<&'static str>,
    path: PathBuf,
}

/// Where the packet is.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) enum PacketState {
    /// None was asked for.
    #[default]
    None,
    /// It is being made.
    Making,
    /// It was written: the folder and its files, and the hash of the plate file that it is of.
    Written(String, Vec<String>, String),
    /// It was not; why.
    Not(String),
}

/// Why an edit was not made.
#[derive(Debug)]
pub(crate) enum NotEdited {
    /// The file is another one than the page showed; nothing was written.
    Changed,
    /// The words are no length or number.
    NoLength(String),
    /// There is nothing to edit, undo or redo.
    Nothing(&'static str),
    /// The system refused.
    System(String),
}

impl Now {
    fn show(&mut self, run: &Arc<Run>) {
        if run.computed.is_some() {
            self.shown = Some(Arc::clone(run));
        }
        self.sketch = None;
        self.last = Some(Arc::clone(run));
    }

    /// Whether something can be undone, and redone.
    pub(crate) fn steps(&self) -> (bool, bool) {
        (!self.undo.is_empty(), !self.redo.is_empty())
    }
}

impl Board {
    /// A board with its first run wanted. Nothing is written outside `root`; `date` gives the packet's date line.
    pub(crate) fn new(paper: Paper, root: PathBuf, many: bool, date: fn() -> String) -> Self {
        let board = Self {
            paper,
            root,
            many,
            now: Mutex::new(Now { working: true, ..Now::default() }),
            wake: Condvar::new(),
            wanted: AtomicU64::new(1),
            over: AtomicBool::new(false),
            turned: watch::Sender::new(1),
            date,
        };
        {
            let mut now = board.now();
            board.take_in(&mut now);
        }
        board
    }

    /// Whether it is one of a folder's plates.
    pub(crate) fn is_one_of_many(&self) -> bool {
        self.many
    }

    /// What stands there.
    pub(crate) fn now(&self) -> MutexGuard<'_, Now> {
        self.now.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The number that counts up with every change.
    pub(crate) fn turn(&self) -> u64 {
        *self.turned.borrow()
    }

    /// Waits for a change after a turn.
    pub(crate) async fn turned_from(&self, turn: u64) {
        let mut seen = self.turned.subscribe();
        // It only fails once the sender is gone, and that lives as long as this.
        let _ = seen.wait_for(|now| *now != turn).await;
    }

    pub(crate) fn say(&self) {
        self.turned.send_modify(|turn| *turn += 1);
    }

    /// Reads the plate file anew.
    fn take_in(&self, now: &mut Now) {
        match self.paper.read() {
            Ok(bytes) => {
                now.hash = hash(&bytes);
                now.unread = None;
                now.text = String::from_utf8(bytes).unwrap_or_default();
            }
            Err(error) => {
                now.unread = Some(error.to_string());
                (now.text, now.hash) = (String::new(), String::new());
            }
        }
    }

    /// Wants a run of what is on the disk now.
    fn want(&self, now: &mut Now) {
        (now.working, now.answered) = (true, false);
        self.wanted.fetch_add(1, Ordering::SeqCst);
        self.wake.notify_all();
    }

    /// Puts another floor in: `known` is the hash of the file that the page showed.
    pub(crate) fn edit(&self, known: &str, area: usize, floor: &FloorWords) -> Result<(), NotEdited> {
        let mut now = self.now();
        self.unchanged(&mut now, known)?;
        let edited = intake::with_floor(&now.text, area, floor).map_err(no_edit)?;
        self.take_edit(&mut now, edited)
    }

    /// Makes changes in the plate file.
    pub(crate) fn change(&self, known: &str, changes: &[Change]) -> Result<(), NotEdited> {
        let mut now = self.now();
        self.unchanged(&mut now, known)?;
        let edited = intake::with_changes(&now.text, changes).map_err(no_edit)?;
        self.take_edit(&mut now, edited)
    }

    /// Puts a whole text in the plate file's place.
    pub(crate) fn rewrite(&self, known: &str, text: String) -> Result<(), NotEdited> {
        let mut now = self.now();
        self.unchanged(&mut now, known)?;
        self.take_edit(&mut now, text)
    }

    fn take_edit(&self, now: &mut Now, edited: String) -> Result<(), NotEdited> {
        if edited == now.text {
            return Ok(());
        }
        let text = self.put(now, edited)?;
        let over = now.hash.clone();
        keep(&mut now.undo, Step { of: Of::Plate, text, over });
        now.redo.clear();
        Ok(())
    }

    /// Names of the font files beside the plate file.
    pub(crate) fn fonts(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.paper.beside()).into_iter().flatten().filter_map(Result::ok);
        let is_font = |name: &String| {
            let ending = name.rsplit_once('.').map_or(String::new(), |(_, ending)| ending.to_ascii_lowercase());
            ["ttf", "otf", "ttc", "otc"].contains(&ending.as_str())
        };
        let mut names: Vec<String> =
            entries.filter_map(|e| e.file_name().into_string().ok()).filter(is_font).take(MOST_FONTS).collect();
        names.sort();
        names
    }

    /// The shop file that the plate file means, as it is on the disk now.
    pub(crate) fn shop(&self) -> ShopSaid {
        let text = self.now().text.clone();
        self.shop_of(&text)
    }

    /// The shop file that a plate file's text means.
    fn shop_of(&self, text: &str) -> ShopSaid {
        let said = intake::shop_named(text);
        let name = said.clone().unwrap_or_else(|| "shop.toml".into());
        let path = self.paper.beside().join(&name);
        let mut shop = ShopSaid { name, text: String::new(), hash: String::new(), shut: None, path };
        match Paper::at(&shop.path).and_then(|paper| Ok((paper.read()?, paper.is_within(&self.root)))) {
            Ok((bytes, within)) => {
                shop.hash = hash(&bytes);
                match String::from_utf8(bytes) {
                    Ok(text) => shop.text = text,
                    Err(_) => shop.shut = Some("the shop file is no text"),
                }
                if !within {
                    shop.shut = Some(
                        "the shop file lies outside this page’s folder; change it there, or open the page of the folder that holds both",
                    );
                }
            }
            Err(error) if error.kind() == std::io::ErrorKind::NotFound && said.is_none() => {
                intake::STARTER_SHOP.clone_into(&mut shop.text);
            }
            Err(_) => shop.shut = Some("the shop file that the plate file names can’t be read"),
        }
        shop
    }

    /// Makes changes in the shop file, which is begun from the built-in shop if there is none; `known` is the hash of the shop
    /// file that the page showed.
    pub(crate) fn change_shop(&self, known: &str, changes: &[Change]) -> Result<(), NotEdited> {
        let edited = |text: &str| intake::with_changes(text, changes).map_err(no_edit);
        self.edit_shop(known, edited, |_| {})
    }

    /// Edits the shop file; `note` is told of an edit that changes something, before it is planned.
    fn edit_shop(
        &self,
        known: &str,
        edit: impl FnOnce(&str) -> Result<String, NotEdited>,
        note: impl FnOnce(&mut Now),
    ) -> Result<(), NotEdited> {
        let shop = self.shop();
        if let Some(why) = shop.shut {
            return Err(NotEdited::Nothing(why));
        }
        if shop.hash != known {
            return Err(NotEdited::Changed);
        }
        let edited = edit(&shop.text)?;
        let begun = shop.hash.is_empty();
        if begun {
            Paper::begin(&shop.path, &edited).map_err(|e| NotEdited::System(e.to_string()))?;
        } else if edited == shop.text {
            return Ok(());
        } else {
            replace(&shop, &edited)?;
        }
        let mut now = self.now();
        let over = hash(edited.as_bytes());
        // A file that was begun has nothing before it that could come back.
        if !begun {
            keep(&mut now.undo, Step { of: Of::Shop, text: shop.text, over: over.clone() });
            now.redo.clear();
        }
        note(&mut now);
        self.shop_put(&mut now, over);
        Ok(())
    }

    /// The shop file was written from here.
    fn shop_put(&self, now: &mut Now, hash: String) {
        now.elsewhere = None;
        now.own_shop = Some(hash);
        self.want(now);
        self.say();
    }

    /// Takes the last edit back, or makes it again.
    pub(crate) fn step(&self, known: &str, back: bool) -> Result<(), NotEdited> {
        let mut now = self.now();
        self.unchanged(&mut now, known)?;
        let from = if back { &mut now.undo } else { &mut now.redo };
        let Some(step) = from.pop() else {
            return Err(NotEdited::Nothing(if back { "nothing to undo" } else { "nothing to redo" }));
        };
        let over = hash(step.text.as_bytes());
        let done = match step.of {
            Of::Plate => self.put(&mut now, step.text.clone()),
            Of::Shop => {
                drop(now);
                let shop = self.shop();
                now = self.now();
                let done = if shop.hash == step.over { replace(&shop, &step.text) } else { Err(NotEdited::Changed) };
                if done.is_ok() {
                    self.shop_put(&mut now, over.clone());
                }
                done.map(|()| shop.text)
            }
        };
        match done {
            Ok(text) => {
                if back { &mut now.redo } else { &mut now.undo }.push(Step { of: step.of, text, over });
                Ok(())
            }
            // A change of the shop file made elsewhere can't be undone over; it stays in the list for when it is gone.
            Err(error) => {
                if !(matches!(error, NotEdited::Changed) && step.of == Of::Plate) {
                    if back { &mut now.undo } else { &mut now.redo }.push(step);
                }
                Err(error)
            }
        }
    }

    /// Whether the page and the disk are at the same text.
    fn unchanged(&self, now: &mut Now, known: &str) -> Result<(), NotEdited> {
        if known != now.hash {
            return Err(NotEdited::Changed);
        }
        match self.paper.read() {
            Ok(bytes) if hash(&bytes) == known => Ok(()),
            Ok(_) => {
                self.changed_elsewhere(now);
                Err(NotEdited::Changed)
            }
            Err(error) => Err(NotEdited::System(error.to_string())),
        }
    }

    /// Writes a text in the place of the one that stands there, which it gives back.
    fn put(&self, now: &mut Now, text: String) -> Result<String, NotEdited> {
        match self.paper.replace(&now.hash, &text) {
            Ok(()) => {}
            Err(NotReplaced::Changed) => {
                self.changed_elsewhere(now);
                return Err(NotEdited::Changed);
            }
            Err(NotReplaced::System(error)) => return Err(NotEdited::System(error.to_string())),
        }
        now.hash = hash(text.as_bytes());
        now.elsewhere = None;
        let before = std::mem::replace(&mut now.text, text);
        self.want(now);
        self.say();
        Ok(before)
    }

    /// The plate file isn't what it was: what can't be undone without losing that change is forgotten.
    fn changed_elsewhere(&self, now: &mut Now) {
        self.take_in(now);
        now.undo.clear();
        now.redo.clear();
        now.elsewhere = Some(self.paper.name());
        self.want(now);
        self.say();
    }

    /// Makes the packet in the place where the command puts it, in a thread of its own.
    pub(crate) fn write_packet(self: &Arc<Self>, known: &str) -> Result<(), NotEdited> {
        let mut now = self.now();
        self.unchanged(&mut now, known)?;
        if now.packet == PacketState::Making {
            return Err(NotEdited::Nothing("the packet is being made"));
        }
        now.packet = PacketState::Making;
        drop(now);
        self.say();
        let board = Arc::clone(self);
        let known = known.to_owned();
        std::thread::spawn(move || {
            let made = catch_unwind(AssertUnwindSafe(|| board.make_packet(&known)));
            board.now().packet = made.unwrap_or_else(|_| {
                PacketState::Not("making it ended in a fault of this program; an older packet is untouched".into())
            });
            board.say();
        });
        Ok(())
    }

    fn make_packet(&self, known: &str) -> PacketState {
        let folder: PathBuf = self.paper.beside().join("packet");
        let date = (self.date)();
        let places = Places { packet: &folder, refusal: None, disk: &RealDisk, date: &date };
        let outcome = packet::make(self.paper.given(), &places, &Effort::default(), &Ending(self));
        match outcome.written {
            Some((folder, files)) => PacketState::Written(folder.display().to_string(), files, known.to_owned()),
            None if outcome.stopped => PacketState::Not("stopped; nothing was written".into()),
            None => {
                let first = outcome.doubts.iter().find(|d| d.blocks());
                let why = first.map_or_else(|| "it is not proven".to_owned(), |d| d.message.clone());
                PacketState::Not(format!("not written: {why}"))
            }
        }
    }

    /// The two threads; they end soon after [`Board::end`].
    pub(crate) fn start(self: &Arc<Self>) -> [JoinHandle<()>; 2] {
        let (prover, looker) = (Arc::clone(self), Arc::clone(self));
        [std::thread::spawn(move || prover.keep_proving()), std::thread::spawn(move || looker.keep_looking())]
    }

    /// Ends the threads.
    pub(crate) fn end(&self) {
        self.over.store(true, Ordering::SeqCst);
        self.wanted.fetch_add(1, Ordering::SeqCst);
        // Under the lock, so that nobody misses it between looking and waiting.
        let _now = self.now();
        self.wake.notify_all();
    }

    fn is_over(&self) -> bool {
        self.over.load(Ordering::SeqCst)
    }

    fn keep_looking(&self) {
        let mut seen = self.stamps();
        loop {
            {
                let now = self.now();
                let waited = self.wake.wait_timeout_while(now, LOOK, |_| !self.is_over());
                drop(waited);
            }
            if self.is_over() {
                return;
            }
            let stamps = self.stamps();
            let mut now = self.now();
            let found = self.paper.read().map(|bytes| hash(&bytes));
            if found.as_ref().ok() != Some(&now.hash) && !(found.is_err() && now.unread.is_some()) {
                self.changed_elsewhere(&mut now);
            } else if let Some(name) = changed(&seen, &stamps)
                && !self.own_shop(&mut now, &name)
            {
                now.elsewhere = Some(name);
                self.want(&mut now);
                self.say();
            }
            drop(now);
            seen = stamps;
        }
    }

    /// Size and time of every file beside the plate file that the last run read, and of a shop that could come.
    fn stamps(&self) -> Vec<(String, Stamp)> {
        let mut names = self.now().last.as_ref().map(|r| r.beside.clone()).unwrap_or_default();
        if !names.iter().any(|n| n == "shop.toml") {
            names.push("shop.toml".into());
        }
        let stamp = |name: &String| {
            let found = std::fs::metadata(self.paper.beside().join(name)).ok()?;
            Some((found.len(), found.modified().ok()?))
        };
        names.into_iter().map(|name| (stamp(&name), name)).map(|(s, n)| (n, s)).collect()
    }
}

type Stamp = Option<(u64, SystemTime)>;

/// The first file that was there in both looks and isn't the same.
fn changed(before: &[(String, Stamp)], after: &[(String, Stamp)]) -> Option<String> {
    after.iter().find(|(name, stamp)| before.iter().any(|(n, s)| n == name && s != stamp)).map(|(name, _)| name.clone())
}

fn keep(steps: &mut Vec<Step>, step: Step) {
    steps.push(step);
    if steps.len() > KEPT {
        steps.remove(0);
    }
}

fn replace(shop: &ShopSaid, text: &str) -> Result<(), NotEdited> {
    let paper = Paper::at(&shop.path).map_err(|e| NotEdited::System(e.to_string()))?;
    paper.replace(&shop.hash, text).map_err(|error| match error {
        NotReplaced::Changed => NotEdited::Changed,
        NotReplaced::System(error) => NotEdited::System(error.to_string()),
    })
}

fn no_edit(no: NoEdit) -> NotEdited {
    match no {
        NoEdit::NoLength(why) => NotEdited::NoLength(why),
        NoEdit::NotThere => NotEdited::Nothing("this can’t be changed here; change it in the file"),
        NoEdit::NotKept => NotEdited::Nothing(
            "the file is written so that this can’t be changed without touching something else; change it there",
        ),
    }
}

/// Stops the packet when the server ends.
struct Ending<'a>(&'a Board);

impl Watch for Ending<'_> {
    fn progress(&self, _: f64) {}

    fn stopped(&self) -> bool {
        self.0.is_over()
    }
}
