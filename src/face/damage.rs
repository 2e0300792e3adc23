//! Damage on one line: where its readings lie below the sound face, from foot to foot.
//!
//! Means over 3, 8 and 24 readings in the order of the radius are held against what noise makes of them, so that a deep
//! nick and a long shallow scrape are both seen. From where it is plain, damage is followed outward to where the readings
//! are back on the face. What has one foot only, at the end of the line, is no dent: it may be a bend.

use crate::numeric::order::running_sums;
use crate::scan::line::Stretch;

/// A reading as damage is looked for: in rising radius.
#[derive(Debug, Clone, Copy)]
pub(super) struct Residual {
    /// Index among the line's readings.
    pub index: usize,
    /// Radius.
    pub x: f64,
    /// Height over the sound face.
    pub left: f64,
    /// How many readings it counts for.
    pub weight: f64,
    /// What the face's slope and error allow there, millimetres.
    pub allowed: f64,
}

/// A run of readings off the face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Run {
    /// The first and the last reading, as indices into the residuals.
    pub first: usize,
    pub last: usize,
    /// Its feet.
    pub stretch: Stretch,
    /// The mean over its deepest fifth, positive below the face.
    pub depth: f64,
    /// Width over which it is deeper than half its depth.
    pub half_width: f64,
    /// Whether the line is back on the face on both sides.
    pub two_feet: bool,
}

/// Readings over which means are taken.
const WINDOWS: [usize; 3] = [3, 8, 24];
/// A mean so many of its standard errors off is none of noise: one in some ten million, over some ten thousand looks.
const BEYOND: f64 = 5.5;
/// Less than this is not followed as damage, millimetres: what texture and the face's own error leave.
const LEAST: f64 = 0.004;
/// A reading in a window that is off belongs to it where its neighbours lie off by this share of the window's mean.
const SPILL: f64 = 0.3;
/// A foot is where the mean of this many readings is back within one of its standard errors.
const FOOT: usize = 6;
/// So many readings at the end of a line must be back on the face for a foot.
const END: usize = 8;

/// Runs of readings that lie off the face on one side: `side` is −1 for below, 1 for above.
pub(super) fn runs(residuals: &[Residual], noise: f64, side: f64) -> Vec<Run> {
    let n = residuals.len();
    let sums = running_sums(residuals.iter().map(|r| r.weight * r.left * side));
    let weights = running_sums(residuals.iter().map(|r| r.weight));
    let mean = |from: usize, to: usize| {
        let weight = weights[to] - weights[from];
        (weight > 0.0).then(|| ((sums[to] - sums[from]) / weight, noise / weight.sqrt()))
    };
    let mut plain = vec![false; n];
    for window in WINDOWS {
        for from in 0..n.saturating_sub(window - 1) {
            let to = from + window;
            let allowed = residuals[from].allowed.max(residuals[to - 1].allowed);
            let Some((m, _)) = mean(from, to).filter(|(m, error)| *m > BEYOND * error + LEAST + allowed)
            else {
                continue;
            };
            // Only readings whose own neighbours lie off, so that a wide window does not spill over a foot.
            let own = |i: usize| mean(i.saturating_sub(2), (i + 3).min(n));
            (from..to)
                .filter(|&i| own(i).is_some_and(|(here, _)| here > SPILL * m))
                .for_each(|i| plain[i] = true);
        }
    }
    let mut out: Vec<Run> = Vec::new();
    let mut i = 0;
    while i < n {
        if !plain[i] {
            i += 1;
            continue;
        }
        let (mut first, mut last) = (i, i);
        let mut gap = 0;
        for (j, plain) in plain.iter().enumerate().skip(i) {
            if *plain {
                last = j;
                gap = 0;
            } else {
                gap += 1;
                if gap > FOOT {
                    break;
                }
            }
        }
        let back = |from: usize, to: usize| {
            mean(from, to).is_none_or(|(m, error)| m < error + LEAST / 2.0 + residuals[from].allowed / 4.0)
        };
        while first > 0 && !back(first.saturating_sub(FOOT), first) {
            first -= 1;
        }
        while last + 1 < n && !back(last + 1, (last + 1 + FOOT).min(n)) {
            last += 1;
        }
        i = last + 1;
        let floor = out.last().map_or(0, |r| r.last + 1);
        let first = first.max(floor);
        // What is left between two runs is no run of its own unless it stands out by itself.
        let stands_out = mean(first, last + 1).is_some_and(|(m, error)| m > BEYOND * error + LEAST / 2.0);
        out.extend(run(residuals, first, last, side).filter(|_| stands_out));
    }
    out
}

/// The run between two readings.
fn run(residuals: &[Residual], first: usize, last: usize, side: f64) -> Option<Run> {
    let inside = residuals.get(first..=last)?;
    let (from, to) = (inside.first()?.x, inside.last()?.x);
    let window = (inside.len() / 5).max(3).min(inside.len());
    // By running sums: of a million readings a window holds thousands.
    let sums = running_sums(inside.iter().map(|r| r.weight * r.left * side));
    let weights = running_sums(inside.iter().map(|r| r.weight));
    let over = |of: &[f64], from: usize| of[from + window] - of[from];
    let deepest = (0..=inside.len() - window)
        .map(|from| over(&sums, from) / over(&weights, from))
        .fold(f64::NEG_INFINITY, f64::max);
    let deep: Vec<f64> = inside
        .windows(3.min(inside.len()))
        .filter(|w| w.iter().map(|r| r.left * side).sum::<f64>() / w.len() as f64 > deepest / 2.0)
        .flat_map(|w| w.first().map(|r| r.x).into_iter().chain(w.last().map(|r| r.x)))
        .collect();
    let half_width = deep.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - deep.iter().copied().fold(f64::INFINITY, f64::min);
    let half_width = half_width.max(0.0);
    let two_feet = first >= END && last + END < residuals.len();
    Some(Run { first, last, stretch: Stretch { from, to }, depth: deepest, half_width, two_feet })
}
