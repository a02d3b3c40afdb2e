//! Walking a vee's ways, pass by pass: down a shallow ramp to and fro at the deepest place, along everything that is level with
//! it, out into what rises from there and back in what is cut. New material is never met on a way down but on the
//! ramp: what falls from a pass between two deep places is cut from both of them upward.

use super::network::{Network, Node, Piece};
use crate::pen::{GAP, Pen};
use motion::At;
use plane::Segment;
use plate::{OutUnits, Shop};
use quantity::Feed;
use reckon::load::machine_feed;

/// Gap above what is cut at which a ramp begins, mm.
const RAMP_GAP: f64 = 0.05;
/// What a ramp leaves for the way that follows where it has no level stretch to end on, mm; the more where its legs have become
/// shorter than can be told from the program's last digit.
const LEFT: f64 = 0.004;
const LEFT_BY_SHORT: f64 = 0.008;
const SHORT_LEG: f64 = 0.05;
/// A ramp goes to and fro on no more than this to either side of its place, mm.
const ARM: f64 = 12.0;
/// Turns after which a ramp ends wherever it is: shapes so small that steps of the machine decide.
const TURNS: usize = 4_000;

/// Walks all passes down to these heights; material stands up to `stock`.
pub(super) fn walk(pen: &mut Pen<'_>, shop: &Shop, network: &Network, name: &str, stock: f64, heights: &[f64]) {
    let mut above = stock;
    for &z in heights {
        Pass::new(network, shop, above, z).run(pen, name);
        above = z;
    }
}

/// A piece as one end sees it.
#[derive(Debug, Clone, Copy)]
struct Step {
    piece: usize,
    to: usize,
}

/// A piece on a way.
#[derive(Debug, Clone, Copy)]
struct Along {
    from: usize,
    piece: usize,
    to: usize,
}

struct Pass<'a> {
    network: &'a Network,
    shop: &'a Shop,
    above: f64,
    z: f64,
    /// By node: the ways from it that this pass cuts.
    steps: Vec<Vec<Step>>,
    /// By piece: still to be cut.
    waiting: Vec<bool>,
    /// By node: cut by this pass.
    cut: Vec<bool>,
}

impl<'a> Pass<'a> {
    fn new(network: &'a Network, shop: &'a Shop, above: f64, z: f64) -> Self {
        let deep = |p: &Piece| p.ends.iter().any(|&e| network.nodes[e].z < above - 1e-9);
        let waiting: Vec<bool> = network.pieces.iter().map(deep).collect();
        let mut steps = vec![Vec::new(); network.nodes.len()];
        for (piece, p) in network.pieces.iter().enumerate().filter(|(i, _)| waiting[*i]) {
            let [a, b] = p.ends;
            steps[a].push(Step { piece, to: b });
            steps[b].push(Step { piece, to: a });
        }
        Self { network, shop, above, z, cut: vec![false; steps.len()], steps, waiting }
    }

    /// Height of the tip at a node in this pass.
    fn height(&self, node: usize) -> f64 {
        self.network.nodes[node].z.max(self.z)
    }

    /// A piece as it runs from one of its ends, with its heights in this pass.
    fn seen(&self, from: usize, piece: usize) -> (Segment, [f64; 2]) {
        let p = &self.network.pieces[piece];
        let [a, b] = p.ends.map(|e| self.height(e));
        if p.ends[0] == from { (p.path, [a, b]) } else { (p.path.reversed(), [b, a]) }
    }

    fn run(&mut self, pen: &mut Pen<'_>, name: &str) {
        if !self.waiting.contains(&true) {
            return;
        }
        pen.pass(format!("{name}, vee at {:.3}", self.z));
        // Deep places first: what rises from them is done with them.
        let mut starts: Vec<usize> = (0..self.steps.len()).filter(|&n| !self.steps[n].is_empty()).collect();
        starts.sort_by(|&a, &b| self.height(a).total_cmp(&self.height(b)).then(a.cmp(&b)));
        for start in starts {
            if self.next(start).is_some() {
                let first = self.enter(pen, start, false);
                self.from(pen, first);
            }
            while self.next(start).is_some() {
                let first = self.enter(pen, start, true);
                self.from(pen, first);
            }
        }
        pen.lift();
    }

    /// The way to take from a node: what rises before what is level before the ring. Nothing that falls, nothing against a
    /// ring's direction.
    fn next(&self, node: usize) -> Option<Step> {
        let here = self.height(node);
        let allowed = |s: &&Step| {
            let piece = &self.network.pieces[s.piece];
            self.waiting[s.piece] && self.height(s.to) >= here - 1e-9 && (!piece.ring || piece.ends[0] == node)
        };
        let rank = |s: &&Step| {
            let level = self.height(s.to) <= here + 1e-9;
            (self.network.pieces[s.piece].ring, level, s.piece)
        };
        self.steps[node].iter().filter(allowed).min_by_key(rank).copied()
    }

    /// Everything that can be reached from a node without going down into what isn't cut.
    fn from(&mut self, pen: &mut Pen<'_>, start: usize) {
        let mut here = start;
        let mut trail: Vec<(usize, usize)> = Vec::new();
        loop {
            self.cut[here] = true;
            if let Some(step) = self.next(here) {
                self.waiting[step.piece] = false;
                self.along(pen, step.piece, here);
                trail.push((here, step.piece));
                here = step.to;
                continue;
            }
            // Back to the last place from which something is left to do.
            let Some(back) = trail.iter().rposition(|&(node, _)| self.next(node).is_some()) else { return };
            for (node, piece) in trail.drain(back..).rev() {
                self.along(pen, piece, here);
                here = node;
            }
        }
    }

    /// Along a piece from one of its ends, at this pass's heights.
    fn along(&self, pen: &mut Pen<'_>, piece: usize, from: usize) {
        let (path, [a, b]) = self.seen(from, piece);
        let feed = self.feed(path.length(), b - a, pen.tool.run.feed);
        pen.along(&path, b, feed);
    }

    /// A feed that the machine can hold along a way that rises or falls by so much, however its ends are rounded in the text.
    fn feed(&self, length: f64, rise: f64, wanted: Feed) -> Feed {
        let Shop { machine, dialect, .. } = self.shop;
        let unit = match dialect.units {
            OutUnits::Mm => 1.0,
            OutUnits::Inch => 25.4,
        };
        let digit = unit * 10f64.powi(-i32::from(dialect.decimals));
        let (length, rise) = ((length - 1.5 * digit).max(0.0), rise.abs() + digit);
        let whole = libm::hypot(length, rise);
        wanted.min(Feed::mm_per_min(machine_feed(machine, length / whole, rise / whole)))
    }

    /// To a node, or to one on its level, and down to its height: in what this pass has cut already, or by a ramp. Gives the
    /// node, which is the one asked for if it must be `this` one.
    fn enter(&self, pen: &mut Pen<'_>, node: usize, this: bool) -> usize {
        let Node { at, .. } = self.network.nodes[node];
        let z = self.height(node);
        if self.cut[node] {
            pen.come_down(at, z + GAP, true);
            pen.height(z);
            return node;
        }
        pen.come_down(at, self.above + GAP, true);
        let ramp = Ramp::new(self, node);
        let end = ramp.down(self, pen, self.above + RAMP_GAP, z);
        ramp.settle(self, pen, end, this)
    }
}

/// A way to and fro through a node.
struct Ramp {
    /// Pieces in the direction of the way, each with the heights of its ends in this pass.
    way: Vec<(Segment, [f64; 2])>,
    /// The nodes from the way's begin to its end.
    nodes: Vec<usize>,
    /// For each piece that is of a ring, whether the way has the ring's direction.
    rings: Vec<Option<bool>>,
    /// How many of them lie before the node.
    before: usize,
    /// Whether the way ends where it begins.
    closed: bool,
}

/// A place on a ramp's way: piece and share of it.
type Place = (usize, f64);

impl Ramp {
    fn new(pass: &Pass<'_>, node: usize) -> Self {
        let mut taken = Vec::new();
        let (ahead, closed) = Self::arm(pass, node, &mut taken);
        let behind = if closed { Vec::new() } else { Self::arm(pass, node, &mut taken).0 };
        let before = behind.len();
        let (mut way, mut nodes, mut rings) = (Vec::new(), Vec::new(), Vec::new());
        let ring = |step: &Along, begin: usize| {
            let piece = &pass.network.pieces[step.piece];
            piece.ring.then_some(piece.ends[0] == begin)
        };
        for step in behind.iter().rev() {
            let (path, [a, b]) = pass.seen(step.from, step.piece);
            way.push((path.reversed(), [b, a]));
            nodes.push(step.to);
            rings.push(ring(step, step.to));
        }
        nodes.push(node);
        for step in &ahead {
            way.push(pass.seen(step.from, step.piece));
            nodes.push(step.to);
            rings.push(ring(step, step.from));
        }
        Self { way, nodes, rings, before, closed }
    }

    /// From a node along what lies lowest, each piece once, rings in their direction first; whether it comes back to the node.
    fn arm(pass: &Pass<'_>, node: usize, taken: &mut Vec<usize>) -> (Vec<Along>, bool) {
        let (mut here, mut way, mut length) = (node, Vec::new(), 0.0);
        while length < ARM {
            let against = |s: &Step| {
                let piece = &pass.network.pieces[s.piece];
                piece.ring && piece.ends[0] != here
            };
            // Beyond a rise lies another deep place, with a ramp of its own.
            let free = |s: &&Step| !taken.contains(&s.piece) && pass.height(s.to) >= pass.height(here) - 1e-9;
            let rank = |s: &Step| (!pass.network.pieces[s.piece].ring, against(s), s.piece);
            let best = pass.steps[here].iter().filter(free).min_by(|a, b| {
                let by = pass.height(a.to).total_cmp(&pass.height(b.to));
                by.then(rank(a).cmp(&rank(b)))
            });
            let Some(&Step { piece, to }) = best else { break };
            taken.push(piece);
            way.push(Along { from: here, piece, to });
            length += pass.network.pieces[piece].path.length();
            here = to;
            if here == node {
                return (way, true);
            }
        }
        (way, false)
    }

    /// Down from a height to and fro, never steeper than the entry angle and never below what the pass may cut; ends at `z` or
    /// just above it. Gives the place where it ends.
    fn down(&self, pass: &Pass<'_>, pen: &mut Pen<'_>, from: f64, z: f64) -> Place {
        let steepest = libm::tan(pen.tool.run.entry_angle) * 0.98;
        let mut height = from;
        pen.height(from);
        let (mut piece, mut share, mut forward) = (self.before, 0.0_f64, true);
        if self.way.len() == self.before {
            (piece, share, forward) = (self.before.saturating_sub(1), 1.0, false);
        }
        let (mut turns, mut leg) = (0, 0.0);
        while height > z + 1e-9 && turns < TURNS && !self.way.is_empty() {
            let (path, [z0, z1]) = self.way[piece];
            let length = path.length();
            let end = if forward { 1.0 } else { 0.0 };
            let left = (end - share).abs() * length;
            let (bed, bed_end) = (z0 + (z1 - z0) * share, if forward { z1 } else { z0 });
            let rise = if left > 0.0 { (bed_end - bed) / left } else { 0.0 };
            // Toward the node the bed nowhere rises; where it falls more gently than a ramp may, the way down goes along it.
            let inward = forward == (piece < self.before);
            let slope = if inward && height - bed < 1e-9 { steepest.min((-rise).max(0.0)) } else { steepest };
            // Where it meets what may not be cut, or comes to the pass's height.
            let nearing = rise + slope;
            let meets = if nearing > 1e-12 { ((height - bed) / nearing).max(0.0) } else { f64::INFINITY };
            let go = left.min(meets).min(if slope > 0.0 { (height - z) / slope } else { f64::INFINITY });
            if go > 1e-6 {
                let to = if go >= left - 1e-9 { end } else { share + (end - share) * go / left };
                let before = height;
                height = if height - z <= slope * (go + 1e-12) { z } else { height - go * slope };
                let cut = path.piece(share.min(to), share.max(to));
                leg += cut.length();
                let feed = pass.feed(cut.length(), height - before, pen.tool.run.entry_feed);
                pen.along(&if forward { cut } else { cut.reversed() }, height, feed);
                share = to;
            } else if left <= 1e-6 {
                share = end;
            } else if inward && meets < left {
                height = bed;
            }
            if height <= z + 1e-9 {
                break;
            }
            let ended = share == end;
            let next = if forward { piece + 1 } else { piece.wrapping_sub(1) };
            if ended && (inward || meets > left) && next < self.way.len() {
                (piece, share) = (next, if forward { 0.0 } else { 1.0 });
            } else if ended && meets > left && self.closed && forward {
                (piece, share) = (0, 0.0);
            } else if inward && !ended {
                // On along the bed.
                turns += 1;
            } else {
                // A turn: where there's no level stretch, each is shorter than the last.
                if height <= z + if leg < SHORT_LEG { LEFT_BY_SHORT } else { LEFT } {
                    break;
                }
                forward = !forward;
                (turns, leg) = (turns + 1, 0.0);
            }
        }
        (piece, share)
    }

    /// From where the ramp ended to a node on that level, or back to the ramp's own; gives it.
    fn settle(&self, pass: &Pass<'_>, pen: &mut Pen<'_>, (mut piece, mut share): Place, this: bool) -> usize {
        let node = self.nodes[self.before];
        let low = pass.height(node) + 1e-9;
        let level = self.way.get(piece).filter(|(_, z)| !this && z[0] <= low && z[1] <= low);
        if let Some((path, _)) = level {
            // Rings are cut in their direction.
            let ahead = self.rings[piece].unwrap_or(piece < self.before);
            let rest = if ahead { path.piece(share, 1.0) } else { path.piece(0.0, share).reversed() };
            if rest.length() > 1e-6 {
                pen.along(&rest, pass.height(node), pen.tool.run.feed);
            }
            return self.nodes[piece + usize::from(ahead)];
        }
        let ahead = piece < self.before;
        while let Some(&(path, z)) = self.way.get(piece).filter(|_| ahead == (piece < self.before)) {
            let end = usize::from(ahead);
            let rest = if ahead { path.piece(share, 1.0) } else { path.piece(0.0, share).reversed() };
            if rest.length() > 1e-6 {
                let here = z[0] + (z[1] - z[0]) * share;
                let feed = pass.feed(rest.length(), z[end] - here, pen.tool.run.entry_feed);
                pen.along(&rest, z[end], feed);
            }
            if !ahead && piece == 0 {
                break;
            }
            (piece, share) = if ahead { (piece + 1, 0.0) } else { (piece - 1, 1.0) };
        }
        // As slow as straight down, which it nearly is where a place is all there is.
        let feed = pass.feed(0.0, 1.0, pen.tool.run.entry_feed);
        pen.line_at(At::new(pass.network.nodes[node].at, pass.height(node)), feed);
        node
    }
}
