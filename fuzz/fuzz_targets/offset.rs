//! Offsets of valid regions: every property in `fuzz::offsets`.
#![no_main]

use libfuzzer_sys::{Corpus, fuzz_target};

fuzz_target!(|data: &[u8]| -> Corpus {
    match fuzz::offsets::check(data) {
        Some(held) => {
            fuzz::settle(held, data);
            Corpus::Keep
        }
        None => Corpus::Reject,
    }
});
