//! Answering what is wanted last: a sketch, a first answer, and a full run that confirms it.

use super::Board;
use crate::run::Run;
use intake::Taken;
use memo::Memo;
use proof::Watch;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::Ordering;
use std::sync::{Arc, PoisonError};
use std::time::Duration;

/// After a first answer so long nothing is begun.
const REST: Duration = Duration::from_millis(600);

impl Board {
    /// Plans and proves what is wanted last until the board ends.
    pub(super) fn keep_proving(&self) {
        let (mut done, mut memo) = (0, Memo::new());
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
            if self.answer(wanted, &mut memo) {
                done = wanted;
            }
        }
    }

    /// Answers a wish: by a sketch, a first answer and a full run. False if a newer one came.
    fn answer(&self, wanted: u64, memo: &mut Memo) -> bool {
        let Ok(taken) = catch_unwind(AssertUnwindSafe(|| intake::take(self.paper.given()))) else {
            let hash = self.now().hash.clone();
            return self.put_run(wanted, Run::broken(wanted, hash));
        };
        self.sketch(wanted, &taken);
        let watch = Newer { board: self, run: wanted };
        let made = |memo: Option<&Memo>| {
            let made = catch_unwind(AssertUnwindSafe(|| Run::make(wanted, &taken, memo, &watch)));
            made.unwrap_or_else(|_| Some(Run::broken(wanted, self.now().hash.clone())))
        };
        let Some(first) = made(Some(memo)) else { return false };
        if first.broke_off.is_some() {
            *memo = Memo::new();
        }
        let shown = self.now().shown.clone();
        let first = Arc::new(first.after(shown.as_deref()));
        if !self.put_first(wanted, &first) || !self.rests(wanted) {
            return false;
        }
        made(None).is_some_and(|run| self.put_run(wanted, run.confirming(&first)))
    }

    /// Waits a moment, in which more edits may come and the first answer is drawn; false if a newer wish came.
    fn rests(&self, wanted: u64) -> bool {
        let is_newer = || self.is_over() || self.wanted.load(Ordering::SeqCst) != wanted;
        let _waited = self.wake.wait_timeout_while(self.now(), REST, |_| !is_newer());
        !is_newer()
    }

    /// Shows a first answer, if it is still wanted.
    fn put_first(&self, wanted: u64, run: &Arc<Run>) -> bool {
        let mut now = self.now();
        if self.wanted.load(Ordering::SeqCst) != wanted {
            return false;
        }
        now.show(run);
        now.answered = true;
        drop(now);
        self.say();
        true
    }

    /// Shows a full run.
    fn put_run(&self, wanted: u64, run: Run) -> bool {
        let mut now = self.now();
        let run = Arc::new(run);
        now.show(&run);
        if let Some(reading) = &mut now.reading {
            reading.settle(&run);
        }
        let newer = self.wanted.load(Ordering::SeqCst) != wanted;
        (now.working, now.answered) = (newer, false);
        drop(now);
        self.say();
        true
    }

    /// Shows what an edit will look like before it is planned.
    fn sketch(&self, wanted: u64, taken: &Taken) {
        let shown = self.now().shown.clone();
        let made = catch_unwind(AssertUnwindSafe(|| Run::sketch(wanted, taken, shown.as_deref())));
        // One that fails is no loss: the run says what is wrong.
        let Ok(Some(sketch)) = made else { return };
        let mut now = self.now();
        if self.wanted.load(Ordering::SeqCst) == wanted {
            now.sketch = Some(Arc::new(sketch));
            drop(now);
            self.say();
        }
    }
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
