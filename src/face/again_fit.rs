//! What passes took over the radius, as the bins of lines measured again show it.
//!
//! A constant and, where the bins show it, a part that grows with the radius (wear, spring, slides), one that grows with the slope of the
//! face (the tool stood off in X), and a bow, fitted robustly (Tukey's biweight). A term enters where it lessens the sum of squares by more
//! than [`WORTH`] (the size of a likelihood-ratio test: S. S. Wilks, 1938). What the terms leave is looked at in windows: where the metal stands
//! higher it is believed, for the next pass meets it; where it stands lower on one line it is damage.

use super::again::{Known, LEAST, Measured, PLAIN, STAYED, SensorZero, X_OFF};
use super::again_bins::{Bin, slope};
use super::again_error::AgainError;
use super::taken::{COVERAGE, Taken};
use crate::geometry::{Point, Profile};
use crate::numeric::cholesky::{Symmetric, dot};
use crate::numeric::grid::interpolate;
use crate::numeric::order::{median, quantile, sigma_about_zero};
use crate::numeric::robust::{tukey_loss, tukey_weight};

/// A term enters where it lessens the scaled sum of squares by more than this: by chance one in some thirteen hundred does.
const WORTH: f64 = 12.0;
/// Rounds of reweighting; the fit stands still after some ten.
const ROUNDS: usize = 20;
/// Scatter is judged by so many of a line's bins, and this many standard deviations hold so many normal values: where more than the
/// others lie off, a shape does not fit.
const MOST_BINS: f64 = 0.7;
const MOST_BINS_SIGMA: f64 = 1.036;
/// A departure from the terms is looked for in windows of this half width, millimetres.
const WINDOW: f64 = 6.0;

/// Least squares with weights that are deaf to what does not belong.
pub(super) struct Solved {
    pub values: Vec<f64>,
    pub covariance: Symmetric,
    /// By how many of their own standard errors the residuals scatter, at least one.
    pub scale: f64,
    /// The scaled sum of squares that Tukey's biweight leaves.
    loss: f64,
}

/// Solves rows of (regressors, value, standard error), with a weight that holds each unknown near nothing.
pub(super) fn robust(rows: &[(Vec<f64>, f64, f64)], hold: &[f64]) -> Option<Solved> {
    let n = rows.first()?.0.len();
    // The start is deaf already: the median of the first unknown, which is a constant.
    let mut all: Vec<f64> = rows.iter().map(|r| r.1).collect();
    let mut values = vec![0.0; n];
    *values.first_mut()? = median(&mut all)?;
    let (mut covariance, mut scale) = (Symmetric::zeros(n), 1.0);
    for _ in 0..ROUNDS {
        let sizes: Vec<f64> = rows.iter().map(|(x, y, e)| (y - dot(x, &values)) / e).collect();
        scale = sigma_about_zero(&mut sizes.clone())?.max(1.0);
        let mut normal = Symmetric::zeros(n);
        let mut right = vec![0.0; n];
        for ((x, y, e), t) in rows.iter().zip(&sizes) {
            let weight = tukey_weight(t / scale) / (e * e);
            normal.add_outer(weight, x);
            right.iter_mut().zip(x).for_each(|(r, x)| *r += weight * x * y);
        }
        normal.mirror();
        (0..n).for_each(|i| normal.add_diagonal(i, hold.get(i).copied().unwrap_or(0.0)));
        values = normal.factor()?.solve(right);
        covariance = normal.inverse()?;
    }
    let loss = rows.iter().map(|(x, y, e)| tukey_loss((y - dot(x, &values)) / e / scale)).sum();
    Some(Solved { values, covariance, scale, loss })
}

/// A shape of what was taken over the radius.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Term {
    /// The same everywhere.
    Even,
    /// From −½ at the innermost to ½ at the outermost radius of the zones.
    Outward,
    /// The slope of the face.
    Across,
    /// Its square, less the mean of that.
    Bow,
}

/// What was taken, as terms.
pub(super) struct Fit {
    terms: Vec<Term>,
    pub solved: Solved,
    /// The least standard deviation of a line's bins about the terms and its own level, millimetres.
    pub scatter: f64,
    /// Standard error of the part that grows with the slope, were it among the terms.
    across_error: f64,
    /// The middle of the zones and their width, millimetres.
    over: [f64; 2],
}

impl Fit {
    /// The terms that the bins show.
    pub fn best(measured: &Measured<'_>, cut: &[&Bin]) -> Self {
        let (from, to) = measured
            .zones
            .iter()
            .fold((f64::INFINITY, 0.0_f64), |(a, b), z| (a.min(z.from.as_mm()), b.max(z.to.as_mm())));
        let over = [f64::midpoint(from, to), (to - from).max(1.0)];
        let fitted = |terms: &[Term]| {
            let row = |b: &&Bin| (terms.iter().map(|t| t.at(b.x, b.slope, over)).collect(), b.taken, b.error);
            robust(&cut.iter().map(row).collect::<Vec<_>>(), &[])
        };
        let mut terms = vec![Term::Even];
        let mut solved = fitted(&terms);
        loop {
            let more = [Term::Outward, Term::Across, Term::Bow].into_iter().filter(|t| !terms.contains(t));
            let tried = more.filter_map(|term| {
                let with: Vec<Term> = terms.iter().copied().chain([term]).collect();
                let solved = fitted(&with)?;
                Some((with, solved))
            });
            let best = tried.min_by(|a, b| a.1.absolute_loss().total_cmp(&b.1.absolute_loss()));
            let Some((with, better)) = best else { break };
            let lessened =
                |old: &Solved| (old.absolute_loss() - better.absolute_loss()) / better.scale.powi(2);
            if solved.as_ref().is_some_and(|old| lessened(old) <= WORTH) {
                break;
            }
            (terms, solved) = (with, Some(better));
        }
        let solved = solved.unwrap_or(Solved {
            values: vec![0.0],
            covariance: Symmetric::zeros(1),
            scale: f64::INFINITY,
            loss: f64::INFINITY,
        });
        let mut with = terms.clone();
        with.retain(|t| *t != Term::Across);
        with.push(Term::Across);
        let across = fitted(&with).map(|s| {
            let last = with.len() - 1;
            s.covariance.get(last, last).max(0.0).sqrt() * s.scale
        });
        let across_error = across.unwrap_or(X_OFF);
        let fit = Self { terms, solved, scatter: 0.0, across_error, over };
        // Damage may lie on much of a line, but then not of every line.
        let of_lines = (0..measured.lines.len()).filter_map(|line| fit.scatter_of(line, cut));
        let scatter = of_lines.fold(f64::INFINITY, f64::min);
        Self { scatter, ..fit }
    }

    /// Standard deviation of most of a line's bins about the terms and its own level, which a seat that changed moves; none of a line without bins.
    fn scatter_of(&self, line: usize, cut: &[&Bin]) -> Option<f64> {
        let of_line = cut.iter().filter(|b| b.line == line);
        let mut left: Vec<f64> = of_line.map(|b| b.taken - self.at(b.x, b.slope)).collect();
        let level = median(&mut left)?;
        for l in &mut left {
            *l = (*l - level).abs();
        }
        Some(quantile(&mut left, MOST_BINS)? / MOST_BINS_SIGMA)
    }

    fn row(&self, x: f64, slope: f64) -> Vec<f64> {
        self.terms.iter().map(|t| t.at(x, slope, self.over)).collect()
    }

    pub fn at(&self, x: f64, slope: f64) -> f64 {
        dot(&self.row(x, slope), &self.solved.values)
    }

    fn variance(&self, x: f64, slope: f64) -> f64 {
        self.solved.covariance.quadratic(&self.row(x, slope)).max(0.0) * self.solved.scale.powi(2)
    }

    fn term(&self, term: Term) -> Option<Known> {
        let i = self.terms.iter().position(|t| *t == term)?;
        let error = self.solved.covariance.get(i, i).max(0.0).sqrt() * self.solved.scale;
        Some(Known { value: *self.solved.values.get(i)?, error })
    }

    pub fn outward(&self) -> Option<Known> {
        self.term(Term::Outward)
    }

    /// A tool that stands outward by a length leaves the face as it would be so much farther inward: it takes the slope times that more.
    pub fn across(&self, zero: &SensorZero) -> Option<Known> {
        let found = self.term(Term::Across)?;
        Some(Known { error: found.error.hypot(zero.across.error), ..found })
    }

    /// How far a sensor that was set anew may stand off in X unseen, one standard error, millimetres. On slopes that is read as metal that
    /// the tool took, so that where nothing shows of either, neither is off; where something shows, it may be the one or the other.
    fn sensor_across(&self, zero: &SensorZero) -> f64 {
        let shown = self.term(Term::Across).map_or(0.0, |k| k.value.abs());
        zero.across.error.min(shown + self.across_error)
    }

    /// Where the metal departs from the terms: radius and how much more was taken there, in rising radius. A bin that was not cut
    /// says something only where the tool would have had to cut it.
    pub fn departures(&self, measured: &Measured<'_>, inside: &[&Bin]) -> Vec<(f64, f64)> {
        let speaks = |b: &&&Bin| b.is_cut(LEAST) || b.taken < self.at(b.x, b.slope);
        let cut: Vec<&Bin> = inside.iter().filter(speaks).copied().collect();
        let lines = measured.lines.len();
        let mut all = Vec::new();
        for zone in measured.zones {
            let mut at = zone.from.as_mm();
            while at <= zone.to.as_mm() {
                let near = |line: Option<usize>| {
                    let here =
                        cut.iter().filter(|b| (b.x - at).abs() <= WINDOW && line.is_none_or(|l| b.line == l));
                    let left: Vec<(f64, f64)> =
                        here.map(|b| (b.taken - self.at(b.x, b.slope), b.error)).collect();
                    window(left)
                };
                let departs = |k: &Known| k.value.abs() > PLAIN * k.error * self.solved.scale + LEAST;
                // Lower on every line is the tool's doing; lower on one line may be damage.
                let each: Vec<Known> = (0..lines).filter_map(|l| near(Some(l))).collect();
                let agreed = each.len() >= 2 && each.iter().all(|k| k.value > 0.0 && departs(k));
                let by = match near(None).filter(departs) {
                    Some(k) if k.value < 0.0 => k.value,
                    Some(_) if agreed => each.iter().map(|k| k.value).fold(f64::INFINITY, f64::min),
                    _ => 0.0,
                };
                all.push((at, by));
                at += WINDOW / 2.0;
            }
        }
        all
    }

    /// What was taken over every radius of the face.
    pub fn taken(
        &self,
        measured: &Measured<'_>,
        departs: &[(f64, f64)],
        zero: &SensorZero,
    ) -> Result<Taken, AgainError> {
        let inside = |x: f64| measured.zones.iter().any(|z| z.from.as_mm() <= x && x <= z.to.as_mm());
        let points = measured.followed.points();
        let place = |p: &Point| {
            if !inside(p.x) {
                return (0.0, 0.0);
            }
            let slope = slope(measured.followed, p.x);
            let depth = self.at(p.x, slope) + interpolate(departs, p.x);
            let across = self.sensor_across(zero) * slope;
            let face = measured.model.face_error_at(p.x).min(STAYED);
            let error =
                (self.variance(p.x, slope) + zero.at.error.powi(2) + across.powi(2) + face * face).sqrt();
            (depth, error)
        };
        let mut places: Vec<(f64, f64, f64)> = points
            .iter()
            .map(|p| {
                let (depth, error) = place(p);
                (p.x, depth, error)
            })
            .collect();
        // A pass would meet such metal first, and take more than its depth.
        let higher = |p: &&(f64, f64, f64)| p.1 < -(STAYED + COVERAGE * p.2);
        if let Some(&(at, depth, error)) = places.iter().filter(higher).min_by(|a, b| a.1.total_cmp(&b.1)) {
            return Err(AgainError::Higher { by: -depth, within: COVERAGE * error, at });
        }
        for place in &mut places {
            place.1 = place.1.max(0.0);
        }
        let profile = |of: fn(&(f64, f64, f64)) -> f64| {
            Profile::new(places.iter().map(|p| Point::new(p.0, of(p))).collect())
        };
        Ok(Taken { depth: profile(|p| p.1)?, error: profile(|p| p.2)? })
    }

    /// The mean over the zones, each millimetre of radius alike.
    pub fn mean(&self, measured: &Measured<'_>, zero: &SensorZero) -> Known {
        let mut rows: Vec<Vec<f64>> = Vec::new();
        for zone in measured.zones {
            let mut x = zone.from.as_mm();
            while x <= zone.to.as_mm() {
                rows.push(self.row(x, slope(measured.followed, x)));
                x += 1.0;
            }
        }
        let n = rows.len().max(1) as f64;
        let mean: Vec<f64> =
            (0..self.terms.len()).map(|i| rows.iter().filter_map(|r| r.get(i)).sum::<f64>() / n).collect();
        let own = self.solved.covariance.quadratic(&mean).max(0.0) * self.solved.scale.powi(2);
        Known { value: dot(&mean, &self.solved.values), error: (own + zero.at.error.powi(2)).sqrt() }
    }
}

impl Solved {
    /// The loss in the rows' own standard errors, so that fits of different scatter compare.
    fn absolute_loss(&self) -> f64 {
        self.loss * self.scale * self.scale
    }
}

impl Term {
    fn at(self, x: f64, slope: f64, [middle, width]: [f64; 2]) -> f64 {
        let share = (x - middle) / width;
        match self {
            Self::Even => 1.0,
            Self::Outward => share,
            Self::Across => slope,
            Self::Bow => share * share - 1.0 / 12.0,
        }
    }
}

/// The median of a window's departures, and its standard error.
pub(super) fn window(left: Vec<(f64, f64)>) -> Option<Known> {
    let n = left.len();
    if n < 6 {
        return None;
    }
    let mean_error = left.iter().map(|l| l.1).sum::<f64>() / n as f64;
    let mut values: Vec<f64> = left.into_iter().map(|l| l.0).collect();
    // The standard error of a median of normal values is √(π/2) times that of their mean.
    let error = mean_error * (std::f64::consts::FRAC_PI_2 / n as f64).sqrt();
    Some(Known { value: median(&mut values)?, error })
}
