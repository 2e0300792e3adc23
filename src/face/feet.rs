//! The depth that damage has on all lines, told by its feet.
//!
//! Beside a foot the face runs on; inside, the mean over the lines lies below it by the common depth c times the shape p
//! that the lines differ by. Three things are known of the mean there:
//!
//! - The shape is nothing beyond its feet. Inside it is a walk of unknown steps, read with noise; its best guess given the
//!   readings stands for it, so that its noise does not make every depth too small (regression calibration: R. J. Carroll et
//!   al., Measurement Error in Nonlinear Models, 2006, ch. 4), and what is left of its noise counts c² times.
//! - The face is a curve whose second derivative is white noise of unknown strength: from a plain dish, which is carried
//!   far, to a wall, of which only the jump at a sharp foot can be told (the smoothing spline of G. Wahba, 1978). Every
//!   strength is weighed by how likely it makes the readings.
//! - Noise.
//!
//! Then c is found by generalised least squares. Each foot has a strength of its own, so that a foot in a wall takes nothing
//! from one on plain ground, and each may lie altogether, with a small chance: then the depth is as wide as they differ.
//!
//! Limits: damage that is the same on every line has no shape here; one that fades away at its feet as gently as the
//! face curves is known badly, and that is told in the error.

use crate::numeric::cholesky::{Symmetric, dot};
use crate::numeric::grid::Grid;
use crate::scan::line::Stretch;

/// So far into the damage a foot is looked at, millimetres: further on the face may hold what its margin does not show.
const INSIDE: f64 = 2.0;
/// So far beside it.
pub(super) const OUTSIDE: f64 = 3.4;
/// The shape may begin this far beyond the foot at which it stands out of its noise, millimetres: one bin.
const BEGINS: f64 = 0.25;
/// Variance of the shape's steps over a millimetre; its deepest place is one.
const STEPS: f64 = 4.0;
/// Strengths of the face's second derivative, 1/mm: each ten times the one before.
const STRENGTHS: [f64; 9] = [1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 1e-1, 1.0, 1e1, 1e2];
/// The noise hangs on the depth, which hangs on the noise: so many turns settle it.
const TURNS: usize = 3;
/// Where the shape rises, readings spread over a bin have their mean this share of a bin from where they are taken to be.
const PLACES: f64 = 0.05;
/// By this much a plain dish shifts the depth: its even curvature is no white noise, millimetres.
const DISH: f64 = 0.003;
/// Fewer bins in a window tell no depth beside a line and a curve.
const FEWEST: usize = 10;
/// Bins that a window needs on either side of its foot.
const EACH_SIDE: usize = 3;
/// The chance that a foot on plain ground tells nothing.
const LIES: f64 = 0.003;
/// The chance of it in a face without any smoothness: a feature of the face looks like a foot there.
const LIES_IN_WALLS: f64 = 0.5;
/// The strength at which half of that is reached: the curve changes its curvature by 0.3/mm within a millimetre, as at the end of a
/// wall a millimetre or two high.
const WALL: f64 = 0.1;
/// What depths there are then, as a standard deviation, millimetres.
const ANY_DEPTH: f64 = 0.3;

/// The mean of the lines and the shape that they differ by, over fine bins.
pub(super) struct Series<'a> {
    pub grid: &'a Grid,
    /// Mean height of the lines.
    pub mean: &'a [f64],
    /// The shape, one at its deepest place; with its noise.
    pub shape: &'a [f64],
    /// Noise of the mean in a bin.
    pub noise: f64,
    /// Noise of the shape in a bin.
    pub shape_noise: f64,
}

/// A depth with its standard error, and how likely it makes the readings: the logarithm first, weights later.
#[derive(Debug, Clone, Copy)]
struct Guess {
    depth: f64,
    error: f64,
    likely: f64,
    /// The chance that it tells nothing.
    lies: f64,
}

/// The common depth of what begins and ends at the feet, with its standard error; `None` where neither foot can be read.
pub(super) fn common_depth(series: &Series<'_>, feet: Stretch) -> Option<(f64, f64)> {
    let shape = series.calibrated(Stretch { from: feet.from - BEGINS, to: feet.to + BEGINS });
    let (inner, outer) = rayon::join(
        || series.foot(&shape, Stretch { from: feet.from - OUTSIDE, to: feet.from + INSIDE }),
        || series.foot(&shape, Stretch { from: feet.to - INSIDE, to: feet.to + OUTSIDE }),
    );
    let found = match (inner.is_empty(), outer.is_empty()) {
        (true, true) => None,
        (false, true) => mean(&weighed(&inner)),
        (true, false) => mean(&weighed(&outer)),
        (false, false) => mean(&both(&weighed(&inner), &weighed(&outer))),
    };
    found.map(|(depth, error)| (depth, error.hypot(DISH)))
}

impl Series<'_> {
    /// The best guess of the shape: nothing outside a stretch, and inside a walk from nothing to nothing.
    fn calibrated(&self, stretch: Stretch) -> Vec<f64> {
        let mut out = vec![0.0; self.grid.len];
        let inside: Vec<usize> = (0..self.grid.len).filter(|&j| stretch.holds(self.grid.at(j))).collect();
        let walk = (STEPS * self.grid.step).recip();
        let seen = self.shape_noise.max(1e-6).powi(-2);
        // Tridiagonal: each bin hangs on its neighbours by a step and on its own reading.
        let (mut ahead, mut solved) = (Vec::with_capacity(inside.len()), Vec::with_capacity(inside.len()));
        let (mut last_ahead, mut last_solved) = (0.0, 0.0);
        for &j in &inside {
            let shape = self.shape.get(j).copied().filter(|s| s.is_finite());
            let (own, right) = shape.map_or((0.0, 0.0), |s| (seen, seen * s));
            let pivot = 2.0 * walk + own - walk * last_ahead;
            last_ahead = walk / pivot;
            last_solved = (right + walk * last_solved) / pivot;
            ahead.push(last_ahead);
            solved.push(last_solved);
        }
        let mut next = 0.0;
        for ((&j, ahead), solved) in inside.iter().zip(ahead).zip(solved).rev() {
            next = solved + ahead * next;
            if let Some(value) = out.get_mut(j) {
                *value = next;
            }
        }
        out
    }

    /// What one window tells of the depth, by each strength of the face; nothing where it cannot.
    fn foot(&self, shape: &[f64], window: Stretch) -> Vec<Guess> {
        let bins =
            |j: &usize| window.holds(self.grid.at(*j)) && self.mean.get(*j).is_some_and(|m| m.is_finite());
        let here: Vec<usize> = (0..self.grid.len).filter(bins).collect();
        let shape_at = |j: usize| shape.get(j).copied().unwrap_or(0.0);
        let damaged = here.iter().filter(|&&j| shape_at(j) != 0.0).count();
        if here.len() < FEWEST || damaged < EACH_SIDE || here.len() - damaged < EACH_SIDE {
            return Vec::new();
        }
        let x: Vec<f64> = here.iter().map(|&j| self.grid.at(j)).collect();
        let start = x.first().copied().unwrap_or(0.0);
        let middle = f64::midpoint(window.from, window.to);
        let along: Vec<f64> = here.iter().map(|&j| -shape_at(j)).collect();
        let line: Vec<f64> = x.iter().map(|x| x - middle).collect();
        let data: Vec<f64> = here.iter().map(|&j| self.mean.get(j).copied().unwrap_or(0.0)).collect();
        let level = data.iter().sum::<f64>() / data.len() as f64;
        let data: Vec<f64> = data.iter().map(|d| d - level).collect();
        let spread: Vec<[f64; 2]> = here
            .iter()
            .map(|&j| {
                let rise = f64::midpoint(shape_at(j + 1), -shape_at(j.saturating_sub(1)));
                let own = if shape_at(j) == 0.0 { 0.0 } else { self.shape_noise };
                [self.noise * self.noise, own * own + PLACES * PLACES * rise * rise]
            })
            .collect();
        let curved = curved(&x, start);
        let columns = [vec![1.0; x.len()], line, along];
        let mut depth = 0.0;
        STRENGTHS
            .iter()
            .filter_map(|strength| {
                let mut found = None;
                for _ in 0..TURNS {
                    let noise: Vec<f64> = spread.iter().map(|[own, by]| own + depth * depth * by).collect();
                    found = least_squares(&curved, *strength, &noise, &columns, &data);
                    depth = found?.depth;
                }
                found
            })
            .collect()
    }
}

/// Covariance of a curve that starts level at nothing and whose second derivative is white noise of strength one.
fn curved(x: &[f64], start: f64) -> Symmetric {
    let mut covariance = Symmetric::zeros(x.len());
    for (i, a) in x.iter().enumerate() {
        for (j, b) in x.iter().enumerate().take(i + 1) {
            let (least, most) = (a.min(*b) - start, a.max(*b) - start);
            covariance.set(i, j, least * least * (3.0 * most - least) / 6.0);
        }
    }
    covariance
}

/// The last column's coefficient by generalised least squares, and the restricted likelihood (Patterson and Thompson, 1971).
fn least_squares(
    curved: &Symmetric,
    strength: f64,
    noise: &[f64],
    columns: &[Vec<f64>; 3],
    data: &[f64],
) -> Option<Guess> {
    let n = data.len();
    let mut covariance = Symmetric::zeros(n);
    for (i, noise) in noise.iter().enumerate() {
        for j in 0..i {
            covariance.set(i, j, strength * curved.get(i, j));
        }
        covariance.set(i, i, strength * curved.get(i, i) + noise);
    }
    let factor = covariance.factor()?;
    let whitened: Vec<Vec<f64>> = columns.iter().map(|c| factor.forward(c.clone())).collect();
    let data = factor.forward(data.to_vec());
    let mut normal = Symmetric::zeros(columns.len());
    for (i, a) in whitened.iter().enumerate() {
        for (j, b) in whitened.iter().enumerate().take(i + 1) {
            normal.set(i, j, dot(a, b));
        }
    }
    let right: Vec<f64> = whitened.iter().map(|c| dot(c, &data)).collect();
    let of_normal = normal.factor()?;
    let found = of_normal.solve(right);
    let left: Vec<f64> = data
        .iter()
        .enumerate()
        .map(|(i, d)| {
            d - whitened.iter().zip(&found).map(|(c, f)| c.get(i).copied().unwrap_or(0.0) * f).sum::<f64>()
        })
        .collect();
    let square = dot(&left, &left);
    let free = (n - columns.len()) as f64;
    let variance = normal.inverse()?.get(2, 2);
    Some(Guess {
        depth: *found.last()?,
        // What is left beyond chance is texture, or noise that was thought too small.
        error: (variance * (square / free).max(1.0)).sqrt(),
        likely: -0.5 * (square + factor.log_determinant() + of_normal.log_determinant()),
        lies: LIES + LIES_IN_WALLS * strength / (strength + WALL),
    })
}

/// Guesses with weights that add up to one, and the chance that the foot lies.
fn weighed(guesses: &[Guess]) -> Vec<Guess> {
    let most = guesses.iter().map(|g| g.likely).fold(f64::NEG_INFINITY, f64::max);
    let all: f64 = guesses.iter().map(|g| (g.likely - most).exp()).sum();
    let share = |g: &Guess| (g.likely - most).exp() / all;
    let told = guesses.iter().map(|g| Guess { likely: (1.0 - g.lies) * share(g), ..*g });
    let likely = guesses.iter().map(|g| g.lies * share(g)).sum();
    told.chain([Guess { depth: 0.0, error: ANY_DEPTH, likely, lies: 1.0 }]).collect()
}

/// Two weighed mixtures that speak of the same depth, together.
fn both(a: &[Guess], b: &[Guess]) -> Vec<Guess> {
    let pair = |a: &Guess, b: &Guess| {
        let (v, w) = (a.error.powi(-2), b.error.powi(-2));
        let apart = a.error.hypot(b.error);
        let agree = (-0.5 * ((a.depth - b.depth) / apart).powi(2)).exp() / apart;
        Guess {
            depth: (v * a.depth + w * b.depth) / (v + w),
            error: (v + w).recip().sqrt(),
            likely: a.likely * b.likely * agree,
            lies: a.lies * b.lies,
        }
    };
    a.iter().flat_map(|a| b.iter().map(move |b| pair(a, b))).collect()
}

/// Mean and standard deviation of a mixture.
fn mean(guesses: &[Guess]) -> Option<(f64, f64)> {
    let all: f64 = guesses.iter().map(|g| g.likely).sum();
    if !(all > 0.0 && all.is_finite()) {
        return None;
    }
    let depth = guesses.iter().map(|g| g.likely * g.depth).sum::<f64>() / all;
    let square =
        guesses.iter().map(|g| g.likely * (g.error.powi(2) + (g.depth - depth).powi(2))).sum::<f64>() / all;
    Some((depth, square.sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::face::tests::noise;

    const STEP: f64 = 0.25;

    /// Mean and shape over bins: a face, damage between two feet of this depth, and noise.
    fn depth(face: impl Fn(f64) -> f64, depth: f64, level: f64, seed: u64) -> (f64, f64) {
        let grid = Grid { start: 200.0, step: STEP, len: 64 };
        let feet = Stretch { from: 205.0, to: 211.0 };
        let damage = |x: f64| {
            let u = (x - feet.from) / feet.length();
            if (0.0..=1.0).contains(&u) { (std::f64::consts::PI * u).sin().sqrt() } else { 0.0 }
        };
        let x = |j: usize| grid.at(j);
        let mean: Vec<f64> =
            (0..grid.len).map(|j| face(x(j)) - depth * damage(x(j)) + level * noise(seed, j)).collect();
        let shape_noise = 10.0 * level;
        let shape: Vec<f64> =
            (0..grid.len).map(|j| damage(x(j)) + shape_noise * noise(seed + 100, j)).collect();
        let series = Series { grid: &grid, mean: &mean, shape: &shape, noise: level, shape_noise };
        common_depth(&series, feet).unwrap_or_else(|| panic!("no depth"))
    }

    /// Plain dish, a wall that ends inside, a roll-off beyond the outer foot.
    const FACES: [fn(f64) -> f64; 3] = [
        |x| 0.001 * (x - 190.0).powi(2),
        |x| {
            let u = ((x - 204.0) / 3.5).clamp(0.0, 1.0);
            3.0 * u * u * (3.0 - 2.0 * u)
        },
        |x| -(x - 213.0).max(0.0).powi(2) / 18.0,
    ];

    /// True depths, of damage and of what stands over the face, lie within what is told: three errors, and the mean
    /// square of the error is that of chance.
    #[test]
    fn depths_are_within_their_errors() {
        for (which, face) in (0_u64..).zip(FACES) {
            let (mut squares, mut count) = (0.0, 0.0_f64);
            for (i, truth) in (0_u64..).zip([-0.3, -0.1, 0.0, 0.05, 0.2, 0.35]) {
                for seed in 0..6 {
                    let (found, error) = depth(face, truth, 0.002, 1000 * which + 20 * i + seed);
                    assert!((found - truth).abs() < 4.0 * error, "face {which}: {truth}: {found} {error}");
                    squares += ((found - truth) / error).powi(2);
                    count += 1.0;
                }
            }
            let rms = (squares / count).sqrt();
            assert!(rms < 1.5, "face {which}: errors are {rms:.2} times what is told");
        }
    }

    /// On plain ground a hundredth of a millimetre is told; a wall inside takes no more than that from the outer foot.
    #[test]
    fn a_wall_at_one_foot_takes_nothing_from_the_other() {
        for (which, face) in (0_u64..).zip(FACES) {
            let (found, error) = depth(face, 0.2, 0.002, 7 + which);
            assert!(error < 0.02 && (found - 0.2).abs() < 0.03, "face {which}: {found} {error}");
        }
    }
}
