//! The secrets of one run of the server: who has one may see the page and write.

use std::fmt::Write;
use std::sync::{Mutex, PoisonError};
use subtle::ConstantTimeEq;

/// Bytes of a secret.
const BYTES: usize = 32;

/// The secrets.
pub(crate) struct Keys {
    /// What the cookie holds.
    cookie: String,
    /// What the printed address holds; good as often as it is visited.
    address: String,
    /// What the address holds that is given to the browser when it is started, since other users of the computer can see
    /// the words a program was started with: good once.
    once: Mutex<Option<String>>,
}

impl Keys {
    /// Fresh ones.
    ///
    /// # Errors
    /// If the system gives no random numbers.
    pub(crate) fn fresh() -> Result<Self, getrandom::Error> {
        Ok(Self { cookie: secret()?, address: secret()?, once: Mutex::new(Some(secret()?)) })
    }

    /// What the printed address holds.
    pub(crate) fn address(&self) -> &str {
        &self.address
    }

    /// What the address holds that the browser is started with, while it is still good.
    pub(crate) fn once(&self) -> Option<String> {
        self.once.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// What the cookie holds.
    pub(crate) fn cookie(&self) -> &str {
        &self.cookie
    }

    /// Whether a cookie is right.
    pub(crate) fn knows(&self, cookie: &str) -> bool {
        same(cookie, &self.cookie)
    }

    /// Whether an address's secret lets in; the one that is good once is used up by it.
    pub(crate) fn lets_in(&self, said: &str) -> bool {
        if same(said, &self.address) {
            return true;
        }
        let mut once = self.once.lock().unwrap_or_else(PoisonError::into_inner);
        let right = once.as_deref().is_some_and(|key| same(said, key));
        if right {
            *once = None;
        }
        right
    }
}

/// Takes as long wherever they differ.
pub(crate) fn same(a: &str, b: &str) -> bool {
    a.as_bytes().ct_eq(b.as_bytes()).into()
}

/// A fresh secret.
///
/// # Errors
/// If the system gives no random numbers.
pub(crate) fn secret() -> Result<String, getrandom::Error> {
    let mut bytes = [0u8; BYTES];
    getrandom::fill(&mut bytes)?;
    let mut text = String::with_capacity(2 * BYTES);
    for byte in bytes {
        let _ = write!(text, "{byte:02x}");
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn secrets_differ_and_one_is_good_once() {
        let keys = Keys::fresh().unwrap();
        assert_eq!(keys.cookie().len(), 64);
        assert!(keys.cookie() != keys.address() && keys.address() != Keys::fresh().unwrap().address());
        let once = keys.once().unwrap();
        assert!(keys.lets_in(&once) && !keys.lets_in(&once));
        assert!(keys.lets_in(keys.address()) && keys.lets_in(keys.address()));
        assert!(keys.knows(keys.cookie()));
        for wrong in ["", "0", &keys.cookie()[1..], keys.address()] {
            assert!(!keys.knows(wrong));
        }
        for wrong in ["", &keys.address()[..63], keys.cookie()] {
            assert!(!keys.lets_in(wrong));
        }
    }
}
