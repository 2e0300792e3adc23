//! Corners of a curve through noisy readings: where two smooth branches meet at an angle.
//!
//! A window that reaches over a corner rounds it off; one narrow enough not to is mostly noise. So where the curve asks for narrow windows,
//! two parabolas that share their height are tried at every place, on a few widths: `a + b·u + c·u²` before the corner and
//! `d·u + e·u²` more behind it (a regression spline of one free knot: C. de Boor, A Practical Guide to Splines, 1978). It is a corner where
//! such a pair leaves residuals of the size of the noise, its slopes differ by more than five standard errors, and what it
//! says is known better than what the curve says. Around it the pair then takes the curve's place, and fades into it.
//!
//! Limits: of 0.01 mm of noise and readings 0.04 mm apart, corners of some 10° and more are found; what is less, or rounder than the noise
//! shows, is left to the curve. The bin in which a corner lies is left out.

use super::adaptive::Curve;
use super::cholesky::{Cholesky, Symmetric, dot};
use super::local::{Moments, SLOPE_OVER_HEIGHT};
use rayon::prelude::*;

/// Half-widths that are tried, millimetres, the widest first.
const HALVES: [f64; 3] = [3.2, 2.0, 1.25];
/// Where the curve's window is at least so wide, millimetres, there is no corner.
const NARROW: f64 = 1.3;
/// Slopes that differ by so many standard errors do not do so by chance: one in a million, over some ten thousand looks.
const BEYOND: f64 = 5.0;
/// From one place that is tried to the next, in bins: a corner misplaced by so much is still the best place far and wide.
const STEP: usize = 2;
/// Places that are tried in a bin beside the best.
const PLACES: usize = 4;
/// Bins on either side of a corner without which there is no branch.
const LEAST_BINS: usize = 12;
/// The residuals' squares may exceed their mean by so many of their standard deviations.
const WHITE: f64 = 2.5;
/// Residuals up to so many standard deviations beyond noise may be a corner that is a place off.
const PROMISES: f64 = 12.0;
/// Corners nearer to each other than this share of their width are one.
const ONE: f64 = 0.5;
/// Up to this share of its half-width a pair stands alone; beyond, it fades into the curve.
const ALONE: f64 = 0.5;
/// The standard error of a branch's slope at its end over that of its height there, times the half-width: what a parabola fitted to even
/// readings on one side has (the moments of a uniform weight: 8·√3/3).
const SLOPE_OVER_HEIGHT_AT_AN_END: f64 = 4.62;
/// Where a corner lies is not known either: one unknown more, which at the corner counts as much as the height does.
const PLACE_UNKNOWN: f64 = std::f64::consts::SQRT_2;

/// Two parabolas that meet.
#[derive(Debug, Clone)]
struct Pair {
    at: f64,
    half: f64,
    /// Height, slope and half the curvature before the corner; what is added to the last two behind it.
    coefficients: Vec<f64>,
    /// Covariance of these for noise of variance one.
    covariance: Symmetric,
    /// The sum of the bins' squared residuals, in noise, less their number, in standard deviations of that.
    excess: f64,
}

/// A pair at a place that is tried: few of those are looked at any closer.
struct Tried {
    at: f64,
    half: f64,
    coefficients: Vec<f64>,
    /// Of the normal equations of the coefficients.
    factor: Cholesky,
    excess: f64,
}

impl From<Tried> for Pair {
    fn from(Tried { at, half, coefficients, factor, excess }: Tried) -> Self {
        Self { at, half, coefficients, covariance: factor.inverse(), excess }
    }
}

impl Pair {
    fn row(&self, x: f64) -> [f64; 5] {
        let u = x - self.at;
        let behind = u.max(0.0);
        [1.0, u, u * u, behind, behind * behind]
    }

    fn value(&self, x: f64) -> f64 {
        dot(&self.row(x), &self.coefficients)
    }

    /// Standard error of its height were the place known, for a noise.
    fn error(&self, x: f64, sigma: f64) -> f64 {
        sigma * self.covariance.quadratic(&self.row(x)).sqrt()
    }

    /// By how many standard errors its slopes differ.
    fn turn(&self, sigma: f64) -> f64 {
        let difference = self.coefficients.get(3).copied().unwrap_or(0.0);
        difference.abs() / (sigma * self.covariance.get(3, 3).sqrt())
    }
}

/// Lays the corners that the readings show over a curve through them.
pub(super) fn laid_over(moments: &Moments, curve: &mut Curve, sigma: f64) {
    let grid = moments.grid;
    let mut kept: Vec<Pair> = Vec::new();
    let runs: Vec<_> = narrow_runs(&curve.half_width)
        .into_iter()
        .flat_map(|run| HALVES.map(|half| (run.clone(), half)))
        .collect();
    let found: Vec<Vec<Pair>> =
        runs.par_iter().map(|(narrow, half)| corners(moments, narrow, *half, sigma)).collect();
    for of_run in found.chunks(HALVES.len()) {
        let mut found: Vec<Pair> = of_run.concat();
        let error_at = |p: &Pair| curve.error.get(grid.nearest(p.at)).copied().unwrap_or(0.0);
        found.retain(|p| p.error(p.at, sigma) < error_at(p));
        // The widest first; of those of one width that of the least residuals.
        found.sort_by(|a, b| b.half.total_cmp(&a.half).then(a.excess.total_cmp(&b.excess)));
        for pair in found {
            if kept.iter().all(|k| (k.at - pair.at).abs() > ONE * k.half.min(pair.half)) {
                kept.push(pair);
            }
        }
    }
    for pair in &kept {
        // Another corner ends what this one says.
        let others = kept.iter().map(|k| (k.at - pair.at).abs()).filter(|d| *d > 0.0);
        let reach = others.fold(pair.half, f64::min);
        for i in grid.nearest(pair.at - reach)..=grid.nearest(pair.at + reach) {
            let share = (grid.at(i) - pair.at).abs() / reach;
            let weight = ((1.0 - share) / (1.0 - ALONE)).clamp(0.0, 1.0);
            let mix = |of: &mut Vec<f64>, with: f64| {
                if let Some(value) = of.get_mut(i).filter(|v| v.is_finite()) {
                    *value += weight * (with - *value);
                }
            };
            mix(&mut curve.value, pair.value(grid.at(i)));
            mix(&mut curve.error, PLACE_UNKNOWN * pair.error(grid.at(i), sigma));
            mix(&mut curve.half_width, pair.half * SLOPE_OVER_HEIGHT / SLOPE_OVER_HEIGHT_AT_AN_END);
        }
    }
}

/// Stretches of places whose windows are narrow.
fn narrow_runs(half_width: &[f64]) -> Vec<std::ops::Range<usize>> {
    let mut runs: Vec<std::ops::Range<usize>> = Vec::new();
    for (i, _) in half_width.iter().enumerate().filter(|(_, h)| **h < NARROW) {
        match runs.last_mut() {
            Some(run) if run.end == i => run.end = i + 1,
            _ => runs.push(i..i + 1),
        }
    }
    runs
}

/// The corners in a stretch by pairs of one half-width: those whose residuals are noise, and less than those of the places beside.
fn corners(moments: &Moments, within: &std::ops::Range<usize>, half: f64, sigma: f64) -> Vec<Pair> {
    let grid = moments.grid;
    let tried: Vec<f64> = within
        .clone()
        .step_by(STEP)
        .map(|i| pair(moments, i, grid.at(i), half, sigma).map_or(f64::INFINITY, |p| p.excess))
        .collect();
    let excess = |i: usize| tried.get(i).copied().unwrap_or(f64::INFINITY);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few dozen places")]
    let near = (ONE * half / grid.step) as usize / STEP;
    let least = |i: usize| {
        let here = excess(i);
        (i.saturating_sub(near)..i).all(|k| excess(k) > here) && (i + 1..=i + near).all(|k| excess(k) >= here)
    };
    let finer = |i: usize| {
        let bin = within.start + i * STEP;
        let bins = bin.saturating_sub(STEP)..=bin + STEP;
        let places = bins.flat_map(|i| (0..PLACES).map(move |n| (i, (n as f64 + 0.5) / PLACES as f64 - 0.5)));
        let pairs = places.filter_map(|(i, s)| pair(moments, i, grid.at(i) + s * grid.step, half, sigma));
        pairs.min_by(|a, b| a.excess.total_cmp(&b.excess)).map(Pair::from)
    };
    let shown = |p: &Pair| p.excess <= WHITE && p.turn(sigma) > BEYOND;
    // What is far from noise where the place is off by little is no corner.
    let promises = |i: &usize| excess(*i) <= PROMISES;
    (0..tried.len()).filter(|&i| least(i)).filter(promises).filter_map(finer).filter(shown).collect()
}

/// The pair of parabolas that meets at a place in a bin.
fn pair(moments: &Moments, bin: usize, at: f64, half: f64, sigma: f64) -> Option<Tried> {
    let grid = moments.grid;
    let (from, to) = (grid.nearest(at - half), grid.nearest(at + half) + 1);
    if bin < from + LEAST_BINS || to < bin + 1 + LEAST_BINS {
        return None;
    }
    let before = moments.sums(from..bin, at);
    let behind = moments.sums(bin + 1..to, at);
    let power = |n: usize| before.get(n).zip(behind.get(n)).map_or(0.0, |(a, b)| a + b);
    // Columns: powers 0 to 2 over all, 1 and 2 behind the corner.
    let mut normal = Symmetric::zeros(5);
    for i in 0..3 {
        for j in 0..=i {
            normal.set(i, j, power(i + j));
        }
        for (column, p) in [(3, 1), (4, 2)] {
            normal.set(column, i, behind.get(i + p).copied()?);
        }
    }
    let [_, _, s2, s3, s4, _, t1, t2] = behind;
    normal.set(3, 3, s2);
    normal.set(4, 3, s3);
    normal.set(4, 4, s4);
    let right = vec![power(5), power(6), power(7), t1, t2];
    let factor = normal.factor()?;
    let coefficients = factor.solve(right);
    let [a, b, c, d, e] = <[f64; 5]>::try_from(coefficients.clone()).ok()?;
    let (mut squares, mut count) = (0.0, 0.0);
    for i in (from..bin).chain(bin + 1..to) {
        let weight = moments.weight(i);
        if weight > 0.0 {
            let parabola = if i > bin { [a, b + d, c + e] } else { [a, b, c] };
            let left = moments.residual_of(i, at, parabola);
            squares += left * left / (weight * sigma * sigma);
            count += 1.0;
        }
    }
    let free = count - 5.0;
    (free > 0.0).then(|| Tried {
        at,
        half,
        coefficients,
        factor,
        excess: (squares - free) / (2.0 * free).sqrt(),
    })
}

#[cfg(test)]
mod tests {
    use super::super::adaptive::{self, tests::noise};
    use super::super::grid::Grid;
    use super::*;

    const GRID: Grid = Grid { start: 100.0, step: 0.05, len: 600 };
    const SIGMA: f64 = 0.01;

    fn readings(of: &dyn Fn(f64) -> f64, seed: usize) -> Moments {
        let mut moments = Moments::new(GRID);
        for i in 0..740 {
            let x = 100.0 + 0.04 * i as f64;
            moments.add(x, of(x) + SIGMA * noise(10_000 * seed + i), 1.0);
        }
        moments
    }

    fn kinked(degrees: f64) -> impl Fn(f64) -> f64 {
        move |x| 0.002 * (x - 105.0).powi(2) + degrees.to_radians().tan() * (x - 114.013).max(0.0)
    }

    /// The worst mean error within a millimetre of the corner over some trials, along the normal, and the rms over the stated error.
    fn worst(of: &dyn Fn(f64) -> f64, lay: bool) -> (f64, f64) {
        let near: Vec<usize> = (GRID.nearest(113.0)..=GRID.nearest(115.0)).collect();
        let trials = 12;
        let mut sums = vec![0.0; near.len()];
        let (mut squares, mut stated) = (0.0, 0.0);
        for seed in 0..trials {
            let moments = readings(of, seed);
            let mut curve = adaptive::curve(&moments, SIGMA);
            if lay {
                adaptive::keep_corners(&moments, &mut curve, SIGMA);
            }
            for (sum, &i) in sums.iter_mut().zip(&near) {
                let off = curve.value[i] - of(GRID.at(i));
                *sum += off / trials as f64;
                squares += off * off;
                stated += curve.error[i].powi(2);
            }
        }
        (sums.iter().map(|s| s.abs()).fold(0.0, f64::max), (squares / stated).sqrt())
    }

    /// A hollow of no radius: without corners a window rounds it by more than the noise.
    #[test]
    fn a_corner_of_twelve_degrees_and_more_is_kept() {
        for degrees in [12.0, 20.0, 35.0] {
            let (rounded, _) = worst(&kinked(degrees), false);
            let (kept, ratio) = worst(&kinked(degrees), true);
            println!(
                "{degrees}: {:.1} um, without {:.1} um, errors {ratio:.2} times what is told",
                1e3 * kept,
                1e3 * rounded
            );
            assert!(kept < 0.5 * rounded && kept < 0.004, "{degrees}: {kept}, without {rounded}");
            assert!(ratio < 1.2, "{degrees}: {ratio}");
        }
    }

    /// No corner is made of a smooth curve, nor of a hollow rounder than the noise hides: the curve is as it was.
    #[test]
    fn what_is_round_stays_round() {
        let dish = |x: f64| 0.5 * ((x - 114.0) / 6.0).sin();
        let round = |x: f64| {
            let u: f64 = x - 114.0;
            1.5 - (2.25 - u.clamp(-1.06, 1.06).powi(2)).sqrt() + (u.abs() - 1.06).max(0.0)
        };
        for of in [&dish as &dyn Fn(f64) -> f64, &round] {
            let (kept, _) = worst(of, true);
            let (before, _) = worst(of, false);
            println!("{:.1} um, without {:.1} um", 1e3 * kept, 1e3 * before);
            assert!(kept < 1.2 * before, "{kept}, without {before}");
        }
    }
}
