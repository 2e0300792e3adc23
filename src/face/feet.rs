//! The depth that damage has on all lines, told by its feet.
//!
//! Beside a foot the face runs on; inside, the mean over the lines lies below it by the common depth c times the shape p
//! that the lines differ by. Three things are known of the mean there:
//!
//! - The shape is nothing beyond its feet. Inside it is read with noise, which counts c² times; and a regression on a noisy column
//!   makes every depth too small, the more the less the lines differ. What a column's noise adds to its normal equation is therefore taken
//!   out of it again, so that c maximises the likelihood over all shapes (W. A. Fuller, Measurement Error Models, 1987, 1.3 and 3.1).
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

use crate::numeric::cholesky::{BegunFactor, Cholesky, Symmetric, dot};
use crate::numeric::grid::Grid;
use crate::scan::line::Stretch;

/// So far into the damage a foot is looked at, millimetres: further on the face may hold what its margin does not show.
const INSIDE: f64 = 2.0;
/// So far beside it.
pub(super) const OUTSIDE: f64 = 3.4;
/// The shape may begin this far beyond the foot at which it stands out of its noise, millimetres: one bin.
const BEGINS: f64 = 0.25;
/// The noise of the shape makes no more than this share of what its column says.
const MOST_NOISE: f64 = 0.8;
/// Strengths of the face's second derivative, 1/mm: each ten times the one before.
const STRENGTHS: [f64; 9] = [1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 1e-1, 1.0, 1e1, 1e2];
/// The noise hangs on the depth, which hangs on the noise: so many turns settle it.
const TURNS: usize = 5;
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
    let shape = series.within(Stretch { from: feet.from - BEGINS, to: feet.to + BEGINS });
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
    /// The shape, and nothing outside a stretch.
    fn within(&self, stretch: Stretch) -> Vec<f64> {
        let seen =
            |(j, s): (usize, &f64)| if stretch.holds(self.grid.at(j)) && s.is_finite() { *s } else { 0.0 };
        self.shape.iter().enumerate().map(seen).collect()
    }

    /// What one window tells of the depth, by each strength of the face; nothing where it cannot.
    fn foot(&self, shape: &[f64], window: Stretch) -> Vec<Guess> {
        let bins =
            |j: &usize| window.holds(self.grid.at(*j)) && self.mean.get(*j).is_some_and(|m| m.is_finite());
        let mut here: Vec<usize> = (0..self.grid.len).filter(bins).collect();
        let shape_at = |j: usize| shape.get(j).copied().unwrap_or(0.0);
        let damaged = here.iter().filter(|&&j| shape_at(j) != 0.0).count();
        if here.len() < FEWEST || damaged < EACH_SIDE || here.len() - damaged < EACH_SIDE {
            return Vec::new();
        }
        let start = here.first().map_or(0.0, |&j| self.grid.at(j));
        // The sound rows first: they scatter alike whatever the depth is, so that their part of the work is done once.
        if here.first().is_some_and(|&j| shape_at(j) != 0.0) {
            here.reverse();
        }
        let x: Vec<f64> = here.iter().map(|&j| self.grid.at(j)).collect();
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
        let rows: Vec<[f64; COLUMNS + 1]> = line
            .iter()
            .zip(&along)
            .zip(&data)
            .map(|((line, along), data)| [1.0, *line, *along, *data])
            .collect();
        STRENGTHS
            .iter()
            .filter_map(|strength| {
                let scatter = Scatter::new(curved.scaled(*strength), &spread)?;
                let mut found: Option<Turned> = None;
                for _ in 0..TURNS {
                    found = Some(least_squares(&scatter, *strength, &rows, found.as_ref())?);
                }
                found.map(|f| f.guess)
            })
            .collect()
    }
}

/// How the rows of a foot scatter: together by the curve, and each by its own variance and by the square of the depth times another.
struct Scatter<'a> {
    spread: &'a [[f64; 2]],
    /// The covariance where the depth is nothing.
    covariance: Symmetric,
    /// The columns of its factor up to the first row that hangs on the depth.
    begun: BegunFactor,
}

impl<'a> Scatter<'a> {
    fn new(mut covariance: Symmetric, spread: &'a [[f64; 2]]) -> Option<Self> {
        for (i, [own, _]) in spread.iter().enumerate() {
            covariance.add_diagonal(i, *own);
        }
        let sound = spread.iter().take_while(|[_, by]| *by == 0.0).count();
        let begun = covariance.begin_factor(sound)?;
        Some(Self { spread, covariance, begun })
    }

    fn factor(&self, depth: f64) -> Option<Cholesky> {
        let mut covariance = self.covariance.clone();
        for (i, [_, by]) in self.spread.iter().enumerate() {
            covariance.add_diagonal(i, depth * depth * by);
        }
        covariance.end_factor(self.begun.clone())
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

/// A depth, and what the next turn takes on from it.
struct Turned {
    guess: Guess,
    /// By how much the noise of the shape makes the normal equation of the depth too large.
    excess: f64,
    /// Logarithm of the determinant of what does not hang on the depth.
    determinant: f64,
}

/// Columns beside the data: a constant, a line, and the shape.
const COLUMNS: usize = 3;

/// The coefficient of the shape's column where that is read with noise, from the turn before, and the restricted likelihood (Patterson
/// and Thompson, 1971). A row holds the columns and then the data.
fn least_squares(
    scatter: &Scatter<'_>,
    strength: f64,
    rows: &[[f64; COLUMNS + 1]],
    before: Option<&Turned>,
) -> Option<Turned> {
    let factor = scatter.factor(before.map_or(0.0, |b| b.guess.depth))?;
    let whitened = factor.forward_each(rows.to_vec());
    let mut normal = Symmetric::zeros(COLUMNS);
    let mut right = vec![0.0; COLUMNS];
    for [columns @ .., data] in &whitened {
        normal.add_outer(1.0, columns);
        right.iter_mut().zip(columns).for_each(|(sum, c)| *sum += c * data);
    }
    normal.mirror();
    let uncorrected = normal.factor()?;
    // What the depth's own column has left once the others are taken out of it.
    let own = uncorrected.inverse().get(2, 2).recip();
    let excess = before.map_or(0.0, |b| b.excess).min(MOST_NOISE * own);
    normal.add_diagonal(2, -excess);
    let found = normal.factor()?.solve(right);
    let left: Vec<f64> = whitened.iter().map(|[columns @ .., data]| data - dot(columns, &found)).collect();
    let square = dot(&left, &left);
    let free = (left.len() - COLUMNS) as f64;
    // What one noisy reading of the shape adds to the equation is what it pulls the rest by.
    let pull = factor.backward(left);
    let excess_next = scatter.spread.iter().zip(&pull).map(|([_, by], p)| by * p * p).sum();
    let variance = own / (own - excess).powi(2);
    let determinant = before.map_or_else(|| factor.log_determinant(), |b| b.determinant);
    Some(Turned {
        guess: Guess {
            depth: *found.last()?,
            // What is left beyond chance is texture, or noise that was thought too small.
            error: (variance * (square / free).max(1.0)).sqrt(),
            likely: -0.5 * (square + determinant + uncorrected.log_determinant()),
            lies: LIES + LIES_IN_WALLS * strength / (strength + WALL),
        },
        excess: excess_next,
        determinant,
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
    fn depth(face: impl Fn(f64) -> f64, depth: f64, level: f64, shape_noise: f64, seed: u64) -> (f64, f64) {
        let grid = Grid { start: 200.0, step: STEP, len: 64 };
        let feet = Stretch { from: 205.0, to: 211.0 };
        let damage = |x: f64| {
            let u = (x - feet.from) / feet.length();
            if (0.0..=1.0).contains(&u) { (std::f64::consts::PI * u).sin().sqrt() } else { 0.0 }
        };
        let x = |j: usize| grid.at(j);
        let mean: Vec<f64> =
            (0..grid.len).map(|j| face(x(j)) - depth * damage(x(j)) + level * noise(seed, j)).collect();
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
                    let (found, error) = depth(face, truth, 0.002, 0.02, 1000 * which + 20 * i + seed);
                    assert!((found - truth).abs() < 4.0 * error, "face {which}: {truth}: {found} {error}");
                    squares += ((found - truth) / error).powi(2);
                    count += 1.0;
                }
            }
            let rms = (squares / count).sqrt();
            assert!(rms < 1.5, "face {which}: errors are {rms:.2} times what is told");
        }
    }

    /// The same where the lines differ by little, so that their shape is known badly.
    #[test]
    fn depths_of_a_shape_that_is_known_badly_are_within_their_errors() {
        for shape_noise in [0.05, 0.1, 0.15] {
            for (which, face) in (0_u64..).zip(FACES) {
                let (mut squares, mut count, mut sum) = (0.0, 0.0_f64, 0.0);
                for (i, truth) in (0_u64..).zip([0.0, 0.05, 0.11, 0.2, 0.35]) {
                    for seed in 0..12 {
                        let (found, error) =
                            depth(face, truth, 0.002, shape_noise, 1000 * which + 20 * i + seed);
                        squares += ((found - truth) / error).powi(2);
                        sum += (found - truth) / error;
                        count += 1.0;
                    }
                }
                let rms = (squares / count).sqrt();
                let mean = sum / count;
                assert!(
                    rms < 1.4,
                    "shape noise {shape_noise}, face {which}: errors are {rms:.2} times what is told"
                );
                assert!(
                    mean.abs() < 1.0,
                    "shape noise {shape_noise}, face {which}: off by {mean:.2} errors on the mean"
                );
            }
        }
    }

    /// On plain ground a hundredth of a millimetre is told; a wall inside takes no more than that from the outer foot.
    #[test]
    fn a_wall_at_one_foot_takes_nothing_from_the_other() {
        for (which, face) in (0_u64..).zip(FACES) {
            let (found, error) = depth(face, 0.2, 0.002, 0.02, 7 + which);
            assert!(error < 0.02 && (found - 0.2).abs() < 0.03, "face {which}: {found} {error}");
        }
    }
}
