//! Offsets of rings of any kind, crossing, without area, not a number or huge: no panic, no hang.
#![no_main]

use fuzz::bytes::Bytes;
use libfuzzer_sys::fuzz_target;
use plane::{Region, Segment, Shape};

fuzz_target!(|data: &[u8]| {
    fuzz::calm(data, || run(data));
});

fn run(data: &[u8]) {
    let mut b = Bytes::new(data);
    let r = if b.below(8) == 7 && !fuzz::tame() { b.any() } else { fuzz::region::radius(&mut b) };
    let (kind, wild) = (b.below(6), b.below(3) == 2 && !fuzz::tame());
    let mut rings = fuzz::region::rings(&mut b, wild);
    let holes = if b.flag() { rings.split_off(rings.len() / 2) } else { Vec::new() };
    let mut shapes: Vec<Shape> = rings.into_iter().map(|outer| Shape { outer, holes: Vec::new() }).collect();
    if let Some(shape) = shapes.first_mut() {
        shape.holes = holes;
    }
    let region = Region { shapes };
    match kind {
        0 => drop(reach::inset(&region, r)),
        1 => drop(reach::outset(&region, r)),
        2 => drop(reach::opening(&region, r)),
        3 => drop(reach::closing(&region, r)),
        4 => drop(reach::insets(&region, r, 0.7 * r, 6)),
        _ => {
            let segments: Vec<Segment> = region.contours().flat_map(|c| c.segments().collect::<Vec<_>>()).collect();
            drop(reach::swept(&segments, r));
        }
    }
}
