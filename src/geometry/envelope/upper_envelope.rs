//! The upper envelope of candidates that come in the order of the face's pieces: one pass with a stack.
//!
//! A candidate is the lowest tool position that one piece of the face allows: φ(x) = max over u in the piece of
//! f(u) − T(u−x), for the x from which the tool reaches the piece. Its slope is T'(u−x) at the
//! contact u. T is convex, so T' grows with u: the later of two candidates minus the earlier one
//! never falls with x, and they cross at most once. So a candidate that a later one passes
//! before it was highest is never highest, and each is pushed and popped at most once.

use super::shape::{Shape, crossing};
use super::stitch::Run;

/// The lowest tool position that one piece of the face allows: three shapes, one after the other.
#[derive(Debug, Clone, Copy)]
pub(super) struct Candidate {
    /// Left of the first break the tool meets the piece's start; right of the second its end.
    pub shapes: [Shape; 3],
    /// Where the shapes change, not decreasing.
    pub breaks: [f64; 2],
    /// The x from which the tool reaches the piece.
    pub domain: [f64; 2],
}

impl Candidate {
    #[inline]
    fn shape(&self, x: f64) -> &Shape {
        let [left, middle, right] = &self.shapes;
        if x < self.breaks[0] {
            left
        } else if x < self.breaks[1] {
            middle
        } else {
            right
        }
    }

    #[inline]
    fn at(&self, x: f64) -> f64 {
        self.shape(x).at(x)
    }
}

/// A candidate that is the highest from `start` on, until the start of the next one on the stack.
struct Highest {
    candidate: Candidate,
    start: f64,
    /// Its index in the sequence.
    index: usize,
}

/// The highest of the candidates over `over`, which come in the order of the face's pieces, and where it ends.
pub(super) fn greatest(candidates: impl Iterator<Item = Candidate>, over: [f64; 2]) -> (Vec<Run>, f64) {
    // Candidates are large, and most of them stay: grown step by step the stack would be copied over and over.
    let mut stack: Vec<Highest> = Vec::with_capacity(candidates.size_hint().0);
    for (index, new) in candidates.enumerate() {
        if new.domain[1] <= over[0] || new.domain[0] >= over[1] {
            continue;
        }
        let mut start = new.domain[0].max(over[0]);
        while let Some(top) = stack.last() {
            // Neighbours at a convex corner share the shape around the corner, from one's break to the other's.
            let joined = top.index + 1 == index && top.candidate.breaks[1] <= new.breaks[0];
            let x = if joined {
                top.candidate.breaks[1]
            } else {
                overtaken(&top.candidate, &new, top.start, over[1])
            };
            if x > top.start {
                start = x;
                break;
            }
            start = top.start;
            stack.pop();
        }
        if start < over[1] {
            stack.push(Highest { candidate: new, start, index });
        }
    }
    runs(&stack, over[1])
}

/// Where the later candidate becomes higher than the earlier one, which is highest from `from` on; at the latest `to` or the earlier one's end.
fn overtaken(early: &Candidate, late: &Candidate, from: f64, to: f64) -> f64 {
    let lo = from.max(late.domain[0]);
    let hi = to.min(early.domain[1]);
    let is_higher = |x: f64| late.at(x) >= early.at(x);
    if lo >= hi || is_higher(lo) {
        return lo;
    }
    // The difference never falls, so its sign at each break tells on which side of it they cross.
    let (mut lo, mut hi, mut passed) = (lo, hi, false);
    for x in [early.breaks[1], late.breaks[0], early.breaks[0], late.breaks[1]] {
        if x > lo && x < hi {
            if is_higher(x) {
                (hi, passed) = (x, true);
            } else {
                lo = x;
            }
        }
    }
    if !passed && !is_higher(hi) {
        return hi;
    }
    let inside = f64::midpoint(lo, hi);
    crossing(early.shape(inside), late.shape(inside), lo, hi)
}

/// The shapes of the highest candidates, one after the other.
fn runs(stack: &[Highest], to: f64) -> (Vec<Run>, f64) {
    let mut runs = Vec::with_capacity(2 * stack.len());
    let mut end = f64::NEG_INFINITY;
    for (i, highest) in stack.iter().enumerate() {
        let c = &highest.candidate;
        let stop = stack.get(i + 1).map_or(to.min(c.domain[1]), |next| next.start);
        let bounds = [c.domain[0], c.breaks[0], c.breaks[1], stop];
        for (k, &shape) in c.shapes.iter().enumerate() {
            let start = bounds[k].max(highest.start);
            if start < bounds[k + 1].min(stop) {
                runs.push(Run { shape, start });
            }
        }
        end = stop;
    }
    (runs, end)
}
