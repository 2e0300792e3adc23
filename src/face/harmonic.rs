//! How the face departs from itself over the turn: harmonics of the angle, and the tilt of the mounting.
//!
//! A wheel clamped askew departs from its own face by `z = a·r·cos(θ − φ)`: a first harmonic whose
//! amplitude grows with the radius. Every measured height is `face(r) + r·(A·cos θ + B·sin θ)` and
//! noise; the face at each radius is an unknown of its own and is taken out by centring, which
//! leaves two normal equations. Outliers (damage, spikes left over) are held down by Huber's
//! weights, found by iteration: P. J. Huber, Robust Statistics (1981), with the tuning constant
//! 1.345 for 95 % efficiency and the scale from the median absolute residual (from memory; also
//! Holland and Welsch, 1977).
//!
//! Limits: harmonics up to `(n − 1)/2` can be told apart by lines at n angles. With three lines a
//! two-lobed bend that happens to grow with the radius reads as tilt; four lines tell them apart.

use super::lines::{Lines, MAD_TO_SIGMA, median};

/// The tilt of the mounting: `z = r·(cos·cos θ + sin·sin θ)`, slopes without unit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tilt {
    /// Slope along the angle zero.
    pub cos: f64,
    /// Slope along a quarter turn.
    pub sin: f64,
}

impl Tilt {
    /// The departure at a radius (millimetres) and an angle (radians).
    #[must_use]
    pub fn at(self, r: f64, angle: f64) -> f64 {
        self.toward(r, (angle.cos(), angle.sin()))
    }

    /// The departure at a radius (millimetres) in the direction of an angle's cosine and sine.
    pub(super) fn toward(self, r: f64, (cos, sin): (f64, f64)) -> f64 {
        r * (self.cos * cos + self.sin * sin)
    }

    /// Slope of the tilted plane: at the radius r the high side stands this times r above the middle.
    #[must_use]
    pub fn slope(self) -> f64 {
        self.cos.hypot(self.sin)
    }

    /// Angle of the high side, radians, from zero to a whole turn.
    #[must_use]
    pub fn high_side(self) -> f64 {
        self.sin.atan2(self.cos).rem_euclid(std::f64::consts::TAU)
    }
}

/// A fitted tilt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TiltFit {
    /// The tilt.
    pub tilt: Tilt,
    /// Robust standard deviation of what the tilt leaves, millimetres.
    pub sigma: f64,
}

/// Huber's tuning constant: 95 % efficiency where the noise is normal after all.
const HUBER: f64 = 1.345;
/// Huber's iteration shrinks the step geometrically; this many rounds reach the last digits that matter.
const ROUNDS: usize = 60;
/// The tilt has settled when it moves less than this at a radius of one metre, in millimetres: a thousandth of what any sensor tells.
const SETTLED: f64 = 1e-6;
/// Residuals are never weighed against a scale below this, so that noise-free lines do not divide by zero.
const LEAST_SCALE: f64 = 1e-9;

/// Fits the tilt to the lines, leaving out the readings that `skip(line, radius index)` names; outliers are
/// held down. A tilt that is known to lie `near` saves rounds. `None` with fewer than three readings to spare or lines that cannot tell a tilt (all on one diameter).
#[must_use]
pub fn fit_tilt(lines: &Lines, skip: &dyn Fn(usize, usize) -> bool, near: Option<Tilt>) -> Option<TiltFit> {
    let readings = Readings::new(lines, skip);
    let mut weights = vec![1.0; readings.rows.len()];
    let (plain, _) = readings.solve(&weights)?;
    let mut tilt = near.unwrap_or(plain);
    let mut off = readings.off(tilt, &readings.medians(tilt));
    let mut sigma = readings.scale(off.clone());
    for _ in 0..ROUNDS {
        let scale = sigma.max(LEAST_SCALE);
        weights.clear();
        weights.extend(off.iter().map(|off| huber_weight(*off, scale)));
        let (next, middles) = readings.solve(&weights)?;
        let moved = (next.cos - tilt.cos).hypot(next.sin - tilt.sin) * 1000.0;
        tilt = next;
        off = readings.off(tilt, &middles);
        sigma = readings.scale(off.clone());
        if moved < SETTLED {
            break;
        }
    }
    Some(TiltFit { tilt, sigma })
}

/// Fits the tilt by plain least squares.
#[must_use]
pub fn fit_tilt_plain(lines: &Lines) -> Option<Tilt> {
    let readings = Readings::new(lines, &|_, _| false);
    readings.solve(&vec![1.0; readings.rows.len()]).map(|(tilt, _)| tilt)
}

/// Readings grouped by radius: of each, the height and the two regressors.
struct Readings {
    rows: Vec<[f64; 3]>,
    /// Where the readings of each radius end.
    ends: Vec<usize>,
}

impl Readings {
    fn new(lines: &Lines, skip: &dyn Fn(usize, usize) -> bool) -> Self {
        let turn: Vec<(f64, f64)> = lines.angle.iter().map(|a| (a.cos(), a.sin())).collect();
        let (mut rows, mut ends) = (Vec::new(), Vec::new());
        for (i, &r) in lines.x.iter().enumerate() {
            let start = rows.len();
            for (k, (row, &(c, s))) in lines.z.iter().zip(&turn).enumerate() {
                match row.get(i) {
                    Some(&z) if z.is_finite() && !skip(k, i) => rows.push([z, r * c, r * s]),
                    _ => {}
                }
            }
            // One reading alone tells nothing of how lines depart from each other.
            if rows.len() - start < 2 {
                rows.truncate(start);
            } else {
                ends.push(rows.len());
            }
        }
        Self { rows, ends }
    }

    /// The readings of each radius, with what is known of each of them.
    fn groups<'a>(&'a self, known: &'a [f64]) -> impl Iterator<Item = (&'a [[f64; 3]], &'a [f64])> {
        let starts = std::iter::once(0).chain(self.ends.iter().copied());
        starts.zip(&self.ends).filter_map(|(a, &b)| Some((self.rows.get(a..b)?, known.get(a..b)?)))
    }

    /// Weighted least squares with the face at each radius centred out. Gives the tilt and the face at each radius.
    fn solve(&self, weights: &[f64]) -> Option<(Tilt, Vec<f64>)> {
        let mut n = [[0.0; 2]; 2];
        let mut b = [0.0; 2];
        let mut means = Vec::with_capacity(self.ends.len());
        for (group, weights) in self.groups(weights) {
            let (mut total, mut sum) = (0.0, [0.0; 3]);
            for (row, w) in group.iter().zip(weights) {
                total += w;
                sum.iter_mut().zip(row).for_each(|(sum, v)| *sum += w * v);
            }
            let middle = sum.map(|sum| sum / total);
            for (&[z, c, s], w) in group.iter().zip(weights) {
                let (z, c, s) = (z - middle[0], c - middle[1], s - middle[2]);
                n[0][0] += w * c * c;
                n[0][1] += w * c * s;
                n[1][1] += w * s * s;
                b[0] += w * c * z;
                b[1] += w * s * z;
            }
            means.push(middle);
        }
        let size = n[0][0] + n[1][1];
        let det = n[0][0] * n[1][1] - n[0][1] * n[0][1];
        // Lines on one diameter make the equations singular: nothing is known of the other direction.
        if !(size > 0.0 && det > size * size * 1e-6) {
            return None;
        }
        let tilt = Tilt {
            cos: (b[0] * n[1][1] - b[1] * n[0][1]) / det,
            sin: (n[0][0] * b[1] - n[0][1] * b[0]) / det,
        };
        Some((tilt, means.into_iter().map(|m| residual(m, tilt)).collect()))
    }

    /// The face at each radius with the tilt taken off, as the median of the lines.
    fn medians(&self, tilt: Tilt) -> Vec<f64> {
        let mut left: Vec<f64> = self.rows.iter().map(|&row| residual(row, tilt)).collect();
        let mut start = 0;
        let middle = |&end: &usize| {
            let group = left.get_mut(start..end);
            start = end;
            group.and_then(median).unwrap_or(0.0)
        };
        self.ends.iter().map(middle).collect()
    }

    /// How far each reading lies off the face at its radius, the tilt taken off.
    fn off(&self, tilt: Tilt, middles: &[f64]) -> Vec<f64> {
        let mut off: Vec<f64> = self.rows.iter().map(|&row| residual(row, tilt)).collect();
        let mut rest = off.as_mut_slice();
        let mut start = 0;
        for (&end, middle) in self.ends.iter().zip(middles) {
            let Some((group, behind)) = rest.split_at_mut_checked(end - start) else { break };
            for off in group {
                *off = (*off - middle).abs();
            }
            (rest, start) = (behind, end);
        }
        off
    }

    /// Standard deviation from the median absolute residual, corrected for the unknowns spent.
    fn scale(&self, mut off: Vec<f64>) -> f64 {
        let n = off.len() as f64;
        let spare = n - self.ends.len() as f64 - 2.0;
        let spent = if spare > 0.0 { (n / spare).sqrt() } else { 1.0 };
        median(&mut off).unwrap_or(0.0) * MAD_TO_SIGMA * spent
    }
}

fn residual([z, c, s]: [f64; 3], tilt: Tilt) -> f64 {
    z - tilt.cos * c - tilt.sin * s
}

/// One for a reading that lies off by no more than [`HUBER`] scales, and less for one beyond.
fn huber_weight(off: f64, scale: f64) -> f64 {
    HUBER / (off / scale).max(HUBER)
}

/// A constant and harmonics of the angle, fitted to one value for each line.
#[derive(Debug, Clone, PartialEq)]
pub struct Harmonics {
    /// Constant, then cosine and sine of each order in turn.
    pub terms: Vec<f64>,
    /// Sum of the squares that the fit leaves.
    pub left: f64,
    /// Values to spare beyond the unknowns.
    pub spare: usize,
    /// The terms' covariances, for values of standard deviation one.
    covariance: Vec<Vec<f64>>,
}

/// Regressors of a constant and `order` harmonics at an angle.
fn regressors(order: usize, angle: f64) -> impl Iterator<Item = f64> {
    std::iter::once(1.0).chain((1..=order).flat_map(move |m| {
        let (s, c) = (angle * m as f64).sin_cos();
        [c, s]
    }))
}

impl Harmonics {
    /// Fits by least squares; `None` where the angles cannot tell that many harmonics apart.
    #[must_use]
    pub fn fit(angles: &[f64], values: &[f64], order: usize) -> Option<Self> {
        let n = 2 * order + 1;
        let rows: Vec<Vec<f64>> = angles.iter().map(|&a| regressors(order, a).collect()).collect();
        let mut normal = vec![vec![0.0; n]; n];
        let mut right = vec![0.0; n];
        for (row, &y) in rows.iter().zip(values) {
            for (i, &a) in row.iter().enumerate() {
                for (j, &b) in row.iter().enumerate() {
                    normal[i][j] += a * b;
                }
                right[i] += a * y;
            }
        }
        let inverse = invert(normal)?;
        let terms: Vec<f64> = inverse.iter().map(|row| dot(row, &right)).collect();
        let left = rows.iter().zip(values).map(|(row, y)| (y - dot(row, &terms)).powi(2)).sum();
        Some(Self { terms, left, spare: values.len().saturating_sub(n), covariance: inverse })
    }

    /// The highest order that lines at `distinct` angles can tell, at most `limit`.
    #[must_use]
    pub fn order_for(distinct: usize, limit: usize) -> usize {
        (distinct.saturating_sub(1) / 2).min(limit)
    }

    /// The fitted value at an angle.
    #[must_use]
    pub fn at(&self, angle: f64) -> f64 {
        regressors(self.terms.len() / 2, angle).zip(&self.terms).map(|(a, b)| a * b).sum()
    }

    /// The fitted value in a direction of the turn.
    pub(super) fn toward(&self, direction: &Direction) -> f64 {
        dot(&direction.regressors, &self.terms)
    }

    /// Largest standard deviation of the fitted curve in the directions, for values of standard deviation one.
    pub(super) fn spread(&self, directions: &[Direction]) -> f64 {
        let variance = |d: &Direction| {
            d.regressors.iter().zip(&self.covariance).map(|(a, row)| a * dot(row, &d.regressors)).sum::<f64>()
        };
        directions.iter().map(variance).fold(0.0, f64::max).sqrt()
    }

    /// The part of the fitted value from an order (at least one) upward.
    #[must_use]
    pub fn at_from(&self, angle: f64, order: usize) -> f64 {
        let below = 2 * order - 1;
        regressors(self.terms.len() / 2, angle).zip(&self.terms).skip(below).map(|(a, b)| a * b).sum()
    }
}

/// A direction of the turn.
pub(super) struct Direction {
    /// Its angle, radians.
    pub angle: f64,
    /// Cosine and sine of the angle.
    pub turn: (f64, f64),
    /// A constant and harmonics there; a fit of a lower order takes as many of the first as it has terms.
    pub regressors: Vec<f64>,
}

/// The directions in which the whole turn is looked at, for fits up to an order: between two of them a two-lobed wave hides
/// at most `1 − cos 1°`, a six-thousandth of its height.
pub(super) fn all_round(order: usize) -> Vec<Direction> {
    let direction = |angle: f64| Direction {
        angle,
        turn: (angle.cos(), angle.sin()),
        regressors: regressors(order, angle).collect(),
    };
    (0..360_i32).map(|d| direction(f64::from(d).to_radians())).collect()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The inverse of a small symmetric matrix by Gauss and Jordan with pivoting; `None` if it is singular or nearly so.
fn invert(mut m: Vec<Vec<f64>>) -> Option<Vec<Vec<f64>>> {
    let n = m.len();
    let size = m.iter().flatten().fold(0.0_f64, |a, b| a.max(b.abs()));
    for (i, row) in m.iter_mut().enumerate() {
        row.extend((0..n).map(|j| f64::from(u8::from(i == j))));
    }
    for c in 0..n {
        let pivot = (c..n).max_by(|&a, &b| m[a][c].abs().total_cmp(&m[b][c].abs()))?;
        // A pivot this small against the matrix means that two regressors are the same at the angles measured.
        if m[pivot][c].abs() < 1e-6 * size {
            return None;
        }
        m.swap(c, pivot);
        let by = m[c][c];
        m[c].iter_mut().for_each(|v| *v /= by);
        let row = m[c].clone();
        for (_, other) in m.iter_mut().enumerate().filter(|(i, _)| *i != c) {
            let by = other[c];
            other.iter_mut().zip(&row).for_each(|(v, p)| *v -= by * p);
        }
    }
    Some(m.into_iter().map(|row| row[n..].to_vec()).collect())
}
