//! How the wheel runs, in numbers, and judged: run-out as mounted and by an indicator, tilt, bend.
//!
//! Limits come from the job. Beside them stand two figures that vehicle makers' service manuals give
//! for axial run-out of aluminium wheels: some 0.8 mm for a new wheel, and 2.0 mm as the service
//! limit (for example Honda's and Mitsubishi's wheel run-out inspection; from memory). A wheel
//! beyond the second is not cut, whatever the job allows.

use super::coverage;
use super::judge::Case;
use super::rings::{Ring, worst};
use super::{RunOut, Tilt, depth};
use crate::diagnostics::{Finding, Place, SurveyRule, Unit};
use crate::face::Face;
use crate::face::model::WheelModel;
use crate::face::over_turn::WALL;
use crate::job::Job;

/// Axial run-out that service manuals allow a new aluminium wheel.
pub const RUN_OUT_NEW: f64 = 0.8;
/// Axial run-out beyond which service manuals say to replace an aluminium wheel.
pub const RUN_OUT_SERVICE: f64 = 2.0;
/// Lines at this many different angles tell two lobes from a tilt: a constant and two harmonics have five terms.
const ENOUGH_FOR_TWO_LOBES: usize = 5;
/// An indicator and the lines may differ by this without anything being wrong, millimetres: two of its hundredths.
const INDICATOR: f64 = 0.02;

/// The run-out in numbers, where lines or readings round the wheel show it.
///
/// Run-out is highest less lowest place of one turn at a radius, along the axis (ISO 1101, circular axial run-out), of the two
/// profiles by which the wheel is cut. On a wall an eccentric face stands off by much along the axis and by little in metal,
/// and counts there by no more than [`WALL`], as it is cut for.
pub(super) fn run_out(
    job: &Job,
    model: &WheelModel,
    face: &Face,
    rings: &[Ring],
    seen: usize,
) -> Option<RunOut> {
    if seen < 2 {
        return None;
    }
    let places = depth::zone_points(job, face);
    let run_out = places.iter().max_by(|a, b| a.run_out_mm.total_cmp(&b.run_out_mm))?;
    let bend = worst(rings, |r| r.bend)?;
    let rim = job.zones.iter().map(|z| z.to.as_mm()).fold(0.0, f64::max);
    let tilt = (seen >= 3).then(|| {
        let high = model.tilt.high_side.to_degrees().rem_euclid(360.0);
        Tilt {
            at_rim_mm: 2.0 * model.tilt.slope * rim,
            rim_mm: rim,
            high_side_deg: high,
            shim_at_deg: (high + 180.0).rem_euclid(360.0),
        }
    });
    Some(RunOut {
        as_mounted_mm: run_out.run_out_mm,
        as_mounted_at_mm: run_out.r_mm,
        bend_mm: bend.bend,
        bend_at_mm: bend.r,
        uncertainty_mm: worst(rings, |r| r.uncertainty)?.uncertainty,
        eccentricity_mm: model.eccentricity.map(|e| e.distance),
        tilt,
    })
}

/// The run-out that the job states, read by an indicator at the rim, against its limit and against what the lines show.
fn stated(job: &Job, run_out: Option<&RunOut>) -> Option<Finding> {
    let value = job.measured.run_out?.as_mm();
    let limit = job.wheel.run_out_limit.as_mm();
    let row = |rule: SurveyRule, says: String| {
        Some(Finding::new(rule, Place::Whole, says).measured(value, Some(limit), Unit::Mm))
    };
    let read = format!("The job says that an indicator at the rim read {value:.3} mm over one turn");
    if value > limit {
        return row(SurveyRule::IndicatorBeyond, format!("{read}, more than the limit."));
    }
    let Some(shown) = run_out else {
        if job.wheel.bend_limit.is_some_and(|bend| bend.as_mm() < value) {
            return row(
                SurveyRule::IndicatorHidesBend,
                format!("{read}; the job limits the bend to less, and one line cannot tell bend from tilt."),
            );
        }
        return row(
            SurveyRule::Indicator,
            format!(
                "{read}. One line was measured: the highest place is taken to stand up to that above it, the lowest as much below it."
            ),
        );
    };
    if value > shown.as_mounted_mm + shown.uncertainty_mm + INDICATOR {
        return row(
            SurveyRule::IndicatorAboveLines,
            format!("{read}; the lines show {:.3} mm.", shown.as_mounted_mm),
        );
    }
    row(SurveyRule::Indicator, format!("{read}; the lines show no less."))
}

/// Everything there is to say of how the wheel runs.
pub(super) fn findings(case: &Case<'_>) -> Vec<Finding> {
    let job = case.job;
    let Some(run_out) = case.run_out else { return stated(job, None).into_iter().collect() };
    let limit = job.wheel.run_out_limit.as_mm();
    let bend_limit = job.wheel.bend_limit.unwrap_or(job.wheel.run_out_limit).as_mm();
    let distinct = distinct(case);
    let p = job.decimals(2);
    let mut found = vec![as_mounted(run_out, limit, p)];
    found.extend(stated(job, Some(run_out)));
    found.extend(bend(run_out, bend_limit, distinct, p));
    found.extend(unchecked(run_out, bend_limit, job.wheel.bend_limit.is_some(), distinct));
    found.extend(eccentric(case));
    if limit > RUN_OUT_NEW {
        let says = format!(
            "The job allows {limit:.p$} mm, more than the {RUN_OUT_NEW:.1} mm that service manuals allow a new wheel."
        );
        let wide = Finding::new(SurveyRule::WideLimit, Place::Whole, says);
        found.push(wide.measured(limit, Some(RUN_OUT_NEW), Unit::Mm));
    }
    found
}

/// Different angles at which the wheel was seen: the lines', or those of readings round it.
fn distinct(case: &Case<'_>) -> usize {
    let round = case.lines.rings.iter().map(|r| r.heights.len()).max().unwrap_or(0);
    coverage::spread(&case.model.angles).distinct.max(round)
}

/// An eccentric face, and what it leaves on walls.
fn eccentric(case: &Case<'_>) -> Option<Finding> {
    let e = case.model.eccentricity?;
    let says = format!(
        "The face stands {:.3} mm off the spindle's axis toward {:.0} deg, known within {:.3} mm; on slopes steeper than {:.2} it is not cleaned all round.",
        e.distance,
        e.toward.to_degrees().rem_euclid(360.0),
        2.0 * e.error,
        WALL / (2.0 * e.distance).max(f64::MIN_POSITIVE)
    );
    Some(Finding::new(SurveyRule::Eccentric, Place::Whole, says).measured(e.distance, None, Unit::Mm))
}

fn as_mounted(run_out: &RunOut, limit: f64, p: usize) -> Finding {
    let (value, at) = (run_out.as_mounted_mm, run_out.as_mounted_at_mm);
    let row = |rule: SurveyRule, says: String| {
        Finding::new(rule, Place::radius(at), says).measured(value, Some(limit), Unit::Mm)
    };
    if value > limit && run_out.bend_mm <= limit {
        let tilted = row(
            SurveyRule::MountedTilted,
            format!(
                "The wheel runs out {value:.p$} mm at {at:.0} mm radius, most of it tilt of the mounting."
            ),
        );
        return match &run_out.tilt {
            None => tilted,
            Some(t) => tilted.to_do(format!(
                "Clean the seat; lift the side at {:.0} deg by {:.p$} mm at {:.0} mm radius, then measure again.",
                t.shim_at_deg, t.at_rim_mm, t.rim_mm
            )),
        };
    }
    if value > limit {
        return row(
            SurveyRule::RunsOut,
            format!(
                "The wheel runs out {value:.p$} mm at {at:.0} mm radius, and mounting it truer would not cure it."
            ),
        );
    }
    if value + run_out.uncertainty_mm > limit {
        return row(
            SurveyRule::RunOutUncertain,
            format!(
                "The wheel runs out {value:.p$} mm, and {:.p$} mm of uncertainty reaches beyond the limit.",
                run_out.uncertainty_mm
            ),
        );
    }
    row(SurveyRule::RunOut, format!("The wheel runs out {value:.p$} mm at {at:.0} mm radius."))
}

fn bend(run_out: &RunOut, limit: f64, distinct: usize, p: usize) -> Vec<Finding> {
    let value = run_out.bend_mm;
    let Some(tilt) = &run_out.tilt else { return Vec::new() };
    let (rule, says) = if value > RUN_OUT_SERVICE {
        (
            SurveyRule::BentBeyondService,
            format!(
                "The wheel is bent by {value:.p$} mm; service manuals replace a wheel beyond {RUN_OUT_SERVICE:.1} mm."
            ),
        )
    } else if value > limit {
        (
            SurveyRule::Bent,
            format!(
                "With the tilt of the mounting taken off, {value:.p$} mm are left at {:.0} mm radius: the wheel is bent.",
                run_out.bend_at_mm
            ),
        )
    } else if distinct < ENOUGH_FOR_TWO_LOBES {
        (
            SurveyRule::Bend,
            format!(
                "With the tilt of the mounting taken off, {value:.p$} mm are left; a bend in two lobes does not show on {distinct} lines."
            ),
        )
    } else {
        (
            SurveyRule::Bend,
            format!("With the tilt of the mounting taken off, {value:.p$} mm of bend are left."),
        )
    };
    let bend =
        Finding::new(rule, Place::radius(run_out.bend_at_mm), says).measured(value, Some(limit), Unit::Mm);
    let says = format!(
        "High side at {:.0} deg; to run true, lift the side at {:.0} deg by {:.p$} mm at {:.0} mm radius.",
        tilt.high_side_deg, tilt.shim_at_deg, tilt.at_rim_mm, tilt.rim_mm
    );
    let tilt = Finding::new(SurveyRule::Tilt, Place::radius(tilt.rim_mm), says).measured(
        tilt.at_rim_mm,
        None,
        Unit::Mm,
    );
    vec![bend, tilt]
}

/// A bend limit that the lines cannot check.
///
/// On three lines a two-lobed bend reads as tilt, at its full height: a run-out within the limit hides none. Two
/// and four lines may all stand where it crosses zero and show nothing of it; a limit that the job sets for
/// the bend by itself is then no limit.
fn unchecked(run_out: &RunOut, limit: f64, set_by_itself: bool, distinct: usize) -> Option<Finding> {
    let (rule, says) = match distinct {
        3 if run_out.as_mounted_mm > limit && run_out.bend_mm <= limit => (
            SurveyRule::BendReadsAsTilt,
            format!(
                "Three lines cannot tell a two-lobed bend from a tilt, and the run-out of {:.2} mm is more than a bend may be.",
                run_out.as_mounted_mm
            ),
        ),
        2 | 4 if set_by_itself => (
            SurveyRule::BendUnseen,
            format!("The job limits the bend, and {distinct} lines can miss a two-lobed bend altogether."),
        ),
        _ => return None,
    };
    let unchecked = Finding::new(rule, Place::radius(run_out.as_mounted_at_mm), says);
    Some(unchecked.measured(run_out.as_mounted_mm, Some(limit), Unit::Mm))
}
