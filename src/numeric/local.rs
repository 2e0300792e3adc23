//! Local quadratic regression from moments in narrow bins.
//!
//! Readings are gathered into bins as sums of their weights, powers of their place and products with their height, about
//! the bin's middle. A local fit then weighs whole bins by its kernel, and is still exact for every parabola, wherever in
//! its bin a reading lies: a wall loses nothing. Work grows with the bins and not with the readings. Kernel: the
//! biweight. Source: J. Fan and I. Gijbels, Local Polynomial Modelling and Its Applications (1996), 3.1; the second order
//! keeps peaks and ends where a Gaussian lowers them (ISO 16610-28).

use super::grid::Grid;

/// What the readings of one bin add up to, about its middle: weights times powers 0 to 4 of the place, then heights times
/// weights times powers 0 to 2.
type Sums = [f64; 8];

/// Readings gathered in bins whose middles are the places of a grid.
#[derive(Debug, Clone, PartialEq)]
pub struct Moments {
    /// The bins' middles.
    pub grid: Grid,
    bins: Vec<Sums>,
}

/// A local parabola at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LocalFit {
    /// Height at the place.
    pub value: f64,
    /// Slope there.
    pub slope: f64,
    /// Variance of the height, for readings of weight one and variance one.
    pub variance: f64,
}

/// The standard error of a local parabola's slope over that of its height, times the half-width: √(∫u²w²/m2²) over √(∫w²(m4 − m2·u²)²/(m0·m4 − m2²)²)
/// with the biweight weights w = (1 − u²)² over [−1, 1] and their moments m0, m2, m4, which is √(3.1818/1.4074).
pub const SLOPE_OVER_HEIGHT: f64 = 1.503_6;

/// Fewer readings than this in a window carry no parabola that could be trusted: three unknowns, and as many to spare.
const LEAST_READINGS: f64 = 6.0;
/// A window whose parabola is less certain than a single reading is looked through a gap.
const MOST_VARIANCE: f64 = 1.0;

impl Moments {
    /// Empty bins.
    #[must_use]
    pub fn new(grid: Grid) -> Self {
        Self { grid, bins: vec![[0.0; 8]; grid.len] }
    }

    /// Adds a reading of height `y` and a weight at `x`, which must lie on the grid.
    pub fn add(&mut self, x: f64, y: f64, weight: f64) {
        let i = self.grid.nearest(x);
        let u = x - self.grid.at(i);
        if let Some(bin) = self.bins.get_mut(i) {
            let (u2, wy) = (u * u, weight * y);
            let more =
                [weight, u * weight, u2 * weight, u2 * u * weight, u2 * u2 * weight, wy, wy * u, wy * u2];
            bin.iter_mut().zip(&more).for_each(|(s, m)| *s += m);
        }
    }

    /// The weight in the bin of an index.
    #[must_use]
    pub fn weight(&self, i: usize) -> f64 {
        self.bins.get(i).map_or(0.0, |b| b[0])
    }

    /// The sum of weight times what the readings of a bin leave of a straight line through its middle.
    #[must_use]
    pub fn residual(&self, i: usize, value: f64, slope: f64) -> f64 {
        self.bins.get(i).map_or(0.0, |b| b[5] - value * b[0] - slope * b[1])
    }

    /// What the bins of a range add up to, seen from a place: weights times powers 0 to 4 of the distance, then heights times
    /// weights times powers 0 to 2.
    #[must_use]
    pub(super) fn sums(&self, bins: std::ops::Range<usize>, place: f64) -> Sums {
        let mut sums = [0.0; 8];
        for (i, bin) in bins.clone().zip(self.bins.get(bins).unwrap_or(&[])) {
            add_shifted(&mut sums, bin, self.grid.at(i) - place, 1.0);
        }
        sums
    }

    /// The sum of weight times what the readings of a bin leave of a parabola in the distance from a place.
    #[must_use]
    pub(super) fn residual_of(&self, i: usize, place: f64, [a, b, c]: [f64; 3]) -> f64 {
        self.bins.get(i).map_or(0.0, |&[s0, s1, s2, _, _, t0, _, _]| {
            let d = self.grid.at(i) - place;
            t0 - (s0 * a + (s1 + d * s0) * b + (s2 + 2.0 * d * s1 + d * d * s0) * c)
        })
    }

    /// The same readings in bins twice as wide.
    #[must_use]
    pub fn coarser(&self) -> Self {
        let step = self.grid.step * 2.0;
        let grid =
            Grid { start: self.grid.start + self.grid.step / 2.0, step, len: self.grid.len.div_ceil(2) };
        let half = self.grid.step / 2.0;
        let bins = self.bins.chunks(2).map(|pair| {
            let mut sums = [0.0; 8];
            for (bin, d) in pair.iter().zip([-half, half]) {
                add_shifted(&mut sums, bin, d, 1.0);
            }
            sums
        });
        Self { grid, bins: bins.collect() }
    }

    /// The local parabola over `half_width` about a place; `None` where too few readings carry one.
    #[must_use]
    pub fn fit(&self, place: f64, half_width: f64) -> Option<LocalFit> {
        let index = |x: f64| ((x - self.grid.start) / self.grid.step).max(0.0);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "at least zero, and a cast saturates"
        )]
        let (from, to) = (index(place - half_width).ceil() as usize, index(place + half_width) as usize + 1);
        let (from, to) = (from.min(self.bins.len()), to.min(self.bins.len()));
        let first = self.grid.at(from) - place;
        let (mut sums, mut squares, mut count) = ([0.0; 8], [0.0; 5], 0.0);
        for (n, bin) in self.bins.get(from..to)?.iter().enumerate() {
            let d = first + n as f64 * self.grid.step;
            let t = d / half_width;
            let k = (1.0 - t * t).max(0.0);
            let k = k * k;
            if bin[0] == 0.0 || k == 0.0 {
                continue;
            }
            add_shifted(&mut sums, bin, d, k);
            count += bin[0];
            // Within a bin the place hardly matters to the variance.
            let mut power = k * k * bin[0];
            for s in &mut squares {
                *s += power;
                power *= d;
            }
        }
        if count < LEAST_READINGS {
            return None;
        }
        solve(&sums, &squares, half_width).filter(|fit| fit.variance < MOST_VARIANCE)
    }
}

/// Adds a bin's sums, seen from a place `d` before its middle, times a factor.
fn add_shifted(sums: &mut Sums, bin: &Sums, d: f64, factor: f64) {
    // Written out: the window of every place of the face runs through here.
    let [s0, s1, s2, s3, s4, t0, t1, t2] = *bin;
    let (s0, s1, s2, s3, s4) = (s0 * factor, s1 * factor, s2 * factor, s3 * factor, s4 * factor);
    let (t0, t1, t2) = (t0 * factor, t1 * factor, t2 * factor);
    let d2 = d * d;
    sums[0] += s0;
    sums[1] += s1 + d * s0;
    sums[2] += s2 + 2.0 * d * s1 + d2 * s0;
    sums[3] += s3 + 3.0 * d * s2 + 3.0 * d2 * s1 + d2 * d * s0;
    sums[4] += s4 + 4.0 * d * s3 + 6.0 * d2 * s2 + 4.0 * d2 * d * s1 + d2 * d2 * s0;
    sums[5] += t0;
    sums[6] += t1 + d * t0;
    sums[7] += t2 + 2.0 * d * t1 + d2 * t0;
}

/// The parabola from its normal equations, in units of the half-width so that they are well scaled.
fn solve(sums: &Sums, squares: &[f64; 5], h: f64) -> Option<LocalFit> {
    let (h2, h3, h4) = (h * h, h * h * h, h * h * h * h);
    let [a0, a1, a2, a3, a4] = [sums[0], sums[1] / h, sums[2] / h2, sums[3] / h3, sums[4] / h4];
    // The first two rows of the adjugate of [[a0,a1,a2],[a1,a2,a3],[a2,a3,a4]].
    let value = [a2 * a4 - a3 * a3, a2 * a3 - a1 * a4, a1 * a3 - a2 * a2];
    let slope = [value[1], a0 * a4 - a2 * a2, a1 * a2 - a0 * a3];
    let det = a0 * value[0] + a1 * value[1] + a2 * value[2];
    // A determinant this small against its terms is rounding: readings at fewer than three places.
    let sound = det > 1e-9 * a0 * a0 * a0;
    if !sound {
        return None;
    }
    let right = [sums[5], sums[6] / h, sums[7] / h2];
    let times = |row: &[f64; 3]| row.iter().zip(right).map(|(a, b)| a * b).sum::<f64>() / det;
    let [b0, b1, b2, b3, b4] =
        [squares[0], squares[1] / h, squares[2] / h2, squares[3] / h3, squares[4] / h4];
    let [p, q, r] = value;
    let variance = p * p * b0 + q * q * b2 + r * r * b4 + 2.0 * (p * q * b1 + p * r * b2 + q * r * b3);
    Some(LocalFit { value: times(&value), slope: times(&slope) / h, variance: variance / (det * det) })
}

#[cfg(test)]
mod tests {
    use super::*;

    const GRID: Grid = Grid { start: 50.0, step: 0.05, len: 400 };

    fn gathered(of: impl Fn(f64) -> f64) -> Moments {
        let mut moments = Moments::new(GRID);
        for i in 0..2000_i32 {
            // Places that lie anywhere in their bins.
            let x = 50.0 + 19.9 * (f64::from(i) * 0.618_033_988_75).fract();
            moments.add(x, of(x), 1.0 + f64::from(i % 3));
        }
        moments
    }

    /// A parabola passes unchanged, everywhere, ends included. Source: ISO 16610-28, Fan and Gijbels 1996.
    #[test]
    fn a_parabola_passes_unchanged_to_the_ends_and_from_coarser_bins() {
        let parabola = |x: f64| 3.0 - 0.4 * (x - 60.0) + 0.07 * (x - 60.0) * (x - 60.0);
        let fine = gathered(parabola);
        for moments in [fine.clone(), fine.coarser(), fine.coarser().coarser()] {
            for (i, h) in [(0, 2.0), (3, 1.0), (50, 0.8), (moments.grid.len - 3, 3.0)] {
                let fit = moments.fit(moments.grid.at(i), h).unwrap();
                let x = moments.grid.at(i);
                assert!(
                    (fit.value - parabola(x)).abs() < 1e-9,
                    "at {x}: {} and not {}",
                    fit.value,
                    parabola(x)
                );
                assert!((fit.slope - (-0.4 + 0.14 * (x - 60.0))).abs() < 1e-8);
            }
        }
    }

    /// The value is linear in the heights; its variance is the sum of the squares of what each unit height adds.
    #[test]
    fn the_variance_is_that_of_the_heights_own_weights() {
        let places: Vec<f64> = (0..60_i32).map(|i| 55.0 + 0.05 * f64::from(i)).collect();
        let of = |unit: Option<usize>| {
            let mut moments = Moments::new(GRID);
            for (i, &x) in places.iter().enumerate() {
                moments.add(x, f64::from(u8::from(unit == Some(i))), 1.0);
            }
            moments.fit(56.5, 1.2).unwrap()
        };
        let squares: f64 = (0..places.len()).map(|i| of(Some(i)).value.powi(2)).sum();
        assert!((squares - of(None).variance).abs() < 1e-6 * squares, "{squares} and {}", of(None).variance);
    }

    #[test]
    fn nothing_is_fitted_through_a_gap() {
        let mut moments = Moments::new(GRID);
        for i in 0..40_i32 {
            moments.add(50.0 + 0.05 * f64::from(i), 1.0, 1.0);
        }
        assert!(moments.fit(55.0, 2.0).is_none());
        assert!(moments.fit(53.9, 2.0).is_none());
    }
}
