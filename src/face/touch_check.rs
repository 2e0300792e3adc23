//! The touch check: where a tool is touched to tell whether it is set right, and what the readings tell.
//!
//! A tool whose offsets are wrong stands `dx` farther out and `dz` higher than its control shows, on a face that may have tilted since it was
//! surveyed. Touched at the radius `x` it then shows `z = h(x + dx) + t·c(x + dx) − dz`, where h is where the tool meets the face as
//! surveyed ([`super::touch()`]), c the radius of the contact and t how much more the highest place of the turn rises with the radius.
//! A flat tells dz, slopes of both signs tell dx, places far apart tell t.
//!
//! **Choice.** The places are those for which the covariance of (dx, dz, t) is least: the determinant of the information is made
//! greatest by exchanging one place after the other (D-optimal designs: V. V. Fedorov, Theory of Optimal Experiments, 1972).
//!
//! **Solution.** For every dx within [`FARTHEST`] dz and t follow by weighted least squares, and the dx that fits best is taken: h bends, so
//! that a solution by slopes alone would miss. What the survey does not know of the turn moves all readings
//! together; it enters the covariance of the answer and not the weights.
//!
//! Limits: where one shape of the face cannot be told from another (all slopes equal, or slopes that grow in proportion to
//! the radius as a tilt does) dx cannot be told; then only dz and t are, on flats. t moves the contact by less than a micrometre and
//! that is left out.

use super::Touch;
use crate::numeric::cholesky::Symmetric;

/// The farthest that X is looked for on either side, millimetres: more is a wrong tool or a wrong unit.
pub const FARTHEST: f64 = 2.0;

/// Step of the search for dx, millimetres: a fifth of what a nose of 0.2 mm could hide between two steps.
const STEP: f64 = 0.04;

/// Slopes are those of a chord this far to either side, millimetres: far enough that the noise of the face does not show.
const CHORD: f64 = 0.25;

/// How far to either side the slope is asked for again, to see how fast it changes, millimetres.
const AROUND: f64 = 1.0;

/// A place whose slope changes tells less where dx is great: what the slope misses of a dx of 0.5 mm, the error that matters, is
/// counted as if it were noise, when places are chosen and nowhere else: half the square of 0.5 mm.
const BENDS: f64 = 0.125;

/// X counts as told where its standard error is below this, millimetres: half the error that matters.
pub const TOLD: f64 = 0.25;

/// What may be wrong of X where it cannot be told, millimetres.
const X_UNTOLD: f64 = 0.5;

/// Places stand at least this far apart, millimetres: nearer ones share what the survey got wrong.
const APART: f64 = 4.0;

/// The steepest place for a touch: at 45 degrees the tool still comes down onto the metal rather than along it.
const STEEPEST: f64 = 1.0;

/// Solutions that fit worse than the best by no more than this in the sum of squares cannot be told from it: two standard deviations.
const AS_GOOD: f64 = 4.0;

/// Readings off the fit by more than this many standard deviations, root mean square, do not tell of one error.
const MISFIT: f64 = 3.0;

/// Standard errors within which an error of X counts as none.
const SURE: f64 = 2.0;

/// Most rounds of exchanges: a handful of places settle in three or four.
const ROUNDS: usize = 20;

/// What a touch meets.
pub trait Ground {
    /// Where the tool meets it with its nose centre at a radius, millimetres.
    fn touch(&self, at: f64) -> Touch;
    /// How well its height is known where the contact is.
    fn known(&self, contact: f64) -> Known;
}

/// How well a height is known, as standard errors in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Known {
    /// By itself, independent of places [`APART`].
    pub own: f64,
    /// Together with the whole turn: all places are off by their share of one error.
    pub shared: f64,
    /// Where the face stands off along the radius; a slope turns it into height.
    pub across: f64,
}

/// A place to touch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TouchPoint {
    /// Radius of the nose centre, millimetres.
    pub at: f64,
    /// Height of the front point where it touches, millimetres.
    pub z: f64,
    /// Radius at which it meets the face, millimetres.
    pub contact: f64,
    /// Slope of what the nose follows there.
    pub slope: f64,
    /// How fast the slope changes, per millimetre.
    bends: f64,
    /// Standard error of a reading there less what was expected, without what is shared.
    own: f64,
    shared: f64,
}

/// What places can tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tells {
    /// X, Z and tilt.
    All,
    /// Z and tilt: the face has no slopes that would tell X.
    NotX,
}

/// A choice of places.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The places in order of their radius.
    pub points: Vec<TouchPoint>,
    /// What they tell.
    pub tells: Tells,
}

impl Choice {
    /// Whether they tell X.
    #[must_use]
    pub fn tells_x(&self) -> bool {
        self.tells == Tells::All
    }
}

/// A number with its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The number.
    pub value: f64,
    /// Its standard error.
    pub error: f64,
}

/// What the readings tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// How much farther out than shown the tool stands, millimetres of radius; none where the places cannot tell.
    pub x: Option<Estimate>,
    /// How much higher than shown the tool stands, millimetres.
    pub z: Estimate,
    /// How much more the highest place rises with the radius than when it was surveyed, without unit.
    pub tilt: Estimate,
    /// Covariance of X, Z and tilt in this order; zero of X where it was not told.
    pub covariance: Symmetric,
    /// Root mean square of the readings off the fit, in standard deviations; none where no reading is left to tell.
    pub misfit: Option<f64>,
    /// Another error in X that would explain the readings as well, millimetres.
    pub or_else: Option<f64>,
    /// The readings less the fit, millimetres, in the order of the places.
    pub off: Vec<f64>,
}

impl Found {
    /// Whether one error of the tool and one tilt explain the readings.
    #[must_use]
    pub fn fits(&self) -> bool {
        self.misfit.is_none_or(|m| m <= MISFIT)
    }

    /// Whether X is off by more than the readings leave open: only then is it set anew.
    #[must_use]
    pub fn x_is_told(&self) -> bool {
        self.x.is_some_and(|x| x.value.abs() > SURE * x.error)
    }

    /// What X and Z are set anew by, millimetres. Where X stays as it is, Z follows from the readings with X as shown: it is what
    /// is expected of Z under the covariance of both.
    #[must_use]
    pub fn correction(&self) -> [f64; 2] {
        match self.x {
            Some(x) if self.x_is_told() => [x.value, self.z.value],
            Some(x) if x.error > 0.0 => {
                [0.0, self.z.value - self.covariance.get(1, 0) / (x.error * x.error) * x.value]
            }
            _ => [0.0, self.z.value],
        }
    }
}

/// Why readings tell nothing.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TouchError {
    /// Fewer than three places.
    #[error("{0} places were touched, and three at least are needed: a flat, and slopes of both signs")]
    TooFew(usize),
    /// A place over no metal.
    #[error("at radius {0:.3} mm the tool meets nothing that was surveyed")]
    NoMetal(f64),
    /// The places cannot tell X from Z and tilt.
    #[error(
        "the places cannot tell an error in X: the face slopes there by {}, and X shows only where slopes differ\n  to mend it: touch a flat and slopes of both signs, such as the places that `facewright touch` chooses",
        .0.iter().map(|s| format!("{s:+.3}")).collect::<Vec<_>>().join(", ")
    )]
    EqualSlopes(Vec<f64>),
    /// No error in X explains the readings.
    #[error(
        "no error in X up to {FARTHEST} mm explains the readings\n  to mend it: see that the tool, the places and the units are those of the table, and touch again"
    )]
    TooFar,
}

/// A place at a radius, touched with readings of a standard error; none where the tool meets nothing within a millimetre of it.
#[must_use]
pub fn point(ground: &impl Ground, at: f64, reading: f64) -> Option<TouchPoint> {
    let Touch { z, contact } = ground.touch(at);
    let slope = slope(ground, at);
    let bends = (self::slope(ground, at + AROUND) - self::slope(ground, at - AROUND)) / (2.0 * AROUND);
    let Known { own, shared, across } = ground.known(contact);
    let own = reading.hypot(own).hypot(across * slope);
    let point = TouchPoint { at, z, contact, slope, bends, own, shared };
    [z, slope, bends, own, shared].iter().all(|v| v.is_finite()).then_some(point)
}

/// The slope of a chord of where the tool meets the ground.
fn slope(ground: &impl Ground, at: f64) -> f64 {
    (ground.touch(at + CHORD).z - ground.touch(at - CHORD).z) / (2.0 * CHORD)
}

/// Chooses so many of the candidates, three at least, that tell most; none where there are not so many far enough apart.
#[must_use]
pub fn choose(candidates: &[TouchPoint], count: usize) -> Option<Choice> {
    let count = count.max(3);
    let gentle: Vec<TouchPoint> = candidates.iter().filter(|p| p.slope.abs() <= STEEPEST).copied().collect();
    [Tells::All, Tells::NotX].into_iter().find_map(|tells| {
        let points = best(&gentle, count, tells)?;
        let told = tells == Tells::NotX || x_error(&points).is_some_and(|error| error <= TOLD);
        told.then_some(Choice { points, tells })
    })
}

/// The places whose information has the greatest determinant, from every start that spreads slopes or radii evenly.
fn best(candidates: &[TouchPoint], count: usize, tells: Tells) -> Option<Vec<TouchPoint>> {
    let by = |key: fn(&TouchPoint) -> f64| {
        let mut order: Vec<usize> = (0..candidates.len()).collect();
        order.sort_by(|&a, &b| {
            let of = |i: usize| candidates.get(i).map_or(0.0, key);
            of(a).total_cmp(&of(b)).then(a.cmp(&b))
        });
        spread(candidates, &order, count)
    };
    let starts = [by(|p| p.slope), by(|p| p.at), by(|p| p.own)];
    let exchanged = starts.into_iter().flatten().map(|start| exchange(candidates, start, tells));
    let (_, mut points) = exchanged.max_by(|a, b| a.0.total_cmp(&b.0)).filter(|(most, _)| *most > 0.0)?;
    points.sort_by(|a, b| a.at.total_cmp(&b.at));
    Some(points)
}

/// So many places spread over an order of the candidates, none too near to another.
fn spread(candidates: &[TouchPoint], order: &[usize], count: usize) -> Option<Vec<TouchPoint>> {
    let mut taken: Vec<TouchPoint> = Vec::new();
    for k in 0..count {
        let from = k * order.len().saturating_sub(1) / (count - 1).max(1);
        // From the place wanted on, forward and then round to the front.
        let (front, back) = order.split_at_checked(from)?;
        let free = |p: &&TouchPoint| taken.iter().all(|t| (t.at - p.at).abs() >= APART);
        let next = back.iter().chain(front).filter_map(|&i| candidates.get(i)).find(free)?;
        taken.push(*next);
    }
    Some(taken)
}

/// Exchanges places for better ones until none is better; with the determinant reached.
fn exchange(candidates: &[TouchPoint], mut points: Vec<TouchPoint>, tells: Tells) -> (f64, Vec<TouchPoint>) {
    let mut most = determinant(&points, tells);
    for _ in 0..ROUNDS {
        let before = most;
        for k in 0..points.len() {
            for candidate in candidates {
                let others = points.iter().enumerate().filter(|(i, _)| *i != k);
                if others.into_iter().any(|(_, p)| (p.at - candidate.at).abs() < APART) {
                    continue;
                }
                let mut tried = points.clone();
                if let Some(place) = tried.get_mut(k) {
                    *place = *candidate;
                }
                let reached = determinant(&tried, tells);
                if reached > most {
                    (most, points) = (reached, tried);
                }
            }
        }
        if most <= before {
            break;
        }
    }
    (most, points)
}

/// The determinant of the information of places that are to be chosen.
fn determinant(points: &[TouchPoint], tells: Tells) -> f64 {
    let rows = points.iter().map(|p| {
        let noise = match tells {
            Tells::All => p.own.hypot(BENDS * p.bends),
            Tells::NotX => p.own.hypot(X_UNTOLD * p.slope),
        };
        (row(p.slope, p.contact), noise)
    });
    information(rows, tells).factor().map_or(0.0, |f| f.log_determinant().exp())
}

/// What a reading changes by with dx, dz and tilt.
const fn row(slope: f64, contact: f64) -> [f64; 3] {
    [slope, -1.0, contact]
}

/// The sum of `row·rowᵀ/noise²`, of what the places tell.
fn information(rows: impl Iterator<Item = ([f64; 3], f64)>, tells: Tells) -> Symmetric {
    let skip = usize::from(tells == Tells::NotX);
    let mut sum = Symmetric::zeros(3 - skip);
    for (row, noise) in rows {
        sum.add_outer(1.0 / (noise * noise), row.get(skip..).unwrap_or_default());
    }
    sum.mirror();
    sum
}

/// The standard error of X that readings at places would have, without what is shared; none where they cannot tell it.
fn x_error(points: &[TouchPoint]) -> Option<f64> {
    let rows = points.iter().map(|p| (row(p.slope, p.contact), p.own));
    Some(information(rows, Tells::All).inverse()?.get(0, 0).sqrt())
}

/// What readings of Z at places tell.
///
/// # Errors
/// If the places are too few, or cannot tell X though it was asked for, or no error in X explains the readings.
pub fn solve(
    ground: &impl Ground,
    points: &[TouchPoint],
    readings: &[f64],
    tells: Tells,
) -> Result<Found, TouchError> {
    let count = points.len().min(readings.len());
    if count < 3 {
        return Err(TouchError::TooFew(count));
    }
    let taken: Vec<(&TouchPoint, f64)> = points.iter().zip(readings.iter().copied()).collect();
    let fit_at = |dx: f64| fit(ground, &taken, dx, tells);
    if tells == Tells::NotX {
        let fitted = fit_at(0.0).ok_or(TouchError::NoMetal(points.first().map_or(0.0, |p| p.at)))?;
        return Ok(found(ground, &taken, (0.0, &fitted), tells, None));
    }
    if x_error(points).is_none_or(|error| error > TOLD) {
        return Err(TouchError::EqualSlopes(points.iter().map(|p| p.slope).collect()));
    }
    let minima = minima(&fit_at);
    let least = minima.iter().map(|m| m.1.squares).fold(f64::INFINITY, f64::min);
    let mut as_good: Vec<&(f64, Fit)> = minima.iter().filter(|m| m.1.squares <= least + AS_GOOD).collect();
    // Of errors that explain the readings alike the smaller one is the likelier.
    as_good.sort_by(|a, b| a.0.abs().total_cmp(&b.0.abs()));
    let (dx, fitted) = as_good.first().copied().ok_or(TouchError::TooFar)?;
    Ok(found(ground, &taken, (*dx, fitted), tells, as_good.get(1).map(|m| m.0)))
}

/// The fit of Z and tilt at one dx.
struct Fit {
    dz: f64,
    tilt: f64,
    /// Sum of the squares of what is left, in standard deviations.
    squares: f64,
    off: Vec<f64>,
}

/// Standard error of one reading.
fn noise(p: &TouchPoint, tells: Tells) -> f64 {
    match tells {
        Tells::All => p.own,
        Tells::NotX => p.own.hypot(X_UNTOLD * p.slope),
    }
}

fn fit(ground: &impl Ground, taken: &[(&TouchPoint, f64)], dx: f64, tells: Tells) -> Option<Fit> {
    let met: Vec<(Touch, f64, f64)> =
        taken.iter().map(|(p, z)| (ground.touch(p.at + dx), *z, noise(p, tells))).collect();
    if met.iter().any(|(t, ..)| !t.z.is_finite()) {
        return None;
    }
    let normal = information(met.iter().map(|(t, _, n)| (row(0.0, t.contact), *n)), Tells::NotX);
    let right = met.iter().fold([0.0; 2], |[a, b], (t, z, n)| {
        let weighted = (z - t.z) / (n * n);
        [a - weighted, b + weighted * t.contact]
    });
    let solved = normal.factor()?.solve(right.to_vec());
    let [dz, tilt] = *solved.as_slice() else { return None };
    let off: Vec<f64> = met.iter().map(|(t, z, _)| z - (t.z + tilt * t.contact - dz)).collect();
    let squares = off.iter().zip(&met).map(|(o, (.., n))| (o / n).powi(2)).sum();
    Some(Fit { dz, tilt, squares, off })
}

/// The dx at which the fit is best among its neighbours, with the fits; none at the ends of the search.
fn minima(fit_at: &impl Fn(f64) -> Option<Fit>) -> Vec<(f64, Fit)> {
    let steps = (FARTHEST / STEP).round();
    let mut tried: Vec<(f64, f64)> = Vec::new();
    let mut k = -steps;
    while k <= steps {
        tried.push((k * STEP, fit_at(k * STEP).map_or(f64::INFINITY, |f| f.squares)));
        k += 1.0;
    }
    let valleys = tried.windows(3).filter_map(|w| match w {
        [a, b, c] if b.1.is_finite() && b.1 <= a.1 && b.1 < c.1 => Some([a.0, c.0]),
        _ => None,
    });
    valleys.filter_map(|ends| lowest(fit_at, ends)).collect()
}

/// The lowest place of one valley, by golden section: 40 steps leave a hundred-millionth of its width.
fn lowest(fit_at: &impl Fn(f64) -> Option<Fit>, [mut low, mut high]: [f64; 2]) -> Option<(f64, Fit)> {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let squares = |dx: f64| fit_at(dx).map_or(f64::INFINITY, |f| f.squares);
    for _ in 0..40 {
        let (a, b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        if squares(a) <= squares(b) {
            high = b;
        } else {
            low = a;
        }
    }
    let dx = f64::midpoint(low, high);
    Some((dx, fit_at(dx)?))
}

/// The answer at a solution, with its covariance.
fn found(
    ground: &impl Ground,
    taken: &[(&TouchPoint, f64)],
    (dx, fit): (f64, &Fit),
    tells: Tells,
    or_else: Option<f64>,
) -> Found {
    let skip = usize::from(tells == Tells::NotX);
    let rows: Vec<([f64; 3], f64, f64)> = taken
        .iter()
        .map(|(p, _)| {
            let at = p.at + dx;
            (row(slope(ground, at), ground.touch(at).contact), noise(p, tells), p.shared)
        })
        .collect();
    let own = information(rows.iter().map(|(r, n, _)| (*r, *n)), tells).inverse();
    let own = own.unwrap_or_else(|| Symmetric::zeros(3 - skip));
    // What is shared goes through the fit as a reading does.
    let mut pulled = [0.0; 3];
    for (row, n, shared) in &rows {
        pulled.iter_mut().zip(row).for_each(|(sum, r)| *sum += r * shared / (n * n));
    }
    let moved = own.times(pulled.get(skip..).unwrap_or_default());
    let mut covariance = Symmetric::zeros(3);
    for (i, a) in moved.iter().enumerate() {
        for (j, b) in moved.iter().enumerate().take(i + 1) {
            covariance.set(i + skip, j + skip, own.get(i, j) + a * b);
        }
    }
    let error = |i: usize| covariance.get(i, i).max(0.0).sqrt();
    let left = taken.len() - (3 - skip);
    Found {
        x: (tells == Tells::All).then(|| Estimate { value: dx, error: error(0) }),
        z: Estimate { value: fit.dz, error: error(1) },
        tilt: Estimate { value: fit.tilt, error: error(2) },
        misfit: (left > 0).then(|| (fit.squares / left as f64).sqrt()),
        or_else,
        off: fit.off.clone(),
        covariance,
    }
}
