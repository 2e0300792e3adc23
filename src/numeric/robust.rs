//! Robust weights: how much a residual counts, by its size in standard deviations.
//!
//! Huber's weights (P. J. Huber, 1964) hold outliers down but hear them; Tukey's biweight (A. E. Beaton and J. W. Tukey,
//! 1974) is deaf to what lies beyond its constant, and needs a start that is right already. Constants for 95 %
//! efficiency at normal noise: 1.345 and 4.685 (from memory; also R. A. Maronna and others, Robust Statistics, 2006).

/// Huber's constant.
pub const HUBER: f64 = 1.345;
/// Tukey's constant.
pub const TUKEY: f64 = 4.685;

/// Huber's weight of a residual of `t` standard deviations.
#[must_use]
pub fn huber_weight(t: f64) -> f64 {
    HUBER / t.abs().max(HUBER)
}

/// Tukey's weight of a residual of `t` standard deviations: zero from [`TUKEY`] on.
#[must_use]
pub fn tukey_weight(t: f64) -> f64 {
    let u = t / TUKEY;
    let v = (1.0 - u * u).max(0.0);
    v * v
}

/// What Tukey's biweight charges for a residual of `t` standard deviations: about t² where it is small, at most
/// `TUKEY²/3`.
#[must_use]
pub fn tukey_loss(t: f64) -> f64 {
    let u = t / TUKEY;
    let v = (1.0 - u * u).max(0.0);
    TUKEY * TUKEY / 3.0 * (1.0 - v * v * v)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A weight is the loss's slope over twice the residual: w(t) = ρ′(t)/(2·t).
    #[test]
    fn the_weight_is_the_slope_of_the_loss() {
        for t in [0.3, 1.0, 2.5, 4.0] {
            let h = 1e-5;
            let slope = (tukey_loss(t + h) - tukey_loss(t - h)) / (2.0 * h);
            assert!((slope / (2.0 * t) - tukey_weight(t)).abs() < 1e-8);
        }
    }

    /// Efficiency at the normal: (∫ψ′φ)²/∫ψ²φ is 0.95 for both constants. Source: Huber 1964, Beaton and Tukey 1974.
    #[test]
    fn both_constants_give_95_percent_efficiency() {
        for weight in [huber_weight as fn(f64) -> f64, tukey_weight] {
            let (mut slope, mut square) = (0.0, 0.0);
            let step = 1e-3;
            for i in -8000..8000 {
                let t = (f64::from(i) + 0.5) * step;
                let density = (-t * t / 2.0).exp() / std::f64::consts::TAU.sqrt() * step;
                let psi = |t: f64| t * weight(t);
                slope += (psi(t + step) - psi(t - step)) / (2.0 * step) * density;
                square += psi(t) * psi(t) * density;
            }
            assert!((slope * slope / square - 0.95).abs() < 5e-4);
        }
    }
}
