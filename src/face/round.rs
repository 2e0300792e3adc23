//! The whole turn at a radius: its highest, middle and lowest place, and how well they are known.
//!
//! What depends on the direction alone is reckoned once: how far the eccentric face is shifted, the amplitude of each shape, and the
//! variance of each pair of shapes. At a radius a direction then costs a few products, and these run over all directions at once.

use super::model::{TurnAt, WheelModel};
use crate::numeric::cholesky::dot;

/// So many directions over the turn are looked at. Between two of them a three-lobed wave hides `1 − cos 4.5°`, 0.3 % of its
/// height; the parabola through the highest three finds all of that but a thousandth.
const DIRECTIONS: u32 = 120;

/// The turn of a model in all directions.
#[derive(Debug, Clone)]
pub struct Round<'m> {
    model: &'m WheelModel,
    directions: Vec<Direction>,
    /// Of each shape, its amplitude at the outermost radius in each direction.
    amplitudes: Vec<Vec<f64>>,
}

#[derive(Debug, Clone)]
struct Direction {
    angle: f64,
    /// How far the eccentric face is shifted along the radius.
    shift: f64,
    /// Covariance of the amplitudes of two shapes, row by row.
    covariance: Vec<f64>,
}

impl<'m> Round<'m> {
    pub(super) fn new(model: &'m WheelModel) -> Self {
        let angles = (0..DIRECTIONS).map(|i| std::f64::consts::TAU * f64::from(i) / f64::from(DIRECTIONS));
        let regressors: Vec<(f64, Vec<f64>)> = angles.map(|a| (a, model.turn.regressors(a))).collect();
        let directions = regressors.iter().map(|(angle, r)| Direction::new(model, *angle, r)).collect();
        let of_shape = |row: &Vec<f64>| regressors.iter().map(|(_, r)| dot(row, r)).collect();
        let amplitudes = model.turn.coefficients.iter().map(of_shape).collect();
        Self { model, directions, amplitudes }
    }

    /// The model.
    pub(super) const fn model(&self) -> &'m WheelModel {
        self.model
    }

    /// Highest, middle and lowest sound place at a radius.
    #[must_use]
    pub fn at(&self, r: f64) -> TurnAt {
        let model = self.model;
        let shapes: Vec<f64> = model.terms.iter().map(|t| t.shape.at(r, model.outermost)).collect();
        let heights = self.heights(r);
        let error = self.directions.iter().map(|d| d.variance(&shapes)).fold(0.0, f64::max);
        let rivals = model.turn.rivals.iter().map(|rival| rival.differs).fold(0.0, f64::max);
        let face = model.face_error_at(r);
        let [highest, lowest] = Self::extremes(&heights);
        TurnAt {
            highest,
            middle: heights.iter().sum::<f64>() / f64::from(DIRECTIONS),
            lowest,
            uncertainty: (2.0 * (error + face * face).sqrt()).max(rivals * r / model.outermost),
        }
    }

    /// Highest and lowest sound place of heights in each direction at one radius, as [`Round::heights`] gives them.
    #[must_use]
    pub fn extremes(heights: &[f64]) -> [f64; 2] {
        [highest(heights, 1.0), -highest(heights, -1.0)]
    }

    /// The sound surface at a radius in each direction, evenly spaced from angle zero on.
    #[must_use]
    pub fn heights(&self, r: f64) -> Vec<f64> {
        let model = self.model;
        let mut heights = if model.eccentricity.is_none() {
            vec![model.face_at(r); self.directions.len()]
        } else {
            self.directions.iter().map(|d| model.face_at(r - d.shift)).collect()
        };
        self.add_departures(r, &mut heights);
        heights
    }

    /// Adds what tilt and bend are in each direction at a radius.
    fn add_departures(&self, r: f64, heights: &mut [f64]) {
        for (term, amplitudes) in self.model.terms.iter().zip(&self.amplitudes) {
            let shape = term.shape.at(r, self.model.outermost);
            heights.iter_mut().zip(amplitudes).for_each(|(z, a)| *z += a * shape);
        }
    }

    /// Highest less lowest of what is neither tilt nor eccentricity, at a radius.
    #[must_use]
    pub fn bend_at(&self, r: f64) -> f64 {
        let tilt = self.model.tilt;
        let of_tilt = |d: &Direction| -tilt.slope * r * (d.angle - tilt.high_side).cos();
        let mut left: Vec<f64> = self.directions.iter().map(of_tilt).collect();
        self.add_departures(r, &mut left);
        highest(&left, 1.0) + highest(&left, -1.0)
    }
}

/// The highest place of heights all round, between directions by the parabola through the highest three; of their negatives
/// where the side is −1.
fn highest(heights: &[f64], side: f64) -> f64 {
    // Some at once, then where it is: this runs for every radius of the face. Compared and not `max`, which costs more than all else.
    let mut lanes = [f64::NEG_INFINITY; 8];
    let (eights, rest) = heights.as_chunks::<8>();
    for eight in eights {
        for (lane, z) in lanes.iter_mut().zip(eight) {
            let z = side * z;
            *lane = if z > *lane { z } else { *lane };
        }
    }
    let here = rest.iter().map(|z| side * z).chain(lanes).fold(f64::NEG_INFINITY, f64::max);
    let top = heights.iter().rposition(|z| side * z == here).unwrap_or(0);
    let last = heights.len().saturating_sub(1);
    let at = |i: usize| heights.get(i).map_or(here, |z| side * z);
    let before = at(if top == 0 { last } else { top - 1 });
    let after = at(if top >= last { 0 } else { top + 1 });
    let bent = 2.0 * here - before - after;
    if bent > 0.0 { here + (after - before).powi(2) / (8.0 * bent) } else { here }
}

impl Direction {
    fn new(model: &WheelModel, angle: f64, regressors: &[f64]) -> Self {
        let (n, width) = (model.terms.len(), regressors.len());
        let covariance = (0..n * n).map(|k| {
            let (i, j) = (k / n * width, k % n * width);
            let row =
                |p: usize, a: f64| regressors.iter().enumerate().map(move |(q, b)| (i + p, j + q, a * b));
            let pairs = regressors.iter().enumerate().flat_map(|(p, &a)| row(p, a));
            pairs.map(|(i, j, w)| w * model.turn.covariance.get(i, j)).sum()
        });
        Self { angle, shift: model.shift_at(angle), covariance: covariance.collect() }
    }

    fn variance(&self, shapes: &[f64]) -> f64 {
        let rows = self.covariance.chunks_exact(shapes.len().max(1)).zip(shapes);
        rows.map(|(row, s)| s * row.iter().zip(shapes).map(|(c, t)| c * t).sum::<f64>()).sum()
    }
}
