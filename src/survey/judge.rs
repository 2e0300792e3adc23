//! The judgement: every number against its limit, with what it means and what to do.

use super::depth::Kind;
use super::{AllowanceUse, Depth, RunOut, running};
use crate::diagnostics::{Finding, Place, SurveyRule, Unit};
use crate::face::restore::Dent;
use crate::face::{self, Restored, Voucher};
use crate::job::{Damage, HeightSense, Job};
use crate::scan::Trace;
use crate::scan::trust::{Distrust, Limits, doubts};
use crate::units::Length;

/// Lines must look at the wheel from all round: with a wider angle free of lines (degrees) the fit
/// is drawn out over what nobody measured. Three lines, one of them 40 degrees out of place, stay within it.
const WIDEST_ANGLE: f64 = 190.0;
/// Metal that stands this far above the face on one line is more than noise: a burr, dirt, a weight.
const RAISED: f64 = 0.05;
/// Listed damage that stands this share of its depth above the face is no burr beside it.
const UPSIDE_DOWN: f64 = 0.5;
/// Noise left over that is more than this share of a finish cut shows in the bright face.
const NOISE_SHARE: f64 = 0.2;

/// A dent's depth that is known no better than this is worth a second look, millimetres: less than half of a usual finish cut.
const WELL_KNOWN: f64 = 0.02;

/// Shorter than this (millimetres of radius) no difference of the lines is anything to look at.
const LEAST_LENGTH: f64 = 1.0;

/// Everything there is to say, by topic, the heaviest of each first.
pub(super) fn findings(
    job: &Job,
    traces: &[Trace],
    restored: &Restored,
    run_out: Option<&RunOut>,
    depth: &Depth,
    allowance: &AllowanceUse,
) -> Vec<Finding> {
    let mut found = distrust(job, traces);
    found.extend(quality(job, restored));
    found.extend(running::running(job, restored, run_out));
    found.extend(damage(job, restored));
    found.extend(deep(depth));
    let tilt_known = run_out.is_some_and(|r| r.tilt.is_some());
    found.push(metal(allowance, depth, job, tilt_known));
    // A stable sort: within a rank the order above stays.
    found.sort_by_key(|f| (f.rule.topic(), std::cmp::Reverse(f.rank)));
    found
}

/// Lines that cannot be trusted where they will be cut.
fn distrust(job: &Job, traces: &[Trace]) -> Vec<Finding> {
    let limits = Limits::of(job);
    let doubts = |t: &Trace| {
        let angle_deg = t.at.as_deg();
        let place = Place::Trace { angle_deg, from_mm: None, to_mm: None };
        // What to do stands in the reason itself.
        let say = move |d: Distrust| {
            Finding::new(SurveyRule::Trust, place, format!("The line at {angle_deg:.0} deg: {d}.")).to_do("")
        };
        doubts(t, &job.zones, &limits).into_iter().map(say).collect::<Vec<_>>()
    };
    traces.iter().flat_map(doubts).collect()
}

fn quality(job: &Job, restored: &Restored) -> Vec<Finding> {
    let mut found = vec![spread(job, restored), noise(job, restored)];
    for (from, to) in unsure(job, restored) {
        let place = Place::Radius { from_mm: from, to_mm: to };
        let says = format!(
            "From {from:.1} mm to {to:.1} mm the lines disagree, and the highest was taken with nothing to hold it against."
        );
        found.push(Finding::new(SurveyRule::OneLinesWord, place, says).measured(to - from, None, Unit::Mm));
    }
    found.extend(upside_down(job, restored));
    for d in restored.raised.iter().filter(|d| d.depth >= RAISED && in_zones(job, d)) {
        let says = format!(
            "The line at {} stands {:.2} mm above the others from {:.1} mm to {:.1} mm.",
            line_name(restored, d),
            d.depth,
            d.from,
            d.to
        );
        let raised = Finding::new(SurveyRule::RaisedSpot, place_of(restored, d), says);
        found.push(raised.measured(d.depth, Some(RAISED), Unit::Mm));
    }
    found
}

/// How the lines lie round the wheel, and what that many can show.
fn spread(job: &Job, restored: &Restored) -> Finding {
    let (distinct, widest) = restored.spread;
    let widest = widest.to_degrees();
    let lines = |rule: SurveyRule, says: String| Finding::new(rule, Place::Whole, says);
    match distinct {
        0 | 1 if job.measured.run_out.is_none() => lines(
            SurveyRule::NoRunOut,
            "All that was measured lies on one line, and one line cannot show how the wheel runs.".into(),
        ),
        0 | 1 => lines(
            SurveyRule::OneLine,
            "All that was measured lies on one line: what is damage and what is the wheel's own shape it cannot show.".into(),
        ),
        _ if widest > WIDEST_ANGLE => lines(
            SurveyRule::WideGap,
            format!("No line stands within {widest:.0} deg of the turn, so the wheel there is a guess."),
        )
        .measured(widest, Some(WIDEST_ANGLE), Unit::Deg),
        2 => lines(
            SurveyRule::TwoLines,
            "Two lines show what they differ by, but not the highest place of the turn, nor tilt apart from bend.".into(),
        ),
        4 => lines(
            SurveyRule::FourLines,
            "Four lines may all stand where a two-lobed bend crosses zero, and then show nothing of it.".into(),
        ),
        n => lines(SurveyRule::Lines, format!("{n} lines, at most {widest:.0} deg apart."))
            .measured(widest, Some(WIDEST_ANGLE), Unit::Deg),
    }
}

/// Listed damage that stands above the face: metal does not grow where it was scraped, so the face is upside down.
fn upside_down(job: &Job, restored: &Restored) -> Option<Finding> {
    let over = |d: &Dent, l: &Damage| d.from <= l.to.as_mm() && l.from.as_mm() <= d.to;
    let stands = |l: &&Damage| {
        let most = |of: &[Dent]| of.iter().filter(|d| over(d, l)).map(|d| d.depth).fold(0.0, f64::max);
        let up = most(&restored.raised);
        up >= UPSIDE_DOWN * l.depth.as_mm() && up > most(&restored.dents) && up >= RAISED
    };
    let listed = job.damage.iter().find(stands)?;
    let (is, other) = match job.measured.z {
        HeightSense::Height => ("height", "distance"),
        HeightSense::Distance => ("distance", "height"),
    };
    let (from, to) = (listed.from.as_mm(), listed.to.as_mm());
    let says = format!(
        "Where the job lists damage, from {from:.1} mm to {to:.1} mm, a line stands above the others: the face is upside down."
    );
    let remedy = format!(
        "Write `z: {other}` where the job says `z: {is}`, or strike that damage from the job if a burr stands there."
    );
    let place = Place::Radius { from_mm: from, to_mm: to };
    Some(Finding::new(SurveyRule::UpsideDown, place, says).to_do(remedy))
}

fn noise(job: &Job, restored: &Restored) -> Finding {
    let sigma = restored.consensus.sigma;
    let finish = job.schedule.finish.as_ref().map(|f| f.depth.as_mm()).filter(|&d| d > 0.0);
    let cut =
        finish.or_else(|| job.schedule.rough.as_ref().map(|r| r.depth.as_mm())).unwrap_or(f64::INFINITY);
    let limit = NOISE_SHARE * cut;
    let (rule, says) = if sigma > limit {
        (
            SurveyRule::Noisy,
            format!(
                "The lines differ from each other by {sigma:.3} mm (one standard deviation), more than a fifth of the last cut."
            ),
        )
    } else {
        (SurveyRule::Noise, format!("The lines agree within {sigma:.3} mm (one standard deviation)."))
    };
    let limit = Some(limit).filter(|l| l.is_finite());
    Finding::new(rule, Place::Whole, says).measured(sigma, limit, Unit::Mm)
}

pub(super) fn in_zones(job: &Job, d: &Dent) -> bool {
    job.has_zone_in(d.from, d.to)
}

pub(super) fn line_name(restored: &Restored, d: &Dent) -> String {
    restored.lines.angle.get(d.line).map_or_else(String::new, |a| format!("{:.0} deg", a.to_degrees()))
}

/// The place of a dent or a raised spot on its line.
pub(super) fn place_of(restored: &Restored, d: &Dent) -> Place {
    match restored.lines.angle.get(d.line) {
        Some(angle) => {
            Place::Trace { angle_deg: angle.to_degrees(), from_mm: Some(d.from), to_mm: Some(d.to) }
        }
        None => Place::Radius { from_mm: d.from, to_mm: d.to },
    }
}

/// Stretches inside the zones for which one line alone speaks.
fn unsure(job: &Job, restored: &Restored) -> Vec<(f64, f64)> {
    let mut found: Vec<(f64, f64)> = Vec::new();
    let in_zone = |r: f64| job.zones.iter().any(|z| z.from.as_mm() <= r && r <= z.to.as_mm());
    let readings = restored.lines.x.iter().zip(&restored.consensus.voucher);
    for (&r, _) in readings.filter(|&(&r, &v)| v == Voucher::OneLine && in_zone(r)) {
        match found.last_mut() {
            // Nearer than a millimetre is one place to look at.
            Some(last) if r - last.1 < 1.0 => last.1 = r,
            _ => found.push((r, r)),
        }
    }
    found.retain(|(from, to)| to - from >= LEAST_LENGTH);
    found
}

fn damage(job: &Job, restored: &Restored) -> Vec<Finding> {
    let beyond_cutting = job.damage.iter().filter(|d| !face::is_surface_damage(d.kind));
    let mut found: Vec<Finding> = beyond_cutting
        .map(|d| {
            let (from, to) = (d.from.as_mm(), d.to.as_mm());
            let (what, why) = (face::kind_name(d.kind), face::kind_reason(d.kind));
            let says = format!("The job lists {what} from {from:.1} mm to {to:.1} mm: {why}.");
            Finding::new(SurveyRule::DamageKind, Place::Radius { from_mm: from, to_mm: to }, says)
        })
        .collect();
    found.extend(dents(job, restored));
    let listed = job.damage.iter().map(|d| d.depth.as_mm()).fold(0.0, f64::max);
    let says = if listed > 0.0 {
        format!("The job lists {}, the deepest {listed:.2} mm.", count(job.damage.len(), "stretch"))
    } else {
        "The job lists no damage.".to_owned()
    };
    found.push(Finding::new(SurveyRule::DamageListed, Place::Whole, says).measured(listed, None, Unit::Mm));
    found
}

/// The dents that the lines show in the zones, by their deepest.
fn dents(job: &Job, restored: &Restored) -> Option<Finding> {
    let in_zone = || restored.dents.iter().filter(|d| in_zones(job, d));
    let d = in_zone().max_by(|a, b| a.depth.total_cmp(&b.depth))?;
    let unlisted = in_zone().filter(|d| !is_listed(job, d)).count();
    let says = format!(
        "{} in the lines, the deepest {:.2} mm at {:.1} mm radius on the line at {}, known within {:.3} mm; none is copied round the wheel.",
        count(in_zone().count(), "dent"),
        d.depth,
        d.deepest,
        line_name(restored, d),
        d.uncertainty
    );
    let place = place_of(restored, d);
    let row = if unlisted > 0 {
        Finding::new(SurveyRule::DentsUnlisted, place, says).to_do(format!(
            "{} not in the job's list: look at the wheel there, and name design features under `leave`.",
            count(unlisted, "dent")
        ))
    } else if d.uncertainty > WELL_KNOWN {
        Finding::new(SurveyRule::DentUncertain, place, says)
    } else {
        Finding::new(SurveyRule::Dents, place, says)
    };
    Some(row.measured(d.depth, None, Unit::Mm))
}

fn is_listed(job: &Job, d: &Dent) -> bool {
    job.damage.iter().any(|l| l.from.as_mm() <= d.deepest && d.deepest <= l.to.as_mm())
}

fn count(n: usize, what: &str) -> String {
    match (n, what) {
        (1, _) => format!("1 {what}"),
        (_, "stretch") => format!("{n} stretches"),
        _ => format!("{n} {what}s"),
    }
}

fn deep(depth: &Depth) -> Vec<Finding> {
    let p = &depth.passes;
    let says = format!(
        "The highest place must come down {:.2} mm: {:.2} mm run-out and {:.2} mm damage at {:.1} mm radius.",
        depth.clean_up_mm, depth.run_out_there_mm, depth.damage_there_mm, depth.deepest_at_mm
    );
    let mut found =
        vec![Finding::new(SurveyRule::CleanUpDepth, Place::radius(depth.deepest_at_mm), says).measured(
            depth.clean_up_mm,
            None,
            Unit::Mm,
        )];
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
        p.removed_mm,
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

/// The metal against the allowance. That mounting the wheel truer would save any is promised only where the lines show its tilt.
fn metal(allowance: &AllowanceUse, depth: &Depth, job: &Job, tilt_known: bool) -> Finding {
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
