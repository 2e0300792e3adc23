//! All unknowns over the turn fitted at once, robustly, and the choice of which are earned.
//!
//! Every bin of radius has a height of its own (the face), which is centred out: only differences between lines at the
//! same radius speak about the turn. Weights are found by iteration: first those of the least sum of absolute values,
//! which no minority moves, then Tukey's, to which damage is silent.
//!
//! A term is *earned* where it lowers Tukey's loss by more than chance would, on the cells that it was fitted to and, by
//! turns, on alternate stretches of one millimetre that it was not fitted to. Candidates are looked for with Huber's
//! weights: redescending ones are deaf to what a new term would explain.

use super::cells::{CELL, Cell, coarser};
use super::columns::{Layout, Terms};
use super::model::Shape;
use crate::numeric::cholesky::{Symmetric, dot};
use crate::numeric::order::sigma_about_zero;
use crate::numeric::robust::{huber_weight, tukey_loss, tukey_weight};
use rayon::prelude::*;

/// A fit of the terms to the cells.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fitted {
    /// The unknowns.
    pub solution: Vec<f64>,
    /// Their normal equations: the inverse of their covariance.
    pub precision: Symmetric,
    /// What each cell leaves, in its own standard deviations.
    pub left: Vec<f64>,
    /// Tukey's loss of all cells.
    pub loss: f64,
}

/// Rounds with weights of the least absolute values, then with Tukey's; the unknowns stand still after these.
const ABSOLUTE_ROUNDS: usize = 4;
/// The same where another fit has weighed the cells already.
const ABSOLUTE_ROUNDS_ON: usize = 2;
const TUKEY_ROUNDS: usize = 6;
/// No cell moves by more than this share of its standard deviation any more.
const SETTLED: f64 = 0.02;
/// A term must lower the loss by this, and by so much for each unknown: twice what chance takes with one unknown, and
/// the price of having looked at many candidates.
const PRICE: f64 = 12.0;
const PRICE_PER_UNKNOWN: f64 = 2.0;
/// Bends beyond this many begin to follow damage.
const MOST_HINGES: usize = 3;
/// Radii at which a bend may begin are looked at this far apart first, millimetres.
const START_STEP: f64 = 8.0;
/// A term whose screening gains less than this share of the price is not looked at more closely: the screening hears
/// damage, which a closer look does not, so it seldom promises too little.
const PROMISING: f64 = 0.5;
/// Bends are looked for in cells of so many bins: two millimetres, of which a bend needs many.
const SCREENED: usize = 4;
/// A bend that begins nearer to the last radius than this cannot be told from damage at the edge, millimetres.
const SHORTEST_BEND: f64 = 12.0;

/// The cells to be fitted, with the layout of their unknowns.
pub(super) struct Problem<'a> {
    pub cells: &'a [Cell],
    pub layout: &'a Layout,
    /// The innermost radius measured.
    pub innermost: f64,
    /// Lines that were swept twice, on which drift and hysteresis can show.
    pub swept_twice: Vec<usize>,
}

/// Rows of the unknowns' contributions with the cells' values, in bins.
struct Rows {
    width: usize,
    values: Vec<f64>,
}

impl Problem<'_> {
    fn rows(&self, terms: &Terms) -> Rows {
        let width = self.layout.count(terms);
        let mut values = Vec::with_capacity(width * self.cells.len());
        for cell in self.cells {
            self.layout.row(terms, cell, &mut values);
        }
        Rows { width, values }
    }

    /// The rows of terms with one shape more, from those without it.
    fn rows_with(&self, without: &Rows, terms: &Terms, shape: Shape) -> Rows {
        let shapes = terms.shapes.len() * self.layout.per_shape();
        let width = without.width + self.layout.per_shape();
        let mut values = Vec::with_capacity(width * self.cells.len());
        for (i, cell) in self.cells.iter().enumerate() {
            let (of_shapes, others) = row(without, i).split_at(shapes);
            values.extend_from_slice(of_shapes);
            self.layout.add_shape(shape, cell, &mut values);
            values.extend_from_slice(others);
        }
        Rows { width, values }
    }

    /// Weighted least squares with each bin's mean taken out.
    fn solve(&self, rows: &Rows, weights: &[f64]) -> Option<(Vec<f64>, Symmetric)> {
        let p = rows.width;
        let mut normal = Symmetric::zeros(p);
        let mut right = vec![0.0; p];
        let mut mean = vec![0.0; p];
        let mut centred = vec![0.0; p];
        for group in bins(self.cells) {
            let mut total = 0.0;
            let mut middle = 0.0;
            mean.fill(0.0);
            for i in group.clone() {
                let (w, cell, row) = (weights[i], &self.cells[i], row(rows, i));
                total += w;
                middle += w * cell.value;
                mean.iter_mut().zip(row).for_each(|(m, a)| *m += w * a);
            }
            if total <= 0.0 {
                continue;
            }
            middle /= total;
            for m in &mut mean {
                *m /= total;
            }
            for i in group {
                let w = weights[i];
                if w == 0.0 {
                    continue;
                }
                centred.iter_mut().zip(row(rows, i)).zip(&mean).for_each(|((c, a), m)| *c = a - m);
                normal.add_outer(w, &centred);
                let y = w * (self.cells[i].value - middle);
                right.iter_mut().zip(&centred).for_each(|(r, c)| *r += y * c);
            }
        }
        normal.mirror();
        // A weak prior of one metre keeps unknowns that nothing speaks about at zero.
        for i in 0..p {
            normal.add_diagonal(i, 1e-6 + 1e-9 * normal.get(i, i));
        }
        let solution = normal.factor()?.solve(right);
        Some((solution, normal))
    }

    /// What each cell leaves of the terms and its bin's mean by the weights, in its own standard deviations times `scale`.
    fn left(&self, rows: &Rows, solution: &[f64], weights: &[f64], scale: f64) -> Vec<f64> {
        let mut left: Vec<f64> =
            self.cells.iter().enumerate().map(|(i, c)| c.value - dot(row(rows, i), solution)).collect();
        for group in bins(self.cells) {
            let total: f64 = group.clone().map(|i| weights[i]).sum();
            let middle = if total > 0.0 {
                group.clone().map(|i| weights[i] * left[i]).sum::<f64>() / total
            } else {
                Self::middle_of(&group, &left)
            };
            for i in group {
                // A cell's own share of the mean makes what it leaves too small.
                let share = if total > 0.0 { (weights[i] / total).min(0.5) } else { 0.5 };
                left[i] = (left[i] - middle) / (self.cells[i].sigma * scale * (1.0 - share).sqrt());
            }
        }
        left
    }

    /// The median of a bin.
    fn middle_of(group: &std::ops::Range<usize>, left: &[f64]) -> f64 {
        let mut here: Vec<f64> = group.clone().map(|i| left[i]).collect();
        crate::numeric::order::median(&mut here).unwrap_or(0.0)
    }

    /// The robust fit of a set of terms to the cells for which `counts` holds; the others are only looked at. It sets out
    /// from what another fit leaves of the cells, if there is one.
    pub fn fit(
        &self,
        terms: &Terms,
        scale: f64,
        start: Option<&Fitted>,
        counts: &dyn Fn(&Cell) -> bool,
    ) -> Option<Fitted> {
        let rows = self.rows(terms);
        let base: Vec<f64> = self.cells.iter().map(|c| (c.sigma * scale).powi(-2)).collect();
        let counted: Vec<bool> = self.cells.iter().map(counts).collect();
        let fitted_to = |weights: &[f64]| -> Vec<f64> {
            weights.iter().zip(&counted).map(|(w, c)| if *c { *w } else { 0.0 }).collect()
        };
        let (mut left, absolute_rounds) = if let Some(start) = start {
            (start.left.clone(), ABSOLUTE_ROUNDS_ON)
        } else {
            let (solution, _) = self.solve(&rows, &fitted_to(&base))?;
            (self.left(&rows, &solution, &base, scale), ABSOLUTE_ROUNDS)
        };
        let mut found = None;
        for round in 0..absolute_rounds + TUKEY_ROUNDS {
            let weight = |t: f64| {
                if round < absolute_rounds { t.abs().max(0.3).recip() } else { tukey_weight(t) }
            };
            let weights: Vec<f64> = base.iter().zip(&left).map(|(b, t)| b * weight(*t)).collect();
            let (solution, precision) = self.solve(&rows, &fitted_to(&weights))?;
            let next = self.left(&rows, &solution, &weights, scale);
            let moved = next.iter().zip(&left).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            left = next;
            found = Some((solution, precision));
            if round > absolute_rounds && moved < SETTLED {
                break;
            }
        }
        let (solution, precision) = found?;
        let loss = left.iter().zip(&counted).filter(|(_, c)| **c).map(|(t, _)| tukey_loss(*t)).sum();
        Some(Fitted { solution, precision, left, loss })
    }

    /// By how many of their own standard deviations the cells of the middle half scatter; at least one.
    pub fn scale(fitted: &Fitted) -> f64 {
        // Bins with one cell leave nothing.
        let mut left: Vec<f64> = fitted.left.iter().copied().filter(|t| *t != 0.0).collect();
        sigma_about_zero(&mut left).unwrap_or(1.0).clamp(1.0, 4.0)
    }

    /// Whether a larger set of terms is earned over a smaller.
    fn earned(&self, smaller: &Terms, larger: &Terms, before: &Fitted, after: &Fitted, scale: f64) -> bool {
        let unknowns = self.layout.count(larger) - self.layout.count(smaller);
        let price = PRICE + PRICE_PER_UNKNOWN * unknowns as f64;
        if before.loss - after.loss < price {
            return false;
        }
        let gain = |half: usize| {
            let kept = |c: &Cell| block(c) % 2 == half;
            let judge = |terms: &Terms, start: &Fitted| {
                let fitted = self.fit(terms, scale, Some(start), &kept)?;
                let others = fitted.left.iter().zip(self.cells).filter(|(_, c)| !kept(c));
                Some(others.map(|(t, _)| tukey_loss(*t)).sum::<f64>())
            };
            let (smaller, larger) = rayon::join(|| judge(smaller, before), || judge(larger, after));
            Some(smaller? - larger?)
        };
        let (even, odd) = rayon::join(|| gain(0), || gain(1));
        even.zip(odd).is_some_and(|(even, odd)| even + odd > price)
    }

    /// The terms that the cells earn, beginning with those of `start`, with their fit.
    pub fn choose(&self, start: Terms) -> Option<(Terms, Fitted, f64)> {
        let mut terms = start;
        let all = |_: &Cell| true;
        let mut fitted = self.fit(&terms, 1.0, None, &all)?;
        let mut refused: Vec<Terms> = Vec::new();
        loop {
            let scale = 1.0;
            let mut best: Option<(Terms, Fitted)> = None;
            for candidate in self.candidates(&terms, &fitted) {
                if refused.contains(&candidate) {
                    continue;
                }
                let Some(after) = self.fit(&candidate, scale, Some(&fitted), &all) else { continue };
                let dear = |terms: &Terms, fitted: &Fitted| {
                    fitted.loss + PRICE_PER_UNKNOWN * self.layout.count(terms) as f64
                };
                if best.as_ref().is_some_and(|(t, b)| dear(t, b) <= dear(&candidate, &after)) {
                    continue;
                }
                if self.earned(&terms, &candidate, &fitted, &after, scale) {
                    best = Some((candidate, after));
                } else {
                    refused.push(candidate);
                }
            }
            let Some((next, after)) = best else { break };
            (terms, fitted) = (next, after);
        }
        // What was taken early may have been another term's that came later.
        while let Some((fewer, without)) = self.unearned(&terms, &fitted) {
            (terms, fitted) = (fewer, without);
        }
        let scale = Self::scale(&fitted);
        if scale > 1.0 {
            fitted = self.fit(&terms, scale, Some(&fitted), &all)?;
        }
        Some((terms, fitted, scale))
    }

    /// The terms without one that they do not need any more, with their fit; the one that is missed least, if there are several.
    fn unearned(&self, terms: &Terms, fitted: &Fitted) -> Option<(Terms, Fitted)> {
        let hinge = |s: &Shape| matches!(s, Shape::Hinge { .. });
        let mut fewer: Vec<Terms> = (0..terms.shapes.len())
            .filter(|&i| terms.shapes.get(i).is_some_and(hinge))
            .map(|i| {
                let kept = terms.shapes.iter().enumerate().filter(|(j, _)| *j != i);
                Terms { shapes: kept.map(|(_, s)| *s).collect(), ..terms.clone() }
            })
            .collect();
        if !terms.sensor.is_empty() {
            fewer.push(Terms { sensor: Vec::new(), zeros: Vec::new(), ..terms.clone() });
        }
        if !terms.zeros.is_empty() {
            fewer.push(Terms { zeros: Vec::new(), ..terms.clone() });
        }
        if terms.zeros.len() > 1 {
            let without = |line: &usize| terms.zeros.iter().copied().filter(|l| l != line).collect();
            fewer.extend(terms.zeros.iter().map(|line| Terms { zeros: without(line), ..terms.clone() }));
        }
        // One that came last was judged when it came. The eccentricity stays: the cells were taken with the lines moved by it.
        if fewer.len() < 2 && !terms.eccentric {
            return None;
        }
        let fits = fewer.into_iter().filter_map(|smaller| {
            let without = self.fit(&smaller, 1.0, Some(fitted), &|_| true)?;
            (!self.earned(&smaller, terms, &without, fitted, 1.0)).then_some((smaller, without))
        });
        fits.min_by(|a, b| a.1.loss.total_cmp(&b.1.loss))
    }

    /// The terms with one more, the most promising of each kind, by Huber's weights: those that could be earned.
    fn candidates(&self, terms: &Terms, fitted: &Fitted) -> Vec<Terms> {
        let weights: Vec<f64> = self
            .cells
            .iter()
            .zip(&fitted.left)
            .map(|(c, t)| huber_weight(*t) / (c.sigma * c.sigma))
            .collect();
        let mut out = Vec::new();
        let mut single = Vec::new();
        if !terms.eccentric && self.layout.angles.len() >= 3 {
            single.push(Terms { eccentric: true, ..terms.clone() });
        }
        let free: Vec<usize> =
            self.swept_twice.iter().copied().filter(|l| !terms.sensor.contains(l)).collect();
        if !free.is_empty() {
            let sensor = terms.sensor.iter().copied().chain(free).collect();
            single.push(Terms { sensor, ..terms.clone() });
        }
        if terms.zeros.is_empty() && !terms.sensor.is_empty() {
            single.push(Terms { zeros: terms.sensor.clone(), ..terms.clone() });
        }
        // A sensor that was set anew, or moved, between the lines: one line has a zero of its own, or each but one that keeps the zero of all.
        let lines = self.layout.angles.len();
        if terms.zeros.len() + 1 < lines {
            let all_but_one = (1..lines).collect();
            let one_more = (0..lines).filter(|line| !terms.zeros.contains(line));
            let sets = one_more.map(|line| terms.zeros.iter().copied().chain([line]).collect());
            single.extend(sets.chain([all_but_one]).map(|zeros| Terms { zeros, ..terms.clone() }));
        }
        // Eccentricity shows on walls, which are narrow: these are screened on the cells as they are.
        let loss = |t: &Terms| self.huber_loss(&self.rows(t), &weights);
        if !single.is_empty()
            && let Some(before) = loss(terms)
        {
            let promises = |t: &Terms| loss(t).is_some_and(|after| before - after > PROMISING * PRICE);
            out.extend(single.into_iter().filter(promises));
        }
        let hinges = terms.shapes.iter().filter(|s| matches!(s, Shape::Hinge { .. })).count();
        if hinges < MOST_HINGES && self.layout.per_shape() > 0 {
            let merged = coarser(self.cells, &weights, SCREENED);
            let weights: Vec<f64> = merged.iter().map(|c| c.sigma.powi(-2)).collect();
            let coarse = Problem { cells: &merged, swept_twice: Vec::new(), ..*self };
            out.extend(coarse.best_hinge(terms, &weights));
        }
        out
    }

    /// Huber's loss of a fit at given weights, so that damage cannot buy a bend by its square.
    fn huber_loss(&self, rows: &Rows, weights: &[f64]) -> Option<f64> {
        let (solution, _) = self.solve(rows, weights)?;
        let left = self.left(rows, &solution, weights, 1.0);
        Some(left.iter().map(|t| huber_weight(*t) * t * t * (2.0 - huber_weight(*t))).sum())
    }

    /// The bend that lowers Huber's loss most at given weights, if it lowers it enough to be worth a closer look.
    fn best_hinge(&self, terms: &Terms, weights: &[f64]) -> Option<Terms> {
        let last = self.layout.outermost - SHORTEST_BEND;
        let without = self.rows(terms);
        let loss = |start: f64, power: f64| {
            let rows = self.rows_with(&without, terms, Shape::Hinge { start, power });
            self.huber_loss(&rows, weights)
        };
        let inside = std::iter::successors(Some(self.innermost), |start| Some(start + START_STEP));
        let starts: Vec<f64> = [0.0].into_iter().chain(inside).take_while(|start| *start <= last).collect();
        let mut tried: Vec<(f64, f64, f64)> =
            starts.into_par_iter().filter_map(|start| loss(start, 2.0).map(|s| (s, start, 2.0))).collect();
        let best = |of: &[(f64, f64, f64)]| of.iter().copied().min_by(|a, b| a.0.total_cmp(&b.0));
        let before = self.huber_loss(&without, weights)?;
        let (least, start, _) = best(&tried)?;
        if before - least < PROMISING * PRICE {
            return None;
        }
        tried.extend(loss(start, 1.5).map(|s| (s, start, 1.5)));
        let mut step = START_STEP / 2.0;
        while step > 0.4 {
            let (_, start, power) = best(&tried)?;
            for start in [start - step, start + step] {
                if start > 0.0 && start <= last {
                    for power in [power, 3.5 - power] {
                        tried.extend(loss(start, power).map(|s| (s, start, power)));
                    }
                }
            }
            step /= 2.0;
        }
        let (_, start, power) = best(&tried)?;
        let mut larger = terms.clone();
        larger.shapes.push(Shape::Hinge { start, power });
        Some(larger)
    }
}

/// Alternate stretches of one millimetre.
fn block(cell: &Cell) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a constant of a few")]
    let cells = (1.0 / CELL).round() as usize;
    cell.bin / cells
}

fn row(rows: &Rows, i: usize) -> &[f64] {
    rows.values.get(i * rows.width..(i + 1) * rows.width).unwrap_or(&[])
}

/// The cells of each bin, as ranges.
fn bins(cells: &[Cell]) -> impl Iterator<Item = std::ops::Range<usize>> + '_ {
    let mut start = 0;
    cells.chunk_by(|a, b| a.bin == b.bin).map(move |group| {
        let range = start..start + group.len();
        start = range.end;
        range
    })
}
