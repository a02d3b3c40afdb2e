//! What is measured at the bench: put into the plate file or the shop file, planned and proven anew, and what it changed.

use super::{Board, NotEdited, Now, no_edit};
use crate::changed::Figures;
use serde_json::{Value, json};

/// A reading that was taken, and what came of it.
#[derive(Debug, Clone)]
pub(crate) struct Reading {
    /// What was taken, in words.
    said: String,
    /// The run before it.
    before: Figures,
    /// What it changed, once the run after it has ended.
    changed: Option<Value>,
}

impl Reading {
    /// As JSON.
    pub(crate) fn told(&self) -> Value {
        json!({ "said": self.said, "changed": self.changed })
    }

    /// Compares with the first run that ended after it.
    pub(super) fn settle(&mut self, after: &crate::run::Run) {
        if self.changed.is_none() {
            self.changed = Some(self.before.until(&Figures::of(after)));
        }
    }
}

impl Board {
    /// Whether a changed file is the shop file as it was written from here.
    pub(super) fn own_shop(&self, now: &mut Now, name: &str) -> bool {
        let Some(own) = now.own_shop.take() else { return false };
        let shop = self.shop_of(&now.text);
        shop.name == name && shop.hash == own
    }

    /// Puts other thickness readings of a layer (from 0, top first) into the plate file; `known` is the hash of the text that
    /// the page showed.
    pub(crate) fn measure_layer(&self, known: &str, layer: usize, readings: &[&str]) -> Result<(), NotEdited> {
        let mut now = self.now();
        self.unchanged(&mut now, known)?;
        let edited = intake::with_measured(&now.text, layer, readings).map_err(no_edit)?;
        let sheet = intake::layer_lines(&now.text).into_iter().nth(layer).map_or_else(String::new, |l| l.sheet);
        if edited == now.text {
            return Ok(());
        }
        let was = now.last.as_deref().map(Figures::of);
        self.take_edit(&mut now, edited)?;
        note(&mut now, format!("{sheet} reads {}", readings.join(", ")), was);
        Ok(())
    }

    /// Puts another diameter of a cutter into the shop file; `known` is the hash of the text that the page showed.
    pub(crate) fn measure_cutter(&self, known: &str, number: i64, diameter: &str) -> Result<(), NotEdited> {
        let edit = |text: &str| intake::with_diameter(text, number, diameter).map_err(no_edit);
        self.edit_shop(known, edit, |now| {
            let was = now.last.as_deref().map(Figures::of);
            note(now, format!("cutter {number} measures {}", diameter.trim()), was);
        })
    }
}

/// A reading before whose run another one is taken counts from the same run.
fn note(now: &mut Now, said: String, was: Option<Figures>) {
    let open = now.reading.take().filter(|r| r.changed.is_none());
    now.reading = Some(match open {
        Some(open) => Reading { said: format!("{}; {said}", open.said), ..open },
        None => Reading { said, before: was.unwrap_or_default(), changed: None },
    });
}
