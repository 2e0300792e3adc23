//! The face over one whole turn as plan and proof use it: what a tool meets first, and how far down it must come.
//!
//! At every radius of the model three heights are asked for: the highest sound place of the turn, which the tool meets first;
//! the lowest, which must be reached for the tool to cut all round; and the floor of the damage, reckoned at the angle where
//! the damage is. A dent seen on a line reaches at most to the lines beside it that show less, so the sound
//! surface above its floor is the lowest between those; where every line is damaged, it is no deeper there than the lines beside it make
//! likely ([`AllRound`]). Listed damage that a line shows as deep as it is listed is that line's, and has its section; listed damage
//! that all lines show, none as deep, lies between them; other damage of unknown angle counts from the lowest place of the turn.
//!
//! On a wall an eccentric face stands off by far more along the axis than across it: reaching it all round would cost the whole face
//! that height. More than [`WALL`] of eccentricity is therefore not asked for; where it is left, the survey says so.

use super::all_round::AllRound;
use super::model::{Dent, Sector, WheelModel};
use super::round::Round;
use super::{Face, FaceError, StandardErrors};
use crate::geometry::profile::ProfileError;
use crate::geometry::{Point, Profile};
use crate::job::Damage;
use crate::numeric::grid::interpolate;
use crate::numeric::local::SLOPE_OVER_HEIGHT;
use crate::scan::line::Stretch;
use rayon::prelude::*;
use std::f64::consts::TAU;

/// The most that eccentricity may ask for along the axis, millimetres: about one finish cut.
pub const WALL: f64 = 0.06;

/// Damage that a person lists is measured by a hand-held gauge, which is good to so much, millimetres.
const GAUGE: f64 = 0.02;

/// And its ends by a ruler, millimetres.
const RULER: f64 = 1.0;

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
    let turns: Vec<Turn> =
        (0..model.grid.len).into_par_iter().map(|i| Turn::at(&round, model.grid.at(i))).collect();
    let places: Vec<Place> = (0..turns.len())
        .into_par_iter()
        .filter_map(|i| {
            let turn = turns.get(i)?;
            let before = i.checked_sub(1).and_then(|i| turns.get(i)).unwrap_or(turn);
            let after = turns.get(i + 1).unwrap_or(turn);
            let slope = (after.highest - before.highest) / (2.0 * model.grid.step);
            Some(place(&round, listed, one_line, turn, slope))
        })
        .collect();
    let over = |of: fn(&Place) -> f64| {
        Profile::new(places.iter().map(|p| Point::new(p.r, of(p))).collect()).map_err(FaceError::from)
    };
    Ok(Face {
        highest: over(|p| p.highest)?,
        followed: None,
        lowest: over(|p| p.lowest)?,
        damage: over(|p| (p.lowest - p.floor).max(0.0))?,
        errors: Some(errors(model)?),
        taken: None,
    })
}

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

/// The sound surface over one turn at a radius.
struct Turn {
    r: f64,
    highest: f64,
    lowest: f64,
}

impl Turn {
    fn at(round: &Round<'_>, r: f64) -> Self {
        let [highest, lowest] = Round::extremes(&round.heights(r));
        Self { r, highest, lowest }
    }
}

/// The place where a turn lies, with the slope of its highest place.
fn place(round: &Round<'_>, listed: &[Damage], one_line: Option<OneLine>, turn: &Turn, slope: f64) -> Place {
    let (model, r) = (round.model(), turn.r);
    let (up, down) = one_line.map_or((0.0, 0.0), |o| (o.up(r), o.run_out));
    // A stretch that is left as it is is neither cut below its highest line nor cleaned of what lies lower.
    let left_over = interpolate(&model.left_over, r);
    let highest = turn.highest + up + left_over;
    // What the eccentricity adds to the run-out where the highest place itself is a wall, beyond what is asked for.
    let eccentric = model.eccentricity.map_or(0.0, |e| 2.0 * e.distance * slope.abs());
    let left = (eccentric - WALL).max(0.0).min(turn.highest - turn.lowest);
    let lowest = turn.lowest + left - down + left_over;
    let damaged = listed.iter().any(|d| d.from.as_mm() <= r && r <= d.to.as_mm())
        || model.damage.iter().any(|d| d.stretch.holds(r));
    let here = || floor(model, listed, &Around { r, lowest, heights: round.heights(r) });
    let floor = damaged.then(here).flatten().unwrap_or(lowest);
    Place { r, highest, lowest, floor }
}

/// The turn at one radius, as the floor of damage is reckoned from it.
struct Around {
    r: f64,
    /// The lowest place that is asked for.
    lowest: f64,
    /// The sound surface in each direction, evenly spaced from angle zero.
    heights: Vec<f64>,
}

/// The floor of the deepest damage at a radius; none where there is no damage.
fn floor(model: &WheelModel, listed: &[Damage], around: &Around) -> Option<f64> {
    let r = around.r;
    let here = model.damage.iter().filter(|d| d.stretch.holds(r));
    let reach = |d: &Dent| Some(said_of(model, listed, d).or_else(|| sector_of(model, d, d.line?, r)));
    let here: Vec<_> = here.filter(|d| d.line.is_some()).filter_map(|d| Some((d, reach(d)?))).collect();
    let seen = match AllRound::of(model, Stretch { from: r, to: r }, |d| d.stretch.holds(r)) {
        Some(rash) => around.lowest_floor(|angle| {
            let reaching = here.iter().filter(|(_, sector)| sector.is_none_or(|s| s.holds(angle)));
            let most = reaching.map(|(d, _)| d.depth_at(r)).fold(0.0, f64::max);
            rash.depth_at(angle, |d| d.depth_at(r), 0.0).min(most)
        }),
        None => here.iter().map(|(d, sector)| around.lowest_within(*sector) - d.depth_at(r)).reduce(f64::min),
    };
    let told = listed.iter().filter(|d| d.from.as_mm() <= r && r <= d.to.as_mm()).map(|d| {
        let depth = d.depth.as_mm();
        let of_line = |(dent, line): &(&Dent, usize)| {
            around.lowest_within(sector_of(model, dent, *line, r)) - section(dent, d, r)
        };
        let anywhere = around.lowest - depth;
        match whereabouts(model, d) {
            Whereabouts::Said(sector) => around.lowest_in(sector) - depth,
            Whereabouts::Seen { as_deep, all_round } => {
                let shown = as_deep.iter().map(of_line).reduce(f64::min).unwrap_or(anywhere);
                let between = all_round.and_then(|rash| {
                    let deeper = depth - rash.deepest();
                    around.lowest_floor(|angle| rash.depth_at(angle, |d| d.depth_at(r), deeper).min(depth))
                });
                between.map_or(shown, |b| b.max(shown))
            }
        }
    });
    seen.into_iter().chain(told).reduce(f64::min)
}

/// The part of the turn that the job says of a dent: of listed damage that holds it at its angle and over its width and is as deep.
fn said_of(model: &WheelModel, listed: &[Damage], dent: &Dent) -> Option<Sector> {
    let at = *model.angles.get(dent.line?)?;
    let said = |d: &Damage| {
        let sector = d.sector.map(|s| Sector { at: s.at.as_rad(), width: s.over.as_rad() })?;
        let here =
            sector.holds(at) && covers(d, dent) && dent.depth <= d.depth.as_mm() + GAUGE + 2.0 * dent.error;
        here.then_some(sector)
    };
    listed.iter().find_map(said)
}

/// What is known of where on the turn listed damage lies.
enum Whereabouts<'m> {
    /// The job says it.
    Said(Sector),
    /// The lines that show it as deep as it is listed, if any, and what all lines show of it, if all do.
    Seen { as_deep: Vec<(&'m Dent, usize)>, all_round: Option<AllRound<'m>> },
}

fn whereabouts<'m>(model: &'m WheelModel, listed: &Damage) -> Whereabouts<'m> {
    if let Some(said) = listed.sector {
        return Whereabouts::Said(Sector { at: said.at.as_rad(), width: said.over.as_rad() });
    }
    let stretch = Stretch { from: listed.from.as_mm(), to: listed.to.as_mm() };
    let depth = listed.depth.as_mm();
    let as_deep = |d: &&Dent| d.stretch.meets(&stretch) && d.depth + 2.0 * d.error + GAUGE >= depth;
    let as_deep = model.damage.iter().filter(as_deep).filter_map(|d| Some((d, d.line?))).collect();
    Whereabouts::Seen { as_deep, all_round: AllRound::of(model, stretch, |d| is_as_wide(d, listed)) }
}

/// Why the clean-up depth may change with the angle of listed damage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unplaced {
    /// It counts from the lowest place of the turn.
    Lowest,
    /// All lines show it; between them it is taken to be as deep as they make likely.
    BetweenLines,
}

/// How listed damage counts of which it is not known where on the turn it is as deep as listed; `None` where that is known.
#[must_use]
pub fn unplaced(model: &WheelModel, listed: &Damage) -> Option<Unplaced> {
    match whereabouts(model, listed) {
        Whereabouts::Seen { as_deep, all_round } if as_deep.is_empty() => {
            Some(if all_round.is_some() { Unplaced::BetweenLines } else { Unplaced::Lowest })
        }
        Whereabouts::Said(_) | Whereabouts::Seen { .. } => None,
    }
}

/// Whether a dent is as wide as damage is listed.
fn is_as_wide(dent: &Dent, listed: &Damage) -> bool {
    dent.stretch.from <= listed.from.as_mm() + RULER && listed.to.as_mm() - RULER <= dent.stretch.to
}

/// Whether damage is listed as wide as a dent.
fn covers(listed: &Damage, dent: &Dent) -> bool {
    listed.from.as_mm() <= dent.stretch.from + RULER && dent.stretch.to - RULER <= listed.to.as_mm()
}

/// The depth of listed damage at a radius by the line that shows it: where that shows its whole width, its section, as much deeper as
/// the job lists it; else the listed depth.
fn section(dent: &Dent, listed: &Damage, r: f64) -> f64 {
    let depth = listed.depth.as_mm();
    if is_as_wide(dent, listed) {
        (dent.depth_at(r) + (depth - dent.depth).max(0.0)).min(depth)
    } else {
        depth
    }
}

/// The part of the turn that a dent seen on a line may cover at a radius as deep as it is there: up to the lines on either side that
/// have metal and show less. `None` where no line bounds it: it may be anywhere.
fn sector_of(model: &WheelModel, dent: &Dent, line: usize, r: f64) -> Option<Sector> {
    let at = *model.angles.get(line)?;
    let depth = dent.depth_at(r);
    let as_deep = |k: usize| {
        let mut of_line = model.damage.iter().filter(|d| d.line == Some(k) && d.stretch.holds(r));
        of_line.any(|d| d.depth_at(r) + 2.0 * d.error.hypot(dent.error) >= depth)
    };
    let metal = |k: usize| model.no_metal.get(k).is_none_or(|gone| !gone.iter().any(|s| s.holds(r)));
    let less = || model.angles.iter().enumerate().filter(|(k, _)| *k != line && metal(*k) && !as_deep(*k));
    let after = less().map(|(_, a)| (a - at).rem_euclid(TAU)).filter(|d| *d > 0.0).reduce(f64::min)?;
    let before = less().map(|(_, a)| (at - a).rem_euclid(TAU)).filter(|d| *d > 0.0).reduce(f64::min)?;
    Some(Sector { at: at + (after - before) / 2.0, width: after + before })
}

impl Around {
    /// The lowest floor of damage that is so deep in each direction.
    fn lowest_floor(&self, depth: impl Fn(f64) -> f64) -> Option<f64> {
        let step = TAU / self.heights.len().max(1) as f64;
        let floors =
            self.heights.iter().enumerate().map(|(i, h)| h.max(self.lowest) - depth(step * i as f64));
        floors.reduce(f64::min)
    }

    /// The lowest sound place of the part of the turn over which damage may lie; where nothing bounds it, of the whole.
    fn lowest_within(&self, sector: Option<Sector>) -> f64 {
        sector.map_or(self.lowest, |s| self.lowest_in(s))
    }

    /// The lowest sound place of a part of the turn, no lower than what is asked for.
    fn lowest_in(&self, sector: Sector) -> f64 {
        let n = self.heights.len().max(1);
        let step = TAU / n as f64;
        let start = (sector.at - sector.width / 2.0).rem_euclid(TAU) / step;
        let end = start + sector.width.clamp(0.0, TAU) / step;
        let height = |direction: f64| {
            let before = direction.floor();
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // From 0 to two turns.
            let i = before as usize;
            let at = |i: usize| self.heights.get(i % n).copied().unwrap_or(self.lowest);
            at(i) + (at(i + 1) - at(i)) * (direction - before)
        };
        let mut lowest = height(start).min(height(end));
        let mut direction = start.ceil();
        while direction < end {
            lowest = lowest.min(height(direction));
            direction += 1.0;
        }
        lowest.max(self.lowest)
    }
}
