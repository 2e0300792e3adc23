//! Damage: what the job lists and what the lines show, and what the sound face beside it rests on.

use super::coverage::{self, in_zones};
use super::judge::Case;
use super::quality;
use crate::diagnostics::{Finding, Place, SurveyRule, Unit};
use crate::face;
use crate::face::model::{Contested, Decision, Dent, Sector, WheelModel};
use crate::job::{Damage, Job, Zone};
use crate::scan::Stretch;
use crate::scan::line::MeasuredLine;

/// A dent's depth that is known no better than this is worth a second look, millimetres: less than half of a usual finish cut.
const WELL_KNOWN: f64 = 0.02;
/// Dents no deeper than this are not told: half a usual finish cut takes them away unasked.
pub(super) const LEAST_DEPTH: f64 = 0.03;
/// Standard deviations in a dent's uncertainty: the deepest of many places is the one told.
pub(super) const COVERAGE: f64 = 3.0;
/// What the answers that were not taken leave open is told from here on, millimetres: a fifth of a usual finish cut.
const UNSURE: f64 = 0.01;
/// Listed damage that reaches beyond a zone by no more than this, millimetres, may end with it: as well as a person measures.
const AS_MEASURED: f64 = 1.0;
/// The share of listed damage's width, about its middle, in which a line runs through it: towards its ends it may run out.
const MIDDLE: f64 = 0.5;
/// A line that runs through listed damage shows at least this share of its depth: what a person took with a depth gauge is the deepest place.
const SHOWN: f64 = 1.0 / 3.0;
/// Shorter than this, millimetres of radius, no difference of the lines is anything to look at.
const LEAST_LENGTH: f64 = 1.0;

/// All there is to say of damage.
pub(super) fn findings(case: &Case<'_>) -> Vec<Finding> {
    let job = case.job;
    let beyond_cutting = job.damage.iter().filter(|d| !face::is_surface_damage(d.kind));
    let mut found: Vec<Finding> = beyond_cutting
        .map(|d| {
            let (from, to) = (d.from.as_mm(), d.to.as_mm());
            let (what, why) = (face::kind_name(d.kind), face::kind_reason(d.kind));
            let says = format!("The job lists {what} from {from:.1} mm to {to:.1} mm: {why}.");
            Finding::new(SurveyRule::DamageKind, Place::Radius { from_mm: from, to_mm: to }, says)
        })
        .collect();
    found.extend(outside_zones(job));
    found.extend(job.damage.iter().filter_map(|d| not_shown(case, d)));
    found.extend(case.model.contested.iter().filter_map(|c| contested(case, c)));
    found.extend(dents(case));
    let listed = job.damage.iter().map(|d| d.depth.as_mm()).fold(0.0, f64::max);
    let says = if listed > 0.0 {
        format!("The job lists {}, the deepest {listed:.2} mm.", count(job.damage.len(), "stretch"))
    } else {
        "The job lists no damage.".to_owned()
    };
    found.push(Finding::new(SurveyRule::DamageListed, Place::Whole, says).measured(listed, None, Unit::Mm));
    found
}

/// Damage that the job lists where it cuts nothing, whole or in part.
fn outside_zones(job: &Job) -> impl Iterator<Item = Finding> {
    let surface = job.damage.iter().filter(|d| face::is_surface_damage(d.kind));
    surface.flat_map(|d| {
        let listed = Stretch { from: d.from.as_mm(), to: d.to.as_mm() };
        beyond_zones(job, listed).into_iter().map(move |part| {
            let (from_mm, to_mm) = (part.from, part.to);
            let says = if part == listed {
                format!("The job lists damage from {from_mm:.1} mm to {to_mm:.1} mm, outside its zones.")
            } else {
                format!(
                    "The job lists damage from {:.1} mm to {:.1} mm, of which what lies from {from_mm:.1} mm to {to_mm:.1} mm is outside its zones.",
                    listed.from, listed.to
                )
            };
            Finding::new(SurveyRule::DamageOutside, Place::Radius { from_mm, to_mm }, says)
        })
    })
}

/// Damage of which the job says where on the turn it lies, and lines that run through the middle of it hardly show any.
fn not_shown(case: &Case<'_>, d: &Damage) -> Option<Finding> {
    let model = case.model;
    let (sector, depth) = (d.sector?, d.depth.as_mm());
    let stretch = Stretch { from: d.from.as_mm(), to: d.to.as_mm() };
    let middle = Sector { at: sector.at.as_rad(), width: MIDDLE * sector.over.as_rad() };
    let lines = case.lines.lines.iter().map(|l| &l.line).enumerate();
    let through: Vec<usize> =
        lines.filter(|(_, line)| middle.holds(line.at) && crosses(line, &stretch)).map(|(i, _)| i).collect();
    let on = |d: &&Dent| d.line.is_some_and(|line| through.contains(&line)) && d.stretch.meets(&stretch);
    let shown = model.damage.iter().filter(on).map(|d| d.depth).fold(0.0, f64::max);
    let first = through.first()?;
    if !face::is_surface_damage(d.kind) || shown >= SHOWN * depth || depth - shown < LEAST_DEPTH {
        return None;
    }
    let shows = if shown < LEAST_DEPTH { "shows none".to_owned() } else { format!("shows {shown:.2} mm") };
    let says = format!(
        "The job lists {depth:.2} mm of damage from {:.1} mm to {:.1} mm at {:.0} deg, and the line at {} through the middle of it {shows}.",
        stretch.from,
        stretch.to,
        sector.at.as_deg(),
        line_name(model, Some(*first)),
    );
    let place = place_on(model, Some(*first), stretch);
    Some(Finding::new(SurveyRule::DamageNotShown, place, says).measured(shown, Some(depth), Unit::Mm))
}

/// Whether a line has readings on both sides of a stretch, and metal all over it.
fn crosses(line: &MeasuredLine, s: &Stretch) -> bool {
    let sound = || line.readings.iter().filter(|r| !r.suspect);
    sound().any(|r| r.x <= s.from)
        && sound().any(|r| r.x >= s.to)
        && !line.no_metal.iter().any(|n| n.meets(s))
}

/// The parts of listed damage beyond all zones: the whole of it, or what has metal and is longer than a person measures it.
fn beyond_zones(job: &Job, listed: Stretch) -> Vec<Stretch> {
    let outside = |parts: Vec<Stretch>, zone: &Zone| {
        let (from, to) = (zone.from.as_mm(), zone.to.as_mm());
        let cut = |s: Stretch| {
            [Stretch { from: s.from, to: s.to.min(from) }, Stretch { from: s.from.max(to), to: s.to }]
        };
        parts.into_iter().flat_map(cut).filter(|s| s.from < s.to).collect()
    };
    let parts = job.zones.iter().fold(vec![listed], outside);
    let parts = parts.into_iter().flat_map(|s| coverage::outside_windows(job, s));
    parts.filter(|s| *s == listed || s.length() > AS_MEASURED && !beyond_metal(job, s)).collect()
}

/// Whether a stretch beyond all zones lies where the first or the last of them runs off: there is no metal.
fn beyond_metal(job: &Job, s: &Stretch) -> bool {
    let off = &job.runs_off;
    let inward = off.inner.is_some() && job.zones.iter().all(|z| s.to <= z.from.as_mm());
    let outward = off.outer.is_some() && job.zones.iter().all(|z| s.from >= z.to.as_mm());
    inward || outward
}

/// A stretch where the lines disagreed and the answer is worth a look.
fn contested(case: &Case<'_>, c: &Contested) -> Option<Finding> {
    let Stretch { from, to } = c.stretch;
    if !in_zones(case.job, &c.stretch) || c.stretch.length() < LEAST_LENGTH {
        return None;
    }
    let (rule, says) = match c.decided {
        Decision::DamageAllRound => {
            let least = c.least_depth.map_or(0.0, |d| d.0);
            (
                SurveyRule::AllRound,
                format!(
                    "From {from:.1} mm to {to:.1} mm every line is damaged, the least of them {least:.2} mm: damage all round, and the sound face there is known within {:.2} mm.",
                    c.uncertainty.max(0.005)
                ),
            )
        }
        Decision::Bridged => (
            SurveyRule::AllRound,
            format!(
                "From {from:.1} mm to {to:.1} mm all lines dip alike where the job lists damage: the sound face is carried on from both sides, and known within {:.2} mm.",
                c.uncertainty.max(0.005)
            ),
        ),
        Decision::Undecided => (
            undecided(case, c),
            format!(
                "From {from:.1} mm to {to:.1} mm the lines differ, and the highest was taken with nothing to hold it against; it may be damaged too: the sound face there is known within {:.2} mm.",
                c.uncertainty
            ),
        ),
        Decision::UpperLinesSound if c.uncertainty > UNSURE => (
            SurveyRule::UndecidedTold,
            format!(
                "From {from:.1} mm to {to:.1} mm lines differ, and the upper ones are taken to be sound; they may be damaged too: the sound face there is known within {:.2} mm.",
                c.uncertainty
            ),
        ),
        Decision::AsTold => (
            SurveyRule::LeftAsItIs,
            format!(
                "From {from:.1} mm to {to:.1} mm the lines differ, and the job leaves the face as it is: the highest line counts."
            ),
        ),
        Decision::UpperLinesSound | Decision::LinesRaised => return None,
    };
    let place = Place::Radius { from_mm: from, to_mm: to };
    Some(Finding::new(rule, place, says).measured(c.uncertainty, None, Unit::Mm))
}

/// Lines that differ undecidedly are asked about where the difference shows in the last cut, and only told where the job lists
/// damage that is as deep: a person saw which it is.
fn undecided(case: &Case<'_>, c: &Contested) -> SurveyRule {
    let shows = c.uncertainty > quality::NOISE_SHOWS * quality::last_cut(case.job);
    let listed = case.job.damage.iter().any(|d| {
        let s = Stretch { from: d.from.as_mm(), to: d.to.as_mm() };
        s.meets(&c.stretch) && d.depth.as_mm() >= c.uncertainty
    });
    if shows && !listed { SurveyRule::Undecided } else { SurveyRule::UndecidedTold }
}

/// The dents that the lines show in the zones, by their deepest.
fn dents(case: &Case<'_>) -> Option<Finding> {
    let in_zone = || seen(case.model).filter(|d| in_zones(case.job, &d.stretch));
    let d = in_zone().max_by(|a, b| a.depth.total_cmp(&b.depth))?;
    let unlisted = in_zone().filter(|d| !is_listed(case, d)).count();
    let known = COVERAGE * d.error;
    let says = format!(
        "{} in the lines, the deepest {:.2} mm at {:.1} mm radius on the line at {}, known within {known:.3} mm; none is copied round the wheel.",
        count(in_zone().count(), "dent"),
        d.depth,
        deepest_at(d),
        line_name(case.model, d.line),
    );
    let place = place_on(case.model, d.line, d.stretch);
    let row = if unlisted > 0 {
        Finding::new(SurveyRule::DentsUnlisted, place, says).to_do(format!(
            "{} not in the job's list: look at the wheel there, and name design features under `leave`.",
            count(unlisted, "dent")
        ))
    } else if known > WELL_KNOWN {
        Finding::new(SurveyRule::DentUncertain, place, says)
    } else {
        Finding::new(SurveyRule::Dents, place, says)
    };
    Some(row.measured(d.depth, None, Unit::Mm))
}

/// The dents that a line shows and that are worth telling.
pub(super) fn seen(model: &WheelModel) -> impl Iterator<Item = &Dent> {
    model.damage.iter().filter(|d| d.line.is_some() && d.depth >= LEAST_DEPTH)
}

/// The radius of a dent's deepest place.
pub(super) fn deepest_at(d: &Dent) -> f64 {
    let deepest = d.profile.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    deepest.map_or(f64::midpoint(d.stretch.from, d.stretch.to), |p| p.0)
}

fn is_listed(case: &Case<'_>, d: &Dent) -> bool {
    let at = deepest_at(d);
    case.job.damage.iter().any(|l| l.from.as_mm() <= at && at <= l.to.as_mm())
}

/// The name of a line: its angle.
pub(super) fn line_name(model: &WheelModel, line: Option<usize>) -> String {
    let angle = line.and_then(|line| model.angles.get(line));
    angle.map_or_else(String::new, |a| format!("{:.0} deg", a.to_degrees()))
}

/// A stretch on a line, as the place of a finding.
pub(super) fn place_on(model: &WheelModel, line: Option<usize>, s: Stretch) -> Place {
    match line.and_then(|line| model.angles.get(line)) {
        Some(angle) => {
            Place::Trace { angle_deg: angle.to_degrees(), from_mm: Some(s.from), to_mm: Some(s.to) }
        }
        None => Place::Radius { from_mm: s.from, to_mm: s.to },
    }
}

pub(super) fn count(n: usize, what: &str) -> String {
    match (n, what) {
        (1, _) => format!("1 {what}"),
        (_, "stretch") => format!("{n} stretches"),
        _ => format!("{n} {what}s"),
    }
}
