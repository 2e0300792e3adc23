//! The filter that keeps real edges: at every place the widest Gaussian fit that the points do not contradict.
//!
//! Where nothing contradicts the straight line under the filter's weights, the result is that of the Gaussian filter, to
//! the bit. Where something does, a real edge would be rounded. Then parabolas are tried, for dents and fillets, and
//! lines from either side alone, for steps and corners (split linear fits: `McDonald` and Owen 1986), each with the whole
//! cut-off, half of it and a quarter. Of those that nothing contradicts the one that leaves the least noise is taken; if
//! there is none, the point stays as it was measured.
//!
//! A fit is contradicted in two ways: its residuals are larger than noise makes them, or the same fit with half the width
//! gives a height farther off than that one's noise. Choosing the widest window that agrees with the narrower ones is the
//! method of Lepski (1991) and of Goldenshluger and Nemirovski (1997).
//!
//! Limit: an edge that rounding would move by less than the noise of a few points is not seen, and is rounded by that.

use super::local::{Fit, Local, Order, Side};
use crate::geometry::Point;

/// The mean of n squares of normal noise exceeds its own by `2·√(t/n) + 2·t/n` with a chance below e^(−t) (Laurent and
/// Massart 2000): at 7, one in a thousand.
const CHANCE: f64 = 7.0;

/// A height farther than this many standard deviations of the narrower fit from that fit is contradicted by it. Half the
/// width has about twice the variance, so that noise alone parts the two by more in one place of twenty; there a
/// parabola is taken that leaves hardly more noise.
const APART: f64 = 1.35;

/// The share of the squared bias that counts as risk. The bias shown is itself uncertain by the narrower fit's noise:
/// counted in full, the fits would be chosen by noise. Set by the depth of furrows in known wheels.
const SHOWN: f64 = 0.1;

/// The windows that are tried, as shares of the cut-off.
const SHARES: [f64; 3] = [1.0, 0.5, 0.25];

/// A place after the filter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Filtered {
    /// The height.
    pub z: f64,
    /// The height that the plain Gaussian filter gives.
    pub plain: f64,
    /// Variance of the height as a share of that of one point.
    pub variance: f64,
}

/// Filters points in rising order of x; `sigma` is the noise of one point, above zero.
pub(super) fn filter(points: &[Point], cutoff: f64, sigma: f64) -> Vec<Filtered> {
    let row = |order| SHARES.map(|share| Local::new(points, share * cutoff, order));
    let fits = Fits { points, sigma, line: row(Order::Line), parabola: row(Order::Parabola) };
    (0..points.len()).filter_map(|i| fits.at(i)).collect()
}

/// Every fit that may be asked for.
struct Fits<'a> {
    points: &'a [Point],
    sigma: f64,
    line: [Local<'a>; 3],
    parabola: [Local<'a>; 3],
}

impl<'a> Fits<'a> {
    fn at(&self, i: usize) -> Option<Filtered> {
        let raw = self.points.get(i)?.z;
        let plain = self.line.first().and_then(|l| l.fit(i, Side::Both, |_| 1.0));
        let agreed = plain.filter(|f| self.risk(&self.line, 0, i, Side::Both, f).is_some());
        let chosen = agreed.or_else(|| self.best(i));
        let (z, variance) = chosen.map_or((raw, 1.0), |f| (f.z, f.variance));
        Some(Filtered { z, plain: plain.map_or(raw, |f| f.z), variance })
    }

    /// Of the fits that nothing contradicts the one with the least risk; none if the point itself has less.
    fn best(&self, i: usize) -> Option<Fit> {
        let kinds = [(&self.parabola, Side::Both), (&self.line, Side::Inner), (&self.line, Side::Outer)];
        let all = kinds.into_iter().flat_map(|(row, side)| (0..SHARES.len()).map(move |k| (row, side, k)));
        let sound = all.filter_map(|(row, side, k)| {
            let fit = row.get(k)?.fit(i, side, |_| 1.0)?;
            let risk = self.risk(row, k, i, side, &fit)?;
            (risk < 1.0).then_some((risk, fit))
        });
        sound.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, fit)| fit)
    }

    /// The squared error to expect of a fit, as a share of the noise's square: its variance, and its bias as far as the
    /// same fit with half the width shows it. None if the residuals or that fit contradict it.
    fn risk(&self, row: &[Local<'a>; 3], k: usize, i: usize, side: Side, fit: &Fit) -> Option<f64> {
        let t = CHANCE / fit.effective;
        if fit.misfit > self.sigma * self.sigma * (fit.free + 2.0 * t.sqrt() + 2.0 * t) {
            return None;
        }
        let narrower = row.get(k + 1).and_then(|l| l.fit(i, side, |_| 1.0)).map(|f| (f.z, f.variance));
        let (z, variance) = narrower.or_else(|| self.points.get(i).map(|p| (p.z, 1.0)))?;
        let apart = ((fit.z - z) / self.sigma).powi(2);
        let by_noise = (variance - fit.variance).max(0.0);
        (apart <= APART * APART * variance).then(|| fit.variance + SHOWN * (apart - by_noise).max(0.0))
    }
}
