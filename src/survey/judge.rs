//! The judgement: every number against its limit, with what it means and what to do.
//!
//! Limits come from the job. Beside them stand two figures that vehicle makers' service manuals give
//! for axial run-out of aluminium wheels: some 0.8 mm for a new wheel, and 2.0 mm as the service
//! limit (for example Honda's and Mitsubishi's wheel run-out inspection; from memory). A wheel
//! beyond the second is not cut, whatever the job allows.

use super::depth::Kind;
use super::{AllowanceUse, Depth, Finding, Rank, RunOut, Tilt, Topic};
use crate::face::restore::Dent;
use crate::face::{self, Restored, Voucher};
use crate::job::Job;
use crate::quantity::Length;
use crate::trace::Trace;
use crate::trace::trust::{Distrust, Limits, doubts};

/// Axial run-out that service manuals allow a new aluminium wheel.
pub const RUN_OUT_NEW: f64 = 0.8;
/// Axial run-out beyond which service manuals say to replace an aluminium wheel.
pub const RUN_OUT_SERVICE: f64 = 2.0;
/// Lines must look at the wheel from all round: with a wider angle free of lines (degrees) the fit
/// is drawn out over what nobody measured. Three lines, one of them 40 degrees out of place, stay within it.
const WIDEST_ANGLE: f64 = 190.0;
/// Lines at this many different angles tell two lobes from a tilt: a constant and two harmonics have five terms.
const ENOUGH_FOR_TWO_LOBES: usize = 5;
/// Metal that stands this far above the face on one line is more than noise: a burr, dirt, a weight.
const RAISED: f64 = 0.05;
/// Noise left over that is more than this share of a finish cut shows in the bright face.
const NOISE_SHARE: f64 = 0.2;

/// A dent's depth that is known no better than this is worth a second look, millimetres: less than half of a usual finish cut.
const WELL_KNOWN: f64 = 0.02;

/// Shorter than this (millimetres of radius) no difference of the lines is anything to look at.
const LEAST_LENGTH: f64 = 1.0;

/// Who decides where this program does not.
const REFER: &str = "Ask the wheel maker, and keep to local rules and to what a licensed practice may do.";

/// The run-out in numbers, where lines show it.
pub(super) fn run_out(job: &Job, restored: &Restored) -> Option<RunOut> {
    let turn = restored.turn.as_ref()?;
    let worst = |of: fn(&face::turn::Ring) -> f64| {
        job.zones
            .iter()
            .map(|z| turn.largest(z.from.as_mm(), z.to.as_mm(), of))
            .fold((0.0, f64::NEG_INFINITY), |best, here| if here.1 > best.1 { here } else { best })
    };
    let (as_mounted_at_mm, as_mounted_mm) = worst(|r| r.run_out);
    let (bend_at_mm, bend_mm) = worst(|r| r.bend);
    let rim = job.zones.iter().map(|z| z.to.as_mm()).fold(0.0, f64::max);
    let tilt = restored.tilt.map(|t| {
        let high = t.tilt.high_side().to_degrees();
        Tilt {
            at_rim_mm: 2.0 * t.tilt.slope() * rim,
            rim_mm: rim,
            high_side_deg: high,
            shim_at_deg: (high + 180.0).rem_euclid(360.0),
        }
    });
    Some(RunOut {
        as_mounted_mm,
        as_mounted_at_mm,
        bend_mm,
        bend_at_mm,
        uncertainty_mm: worst(|r| r.uncertainty).1,
        lines_to_spare: turn.spare,
        tilt,
    })
}

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
    found.extend(running(job, restored, run_out));
    found.extend(damage(job, restored));
    found.extend(deep(depth));
    found.extend(metal(allowance, depth, job));
    // A stable sort: within a rank the order above stays.
    found.sort_by_key(|f| (f.topic, std::cmp::Reverse(f.rank)));
    found
}

fn finding(topic: Topic, rank: Rank, what: &'static str, says: String, action: impl Into<String>) -> Finding {
    Finding { topic, rank, what, value_mm: None, limit_mm: None, says, action: action.into() }
}

impl Finding {
    const fn number(mut self, value: f64) -> Self {
        self.value_mm = Some(value);
        self
    }

    const fn limit(mut self, limit: f64) -> Self {
        self.limit_mm = Some(limit);
        self
    }
}

/// Lines that cannot be trusted where they will be cut.
fn distrust(job: &Job, traces: &[Trace]) -> Vec<Finding> {
    let limits = Limits::of(job);
    let doubts = |t: &Trace| {
        let at = t.at.as_deg();
        let say = move |d: Distrust| {
            finding(Topic::Quality, Rank::Stop, "trust", format!("The line at {at:.0} deg: {d}."), "")
        };
        doubts(t, &job.zones, &limits).into_iter().map(say).collect::<Vec<_>>()
    };
    traces.iter().flat_map(doubts).collect()
}

fn quality(job: &Job, restored: &Restored) -> Vec<Finding> {
    let mut found = Vec::new();
    let (distinct, widest) = restored.spread;
    let widest = widest.to_degrees();
    let lines = |rank, says: String, action: &str| finding(Topic::Quality, rank, "lines", says, action);
    found.push(match distinct {
        0 | 1 => lines(
            Rank::Stop,
            "All that was measured lies on one line, and one line cannot show how the wheel runs.".into(),
            "Measure at least three lines spread over the turn.",
        ),
        _ if widest > WIDEST_ANGLE => lines(
            Rank::Stop,
            format!("No line stands within {widest:.0} deg of the turn, so the wheel there is a guess."),
            "Spread the lines over the whole turn.",
        ),
        2 => lines(
            Rank::Warning,
            "Two lines show what they differ by, but not the highest place of the turn, nor tilt apart from bend.".into(),
            "Measure a third line, or turn the wheel by hand under an indicator before the cut.",
        ),
        4 => lines(
            Rank::Warning,
            "Four lines may all stand where a two-lobed bend crosses zero, and then show nothing of it.".into(),
            "Measure a fifth line, or turn the wheel by hand under an indicator before the cut.",
        ),
        n => lines(Rank::Fine, format!("{n} lines, at most {widest:.0} deg apart."), ""),
    });
    found.push(noise(job, restored));
    for (from, to) in unsure(job, restored) {
        found.push(
            finding(
                Topic::Quality,
                Rank::Warning,
                "one line's word",
                format!("From {from:.1} mm to {to:.1} mm the lines disagree, and the highest was taken with nothing to hold it against."),
                "Look at the wheel there; measure another line if the difference is no damage.",
            )
            .number(to - from),
        );
    }
    for d in restored.raised.iter().filter(|d| d.depth >= RAISED && in_zones(job, d)) {
        found.push(
            finding(
                Topic::Quality,
                Rank::Warning,
                "raised spot",
                format!(
                    "The line at {} stands {:.2} mm above the others from {:.1} mm to {:.1} mm.",
                    line_name(restored, d),
                    d.depth,
                    d.from,
                    d.to
                ),
                "Look for a burr, dirt or a weight there and take it off before the cut.",
            )
            .number(d.depth)
            .limit(RAISED),
        );
    }
    found
}

fn noise(job: &Job, restored: &Restored) -> Finding {
    let sigma = restored.consensus.sigma;
    let finish = job.schedule.finish.as_ref().map(|f| f.depth.as_mm()).filter(|&d| d > 0.0);
    let cut =
        finish.or_else(|| job.schedule.rough.as_ref().map(|r| r.depth.as_mm())).unwrap_or(f64::INFINITY);
    let limit = NOISE_SHARE * cut;
    let row = |rank, says: String, action: &str| {
        let f = finding(Topic::Quality, rank, "noise", says, action).number(sigma);
        if limit.is_finite() { f.limit(limit) } else { f }
    };
    if sigma > limit {
        return row(
            Rank::Warning,
            format!(
                "The lines differ from each other by {sigma:.3} mm (one standard deviation), more than a fifth of the last cut."
            ),
            "Measure more slowly, clean the face, or raise `filter`.",
        );
    }
    row(Rank::Fine, format!("The lines agree within {sigma:.3} mm (one standard deviation)."), "")
}

pub(super) fn in_zones(job: &Job, d: &Dent) -> bool {
    job.zones.iter().any(|z| d.from <= z.to.as_mm() && z.from.as_mm() <= d.to)
}

fn line_name(restored: &Restored, d: &Dent) -> String {
    restored.lines.angle.get(d.line).map_or_else(String::new, |a| format!("{:.0} deg", a.to_degrees()))
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

fn running(job: &Job, restored: &Restored, run_out: Option<&RunOut>) -> Vec<Finding> {
    let Some(run_out) = run_out else { return Vec::new() };
    let limit = job.wheel.run_out_limit.as_mm();
    let bend_limit = job.wheel.bend_limit.unwrap_or(job.wheel.run_out_limit).as_mm();
    let mut found = vec![as_mounted(run_out, limit)];
    found.extend(bend(run_out, bend_limit, restored.spread.0));
    found.extend(unchecked(run_out, bend_limit, job.wheel.bend_limit.is_some(), restored.spread.0));
    found.extend(restored.dents.iter().chain(&restored.raised).filter(|d| d.bend_like && d.depth > bend_limit).map(|d| {
        finding(
            Topic::RunOut,
            Rank::Stop,
            "bend at the rim",
            format!(
                "From {:.1} mm outward the line at {} departs steadily from the others, up to {:.2} mm, as bent metal does.",
                d.from,
                line_name(restored, d),
                d.depth
            ),
            format!("A bent wheel is not cut. {REFER}"),
        )
        .number(d.depth)
        .limit(bend_limit)
    }));
    if limit > RUN_OUT_NEW {
        found.push(
            finding(
                Topic::RunOut,
                Rank::Note,
                "limit",
                format!("The job allows {limit:.2} mm, more than the {RUN_OUT_NEW:.1} mm that service manuals allow a new wheel."),
                "",
            )
            .number(limit)
            .limit(RUN_OUT_NEW),
        );
    }
    found
}

fn as_mounted(run_out: &RunOut, limit: f64) -> Finding {
    let (value, at) = (run_out.as_mounted_mm, run_out.as_mounted_at_mm);
    let row = |rank, says: String, action: String| {
        finding(Topic::RunOut, rank, "as mounted", says, action).number(value).limit(limit)
    };
    let shim = run_out.tilt.as_ref().map_or_else(
        || "Seat the wheel anew and measure three lines or more.".to_owned(),
        |t| {
            format!(
                "Clean the seat; lift the side at {:.0} deg by {:.2} mm at {:.0} mm radius, then measure again.",
                t.shim_at_deg, t.at_rim_mm, t.rim_mm
            )
        },
    );
    if value > limit {
        return if run_out.bend_mm <= limit {
            row(
                Rank::Remount,
                format!(
                    "The wheel runs out {value:.2} mm at {at:.0} mm radius, most of it tilt of the mounting."
                ),
                shim,
            )
        } else {
            row(
                Rank::Stop,
                format!(
                    "The wheel runs out {value:.2} mm at {at:.0} mm radius, and mounting it truer would not cure it."
                ),
                format!("Do not cut it. {REFER}"),
            )
        };
    }
    if value + run_out.uncertainty_mm > limit {
        return row(
            Rank::Warning,
            format!(
                "The wheel runs out {value:.2} mm, and {:.2} mm of uncertainty reaches beyond the limit.",
                run_out.uncertainty_mm
            ),
            "Measure more lines, or check the wheel under an indicator.".into(),
        );
    }
    row(Rank::Fine, format!("The wheel runs out {value:.2} mm at {at:.0} mm radius."), String::new())
}

fn bend(run_out: &RunOut, limit: f64, distinct: usize) -> Vec<Finding> {
    let value = run_out.bend_mm;
    let row = |rank, says: String, action: String| {
        finding(Topic::RunOut, rank, "tilt taken off", says, action).number(value).limit(limit)
    };
    let Some(tilt) = &run_out.tilt else { return Vec::new() };
    let mut found = Vec::new();
    if value > RUN_OUT_SERVICE {
        found.push(row(
            Rank::Stop,
            format!("The wheel is bent by {value:.2} mm; service manuals replace a wheel beyond {RUN_OUT_SERVICE:.1} mm."),
            format!("Do not cut it. {REFER}"),
        ));
    } else if value > limit {
        found.push(row(
            Rank::Stop,
            format!("With the tilt of the mounting taken off, {value:.2} mm are left at {:.0} mm radius: the wheel is bent.", run_out.bend_at_mm),
            format!("A bent wheel is not cut. {REFER}"),
        ));
    } else if distinct < ENOUGH_FOR_TWO_LOBES {
        found.push(row(
            Rank::Fine,
            format!(
                "With the tilt of the mounting taken off, {value:.2} mm are left; a bend in two lobes does not show on {distinct} lines."
            ),
            String::new(),
        ));
    } else {
        found.push(row(
            Rank::Fine,
            format!("With the tilt of the mounting taken off, {value:.2} mm of bend are left."),
            String::new(),
        ));
    }
    found.push(
        finding(
            Topic::RunOut,
            Rank::Fine,
            "tilt",
            format!(
                "High side at {:.0} deg; to run true, lift the side at {:.0} deg by {:.2} mm at {:.0} mm radius.",
                tilt.high_side_deg, tilt.shim_at_deg, tilt.at_rim_mm, tilt.rim_mm
            ),
            "",
        )
        .number(tilt.at_rim_mm),
    );
    found
}

/// A bend limit that the lines cannot check.
///
/// On three lines a two-lobed bend reads as tilt, at its full height: a run-out within the limit hides none. Two
/// and four lines may all stand where it crosses zero and show nothing of it; a limit that the job sets for
/// the bend by itself is then no limit.
fn unchecked(run_out: &RunOut, limit: f64, set_by_itself: bool, distinct: usize) -> Option<Finding> {
    let row = |rank, says: String, action: &str| {
        let f = finding(Topic::RunOut, rank, "bend limit", says, action);
        Some(f.number(run_out.as_mounted_mm).limit(limit))
    };
    match distinct {
        3 if run_out.as_mounted_mm > limit && run_out.bend_mm <= limit => row(
            Rank::Remount,
            format!(
                "Three lines cannot tell a two-lobed bend from a tilt, and the run-out of {:.2} mm is more than a bend may be.",
                run_out.as_mounted_mm
            ),
            "Measure five lines, or mount the wheel truer and measure again.",
        ),
        2 | 4 if set_by_itself => row(
            Rank::Stop,
            format!("The job limits the bend, and {distinct} lines can miss a two-lobed bend altogether."),
            "Measure five lines spread over the turn.",
        ),
        _ => None,
    }
}

fn damage(job: &Job, restored: &Restored) -> Vec<Finding> {
    let mut found: Vec<Finding> = job
        .damage
        .iter()
        .filter(|d| !face::is_surface_damage(d.kind))
        .map(|d| {
            let what = face::kind_name(d.kind);
            finding(
                Topic::Damage,
                Rank::Stop,
                "kind",
                format!(
                    "The job lists {what} from {:.1} mm to {:.1} mm: {}.",
                    d.from.as_mm(),
                    d.to.as_mm(),
                    face::kind_reason(d.kind)
                ),
                format!("Do not cut it. {REFER}"),
            )
        })
        .collect();
    let listed = job.damage.iter().map(|d| d.depth.as_mm()).fold(0.0, f64::max);
    let in_zone = || restored.dents.iter().filter(|d| in_zones(job, d));
    let deepest = in_zone().max_by(|a, b| a.depth.total_cmp(&b.depth));
    if let Some(d) = deepest {
        let unlisted = in_zone().filter(|d| !is_listed(job, d)).count();
        let says = format!(
            "{} in the lines, the deepest {:.2} mm at {:.1} mm radius on the line at {}, known within {:.3} mm; none is copied round the wheel.",
            count(in_zone().count(), "dent"),
            d.depth,
            d.deepest,
            line_name(restored, d),
            d.uncertainty
        );
        let row = if unlisted == 0 && d.uncertainty > WELL_KNOWN {
            let action =
                "Its readings lie far apart or are noisy: look at it again after the last rough cut.";
            finding(Topic::Damage, Rank::Note, "in the lines", says, action)
        } else if unlisted == 0 {
            finding(Topic::Damage, Rank::Fine, "in the lines", says, "")
        } else {
            finding(
                Topic::Damage,
                Rank::Note,
                "in the lines",
                says,
                format!(
                    "{} not in the job's list: look at the wheel there, and name design features under `leave`.",
                    count(unlisted, "dent")
                ),
            )
        };
        found.push(row.number(d.depth));
    }
    let says = if listed > 0.0 {
        format!("The job lists {}, the deepest {listed:.2} mm.", count(job.damage.len(), "stretch"))
    } else {
        "The job lists no damage.".to_owned()
    };
    found.push(finding(Topic::Damage, Rank::Fine, "in the job", says, "").number(listed));
    found
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
    let mut found = vec![
        finding(
            Topic::Depth,
            Rank::Fine,
            "clean-up depth",
            format!(
                "The highest place must come down {:.2} mm: {:.2} mm run-out and {:.2} mm damage at {:.1} mm radius.",
                depth.clean_up_mm, depth.run_out_there_mm, depth.damage_there_mm, depth.deepest_at_mm
            ),
            "",
        )
        .number(depth.clean_up_mm),
    ];
    if let Some(refused) = &depth.refused {
        found.push(finding(
            Topic::Depth,
            Rank::Stop,
            "passes",
            format!("The schedule cannot do it: {refused}."),
            "",
        ));
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
    let passes_row = |rank, says, action: &str| {
        finding(Topic::Depth, rank, "passes", says, action).number(p.removed_mm).limit(depth.clean_up_mm)
    };
    found.push(if depth.remains_mm > 0.0 {
        passes_row(
            Rank::Warning,
            format!("{passes} {:.2} mm stay uncleaned.", depth.remains_mm),
            "Ask for `passes: auto`, or more passes, if the damage is to go.",
        )
    } else {
        passes_row(Rank::Fine, passes, "")
    });
    found.push(
        finding(
            Topic::Depth,
            Rank::Fine,
            "one pass early",
            if depth.remains_one_pass_early_mm > 0.0 {
                format!(
                    "Stopped one pass early, {:.2} mm would stay uncleaned.",
                    depth.remains_one_pass_early_mm
                )
            } else {
                "Stopped one pass early, the wheel would be clean already.".to_owned()
            },
            "",
        )
        .number(depth.remains_one_pass_early_mm),
    );
    found
}

fn metal(allowance: &AllowanceUse, depth: &Depth, job: &Job) -> Vec<Finding> {
    let before = allowance.limit_mm - allowance.taken_mm;
    let row = |rank, says: String, action: String| {
        finding(Topic::Allowance, rank, "metal", says, action).number(allowance.this_job_mm).limit(before)
    };
    if allowance.left_mm >= 0.0 {
        return vec![row(
            Rank::Fine,
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
            String::new(),
        )];
    }
    let short = -allowance.left_mm;
    let mounted_true =
        super::passes_for(&job.schedule, Length::mm(depth.mounted_true_mm)).map(|p| p.removed_mm);
    let says = format!(
        "This job would take {:.2} mm, {short:.2} mm more than the wheel may lose.",
        allowance.this_job_mm
    );
    vec![if let Some(less) = mounted_true.ok().filter(|&m| m <= before && m < allowance.this_job_mm) {
        row(
            Rank::Remount,
            says,
            format!("Mounted without tilt it would take {less:.2} mm: mount it truer and measure again."),
        )
    } else {
        row(
            Rank::Stop,
            says,
            "Do not cut it so deep: leave the deepest damage, or the wheel as it is.".into(),
        )
    }]
}
