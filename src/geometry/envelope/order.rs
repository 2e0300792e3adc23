//! The upper envelope of candidates that come in order: one pass with a stack.
//!
//! A candidate is all that one piece of the face asks of the tool: φ(x) = max over u in the piece of
//! f(u) − T(u−x), over the x at which the tool stands over the piece. Its slope is T'(u−x) at the
//! contact u. T is convex, so T' grows with u: of two candidates the later one's lead over the earlier
//! only grows with x, and they change places at most once. So a candidate that is overtaken
//! before it came to the front never comes to the front, and each is pushed and popped at most once.

use super::shape::{Shape, crossing};
use super::weld::Run;

/// What one piece of the face asks of the tool: three shapes one after the other.
#[derive(Debug, Clone, Copy)]
pub(super) struct Candidate {
    /// Left of the first break the tool meets the piece's start; right of the second its end.
    pub shapes: [Shape; 3],
    /// Where the shapes change, not decreasing.
    pub breaks: [f64; 2],
    /// Where the tool stands over the piece at all.
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

/// A candidate that is in front from `start` on, until the next one on the stack.
struct Front {
    candidate: Candidate,
    start: f64,
    /// Its place in the sequence.
    place: usize,
}

/// The greatest of the candidates over `over`, which come in the order of the face's pieces; with it, where it ends.
pub(super) fn greatest(candidates: impl Iterator<Item = Candidate>, over: [f64; 2]) -> (Vec<Run>, f64) {
    let mut stack: Vec<Front> = Vec::new();
    for (place, new) in candidates.enumerate() {
        if new.domain[1] <= over[0] || new.domain[0] >= over[1] {
            continue;
        }
        let mut start = new.domain[0].max(over[0]);
        while let Some(top) = stack.last() {
            // Neighbours whose corner is convex share the shape around the corner, from the one's break to the other's.
            let joined = top.place + 1 == place && top.candidate.breaks[1] <= new.breaks[0];
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
            stack.push(Front { candidate: new, start, place });
        }
    }
    runs(&stack, over[1])
}

/// Where the later candidate passes the earlier one, which is in front from `from` on; at `to` or the earlier one's end at the latest.
fn overtaken(early: &Candidate, late: &Candidate, from: f64, to: f64) -> f64 {
    let lo = from.max(late.domain[0]);
    let hi = to.min(early.domain[1]);
    let leads = |x: f64| late.at(x) >= early.at(x);
    if lo >= hi || leads(lo) {
        return lo;
    }
    // The lead only grows, so every break tells on which side of it the places change.
    let (mut lo, mut hi, mut passed) = (lo, hi, false);
    for x in [early.breaks[1], late.breaks[0], early.breaks[0], late.breaks[1]] {
        if x > lo && x < hi {
            if leads(x) {
                (hi, passed) = (x, true);
            } else {
                lo = x;
            }
        }
    }
    if !passed && !leads(hi) {
        return hi;
    }
    let inside = f64::midpoint(lo, hi);
    crossing(early.shape(inside), late.shape(inside), lo, hi)
}

/// The shapes in front, one after the other.
fn runs(stack: &[Front], to: f64) -> (Vec<Run>, f64) {
    let mut runs = Vec::with_capacity(2 * stack.len());
    let mut end = f64::NEG_INFINITY;
    for (i, front) in stack.iter().enumerate() {
        let c = &front.candidate;
        let stop = stack.get(i + 1).map_or(to.min(c.domain[1]), |next| next.start);
        let bounds = [c.domain[0], c.breaks[0], c.breaks[1], stop];
        for (k, &shape) in c.shapes.iter().enumerate() {
            let start = bounds[k].max(front.start);
            if start < bounds[k + 1].min(stop) {
                runs.push(Run { shape, start });
            }
        }
        end = stop;
    }
    (runs, end)
}
