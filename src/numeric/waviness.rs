//! Waviness: what a row of heights holds in a band of wavelengths, and how much of it noise alone must be expected to leave.
//!
//! Two Gaussian filters bound the band: from what the shorter one lets through, what the longer one lets through is
//! taken away (ISO 16610-21; the band of ISO 4287 and ISO 21920-2). At the ends of the row a local line with the same weights
//! takes the filter's place (ISO 16610-28), so that no stretch is lost and a slope leaves nothing. Half of a wave of 0.8 mm
//! or of 8 mm is in the band. A row's own form is in it too: take the form away first, such as the exact path from the written one.
//!
//! Expected waviness: readings of noise σ, δ apart, pass a local parabola of the half-width h and then the band. With b the
//! kernel of both together, the result is a Gaussian process of the variance s0² = σ²δ∫b² and its slope one of s1² = σ²δ∫b′². Over a length
//! L it crosses its mean upward N = L·s1/(2π·s0) times (S. O. Rice, Bell System Technical Journal 23 and 24, 1944 and 1945), and the mean of
//! the greatest of N heights is s0·(a + γ/a), a = √(2·ln N), γ Euler's constant (H. Cramér, M. R. Leadbetter, Stationary
//! and related stochastic processes, 1967; both from memory). Peak to valley is twice that.
//!
//! Where the width changes along the row, the crossings of every part add up: a height u is crossed upward ν(u) = Σ Lᵢ·s1ᵢ/(2π·s0ᵢ)·exp(−u²/2s0ᵢ²)
//! times, none with the probability exp(−ν), and the mean of the greatest height is ∫(1 − exp(−ν(u)))du ([`Band::expected_over`]).
//!
//! Limits: readings independent of each other, noise that is nearly Gaussian, each width over a length of many h in all.

use std::f64::consts::{LN_2, PI};

/// A band of wavelengths, millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// The cut-off at its short end.
    pub short: f64,
    /// The cut-off at its long end.
    pub long: f64,
}

/// The band in which turned faces show rings: from the usual cut-off of roughness to ten times that.
pub const RINGS: Band = Band { short: 0.8, long: 8.0 };

/// Steps of a row to the short cut-off: fine enough that the sum over the kernel is its integral.
pub const STEPS_PER_SHORT: f64 = 16.0;

/// How far a kernel reaches to each side, in cut-offs: there its weight is under a millionth.
const REACH: f64 = 1.0;

/// Euler's constant.
const EULER: f64 = 0.577_215_664_901_532_9;

impl Band {
    /// What of a row of heights lies in the band; `step` is the distance from one to the next.
    #[must_use]
    pub fn of(&self, heights: &[f64], step: f64) -> Vec<f64> {
        let (short, long) = (smoothed(heights, step, self.short), smoothed(heights, step, self.long));
        short.iter().zip(&long).map(|(s, l)| s - l).collect()
    }

    /// Peak to valley of what of a row of heights lies in the band.
    ///
    /// ```
    /// use facewright::numeric::waviness::RINGS;
    /// // A wave of 2.5 mm is well inside: where it swells to 2 um from peak to valley, nearly all of it passes.
    /// let swells = |i: i32| (f64::from(i) / 1000.0 * std::f64::consts::PI).sin();
    /// let wave = |i: i32| 0.001 * swells(i) * (f64::from(i) * 0.05 * std::f64::consts::TAU / 2.5).sin();
    /// let heights: Vec<f64> = (0..1000).map(wave).collect();
    /// let height = RINGS.peak_to_valley(&heights, 0.05);
    /// assert!((height - 0.0019).abs() < 0.0001);
    /// ```
    #[must_use]
    pub fn peak_to_valley(&self, heights: &[f64], step: f64) -> f64 {
        let band = self.of(heights, step);
        let (low, high) =
            band.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), z| (lo.min(*z), hi.max(*z)));
        (high - low).max(0.0)
    }

    /// The share of a wave's height that is in the band, by its frequency, waves a millimetre.
    fn transmission(&self, frequency: f64) -> f64 {
        let through = |cutoff: f64| (-LN_2 * (cutoff * frequency).powi(2)).exp();
        through(self.short) - through(self.long)
    }

    /// Peak to valley that noise leaves in the band, in the mean.
    #[must_use]
    pub fn expected(&self, noise: &Noise) -> f64 {
        let (square, slope) = self.kernel(noise.half_width);
        let power = noise.sigma * noise.sigma * noise.spacing;
        let (s0, s1) = ((power * square).sqrt(), (power * slope).sqrt());
        // Under e crossings the greatest height is not that of many; a shorter length is taken as one of so many.
        let crossings = (noise.length * s1 / (2.0 * PI * s0)).max(std::f64::consts::E);
        let a = (2.0 * crossings.ln()).sqrt();
        2.0 * s0 * (a + EULER / a)
    }

    /// Peak to valley that noise leaves in the band, in the mean, over a row in parts, each with its own width and noise.
    #[must_use]
    pub fn expected_over(&self, parts: &[Noise]) -> f64 {
        let waves: Vec<[f64; 2]> = parts
            .iter()
            .map(|part| {
                let (square, slope) = self.kernel(part.half_width);
                let s0 = (part.sigma * part.sigma * part.spacing * square).sqrt();
                [s0, part.length * (slope / square).sqrt() / (2.0 * PI)]
            })
            .filter(|[s0, _]| *s0 > 0.0)
            .collect();
        let widest = waves.iter().map(|[s0, _]| *s0).fold(0.0, f64::max);
        let step = HIGHEST * widest / f64::from(HEIGHTS);
        let crossed = |u: f64| waves.iter().map(|[s0, n]| n * (-(u / s0).powi(2) / 2.0).exp()).sum::<f64>();
        let reached = (0..HEIGHTS).map(|i| 1.0 - (-crossed((f64::from(i) + 0.5) * step)).exp());
        2.0 * step * reached.sum::<f64>()
    }

    /// Integrals over the kernel of a local parabola through the band, squared, and of its slope, squared: by Parseval over the frequencies.
    fn kernel(&self, half_width: f64) -> (f64, f64) {
        // Beyond this less than 10⁻⁸ of a wave's power is let through.
        let highest = 3.6 / self.short;
        let step = highest / f64::from(FREQUENCIES);
        let mut sums = (0.0, 0.0);
        for i in 1..=FREQUENCIES {
            let frequency = f64::from(i) * step;
            let share = self.transmission(frequency) * parabola(frequency * half_width);
            let power = 2.0 * share * share * step;
            sums.0 += power;
            sums.1 += power * (2.0 * PI * frequency).powi(2);
        }
        sums
    }
}

/// No height beyond so many standard deviations is reached by a row that could lie on a wheel: once in 10⁹ crossings.
const HIGHEST: f64 = 6.5;

/// Heights over which the chance of being reached is summed up.
const HEIGHTS: u32 = 260;

/// Frequencies over which the power is summed up.
const FREQUENCIES: u32 = 400;

/// Below this angular frequency the closed form loses its digits and its series has them all, to 10⁻⁹.
const SLOW: f64 = 0.5;

/// The share of a wave that a local parabola with biweight weights lets through, by half-widths over wavelength.
///
/// The kernel is (1 − u²)²·(m4 − m2·u²)/(m0·m4 − m2²), a sum of powers of 1 − u², and the transform of (1 − u²)ⁿ over [−1, 1] is
/// 2ⁿ⁺¹·n!·jₙ(ω)/ωⁿ with jₙ the spherical Bessel function (NIST Digital Library of Mathematical Functions, 10.54.1).
fn parabola(waves: f64) -> f64 {
    let w = 2.0 * PI * waves;
    // Moments of (1 − u²)² over [−1, 1] of the orders 0, 2 and 4.
    let (m0, m2, m4) = (16.0 / 15.0, 16.0 / 105.0, 16.0 / 315.0);
    let (square, cube) = if w < SLOW {
        let series = |n: f64| {
            let (a, b, c) = (2.0 * n + 3.0, 2.0 * n + 5.0, 2.0 * n + 7.0);
            let v = w * w / 2.0;
            1.0 - v / a + v * v / (2.0 * a * b) - v * v * v / (6.0 * a * b * c)
        };
        (16.0 / 15.0 * series(2.0), 32.0 / 35.0 * series(3.0))
    } else {
        let (sin, cos) = w.sin_cos();
        let second = (3.0 / w.powi(3) - 1.0 / w) * sin - 3.0 * cos / (w * w);
        let third = (15.0 / w.powi(4) - 6.0 / (w * w)) * sin - (15.0 / w.powi(3) - 1.0 / w) * cos;
        (16.0 * second / (w * w), 96.0 * third / w.powi(3))
    };
    ((m4 - m2) * square + m2 * cube) / (m0 * m4 - m2 * m2)
}

/// Readings and the local parabola laid through them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// Standard deviation of a reading, millimetres.
    pub sigma: f64,
    /// Distance from a reading to the next, all lines together, millimetres.
    pub spacing: f64,
    /// Half-width of the biweight weights, millimetres.
    pub half_width: f64,
    /// Length over which peak and valley are looked for, millimetres.
    pub length: f64,
}

/// A row through the Gaussian filter with a cut-off; a local line with the same weights at every place, which inside the row is the same.
fn smoothed(heights: &[f64], step: f64, cutoff: f64) -> Vec<f64> {
    let weights = weights(step, cutoff);
    let reach = weights.len() - 1;
    let whole: f64 = weights[0] + 2.0 * weights[1..].iter().sum::<f64>();
    (0..heights.len())
        .map(|i| {
            if i >= reach && i + reach < heights.len() {
                let sides = (1..=reach).map(|k| weights[k] * (heights[i - k] + heights[i + k])).sum::<f64>();
                return (weights[0] * heights[i] + sides) / whole;
            }
            local_line(heights, i, &weights)
        })
        .collect()
}

/// The height at a place of the line with the least weighted squares through what lies around it.
fn local_line(heights: &[f64], i: usize, weights: &[f64]) -> f64 {
    let reach = weights.len() - 1;
    let (mut w0, mut w1, mut w2, mut z0, mut z1) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (j, z) in heights.iter().enumerate().take(i + reach + 1).skip(i.saturating_sub(reach)) {
        let (w, u) = (weights[j.abs_diff(i)], j as f64 - i as f64);
        w0 += w;
        w1 += w * u;
        w2 += w * u * u;
        z0 += w * z;
        z1 += w * u * z;
    }
    let determinant = w0 * w2 - w1 * w1;
    if determinant > 0.0 { (z0 * w2 - z1 * w1) / determinant } else { z0 / w0 }
}

/// The Gaussian's weights from its middle outward.
fn weights(step: f64, cutoff: f64) -> Vec<f64> {
    let mut weights = Vec::new();
    let mut k = 0.0;
    while weights.is_empty() || k * step <= REACH * cutoff + step / 4.0 {
        // exp(−π·(x/(α·λc))²) with α² = ln 2/π.
        weights.push((-(PI * k * step / cutoff).powi(2) / LN_2).exp());
        k += 1.0;
    }
    weights
}

#[cfg(test)]
mod tests {
    use super::{Noise, RINGS, SLOW, parabola};
    use serde::Deserialize;

    #[derive(Deserialize)]
    struct Reference {
        step: f64,
        heights: Vec<f64>,
        band: Vec<f64>,
        band_by_scipy: Vec<f64>,
        kept_from_end: usize,
        noise: Simulated,
    }

    #[derive(Deserialize)]
    struct Simulated {
        sigma: f64,
        spacing: f64,
        length: f64,
        cases: Vec<Case>,
    }

    #[derive(Deserialize)]
    struct Case {
        half: f64,
        square: f64,
        slope: f64,
        simulated: f64,
    }

    fn reference() -> Reference {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/reference/waviness.json");
        let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{path}: {e}"));
        serde_json::from_str(&text).unwrap_or_else(|e| panic!("{path}: {e}"))
    }

    /// scipy.ndimage's Gaussian filter pair inside the row, numpy's least squares at its ends.
    #[test]
    fn the_band_is_what_scipy_and_numpy_find() {
        let r = reference();
        let band = RINGS.of(&r.heights, r.step);
        assert_eq!(band.len(), r.band.len());
        let inside = r.kept_from_end..band.len() - r.kept_from_end;
        for (i, b) in band.iter().enumerate() {
            assert!((b - r.band[i]).abs() < 1e-12, "{i}: {b} for {}", r.band[i]);
            assert!(!inside.contains(&i) || (b - r.band_by_scipy[i]).abs() < 1e-12, "{i}: {b}");
        }
    }

    /// ISO 16610-21: half of a wave as long as a cut-off, 84.09 % at twice it, 6.25 % at half of it.
    #[test]
    fn waves_pass_as_the_standard_says() {
        let through = |wave: f64, cutoff: f64| 2f64.powf(-(cutoff / wave).powi(2));
        for wave in [0.4, 0.8, 1.6, 2.5, 4.0, 8.0, 16.0] {
            let expected = through(wave, 0.8) - through(wave, 8.0);
            assert!((RINGS.transmission(1.0 / wave) - expected).abs() < 1e-12);
            let heights: Vec<f64> =
                (0..4000).map(|i| (f64::from(i) * 0.05 * std::f64::consts::TAU / wave).sin()).collect();
            let band = RINGS.of(&heights, 0.05);
            let most = band[400..3600].iter().fold(0.0, |m: f64, z| m.max(z.abs()));
            assert!((most - expected).abs() < 2e-3, "{wave}: {most} for {expected}");
        }
    }

    /// A slope is no waviness, also at the ends.
    #[test]
    fn a_line_leaves_nothing() {
        let heights: Vec<f64> = (0..700).map(|i| 3.0 - 0.02 * f64::from(i)).collect();
        assert!(RINGS.peak_to_valley(&heights, 0.05) < 1e-11);
        assert!(RINGS.peak_to_valley(&[], 0.05) == 0.0);
        assert!(RINGS.peak_to_valley(&[1.0], 0.05) == 0.0);
    }

    /// The kernel's integrals against scipy's over a fine row, and the expected waviness against the mean of simulated rows.
    #[test]
    fn noise_leaves_what_simulation_leaves() {
        let Simulated { sigma, spacing, length, cases } = reference().noise;
        for case in cases {
            let (square, slope) = RINGS.kernel(case.half);
            assert!((square / case.square - 1.0).abs() < 0.01, "{}: {square} for {}", case.half, case.square);
            assert!((slope / case.slope - 1.0).abs() < 0.01, "{}: {slope} for {}", case.half, case.slope);
            let expected = RINGS.expected(&Noise { sigma, spacing, half_width: case.half, length });
            let off = expected / case.simulated - 1.0;
            assert!(off.abs() < 0.05, "{}: {expected} for {}", case.half, case.simulated);
            // One part or the same in three: the integral over all heights agrees with Cramér's mean.
            for parts in [1_u8, 3] {
                let part = Noise { sigma, spacing, half_width: case.half, length: length / f64::from(parts) };
                let over = RINGS.expected_over(&vec![part; parts.into()]);
                assert!(
                    (over / case.simulated - 1.0).abs() < 0.05,
                    "{}: {over} for {}",
                    case.half,
                    case.simulated
                );
            }
        }
    }

    /// A local parabola lets a long wave pass, and its share falls with the fourth power of the frequency.
    #[test]
    fn a_parabola_passes() {
        assert!((parabola(0.0) - 1.0).abs() < 1e-12);
        let lost = |waves: f64| 1.0 - parabola(waves);
        assert!((lost(0.06) / lost(0.03) - 16.0).abs() < 0.5);
        // Series and closed form meet.
        let meet = SLOW / std::f64::consts::TAU;
        assert!((parabola(meet * (1.0 - 1e-12)) - parabola(meet)).abs() < 1e-8);
    }
}
