//! Compares two curves: the higher, the lower, and how far one is above the other.

use super::shape::{Shape, crossing};
use super::stitch::{Run, stitch};
use crate::geometry::{Curve, Piece};

/// Smaller differences between two curves count as equal: rounding of coordinates of some hundred millimetres.
const EQUAL: f64 = 1e-12;

/// The higher of two curves at every x where either is defined; their ranges must meet.
///
/// Where a curve ends above the other, a line 1e-9 mm wide leads down.
///
/// # Panics
/// If there is a gap between the two ranges.
#[must_use]
pub fn higher(a: &Curve, b: &Curve) -> Curve {
    assert!(a.start() <= b.end() && b.start() <= a.end(), "two curves with a gap between them");
    let mut runs = Vec::with_capacity(a.pieces().len() + b.pieces().len());
    let mut end = f64::NEG_INFINITY;
    for_each_overlap(a, b, |a, b, from, to| {
        match (a, b) {
            (Some(a), Some(b)) => higher_between(&mut runs, &Shape::of(a), &Shape::of(b), from, to),
            (Some(p), None) | (None, Some(p)) => runs.push(Run { shape: Shape::of(p), start: from }),
            (None, None) => {}
        }
        end = to;
    });
    stitch(&runs, end).unwrap_or_else(|| a.clone())
}

/// The lower of two curves at every x where either is defined; their ranges must meet.
///
/// # Panics
/// If there is a gap between the two ranges.
#[must_use]
pub fn lower(a: &Curve, b: &Curve) -> Curve {
    higher(&a.flipped(), &b.flipped()).flipped()
}

/// The most by which one curve is above another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Excess {
    /// Where.
    pub x: f64,
    /// By how much; below zero where it lies below everywhere.
    pub height: f64,
}

/// The greatest a(x) − b(x) over the x where both are defined, and the first x at which it is reached; nothing where there is no such x.
///
/// Exact: within a pair of pieces the difference is greatest at an end or where the slopes agree.
#[must_use]
pub fn greatest_excess(a: &Curve, b: &Curve) -> Option<Excess> {
    let mut best: Option<Excess> = None;
    for_each_overlap(a, b, |a, b, from, to| {
        let (Some(a), Some(b)) = (a, b) else { return };
        let (a, b) = (Shape::of(a), Shape::of(b));
        let turn = a.same_slope(&b).filter(|&x| x > from && x < to);
        for x in [Some(from), turn, Some(to)].into_iter().flatten() {
            let height = a.at(x) - b.at(x);
            if best.is_none_or(|e| height > e.height) {
                best = Some(Excess { x, height });
            }
        }
    });
    best
}

/// The longest interval of x on which two curves differ nowhere by more than `within`, made of whole pieces of both; none where
/// there is no such interval.
#[must_use]
pub fn agreement(a: &Curve, b: &Curve, within: f64) -> Option<[f64; 2]> {
    let longer =
        |one: [f64; 2], other: [f64; 2]| if other[1] - other[0] > one[1] - one[0] { other } else { one };
    let (mut longest, mut here) = ([0.0; 2], [0.0; 2]);
    for_each_overlap(a, b, |a, b, from, to| {
        let (Some(a), Some(b)) = (a, b) else { return };
        let (a, b) = (Shape::of(a), Shape::of(b));
        let turn = a.same_slope(&b).filter(|&x| x > from && x < to);
        let agree =
            [Some(from), turn, Some(to)].into_iter().flatten().all(|x| (a.at(x) - b.at(x)).abs() <= within);
        here = match agree {
            true if here[1] == from => [here[0], to],
            true => [from, to],
            false => [to; 2],
        };
        longest = longer(longest, here);
    });
    (longest[0] < longest[1]).then_some(longest)
}

/// The intervals of x on which one curve stands above another by more than `by` somewhere in each pair of their pieces, in rising order.
#[must_use]
pub fn stretches_above(a: &Curve, b: &Curve, by: f64) -> Vec<[f64; 2]> {
    let mut stretches: Vec<[f64; 2]> = Vec::new();
    for_each_overlap(a, b, |a, b, from, to| {
        let (Some(a), Some(b)) = (a, b) else { return };
        let (a, b) = (Shape::of(a), Shape::of(b));
        let turn = a.same_slope(&b).filter(|&x| x > from && x < to);
        if ![Some(from), turn, Some(to)].into_iter().flatten().any(|x| a.at(x) - b.at(x) > by) {
            return;
        }
        match stretches.last_mut().filter(|s| s[1] == from) {
            Some(before) => before[1] = to,
            None => stretches.push([from, to]),
        }
    });
    stretches
}

/// Calls `visit` for each interval of x on which each curve is one piece or undefined.
fn for_each_overlap(a: &Curve, b: &Curve, mut visit: impl FnMut(Option<&Piece>, Option<&Piece>, f64, f64)) {
    let (mut left, mut right) = (a.pieces().iter().peekable(), b.pieces().iter().peekable());
    let mut x = a.start().min(b.start());
    loop {
        while left.next_if(|p| p.to().x <= x).is_some() {}
        while right.next_if(|p| p.to().x <= x).is_some() {}
        let begun = |p: &&Piece| p.from().x <= x;
        // The interval ends at the end of a present piece, or at the start of one still to come.
        let stop = |p: &Piece| if p.from().x <= x { p.to().x } else { p.from().x };
        let (l, r) = (left.peek().copied(), right.peek().copied());
        let Some(next) = l.into_iter().chain(r).map(stop).reduce(f64::min) else { return };
        visit(l.filter(begun), r.filter(begun), x, next);
        x = next;
    }
}

/// The higher of two shapes from `from` to `to`.
fn higher_between(runs: &mut Vec<Run>, a: &Shape, b: &Shape, from: f64, to: f64) {
    let gap = |x: f64| b.at(x) - a.at(x);
    let turn = a.same_slope(b).filter(|&x| x > from && x < to);
    let mut lo = from;
    for hi in turn.into_iter().chain([to]) {
        let (g0, g1) = (gap(lo), gap(hi));
        let above = |g: f64| if g > 0.0 { *b } else { *a };
        if g0.abs() > EQUAL && g1.abs() > EQUAL && (g0 > 0.0) != (g1 > 0.0) {
            let x = crossing(a, b, lo, hi);
            runs.push(Run { shape: above(g0), start: lo });
            runs.push(Run { shape: above(g1), start: x });
        } else {
            runs.push(Run { shape: above(g0 + g1), start: lo });
        }
        lo = hi;
    }
}
