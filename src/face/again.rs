//! Lines measured again after passes were cut: what was really taken, and what damage is left.
//!
//! A tool leaves one height at a radius all round, whatever the wheel runs out: a line reads the surface that the tool left, or, where
//! the tool did not reach, the face as it was. So in the zones a reading below the face as it was is of the cut surface or of damage
//! below it; readings outside the zones are of metal that was not cut, and tell the zero of the sensor and whether the wheel still
//! sits as it did.
//!
//! Readings are gathered in narrow bins of radius (medians). What was taken is fitted robustly (Tukey's biweight) as a constant and, where the bins
//! show it, a part that grows with the radius (wear, spring, slides), one that grows with the slope of the face (the tool stood off in
//! X), and a bow; a term enters where it lessens the sum of squares by more than [`WORTH`] (the size of a likelihood-ratio test: S. S. Wilks,
//! 1938). What the terms leave is looked at in windows: where the metal stands higher it is believed, for the next pass meets it; where
//! it stands lower on one line it is damage.
//!
//! Limits: a sensor set anew and a tool that stand off in X by the same are not told apart from both being right. Metal that went off evenly
//! with a zero that moved by the same cannot be told from a zero that stayed. One line alone cannot show that the wheel was seated anew.
//! Narrower than a bin nothing is seen.

use super::again_bins::{Bin, bins};
pub use super::again_error::AgainError;
use super::model::WheelModel;
use super::taken::{COVERAGE, Taken};
use crate::geometry::{Point, Profile};
use crate::job::{Zero, Zone};
use crate::numeric::cholesky::{Symmetric, dot};
use crate::numeric::order::{median, quantile, sigma_about_zero};
use crate::numeric::robust::tukey_weight;
use crate::scan::{MeasuredLine, Stretch};

/// A term enters where it lessens the scaled sum of squares by more than this: by chance one in some thirteen hundred does.
const WORTH: f64 = 12.0;
/// Rounds of reweighting; the fit stands still after some ten.
const ROUNDS: usize = 20;
/// Fewest bins of metal that was not cut for a zero to be taken from it: 5 mm of one line.
const LEAST_UNCUT: usize = 10;
/// Fewest bins of the cut surface for an answer, and their least share of the zones: a first pass may touch a third of the turn.
const LEAST_CUT: usize = 40;
const LEAST_SHARE: f64 = 0.2;
/// How far a sensor that is set anew may stand off in X, one standard deviation, millimetres. Our own choice: the care that `x_offset` is set with.
const X_OFF: f64 = 0.1;
/// A zero or a seat that differs by less than this and its own uncertainty stayed, millimetres: half of what a dial indicator shows.
pub const STAYED: f64 = 0.02;
/// Bins of one wheel scatter about the fit by no more than this (one standard deviation), millimetres; those of another wheel by far more.
const SAME_WHEEL: f64 = 0.06;
/// So many of a line's bins are looked at for that, and this many standard deviations hold so many normal values: where more than the
/// others lie off, a shape does not fit.
const MOST_BINS: f64 = 0.7;
const MOST_BINS_SIGMA: f64 = 1.036;
/// A departure from the terms is looked for in windows of this half width, millimetres.
const WINDOW: f64 = 6.0;
/// So many standard errors, and this much beside, are needed for a departure or for damage, millimetres: what texture and the faces' own errors leave.
const PLAIN: f64 = 4.0;
const LEAST: f64 = 0.006;
/// Where a zone ends the nose leaves a fillet: bins this near to an end say nothing of the depth, millimetres.
pub const ZONE_END: f64 = 2.5;

/// What was measured, first and again.
#[derive(Debug, Clone, Copy)]
pub struct Measured<'a> {
    /// The model of the wheel before it was cut.
    pub model: &'a WheelModel,
    /// The surface that the passes follow, as the sensor sees it.
    pub followed: &'a Profile,
    /// The lines measured again.
    pub lines: &'a [MeasuredLine],
    /// Where their zero comes from.
    pub zero: Zero,
    /// The zones that were cut.
    pub zones: &'a [Zone],
    /// Stretches that say nothing: left as they are, or without metal.
    pub silent: &'a [Stretch],
    /// The longest gap between bins inside a zone, millimetres.
    pub longest_gap: f64,
}

/// A number with its standard error.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Known {
    /// The number.
    pub value: f64,
    /// Its standard error.
    pub error: f64,
}

/// Damage that a line still shows.
#[derive(Debug, Clone, PartialEq)]
pub struct DamageLeft {
    /// Which of the new lines.
    pub line: usize,
    /// Where.
    pub stretch: Stretch,
    /// How far its deepest place lies below what the tool left, millimetres.
    pub depth: Known,
    /// Radius of that, millimetres.
    pub deepest_at: f64,
    /// Depth below what the tool left at each radius, in rising radius; nothing at both ends.
    pub profile: Vec<(f64, f64)>,
}

/// What lines measured again show.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// What was taken at every radius.
    pub taken: Taken,
    /// The sensor's zero against that of the first lines, millimetres.
    pub zero: Known,
    /// What was taken on the mean over the zones, millimetres.
    pub mean: Known,
    /// How much more was taken at the outermost than at the innermost radius of the zones, where the bins show it, millimetres.
    pub outward: Option<Known>,
    /// How far the tool stood off in X where the bins show it, millimetres: outward above nothing.
    pub across: Option<Known>,
    /// Damage that is left on the lines, in the order of lines and radii.
    pub left: Vec<DamageLeft>,
    /// Length of the new lines over metal that was not cut, millimetres: what tells whether zero and seat stayed; nothing where it is too
    /// little to tell.
    pub uncut: f64,
}

/// Finds what was taken.
///
/// # Errors
/// Where the lines do not tell it, with what to do: see [`AgainError`].
pub fn find(measured: &Measured<'_>) -> Result<Found, AgainError> {
    let all = bins(measured);
    let zero = zero(measured, &all)?;
    let corrected: Vec<Bin> = all.iter().map(|b| b.levelled(zero.at.value, zero.across.value)).collect();
    let inside: Vec<&Bin> = corrected.iter().filter(|b| b.zone.is_some()).collect();
    covered(measured, &corrected)?;
    let cut: Vec<&Bin> = inside.iter().copied().filter(|b| b.is_cut(LEAST)).collect();
    let share = cut.len() as f64 / inside.len().max(1) as f64;
    if cut.len() < LEAST_CUT || share < LEAST_SHARE {
        return Err(grown(&inside).unwrap_or(AgainError::LittleCut { share: 100.0 * share }));
    }
    let fit = Fit::best(measured, &cut);
    if fit.scatter > SAME_WHEEL {
        return Err(AgainError::OtherWheel { by: fit.scatter, limit: SAME_WHEEL });
    }
    seated(measured, &zero, &corrected, &cut, &fit)?;
    let departs = fit.departures(measured, &inside);
    let taken = fit.taken(measured, &departs, &zero)?;
    let left = damage_left(measured, &cut, &taken);
    let mut open: Vec<f64> = inside.iter().map(|b| b.round).collect();
    let open = median(&mut open).unwrap_or(0.0);
    let mean = fit.mean(measured, &zero);
    // Passes follow a surface as surveyed; how well that is known matters only to what is said of the wheel itself.
    let mean = Known { error: mean.error.hypot(open), ..mean };
    let outward = fit.outward().map(|k| Known { error: k.error.hypot(open), ..k });
    Ok(Found { mean, outward, across: fit.across(&zero), left, zero: zero.at, uncut: zero.length, taken })
}

/// The sensor against what it was.
struct SensorZero {
    /// Its zero.
    at: Known,
    /// How far it stands off in X.
    across: Known,
    /// Length of line over metal that was not cut, millimetres.
    length: f64,
}

/// The zero of the new lines, from metal that was not cut.
fn zero(measured: &Measured<'_>, all: &[Bin]) -> Result<SensorZero, AgainError> {
    let uncut: Vec<&Bin> = all.iter().filter(|b| b.uncut).collect();
    let length = uncut.len() as f64 * super::again_bins::BIN;
    // What the first lines leave open of the turn is the same in all bins of a line.
    let mut open: Vec<f64> = uncut.iter().map(|b| b.round).collect();
    let open = median(&mut open).unwrap_or(0.0) / (measured.lines.len().max(1) as f64).sqrt();
    let fitted = fit_zero(&uncut, measured.zero == Zero::Face);
    let found = fitted.map(|(at, across)| (Known { error: at.error.hypot(open), ..at }, across));
    match (measured.zero, found.filter(|_| uncut.len() >= LEAST_UNCUT)) {
        (Zero::Face, None) => {
            Err(AgainError::ZeroUnknown { bins: length, needed: LEAST_UNCUT as f64 * super::again_bins::BIN })
        }
        (Zero::Face, Some((at, across))) => Ok(SensorZero { at, across, length }),
        (Zero::Same, Some((at, _))) if at.value.abs() > STAYED + 2.0 * at.error => {
            Err(AgainError::ZeroMoved { by: at.value, within: 2.0 * at.error })
        }
        (Zero::Same, Some((at, _))) => {
            let at = Known { value: 0.0, error: at.error };
            Ok(SensorZero { at, across: Known::default(), length })
        }
        // Only said: then it is believed as far as a zero that moved would be seen.
        (Zero::Same, None) => {
            let at = Known { value: 0.0, error: STAYED };
            Ok(SensorZero { at, across: Known::default(), length: 0.0 })
        }
    }
}

/// Zero and offset in X by robust least squares; the offset stays nothing where it cannot have changed.
fn fit_zero(uncut: &[&Bin], moved: bool) -> Option<(Known, Known)> {
    let row = |b: &Bin| if moved { vec![1.0, -b.slope] } else { vec![1.0] };
    let rows: Vec<(Vec<f64>, f64, f64)> = uncut.iter().map(|b| (row(b), b.over, b.error)).collect();
    let solved = robust(&rows, &[0.0, X_OFF.powi(2).recip()])?;
    let known = |i: usize| Known {
        value: solved.values.get(i).copied().unwrap_or(0.0),
        error: solved.covariance.get(i, i).max(0.0).sqrt() * solved.scale,
    };
    Some((known(0), if moved { known(1) } else { Known::default() }))
}

/// Least squares with weights that are deaf to what does not belong.
struct Solved {
    values: Vec<f64>,
    covariance: Symmetric,
    /// By how many of their own standard errors the residuals scatter, at least one.
    scale: f64,
    /// The scaled sum of squares that Tukey's biweight leaves.
    loss: f64,
}

/// Solves rows of (regressors, value, standard error), with a weight that holds each unknown near nothing.
fn robust(rows: &[(Vec<f64>, f64, f64)], hold: &[f64]) -> Option<Solved> {
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
    let loss = rows
        .iter()
        .map(|(x, y, e)| crate::numeric::robust::tukey_loss((y - dot(x, &values)) / e / scale))
        .sum();
    Some(Solved { values, covariance, scale, loss })
}

/// The face that stands higher than before it was cut, if it does.
fn grown(inside: &[&Bin]) -> Option<AgainError> {
    let mut over: Vec<f64> = inside.iter().map(|b| b.over).collect();
    median(&mut over).filter(|by| *by > STAYED).map(|by| AgainError::Grown { by })
}

/// Refuses lines that leave a part of a zone out.
fn covered(measured: &Measured<'_>, all: &[Bin]) -> Result<(), AgainError> {
    let gap = measured.longest_gap.max(2.0 * super::again_bins::BIN);
    for zone in measured.zones {
        let (from, to) = (zone.from.as_mm() + ZONE_END, zone.to.as_mm() - ZONE_END);
        if from >= to {
            return Err(AgainError::Narrow { from: zone.from.as_mm(), to: zone.to.as_mm() });
        }
        let mut radii: Vec<f64> = all.iter().map(|b| b.x).filter(|x| (from..=to).contains(x)).collect();
        // Where nothing was to be read nothing is missing.
        radii.extend(measured.silent.iter().flat_map(|s| along(s, from, to)));
        let model = measured.model;
        let without = model.no_metal.first().into_iter().flatten().filter(|s| {
            let middle = f64::midpoint(s.from, s.to);
            model.no_metal.iter().all(|gone| gone.iter().any(|g| g.holds(middle)))
        });
        radii.extend(without.flat_map(|s| along(s, from, to)));
        radii.extend([from, to]);
        radii.sort_by(f64::total_cmp);
        let open = radii.windows(2).find_map(|w| match w {
            [a, b] if b - a > gap => Some((*a, *b)),
            _ => None,
        });
        if let Some((from, to)) = open {
            return Err(AgainError::NotCovered { from, to });
        }
    }
    Ok(())
}

/// Radii along a stretch, as far apart as bins.
fn along(stretch: &Stretch, from: f64, to: f64) -> Vec<f64> {
    let (from, to) = (stretch.from.max(from), stretch.to.min(to));
    std::iter::successors(Some(from), |x| Some(x + super::again_bins::BIN)).take_while(|x| *x <= to).collect()
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
struct Fit {
    terms: Vec<Term>,
    solved: Solved,
    /// The least standard deviation of a line's bins about the terms and its own level, millimetres.
    scatter: f64,
    /// Standard error of the part that grows with the slope, were it among the terms.
    across_error: f64,
    /// The middle of the zones and their width, millimetres.
    over: [f64; 2],
}

impl Fit {
    /// The terms that the bins show.
    fn best(measured: &Measured<'_>, cut: &[&Bin]) -> Self {
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

    fn at(&self, x: f64, slope: f64) -> f64 {
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

    fn outward(&self) -> Option<Known> {
        self.term(Term::Outward)
    }

    /// A tool that stands outward by a length leaves the face as it would be so much farther inward: it takes the slope times that more.
    fn across(&self, zero: &SensorZero) -> Option<Known> {
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
    fn departures(&self, measured: &Measured<'_>, inside: &[&Bin]) -> Vec<(f64, f64)> {
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
    fn taken(
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
            let slope = super::again_bins::slope(measured.followed, p.x);
            let depth = self.at(p.x, slope) + crate::numeric::grid::interpolate(departs, p.x);
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
    fn mean(&self, measured: &Measured<'_>, zero: &SensorZero) -> Known {
        let mut rows: Vec<Vec<f64>> = Vec::new();
        for zone in measured.zones {
            let mut x = zone.from.as_mm();
            while x <= zone.to.as_mm() {
                rows.push(self.row(x, super::again_bins::slope(measured.followed, x)));
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
fn window(left: Vec<(f64, f64)>) -> Option<Known> {
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

/// Refuses lines between which the wheel, or the sensor, has moved.
fn seated(
    measured: &Measured<'_>,
    zero: &SensorZero,
    all: &[Bin],
    cut: &[&Bin],
    fit: &Fit,
) -> Result<(), AgainError> {
    if measured.lines.len() < 2 {
        return Ok(());
    }
    for (line, of_line) in measured.lines.iter().enumerate() {
        let uncut: Vec<(f64, f64)> = all
            .iter()
            .filter(|b| b.uncut && b.line == line)
            .map(|b| (b.over, b.error.hypot(b.round)))
            .collect();
        // The cut surface is as high on every line; damage, which only lies lower, does not raise a median by much.
        let levels: Vec<(f64, f64)> = cut
            .iter()
            .filter(|b| b.line == line)
            .map(|b| (fit.at(b.x, b.slope) - b.taken, b.error))
            .collect();
        let open = all.iter().filter(|b| b.uncut && b.line == line).map(|b| b.round).fold(0.0, f64::max);
        for (found, open, on) in [
            (window(uncut), open + zero.at.error, "the first lines, on metal that was not cut"),
            (window(levels), fit.solved.scale * 0.002, "the other lines, on the cut surface"),
        ] {
            let Some(found) = found else { continue };
            let within = 2.0 * (found.error + open);
            if found.value.abs() > STAYED + within {
                return Err(AgainError::Moved { at: of_line.at.to_degrees(), by: found.value, within, on });
            }
        }
    }
    Ok(())
}

/// Damage that the lines still show below what the tool left.
fn damage_left(measured: &Measured<'_>, cut: &[&Bin], taken: &Taken) -> Vec<DamageLeft> {
    let mut found = Vec::new();
    for line in 0..measured.lines.len() {
        let of_line: Vec<&Bin> = cut.iter().copied().filter(|b| b.line == line && !b.near_end).collect();
        let apart = |a: &&Bin, b: &&Bin| b.zone == a.zone && b.x - a.x <= 2.0 * super::again_bins::BIN;
        for bins in of_line.chunk_by(apart) {
            found.extend(damage_in(line, bins, taken));
        }
    }
    found
}

/// The same on bins of one line that lie beside each other.
fn damage_in(line: usize, bins: &[&Bin], taken: &Taken) -> Vec<DamageLeft> {
    let below = |b: &&Bin| (b.x, Known { value: b.taken - taken.depth.at(b.x), error: b.error });
    let of_line: Vec<(f64, Known)> = bins.iter().map(below).collect();
    let plain = |i: usize| {
        let near = of_line.get(i.saturating_sub(1)..(i + 2).min(of_line.len())).unwrap_or(&[]);
        let n = near.len().max(1) as f64;
        let mean = near.iter().map(|b| b.1.value).sum::<f64>() / n;
        let error = near.iter().map(|b| b.1.error).sum::<f64>() / n / n.sqrt();
        (mean > PLAIN * error + LEAST).then_some(Known { value: mean, error })
    };
    let mut found = Vec::new();
    let mut i = 0;
    while i < of_line.len() {
        let run: Vec<Known> = (i..of_line.len()).map_while(plain).collect();
        if run.len() >= 2 {
            found.extend(damage(line, &of_line, i, &run, taken));
        }
        i += run.len() + 1;
    }
    found
}

fn damage(
    line: usize,
    of_line: &[(f64, Known)],
    first: usize,
    run: &[Known],
    taken: &Taken,
) -> Option<DamageLeft> {
    let inside = of_line.get(first..first + run.len())?;
    let (from, to) = (inside.first()?.0, inside.last()?.0);
    let half = super::again_bins::BIN / 2.0;
    let stretch = Stretch { from: from - half, to: to + half };
    let deepest = inside.iter().max_by(|a, b| a.1.value.total_cmp(&b.1.value))?;
    let deepest_at = deepest.0;
    let depth = Known { value: deepest.1.value, error: deepest.1.error.hypot(taken.error.at(deepest_at)) };
    let body = inside.iter().zip(run).map(|(b, mean)| (b.0, b.1.value.max(mean.value)));
    let profile = std::iter::once((stretch.from, 0.0)).chain(body).chain([(stretch.to, 0.0)]).collect();
    Some(DamageLeft { line, stretch, depth, deepest_at, profile })
}
