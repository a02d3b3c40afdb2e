//! A file's text changed so that nothing else in it does: comments, order, line ends and the mark at its start stay.

use toml_edit::{DocumentMut, Item, Table, Value};

/// Why a change was not made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoEdit {
    /// The words are no length; why.
    NoLength(String),
    /// What should be changed isn't there, or is of another kind.
    NotThere,
    /// The text can't be edited so that nothing else in it changes.
    NotKept,
}

/// The text with a change made to its document.
///
/// # Errors
/// What `change` gives; [`NoEdit::NotKept`] if the text is no TOML or mixes its line ends.
pub(crate) fn rewritten(
    text: &str,
    change: impl FnOnce(&mut DocumentMut) -> Result<(), NoEdit>,
) -> Result<String, NoEdit> {
    // The editor keeps no line ends of its own kind.
    let (bare, mark) = text.strip_prefix('\u{feff}').map_or((text, ""), |bare| (bare, "\u{feff}"));
    let breaks = bare.matches('\n').count();
    let returns = bare.matches("\r\n").count();
    if returns != 0 && returns != breaks {
        return Err(NoEdit::NotKept);
    }
    let mut document: DocumentMut = bare.replace("\r\n", "\n").parse().map_err(|_| NoEdit::NotKept)?;
    change(&mut document)?;
    let edited = document.to_string();
    Ok(format!("{mark}{}", if returns > 0 { edited.replace('\n', "\r\n") } else { edited }))
}

/// A text as plain values, its start's mark left out.
pub(crate) fn plain(text: &str) -> Option<toml::Table> {
    text.trim_start_matches('\u{feff}').parse().ok()
}

/// Where a change is made: an item of a table, a value of an array, or a table of a list of tables.
pub(crate) enum Spot<'d> {
    Item(&'d mut Item),
    Value(&'d mut Value),
    Table(&'d mut Table),
}

impl<'d> Spot<'d> {
    /// What a key of this one holds.
    pub(crate) fn key(self, key: &str) -> Option<Self> {
        match self {
            Self::Item(item) => match item {
                Item::Value(value) => Self::Value(value).key(key),
                _ => item.as_table_like_mut()?.get_mut(key).map(Spot::Item),
            },
            Self::Value(value) => value.as_inline_table_mut()?.get_mut(key).map(Spot::Value),
            Self::Table(table) => table.get_mut(key).map(Spot::Item),
        }
    }

    /// What stands at an index of this one, from 0.
    pub(crate) fn at(self, index: usize) -> Option<Self> {
        match self {
            Self::Item(Item::ArrayOfTables(tables)) => tables.get_mut(index).map(Spot::Table),
            Self::Item(Item::Value(value)) | Self::Value(value) => {
                value.as_array_mut()?.get_mut(index).map(Spot::Value)
            }
            _ => None,
        }
    }
}
