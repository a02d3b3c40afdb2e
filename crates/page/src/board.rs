//! What stands on the page: the plate file's text, the last runs, the edits that can be undone, the packet.
//!
//! Two threads of its own stand beside the server. One plans and proves what is wanted last; a newer wish stops an older run.
//! The other looks at the files, so that a change made elsewhere is seen. Every change counts up a number for which the page waits.

mod readings;

pub(crate) use readings::Reading;

use crate::paper::{NotReplaced, Paper, hash};
use crate::run::Run;
use intake::{FloorWords, NoEdit};
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
/// Edits that are kept for undoing.
const KEPT: usize = 200;

/// The board; shared by the server and its threads.
pub(crate) struct Board {
    pub(crate) paper: Paper,
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
    /// Whether a run is going on or wanted.
    pub(crate) working: bool,
    /// Something was changed elsewhere, and what.
    pub(crate) elsewhere: Option<String>,
    /// The packet written from here.
    pub(crate) packet: PacketState,
    /// The last reading that was taken at the bench.
    pub(crate) reading: Option<Reading>,
    /// Hash of a shop file that was written from here, which is no news from elsewhere.
    own_shop: Option<String>,
    undo: Vec<String>,
    redo: Vec<String>,
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
    /// The words are no length.
    NoLength(String),
    /// There is nothing to edit, undo or redo.
    Nothing(&'static str),
    /// The system refused.
    System(String),
}

impl Now {
    /// Whether something can be undone, and redone.
    pub(crate) fn steps(&self) -> (bool, bool) {
        (!self.undo.is_empty(), !self.redo.is_empty())
    }
}

impl Board {
    /// A board with its first run wanted. `date` gives the packet's date line.
    pub(crate) fn new(paper: Paper, date: fn() -> String) -> Self {
        let board = Self {
            paper,
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
        now.working = true;
        self.wanted.fetch_add(1, Ordering::SeqCst);
        self.wake.notify_all();
    }

    /// Puts another floor in: `known` is the hash of the file that the page showed.
    pub(crate) fn edit(&self, known: &str, area: usize, floor: &FloorWords) -> Result<(), NotEdited> {
        let mut now = self.now();
        self.unchanged(&mut now, known)?;
        let edited = intake::with_floor(&now.text, area, floor).map_err(|no| match no {
            NoEdit::NoLength(why) => NotEdited::NoLength(why),
            NoEdit::NoFloor => NotEdited::Nothing("this floor can't be changed here; change it in the plate file"),
            NoEdit::NotKept => NotEdited::Nothing(
                "the plate file is written so that this can't be changed without touching something else; change it there",
            ),
        })?;
        if edited == now.text {
            return Ok(());
        }
        let before = self.put(&mut now, edited)?;
        now.undo.push(before);
        if now.undo.len() > KEPT {
            now.undo.remove(0);
        }
        now.redo.clear();
        Ok(())
    }

    /// Takes the last edit back, or makes it again.
    pub(crate) fn step(&self, known: &str, back: bool) -> Result<(), NotEdited> {
        let mut now = self.now();
        self.unchanged(&mut now, known)?;
        let from = if back { &mut now.undo } else { &mut now.redo };
        let Some(text) = from.pop() else {
            return Err(NotEdited::Nothing(if back { "nothing to undo" } else { "nothing to redo" }));
        };
        match self.put(&mut now, text.clone()) {
            Ok(before) => {
                if back { &mut now.redo } else { &mut now.undo }.push(before);
                Ok(())
            }
            Err(error) => {
                // A change made elsewhere has emptied both lists by now.
                if !matches!(error, NotEdited::Changed) {
                    if back { &mut now.undo } else { &mut now.redo }.push(text);
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

    fn keep_proving(&self) {
        let mut done = 0;
        loop {
            let wanted = {
                let mut now = self.now();
                while !self.is_over() && self.wanted.load(Ordering::SeqCst) == done {
                    now = self.wake.wait(now).unwrap_or_else(PoisonError::into_inner);
                }
                self.wanted.load(Ordering::SeqCst)
            };
            if self.is_over() {
                return;
            }
            let watch = Newer { board: self, run: wanted };
            let made = catch_unwind(AssertUnwindSafe(|| Run::make(wanted, self.paper.given(), &watch)));
            let run = match made {
                Ok(Some(run)) => run,
                Ok(None) => continue,
                Err(_) => Run::broken(wanted, self.now().hash.clone()),
            };
            done = wanted;
            let mut now = self.now();
            let run = Arc::new(run);
            if run.computed.is_some() {
                now.shown = Some(Arc::clone(&run));
            }
            if let Some(reading) = &mut now.reading {
                reading.settle(&run);
            }
            now.last = Some(run);
            now.working = self.wanted.load(Ordering::SeqCst) != done;
            drop(now);
            self.say();
        }
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

/// Stops a run when a newer one is wanted.
struct Newer<'a> {
    board: &'a Board,
    run: u64,
}

impl Watch for Newer<'_> {
    fn progress(&self, _: f64) {}

    fn stopped(&self) -> bool {
        self.board.wanted.load(Ordering::Relaxed) != self.run
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
