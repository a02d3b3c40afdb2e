//! The moves of a program. The first ones are kept as values; those of a longer program are read again from its text
//! where they are wanted, so that memory grows with the text and not with what it means.

use crate::state::State;
use crate::text::Text;
use crate::{Move, Plane, Shape};
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

/// Most moves kept as values: some 50 MB.
const KEPT: usize = 250_000;
/// How many lie together. A growing list would have to be copied, and then both the old and the new one are in memory.
const TOGETHER: usize = 4096;

/// The first moves of a program.
#[derive(Debug, Default, Clone)]
pub(crate) struct Kept(Vec<Vec<Move>>);

impl Kept {
    /// Adds moves while there is room; `before` are there already.
    pub(crate) fn add(&mut self, moves: &[Move], before: usize) {
        for (index, m) in (before..KEPT).zip(moves) {
            if index.is_multiple_of(TOGETHER) {
                self.0.push(if index == 0 { Vec::new() } else { Vec::with_capacity(TOGETHER) });
            }
            if let Some(last) = self.0.last_mut() {
                last.push(*m);
            }
        }
    }

    fn get(&self, index: usize) -> Option<&Move> {
        self.0.get(index / TOGETHER)?.get(index % TOGETHER)
    }
}

/// The moves of a program, in order.
pub struct Moves {
    kept: Kept,
    count: usize,
    text: Arc<Text>,
    /// Added to all heights, mm.
    raised: f64,
    /// Where the last move beyond those kept was found, since the next one wanted is mostly the next one.
    last: Mutex<Option<Cursor>>,
}

impl Moves {
    pub(crate) fn new(kept: Kept, count: usize, text: Arc<Text>) -> Self {
        Self { kept, count, text, raised: 0.0, last: Mutex::new(None) }
    }

    /// The same moves that much higher, mm.
    pub(crate) fn raised(mut self, by: f64) -> Self {
        self.raised += by;
        self
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.count
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// A move by its index, from 0. Beyond the first 250,000 it is quick only from each move to a later one.
    pub fn get(&self, index: usize) -> Option<Move> {
        if index >= self.count {
            return None;
        }
        if let Some(kept) = self.kept.get(index) {
            return Some(higher(*kept, self.raised));
        }
        // What another thread left behind is overwritten or gone on from; a cursor is whole at all times.
        let mut last = self.last.lock().unwrap_or_else(PoisonError::into_inner);
        let better = match last.as_ref() {
            Some(cursor) => cursor.index > index || self.text.piece_of(index) > cursor.piece,
            None => true,
        };
        let mut cursor = match (better, last.take()) {
            (false, Some(cursor)) => cursor,
            _ => Cursor::in_piece_of(&self.text, index)?,
        };
        let found = loop {
            let at = cursor.index;
            let next = cursor.next(&self.text)?;
            if at == index {
                break next;
            }
        };
        *last = Some(cursor);
        Some(higher(found, self.raised))
    }

    /// The first.
    pub fn first(&self) -> Option<Move> {
        self.get(0)
    }

    /// The last.
    pub fn last(&self) -> Option<Move> {
        self.get(self.count.checked_sub(1)?)
    }

    /// In order.
    pub fn iter(&self) -> impl Iterator<Item = Move> {
        let mut further = None;
        let mut index = 0;
        std::iter::from_fn(move || {
            if index >= self.count {
                return None;
            }
            index += 1;
            if let Some(kept) = self.kept.get(index - 1) {
                return Some(higher(*kept, self.raised));
            }
            if further.is_none() {
                let mut cursor = Cursor::in_piece_of(&self.text, index - 1)?;
                while cursor.index < index - 1 {
                    cursor.next(&self.text)?;
                }
                further = Some(cursor);
            }
            Some(higher(further.as_mut()?.next(&self.text)?, self.raised))
        })
    }
}

fn higher(mut m: Move, by: f64) -> Move {
    if by == 0.0 {
        return m;
    }
    for at in [&mut m.from, &mut m.to] {
        at[2] = at[2].map(|z| z + by);
    }
    if let Shape::Arc { plane, centre, .. } = &mut m.shape {
        match plane {
            Plane::Xy => {}
            Plane::Zx => centre[0] += by,
            Plane::Yz => centre[1] += by,
        }
    }
    m
}

impl Text {
    /// The last piece that begins at or before a move.
    fn piece_of(&self, index: usize) -> usize {
        self.pieces.partition_point(|p| p.first_move <= index).saturating_sub(1)
    }
}

/// Reading a text again, from a piece's beginning.
struct Cursor {
    piece: usize,
    /// Byte of the next line in its piece.
    at: usize,
    state: State,
    /// How many of the line's moves are taken.
    taken: usize,
    /// Index of the next move.
    index: usize,
}

impl Cursor {
    fn in_piece_of(text: &Text, index: usize) -> Option<Self> {
        let piece = text.piece_of(index);
        let begin = text.pieces.get(piece)?;
        Some(Self { piece, at: 0, state: begin.state.clone(), taken: 0, index: begin.first_move })
    }

    fn next(&mut self, text: &Text) -> Option<Move> {
        loop {
            if let Some(found) = self.state.moves().get(self.taken) {
                self.taken += 1;
                self.index += 1;
                return Some(*found);
            }
            match text.pieces.get(self.piece)?.line_at(self.at) {
                Some((line, next)) => {
                    self.state.take(&line, 0);
                    (self.at, self.taken) = (next, 0);
                }
                None => (self.piece, self.at) = (self.piece + 1, 0),
            }
        }
    }
}

impl Default for Moves {
    fn default() -> Self {
        Self::new(Kept::default(), 0, Arc::default())
    }
}

impl Clone for Moves {
    fn clone(&self) -> Self {
        Self::new(self.kept.clone(), self.count, Arc::clone(&self.text)).raised(self.raised)
    }
}

impl fmt::Debug for Moves {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list().entries(self.iter()).finish()
    }
}

impl PartialEq for Moves {
    fn eq(&self, other: &Self) -> bool {
        self.count == other.count && self.iter().eq(other.iter())
    }
}
