//! The noise of single readings, from neighbours in time.
//!
//! How far a reading lies off the straight line between the one before and the one after it holds no shape of the face
//! to speak of, and of its noise a known share: the difference-based variance of Gasser, Sroka and Jennen-Steinmetz
//! (Biometrika 73, 1986), with order statistics for the mean square so that wild readings have no say. The median stands
//! up to less than half of them. Over a window between spokes more than half may be wild, so a lower quantile
//! speaks too and the smaller of both counts. From there the mean square of what lies within a few standard deviations
//! is taken, which knows the noise a third better.

use crate::geometry::Point;

/// Noise below this is not believed, millimetres: the last digit that a bench sensor writes.
pub const LEAST: f64 = 0.001;

/// Quantiles that speak for the standard deviation, each with its place in |N(0, 1)| (normal law): the median, and
/// the lower quartile that up to three quarters of wild readings leave standing.
const QUANTILES: [(f64, f64); 2] = [(0.5, 0.674_489_75), (0.25, 0.318_639_36)];

/// An order statistic uses some third of what the readings tell. What lies within this many of its standard deviations is
/// noise, and its mean square uses nearly all.
const WITHIN: f64 = 2.5;

/// Variance of normal values within 2.5 standard deviations: 1 − 2c·φ(c)/(2Φ(c) − 1).
const VARIANCE_WITHIN: f64 = 0.911_26;

/// Rounds of that: the second moves the result by a tenth of its error.
const ROUNDS: usize = 2;

/// Standard deviation of one reading from points in the order of time, millimetres; [`LEAST`] where fewer than three tell
/// nothing.
pub(super) fn sigma(points: impl Iterator<Item = Point>) -> f64 {
    let mut off = offs(points);
    if off.is_empty() {
        return LEAST;
    }
    let last = (off.len() - 1) as f64;
    let mut least = f64::INFINITY;
    for (share, normal) in QUANTILES {
        let k = index(share * last);
        let (_, value, _) = off.select_nth_unstable_by(k, f64::total_cmp);
        least = least.min(*value / normal);
    }
    for _ in 0..ROUNDS {
        least = within(&off, WITHIN * least).unwrap_or(least);
    }
    least.max(LEAST)
}

/// The standard deviation of which a mean square within a bound of [`WITHIN`] of it tells; none where nothing lies within.
fn within(off: &[f64], bound: f64) -> Option<f64> {
    let (sum, count) =
        off.iter().filter(|o| **o <= bound).fold((0.0, 0.0), |(sum, n), o| (sum + o * o, n + 1.0));
    (count > 0.0).then(|| (sum / count / VARIANCE_WITHIN).sqrt())
}

/// How far each point lies off the line between its neighbours in time, as a share of what one unit of noise makes of it.
fn offs(points: impl Iterator<Item = Point>) -> Vec<f64> {
    let mut before: [Option<Point>; 2] = [None; 2];
    let mut off = Vec::with_capacity(points.size_hint().0);
    for c in points {
        if let [Some(a), Some(b)] = before {
            // Both neighbours on the same side tell nothing of what lies between them.
            if (b.x - a.x) * (c.x - b.x) >= 0.0 {
                let (first, last) = if a.x <= c.x { (a, c) } else { (c, a) };
                let (off_here, factor) = off_line(first, b, last);
                off.push((off_here / factor).abs());
            }
        }
        before = [before[1], Some(c)];
    }
    off
}

/// How far a point lies off the straight line between its neighbours, and the factor by which that spreads more than
/// the noise of one point. Interpolating never blows noise up by more than √2.
pub(super) fn off_line(a: Point, b: Point, c: Point) -> (f64, f64) {
    let t = if c.x > a.x { (b.x - a.x) / (c.x - a.x) } else { 0.5 };
    (b.z - (a.z + (c.z - a.z) * t), (1.0 + t * t + (1.0 - t) * (1.0 - t)).sqrt())
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a share of an index, not below zero"
)]
fn index(of: f64) -> usize {
    of as usize
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// Normal numbers by the sum of twelve uniform ones from a fixed sequence (Knuth's multiplier for 64 bits).
    pub(in crate::scan) fn normal(seed: &mut u64) -> f64 {
        let mut uniform = || {
            *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            f64::from(u32::try_from(*seed >> 32).unwrap_or(0)) / 4_294_967_296.0
        };
        (0..12).map(|_| uniform()).sum::<f64>() - 6.0
    }

    fn face(x: f64) -> f64 {
        -0.002 * (x - 95.0).powi(2)
    }

    #[test]
    fn white_noise_is_found_whatever_the_shape_and_the_way() {
        let mut seed = 3;
        for (spacing, way) in [(0.05, 1.0), (0.3, -1.0)] {
            let points: Vec<Point> = (0..4000)
                .map(|i| {
                    let x = 140.0 + way * spacing * f64::from(i % 200);
                    Point::new(x, face(x) + 0.01 * normal(&mut seed))
                })
                .collect();
            let got = sigma(points.iter().copied());
            assert!((got - 0.01).abs() < 0.0008, "{got}");
        }
    }

    #[test]
    fn more_wild_readings_than_good_ones_do_not_hide_the_noise() {
        let mut seed = 5;
        let points = (0..2000).map(|i| {
            let x = 60.0 + 0.07 * f64::from(i);
            let wild = (600..1700).contains(&i);
            Point::new(
                x,
                if wild { -35.0 + 3.0 * normal(&mut seed) } else { face(x) + 0.01 * normal(&mut seed) },
            )
        });
        let got = sigma(points.collect::<Vec<_>>().into_iter());
        assert!((0.008..0.03).contains(&got), "{got}");
    }

    #[test]
    fn no_noise_is_the_least_that_is_believed() {
        assert_eq!(sigma((0..50).map(|i| Point::new(f64::from(i), 1.0))), LEAST);
        assert_eq!(sigma(std::iter::empty()), LEAST);
    }
}
