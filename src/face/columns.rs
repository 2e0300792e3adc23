//! The unknowns of the fit over the turn, and what each adds to a cell.
//!
//! Tilt and bend are shapes over the radius of which every line has its own amplitude. The amplitudes of one shape add up
//! to nothing (the face is the mean of the lines), so K lines have K − 1 unknowns, along orthonormal contrasts
//! (Helmert's). What the amplitudes are over the angle is asked only when all are known.

use super::cells::Cell;
use super::model::Shape;

/// Which corrections the readings are fitted with.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Terms {
    /// Shapes of tilt and bend.
    pub shapes: Vec<Shape>,
    /// Whether the face may stand off the spindle's axis.
    pub eccentric: bool,
    /// Lines whose sensor may drift and hang back.
    pub sensor: Vec<usize>,
    /// Lines of those whose zero is their own: where a sensor drifts, no reading of the line has the other lines' zero for certain.
    pub zeros: Vec<usize>,
}

/// The values of the unknowns.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Values {
    /// Of each shape, the amplitude of each line.
    pub amplitudes: Vec<Vec<f64>>,
    /// How far the face stands off along the angle zero and a quarter turn.
    pub eccentricity: [f64; 2],
    /// Of each line, drift, hysteresis and zero.
    pub sensor: Vec<[f64; 3]>,
}

/// The lines as the columns see them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Layout {
    /// Angle of each line.
    pub angles: Vec<f64>,
    /// The radius at which every shape is one.
    pub outermost: f64,
    /// Orthonormal contrasts: one row a line.
    contrasts: Vec<Vec<f64>>,
}

impl Layout {
    pub fn new(angles: Vec<f64>, outermost: f64) -> Self {
        let contrasts = contrasts(angles.len());
        Self { angles, outermost, contrasts }
    }

    /// How many unknowns a shape has.
    pub fn per_shape(&self) -> usize {
        self.angles.len().saturating_sub(1)
    }

    /// How many unknowns there are.
    pub fn count(&self, terms: &Terms) -> usize {
        terms.shapes.len() * self.per_shape()
            + 2 * usize::from(terms.eccentric)
            + 2 * terms.sensor.len()
            + terms.zeros.len()
    }

    /// What each unknown adds to a cell.
    pub fn row(&self, terms: &Terms, cell: &Cell, out: &mut Vec<f64>) {
        for shape in &terms.shapes {
            self.add_shape(*shape, cell, out);
        }
        if terms.eccentric {
            let (s, c) = self.angles.get(cell.line).copied().unwrap_or(0.0).sin_cos();
            out.extend([-cell.slope * c, -cell.slope * s]);
        }
        for &line in &terms.sensor {
            let mine = f64::from(u8::from(line == cell.line));
            out.extend([mine * cell.time, mine * cell.inward]);
        }
        out.extend(terms.zeros.iter().map(|&line| f64::from(u8::from(line == cell.line))));
    }

    /// What the unknowns of one shape add to a cell.
    pub fn add_shape(&self, shape: Shape, cell: &Cell, out: &mut Vec<f64>) {
        if let Some(contrasts) = self.contrasts.get(cell.line) {
            let height = shape.at(cell.x, self.outermost);
            out.extend(contrasts.iter().map(|c| c * height));
        }
    }

    /// The unknowns by their meaning.
    pub fn values(&self, terms: &Terms, solution: &[f64]) -> Values {
        let per = self.per_shape();
        let mut rest = solution;
        let mut take = |n: usize| {
            let (head, tail) = rest.split_at_checked(n).unwrap_or((rest, &[]));
            rest = tail;
            head
        };
        let amplitudes = terms.shapes.iter().map(|_| self.amplitudes(take(per))).collect();
        let eccentricity = match terms.eccentric.then(|| take(2)) {
            Some(&[c, s]) => [c, s],
            _ => [0.0; 2],
        };
        let mut sensor = vec![[0.0; 3]; self.angles.len()];
        for &line in &terms.sensor {
            if let (&[drift, hysteresis], Some(of)) = (take(2), sensor.get_mut(line)) {
                *of = [drift, hysteresis, 0.0];
            }
        }
        for &line in &terms.zeros {
            if let (&[zero], Some([.., of])) = (take(1), sensor.get_mut(line)) {
                *of = zero;
            }
        }
        Values { amplitudes, eccentricity, sensor }
    }

    fn amplitudes(&self, contrast: &[f64]) -> Vec<f64> {
        self.contrasts.iter().map(|row| row.iter().zip(contrast).map(|(a, b)| a * b).sum()).collect()
    }

    /// The contrasts, one row a line.
    pub fn contrasts(&self) -> &[Vec<f64>] {
        &self.contrasts
    }

    /// How far each line is moved along the radius by an eccentricity.
    pub fn shifts(&self, [c, s]: [f64; 2]) -> Vec<f64> {
        self.angles.iter().map(|a| c * a.cos() + s * a.sin()).collect()
    }
}

/// Helmert's contrasts: columns of length one, at right angles to each other and to the constant.
fn contrasts(lines: usize) -> Vec<Vec<f64>> {
    let element = |line: usize, column: usize| {
        let n = column as f64 + 1.0;
        let scale = (n * (n + 1.0)).sqrt().recip();
        match line {
            l if l <= column => scale,
            l if l == column + 1 => -n * scale,
            _ => 0.0,
        }
    };
    (0..lines).map(|l| (0..lines.saturating_sub(1)).map(|c| element(l, c)).collect()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn contrasts_are_orthonormal_and_add_up_to_nothing() {
        for lines in 1..7 {
            let rows = contrasts(lines);
            for a in 0..lines.saturating_sub(1) {
                assert!(rows.iter().map(|r| r[a]).sum::<f64>().abs() < 1e-12);
                for b in 0..=a {
                    let product: f64 = rows.iter().map(|r| r[a] * r[b]).sum();
                    assert!((product - f64::from(u8::from(a == b))).abs() < 1e-12);
                }
            }
        }
    }
}
