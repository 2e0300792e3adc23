//! What it costs: the passes against the clean-up depth, and the metal against the allowance.

use super::depth::Kind;
use super::harm::count;
use super::judge::Case;
use super::{AllowanceUse, Along, Cost, Depth};
use crate::diagnostics::{Finding, Place, SurveyRule, Unit};
use crate::face::over_turn::{Unplaced, unplaced};
use crate::job::{Damage, Job};
use crate::units::Length;

/// Run-out that is cut for only because the angle of damage is not known is told from here on, millimetres: twice what a dial indicator shows.
const WORTH_ASKING: f64 = 0.02;
/// A clean-up depth beyond its parts by more than this comes from what is gone already, millimetres: what two decimals show.
const ALREADY_DEEPER: f64 = 0.005;

pub(super) fn deep(case: &Case<'_>) -> Vec<Finding> {
    let depth = case.depth;
    let (p, d) = (case.job.decimals(2), case.job.decimals(3));
    let says = format!(
        "{:.p$} mm must come off in all: {:.p$} mm down to the lowest place of the turn and {:.p$} mm damage at {:.1} mm radius{}.",
        depth.clean_up_mm,
        depth.run_out_there_mm,
        depth.damage_there_mm,
        depth.deepest_at_mm,
        if depth.clean_up_mm > depth.run_out_there_mm + depth.damage_there_mm + ALREADY_DEEPER {
            ", where that much may be gone already and a pass must still touch"
        } else {
            ""
        }
    );
    let clean_up = Finding::new(SurveyRule::CleanUpDepth, Place::radius(depth.deepest_at_mm), says);
    let clean_up = match unplaced_there(case) {
        Some(damage) if depth.run_out_there_mm > WORTH_ASKING => clean_up.to_do(format!(
            "Where on the turn the damage from {:.1} to {:.1} mm lies is not known, and it counts from the lowest place: `at` and `over` beside it \
             under `damage` may spare up to {:.p$} mm.",
            damage.from.as_mm(),
            damage.to.as_mm(),
            depth.run_out_there_mm
        )),
        _ => clean_up,
    };
    let mut found = vec![clean_up.measured(depth.clean_up_mm, None, Unit::Mm)];
    found.extend(case.job.damage.iter().filter_map(|d| between_lines(case, d)));
    let cost = |c: &Cost| format!("{:.d$} mm ({:.d$} mm on the mean)", c.most_mm, c.mean_mm);
    let Along { cut, highest, middle, lowest } = &depth.along;
    let says = format!(
        "The face is cut along the {} place of the turn. Cut along the highest it would lose {}, along the middle {}, along the lowest {}.",
        cut.words(),
        cost(highest),
        cost(middle),
        cost(lowest)
    );
    let asked = case.job.cut_along.filter(|asked| asked != cut);
    let says = asked.map_or(says.clone(), |asked| {
        format!(
            "{says} The job asks for the {}, but {}.",
            asked.words(),
            if !case.job.rings.is_empty() {
                "a trial's rings have depths of their own"
            } else if case.model.eccentricity.is_some() {
                "the face stands off centre"
            } else {
                "one line does not show the turn"
            }
        )
    });
    found.push(Finding::new(SurveyRule::WhichFace, Place::Whole, says).measured(
        depth.along.cost(*cut).most_mm,
        None,
        Unit::Mm,
    ));
    if let Some(refused) = &depth.refused {
        // What to do stands in the refusal itself.
        let says = format!("The schedule cannot do it: {refused}.");
        found.push(Finding::new(SurveyRule::NoPasses, Place::Whole, says).to_do(""));
        return found;
    }
    let kind = |kind, name: &str| {
        let depths: Vec<f64> =
            depth.passes.each.iter().filter(|p| p.kind == kind).map(|p| p.depth_mm).collect();
        let deepest = depths.iter().copied().fold(0.0, f64::max);
        (!depths.is_empty()).then(|| format!("{} of at most {deepest:.p$} mm", count(depths.len(), name)))
    };
    let passes: Vec<String> =
        [kind(Kind::Rough, "rough cut"), kind(Kind::Finish, "finish cut")].into_iter().flatten().collect();
    let passes = if passes.is_empty() {
        "Spring passes alone take nothing off the highest place.".to_owned()
    } else {
        format!("{} take {:.p$} mm off the highest place.", passes.join(" and "), depth.passes.removed_mm)
    };
    let (rule, says) = if depth.remains_mm > 0.0 {
        (SurveyRule::PassesTooFew, format!("{passes} {:.p$} mm stay uncleaned.", depth.remains_mm))
    } else {
        (SurveyRule::Passes, passes)
    };
    found.push(Finding::new(rule, Place::Whole, says).measured(
        depth.begins_mm + depth.passes.removed_mm,
        Some(depth.clean_up_mm),
        Unit::Mm,
    ));
    let early = depth.remains_one_pass_early_mm;
    let says = if early > 0.0 {
        format!("Stopped one pass early, {early:.p$} mm would stay uncleaned.")
    } else {
        "Stopped one pass early, the wheel would be clean already.".to_owned()
    };
    found.push(Finding::new(SurveyRule::OnePassEarly, Place::Whole, says).measured(early, None, Unit::Mm));
    found
}

/// The listed damage that sets the clean-up depth from the lowest place of the turn, without anybody knowing that it lies there.
fn unplaced_there<'a>(case: &Case<'a>) -> Option<&'a Damage> {
    let at = case.depth.deepest_at_mm;
    let here = |d: &&Damage| d.from.as_mm() <= at && at <= d.to.as_mm();
    case.job.damage.iter().find(|d| here(d) && unplaced(case.model, d) == Some(Unplaced::Lowest))
}

/// What stays of rash all round where it is deeper between the lines than they make likely.
fn between_lines(case: &Case<'_>, damage: &Damage) -> Option<Finding> {
    if unplaced(case.model, damage) != Some(Unplaced::BetweenLines) {
        return None;
    }
    let [from, to, listed] = [damage.from, damage.to, damage.depth].map(Length::as_mm);
    let p = case.job.decimals(2);
    let there = case.depth.curve.iter().filter(|point| from <= point.r_mm && point.r_mm <= to);
    let stays = there.map(|point| point.run_out_mm + listed - case.depth.clean_up_mm).fold(0.0, f64::max);
    (stays > WORTH_ASKING).then(|| {
        Finding::new(
            SurveyRule::BetweenLines,
            Place::Radius { from_mm: from, to_mm: to },
            format!(
                "The damage listed from {from:.1} mm to {to:.1} mm shows on all lines, on none as deep as the {listed:.p$} mm listed. Between them it is \
                 taken to be as deep as they make likely: if it is as deep as listed at the lowest place of the turn, {stays:.p$} mm of it stays.",
            ),
        )
        .measured(stays, None, Unit::Mm)
    })
}

pub(super) fn metal(allowance: &AllowanceUse, depth: &Depth, job: &Job, tilt_known: bool) -> Finding {
    let before = allowance.limit_mm - allowance.taken_mm;
    let p = job.decimals(2);
    let row = |rule: SurveyRule, says: String| {
        Finding::new(rule, Place::Whole, says).measured(allowance.this_job_mm, Some(before), Unit::Mm)
    };
    if allowance.left_mm >= 0.0 {
        return row(
            SurveyRule::Metal,
            format!(
                "{:.p$} mm of {:.p$} mm are gone after this job ({:.p$} mm before it); {:.p$} mm are left, {}.",
                allowance.taken_mm + allowance.this_job_mm,
                allowance.limit_mm,
                allowance.taken_mm,
                allowance.left_mm,
                match allowance.more_such_jobs {
                    0 => "too little for another such job".to_owned(),
                    1 => "enough for one more such job".to_owned(),
                    n => format!("enough for {n} more such jobs"),
                }
            ),
        );
    }
    let short = -allowance.left_mm;
    if depth.clean_up_mm <= before {
        return row(
            SurveyRule::ScheduleTooDeep,
            format!(
                "The schedule takes {:.p$} mm where {:.p$} mm clean the wheel, {short:.p$} mm more than it may lose.",
                allowance.this_job_mm, depth.clean_up_mm
            ),
        );
    }
    let mounted_true = super::passes_for(job, Length::mm(depth.mounted_true_mm)).map(|p| p.removed_mm);
    let says = format!(
        "This job would take {:.p$} mm, {short:.p$} mm more than the wheel may lose.",
        allowance.this_job_mm
    );
    match mounted_true.ok().filter(|&m| tilt_known && m <= before && m < allowance.this_job_mm) {
        Some(less) => row(SurveyRule::MetalIfMountedTrue, says).to_do(format!(
            "Mounted without tilt it would take {less:.p$} mm: mount it truer and measure again."
        )),
        None => row(SurveyRule::MetalShort, says),
    }
}
