//! Program texts of any kind: every property in `fuzz::programs`.
#![no_main]

use libfuzzer_sys::fuzz_target;

#[global_allocator]
static COUNTED: fuzz::memory::Counted = fuzz::memory::Counted;

fuzz_target!(|data: &[u8]| {
    fuzz::settle(fuzz::programs::check(data), data);
});
