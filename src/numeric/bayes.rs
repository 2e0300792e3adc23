//! Linear regression with a prior: the unknowns' posterior, and how likely the model makes the data.
//!
//! Data `d = A·u + noise` with noise of covariance N and unknowns of prior variances P have the covariance `S = A·P·Aᵀ + N`. The
//! posterior's covariance is `Σ = (P⁻¹ + Aᵀ·N⁻¹·A)⁻¹`, its mean `Σ·Aᵀ·N⁻¹·d`, and the logarithm of the evidence
//! `−½·(dᵀ·S⁻¹·d + ln det S)` but for a constant, with `dᵀ·S⁻¹·d = dᵀ·N⁻¹·d − dᵀ·N⁻¹·A·Σ·Aᵀ·N⁻¹·d` and
//! `det S = det N · det(1 + P·Aᵀ·N⁻¹·A)`. Well defined with fewer data than unknowns.
//! Source: C. M. Bishop, Pattern Recognition and Machine Learning (2006), 3.3 and 3.5, (C.7) and (C.14).
//!
//! What the data tell ([`Information`]) adds up over data whose noises are independent, so a thousand readings weigh no more than the
//! unknowns: the time is linear in them.

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

/// What data tell of the unknowns, whatever the prior.
#[derive(Debug, Clone, PartialEq)]
pub struct Information {
    /// `Aᵀ·N⁻¹·A`.
    matrix: Symmetric,
    /// `Aᵀ·N⁻¹·d`.
    right: Vec<f64>,
    /// `dᵀ·N⁻¹·d`.
    square: f64,
    /// `ln det N`.
    log_determinant: f64,
}

impl Information {
    /// What rows of A and the data tell, with their noise's covariance; `None` where that is not positive definite.
    #[must_use]
    pub fn new(unknowns: usize, rows: &[Vec<f64>], data: &[f64], noise: &Symmetric) -> Option<Self> {
        let factor = noise.factor()?;
        let white: Vec<Vec<f64>> = (0..unknowns)
            .map(|q| factor.forward(rows.iter().map(|row| row.get(q).copied().unwrap_or(0.0)).collect()))
            .collect();
        let data = factor.forward(data.to_vec());
        let mut matrix = Symmetric::zeros(unknowns);
        for (p, column) in white.iter().enumerate() {
            for (q, other) in white.iter().enumerate().take(p + 1) {
                matrix.set(p, q, dot(column, other));
            }
        }
        let right = white.iter().map(|column| dot(column, &data)).collect();
        Some(Self { matrix, right, square: dot(&data, &data), log_determinant: factor.log_determinant() })
    }

    /// Adds data whose noise is of one variance and independent, but for a zero that all of them share, with a variance of its own:
    /// `N⁻¹ = (1 − 1·1ᵀ·zero/(variance + n·zero))/variance` (Sherman and Morrison 1950).
    pub fn add_with_zero(&mut self, rows: &[Vec<f64>], data: &[f64], variance: f64, zero: f64) {
        let count = data.len() as f64;
        let mut sums = vec![0.0; self.right.len()];
        for (row, d) in rows.iter().zip(data) {
            self.matrix.add_outer(1.0 / variance, row);
            self.right.iter_mut().zip(row).for_each(|(right, a)| *right += a * d / variance);
            sums.iter_mut().zip(row).for_each(|(sum, a)| *sum += a);
        }
        let sum: f64 = data.iter().sum();
        let shared = zero / (variance * (variance + count * zero));
        self.matrix.add_outer(-shared, &sums);
        self.matrix.mirror();
        self.right.iter_mut().zip(&sums).for_each(|(right, a)| *right -= shared * a * sum);
        self.square += dot(data, data) / variance - shared * sum * sum;
        self.log_determinant += count * variance.ln() + (count * zero / variance).ln_1p();
    }

    /// The posterior for the prior variances; `None` where what the data tell is no information.
    #[must_use]
    pub fn posterior(&self, prior: &[f64]) -> Option<Posterior> {
        let size: Vec<f64> = prior.iter().map(|p| p.sqrt()).collect();
        // In units of the prior's deviations nothing is small: 1 + P^½·Aᵀ·N⁻¹·A·P^½.
        let mut precision = Symmetric::zeros(prior.len());
        for (p, a) in size.iter().enumerate() {
            for (q, b) in size.iter().enumerate().take(p + 1) {
                precision.set(p, q, a * b * self.matrix.get(p, q));
            }
            precision.add_diagonal(p, 1.0);
        }
        let factor = precision.factor()?;
        let inverse = factor.inverse();
        let mut covariance = Symmetric::zeros(prior.len());
        for (p, a) in size.iter().enumerate() {
            for (q, b) in size.iter().enumerate().take(p + 1) {
                covariance.set(p, q, a * b * inverse.get(p, q));
            }
        }
        let mean = covariance.times(&self.right);
        let misfit = self.square - dot(&self.right, &mean);
        let evidence = -misfit - self.log_determinant - factor.log_determinant();
        Some(Posterior { mean, covariance, evidence })
    }
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
        let told = Information::new(1, &[vec![1.0]], &[3.0], &noise).unwrap();
        let found = told.posterior(&[4.0]).unwrap();
        assert!((found.mean[0] - 2.4).abs() < 1e-14);
        assert!((found.covariance.get(0, 0) - 0.8).abs() < 1e-14);
        assert!((found.evidence - (-9.0 / 5.0 - 5.0_f64.ln())).abs() < 1e-14);
    }

    #[test]
    fn what_no_datum_speaks_of_keeps_its_prior() {
        let mut noise = Symmetric::zeros(1);
        noise.set(0, 0, 0.01);
        let told = Information::new(2, &[vec![1.0, 0.0]], &[1.0], &noise).unwrap();
        let found = told.posterior(&[1.0, 0.25]).unwrap();
        assert_eq!((found.mean[1], found.covariance.get(1, 1)), (0.0, 0.25));
    }

    /// The other form of the same, where every datum is weighed against every other: mean `P·Aᵀ·S⁻¹·d`, covariance `P − P·Aᵀ·S⁻¹·A·P`.
    #[test]
    fn both_forms_agree_with_a_zero_that_data_share() {
        let angle = |i: usize| 0.7 * i as f64;
        let rows: Vec<Vec<f64>> =
            (0..9).map(|i| vec![angle(i).cos(), angle(i).sin(), (2.0 * angle(i)).cos()]).collect();
        let data: Vec<f64> =
            (0..9).map(|i| 0.3 + 0.1 * angle(i).sin() + 0.01 * (5.0 * angle(i)).cos()).collect();
        let prior = [0.09, 0.09, 0.0004];
        let (variance, zero, first) = (0.002, 1.0, 3);
        let mut noise = Symmetric::zeros(9);
        for (i, j) in (0..9).flat_map(|i| (0..=i).map(move |j| (i, j))) {
            let shared = if i >= first && j >= first { zero } else { 0.0 };
            let own = if i < first { 0.01 } else { variance };
            noise.set(i, j, shared + if i == j { own } else { 0.0 });
        }
        let mut lines = Symmetric::zeros(first);
        (0..first).for_each(|i| lines.set(i, i, 0.01));
        let mut told = Information::new(3, &rows[..first], &data[..first], &lines).unwrap();
        told.add_with_zero(&rows[first..], &data[first..], variance, zero);
        let found = told.posterior(&prior).unwrap();

        let spread = |row: &[f64]| -> Vec<f64> { row.iter().zip(&prior).map(|(a, p)| a * p).collect() };
        let mut s = noise.clone();
        for (i, j) in (0..9).flat_map(|i| (0..=i).map(move |j| (i, j))) {
            s.set(i, j, noise.get(i, j) + dot(&spread(&rows[i]), &rows[j]));
        }
        let factor = s.factor().unwrap();
        let solved = factor.solve(data.clone());
        assert!((found.evidence - (-dot(&data, &solved) - factor.log_determinant())).abs() < 1e-9);
        for q in 0..3 {
            let column: Vec<f64> = rows.iter().map(|row| row[q] * prior[q]).collect();
            assert!((found.mean[q] - dot(&column, &solved)).abs() < 1e-11, "{q}");
            let variance = prior[q] - dot(&column, &factor.solve(column.clone()));
            assert!((found.covariance.get(q, q) - variance).abs() < 1e-11, "{q}");
        }
    }
}
