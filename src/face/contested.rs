//! Stretches where the lines disagree, and what the sound face is there.
//!
//! With tilt, eccentricity and bend taken off, sound lines agree. Where they do not, each line is the face less its own
//! depth times a common shape: `y_k = f − g_k·p`. The differences between the lines tell the shape and how much deeper one
//! line is than another (the face falls out), but not how deep the least damaged line is. That is told by the feet of the
//! shape: the face runs on smoothly where the damage begins, so what its mean over the lines has of `p` there is the mean
//! depth. Noise in `p` would make every depth too small; the shape from odd readings and that from even ones serve as
//! each other's instrument (A. Wald, 1940; O. Reiersøl, 1941).
//!
//! Where the least depth is nothing within its error the upper lines are sound; where it is above, all lines are
//! damaged; where it is below, a line stands over a face that the others show.
//!
//! Limits: damage that is the same on every line is a groove to this; a foot at a corner of the face tells nothing.

use super::cells::{CELL, Cell};
use crate::numeric::cholesky::{Symmetric, dot};
use crate::numeric::grid::Grid;
use crate::numeric::order::median;
use crate::scan::line::Stretch;

/// What the lines are over the radius, free of the terms: one row a line.
pub(super) struct Levels {
    /// Middles of the bins.
    pub grid: Grid,
    /// Of each line: height over the face at each bin, not a number where there is none.
    pub height: Vec<Vec<f64>>,
    /// Standard deviation of each height.
    pub sigma: Vec<Vec<f64>>,
    /// Slope of the face at each bin.
    pub slope: Vec<f64>,
}

/// A disagreement this many standard deviations beyond is none of noise: one in a million, over some ten thousand looks.
const BEYOND: f64 = 5.0;
/// Lines that lie nearer than this always agree, millimetres: what no term of the turn catches.
const AGREE: f64 = 0.004;
/// On a slope lines agree within this along the radius, millimetres.
const AGREE_ALONG: f64 = 0.02;
/// Over so many bins in turn a faint disagreement is looked for.
const WINDOWS: [usize; 3] = [1, 3, 7];
/// Disagreements nearer than this to each other are one, millimetres.
const JOIN: f64 = 1.5;

impl Levels {
    /// The cells' levels, the sweeps of a line together; `left` is what each cell leaves of the terms.
    pub fn new(grid: &Grid, cells: &[Cell], left: &[f64], lines: usize) -> Self {
        let bins = cells.last().map_or(0, |c| c.bin + 1);
        let mut sums = vec![vec![(0.0, 0.0); bins]; lines];
        let mut slopes = vec![(0.0, 0.0); bins];
        for (cell, left) in cells.iter().zip(left) {
            let weight = cell.sigma.powi(-2);
            if let Some(sum) = sums.get_mut(cell.line).and_then(|row| row.get_mut(cell.bin)) {
                *sum = (sum.0 + weight * left, sum.1 + weight);
            }
            if let Some(sum) = slopes.get_mut(cell.bin) {
                *sum = (sum.0 + cell.slope.abs(), sum.1 + 1.0);
            }
        }
        let ratio = |(a, b): &(f64, f64)| if *b > 0.0 { a / b } else { f64::NAN };
        let height = sums.iter().map(|row| row.iter().map(ratio).collect()).collect();
        let sigma = sums.iter().map(|row| row.iter().map(|s| s.1.sqrt().recip()).collect()).collect();
        let slope = slopes.iter().map(|s| if s.1 > 0.0 { s.0 / s.1 } else { 0.0 }).collect();
        Self { grid: Grid { start: grid.start + CELL / 2.0, step: CELL, len: bins }, height, sigma, slope }
    }

    /// Stretches where a line departs from the middle of the others.
    pub fn disagreements(&self) -> Vec<Stretch> {
        let bins = self.grid.len;
        let mut flagged = vec![false; bins];
        for line in 0..self.height.len() {
            let apart: Vec<f64> = (0..bins).map(|b| self.apart(line, b)).collect();
            for window in WINDOWS {
                let half = window / 2;
                for b in half..bins.saturating_sub(half) {
                    let here = b - half..b + half + 1;
                    let mean = here.clone().map(|i| apart[i]).sum::<f64>() / window as f64;
                    let sigma = self.sigma[line][b] * (1.5 / window as f64).sqrt();
                    let allowed = BEYOND * sigma + AGREE + AGREE_ALONG * self.slope[b];
                    if mean.abs() > allowed {
                        // Of a wide window only the bins that lie off themselves.
                        here.filter(|&i| apart[i].abs() > 0.4 * mean.abs()).for_each(|i| flagged[i] = true);
                    }
                }
            }
        }
        self.stretches(&flagged)
    }

    /// How far a line lies from the median of the others in a bin; not a number where there is no other.
    fn apart(&self, line: usize, bin: usize) -> f64 {
        let mut others: Vec<f64> = (0..self.height.len())
            .filter(|&k| k != line)
            .map(|k| self.height[k][bin])
            .filter(|z| z.is_finite())
            .collect();
        self.height[line][bin] - median(&mut others).unwrap_or(f64::NAN)
    }

    /// Flagged bins as stretches, a bin wider on both sides.
    fn stretches(&self, flagged: &[bool]) -> Vec<Stretch> {
        let mut out: Vec<Stretch> = Vec::new();
        for (b, _) in flagged.iter().enumerate().filter(|(_, f)| **f) {
            let here = Stretch { from: self.grid.at(b) - CELL, to: self.grid.at(b) + CELL };
            match out.last_mut() {
                Some(last) if here.from - last.to <= JOIN => last.to = here.to,
                _ => out.push(here),
            }
        }
        out
    }
}

/// Fine heights of all lines over a stretch and beside it: rows are lines, columns fine bins.
#[derive(Debug, Clone)]
pub(super) struct Fine {
    /// Middles of the fine bins.
    pub grid: Grid,
    /// Height over the present face from all readings; not a number where there are none.
    pub all: Vec<Vec<f64>>,
    /// The same from every second reading.
    pub odd: Vec<Vec<f64>>,
    /// The same from the others.
    pub even: Vec<Vec<f64>>,
    /// The present face at each bin.
    pub face: Vec<f64>,
    /// Noise of one reading.
    pub noise: f64,
}

/// Width of a fine bin, millimetres: some three readings of a usual scan.
pub(super) const FINE: f64 = 0.25;
/// The feet are looked at over these half-widths, millimetres: the narrowest fits best, the widest is the least noisy.
const FOOT_WIDTHS: [f64; 3] = [1.6, 2.4, 3.2];
/// So far beside a stretch the fine heights reach, millimetres.
pub(super) const BESIDE: f64 = 4.0;
/// A foot that fits worse than this (mean square in units of the noise) lies at a corner of the face.
const FOOT_FITS: f64 = 2.5;

/// What the differences between lines say of a stretch.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct CommonShape {
    /// Which lines cross the whole stretch.
    pub lines: Vec<usize>,
    /// Of each of them, depth at the deepest place, but for the common part: adds up to nothing.
    pub relative: Vec<f64>,
    /// Depth common to all, if the feet tell it, with its standard error.
    pub common: Option<(f64, f64)>,
    /// Share of the differences' squares that one shape explains.
    pub explained: f64,
    /// Standard error of each relative depth.
    pub error: f64,
    /// The shape, one at its deepest place, over the fine bins.
    pub shape: Vec<f64>,
}

impl CommonShape {
    /// The common shape of the lines' differences over a stretch; `None` where fewer than two lines cross it.
    pub fn of(fine: &Fine, stretch: Stretch) -> Option<Self> {
        let inside: Vec<usize> =
            (0..fine.grid.len).filter(|&j| (stretch.from..=stretch.to).contains(&fine.grid.at(j))).collect();
        // A line crosses the stretch if it has readings in nearly all of it.
        let present = |k: usize| inside.iter().filter(|&&j| fine.all[k][j].is_finite()).count();
        let lines: Vec<usize> =
            (0..fine.all.len()).filter(|&k| present(k) * 10 >= inside.len() * 8).collect();
        if lines.len() < 2 || inside.len() < 3 {
            return None;
        }
        let complete: Vec<usize> =
            inside.iter().copied().filter(|&j| lines.iter().all(|&k| fine.all[k][j].is_finite())).collect();
        let differences = |j: usize| -> Vec<f64> {
            let mean = lines.iter().map(|&k| fine.all[k][j]).sum::<f64>() / lines.len() as f64;
            lines.iter().map(|&k| fine.all[k][j] - mean).collect()
        };
        let mut products = Symmetric::zeros(lines.len());
        let mut total = 0.0;
        for &j in &complete {
            let d = differences(j);
            total += dot(&d, &d);
            products.add_outer(1.0, &d);
        }
        products.mirror();
        let direction = first_direction(&products)?;
        let explained = products.quadratic(&direction) / total;
        let along =
            |of: &[Vec<f64>], j: usize| lines.iter().zip(&direction).map(|(&k, u)| u * of[k][j]).sum::<f64>();
        let raw: Vec<f64> = (0..fine.grid.len).map(|j| along(&fine.all, j)).collect();
        // Deepest place: a high quantile, so that noise does not set it.
        let inner: Vec<f64> = complete.iter().map(|&j| raw[j]).collect();
        let sign = inner.iter().sum::<f64>().signum();
        let mut heights: Vec<f64> = inner.iter().map(|v| v * sign).collect();
        let deepest = crate::numeric::order::quantile(&mut heights, 0.9).filter(|d| *d > 0.0)?;
        let size = sign * deepest;
        let scaled = |v: f64| v / size;
        let shape: Vec<f64> = raw.iter().map(|&v| scaled(v)).collect();
        // y_k = mean + u_k·raw = f − g_k·shape, so the relative depth is −u_k·size.
        let relative: Vec<f64> = direction.iter().map(|u| -u * size).collect();
        let squares: f64 = complete.iter().map(|&j| shape[j] * shape[j]).sum();
        let noise = fine.noise / (FINE / 0.07).sqrt();
        let error = noise / squares.max(1e-9).sqrt();
        let mean: Vec<f64> = (0..fine.grid.len)
            .map(|j| lines.iter().map(|&k| fine.all[k][j]).sum::<f64>() / lines.len() as f64 + fine.face[j])
            .collect();
        let odd: Vec<f64> = (0..fine.grid.len).map(|j| scaled(along(&fine.odd, j))).collect();
        let even: Vec<f64> = (0..fine.grid.len).map(|j| scaled(along(&fine.even, j))).collect();
        let foot =
            |at: f64| best_foot(&fine.grid, &mean, &odd, &even, at, noise / (lines.len() as f64).sqrt());
        let common = combine(foot(stretch.from), foot(stretch.to));
        Some(Self { lines, relative, common, explained, error, shape })
    }

    /// Depth of the least damaged line by the feet, with its standard error.
    pub fn least(&self) -> Option<(f64, f64)> {
        let least = self.relative.iter().copied().fold(f64::INFINITY, f64::min);
        self.common.map(|(c, error)| (c + least, error.hypot(self.error)))
    }
}

/// The direction along which a matrix of products is longest, by iteration.
fn first_direction(products: &Symmetric) -> Option<Vec<f64>> {
    let n = products.size();
    let longest = (0..n).max_by(|&a, &b| products.get(a, a).total_cmp(&products.get(b, b)))?;
    let mut v: Vec<f64> = (0..n).map(|i| products.get(i, longest)).collect();
    for _ in 0..50 {
        let length = dot(&v, &v).sqrt();
        if !(length > 0.0) {
            return None;
        }
        v.iter_mut().for_each(|x| *x /= length);
        v = products.times(&v);
    }
    let length = dot(&v, &v).sqrt();
    (length > 0.0).then(|| v.iter().map(|x| x / length).collect())
}

/// The common depth as one foot tells it: over the widest window that still fits, the least noisy.
fn best_foot(
    grid: &Grid,
    mean: &[f64],
    odd: &[f64],
    even: &[f64],
    at: f64,
    noise: f64,
) -> Option<(f64, f64)> {
    FOOT_WIDTHS
        .into_iter()
        .filter_map(|w| foot(grid, mean, odd, even, Stretch { from: at - w, to: at + w }, noise))
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

/// The mean over the lines as a parabola less a common depth times the shape: the depth and its standard error. `None`
/// where it does not fit.
fn foot(
    grid: &Grid,
    mean: &[f64],
    odd: &[f64],
    even: &[f64],
    window: Stretch,
    noise: f64,
) -> Option<(f64, f64)> {
    let middle = f64::midpoint(window.from, window.to);
    let half = (window.to - window.from) / 2.0;
    let here: Vec<usize> = (0..grid.len)
        .filter(|&j| (window.from..=window.to).contains(&grid.at(j)))
        .filter(|&j| mean[j].is_finite() && odd[j].is_finite() && even[j].is_finite())
        .collect();
    if here.len() < 8 {
        return None;
    }
    let basis: Vec<[f64; 3]> = here
        .iter()
        .map(|&j| {
            let t = (grid.at(j) - middle) / half;
            [1.0, t, t * t]
        })
        .collect();
    let of =
        |values: &[f64]| -> Option<Vec<f64>> { without(&basis, here.iter().map(|&j| values[j]).collect()) };
    let (y, p, q) = (of(mean)?, of(odd)?, of(even)?);
    let both = dot(&p, &q);
    // The two halves share no noise: where they do not agree there is no shape at this foot.
    if !(both > 0.3 * (dot(&p, &p) * dot(&q, &q)).sqrt()) {
        return None;
    }
    let depth = -0.5 * (dot(&p, &y) + dot(&q, &y)) / both;
    let shape: Vec<f64> = p.iter().zip(&q).map(|(a, b)| f64::midpoint(*a, *b)).collect();
    let left: Vec<f64> = y.iter().zip(&shape).map(|(y, s)| y + depth * s).collect();
    let free = here.len() as f64 - 4.0;
    // The shape's own noise comes in with the depth.
    let shape_noise: f64 =
        p.iter().zip(&q).map(|(a, b)| (a - b) * (a - b)).sum::<f64>() / (4.0 * here.len() as f64);
    let expected = noise * noise + depth * depth * shape_noise;
    let misfit = dot(&left, &left) / free / expected;
    let error = (expected.max(dot(&left, &left) / free) / both).sqrt();
    (misfit < FOOT_FITS).then_some((depth, error))
}

/// What a parabola leaves of values.
fn without(basis: &[[f64; 3]], mut values: Vec<f64>) -> Option<Vec<f64>> {
    let mut normal = Symmetric::zeros(3);
    let mut right = vec![0.0; 3];
    for (row, y) in basis.iter().zip(&values) {
        normal.add_outer(1.0, row);
        right.iter_mut().zip(row).for_each(|(r, b)| *r += b * y);
    }
    normal.mirror();
    let terms = normal.factor()?.solve(right);
    values.iter_mut().zip(basis).for_each(|(y, row)| *y -= dot(&terms, row));
    Some(values)
}

/// Two feet together, weighted by what each is worth; one that contradicts the other widens the error.
fn combine(a: Option<(f64, f64)>, b: Option<(f64, f64)>) -> Option<(f64, f64)> {
    match (a, b) {
        (Some((x, s)), Some((y, t))) => {
            let (v, w) = (s.powi(-2), t.powi(-2));
            let mean = (v * x + w * y) / (v + w);
            let error = (v + w).recip().sqrt();
            let apart = (x - y).abs() / (s * s + t * t).sqrt();
            Some((mean, error * (apart / 2.0).max(1.0)))
        }
        (one, other) => one.or(other),
    }
}
