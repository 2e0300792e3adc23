//! The model of the wheel: everything that the readings of all lines say, in one account.
//!
//! A reading is `face(r − e·cos(θ − ε)) + tilt + bend(r, θ) − damage + what the sensor did + noise`. The parts
//! are fitted together ([`super::estimate::fit`]), and they add up: what no part explains is listed as [`Unexplained`].
//! Every height is in millimetres, every angle in radians.
//!
//! Limits: the face is known only where a line has metal; over the turn, only as many lobes can be seen as the
//! lines and the ring readings tell apart ([`Turn::rivals`]).

use super::round::Round;
use crate::numeric::cholesky::Symmetric;
use crate::numeric::grid::{Grid, interpolate};
use crate::numeric::harmonic::regressors;
use crate::scan::line::{MeasuredLine, Stretch};
use std::f64::consts::{PI, TAU};

/// All that the model is fitted to, and what a person said beside it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Measurement<'a> {
    /// The measured lines.
    pub lines: &'a [MeasuredLine],
    /// Readings round the wheel at one radius.
    pub rings: &'a [Ring],
    /// Damage that the job lists.
    pub listed: &'a [ListedDamage],
    /// Stretches that a person calls damaged all round: bridged from both sides.
    pub mend: &'a [Stretch],
    /// Stretches that a person calls sound, even where lines disagree.
    pub leave: &'a [Stretch],
    /// Stretches that a person calls open all round: what was read there is no face.
    pub no_metal: &'a [Stretch],
    /// The radii that will be cut; what stands outside them is fitted, but needs no witness.
    pub zones: &'a [Stretch],
    /// The greatest standard error, millimetres, that a correction of the turn or the sensor may have to be applied; `None` applies
    /// all that are earned.
    pub tolerated: Option<f64>,
}

/// Readings round the wheel at one radius, by dial indicator or as a scan. Their zero is unknown.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    /// Radius, millimetres.
    pub radius: f64,
    /// Angle (radians) and height (millimetres, any zero) of each reading.
    pub heights: Vec<(f64, f64)>,
    /// Standard deviation of one reading, millimetres.
    pub noise: f64,
}

/// Damage that a person saw and wrote into the job.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ListedDamage {
    /// Where it lies over the radius.
    pub stretch: Stretch,
    /// Depth below the sound face, millimetres.
    pub depth: f64,
    /// Where it lies over the turn, if that was said.
    pub sector: Option<Sector>,
}

/// A part of the turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sector {
    /// Its middle, radians.
    pub at: f64,
    /// Its whole width, radians.
    pub width: f64,
}

/// The wheel as its readings show it.
#[derive(Debug, Clone, PartialEq)]
pub struct WheelModel {
    /// The radii of every profile below.
    pub grid: Grid,
    /// The sound face at each radius: the mean of the lines, free of tilt, eccentricity, bend and damage. Between
    /// the first and the last radius with metal every value is a number; where no line has metal the face is bridged
    /// and [`WheelModel::unwitnessed`] says so.
    pub face: Vec<f64>,
    /// Standard error of the face at each radius.
    pub face_error: Vec<f64>,
    /// Half-width over which the face was averaged at each radius.
    pub half_width: Vec<f64>,
    /// Angle of each line.
    pub angles: Vec<f64>,
    /// Noise of one reading of each line.
    pub noise: Vec<f64>,
    /// How far the face's own axis stands off the spindle's, where the readings show it.
    pub eccentricity: Option<Eccentricity>,
    /// Tilt of the mounting: the first harmonic of what grows in proportion to the radius.
    pub tilt: Tilt,
    /// Tilt and bend as amplitudes of each line.
    pub terms: Vec<Term>,
    /// The outermost radius, at which every shape is one.
    pub outermost: f64,
    /// How the face departs from itself over the turn.
    pub turn: Turn,
    /// Damage found on the lines, with the listed damage that no line showed.
    pub damage: Vec<Dent>,
    /// What the sensor did on each line.
    pub sensor: Vec<SensorTerms>,
    /// Corrections that the readings show, but too badly to be applied.
    pub withheld: Vec<Withheld>,
    /// Readings that no part of the model may follow.
    pub set_aside: Vec<SetAside>,
    /// Radii without metal, of each line.
    pub no_metal: Vec<Vec<Stretch>>,
    /// Radii at which the sound face has no witness of its own.
    pub unwitnessed: Vec<Unwitnessed>,
    /// Stretches where the lines disagreed, and how each was decided.
    pub contested: Vec<Contested>,
    /// Where a person left a stretch as it is although its lines differ: how far the highest of them stands over the face (radius
    /// and height), in rising radius, nothing at both ends of each stretch.
    pub left_over: Vec<(f64, f64)>,
    /// What no part explains.
    pub unexplained: Vec<Unexplained>,
}

/// The face's own axis against the spindle's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Eccentricity {
    /// Distance, millimetres.
    pub distance: f64,
    /// The angle toward which the face stands off, radians.
    pub toward: f64,
    /// Standard error of the distance in its worst direction, millimetres.
    pub error: f64,
}

/// The tilt of the mounting, `z = slope·r·cos(θ − high_side)`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tilt {
    /// Slope, without unit.
    pub slope: f64,
    /// Angle of the high side, radians.
    pub high_side: f64,
}

/// One shape over the radius, with the amplitude that each line has of it. The amplitudes add up to nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Term {
    /// The shape.
    pub shape: Shape,
    /// Amplitude of each line at the outermost radius, millimetres.
    pub amplitudes: Vec<f64>,
}

/// How a departure grows over the radius; every shape is 1 at the outermost radius R.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// `r / R`: tilt, and a bend that grows in proportion.
    Proportional,
    /// `((r − start)₊ / (R − start))^power`: a bend that begins at a radius.
    Hinge {
        /// Where it begins, millimetres.
        start: f64,
        /// How it grows.
        power: f64,
    },
}

/// The turn at one radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnAt {
    /// The highest sound place, millimetres.
    pub highest: f64,
    /// The middle: the mean over the turn.
    pub middle: f64,
    /// The lowest sound place.
    pub lowest: f64,
    /// How far highest and lowest may be off (two standard errors, and what rivals say), millimetres.
    pub uncertainty: f64,
}

/// Departures over the turn as harmonics, fitted to the lines' amplitudes and the ring readings.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Turn {
    /// Of each term: a constant, then cosine and sine of each order, millimetres at the outermost radius.
    pub(super) coefficients: Vec<Vec<f64>>,
    /// The coefficients' covariance, term by term in their order.
    pub(super) covariance: Symmetric,
    /// The orders that the departures are made of, the first always among them.
    pub orders: Vec<u32>,
    /// Other sets of orders that explain the readings nearly as well.
    pub rivals: Vec<Rival>,
    /// Whether fewer angles were measured than the orders need to be told apart.
    pub underdetermined: bool,
}

/// A set of orders that explains the readings nearly as well.
#[derive(Debug, Clone, PartialEq)]
pub struct Rival {
    /// Its orders.
    pub orders: Vec<u32>,
    /// How much worse it explains them: twice the difference of the log evidence.
    pub worse: f64,
    /// The most by which highest or lowest place differ in a zone, millimetres.
    pub differs: f64,
}

/// One stretch of damage on one line, or listed.
#[derive(Debug, Clone, PartialEq)]
pub struct Dent {
    /// The line that shows it; `None` for listed damage that no line shows.
    pub line: Option<usize>,
    /// Where it lies over the turn: the line's angle, or the sector that the job lists; `None` if unknown.
    pub sector: Option<Sector>,
    /// Where it lies over the radius.
    pub stretch: Stretch,
    /// Depth of its deepest place below the sound face, millimetres.
    pub depth: f64,
    /// Standard error of the depth, millimetres.
    pub error: f64,
    /// Depth at each radius (radius, depth), in rising radius, zero at both feet.
    pub profile: Vec<(f64, f64)>,
    /// What the sound face beside it rests on.
    pub witness: Witness,
}

/// What the sound face in a stretch rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Witness {
    /// Two lines or more that agree.
    TwoLines,
    /// One line, which agrees with the continuation of the face on both sides.
    OneLineAndContinuation,
    /// No line: the continuation from both sides.
    Continuation,
    /// All lines are damaged; the differences between them tell the shape, the feet tell the depth.
    DamageAllRound,
    /// The job lists it.
    Listed,
    /// One line alone.
    OneLine,
}

/// What the sensor did on one line, applied only where it was measured.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SensorTerms {
    /// Change of the zero from the line's first reading to its last, millimetres.
    pub drift: Option<f64>,
    /// Height of an inward sweep over an outward one, millimetres.
    pub hysteresis: Option<f64>,
    /// Height of the line's zero, at its first reading and half-way between the sweeps out and back, over the other lines', millimetres.
    pub zero: Option<f64>,
}

/// A correction that the readings show but that was not applied.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Withheld {
    /// Which.
    pub term: WithheldTerm,
    /// Its standard error where that is greatest, millimetres.
    pub error: f64,
}

/// A correction that can be withheld.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WithheldTerm {
    /// A bend.
    Bend {
        /// The radius from which on the wheel is bent, millimetres.
        start: f64,
    },
    /// That the face stands off the spindle's axis.
    Eccentricity,
    /// Drift, hysteresis and zero of the sensor on a line.
    Sensor {
        /// The line.
        line: usize,
    },
}

/// Readings that were set aside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SetAside {
    /// The line.
    pub line: usize,
    /// Where.
    pub stretch: Stretch,
    /// How many readings.
    pub readings: usize,
    /// The furthest of them off the face, millimetres, positive above it.
    pub off: f64,
    /// Why.
    pub reason: Reason,
}

/// Why readings were set aside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reason {
    /// They jump off the face and back, or are far rougher than the noise.
    FalseReading,
    /// Deeper than a scrape can be for its width: a hole, or a false reading.
    DeepForItsWidth,
    /// They stand above the face that the other lines show.
    StandsOver,
}

/// Radii at which the sound face has no witness.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unwitnessed {
    /// Where.
    pub stretch: Stretch,
    /// Why.
    pub why: WhyUnwitnessed,
}

/// Why there is no witness.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhyUnwitnessed {
    /// No line has metal there.
    NoLine,
    /// One line alone has metal there.
    OneLine,
    /// Every line that has metal there is damaged.
    AllDamaged,
}

/// A stretch where the lines disagreed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contested {
    /// Where.
    pub stretch: Stretch,
    /// How it was decided.
    pub decided: Decision,
    /// Least damage of any line there, as the feet tell it, and its standard error; below nothing where lines stand over the face;
    /// `None` where no foot could tell.
    pub least_depth: Option<(f64, f64)>,
    /// By how much the sound face may be off there, millimetres.
    pub uncertainty: f64,
}

/// How a contested stretch was decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decision {
    /// The upper lines agree and are sound.
    UpperLinesSound,
    /// All lines are damaged, differently.
    DamageAllRound,
    /// The upper lines stand over the face, which the others show.
    LinesRaised,
    /// A person said so.
    AsTold,
    /// Nothing decides: the highest line was taken.
    Undecided,
    /// All lines dip alike, and the job lists damage there: bridged from both sides.
    Bridged,
}

/// What no part of the model explains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unexplained {
    /// The line.
    pub line: usize,
    /// Where.
    pub stretch: Stretch,
    /// Mean departure over the stretch, millimetres, positive above the face.
    pub size: f64,
}

/// Why there is no model.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum FitError {
    /// No line.
    #[error("no line was measured; measure at least one across every zone")]
    NoLines,
    /// A line without enough readings.
    #[error("line {} has too few readings over the face to be fitted; measure it again", line + 1)]
    TooFewReadings {
        /// Which, from zero.
        line: usize,
    },
}

impl Shape {
    /// The shape's height at a radius, one at the outermost.
    #[must_use]
    pub fn at(self, r: f64, outermost: f64) -> f64 {
        match self {
            Self::Proportional => r / outermost,
            Self::Hinge { start, power } if r > start => ((r - start) / (outermost - start)).powf(power),
            Self::Hinge { .. } => 0.0,
        }
    }
}

impl WheelModel {
    /// The sound face at a radius: the mean of the lines, without tilt, eccentricity, bend and damage.
    #[must_use]
    pub fn face_at(&self, r: f64) -> f64 {
        self.grid.interpolate(&self.face, r)
    }

    /// The face's standard error at a radius.
    #[must_use]
    pub fn face_error_at(&self, r: f64) -> f64 {
        self.grid.interpolate(&self.face_error, r)
    }

    /// How far the face is shifted along the radius at an angle by its eccentricity.
    #[must_use]
    pub fn shift_at(&self, angle: f64) -> f64 {
        self.eccentricity.map_or(0.0, |e| e.distance * (angle - e.toward).cos())
    }

    /// The sound surface at a radius on a measured line, as that line alone shows tilt and bend.
    #[must_use]
    pub fn line_at(&self, line: usize, r: f64) -> f64 {
        let shift = self.angles.get(line).map_or(0.0, |&a| self.shift_at(a));
        self.face_at(r - shift) + self.line_departure_at(line, r)
    }

    /// How far tilt and bend lift a measured line at a radius, over the mean of the lines.
    #[must_use]
    pub fn line_departure_at(&self, line: usize, r: f64) -> f64 {
        let of_term = |t: &Term| t.amplitudes.get(line).map(|a| a * t.shape.at(r, self.outermost));
        self.terms.iter().filter_map(of_term).sum()
    }

    /// How far tilt and bend lift the surface at a radius and an angle, over the mean of the lines.
    #[must_use]
    pub fn departure_at(&self, r: f64, angle: f64) -> f64 {
        let regressors = self.turn.regressors(angle);
        self.turn
            .coefficients
            .iter()
            .zip(&self.terms)
            .map(|(row, term)| {
                term.shape.at(r, self.outermost)
                    * row.iter().zip(&regressors).map(|(a, b)| a * b).sum::<f64>()
            })
            .sum()
    }

    /// The sound surface at a radius and any angle.
    #[must_use]
    pub fn surface_at(&self, r: f64, angle: f64) -> f64 {
        self.face_at(r - self.shift_at(angle)) + self.departure_at(r, angle)
    }

    /// Highest, middle and lowest sound place of the turn at a radius. For many radii ask [`WheelModel::round`] once.
    #[must_use]
    pub fn turn_at(&self, r: f64) -> TurnAt {
        self.round().at(r)
    }

    /// The turn in all directions, to be asked at many radii.
    #[must_use]
    pub fn round(&self) -> Round<'_> {
        Round::new(self)
    }

    /// Adds listed damage that no line shows as deep as it was listed.
    pub(super) fn add_listed(&mut self, listed: &[ListedDamage]) {
        for d in listed {
            let seen = self.damage.iter().any(|dent| {
                dent.line.is_some()
                    && dent.stretch.from <= d.stretch.to
                    && d.stretch.from <= dent.stretch.to
                    && dent.depth + 2.0 * dent.error >= d.depth
            });
            if !seen {
                let Stretch { from, to } = d.stretch;
                self.damage.push(Dent {
                    line: None,
                    sector: d.sector,
                    stretch: d.stretch,
                    depth: d.depth,
                    error: 0.0,
                    profile: vec![(from, d.depth), (to, d.depth)],
                    witness: Witness::Listed,
                });
            }
        }
    }
}

impl Sector {
    /// Whether an angle lies in it.
    #[must_use]
    pub fn holds(&self, angle: f64) -> bool {
        let off = (angle - self.at + PI).rem_euclid(TAU) - PI;
        off.abs() <= self.width / 2.0
    }
}

impl Turn {
    /// A constant, and cosine and sine of each order, at an angle.
    pub(super) fn regressors(&self, angle: f64) -> Vec<f64> {
        regressors(&self.orders, angle)
    }
}

impl Dent {
    /// Depth below the sound face at a radius; zero outside.
    #[must_use]
    pub fn depth_at(&self, r: f64) -> f64 {
        interpolate(&self.profile, r)
    }
}
