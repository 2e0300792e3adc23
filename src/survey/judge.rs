//! The judgement: every number against its limit, with what it means and what to do.

use super::depth::Kind;
use super::{AllowanceUse, Depth, Finding, Rank, RunOut, Topic, running};
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

/// Who decides where this program does not.
pub(super) const REFER: &str =
    "Ask the wheel maker, and keep to local rules and to what a licensed practice may do.";

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
    found.extend(metal(allowance, depth, job));
    // A stable sort: within a rank the order above stays.
    found.sort_by_key(|f| (f.topic, std::cmp::Reverse(f.rank)));
    found
}

pub(super) fn finding(
    topic: Topic,
    rank: Rank,
    what: &'static str,
    says: String,
    action: impl Into<String>,
) -> Finding {
    Finding { topic, rank, what, value_mm: None, limit_mm: None, says, action: action.into() }
}

impl Finding {
    pub(super) const fn number(mut self, value: f64) -> Self {
        self.value_mm = Some(value);
        self
    }

    pub(super) const fn limit(mut self, limit: f64) -> Self {
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
        0 | 1 if job.measured.run_out.is_none() => lines(
            Rank::Stop,
            "All that was measured lies on one line, and one line cannot show how the wheel runs.".into(),
            "Measure at least three lines spread over the turn; or turn the wheel under an indicator at the rim and write what it reads over one turn as `run_out: 0.08 mm` under `measured`.",
        ),
        0 | 1 => lines(
            Rank::Warning,
            "All that was measured lies on one line: what is damage and what is the wheel's own shape it cannot show.".into(),
            "List the damage in the job, look at the whole turn, or measure three lines spread over it.",
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
    found.extend(upside_down(job, restored));
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
                "Look for a burr, dirt or a weight there and take it off before the cut; if it is a scrape, the face is upside down: `z` is the other of `height` and `distance`.",
            )
            .number(d.depth)
            .limit(RAISED),
        );
    }
    found
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
    Some(finding(
        Topic::Quality,
        Rank::Stop,
        "upside down",
        format!(
            "Where the job lists damage, from {:.1} mm to {:.1} mm, a line stands above the others: the face is upside down.",
            listed.from.as_mm(),
            listed.to.as_mm()
        ),
        format!(
            "Write `z: {other}` where the job says `z: {is}`, or strike that damage from the job if a burr stands there."
        ),
    ))
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
    job.has_zone_in(d.from, d.to)
}

pub(super) fn line_name(restored: &Restored, d: &Dent) -> String {
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
    if depth.clean_up_mm <= before {
        return vec![row(
            Rank::Stop,
            format!(
                "The schedule takes {:.2} mm where {:.2} mm clean the wheel, {short:.2} mm more than it may lose.",
                allowance.this_job_mm, depth.clean_up_mm
            ),
            "Ask for `passes: auto`, for fewer passes, or for thinner ones.".into(),
        )];
    }
    let mounted_true = super::passes_for(job, Length::mm(depth.mounted_true_mm)).map(|p| p.removed_mm);
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
