//! Joins a sequence of shapes into one curve: ends made to meet exactly, slivers dropped, never lower than either shape at a join.

use super::shape::Shape;
use crate::geometry::{Curve, Piece, Point};

/// A shape from `start` to the start of the next run.
#[derive(Debug, Clone, Copy)]
pub(super) struct Run {
    pub shape: Shape,
    pub start: f64,
}

/// Pieces smaller than this in width and in height are dropped, and their neighbours joined: far below a control's
/// step (5e-4 mm), and a thousand times the rounding of a radius of 500 mm (6e-14 mm).
pub(super) const SLIVER: f64 = 1e-10;

/// Two runs whose heights differ by more than this where they meet are joined by a steep line instead of by moving an end.
/// Rounding causes less: one unit in the last place of x (6e-14 mm) times the slope of a wall (1e6 and less).
const JUMP: f64 = 1e-6;

/// Width of that line. It is on the side of the lower run, so that the curve is never below either run.
const JUMP_WIDTH: f64 = 1e-9;

/// The curve of the runs, in order of x, the last one up to `end`; none where they have no width.
pub(super) fn stitch(runs: &[Run], end: f64) -> Option<Curve> {
    let kept = without_slivers(runs, end);
    let first = kept.first()?;
    let mut pieces = Vec::with_capacity(kept.len());
    let mut from = Point::new(first.start, first.shape.at(first.start));
    for (i, run) in kept.iter().enumerate() {
        let Some(next) = kept.get(i + 1) else {
            pieces.push(run.shape.piece(from, Point::new(end, run.shape.at(end))));
            break;
        };
        let x = next.start;
        let (here, there) = (run.shape.at(x), next.shape.at(x));
        if (there - here).abs() <= JUMP {
            // A rounding error in x changes the height of the steeper shape more, so the gentler one gives the height.
            let gentler =
                if run.shape.slope(x, here).abs() < next.shape.slope(x, there).abs() { here } else { there };
            let to = Point::new(x, gentler);
            pieces.push(run.shape.piece(from, to));
            from = to;
        } else if there > here {
            let top = Point::new(x, there);
            if let Some(foot) = strictly_between(from.x, x, x - JUMP_WIDTH) {
                let foot = Point::new(foot, run.shape.at(foot));
                pieces.push(run.shape.piece(from, foot));
                from = foot;
            }
            pieces.push(Piece::line(from, top));
            from = top;
        } else {
            let top = Point::new(x, here);
            pieces.push(run.shape.piece(from, top));
            from = top;
            let stop = kept.get(i + 2).map_or(end, |r| r.start);
            if let Some(foot) = strictly_between(x, stop, x + JUMP_WIDTH) {
                from = Point::new(foot, next.shape.at(foot));
                pieces.push(Piece::line(top, from));
            }
        }
    }
    (!pieces.is_empty()).then(|| Curve::from_pieces(pieces))
}

/// `wanted` if it is between the two, else their middle; none where no number is between them.
fn strictly_between(lo: f64, hi: f64, wanted: f64) -> Option<f64> {
    [wanted, f64::midpoint(lo, hi)].into_iter().find(|&x| lo < x && x < hi)
}

/// The runs that are wide or high enough to keep; neighbours of the same shape are merged.
fn without_slivers(runs: &[Run], end: f64) -> Vec<Run> {
    let mut kept: Vec<Run> = Vec::with_capacity(runs.len());
    let mut widest_lost: Option<Run> = None;
    for (i, run) in runs.iter().enumerate() {
        let stop = runs.get(i + 1).map_or(end, |r| r.start);
        if stop <= run.start || kept.last().is_some_and(|k| k.shape == run.shape) {
            continue;
        }
        if stop - run.start < SLIVER && (run.shape.at(stop) - run.shape.at(run.start)).abs() < SLIVER {
            widest_lost = widest_lost.or(Some(*run));
            continue;
        }
        // The first kept run also covers what was dropped before it.
        let start = if kept.is_empty() { widest_lost.map_or(run.start, |l| l.start) } else { run.start };
        kept.push(Run { shape: run.shape, start });
    }
    if kept.is_empty() {
        kept.extend(widest_lost);
    }
    kept
}
