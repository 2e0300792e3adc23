//! Lines measured again after passes were cut: what was really taken, and what damage is left.
//!
//! A tool leaves one height at a radius all round, whatever the wheel runs out: a line reads the surface that the tool left, or, where
//! the tool did not reach, the face as it was. So in the zones a reading below the face as it was is of the cut surface or of damage
//! below it; readings outside the zones are of metal that was not cut, and tell the zero of the sensor and whether the wheel still
//! sits as it did.
//!
//! Readings are gathered in narrow bins of radius (medians), and what was taken is fitted to them by a few shapes ([`super::again_fit`]).
//! What lies lower than that on one line is damage.
//!
//! Limits: a sensor set anew and a tool that stand off in X by the same are not told apart from both being right. Metal that went off evenly
//! with a zero that moved by the same cannot be told from a zero that stayed. One line alone cannot show that the wheel was seated anew.
//! Narrower than a bin nothing is seen.

use super::again_bins::{BIN, Bin, bins};
pub use super::again_error::AgainError;
use super::again_fit::{Fit, robust, window};
pub use super::again_lean::Lean;
use super::model::WheelModel;
use super::taken::Taken;
use crate::geometry::Profile;
use crate::job::{Zero, Zone};
use crate::numeric::order::median;
use crate::scan::{MeasuredLine, Stretch};

/// Fewest bins of metal that was not cut for a zero to be taken from it: 5 mm of one line.
const LEAST_UNCUT: usize = 10;
/// Fewest bins of the cut surface for an answer, and their least share of the zones: a first pass may touch a third of the turn.
const LEAST_CUT: usize = 40;
const LEAST_SHARE: f64 = 0.2;
/// How far a sensor that is set anew may stand off in X, one standard deviation, millimetres. Our own choice: the care that `x_offset` is set with.
pub(super) const X_OFF: f64 = 0.1;
/// A zero or a seat that differs by less than this and its own uncertainty stayed, millimetres: half of what a dial indicator shows.
pub const STAYED: f64 = 0.02;
/// Bins of one wheel scatter about the fit by no more than this (one standard deviation), millimetres; those of another wheel by far more.
const SAME_WHEEL: f64 = 0.06;
/// So many standard errors, and this much beside, are needed for a departure or for damage, millimetres: what texture and the faces' own errors leave.
pub(super) const PLAIN: f64 = 4.0;
pub(super) const LEAST: f64 = 0.006;
/// And so many where one bin alone shows it: a line has some hundred.
const ALONE: f64 = 4.5;
/// A stretch without a cut is told from this length on, millimetres: shorter ones are dents that the tool passed over.
const LEAST_UNTOUCHED: f64 = 5.0;
/// So many bins to each side are judged with one, where no metal may be gone.
const NEAR: usize = 3;
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

/// A stretch of a line in the zones where no metal is gone: it lies lower than the tool went, or the tool did not come there. In damage metal is gone
/// without a pass: nothing is told there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Untouched {
    /// Which of the new lines.
    pub line: usize,
    /// Where.
    pub stretch: Stretch,
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
    /// What else the part that grows outward may be, where the lines cannot tell.
    pub lean: Option<Lean>,
    /// How far the tool stood off in X where the bins show it, millimetres: outward above nothing.
    pub across: Option<Known>,
    /// Share of what the lines cross in the zones where metal is gone, from 0 to 1.
    pub touched: f64,
    /// Where none is gone, in the order of lines and radii.
    pub untouched: Vec<Untouched>,
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
    let uncut: Vec<&Bin> = corrected.iter().filter(|b| b.uncut).collect();
    let lean = outward.and_then(|outward| Lean::may_be(measured, &uncut, outward));
    let untouched = untouched(&inside);
    let across = fit.across(&zero);
    Ok(Found {
        mean,
        outward,
        lean,
        across,
        touched: share,
        untouched,
        left,
        zero: zero.at,
        uncut: zero.length,
        taken,
    })
}

/// The sensor against what it was.
pub(super) struct SensorZero {
    /// Its zero.
    pub at: Known,
    /// How far it stands off in X.
    pub across: Known,
    /// Length of line over metal that was not cut, millimetres.
    length: f64,
}

/// The zero of the new lines, from metal that was not cut.
fn zero(measured: &Measured<'_>, all: &[Bin]) -> Result<SensorZero, AgainError> {
    let uncut: Vec<&Bin> = all.iter().filter(|b| b.uncut).collect();
    let length = uncut.len() as f64 * BIN;
    // What the first lines leave open of the turn is the same in all bins of a line.
    let mut open: Vec<f64> = uncut.iter().map(|b| b.round).collect();
    let open = median(&mut open).unwrap_or(0.0) / (measured.lines.len().max(1) as f64).sqrt();
    let fitted = fit_zero(&uncut, measured.zero == Zero::Face);
    let found = fitted.map(|(at, across)| (Known { error: at.error.hypot(open), ..at }, across));
    match (measured.zero, found.filter(|_| uncut.len() >= LEAST_UNCUT)) {
        (Zero::Face, None) => Err(AgainError::ZeroUnknown { bins: length, needed: LEAST_UNCUT as f64 * BIN }),
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

/// The face that stands higher than before it was cut, if it does.
fn grown(inside: &[&Bin]) -> Option<AgainError> {
    let mut over: Vec<f64> = inside.iter().map(|b| b.over).collect();
    median(&mut over).filter(|by| *by > STAYED).map(|by| AgainError::Grown { by })
}

/// Refuses lines that leave a part of a zone out.
fn covered(measured: &Measured<'_>, all: &[Bin]) -> Result<(), AgainError> {
    let gap = measured.longest_gap.max(2.0 * BIN);
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
    std::iter::successors(Some(from), |x| Some(x + BIN)).take_while(|x| *x <= to).collect()
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

/// Where no metal is plainly gone in the zones, over more than a few bins.
fn untouched(inside: &[&Bin]) -> Vec<Untouched> {
    let beside = |a: &Bin, b: &Bin| a.line == b.line && a.zone == b.zone && b.x - a.x <= 2.0 * BIN;
    let together = inside.chunk_by(|a, b| beside(a, b));
    together.flat_map(untouched_beside).collect()
}

/// The same in bins of one line that lie beside each other. Each is judged with its neighbours: one reading that is off parts no stretch.
fn untouched_beside(bins: &[&Bin]) -> Vec<Untouched> {
    let gone = |i: usize| {
        let near = bins.get(i.saturating_sub(NEAR)..(i + NEAR + 1).min(bins.len())).unwrap_or(&[]);
        let mut gone: Vec<f64> = near.iter().map(|b| -b.over - 3.0 * b.error - b.round).collect();
        median(&mut gone).is_some_and(|gone| gone > LEAST)
    };
    let judged: Vec<(&Bin, bool)> = bins.iter().enumerate().map(|(i, b)| (*b, gone(i))).collect();
    let runs = judged.chunk_by(|a, b| a.1 == b.1).filter(|run| run.iter().all(|(_, gone)| !gone));
    let stretch = |run: &[(&Bin, bool)]| {
        let ((first, _), (last, _)) = (run.first()?, run.last()?);
        let stretch = Stretch { from: first.x - BIN / 2.0, to: last.x + BIN / 2.0 };
        (stretch.to - stretch.from >= LEAST_UNTOUCHED).then_some(Untouched { line: first.line, stretch })
    };
    runs.filter_map(stretch).collect()
}

/// Damage that the lines still show below what the tool left.
fn damage_left(measured: &Measured<'_>, cut: &[&Bin], taken: &Taken) -> Vec<DamageLeft> {
    let mut found = Vec::new();
    for line in 0..measured.lines.len() {
        let of_line: Vec<&Bin> = cut.iter().copied().filter(|b| b.line == line && !b.near_end).collect();
        let apart = |a: &&Bin, b: &&Bin| b.zone == a.zone && b.x - a.x <= 2.0 * BIN;
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
    let alone = |i: usize| of_line.get(i).map(|b| b.1).filter(|b| b.value > ALONE * b.error + LEAST);
    let mut found = Vec::new();
    let mut i = 0;
    while i < of_line.len() {
        let run: Vec<Known> = (i..of_line.len()).map_while(|i| plain(i).or_else(|| alone(i))).collect();
        if run.len() >= 2 || alone(i).is_some() {
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
    let half = BIN / 2.0;
    let stretch = Stretch { from: from - half, to: to + half };
    let deepest = inside.iter().max_by(|a, b| a.1.value.total_cmp(&b.1.value))?;
    let deepest_at = deepest.0;
    let depth = Known { value: deepest.1.value, error: deepest.1.error.hypot(taken.error.at(deepest_at)) };
    let body = inside.iter().zip(run).map(|(b, mean)| (b.0, b.1.value.max(mean.value)));
    let profile = std::iter::once((stretch.from, 0.0)).chain(body).chain([(stretch.to, 0.0)]).collect();
    Some(DamageLeft { line, stretch, depth, deepest_at, profile })
}
