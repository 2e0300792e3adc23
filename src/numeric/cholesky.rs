//! Small symmetric positive definite systems by Cholesky's factorisation: normal equations of a few tens of unknowns.
//!
//! A pivot that falls below [`LEAST_PIVOT`] of its own diagonal means that a column hangs on the ones before it; then
//! there is no factor, and the caller asks for less. Source: G. H. Golub, C. F. Van Loan, Matrix Computations, 4.2.

/// A pivot below this share of its diagonal is rounding and no information: sums of a thousand products keep some
/// thirteen digits.
const LEAST_PIVOT: f64 = 1e-11;

/// A symmetric matrix, all of it kept, row by row.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Symmetric {
    n: usize,
    values: Vec<f64>,
}

impl Symmetric {
    /// A matrix of zeros with `n` rows.
    #[must_use]
    pub fn zeros(n: usize) -> Self {
        Self { n, values: vec![0.0; n * n] }
    }

    /// Its rows.
    #[must_use]
    pub fn size(&self) -> usize {
        self.n
    }

    /// The element of a row and a column below [`Symmetric::size`].
    #[must_use]
    pub fn get(&self, i: usize, j: usize) -> f64 {
        self.values.get(i * self.n + j).copied().unwrap_or(0.0)
    }

    /// Sets an element and the one across the diagonal.
    pub fn set(&mut self, i: usize, j: usize, value: f64) {
        for at in [i * self.n + j, j * self.n + i] {
            if let Some(v) = self.values.get_mut(at) {
                *v = value;
            }
        }
    }

    /// Adds to an element of the diagonal.
    pub fn add_diagonal(&mut self, i: usize, value: f64) {
        self.set(i, i, self.get(i, i) + value);
    }

    /// Adds `weight·v·vᵀ` to the lower half; [`Symmetric::mirror`] before the matrix is read.
    pub fn add_outer(&mut self, weight: f64, v: &[f64]) {
        for (i, (row, &a)) in self.values.chunks_exact_mut(self.n.max(1)).zip(v).enumerate() {
            if a != 0.0 {
                let a = weight * a;
                row.iter_mut().zip(v).take(i + 1).for_each(|(m, b)| *m += a * b);
            }
        }
    }

    /// Copies the lower half to the upper.
    pub fn mirror(&mut self) {
        for i in 0..self.n {
            for j in 0..i {
                let value = self.get(i, j);
                self.set(i, j, value);
            }
        }
    }

    /// `vᵀ·M·v`.
    #[must_use]
    pub fn quadratic(&self, v: &[f64]) -> f64 {
        let rows = self.values.chunks_exact(self.n.max(1)).zip(v);
        rows.map(|(row, a)| a * dot(row, v)).sum()
    }

    /// `M·v`.
    #[must_use]
    pub fn times(&self, v: &[f64]) -> Vec<f64> {
        self.values.chunks_exact(self.n.max(1)).map(|row| dot(row, v)).collect()
    }

    /// The factor; `None` if the matrix is not positive definite, or hardly.
    #[must_use]
    pub fn factor(&self) -> Option<Cholesky> {
        let n = self.n;
        let mut l = vec![0.0; n * n];
        for i in 0..n {
            for j in 0..=i {
                let sum = self.get(i, j) - dot(l.get(i * n..i * n + j)?, l.get(j * n..j * n + j)?);
                let value = if i == j {
                    if !(sum > LEAST_PIVOT * self.get(i, i) && sum > 0.0) {
                        return None;
                    }
                    sum.sqrt()
                } else {
                    sum / l.get(j * n + j)?
                };
                *l.get_mut(i * n + j)? = value;
            }
        }
        Some(Cholesky { n, l })
    }

    /// The inverse; `None` as for [`Symmetric::factor`].
    #[must_use]
    pub fn inverse(&self) -> Option<Self> {
        let factor = self.factor()?;
        let mut inverse = Self::zeros(self.n);
        for i in 0..self.n {
            let mut unit = vec![0.0; self.n];
            *unit.get_mut(i)? = 1.0;
            for (j, value) in factor.solve(unit).into_iter().enumerate().take(i + 1) {
                inverse.set(i, j, value);
            }
        }
        Some(inverse)
    }
}

/// A lower triangle L with `L·Lᵀ = M`.
#[derive(Debug, Clone, PartialEq)]
pub struct Cholesky {
    n: usize,
    l: Vec<f64>,
}

impl Cholesky {
    /// `L⁻¹·b`.
    #[must_use]
    pub fn forward(&self, mut b: Vec<f64>) -> Vec<f64> {
        for (i, row) in self.l.chunks_exact(self.n.max(1)).enumerate() {
            let (solved, rest) = b.split_at_mut(i.min(self.n));
            if let (Some(value), Some(pivot)) = (rest.first_mut(), row.get(i)) {
                *value = (*value - dot(row, solved)) / pivot;
            }
        }
        b
    }

    /// `M⁻¹·b`.
    #[must_use]
    pub fn solve(&self, b: Vec<f64>) -> Vec<f64> {
        self.backward(self.forward(b))
    }

    /// The solution `x` of `Lᵀ·x = b`, with the factor `L` below the diagonal.
    #[must_use]
    pub fn backward(&self, mut b: Vec<f64>) -> Vec<f64> {
        for (i, row) in self.l.chunks_exact(self.n.max(1)).enumerate().rev() {
            let (above, rest) = b.split_at_mut(i);
            if let (Some(value), Some(pivot)) = (rest.first_mut(), row.get(i)) {
                *value /= pivot;
                let value = *value;
                above.iter_mut().zip(row).for_each(|(a, l)| *a -= l * value);
            }
        }
        b
    }

    /// The logarithm of the matrix's determinant.
    #[must_use]
    pub fn log_determinant(&self) -> f64 {
        self.l
            .chunks_exact(self.n.max(1))
            .enumerate()
            .filter_map(|(i, row)| row.get(i))
            .map(|d| 2.0 * d.ln())
            .sum()
    }
}

/// The sum of the products, as far as the shorter reaches.
#[must_use]
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 4, 2; 2, 3 has determinant 8 and inverse (3, −2; −2, 4)/8.
    #[test]
    fn two_by_two_by_hand() {
        let mut m = Symmetric::zeros(2);
        m.add_outer(1.0, &[2.0, 1.0]);
        m.add_outer(2.0, &[0.0, 1.0]);
        m.mirror();
        let inverse = m.inverse().unwrap();
        for (i, j, expected) in [(0, 0, 0.375), (0, 1, -0.25), (1, 1, 0.5)] {
            assert!((inverse.get(i, j) - expected).abs() < 1e-15);
        }
        let factor = m.factor().unwrap();
        assert!((factor.log_determinant() - 8.0_f64.ln()).abs() < 1e-14);
        let x = factor.solve(vec![8.0, 7.0]);
        assert!(m.times(&x).iter().zip([8.0, 7.0]).all(|(a, b)| (a - b).abs() < 1e-14));
        assert!((m.quadratic(&[1.0, 1.0]) - 11.0).abs() < 1e-14);
    }

    #[test]
    fn a_column_that_hangs_on_another_has_no_factor() {
        let mut m = Symmetric::zeros(2);
        m.add_outer(3.0, &[1.0, 2.0]);
        m.mirror();
        assert!(m.factor().is_none());
    }
}
