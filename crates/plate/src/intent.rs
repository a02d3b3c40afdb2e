//! What the plate shall be: disjoint regions with chosen heights, the outline, and what must not be touched.

use crate::Blank;
use plane::{Bounds, Contour, Point, Region};
use quantity::{Angle, Height, Length};
use serde::Serialize;

/// Why a floor is at its height.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FloorKind {
    /// It shows a layer (index into the blank's layers).
    Shows(usize),
    /// A depth below the face.
    BelowFace(Length),
    /// A height above the table.
    AboveTable,
    /// Through the blank.
    Through,
}

/// How a wall stands.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum EdgeProfile {
    /// Straight up.
    Upright,
    /// Leaning outward by an angle from upright.
    Sloped(Angle),
    /// Depth follows the width, as a vee cutter of this included angle cuts.
    FollowsWidth(Angle),
}

/// How likely a floor misses the layer that it shall show, each from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Miss {
    /// It ends above the layer: in the bond line over it or in the layer above.
    pub too_high: f64,
    /// It ends below the layer: in the bond line under it, in the layer below, or through the blank.
    pub too_deep: f64,
}

impl Miss {
    /// Either.
    pub fn either(&self) -> f64 {
        (self.too_high + self.too_deep).min(1.0)
    }
}

/// By how much a floor that shows a layer does so.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Reveal {
    /// From the floor up to the layer's upper surface at its lowest, worst case.
    pub above_worst: Length,
    /// From the floor down to the layer's lower surface at its highest, worst case.
    pub below_worst: Length,
    /// The same upward by root-sum-square.
    pub above_rss: Length,
    /// The same downward by root-sum-square.
    pub below_rss: Length,
    /// How likely the floor misses the layer, where that could be worked out.
    pub miss: Option<Miss>,
}

/// Tabs that hold a piece.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Tabs {
    /// How many.
    pub count: u32,
    /// Length of material left along the outline, each.
    pub length: Length,
    /// Height of material left above the underside.
    pub left: Length,
}

/// Way that a cutter needs between two tabs to come down in, mm along the edge.
const BETWEEN_TABS: f64 = 1.0;
/// An edge surely has room for its tabs if it is so many times as long as what they take: they can't stand just anywhere on it.
const TAB_ROOM: f64 = 1.6;
/// Shorter than this no tab is left, mm.
const SHORTEST_TAB: f64 = 0.5;

impl Tabs {
    /// The least that a piece must keep whose outer edge is so long, cut by a cutter so wide: a tab takes its length of the edge, the
    /// cutter's width (both its ends are hollow) and a way to come down. What is asked where it has room; fewer where it hasn't, and a
    /// single shorter one on a piece hardly longer than a tab. `None` where not even that has room. The rule is ours, without a
    /// source: where one tab stands in for two, it spans a seventh of the edge or more.
    #[must_use]
    pub fn least_on(&self, edge: Length, cutter: Length) -> Option<Self> {
        let room = edge.to_mm() / TAB_ROOM;
        let takes = |length: f64| length + cutter.to_mm() + BETWEEN_TABS;
        let fit = (room / takes(self.length.to_mm()) + 1e-9).floor().clamp(0.0, f64::from(self.count)) as u32;
        if fit >= 1 || self.count == 0 {
            return Some(Self { count: fit, ..*self });
        }
        // Round a piece as small as that the cutter's path is so much longer than its edge that there is way enough.
        let length = ((room - cutter.to_mm()) * 10.0 + 1e-6).floor() / 10.0;
        let length = Length::try_mm(length).filter(|l| l.to_mm() >= SHORTEST_TAB)?.min(self.length);
        Some(Self { count: 1, length, ..*self })
    }
}

/// How the plate or a cut-out is held while it is cut free.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Held {
    /// By tabs.
    Tabs(Tabs),
    /// By a skin of this thickness left under the cut.
    Skin(Length),
    /// By something that the maker states (tape over the whole underside, say).
    Stated(String),
    /// Nothing stays: the cut-out is cleared to chips entirely.
    Cleared,
    /// By nothing: a doubt.
    Nothing,
}

/// What shall become of strokes narrower than the finest cutter that reaches their floor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Narrow {
    /// Left for hand; a part of which no cutter reaches anything is refused.
    #[default]
    ByHand,
    /// Refused.
    Refused,
    /// Left uncut, whole parts as well.
    Left,
    /// Cut once along their middle, as wide as the cutter.
    CentreLine,
}

/// Letters of an area, for advice about their size.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Letters {
    /// What they say.
    pub text: String,
    /// Height of the capitals.
    pub height: Length,
    /// The box around them.
    pub bounds: Bounds,
}

/// What is said of an area's narrow strokes.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Strokes {
    /// What shall become of them.
    pub narrow: Narrow,
    /// What the maker wants to stay uncut inside the area, whatever becomes of them.
    pub kept: Region,
    /// Letters that are cut.
    pub letters: Vec<Letters>,
}

/// A region with one floor.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Area {
    /// The contours it is made of, as the plate file names them.
    pub name: String,
    /// Where; disjoint from all other areas.
    pub region: Region,
    /// Height of its floor.
    pub floor: Height,
    /// Why it is there.
    pub kind: FloorKind,
    /// How its walls stand.
    pub edge: EdgeProfile,
    /// Whether steps between cutters on walls and floor are to be avoided.
    pub seamless: bool,
    /// What is said of its narrow strokes.
    pub strokes: Strokes,
    /// For a through area: how what is cut out is held.
    pub held: Held,
    /// For an area that shows a layer.
    pub reveal: Option<Reveal>,
    /// Line of the plate file, from 1.
    pub line: usize,
}

/// The plate's own edge.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outline {
    /// The contours' name in the plate file.
    pub name: String,
    /// The plate is what lies inside.
    pub inside: Region,
    /// Height of the floor of the cut around it.
    pub floor: Height,
    /// How the plate is held.
    pub held: Held,
    /// Line of the plate file, from 1.
    pub line: usize,
}

/// Something on the blank that nothing may touch: a screw, a clamp.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Hold {
    /// What it is.
    pub name: String,
    /// Its outline seen from above.
    pub shape: Contour,
    /// Height of its top.
    pub top: Height,
}

/// The finished plate as regions with heights.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Intent {
    /// The plate's title.
    pub title: String,
    /// The blank.
    pub blank: Blank,
    /// Areas, disjoint, in the plate file's order.
    pub areas: Vec<Area>,
    /// The plate's edge, if it is cut out.
    pub outline: Option<Outline>,
    /// Holds.
    pub holds: Vec<Hold>,
    /// Numbers of the cutters that the plate may use, in the shop's order.
    pub cutters: Vec<u32>,
}

impl Intent {
    /// The height that the finished plate shall have at a point; the face where no area is. Outside the
    /// plate's outline `None`: there the blank is margin.
    pub fn height_at(&self, p: Point) -> Option<Height> {
        if self.outline.as_ref().is_some_and(|o| !o.inside.contains(p)) {
            return None;
        }
        let area = self.areas.iter().find(|a| a.region.contains(p));
        Some(area.map_or(self.blank.face, |a| a.floor))
    }

    /// The highest thing on the table: the thickest blank's face or a hold.
    pub fn highest(&self) -> Height {
        self.holds.iter().map(|h| h.top).fold(self.blank.face_high, Height::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two tabs of 2 mm with a cutter of 0.8 mm take 2 x (2 + 0.8 + 1) = 7.6 mm, and 1.6 times that is 12.16 mm (derived).
    #[test]
    fn short_edges_keep_fewer_tabs_and_the_shortest_a_shorter_one() {
        let asked = Tabs { count: 2, length: Length::mm(2.0), left: Length::mm(0.6) };
        let least = |edge: f64| asked.least_on(Length::mm(edge), Length::mm(0.8));
        assert_eq!(least(12.2), Some(asked));
        assert_eq!(least(12.1).map(|t| (t.count, t.length.to_mm())), Some((1, 2.0)));
        // 3.2 / 1.6 - 0.8 = 1.2.
        assert_eq!(least(3.2).map(|t| (t.count, t.length.to_mm())), Some((1, 1.2)));
        assert_eq!(least(1.9), None);
        let none = Tabs { count: 0, ..asked };
        assert_eq!(none.least_on(Length::mm(1.0), Length::mm(0.8)), Some(none));
    }
}
