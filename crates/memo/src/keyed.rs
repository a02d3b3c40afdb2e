//! What a key is made of.

use siphasher::sip128::{Hasher128, SipHasher13};
use std::hash::Hasher;

/// A key's hash.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Print(u64, u64);

/// A key while it is put together.
#[derive(Debug, Clone)]
pub struct Key(SipHasher13);

/// What can be part of a key: all of it that makes a difference, so that two values that differ give different keys.
pub trait Keyed {
    /// Puts itself into a key.
    fn put(&self, key: &mut Key);
}

impl Key {
    /// A key for one kind of result, by a name of its own.
    pub fn named(name: &str) -> Self {
        let mut key = Self(SipHasher13::new());
        name.put(&mut key);
        key
    }

    /// With one more value.
    #[must_use]
    pub fn with<T: Keyed + ?Sized>(mut self, value: &T) -> Self {
        value.put(&mut self);
        self
    }

    /// The print of what is in it so far.
    pub fn print(&self) -> Print {
        let hash = self.0.finish128();
        Print(hash.h1, hash.h2)
    }

    fn word(&mut self, word: u64) {
        self.0.write_u64(word);
    }
}

impl Keyed for f64 {
    /// By its bits: 0 and -0 differ.
    fn put(&self, key: &mut Key) {
        key.word(self.to_bits());
    }
}

impl Keyed for f32 {
    fn put(&self, key: &mut Key) {
        key.word(u64::from(self.to_bits()));
    }
}

impl Keyed for usize {
    fn put(&self, key: &mut Key) {
        key.word(*self as u64);
    }
}

impl Keyed for u32 {
    fn put(&self, key: &mut Key) {
        key.word(u64::from(*self));
    }
}

impl Keyed for bool {
    fn put(&self, key: &mut Key) {
        key.word(u64::from(*self));
    }
}

impl Keyed for str {
    fn put(&self, key: &mut Key) {
        key.word(self.len() as u64);
        key.0.write(self.as_bytes());
    }
}

impl Keyed for [u8] {
    fn put(&self, key: &mut Key) {
        key.word(self.len() as u64);
        key.0.write(self);
    }
}

impl Keyed for Print {
    fn put(&self, key: &mut Key) {
        key.word(self.0);
        key.word(self.1);
    }
}

impl<T: Keyed> Keyed for Option<T> {
    fn put(&self, key: &mut Key) {
        key.word(u64::from(self.is_some()));
        if let Some(value) = self {
            value.put(key);
        }
    }
}

/// A list and how long it is, so that lists put after one another stay apart.
impl<T: Keyed> Keyed for Vec<T> {
    fn put(&self, key: &mut Key) {
        key.word(self.len() as u64);
        self.iter().for_each(|value| value.put(key));
    }
}

impl<T: Keyed, const N: usize> Keyed for [T; N] {
    fn put(&self, key: &mut Key) {
        self.iter().for_each(|value| value.put(key));
    }
}

impl<T: Keyed + ?Sized> Keyed for &T {
    fn put(&self, key: &mut Key) {
        (**self).put(key);
    }
}

impl<A: Keyed, B: Keyed> Keyed for (A, B) {
    fn put(&self, key: &mut Key) {
        self.0.put(key);
        self.1.put(key);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_differs_has_another_print() {
        let key = || Key::named("a list");
        let keys = [
            key(),
            Key::named("another"),
            key().with(&0.0),
            key().with(&-0.0),
            key().with(&vec![1.0, 2.0]).with(&vec![3.0]),
            key().with(&vec![1.0]).with(&vec![2.0, 3.0]),
            key().with("ab").with("c"),
            key().with("a").with("bc"),
            Key::named("maybe").with(&None::<f64>),
            Key::named("maybe").with(&Some(0.0)),
        ];
        let prints: Vec<Print> = keys.iter().map(Key::print).collect();
        for (i, a) in prints.iter().enumerate() {
            assert!(prints[..i].iter().all(|b| a != b), "{i}");
        }
        assert_eq!(key().with(&0.5).print(), key().with(&0.5).print());
    }
}
