//! Choices read from bytes; past the end all are nought, so that every prefix is a case of its own.

/// Bytes and how far they have been read.
pub struct Bytes<'a> {
    data: &'a [u8],
}

impl<'a> Bytes<'a> {
    /// From the first byte on.
    pub const fn new(data: &'a [u8]) -> Self {
        Self { data }
    }

    /// The next byte.
    pub fn byte(&mut self) -> u8 {
        let Some((&first, rest)) = self.data.split_first() else { return 0 };
        self.data = rest;
        first
    }

    /// Whether all have been read.
    pub const fn is_spent(&self) -> bool {
        self.data.is_empty()
    }

    /// A whole number below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        usize::from(self.byte()) % n
    }

    /// Yes or no.
    pub fn flag(&mut self) -> bool {
        self.byte() & 1 == 1
    }

    /// One of a list.
    pub fn of<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.below(list.len())]
    }

    /// From 0 to 1.
    pub fn share(&mut self) -> f64 {
        f64::from(u16::from_le_bytes([self.byte(), self.byte()])) / 65535.0
    }

    /// Any f64 at all.
    pub fn any(&mut self) -> f64 {
        f64::from_le_bytes(std::array::from_fn(|_| self.byte()))
    }
}
