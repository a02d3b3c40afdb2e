//! Results kept by what they were made from, so that an edit costs only what it touches.
//!
//! A result is found again if everything it was made from is the same to the last bit; what that is, the caller says by a
//! [`Key`]. Keys are 128-bit hashes (SipHash, Aumasson and Bernstein 2012): two different ones out of a billion are alike with a
//! probability of 1e-21. Nothing that goes to a machine is made from what was kept of another run: that serves the first answer
//! to an edit, and a run that takes nothing over confirms it.

mod keyed;

pub use keyed::{Key, Keyed, Print};

use std::any::{Any, TypeId};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Results that weren't asked for in so many turns are forgotten: an edit and its undoing stay quick.
const TURNS: u64 = 4;

/// What is kept; shared by threads.
#[derive(Debug, Default)]
pub struct Memo {
    /// `None` where nothing is kept.
    kept: Option<Mutex<Kept>>,
}

#[derive(Debug, Default)]
struct Kept {
    turn: u64,
    results: BTreeMap<(TypeId, Print), Result>,
}

#[derive(Debug)]
struct Result {
    asked: u64,
    made: Arc<dyn Any + Send + Sync>,
}

impl Memo {
    /// Keeps results.
    pub fn new() -> Self {
        Self { kept: Some(Mutex::default()) }
    }

    /// Keeps nothing: every result is made anew.
    pub fn none() -> Self {
        Self { kept: None }
    }

    /// Whether anything is kept.
    pub fn keeps(&self) -> bool {
        self.kept.is_some()
    }

    /// The result made from what is in the key: a kept one, or a new one that is kept. While it is made others may ask: then it is made twice.
    pub fn recall<T: Send + Sync + 'static>(&self, of: impl FnOnce() -> Key, make: impl FnOnce() -> T) -> Arc<T> {
        let Some(kept) = &self.kept else { return Arc::new(make()) };
        let print = of().print();
        if let Some(found) = Self::found(kept, print) {
            return found;
        }
        let made = Arc::new(make());
        Self::put(kept, print, Arc::clone(&made));
        made
    }

    fn found<T: Send + Sync + 'static>(kept: &Mutex<Kept>, print: Print) -> Option<Arc<T>> {
        let mut kept = kept.lock().unwrap_or_else(PoisonError::into_inner);
        let turn = kept.turn;
        let result = kept.results.get_mut(&(TypeId::of::<T>(), print))?;
        result.asked = turn;
        Arc::clone(&result.made).downcast().ok()
    }

    /// What was kept last under a key.
    pub fn last<T: Send + Sync + 'static>(&self, of: impl FnOnce() -> Key) -> Option<Arc<T>> {
        Self::found(self.kept.as_ref()?, of().print())
    }

    /// Keeps a value in the place of what was kept under a key.
    pub fn keep<T: Send + Sync + 'static>(&self, of: impl FnOnce() -> Key, value: T) {
        if let Some(kept) = &self.kept {
            Self::put(kept, of().print(), Arc::new(value));
        }
    }

    fn put<T: Send + Sync + 'static>(kept: &Mutex<Kept>, print: Print, made: Arc<T>) {
        let mut kept = kept.lock().unwrap_or_else(PoisonError::into_inner);
        let asked = kept.turn;
        kept.results.insert((TypeId::of::<T>(), print), Result { asked, made });
    }

    /// A new turn begins: what wasn't asked for in the last few is forgotten.
    pub fn turn(&self) {
        let Some(kept) = &self.kept else { return };
        let mut kept = kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.turn += 1;
        let turn = kept.turn;
        kept.results.retain(|_, r| r.asked + TURNS >= turn);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};

    #[test]
    fn the_same_is_made_once_and_forgotten_when_nobody_asks() {
        let (memo, made) = (Memo::new(), AtomicUsize::new(0));
        let ask = |x: f64| {
            *memo.recall(
                || Key::named("double").with(&x),
                || {
                    made.fetch_add(1, Ordering::Relaxed);
                    2.0 * x
                },
            )
        };
        assert_eq!((ask(1.5), ask(1.5), ask(2.5)), (3.0, 3.0, 5.0));
        assert_eq!(made.load(Ordering::Relaxed), 2);
        for _ in 0..=TURNS {
            memo.turn();
            ask(2.5);
        }
        ask(2.5);
        assert_eq!(made.load(Ordering::Relaxed), 2);
        ask(1.5);
        assert_eq!(made.load(Ordering::Relaxed), 3, "it was forgotten");
    }

    #[test]
    fn where_nothing_is_kept_all_is_made_anew() {
        let (memo, mut made) = (Memo::none(), 0);
        for _ in 0..3 {
            memo.recall(|| Key::named("one"), || made += 1);
        }
        assert_eq!(made, 3);
        assert!(!memo.keeps());
    }
}
