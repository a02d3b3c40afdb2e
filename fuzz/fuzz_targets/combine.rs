//! Combinations of valid regions and of crossing rings: every property in `fuzz::combining`.
#![no_main]

use libfuzzer_sys::{Corpus, fuzz_target};

fuzz_target!(|data: &[u8]| -> Corpus {
    match fuzz::combining::check(data) {
        Some(held) => {
            fuzz::settle(held, data);
            Corpus::Keep
        }
        None => Corpus::Reject,
    }
});
