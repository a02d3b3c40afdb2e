//! The rings along which inside meets outside, each with where it came from.

use super::faces::{Faces, faces};
use super::{Arrangement, Sets, Step, Trouble, Winding};
use crate::{Contour, Point, Vertex};

/// A simple ring with the inside on its left.
#[derive(Debug)]
pub(crate) struct Ring {
    pub(crate) contour: Contour,
    /// The input contour that it is, whole and unchanged, and whether it was turned round.
    pub(crate) whole: Option<(usize, bool)>,
    /// The input contours it has edges of, lowest first.
    pub(crate) of: Vec<u32>,
    /// Rings with the same number bound one connected inside.
    pub(crate) inside: u32,
}

/// The rings of the faces that `inside` takes, in the order of their edges.
pub(crate) fn rings(
    a: &Arrangement,
    inputs: &[&Contour],
    inside: impl Fn(Winding) -> bool,
) -> Result<(Vec<Ring>, Faces), Trouble> {
    let faces = faces(a)?;
    let filled: Vec<bool> = faces.winding.iter().map(|&w| inside(w)).collect();
    let counts = |half: u32| a.edges[(half >> 1) as usize].count != [0; 3];
    let on_boundary = |half: u32| {
        counts(half) && filled[faces.left[half as usize] as usize] && !filled[faces.left[(half ^ 1) as usize] as usize]
    };
    let mut together = Sets::new(filled.len());
    for (face, &same) in faces.same.iter().enumerate() {
        together.unite(face as u32, same);
    }
    for half in (0..2 * a.edges.len() as u32).step_by(2).filter(|&h| counts(h)) {
        let (left, right) = (faces.left[half as usize], faces.left[half as usize ^ 1]);
        if filled[left as usize] && filled[right as usize] {
            together.unite(left, right);
        }
    }
    let uses = Uses::new(a);
    let mut done = vec![false; 2 * a.edges.len()];
    let mut found = Vec::new();
    for first in 0..2 * a.edges.len() as u32 {
        if done[first as usize] || !on_boundary(first) {
            continue;
        }
        // Along the boundary with the same inside on the left, past edges that lie within it.
        let mut walk = Vec::new();
        let mut at = first;
        while !done[at as usize] {
            done[at as usize] = true;
            walk.push(at);
            let back = at ^ 1;
            let mut next = faces.around.clockwise(a, back);
            while next != back && !on_boundary(next) {
                next = faces.around.clockwise(a, next);
            }
            if !on_boundary(next) {
                return Err(Trouble::Inconsistent);
            }
            at = next;
        }
        if at != first {
            return Err(Trouble::Inconsistent);
        }
        let inside = together.find(faces.left[first as usize]);
        for simple in parted(a, walk) {
            found.push(uses.ring(a, inputs, &simple, inside));
        }
    }
    Ok((found, faces))
}

/// A closed walk parted where it comes to a node again.
fn parted(a: &Arrangement, walk: Vec<u32>) -> Vec<Vec<u32>> {
    let mut tails: Vec<u32> = walk.iter().map(|&h| a.tail(h)).collect();
    tails.sort_unstable();
    if tails.windows(2).all(|w| w[0] != w[1]) {
        return vec![walk];
    }
    // Where on the open path each node is; only nodes met twice matter, but all are cheap.
    let slot = |node: u32| tails.partition_point(|&t| t < node);
    let mut on_path: Vec<Option<usize>> = vec![None; tails.len()];
    let (mut path, mut parts): (Vec<u32>, Vec<Vec<u32>>) = (Vec::new(), Vec::new());
    for half in walk {
        if let Some(from) = on_path[slot(a.tail(half))] {
            let part = path.split_off(from);
            for &h in &part {
                on_path[slot(a.tail(h))] = None;
            }
            parts.push(part);
        }
        on_path[slot(a.tail(half))] = Some(path.len());
        path.push(half);
    }
    parts.push(path);
    parts
}

/// Which contours use each half-edge, and at which step of their walk.
struct Uses {
    starts: Vec<u32>,
    by: Vec<(u32, u32)>,
}

/// A stretch of a ring along one segment of an input contour.
#[derive(Clone, Copy)]
struct Run {
    contour: u32,
    step: u32,
    segment: u32,
    against: bool,
    t0: f64,
    t1: f64,
    from: u32,
}

impl Uses {
    fn new(a: &Arrangement) -> Self {
        let mut starts = vec![0u32; a.edges.len() + 1];
        let steps = || a.walks.iter().enumerate().flat_map(|(c, w)| w.iter().enumerate().map(move |(k, s)| (c, k, s)));
        for (_, _, s) in steps() {
            starts[(s.half >> 1) as usize + 1] += 1;
        }
        for i in 0..a.edges.len() {
            starts[i + 1] += starts[i];
        }
        let (mut next, mut by) = (starts.clone(), vec![(0, 0); starts[a.edges.len()] as usize]);
        for (c, k, s) in steps() {
            let n = &mut next[(s.half >> 1) as usize];
            by[*n as usize] = (c as u32, k as u32);
            *n += 1;
        }
        Self { starts, by }
    }

    fn of(&self, half: u32) -> &[(u32, u32)] {
        let edge = (half >> 1) as usize;
        &self.by[self.starts[edge] as usize..self.starts[edge + 1] as usize]
    }

    fn ring(&self, a: &Arrangement, inputs: &[&Contour], walk: &[u32], inside: u32) -> Ring {
        let mut of: Vec<u32> = walk.iter().flat_map(|&h| self.of(h).iter().map(|u| u.0)).collect();
        of.sort_unstable();
        of.dedup();
        let whole = self.of(walk[0]).iter().find_map(|&(contour, step)| {
            let steps = &a.walks[contour as usize];
            let against = steps[step as usize].half != walk[0];
            let n = steps.len();
            let same = |k: usize| {
                let at = if against { step as usize + n - k } else { step as usize + k } % n;
                steps[at].half == walk[k] ^ u32::from(against)
            };
            (n == walk.len() && (0..n).all(same)).then_some((contour as usize, against))
        });
        let contour = match whole {
            Some((i, false)) => inputs[i].clone(),
            Some((i, true)) => inputs[i].reversed(),
            None => self.joined(a, inputs, walk),
        };
        Ring { contour, whole, of, inside }
    }

    /// The ring from parts of segments, a segment's parts that follow each other made one again.
    fn joined(&self, a: &Arrangement, inputs: &[&Contour], walk: &[u32]) -> Contour {
        let mut runs: Vec<Run> = Vec::with_capacity(walk.len());
        for &half in walk {
            let run_of = |&(contour, step): &(u32, u32)| {
                let Step { half: own, segment, t0, t1 } = a.walks[contour as usize][step as usize];
                Run { contour, step, segment, against: own != half, t0, t1, from: a.tail(half) }
            };
            let uses = self.of(half);
            let last = runs.last().copied();
            // Stay with the contour that came before, so that its segments come out whole.
            let run = last
                .and_then(|last| uses.iter().map(run_of).find(|run| follows(a, &last, run)))
                .or_else(|| uses.first().map(run_of));
            let Some(run) = run else { continue };
            match runs.last_mut() {
                Some(last) if last.segment == run.segment && follows(a, last, &run) => take_in(last, &run),
                _ => runs.push(run),
            }
        }
        if let [first, .., last] = runs[..]
            && last.segment == first.segment
            && follows(a, &last, &first)
        {
            if let Some(last) = runs.last_mut() {
                take_in(last, &first);
            }
            runs.remove(0);
        }
        let vertices = runs.iter().map(|run| {
            let bulge = inputs[run.contour as usize].vertices[run.segment as usize].bulge;
            let bulge =
                if run.t0 <= 0.0 && run.t1 >= 1.0 { bulge } else { libm::tan(libm::atan(bulge) * (run.t1 - run.t0)) };
            Vertex { p: a.place(run.from), bulge: if run.against { -bulge } else { bulge } }
        });
        tidy(Contour { vertices: vertices.collect() })
    }
}

/// Whether a run goes on where another left off, along the same contour.
fn follows(a: &Arrangement, last: &Run, run: &Run) -> bool {
    let n = a.walks[run.contour as usize].len() as u32;
    let next = if last.against { (last.step + n - 1) % n } else { (last.step + 1) % n };
    last.contour == run.contour && last.against == run.against && run.step == next
}

fn take_in(last: &mut Run, run: &Run) {
    last.step = run.step;
    if last.against {
        last.t0 = run.t0;
    } else {
        last.t1 = run.t1;
    }
}

/// A contour without repeated points and without corners that lie on the line through their neighbours.
fn tidy(contour: Contour) -> Contour {
    let (kept, _) = crate::check::clean::without_idle_points(&contour.vertices);
    Contour { vertices: kept }
}

/// A point on a contour, for saying where it is.
pub(crate) fn place_of(contour: &Contour) -> Point {
    contour.vertices.first().map_or(Point::default(), |v| v.p)
}
