//! The wheel measured again after passes were cut: what was really taken against what was told, what damage is left, what is to come.

use super::harm::count;
use super::measurement::stretches;
use super::rings::rings;
use crate::diagnostics::{Finding, Place, SurveyRule, Unit};
use crate::face::Face;
use crate::face::again::{self, AgainError, Found, Known, Measured};
use crate::face::model::WheelModel;
use crate::face::taken::COVERAGE;
use crate::geometry::{Point, Profile};
use crate::job::{Direction, Job};
use crate::numeric::grid::interpolate;
use crate::scan::MeasuredLines;
use crate::units::Length;
use serde::Serialize;

/// What was taken and what was told differ where they do by more than this and twice what is uncertain, millimetres: two
/// fifths of a usual finish cut.
const OTHERWISE: f64 = 0.02;
/// A departure smaller than this is not worth a word, millimetres: a fifth of a usual finish cut.
const WORTH_A_WORD: f64 = 0.01;
/// What was taken is told at radii this far apart, millimetres.
const APART: f64 = 10.0;

/// What was taken at a radius.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TakenAt {
    /// Radius, millimetres.
    pub r_mm: f64,
    /// Taken there, millimetres.
    pub taken_mm: f64,
    /// Two standard errors of it, millimetres.
    pub uncertainty_mm: f64,
}

/// Damage that a new line still shows below what the tool left.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DamageStill {
    /// The line, degrees.
    pub line_deg: f64,
    /// Innermost radius, millimetres.
    pub from_mm: f64,
    /// Outermost radius, millimetres.
    pub to_mm: f64,
    /// How far its deepest place lies below what the tool left, millimetres.
    pub depth_mm: f64,
    /// Two standard errors of it, millimetres.
    pub uncertainty_mm: f64,
    /// Radius of the deepest place, millimetres.
    pub deepest_at_mm: f64,
}

/// Where a new line shows no metal gone in the zones.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct NotTouched {
    /// The line, degrees.
    pub line_deg: f64,
    /// Innermost radius, millimetres.
    pub from_mm: f64,
    /// Outermost radius, millimetres.
    pub to_mm: f64,
}

/// What lines measured again say. Depths lie below the surface that passes follow, by the face as measured at first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Again {
    /// What was to be taken until then, millimetres.
    pub told_mm: f64,
    /// What was really taken on the mean, millimetres.
    pub taken_mm: f64,
    /// Two standard errors of it, with how far the highest place of the turn may be off, millimetres.
    pub uncertainty_mm: f64,
    /// How far the highest place of the turn may be off, millimetres.
    pub turn_mm: f64,
    /// The most that was taken anywhere in the zones: what counts against the allowance, millimetres.
    pub most_mm: f64,
    /// Radius of that, millimetres.
    pub most_at_mm: f64,
    /// From where further passes are counted: the least that was taken for certain, millimetres.
    pub begins_mm: f64,
    /// How much more was taken at the outermost than at the innermost radius, where it shows, millimetres.
    pub outward_mm: Option<f64>,
    /// How far the tool stood off in X, outward above nothing, where it shows, millimetres.
    pub off_in_x_mm: Option<f64>,
    /// The sensor's zero against that of the first lines, millimetres.
    pub zero_mm: f64,
    /// Length of the new lines over metal that was not cut: what shows that zero and seat stayed, millimetres.
    pub uncut_mm: f64,
    /// What that looks like, in words.
    pub looks_like: String,
    /// Why the part that grows outward may be a wheel seated anew as well as the tool's doing, in words; none where the lines tell.
    pub seat_or_tool: Option<String>,
    /// What was taken over the radius.
    pub at: Vec<TakenAt>,
    /// How much of what the new lines cross in the zones shows metal gone, percent.
    pub touched_percent: f64,
    /// Where it shows none: lower than the tool went, or the tool did not come there.
    pub not_touched: Vec<NotTouched>,
    /// Damage that the new lines still show.
    pub left: Vec<DamageStill>,
    /// What must come off in all for the last damage to go, and the last pass to touch everywhere, millimetres.
    pub needed_mm: f64,
    /// Radius that asks for it, millimetres.
    pub needed_at_mm: f64,
}

impl Again {
    /// Two standard errors of the most that was taken, millimetres: as well as the depth is known there, and no better than on the mean.
    #[must_use]
    pub fn uncertainty_of_most(&self) -> f64 {
        let off = |at: &TakenAt| (at.r_mm - self.most_at_mm).abs();
        let nearest = self.at.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        nearest.map_or(self.uncertainty_mm, |at| at.uncertainty_mm.max(self.uncertainty_mm))
    }
}

/// Looks at the lines measured again, and puts what they show into the face. None where nothing was measured again.
///
/// # Errors
/// Where the lines tell nothing that may be cut by.
pub(super) fn look(
    job: &Job,
    lines: &MeasuredLines,
    model: &WheelModel,
    followed: &Profile,
    face: &mut Face,
) -> Result<Option<Again>, AgainError> {
    let Some(asked) = job.measured_again.as_ref() else { return Ok(None) };
    let measured: Vec<_> = lines.again.iter().map(|l| l.line.clone()).collect();
    let silent: Vec<_> =
        [&job.mending.leave, &job.mending.no_metal].into_iter().flat_map(|s| stretches(s)).collect();
    let found = again::find(&Measured {
        model,
        followed,
        lines: &measured,
        zero: asked.zero,
        zones: &job.zones,
        silent: &silent,
        longest_gap: job.measured.longest_gap.as_mm(),
    })?;
    face.damage = deepened(face, &found);
    face.taken = Some(found.taken.clone());
    let told = asked.cut.unwrap_or_default().as_mm();
    let turn_mm = rings(job, model).iter().map(|r| r.uncertainty).fold(0.0, f64::max);
    let (most_mm, most_at_mm) = found.taken.most(&job.zones);
    let need = face.need(&job.zones);
    let angles: Vec<f64> = measured.iter().map(|l| l.at).collect();
    Ok(Some(Again {
        told_mm: told,
        taken_mm: found.mean.value,
        // Depths count from the highest place of the turn: they are known no better than that is.
        uncertainty_mm: (COVERAGE * found.mean.error).hypot(turn_mm),
        turn_mm,
        most_mm,
        most_at_mm,
        begins_mm: found.taken.begins(&job.zones, job.control.resolution).as_mm(),
        outward_mm: found.outward.map(|k| k.value),
        off_in_x_mm: found.across.map(|k| k.value),
        zero_mm: found.zero.value,
        uncut_mm: found.uncut,
        looks_like: looks_like(job, &found, told),
        seat_or_tool: seat_or_tool(&angles, &found),
        at: at(job, &found),
        touched_percent: 100.0 * found.touched,
        not_touched: not_touched(&angles, &found),
        left: left(&angles, &found),
        needed_mm: need.depth.as_mm(),
        needed_at_mm: need.at.as_mm(),
    }))
}

/// The damage of a face, deepened to what the new lines still show below what the tool left.
fn deepened(face: &Face, found: &Found) -> Profile {
    let floor = |p: &Point| {
        let here = found.left.iter().filter(|d| d.stretch.holds(p.x));
        let below = here.map(|d| interpolate(&d.profile, p.x) + COVERAGE * d.depth.error).fold(0.0, f64::max);
        let depth = found.taken.depth.at(p.x) + below;
        let run_out = face.follows().at(p.x) - face.lowest.at(p.x);
        if below > 0.0 { p.z.max(depth - run_out) } else { p.z }
    };
    face.damage.map(|p| floor(&p))
}

fn at(job: &Job, found: &Found) -> Vec<TakenAt> {
    let mut all = Vec::new();
    for zone in &job.zones {
        let (from, to) = (zone.from.as_mm() + again::ZONE_END, zone.to.as_mm() - again::ZONE_END);
        let between = std::iter::successors(Some((from / APART).ceil() * APART), |r| Some(r + APART));
        let radii = std::iter::once(from).chain(between.take_while(|r| *r < to)).chain([to.max(from)]);
        all.extend(radii.map(|r| TakenAt {
            r_mm: r,
            taken_mm: found.taken.depth.at(r),
            uncertainty_mm: COVERAGE * found.taken.error.at(r),
        }));
    }
    all
}

fn left(angles: &[f64], found: &Found) -> Vec<DamageStill> {
    let still = |d: &again::DamageLeft| DamageStill {
        line_deg: angles.get(d.line).copied().unwrap_or(0.0).to_degrees(),
        from_mm: d.stretch.from,
        to_mm: d.stretch.to,
        depth_mm: d.depth.value,
        uncertainty_mm: COVERAGE * d.depth.error,
        deepest_at_mm: d.deepest_at,
    };
    found.left.iter().map(still).collect()
}

fn not_touched(angles: &[f64], found: &Found) -> Vec<NotTouched> {
    let degrees = |line: usize| angles.get(line).copied().unwrap_or(0.0).to_degrees();
    let told = |u: &again::Untouched| NotTouched {
        line_deg: degrees(u.line),
        from_mm: u.stretch.from,
        to_mm: u.stretch.to,
    };
    found.untouched.iter().map(told).collect()
}

/// Why what grows outward may be the seat's doing as well as the tool's.
fn seat_or_tool(angles: &[f64], found: &Found) -> Option<String> {
    let (lean, outward) = (found.lean?, found.outward?);
    let lines: Vec<String> = angles.iter().map(|a| format!("{:.0}", a.to_degrees())).collect();
    let lines = match lines.as_slice() {
        [one] => format!("one line, at {one} deg, cannot"),
        all => format!("lines at {} deg cannot", all.join(" and ")),
    };
    let uncut = lean.uncut.map_or_else(
        || "they cross no metal on both sides of the zones that was not cut".to_owned(),
        |k| {
            format!(
                "metal that was not cut leans by {:.3} mm over the zones, known within {:.3} mm",
                k.value,
                COVERAGE * k.error
            )
        },
    );
    Some(format!(
        "{:.3} mm from one end of the zones to the other may be the tool's doing, or the wheel sits otherwise than before: {lines} tell the two \
         apart, and {uncut}",
        outward.value.abs()
    ))
}

/// What the departures look like to somebody who set the tool.
fn looks_like(job: &Job, found: &Found, told: f64) -> String {
    let plain = |k: &Known| k.value.abs() > WORTH_A_WORD.max(COVERAGE * k.error);
    let mut said = Vec::new();
    let off = found.mean.value - told;
    if off.abs() > OTHERWISE.max(COVERAGE * found.mean.error) {
        let [side, way] = if off > 0.0 { ["more", "lower"] } else { ["less", "higher"] };
        said.push(format!(
            "{:.3} mm {side} than told, evenly: the tool stood {way} than it showed, an error of its touch-off",
            off.abs()
        ));
    }
    if let Some(outward) = found.outward.filter(plain) {
        let outer = if outward.value > 0.0 { "outer" } else { "inner" };
        let to_the_end = (outward.value > 0.0) == (job.schedule.direction == Direction::Outward);
        let why = if to_the_end {
            "more toward the end of the cut: the slides are not square to the spindle, or something gave at the start"
        } else {
            "less toward the end of the cut: the edge wore, or tool and slide sprang"
        };
        said.push(format!("{:.3} mm more at the {outer} end of the zones, {why}", outward.value.abs()));
    }
    if let Some(across) = found.across.filter(plain) {
        let way = if across.value > 0.0 { "outward" } else { "inward" };
        said.push(format!(
            "more on one side of every slope: the tool stood {:.3} mm {way} of where it showed in X",
            across.value.abs()
        ));
    }
    if said.is_empty()
        && let Some(other) = uneven(job, found)
    {
        said.push(other);
    }
    if said.is_empty() { "as told, and even".to_owned() } else { said.join("; ") }
}

/// Where the depth departs from its mean by more than the lines leave open, though no error of the tool explains it.
fn uneven(job: &Job, found: &Found) -> Option<String> {
    let all = at(job, found);
    let mean = all.iter().map(|at| at.taken_mm).sum::<f64>() / all.len().max(1) as f64;
    let off = |at: &TakenAt| at.taken_mm - mean;
    let widest = all.iter().max_by(|a, b| off(a).abs().total_cmp(&off(b).abs()))?;
    let plain = off(widest).abs() > OTHERWISE.max(widest.uncertainty_mm);
    let way = if off(widest) > 0.0 { "more" } else { "less" };
    plain.then(|| {
        format!(
            "uneven: {:.3} mm {way} than on the mean at {:.1} mm radius, look there",
            off(widest).abs(),
            widest.r_mm
        )
    })
}

/// What there is to say of it.
pub(super) fn findings(job: &Job, again: &Again) -> Vec<Finding> {
    let mut found = Vec::new();
    let says = format!(
        "{:.3} mm were really taken on the mean, known within {:.3} mm, where {:.3} mm were told: {}.",
        again.taken_mm, again.uncertainty_mm, again.told_mm, again.looks_like
    );
    let off = (again.taken_mm - again.told_mm).abs();
    let rule = if off > OTHERWISE.max(again.uncertainty_mm) || again.looks_like.contains("uneven") {
        SurveyRule::TakenOtherwise
    } else {
        SurveyRule::TakenAsTold
    };
    found.push(Finding::new(rule, Place::Whole, says).measured(
        again.taken_mm,
        Some(again.told_mm),
        Unit::Mm,
    ));
    if let Some(doubt) = &again.seat_or_tool {
        found.push(Finding::new(SurveyRule::SeatOrTool, Place::Whole, format!("{doubt}.")));
    }
    if let Some(widest) = widest(&again.not_touched) {
        let says = format!(
            "{:.0} % of what the new lines cross in the zones was touched. No metal is plainly gone in {}, the longest from {:.1} mm to {:.1} mm radius on the \
             line at {:.0} deg: it lies lower than the tool went, or the tool did not come there.",
            again.touched_percent,
            count(again.not_touched.len(), "place"),
            widest.from_mm,
            widest.to_mm,
            widest.line_deg
        );
        found.push(Finding::new(SurveyRule::NotTouched, Place::radius(widest.from_mm), says));
    }
    if again.uncut_mm == 0.0 {
        let says = "That the sensor's zero stayed is only said: the new lines cross too little metal that was not cut to show it.";
        found.push(Finding::new(SurveyRule::ZeroOnlySaid, Place::Whole, says.to_owned()));
    }
    if let Some(deepest) = again.left.iter().max_by(|a, b| a.depth_mm.total_cmp(&b.depth_mm)) {
        let says = format!(
            "The new lines still show damage in {}, the deepest {:.3} mm below what the tool left, at {:.1} mm radius on the line at \
             {:.0} deg, known within {:.3} mm.",
            count(again.left.len(), "place"),
            deepest.depth_mm,
            deepest.deepest_at_mm,
            deepest.line_deg,
            deepest.uncertainty_mm
        );
        let place = Place::radius(deepest.deepest_at_mm);
        found.push(Finding::new(SurveyRule::DamageStill, place, says).measured(
            deepest.depth_mm,
            None,
            Unit::Mm,
        ));
    }
    let says = format!(
        "{:.3} mm must come off in all, at {:.1} mm radius: {:.3} mm more than the least that is gone for certain, {:.3} mm.",
        again.needed_mm,
        again.needed_at_mm,
        (again.needed_mm - again.begins_mm).max(0.0),
        again.begins_mm
    );
    found.push(Finding::new(SurveyRule::StillNeeded, Place::radius(again.needed_at_mm), says).measured(
        again.needed_mm - again.begins_mm,
        None,
        Unit::Mm,
    ));
    let may = job.wheel.allowance.remaining();
    if again.most_mm > may.as_mm() {
        let says = format!(
            "{:.3} mm are gone at {:.1} mm radius, where the wheel may lose {:.3}.",
            again.most_mm, again.most_at_mm, may
        );
        found.push(Finding::new(SurveyRule::TakenBeyond, Place::radius(again.most_at_mm), says).measured(
            again.most_mm,
            Some(may.as_mm()),
            Unit::Mm,
        ));
    }
    found
}

fn widest(all: &[NotTouched]) -> Option<&NotTouched> {
    all.iter().max_by(|a, b| (a.to_mm - a.from_mm).total_cmp(&(b.to_mm - b.from_mm)))
}

/// The depth from which further passes are counted.
pub(super) fn begins(again: Option<&Again>) -> Length {
    Length::mm(again.map_or(0.0, |a| a.begins_mm))
}
