//! What is known of legs from the proof before: a leg that met the same ground, cut by the same legs in the same order, asks the
//! same of its cutter; and so does a level one beside which the same was cut free as far as its own height, when another floor
//! has moved all heights.

use crate::engage::Engaged;
use crate::relief::Touch;
use memo::{Key, Memo, Print};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Engagement along one leg.
#[derive(Debug)]
pub(crate) struct Along {
    /// The greatest of each figure.
    pub(crate) most: Engaged,
    /// In each of equal parts of the leg, degrees.
    pub(crate) angles: Vec<f64>,
    /// What decides it at whatever height, where that is told.
    pub(crate) alike: Option<Print>,
}

type Table = HashMap<Print, Arc<Along>>;

/// The legs of the proof before, and those of this one.
pub(crate) struct Known<'a> {
    before: Option<Arc<Table>>,
    /// By leg; empty where nothing is kept.
    histories: &'a [Print],
    now: Mutex<Table>,
}

fn key() -> Key {
    Key::named("legs of the last proof")
}

impl<'a> Known<'a> {
    pub(crate) fn recalled(memo: &Memo, histories: &'a [Print]) -> Self {
        Self { before: memo.last(key), histories, now: Mutex::default() }
    }

    /// Keeps the legs of this proof for the next.
    pub(crate) fn keep(&self, memo: &Memo) {
        memo.keep(key, std::mem::take(&mut *self.now.lock().unwrap_or_else(PoisonError::into_inner)));
    }

    /// What decides a leg's engagement; `None` where nothing is kept.
    pub(crate) fn print(&self, leg: usize, touch: &Touch) -> Option<Print> {
        let history = self.histories.get(leg)?;
        Some(Key::named("engaged").with(history).with(&touch.bite).with(&touch.bite_at).print())
    }

    pub(crate) fn found(&self, print: Option<Print>) -> Option<Arc<Along>> {
        self.before.as_ref()?.get(&print?).cloned()
    }

    /// Whether anything is kept.
    pub(crate) fn keeps(&self) -> bool {
        !self.histories.is_empty()
    }

    pub(crate) fn add(&self, legs: impl Iterator<Item = (Option<Print>, Arc<Along>)>) {
        if !self.keeps() {
            return;
        }
        let mut now = self.now.lock().unwrap_or_else(PoisonError::into_inner);
        for (print, along) in legs {
            for print in [print, along.alike].into_iter().flatten() {
                now.insert(print, Arc::clone(&along));
            }
        }
    }
}
