//! What the lines' amplitudes are over the whole turn: harmonics, chosen by evidence.
//!
//! Each shape of tilt and bend has an amplitude on every line; between the lines the wheel is what a few harmonics make
//! of it. The harmonics are asked for in millimetres at as many radii as there are shapes, not as coefficients of shapes
//! that overlap. Each order has a prior size, so that a set is weighed by its evidence (how likely it makes the readings,
//! over all sizes that it allows) and not by its fit alone: D. J. C. MacKay, Bayesian Interpolation (1992). Ring readings
//! join as they are, with a zero of their own.
//!
//! Limits: four lines cannot size two lobes, six cannot size three; what remains possible stands in [`Turn::rivals`] and
//! in the covariance, which keeps the prior's width where nothing was seen.

use super::columns::Layout;
use super::model::{Ring, Rival, Shape, Turn};
use crate::numeric::cholesky::{Symmetric, dot};
use crate::numeric::harmonic::regressors;

/// Sets of orders that are weighed, tilt among them always, with the price of each: bends of two lobes are common, of
/// three seldom, of four seen now and then on wheels with four clamps.
const SETS: [(&[u32], f64); 6] = [
    (&[1], 0.0),
    (&[1, 2], 2.0),
    (&[1, 3], 5.0),
    (&[1, 2, 3], 7.0),
    (&[1, 2, 4], 9.0),
    (&[1, 2, 3, 4], 14.0),
];
/// Size that each order commonly has at the outermost radius, millimetres: tilt of a mounting, then bends.
const COMMON_SIZE: [f64; 4] = [0.3, 0.12, 0.12, 0.08];
/// What no harmonic explains on a sound wheel, millimetres.
const UNEXPLAINED: f64 = 0.0015;
/// Rivals up to this much worse (twice the difference of the log evidence) remain possible.
const RIVALS_WITHIN: f64 = 10.0;
/// The zero of ring readings may be anywhere, millimetres.
const ANY_ZERO: f64 = 100.0;

/// The data of the decomposition.
pub(super) struct Revolution<'a> {
    pub layout: &'a Layout,
    pub shapes: &'a [Shape],
    /// Contrasts of the shapes' amplitudes, shape by shape.
    pub contrasts: &'a [f64],
    /// Their covariance.
    pub covariance: &'a Symmetric,
    pub rings: &'a [Ring],
    /// Height of the eccentric face over itself at a ring's radius and an angle.
    pub eccentric: &'a dyn Fn(f64, f64) -> f64,
    /// The radii at which rivals are compared.
    pub compared: &'a [f64],
}

/// One set of orders fitted.
struct Candidate {
    turn: Turn,
    score: f64,
}

impl Revolution<'_> {
    /// The turn by the set of orders with the best evidence.
    pub fn solve(&self) -> Turn {
        let mut candidates: Vec<Candidate> =
            SETS.iter().filter_map(|(orders, price)| self.candidate(orders, *price)).collect();
        candidates.sort_by(|a, b| b.score.total_cmp(&a.score));
        let mut candidates = candidates.into_iter();
        let Some(best) = candidates.next() else {
            return Turn { orders: vec![1], ..Turn::default() };
        };
        let mut turn = best.turn;
        let rivals = candidates.take_while(|c| best.score - c.score < RIVALS_WITHIN);
        turn.rivals = rivals
            .map(|c| Rival {
                worse: best.score - c.score,
                differs: self.differs(&turn, &c.turn),
                orders: c.turn.orders,
            })
            .collect();
        turn
    }

    /// Radii as many as shapes, at which the shapes differ most: where the next one begins, and the outermost.
    fn radii(&self) -> Vec<f64> {
        let outermost = self.layout.outermost;
        let mut starts: Vec<f64> = self
            .shapes
            .iter()
            .filter_map(|s| match s {
                Shape::Hinge { start, .. } => Some(start.max(outermost / 2.0)),
                Shape::Proportional => None,
            })
            .collect();
        starts.sort_by(f64::total_cmp);
        starts.push(outermost);
        starts
    }

    fn candidate(&self, orders: &[u32], price: f64) -> Option<Candidate> {
        let (shapes, per) = (self.shapes.len(), self.layout.per_shape());
        let outermost = self.layout.outermost;
        let radii = self.radii();
        let width = 2 * orders.len();
        let unknowns = shapes * width;
        let shape_at = |r: f64| -> Vec<f64> { self.shapes.iter().map(|s| s.at(r, outermost)).collect() };
        let at_radii: Vec<Vec<f64>> = radii.iter().map(|&r| shape_at(r)).collect();
        let back = inverse(&at_radii)?;
        // Rows: contrasts in millimetres at the radii, then the ring readings.
        let mut rows: Vec<Vec<f64>> = Vec::new();
        let mut data: Vec<f64> = Vec::new();
        let lines: Vec<Vec<f64>> = self.layout.angles.iter().map(|&a| harmonics(orders, a)).collect();
        for (t, heights) in at_radii.iter().enumerate() {
            for c in 0..per {
                let mut row = vec![0.0; unknowns];
                for (line, contrast) in lines.iter().zip(self.layout.contrasts()) {
                    for (q, h) in line.iter().enumerate() {
                        row[t * width + q] += contrast[c] * h;
                    }
                }
                rows.push(row);
                data.push((0..shapes).map(|j| heights[j] * self.contrasts[j * per + c]).sum());
            }
        }
        let of_lines = rows.len();
        for ring in self.rings {
            let to_radii: Vec<f64> = {
                let heights = shape_at(ring.radius);
                (0..shapes).map(|t| (0..shapes).map(|j| heights[j] * back[j][t]).sum()).collect()
            };
            for &(angle, height) in &ring.heights {
                let h = harmonics(orders, angle);
                rows.push(to_radii.iter().flat_map(|w| h.iter().map(move |h| w * h)).collect());
                data.push(height - (self.eccentric)(ring.radius, angle));
            }
        }
        let prior: Vec<f64> = radii
            .iter()
            .flat_map(|r| {
                orders.iter().flat_map(move |&m| {
                    let size = COMMON_SIZE.get(m as usize - 1).copied().unwrap_or(0.02) * r / outermost;
                    [size * size; 2]
                })
            })
            .collect();
        // The covariance of the data's noise.
        let n = rows.len();
        let mut noise = Symmetric::zeros(n);
        for (a, ha) in at_radii.iter().enumerate() {
            for (b, hb) in at_radii.iter().enumerate() {
                for c in 0..per {
                    for d in 0..per {
                        let sum: f64 = (0..shapes)
                            .flat_map(|i| (0..shapes).map(move |j| (i, j)))
                            .map(|(i, j)| ha[i] * hb[j] * self.covariance.get(i * per + c, j * per + d))
                            .sum();
                        noise.set(a * per + c, b * per + d, sum);
                    }
                }
            }
        }
        (0..of_lines).for_each(|i| noise.add_diagonal(i, UNEXPLAINED * UNEXPLAINED));
        let mut start = of_lines;
        for ring in self.rings {
            let end = start + ring.heights.len();
            for i in start..end {
                for j in start..i {
                    noise.set(i, j, ANY_ZERO * ANY_ZERO);
                }
                noise.set(i, i, ANY_ZERO * ANY_ZERO + ring.noise * ring.noise + UNEXPLAINED * UNEXPLAINED);
            }
            start = end;
        }
        // Posterior: S = A·P·Aᵀ + N, mean = P·Aᵀ·S⁻¹·d, covariance = P − P·Aᵀ·S⁻¹·A·P.
        let mut s = noise;
        for i in 0..n {
            for j in 0..=i {
                let product: f64 = (0..unknowns).map(|q| rows[i][q] * prior[q] * rows[j][q]).sum();
                s.set(i, j, s.get(i, j) + product);
            }
        }
        let factor = s.factor()?;
        let solved = factor.solve(data.clone());
        let score = -dot(&data, &solved) - factor.log_determinant() - price;
        let mean: Vec<f64> =
            (0..unknowns).map(|q| prior[q] * (0..n).map(|i| rows[i][q] * solved[i]).sum::<f64>()).collect();
        let halves: Vec<Vec<f64>> =
            (0..unknowns).map(|q| factor.forward((0..n).map(|i| rows[i][q] * prior[q]).collect())).collect();
        let posterior = |p: usize, q: usize| {
            let own = if p == q { prior[p] } else { 0.0 };
            own - dot(&halves[p], &halves[q])
        };
        // From millimetres at radii to coefficients of shapes, and the constant that makes the lines' mean nothing.
        let full = width + 1;
        let mean_of_lines: Vec<f64> =
            (0..width).map(|q| lines.iter().map(|l| l[q]).sum::<f64>() / lines.len() as f64).collect();
        let to_full = |j: usize| -> Vec<Vec<f64>> {
            // Rows of coefficients of shape j by the unknowns.
            (0..full)
                .map(|f| {
                    let mut row = vec![0.0; unknowns];
                    for t in 0..shapes {
                        for q in 0..width {
                            row[t * width + q] = match f {
                                0 => -back[j][t] * mean_of_lines[q],
                                f if f - 1 == q => back[j][t],
                                _ => 0.0,
                            };
                        }
                    }
                    row
                })
                .collect()
        };
        let transform: Vec<Vec<f64>> = (0..shapes).flat_map(to_full).collect();
        let coefficients: Vec<Vec<f64>> =
            (0..shapes).map(|j| (0..full).map(|f| dot(&transform[j * full + f], &mean)).collect()).collect();
        let half: Vec<Vec<f64>> = transform
            .iter()
            .map(|row| (0..unknowns).map(|q| (0..unknowns).map(|p| row[p] * posterior(p, q)).sum()).collect())
            .collect();
        let mut covariance = Symmetric::zeros(shapes * full);
        for i in 0..shapes * full {
            for j in 0..=i {
                covariance.set(i, j, dot(&half[i], &transform[j]));
            }
        }
        let angles = self.layout.angles.len() + self.rings.iter().map(|r| r.heights.len()).sum::<usize>();
        let turn = Turn {
            coefficients,
            covariance,
            orders: orders.to_vec(),
            rivals: Vec::new(),
            underdetermined: angles < width + 1,
        };
        Some(Candidate { turn, score })
    }

    /// The most by which highest and lowest place differ between two turns at the compared radii.
    fn differs(&self, a: &Turn, b: &Turn) -> f64 {
        let range = |turn: &Turn, r: f64| {
            let heights: Vec<f64> = self.shapes.iter().map(|s| s.at(r, self.layout.outermost)).collect();
            (0..120).map(|i| std::f64::consts::TAU * f64::from(i) / 120.0).fold(
                (f64::INFINITY, f64::NEG_INFINITY),
                |(low, high), angle| {
                    let z = turn.departure(&heights, angle);
                    (low.min(z), high.max(z))
                },
            )
        };
        self.compared
            .iter()
            .map(|&r| {
                let ((a_low, a_high), (b_low, b_high)) = (range(a, r), range(b, r));
                (a_low - b_low).abs().max((a_high - b_high).abs())
            })
            .fold(0.0, f64::max)
    }
}

impl Turn {
    /// The departure at an angle, for the heights of the shapes at a radius.
    pub(super) fn departure(&self, heights: &[f64], angle: f64) -> f64 {
        let regressors = self.regressors(angle);
        self.coefficients.iter().zip(heights).map(|(row, h)| h * dot(row, &regressors)).sum()
    }
}

/// Cosine and sine of each order.
fn harmonics(orders: &[u32], angle: f64) -> Vec<f64> {
    regressors(orders, angle).split_off(1)
}

/// The inverse of a small matrix that is not symmetric, by its normal equations' rows: (MᵀM)⁻¹Mᵀ.
fn inverse(m: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let n = m.len();
    let mut normal = Symmetric::zeros(n);
    for row in m {
        normal.add_outer(1.0, row);
    }
    normal.mirror();
    let factor = normal.factor()?;
    let columns: Vec<Vec<f64>> = m.iter().map(|row| factor.solve(row.clone())).collect();
    Some((0..n).map(|i| columns.iter().map(|c| c[i]).collect()).collect())
}
