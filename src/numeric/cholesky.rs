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
        for (i, &a) in v.iter().enumerate() {
            if let Some(row) = self.values.get_mut(i * self.n..=i * self.n + i).filter(|_| a != 0.0) {
                let a = weight * a;
                row.iter_mut().zip(v).for_each(|(m, b)| *m += a * b);
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

    /// The matrix times a factor.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self { n: self.n, values: self.values.iter().map(|v| factor * v).collect() }
    }

    /// The factor; `None` if the matrix is not positive definite, or hardly.
    #[must_use]
    pub fn factor(&self) -> Option<Cholesky> {
        self.end_factor(self.begin_factor(0)?)
    }

    /// The first columns of the factor, with what they add to the rows below; `None` as for [`Symmetric::factor`].
    ///
    /// They go for every matrix that differs from this one beyond these columns alone.
    #[must_use]
    pub fn begin_factor(&self, columns: usize) -> Option<BegunFactor> {
        let mut l = vec![0.0; self.n * self.n];
        self.eliminate(&mut l, 0..columns)?;
        Some(BegunFactor { columns, l })
    }

    /// The factor from its first columns on; `None` as for [`Symmetric::factor`].
    #[must_use]
    pub fn end_factor(&self, BegunFactor { columns, mut l }: BegunFactor) -> Option<Cholesky> {
        self.eliminate(&mut l, columns..self.n)?;
        Some(Cholesky { n: self.n, l })
    }

    /// Does some columns of a factor, after those before them. What is not done yet holds the sums of the products of the columns done.
    fn eliminate(&self, l: &mut [f64], columns: std::ops::Range<usize>) -> Option<()> {
        let n = self.n;
        let mut column = vec![0.0; n];
        for j in columns {
            let mut pivot = 0.0;
            for i in j..n {
                let row = l.get_mut(i * n..=i * n + i)?;
                let (own, sum) = (self.get(i, j), row.get_mut(j)?);
                let left = own - *sum;
                let value = if i > j {
                    left / pivot
                } else {
                    if !(left > LEAST_PIVOT * own && left > 0.0) {
                        return None;
                    }
                    pivot = left.sqrt();
                    pivot
                };
                *sum = value;
                *column.get_mut(i)? = value;
                let sums = row.get_mut(j + 1..)?.iter_mut();
                sums.zip(column.get(j + 1..)?).for_each(|(sum, above)| *sum += value * above);
            }
        }
        Some(())
    }

    /// The inverse; `None` as for [`Symmetric::factor`].
    #[must_use]
    pub fn inverse(&self) -> Option<Self> {
        self.factor().map(|factor| factor.inverse())
    }
}

/// A factor of which the first columns are done.
#[derive(Debug, Clone, PartialEq)]
pub struct BegunFactor {
    columns: usize,
    l: Vec<f64>,
}

/// A lower triangle L with `L·Lᵀ = M`.
#[derive(Debug, Clone, PartialEq)]
pub struct Cholesky {
    n: usize,
    l: Vec<f64>,
}

impl Cholesky {
    /// `M⁻¹`.
    #[must_use]
    pub fn inverse(&self) -> Symmetric {
        let mut inverse = Symmetric::zeros(self.n);
        for i in 0..self.n {
            let unit = (0..self.n).map(|j| f64::from(u8::from(i == j))).collect();
            for (j, value) in self.solve(unit).into_iter().enumerate().take(i + 1) {
                inverse.set(i, j, value);
            }
        }
        inverse
    }

    /// `L⁻¹·b` for several columns at once, which take little longer than one.
    #[must_use]
    pub fn forward_each<const COLUMNS: usize>(&self, mut b: Vec<[f64; COLUMNS]>) -> Vec<[f64; COLUMNS]> {
        for (i, row) in self.l.chunks_exact(self.n.max(1)).enumerate() {
            let (solved, rest) = b.split_at_mut(i.min(self.n));
            if let (Some(values), Some(pivot)) = (rest.first_mut(), row.get(i)) {
                let mut sums = [0.0; COLUMNS];
                for (l, solved) in row.iter().zip(solved.iter()) {
                    sums.iter_mut().zip(solved).for_each(|(sum, b)| *sum += l * b);
                }
                values.iter_mut().zip(sums).for_each(|(value, sum)| *value = (*value - sum) / pivot);
            }
        }
        b
    }

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
        let columns = factor.forward_each(vec![[8.0, 1.0], [7.0, -2.0]]);
        for (k, b) in [vec![8.0, 7.0], vec![1.0, -2.0]].into_iter().enumerate() {
            assert_eq!(factor.forward(b), columns.iter().map(|row| row[k]).collect::<Vec<_>>());
        }
        let x = factor.solve(vec![8.0, 7.0]);
        assert!(m.times(&x).iter().zip([8.0, 7.0]).all(|(a, b)| (a - b).abs() < 1e-14));
        assert!((m.quadratic(&[1.0, 1.0]) - 11.0).abs() < 1e-14);
    }

    /// Columns that were done for another matrix, equal in them, serve as well.
    #[test]
    fn a_factor_goes_on_from_its_first_columns() {
        let mut before = Symmetric::zeros(4);
        for (i, v) in
            [[2.0, 1.0, 0.5, 0.3], [0.0, 3.0, 1.0, -0.2], [0.0, 0.0, 1.5, 0.7], [0.0, 0.0, 0.0, 2.0]]
                .iter()
                .enumerate()
        {
            before.add_outer(1.0 + i as f64, v);
        }
        before.mirror();
        let mut after = before.clone();
        after.add_diagonal(2, 0.4);
        after.add_diagonal(3, 1.1);
        for columns in 0..=2 {
            assert_eq!(after.end_factor(before.begin_factor(columns).unwrap()), after.factor());
        }
        assert_ne!(after.end_factor(before.begin_factor(3).unwrap()), after.factor());
    }

    #[test]
    fn a_column_that_hangs_on_another_has_no_factor() {
        let mut m = Symmetric::zeros(2);
        m.add_outer(3.0, &[1.0, 2.0]);
        m.mirror();
        assert!(m.factor().is_none());
    }
}
