//! Linear regression with a prior: the unknowns' posterior, and how likely the model makes the data.
//!
//! Data `d = A·u + noise` with noise of covariance N and unknowns of prior variances P have the covariance
//! `S = A·P·Aᵀ + N`. Then the posterior mean is `P·Aᵀ·S⁻¹·d`, its covariance `P − P·Aᵀ·S⁻¹·A·P`, and the logarithm of the
//! evidence `−½·(dᵀ·S⁻¹·d + ln det S)` but for a constant. Well defined with fewer data than unknowns.
//! Source: C. M. Bishop, Pattern Recognition and Machine Learning (2006), 3.3 and 3.5.

use super::cholesky::{Symmetric, dot};

/// The posterior of the unknowns.
#[derive(Debug, Clone, PartialEq)]
pub struct Posterior {
    /// Their mean.
    pub mean: Vec<f64>,
    /// Their covariance.
    pub covariance: Symmetric,
    /// Twice the logarithm of the evidence, but for a constant that hangs on the number of data alone.
    pub evidence: f64,
}

/// The posterior for rows of A, the data, the noise's covariance and the prior variances; `None` where the data's
/// covariance is not positive definite.
#[must_use]
pub fn posterior(rows: &[Vec<f64>], data: &[f64], noise: &Symmetric, prior: &[f64]) -> Option<Posterior> {
    let spread: Vec<Vec<f64>> =
        rows.iter().map(|row| row.iter().zip(prior).map(|(a, p)| a * p).collect()).collect();
    let mut s = noise.clone();
    for (i, row) in spread.iter().enumerate() {
        for (j, other) in rows.iter().enumerate().take(i + 1) {
            s.set(i, j, s.get(i, j) + dot(row, other));
        }
    }
    let factor = s.factor()?;
    let solved = factor.solve(data.to_vec());
    let evidence = -dot(data, &solved) - factor.log_determinant();
    // Columns of P·Aᵀ, one an unknown.
    let columns: Vec<Vec<f64>> = (0..prior.len())
        .map(|q| spread.iter().map(|row| row.get(q).copied().unwrap_or(0.0)).collect())
        .collect();
    let mean = columns.iter().map(|c| dot(c, &solved)).collect();
    let halves: Vec<Vec<f64>> = columns.into_iter().map(|c| factor.forward(c)).collect();
    let mut covariance = Symmetric::zeros(prior.len());
    for (p, (half, own)) in halves.iter().zip(prior).enumerate() {
        for (q, other) in halves.iter().enumerate().take(p + 1) {
            let own = if p == q { *own } else { 0.0 };
            covariance.set(p, q, own - dot(half, other));
        }
    }
    Some(Posterior { mean, covariance, evidence })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One unknown of prior variance 4 seen once with noise of variance 1: mean 4/5 of the datum, variance 4/5, and the
    /// datum's own variance 5.
    #[test]
    fn one_unknown_seen_once_by_hand() {
        let mut noise = Symmetric::zeros(1);
        noise.set(0, 0, 1.0);
        let found = posterior(&[vec![1.0]], &[3.0], &noise, &[4.0]).unwrap();
        assert!((found.mean[0] - 2.4).abs() < 1e-14);
        assert!((found.covariance.get(0, 0) - 0.8).abs() < 1e-14);
        assert!((found.evidence - (-9.0 / 5.0 - 5.0_f64.ln())).abs() < 1e-14);
    }

    #[test]
    fn what_no_datum_speaks_of_keeps_its_prior() {
        let mut noise = Symmetric::zeros(1);
        noise.set(0, 0, 0.01);
        let found = posterior(&[vec![1.0, 0.0]], &[1.0], &noise, &[1.0, 0.25]).unwrap();
        assert_eq!((found.mean[1], found.covariance.get(1, 1)), (0.0, 0.25));
    }
}
