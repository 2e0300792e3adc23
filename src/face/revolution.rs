//! What the lines' amplitudes are over the whole turn: harmonics, chosen by evidence.
//!
//! Each shape of tilt and bend has an amplitude on every line; between the lines the wheel is what a few harmonics make
//! of it. The harmonics are asked for in millimetres at as many radii as there are shapes, not as coefficients of shapes
//! that overlap. Each order has a prior size, so that a set is weighed by its evidence (how likely it makes the readings,
//! over all sizes that it allows) and not by its fit alone: D. J. C. `MacKay`, Bayesian Interpolation (1992). Ring readings
//! join as they are, with a zero of their own.
//!
//! Limits: four lines cannot size two lobes, six cannot size three; what remains possible stands in [`Turn::rivals`] and
//! in the covariance, which keeps the prior's width where nothing was seen.

use super::columns::Layout;
use super::model::{Ring, Rival, Shape, Turn};
use crate::numeric::bayes::Information;
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
/// A wheel may be bent by that, by a quarter or by a sixteenth: with one size for all, lines on which an order hardly shows
/// would make a large bend of it out of a small one of another order that they show well.
const SCALES: [f64; 3] = [1.0, 0.25, 0.0625];
/// What no harmonic explains on a sound wheel, millimetres.
const UNEXPLAINED: f64 = 0.0015;
/// Rivals up to this much worse (twice the difference of the log evidence) remain possible.
const RIVALS_WITHIN: f64 = 10.0;
/// The zero of ring readings may be anywhere; once their mean is taken off, within this, millimetres.
const ANY_ZERO: f64 = 1.0;
/// Size of orders beyond those, millimetres.
const RARE_SIZE: f64 = 0.02;

/// Where readings round the wheel tell a bend at their radius, and few lines how it rises: the share of its size by which its unseen
/// parts may rise otherwise. One blow bends a wheel, and all its lobes begin about where it begins.
const RISES_OTHERWISE: f64 = 0.1;

/// Radii at which shapes are told apart are no nearer to each other than this share of the outermost.
const LEAST_APART: f64 = 0.05;
/// Lobes that a bend has, where it looks as if it had one.
const LOBES: [u32; 3] = [2, 3, 4];
/// Lobes that leave no more than this share of the lines' amplitudes explain them as well.
const AS_WELL: f64 = 0.15;

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
        let mut others: Vec<(f64, Turn)> = rivals.map(|c| (best.score - c.score, c.turn)).collect();
        if turn.orders == [1] && self.rings.is_empty() {
            // The first of those that explain the lines as well is more likely than a bend in one lobe.
            let mut lobed = LOBES.into_iter().filter_map(|lobes| self.lobed(&turn, lobes));
            if let Some((_, first)) = lobed.next() {
                others.extend(lobed);
                others.push((0.0, std::mem::replace(&mut turn, first)));
            }
        }
        turn.rivals = others
            .into_iter()
            .map(|(worse, other)| Rival { worse, differs: self.differs(&turn, &other), orders: other.orders })
            .collect();
        turn
    }

    /// The turn with its tilt as it is and its bends in so many lobes, where that explains the lines as well as one lobe, and how much worse
    /// it is for its size: twice the difference of the log evidence. Lobes that hardly show at the angles of the lines would have to be huge.
    ///
    /// A mounting tilts in proportion to the radius. What begins further out is the wheel's own, and a wheel bends in
    /// several lobes; but lines at even angles, one more than the lobes, show them as one.
    fn lobed(&self, one: &Turn, lobes: u32) -> Option<(f64, Turn)> {
        let lines = self.layout.angles.len();
        let per = self.layout.per_shape();
        if lines < 3 || !self.shapes.iter().any(|s| matches!(s, Shape::Hinge { .. })) {
            return None;
        }
        let mean_of = |row: &dyn Fn(&f64) -> [f64; 2]| {
            let sum = self.layout.angles.iter().map(row).fold([0.0; 2], |[a, b], [c, s]| [a + c, b + s]);
            sum.map(|v| v / lines as f64)
        };
        let mut coefficients = Vec::new();
        for (j, shape) in self.shapes.iter().enumerate() {
            let order = if matches!(shape, Shape::Hinge { .. }) { lobes } else { 1 };
            let waves = |angle: &f64| {
                let (s, c) = (f64::from(order) * angle).sin_cos();
                [c, s]
            };
            let mean = mean_of(&waves);
            let centred = |angle: &f64| {
                let [c, s] = waves(angle);
                [c - mean[0], s - mean[1]]
            };
            let contrasts = self.contrasts.get(j * per..(j + 1) * per)?;
            let amplitudes: Vec<f64> =
                self.layout.contrasts().iter().map(|row| dot(row, contrasts)).collect();
            let mut normal = Symmetric::zeros(2);
            let mut right = vec![0.0; 2];
            for (angle, a) in self.layout.angles.iter().zip(&amplitudes) {
                let row = centred(angle);
                normal.add_outer(1.0, &row);
                right.iter_mut().zip(row).for_each(|(r, b)| *r += a * b);
            }
            normal.mirror();
            let found = normal.factor()?.solve(right);
            let left =
                self.layout.angles.iter().zip(&amplitudes).map(|(angle, a)| a - dot(&centred(angle), &found));
            let left = left.map(|l| l * l).sum::<f64>();
            if order > 1 && left > AS_WELL * AS_WELL * dot(&amplitudes, &amplitudes) {
                return None;
            }
            let constant = -dot(&mean, &found);
            let [c, s] = <[f64; 2]>::try_from(found).ok()?;
            coefficients.push(if order > 1 {
                vec![constant, 0.0, 0.0, c, s]
            } else {
                vec![constant, c, s, 0.0, 0.0]
            });
        }
        // Lobes that look like one are known as well as the one.
        let place = |shape: usize, i: usize| {
            let hinge = matches!(self.shapes.get(shape), Some(Shape::Hinge { .. }));
            shape * 5 + if hinge && i > 0 { i + 2 } else { i }
        };
        let mut covariance = Symmetric::zeros(5 * self.shapes.len());
        for (a, i) in (0..self.shapes.len()).flat_map(|a| (0..3).map(move |i| (a, i))) {
            for (b, j) in (0..self.shapes.len()).flat_map(|b| (0..3).map(move |j| (b, j))) {
                covariance.set(place(a, i), place(b, j), one.covariance.get(a * 3 + i, b * 3 + j));
            }
        }
        let common = COMMON_SIZE.get(lobes as usize - 1).copied().unwrap_or(RARE_SIZE);
        let worse = self.compared.iter().map(|&r| {
            let height = |wave: usize| -> f64 {
                let of_shape = coefficients.iter().zip(self.heights(r));
                of_shape.map(|(c, h)| c.get(wave).copied().unwrap_or(0.0) * h).sum()
            };
            (height(3).hypot(height(4)) / common).powi(2)
        });
        let worse = worse.fold(0.0, f64::max);
        let turn = Turn {
            coefficients,
            covariance,
            orders: vec![1, lobes],
            rivals: Vec::new(),
            underdetermined: true,
        };
        (worse < RIVALS_WITHIN).then_some((worse, turn))
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
        // Two bends that begin near each other differ nowhere by much, but at one radius not at all.
        for i in (0..starts.len().saturating_sub(1)).rev() {
            starts[i] = starts[i].min(starts[i + 1] - LEAST_APART * outermost);
        }
        starts
    }

    /// The share of its outermost height that a bend has at each radius but the outermost, as the hinge rises that the lines show
    /// most of; none where nothing but lines was measured, or they show no hinge.
    fn rise(&self, radii: &[f64]) -> Vec<f64> {
        let per = self.layout.per_shape();
        let shown = |j: usize| self.contrasts.get(j * per..(j + 1) * per).map_or(0.0, |c| dot(c, c));
        let hinges = self.shapes.iter().enumerate().filter(|(_, s)| matches!(s, Shape::Hinge { .. }));
        let most = hinges.max_by(|a, b| shown(a.0).total_cmp(&shown(b.0)));
        let Some((_, hinge)) = most.filter(|_| !self.rings.is_empty()) else { return Vec::new() };
        let outermost = hinge.at(self.layout.outermost, self.layout.outermost);
        radii
            .iter()
            .take(radii.len().saturating_sub(1))
            .map(|&r| hinge.at(r, self.layout.outermost) / outermost)
            .collect()
    }

    /// Heights of the shapes at a radius.
    fn heights(&self, r: f64) -> Vec<f64> {
        self.shapes.iter().map(|s| s.at(r, self.layout.outermost)).collect()
    }

    fn candidate(&self, orders: &[u32], price: f64) -> Option<Candidate> {
        let radii = self.radii();
        let at_radii: Vec<Vec<f64>> = radii.iter().map(|&r| self.heights(r)).collect();
        let back = inverse(&at_radii)?;
        let lines: Vec<Vec<f64>> = self.layout.angles.iter().map(|&a| harmonics(orders, a)).collect();
        let rise = self.rise(&radii);
        let told = self.information(orders, (&at_radii, &back), (&lines, &rise))?;
        let outer = radii.len().saturating_sub(1);
        let prior = |scale: f64| -> Vec<f64> {
            let size = |m: u32, r: f64| {
                let common = COMMON_SIZE.get(m as usize - 1).copied().unwrap_or(RARE_SIZE);
                if m > 1 {
                    scale * common * r / self.layout.outermost
                } else {
                    common * r / self.layout.outermost
                }
            };
            let own = |t: usize, m: u32| {
                if m > 1 && t < outer && !rise.is_empty() { RISES_OTHERWISE } else { 1.0 }
            };
            let sizes = radii
                .iter()
                .enumerate()
                .flat_map(|(t, &r)| orders.iter().flat_map(move |&m| [(own(t, m) * size(m, r)).powi(2); 2]));
            sizes.collect()
        };
        let of_scales = SCALES.map(|scale| told.posterior(&prior(scale)));
        // The bend itself is told by its common size, the first, which leaves most open.
        let found = of_scales.first()?.as_ref()?;
        let evidence = mean_evidence(of_scales.iter().flatten().map(|p| p.evidence));
        let mut transform = transform(&back, &lines);
        for row in &mut transform {
            rising(row, orders, &rise);
        }
        let full = 2 * orders.len() + 1;
        let coefficients: Vec<f64> = transform.iter().map(|row| dot(row, &found.mean)).collect();
        let half: Vec<Vec<f64>> = transform.iter().map(|row| found.covariance.times(row)).collect();
        let mut covariance = Symmetric::zeros(transform.len());
        for (i, row) in half.iter().enumerate() {
            for (j, other) in transform.iter().enumerate().take(i + 1) {
                covariance.set(i, j, dot(row, other));
            }
        }
        let angles = lines.len() + self.rings.iter().map(|r| r.heights.len()).sum::<usize>();
        let turn = Turn {
            coefficients: coefficients.chunks(full).map(<[f64]>::to_vec).collect(),
            covariance,
            orders: orders.to_vec(),
            rivals: Vec::new(),
            underdetermined: angles < full,
        };
        Some(Candidate { turn, score: evidence - price })
    }

    /// The lines' contrasts in millimetres at the radii, and what each unknown adds to them.
    fn line_data(&self, at_radii: &[Vec<f64>], lines: &[Vec<f64>]) -> (Vec<Vec<f64>>, Vec<f64>) {
        let per = self.layout.per_shape();
        let width = lines.first().map_or(0, Vec::len);
        let (mut rows, mut data) = (Vec::new(), Vec::new());
        for (t, heights) in at_radii.iter().enumerate() {
            for c in 0..per {
                let mut row = vec![0.0; at_radii.len() * width];
                for (line, contrast) in lines.iter().zip(self.layout.contrasts()) {
                    for (q, h) in line.iter().enumerate() {
                        row[t * width + q] += contrast[c] * h;
                    }
                }
                rows.push(row);
                data.push(heights.iter().enumerate().map(|(j, h)| h * self.contrasts[j * per + c]).sum());
            }
        }
        (rows, data)
    }

    /// What lines and rings tell of the unknowns.
    fn information(
        &self,
        orders: &[u32],
        (at_radii, back): (&[Vec<f64>], &[Vec<f64>]),
        (lines, rise): (&[Vec<f64>], &[f64]),
    ) -> Option<Information> {
        let unknowns = at_radii.len() * 2 * orders.len();
        let (mut rows, data) = self.line_data(at_radii, lines);
        for row in &mut rows {
            rising(row, orders, rise);
        }
        let mut told = Information::new(unknowns, &rows, &data, &self.noise(at_radii))?;
        for ring in self.rings {
            let (mut rows, data) = self.ring_data(ring, orders, back);
            for row in &mut rows {
                rising(row, orders, rise);
            }
            let variance = ring.noise * ring.noise + UNEXPLAINED * UNEXPLAINED;
            told.add_with_zero(&rows, &data, variance, ANY_ZERO * ANY_ZERO);
        }
        Some(told)
    }

    /// The readings of a ring, and what each unknown adds to them.
    fn ring_data(&self, ring: &Ring, orders: &[u32], back: &[Vec<f64>]) -> (Vec<Vec<f64>>, Vec<f64>) {
        let heights = self.heights(ring.radius);
        let to_radii: Vec<f64> =
            (0..back.len()).map(|t| heights.iter().zip(back).map(|(h, row)| h * row[t]).sum()).collect();
        let mean = ring.heights.iter().map(|h| h.1).sum::<f64>() / ring.heights.len() as f64;
        let row = |&(angle, height): &(f64, f64)| {
            let h = harmonics(orders, angle);
            let row: Vec<f64> = to_radii.iter().flat_map(|w| h.iter().map(move |h| w * h)).collect();
            (row, height - mean - (self.eccentric)(ring.radius, angle))
        };
        ring.heights.iter().map(row).unzip()
    }

    /// The covariance of the lines' noise.
    fn noise(&self, at_radii: &[Vec<f64>]) -> Symmetric {
        let per = self.layout.per_shape();
        let mut noise = Symmetric::zeros(at_radii.len() * per);
        let between = |a: &[f64], c: usize, b: &[f64], d: usize| -> f64 {
            let row = |i: usize| {
                b.iter()
                    .enumerate()
                    .map(move |(j, h)| h * self.covariance.get(i * per + c, j * per + d))
                    .sum::<f64>()
            };
            a.iter().enumerate().map(|(i, h)| h * row(i)).sum()
        };
        for (s, a) in at_radii.iter().enumerate() {
            for (t, b) in at_radii.iter().enumerate() {
                for (c, d) in (0..per).flat_map(|c| (0..per).map(move |d| (c, d))) {
                    noise.set(s * per + c, t * per + d, between(a, c, b, d));
                }
            }
        }
        (0..noise.size()).for_each(|i| noise.add_diagonal(i, UNEXPLAINED * UNEXPLAINED));
        noise
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

/// Twice the logarithm of the mean likelihood whose logarithms, twice, are given.
fn mean_evidence(each: impl Iterator<Item = f64> + Clone) -> f64 {
    let most = each.clone().fold(f64::NEG_INFINITY, f64::max);
    let (sum, count) = each.fold((0.0, 0.0), |(sum, n), e| (sum + ((e - most) / 2.0).exp(), n + 1.0));
    most + 2.0 * (sum / f64::max(count, 1.0)).ln()
}

/// From millimetres at the radii to coefficients of the shapes, with the constant that makes the lines' mean nothing:
/// rows are coefficients, shape by shape.
fn transform(back: &[Vec<f64>], lines: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let width = lines.first().map_or(0, Vec::len);
    let mean: Vec<f64> =
        (0..width).map(|q| lines.iter().map(|l| l[q]).sum::<f64>() / lines.len() as f64).collect();
    let row = |of_shape: &[f64], f: usize| -> Vec<f64> {
        let share = |q: usize| match f {
            0 => -mean[q],
            f if f - 1 == q => 1.0,
            _ => 0.0,
        };
        of_shape.iter().flat_map(|b| (0..width).map(move |q| (b, q))).map(|(b, q)| b * share(q)).collect()
    };
    back.iter().flat_map(|of_shape| (0..=width).map(move |f| (of_shape, f))).map(|(s, f)| row(s, f)).collect()
}

/// A row that weighs millimetres at the radii, turned into one that weighs how far they lie off a bend which rises by shares of its
/// outermost height; the tilt of a mounting rises by itself.
fn rising(row: &mut [f64], orders: &[u32], rise: &[f64]) {
    let width = 2 * orders.len();
    let Some(outermost) = row.len().checked_sub(width) else { return };
    for (t, share) in rise.iter().enumerate() {
        for (k, _) in orders.iter().enumerate().filter(|(_, m)| **m > 1) {
            for q in [2 * k, 2 * k + 1] {
                let here = row.get(t * width + q).copied().unwrap_or(0.0);
                if let Some(at_rim) = row.get_mut(outermost + q) {
                    *at_rim += share * here;
                }
            }
        }
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
