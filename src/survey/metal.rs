//! What it costs: the passes against the clean-up depth, and the metal against the allowance.

use super::depth::Kind;
use super::harm::count;
use super::judge::Case;
use super::{AllowanceUse, Along, Cost, Depth};
use crate::diagnostics::{Finding, Place, SurveyRule, Unit};
use crate::face::over_turn::is_placed;
use crate::job::{Damage, Job};
use crate::units::Length;

/// Run-out that is cut for only because the angle of damage is not known is told from here on, millimetres: twice what a dial indicator shows.
const WORTH_ASKING: f64 = 0.02;
/// A clean-up depth beyond its parts by more than this comes from what is gone already, millimetres: what two decimals show.
const ALREADY_DEEPER: f64 = 0.005;

pub(super) fn deep(case: &Case<'_>) -> Vec<Finding> {
    let depth = case.depth;
    let p = &depth.passes;
    let says = format!(
        "{:.2} mm must come off in all: {:.2} mm down to the lowest place of the turn and {:.2} mm damage at {:.1} mm radius{}.",
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
    let clean_up = match unplaced(case) {
        Some(d) if depth.run_out_there_mm > WORTH_ASKING => clean_up.to_do(format!(
            "Where on the turn the damage from {:.1} to {:.1} mm lies is not known, and it counts from the lowest place: `at` and `over` beside it \
             under `damage` may spare up to {:.2} mm.",
            d.from.as_mm(),
            d.to.as_mm(),
            depth.run_out_there_mm
        )),
        _ => clean_up,
    };
    let mut found = vec![clean_up.measured(depth.clean_up_mm, None, Unit::Mm)];
    let cost = |c: &Cost| format!("{:.3} mm ({:.3} mm on the mean)", c.most_mm, c.mean_mm);
    let Along { cut, highest, middle, lowest } = &depth.along;
    let says = format!(
        "The face is cut along the {} place of the turn. Along the highest {} come off, along the middle {}, along the lowest {}.",
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
        let depths: Vec<f64> = p.each.iter().filter(|p| p.kind == kind).map(|p| p.depth_mm).collect();
        let deepest = depths.iter().copied().fold(0.0, f64::max);
        (!depths.is_empty()).then(|| format!("{} of at most {deepest:.2} mm", count(depths.len(), name)))
    };
    let passes: Vec<String> =
        [kind(Kind::Rough, "rough cut"), kind(Kind::Finish, "finish cut")].into_iter().flatten().collect();
    let passes = format!("{} take {:.2} mm off the highest place.", passes.join(" and "), p.removed_mm);
    let (rule, says) = if depth.remains_mm > 0.0 {
        (SurveyRule::PassesTooFew, format!("{passes} {:.2} mm stay uncleaned.", depth.remains_mm))
    } else {
        (SurveyRule::Passes, passes)
    };
    found.push(Finding::new(rule, Place::Whole, says).measured(
        depth.begins_mm + p.removed_mm,
        Some(depth.clean_up_mm),
        Unit::Mm,
    ));
    let early = depth.remains_one_pass_early_mm;
    let says = if early > 0.0 {
        format!("Stopped one pass early, {early:.2} mm would stay uncleaned.")
    } else {
        "Stopped one pass early, the wheel would be clean already.".to_owned()
    };
    found.push(Finding::new(SurveyRule::OnePassEarly, Place::Whole, says).measured(early, None, Unit::Mm));
    found
}

/// The listed damage that sets the clean-up depth without anybody knowing where on the turn it lies.
fn unplaced<'a>(case: &Case<'a>) -> Option<&'a Damage> {
    let at = case.depth.deepest_at_mm;
    let here = |d: &&Damage| d.from.as_mm() <= at && at <= d.to.as_mm();
    case.job.damage.iter().find(|d| here(d) && !is_placed(case.model, d))
}

pub(super) fn metal(allowance: &AllowanceUse, depth: &Depth, job: &Job, tilt_known: bool) -> Finding {
    let before = allowance.limit_mm - allowance.taken_mm;
    let row = |rule: SurveyRule, says: String| {
        Finding::new(rule, Place::Whole, says).measured(allowance.this_job_mm, Some(before), Unit::Mm)
    };
    if allowance.left_mm >= 0.0 {
        return row(
            SurveyRule::Metal,
            format!(
                "{:.2} mm of {:.2} mm are gone after this job ({:.2} mm before it); {:.2} mm are left, {}.",
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
                "The schedule takes {:.2} mm where {:.2} mm clean the wheel, {short:.2} mm more than it may lose.",
                allowance.this_job_mm, depth.clean_up_mm
            ),
        );
    }
    let mounted_true = super::passes_for(job, Length::mm(depth.mounted_true_mm)).map(|p| p.removed_mm);
    let says = format!(
        "This job would take {:.2} mm, {short:.2} mm more than the wheel may lose.",
        allowance.this_job_mm
    );
    match mounted_true.ok().filter(|&m| tilt_known && m <= before && m < allowance.this_job_mm) {
        Some(less) => row(SurveyRule::MetalIfMountedTrue, says).to_do(format!(
            "Mounted without tilt it would take {less:.2} mm: mount it truer and measure again."
        )),
        None => row(SurveyRule::MetalShort, says),
    }
}
