//! The face over one whole turn as plan and proof use it: what a tool meets first, and how far down it must come.
//!
//! At every radius of the model three heights are asked for: the highest sound place of the turn, which the tool meets first;
//! the lowest, which must be reached for the tool to cut all round; and the floor of the damage, reckoned at the angle where
//! the damage is. A dent seen on a line reaches at most to the lines beside it that do not show it, so the sound
//! surface above its floor is the lowest between those. Damage of unknown angle counts from the lowest place of the turn.
//!
//! On a wall an eccentric face stands off by far more along the axis than across it: reaching it all round would cost the whole face
//! that height. More than [`WALL`] of eccentricity is therefore not asked for; where it is left, the survey says so.

use super::model::{Dent, Sector, TurnAt, WheelModel};
use super::{Face, FaceError, StandardErrors};
use crate::geometry::profile::ProfileError;
use crate::geometry::{Point, Profile};
use crate::job::Damage;
use crate::numeric::grid::interpolate;
use crate::scan::line::Stretch;
use std::f64::consts::TAU;

/// The most that eccentricity may ask for along the axis, millimetres: about one finish cut.
pub const WALL: f64 = 0.06;

/// Directions in which a sector is looked at, radians apart: within one, a wave of three lobes changes by 1 % of its height.
const SECTOR_STEP: f64 = 0.05;

/// What an indicator read beside a single line.
///
/// Where on the turn the line lies is not known: the lowest place may stand the whole run-out below it, and beyond the
/// touch-off the highest may stand above it by what the run-out has grown since. A tilt grows from the axis in
/// proportion, a bend later: neither lies above the straight rise from the touch-off to the rim. Inward of the
/// touch-off, where the tool was set, the line itself is the highest that counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneLine {
    /// The run-out at the rim, millimetres.
    pub run_out: f64,
    /// Radius of the touch-off, millimetres.
    pub touch_off: f64,
    /// Radius of the rim, millimetres.
    pub rim: f64,
}

impl OneLine {
    fn up(&self, r: f64) -> f64 {
        let reach = self.rim - self.touch_off;
        let share = if reach > 0.0 { ((r - self.touch_off) / reach).clamp(0.0, 1.0) } else { 0.0 };
        self.run_out * share
    }
}

/// The face of a model, with the job's listed damage.
///
/// # Errors
/// If the model holds fewer than two radii.
pub fn over_turn(
    model: &WheelModel,
    listed: &[Damage],
    one_line: Option<OneLine>,
) -> Result<Face, FaceError> {
    let round = model.round();
    let turns: Vec<TurnAt> = (0..model.grid.len).map(|i| round.at(model.grid.at(i))).collect();
    let places: Vec<Place> = turns
        .iter()
        .enumerate()
        .map(|(i, turn)| {
            let before = i.checked_sub(1).and_then(|i| turns.get(i)).unwrap_or(turn);
            let after = turns.get(i + 1).unwrap_or(turn);
            let slope = (after.highest - before.highest) / (2.0 * model.grid.step);
            place(model, listed, one_line, model.grid.at(i), (turn, slope))
        })
        .collect();
    let over = |of: fn(&Place) -> f64| {
        Profile::new(places.iter().map(|p| Point::new(p.r, of(p))).collect()).map_err(FaceError::from)
    };
    Ok(Face {
        highest: over(|p| p.highest)?,
        lowest: over(|p| p.lowest)?,
        damage: over(|p| (p.lowest - p.floor).max(0.0))?,
        errors: Some(errors(model)?),
        taken: None,
    })
}

/// The standard error of a local parabola's slope over that of its height, times the half-width: √(∫u²w²/m2²) over √(∫w²(m4 − m2·u²)²/(m0·m4 − m2²)²)
/// with the biweight weights w = (1 − u²)² over [−1, 1] and their moments m0, m2, m4, which is √(3.1818/1.4074).
const SLOPE_OVER_HEIGHT: f64 = 1.503_6;

/// An error that is no number, where the face is bridged: unknown.
const UNKNOWN: f64 = 1.0;

/// How well the model's readings tell the face. What its windows hide of the slope is in the height's error already.
fn errors(model: &WheelModel) -> Result<StandardErrors, ProfileError> {
    let profile = |of: &dyn Fn(f64, f64) -> f64| {
        let errors = model.face_error.iter().zip(&model.half_width).map(|(e, h)| of(*e, *h));
        let known = errors.map(|e| if e.is_finite() { e } else { UNKNOWN });
        Profile::new(known.enumerate().map(|(i, e)| Point::new(model.grid.at(i), e)).collect())
    };
    Ok(StandardErrors {
        height: profile(&|error, _| error)?,
        slope: profile(&|error, half_width| SLOPE_OVER_HEIGHT * error / half_width)?,
    })
}

struct Place {
    r: f64,
    highest: f64,
    lowest: f64,
    floor: f64,
}

/// The place at a radius, with the turn there and the slope of its highest place.
fn place(
    model: &WheelModel,
    listed: &[Damage],
    one_line: Option<OneLine>,
    r: f64,
    (turn, slope): (&TurnAt, f64),
) -> Place {
    let (up, down) = one_line.map_or((0.0, 0.0), |o| (o.up(r), o.run_out));
    // A stretch that is left as it is is neither cut below its highest line nor cleaned of what lies lower.
    let left_over = interpolate(&model.left_over, r);
    let highest = turn.highest + up + left_over;
    // What the eccentricity adds to the run-out where the highest place itself is a wall, beyond what is asked for.
    let eccentric = model.eccentricity.map_or(0.0, |e| 2.0 * e.distance * slope.abs());
    let left = (eccentric - WALL).max(0.0).min(turn.highest - turn.lowest);
    let lowest = turn.lowest + left - down + left_over;
    let floor = floor(model, listed, r, lowest).unwrap_or(lowest);
    Place { r, highest, lowest, floor }
}

/// The floor of the deepest damage at a radius; none where there is no damage.
fn floor(model: &WheelModel, listed: &[Damage], r: f64, lowest: f64) -> Option<f64> {
    let here = |d: &&Dent| d.stretch.holds(r);
    let seen = model.damage.iter().filter(here).map(|d| {
        let sound = match (d.line, d.sector) {
            (Some(line), _) => between_lines(model, line, r).map_or(lowest, |s| lowest_in(model, r, s)),
            (None, Some(sector)) => lowest_in(model, r, sector),
            (None, None) => lowest,
        };
        sound.max(lowest) - d.depth_at(r)
    });
    let told = listed.iter().filter(|d| d.from.as_mm() <= r && r <= d.to.as_mm()).map(|d| {
        let stretch = Stretch { from: d.from.as_mm(), to: d.to.as_mm() };
        let said = d.sector.map(|s| Sector { at: s.at.as_rad(), width: s.over.as_rad() });
        let sectors = said.map_or_else(|| listed_sectors(model, &stretch, r), |s| vec![s]);
        let sound = sectors.into_iter().map(|s| lowest_in(model, r, s)).reduce(f64::min);
        sound.unwrap_or(lowest).max(lowest) - d.depth.as_mm()
    });
    seen.chain(told).reduce(f64::min)
}

/// Where listed damage lies over the turn as far as the lines show it; nothing where no line does.
fn listed_sectors(model: &WheelModel, listed: &Stretch, r: f64) -> Vec<Sector> {
    let shows = |d: &&Dent| d.stretch.meets(listed);
    model.damage.iter().filter(shows).filter_map(|d| between_lines(model, d.line?, r)).collect()
}

/// The part of the turn that a dent seen on a line may cover at a radius: up to the lines on either side that have
/// metal there and do not show it. `None` where no line bounds it: it may be anywhere.
fn between_lines(model: &WheelModel, line: usize, r: f64) -> Option<Sector> {
    let at = *model.angles.get(line)?;
    let damaged = |k: usize| model.damage.iter().any(|d| d.line == Some(k) && d.stretch.holds(r));
    let metal = |k: usize| model.no_metal.get(k).is_none_or(|gone| !gone.iter().any(|s| s.holds(r)));
    let sound = || model.angles.iter().enumerate().filter(|(k, _)| !damaged(*k) && metal(*k));
    let after = sound().map(|(_, a)| (a - at).rem_euclid(TAU)).filter(|d| *d > 0.0).reduce(f64::min)?;
    let before = sound().map(|(_, a)| (at - a).rem_euclid(TAU)).filter(|d| *d > 0.0).reduce(f64::min)?;
    Some(Sector { at: at + (after - before) / 2.0, width: after + before })
}

/// The lowest sound place of a part of the turn at a radius.
fn lowest_in(model: &WheelModel, r: f64, sector: Sector) -> f64 {
    let steps = (sector.width / SECTOR_STEP).ceil().clamp(1.0, TAU / SECTOR_STEP);
    let mut lowest = f64::INFINITY;
    let mut k = 0.0;
    while k <= steps {
        let angle = sector.at + sector.width * (k / steps - 0.5);
        lowest = lowest.min(model.surface_at(r, angle));
        k += 1.0;
    }
    lowest
}
