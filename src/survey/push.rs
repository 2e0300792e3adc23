//! Whether a bend that the lines show may be a rim pushed in between two of them.
//!
//! A blow pushes a rim in over some 20 to 40 degrees. Lines beside the push show its flanks, which a few lobes explain as well as they
//! explain anything; how deep it is in between they do not show. So every place and width of a push is tried, each with a tilt of its own,
//! and of those that explain the lines the deepest is told: what it lies below the lowest place that the lobes make.
//!
//! Limits: a push of which no line shows a fifth is not looked for here; whether there may be one is judged by the lines' angles.

use crate::face::model::WheelModel;
use crate::numeric::cholesky::{Symmetric, dot};
use crate::numeric::harmonic::regressors;
use std::f64::consts::{PI, TAU};

/// Half the widths at 1/e of its depth that a push commonly has, degrees (common practice, no source).
const HALF_WIDTHS: [f64; 3] = [20.0, 30.0, 40.0];
/// A push may lie at any angle; looked at so far apart, degrees.
const STEP: u32 = 1;
/// Share of the push's depth that the line nearest to it must show.
const LEAST_SHOWN: f64 = 0.2;
/// A push that leaves no more than this share of what the tilt leaves of the lines explains them.
const EXPLAINS: f64 = 0.15;
/// Fewer lines fit every push: tilt and depth are four unknowns, place and width two more.
const LEAST_LINES: usize = 7;

/// A push that the lines allow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Push {
    /// Where its middle lies, radians.
    pub at: f64,
    /// How far it reaches below the lowest place that the model makes of the lines, millimetres.
    pub deeper: f64,
}

/// The deepest push that the lines allow at a radius; none where they show none.
pub(super) fn between_lines(model: &WheelModel, r: f64) -> Option<Push> {
    let angles = &model.angles;
    if angles.len() < LEAST_LINES {
        return None;
    }
    let heights: Vec<f64> = (0..angles.len()).map(|line| model.line_departure_at(line, r)).collect();
    let tilt: Vec<Vec<f64>> = angles.iter().map(|a| regressors(&[1], *a)).collect();
    let (_, without) = least_squares(&tilt, &heights)?;
    let lowest = model.turn_at(r).lowest - model.face_at(r);
    let tried =
        HALF_WIDTHS.iter().flat_map(|half| (0..360 / STEP).map(move |i| (f64::from(i * STEP), *half)));
    tried
        .filter_map(|(at, half)| {
            let (at, half) = (at.to_radians(), half.to_radians());
            let share = |angle: f64| (-(apart(angle, at) / half).powi(2)).exp();
            let most = angles.iter().map(|a| share(*a)).fold(0.0, f64::max);
            let pushed = |a: &f64| [regressors(&[1], *a), vec![-share(*a)]].concat();
            let rows: Vec<Vec<f64>> = angles.iter().map(pushed).collect();
            let (found, left) = least_squares(&rows, &heights)?;
            let depth = *found.last()?;
            let explains = left <= EXPLAINS * EXPLAINS * without && most >= LEAST_SHOWN && depth > 0.0;
            let deepest = dot(&pushed(&at), &found);
            explains.then_some(Push { at, deeper: lowest - deepest })
        })
        .max_by(|a, b| a.deeper.total_cmp(&b.deeper))
}

/// The smaller angle between two directions, radians.
fn apart(a: f64, b: f64) -> f64 {
    PI - ((a - b).rem_euclid(TAU) - PI).abs()
}

/// The coefficients of rows, and the sum of the squares that they leave.
fn least_squares(rows: &[Vec<f64>], data: &[f64]) -> Option<(Vec<f64>, f64)> {
    let width = rows.first()?.len();
    let mut normal = Symmetric::zeros(width);
    let mut right = vec![0.0; width];
    for (row, value) in rows.iter().zip(data) {
        normal.add_outer(1.0, row);
        right.iter_mut().zip(row).for_each(|(r, a)| *r += a * value);
    }
    normal.mirror();
    let found = normal.factor()?.solve(right);
    let left = rows.iter().zip(data).map(|(row, value)| (value - dot(row, &found)).powi(2)).sum();
    Some((found, left))
}
