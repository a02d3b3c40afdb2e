//! Combinations of rings of any kind, crossing, without area, not a number or huge: no panic, no hang.
#![no_main]

use fuzz::bytes::Bytes;
use libfuzzer_sys::fuzz_target;
use plane::{FillRule, Region, Shape, difference, intersection, regions_from_rings, union};

fuzz_target!(|data: &[u8]| {
    fuzz::calm(data, || run(data));
});

fn run(data: &[u8]) {
    let mut b = Bytes::new(data);
    let wild = b.below(3) == 2 && !fuzz::tame();
    let mut region = || {
        let rings = fuzz::region::rings(&mut b, wild);
        Region { shapes: rings.into_iter().map(|outer| Shape { outer, holes: Vec::new() }).collect() }
    };
    let (a, b) = (region(), region());
    let _ = (union([&a, &b]), intersection(&a, &b), difference(&a, &b));
    let _ = regions_from_rings(a.contours(), FillRule::EvenOdd);
    let _ = regions_from_rings(b.contours(), FillRule::NonZero);
}
