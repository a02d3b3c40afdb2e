//! Union, difference and intersection on the arcs themselves: nothing is flattened, nothing fitted.
//!
//! What a result keeps of an input contour it keeps exactly: the same vertices and bulges, and parts of the same
//! arcs. Meeting points are computed by formula to about 1e-9 mm. Any number of regions unite at once in n log n plus
//! the meetings. Pieces under 0.4 µm wide are left out. Where the numbers can't tell how curves come together, or
//! more meet than are followed (see [`check`](crate::check()) for both), the answer comes from flattened rings as in
//! [`union`](crate::union()), within the same budget. Contours that [`check`](crate::check()) would leave out (not
//! finite, too far, without area) count as empty here too.

use crate::arrange::loops::rings;
use crate::arrange::{Source, Winding, arrange};
use crate::check::clean::clean;
use crate::check::{MERGES, settled, shapes};
use crate::{Contour, Region};

/// All that is in any of the regions.
pub fn union<'a>(regions: impl IntoIterator<Item = &'a Region>) -> Region {
    let contours: Vec<Contour> = regions.into_iter().flat_map(fit_to_arrange).collect();
    let inside = |w: Winding| w[0] > 0;
    combined(&contours, &[], inside).unwrap_or_else(|| crate::regions_from_rings(&contours, crate::FillRule::NonZero))
}

/// What is in `a` and not in `b`.
pub fn difference(a: &Region, b: &Region) -> Region {
    let (first, second) = (fit_to_arrange(a), fit_to_arrange(b));
    let inside = |w: Winding| w[0] > 0 && w[1] <= 0;
    combined(&first, &second, inside).unwrap_or_else(|| crate::difference(a, b))
}

/// What is in both.
pub fn intersection(a: &Region, b: &Region) -> Region {
    let (first, second) = (fit_to_arrange(a), fit_to_arrange(b));
    let inside = |w: Winding| w[0] > 0 && w[1] > 0;
    combined(&first, &second, inside).unwrap_or_else(|| crate::intersection(a, b))
}

fn fit_to_arrange(region: &Region) -> Vec<Contour> {
    let mut unsaid = Vec::new();
    region.contours().filter_map(|c| clean(c, 0, &mut unsaid)).collect()
}

fn combined(first: &[Contour], second: &[Contour], inside: impl Fn(Winding) -> bool + Copy) -> Option<Region> {
    let set = |contours, set| <[Contour]>::iter(contours).map(move |contour| Source { contour, set });
    let sources: Vec<Source> = set(first, 0).chain(set(second, 1)).collect();
    let inputs: Vec<&Contour> = sources.iter().map(|s| s.contour).collect();
    MERGES.iter().find_map(|&eps| {
        let a = arrange(&sources, eps).ok()?;
        Some(settled(shapes(rings(&a, &inputs, inside).ok()?.0).ok()?.region))
    })
}
