//! Stretches where the lines disagree, and what the sound face is there.
//!
//! With tilt, eccentricity and bend taken off, sound lines agree. Where they do not, each line is the face less its own
//! depth times a common shape: `y_k = f − g_k·p`. The differences between the lines tell the shape and how much deeper one
//! line is than another (the face falls out), but not how deep the least damaged line is. That is told by the feet of the
//! shape: the face runs on smoothly where the damage begins, so what its mean over the lines has of `p` there is the mean
//! depth ([`super::feet`]).
//!
//! Where the least depth is nothing within its error the upper lines are sound; where it is above, all lines are
//! damaged; where it is below, the upper lines stand over a face that the others show.
//!
//! Limits: damage that is the same on every line is a groove to this.

use super::cells::{CELL, Cell};
use super::feet::{self, Series};
use crate::numeric::cholesky::{Symmetric, dot};
use crate::numeric::grid::Grid;
use crate::numeric::order::{median, sigma_about_zero};
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
    /// Noise of a line's height in a bin.
    pub bin_noise: f64,
}

/// Width of a fine bin, millimetres: some three readings of a usual scan.
pub(super) const FINE: f64 = 0.25;
/// Readings of one line in a fine bin of a usual scan.
pub(super) const FINE_READINGS: f64 = 3.5;
/// So far beside a stretch the fine heights reach, millimetres.
pub(super) const BESIDE: f64 = feet::OUTSIDE + 0.6;
/// What the differences between lines say of a stretch.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct CommonShape {
    /// Which lines cross the whole stretch.
    pub lines: Vec<usize>,
    /// Of each of them, depth at the deepest place, but for the common part: adds up to nothing.
    pub relative: Vec<f64>,
    /// Depth common to all, if the feet tell it, with its standard error.
    pub common: Option<(f64, f64)>,
    /// Of each fine bin, whether the shape stands out of its noise there, or it lies between the feet of the deepest place.
    pub damaged: Vec<bool>,
    /// Share of the differences' squares that one shape explains.
    pub explained: f64,
    /// Standard error of each relative depth, by the noise.
    pub error: f64,
    /// The same by what the lines scatter about one shape: more, on a wall where places err.
    pub scatter: f64,
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
        let noise = fine.bin_noise;
        let first = products.quadratic(&direction);
        // Noise takes its share along every other direction.
        let chance = noise * noise * complete.len() as f64 * (lines.len() as f64 - 2.0);
        let explained = first / (first + (total - first - 1.3 * chance).max(0.0));
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
        let error = noise / squares.max(1e-9).sqrt();
        let free = complete.len() as f64 * (lines.len() as f64 - 2.0);
        let scatter = if free > 0.0 { ((total - first).max(0.0) / free).sqrt() } else { 0.0 };
        let scatter = error.max(scatter / squares.max(1e-9).sqrt());
        let mean: Vec<f64> = (0..fine.grid.len)
            .map(|j| lines.iter().map(|&k| fine.all[k][j]).sum::<f64>() / lines.len() as f64 + fine.face[j])
            .collect();
        let odd: Vec<f64> = (0..fine.grid.len).map(|j| scaled(along(&fine.odd, j))).collect();
        let even: Vec<f64> = (0..fine.grid.len).map(|j| scaled(along(&fine.even, j))).collect();
        let (feet, damaged) = support(&fine.grid, &shape, &odd, &even, stretch);
        let shape_noise = noise / deepest;
        let noise = noise / (lines.len() as f64).sqrt();
        let series = Series { grid: &fine.grid, mean: &mean, shape: &shape, noise, shape_noise };
        let common = feet::common_depth(&series, feet);
        Some(Self { lines, relative, common, damaged, explained, error, scatter })
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
        if length <= 0.0 || length.is_nan() {
            return None;
        }
        for x in &mut v {
            *x /= length;
        }
        v = products.times(&v);
    }
    let length = dot(&v, &v).sqrt();
    (length > 0.0).then(|| v.iter().map(|x| x / length).collect())
}

/// Where the shape stands out of its noise: the feet of the damage, and every bin between them or like them.
fn support(grid: &Grid, shape: &[f64], odd: &[f64], even: &[f64], stretch: Stretch) -> (Stretch, Vec<bool>) {
    // Noise of the shape, from the differences of its halves.
    let mut apart: Vec<f64> =
        odd.iter().zip(even).map(|(a, b)| (a - b) / 2.0).filter(|d| d.is_finite()).collect();
    let noise = sigma_about_zero(&mut apart).unwrap_or(0.1);
    let plain = |j: usize| {
        let near: Vec<f64> =
            shape.iter().skip(j.saturating_sub(1)).take(3).copied().filter(|v| v.is_finite()).collect();
        !near.is_empty()
            && near.iter().sum::<f64>() / near.len() as f64
                > LEAST_SHAPE + SHAPE_BEYOND * noise / (near.len() as f64).sqrt()
    };
    let deepest = (0..grid.len)
        .filter(|&j| (stretch.from..=stretch.to).contains(&grid.at(j)) && shape[j].is_finite())
        .max_by(|&a, &b| shape[a].total_cmp(&shape[b]))
        .unwrap_or(grid.len / 2);
    // Two bins in turn without it are beyond the foot.
    let quiet = |j: usize, k: Option<usize>| !plain(j) && k.is_none_or(|k| !plain(k));
    let from = (0..deepest).rev().find(|&j| quiet(j, j.checked_sub(1))).unwrap_or(0);
    let to = (deepest + 1..grid.len)
        .find(|&j| quiet(j, Some(j + 1).filter(|k| *k < grid.len)))
        .unwrap_or(grid.len - 1);
    let damaged = (0..grid.len).map(|j| (from..=to).contains(&j) || plain(j)).collect();
    (Stretch { from: grid.at(from), to: grid.at(to) }, damaged)
}

/// A mean of the shape over three bins this many standard errors above nothing is damage.
const SHAPE_BEYOND: f64 = 2.5;
/// And no less than this: what the terms of the turn leave between lines has no feet.
const LEAST_SHAPE: f64 = 0.02;
