//! Whether the measurement can be believed: lines that are lines, places that were seen, noise, and what no part of the model explains.
//!
//! Three ranks: what cannot be right is refused and asks for another measurement; what a person must decide waits for a key of
//! the job; the rest is told.

use super::coverage::{self, Spread, in_zones};
use super::dial;
use super::harm::{self, line_name, place_on};
use super::judge::Case;
use super::push;
use super::rings::Ring;
use crate::diagnostics::{Finding, Place, Rank, SurveyRule, Unit};
use crate::face::model::{Reason, SetAside, Unexplained, WhyUnwitnessed, WithheldTerm};
use crate::job::{Acceptance, HeightSense, Job, Sensor, Zone};
use crate::scan::{LineDoubt, MeasuredLine, Stretch, ball_path};

/// Lines must look at the wheel from all round: with a wider angle free of lines (degrees) the fit
/// is drawn out over what nobody measured. Three lines, one of them 40 degrees out of place, stay within it.
const WIDEST_ANGLE: f64 = 190.0;
/// Metal that stands this far above the face on one line is more than noise: a burr, dirt, a weight, millimetres.
const RAISED: f64 = 0.05;
/// Listed damage that stands this share of its depth above the face is no burr beside it.
const UPSIDE_DOWN: f64 = 0.5;
/// A face known no better than this share of the last cut (one standard error, after all averaging) shows in it.
pub(super) const NOISE_SHOWS: f64 = 0.1;
/// A face known no better than this share of the last cut is no face to cut along.
const NOISE_STOPS: f64 = 0.25;
/// A departure that no part of the model explains is refused from this size on, millimetres: a usual finish cut.
const UNEXPLAINED: f64 = 0.05;
/// Departures shorter than this, millimetres of radius, are a place to look at and no fault of the model.
const LEAST_LENGTH: f64 = 2.0;
/// Lines from which on two lobes are told from tilt: a constant and two harmonics have five terms.
const ENOUGH_FOR_TWO_LOBES: usize = 5;
/// Metal that stands over the others up to the end of its line is a burr up to this length, millimetres of radius; beyond it the rim.
const BURR: f64 = 6.0;
/// What ends this near a line's last reading, or the end of listed damage, millimetres, reaches it: as well as a person measures.
const AT_THE_END: f64 = 1.0;
/// Bend that three or four lines show shows only a part of itself from this size on, millimetres: noise has less.
const BEND_SHOWS: f64 = 0.02;
/// Damage that ends this near the outermost radius of the zones, millimetres, is at the rim: rims are pushed in over some 20 mm.
const RIM: f64 = 20.0;
/// Lines further apart than this, degrees, may miss a rim that was pushed in over 30 degrees, as a kerb does (common practice, no source):
/// half-way between two of them a Gaussian of that width at half its depth has an eighth of its depth left.
const PUSH_SHOWS: f64 = 52.0;
/// Readings round the wheel that show two lobes: five terms, and some to spare.
const ENOUGH_ROUND: usize = 6;

/// All there is to say of the measurement.
pub(super) fn findings(case: &Case<'_>) -> Vec<Finding> {
    let mut found: Vec<Finding> = case.lines.doubts.iter().map(|d| doubt(case, d)).collect();
    found.extend(no_such_ball(case));
    let spread = coverage::spread(&case.model.angles);
    found.push(lines(case, spread));
    found.extend(unmeasured(case));
    found.push(noise(case));
    found.extend(one_lines_word(case));
    found.extend(unexplained(case));
    found.extend(upside_down(case));
    found.extend(raised(case));
    found.extend(set_aside(case));
    found.extend(sensor(case));
    found.extend(withheld(case));
    found
}

/// A line that is no measurement of the wheel at its angle.
fn doubt(case: &Case<'_>, doubt: &LineDoubt) -> Finding {
    let (rule, line, over) = match doubt {
        LineDoubt::Copied { copy, .. } => (SurveyRule::CopiedLine, copy.line, None),
        LineDoubt::Stuck { line, held, .. } => (SurveyRule::StuckSensor, *line, Some(held.over)),
    };
    let place = match (case.model.angles.get(line), over) {
        (Some(angle), None) => Place::Trace { angle_deg: angle.to_degrees(), from_mm: None, to_mm: None },
        (_, Some(over)) => place_on(case.model, Some(line), over),
        _ => Place::Whole,
    };
    Finding::new(rule, place, format!("{doubt}."))
}

/// A ball that cannot have made these traces.
fn no_such_ball(case: &Case<'_>) -> Option<Finding> {
    let Sensor::Ball { diameter } = case.job.measured.sensor else { return None };
    let lines: Vec<&MeasuredLine> = case.lines.lines.iter().map(|l| &l.line).collect();
    let no = ball_path::impossible(&lines, diameter.as_mm() / 2.0)?;
    let could = match no.largest {
        Some(radius) => {
            format!("the largest ball that could have made all traces is one of {:.2} mm", 2.0 * radius)
        }
        None => "no ball could have made them: they look like a spot sensor's".to_owned(),
    };
    let says = format!(
        "No ball of {diameter} can have made these traces: at {} places they turn more sharply than its centre can, on the line at {} from {:.1} mm to {:.1} mm by {:.3} mm; {could}.",
        no.places,
        line_name(case.model, Some(no.line)),
        no.over.from,
        no.over.to,
        no.by
    );
    let place = place_on(case.model, Some(no.line), no.over);
    Some(Finding::new(SurveyRule::ImpossibleBall, place, says).measured(no.by, None, Unit::Mm))
}

/// How the lines lie round the wheel, and what that many can show.
fn lines(case: &Case<'_>, Spread { distinct, widest }: Spread) -> Finding {
    let row = |rule: SurveyRule, says: String| Finding::new(rule, Place::Whole, says);
    let widest = widest.to_degrees();
    let measured_round = case.lines.rings.iter().any(|r| r.heights.len() >= ENOUGH_ROUND);
    if distinct < 2 {
        return if case.job.measured.run_out.is_none() && !measured_round {
            row(
                SurveyRule::NoRunOut,
                "All that was measured lies on one line, and one line cannot show how the wheel runs.".into(),
            )
        } else {
            row(
                SurveyRule::OneLine,
                "All that was measured lies on one line: what is damage and what is the wheel's own shape it cannot show.".into(),
            )
        };
    }
    if measured_round || distinct >= ENOUGH_FOR_TWO_LOBES {
        let beside = || {
            flanks_of_a_push(case, distinct)
                .or_else(|| pushed_in_between(case, distinct, widest))
                .filter(|_| !measured_round)
        };
        return part_of_a_bend(case, distinct)
            .or_else(beside)
            .unwrap_or_else(|| angles(distinct, widest, measured_round));
    }
    if distinct > 2 && widest > WIDEST_ANGLE {
        return angles(distinct, widest, false);
    }
    let hides = case.rings.iter().map(|r| r.uncertainty).fold(0.0, f64::max);
    let bend = case.run_out.map_or(0.0, |r| r.bend_mm);
    let p = case.job.decimals(2);
    let could = format!("highest and lowest place may be off by {hides:.p$} mm");
    if distinct == 2 {
        let says = format!(
            "Two lines show what they differ by, but not the highest place of the turn, nor tilt apart from bend: {could}."
        );
        let two = row(SurveyRule::TwoLinesUndecided, says).measured(hides, None, Unit::Mm);
        return case.unless_accepted(two, Acceptance::TwoLobeBendUnseen);
    }
    if bend > BEND_SHOWS {
        let says = format!(
            "{distinct} lines show a bend of {bend:.p$} mm, but not how many lobes it has nor where they stand: {could}."
        );
        let bent = row(SurveyRule::BendBetweenLines, says).measured(bend, Some(BEND_SHOWS), Unit::Mm);
        return case.unless_accepted(bent, Acceptance::TwoLobeBendUnseen);
    }
    let says = format!("{distinct} lines cannot show a bend in two lobes: if there is one, {could}.");
    row(SurveyRule::FewLines, says).measured(hides, None, Unit::Mm)
}

/// A bend that the lines show without showing all of its shape: pushed in at a place, it stands on few of them.
fn part_of_a_bend(case: &Case<'_>, distinct: usize) -> Option<Finding> {
    let bend = case.run_out.map_or(0.0, |r| r.bend_mm);
    // What the face itself leaves open, as in a contested stretch, is told where it is.
    let of_the_turn = |r: &Ring| {
        let face = 2.0 * case.model.face_error_at(r.r);
        (r.uncertainty * r.uncertainty - face * face).max(0.0).sqrt()
    };
    let hides = case.rings.iter().map(of_the_turn).fold(0.0, f64::max);
    let cut = last_cut(case.job);
    // The uncertainty is two standard errors.
    if bend <= BEND_SHOWS || hides <= 2.0 * NOISE_SHOWS * cut {
        let apart = dial::disagreement(case.lines, case.model)?;
        return apart.is_mirrored().then(|| apart_by_rank(case, &apart, hides > cut));
    }
    let p = case.job.decimals(2);
    let says = format!(
        "{distinct} lines show a bend of {bend:.p$} mm, but not all of its shape: highest and lowest place may be off by {hides:.p$} mm."
    );
    let found =
        |rule| Finding::new(rule, Place::Whole, says.clone()).measured(bend, Some(BEND_SHOWS), Unit::Mm);
    if let Some(apart) = dial::disagreement(case.lines, case.model) {
        return Some(apart_by_rank(case, &apart, hides > cut));
    }
    Some(if hides > cut {
        case.unless_accepted(found(SurveyRule::BendBetweenLines), Acceptance::TwoLobeBendUnseen)
    } else {
        found(SurveyRule::FewLines)
    })
}

/// What is said of readings round the wheel that show another wheel than the lines do: decided by a person where more is unseen than a cut.
fn apart_by_rank(case: &Case<'_>, apart: &dial::Disagreement, decide: bool) -> Finding {
    let rank = if decide { Rank::Decision } else { Rank::Warning };
    case.unless_accepted(Finding { rank, ..dial_and_lines(apart) }, Acceptance::TwoLobeBendUnseen)
}

/// Readings round the wheel that show another wheel than the lines do: no more readings of the same kind would mend that.
fn dial_and_lines(apart: &dial::Disagreement) -> Finding {
    let says = format!(
        "The readings under `turn` at {:.1} mm radius and the lines disagree by {:.3} mm: from {:.0} deg to {:.0} deg the readings rise by {:+.3} mm and the lines by {:+.3} mm.",
        apart.radius,
        apart.by(),
        apart.between[0].to_degrees(),
        apart.between[1].to_degrees(),
        apart.dial,
        apart.lines
    );
    let (rule, says) = if apart.is_mirrored() {
        let mirrored = format!(
            "{says} Counted the other way round, the readings and the lines differ by {:.3} mm at most.",
            apart.mirrored
        );
        (SurveyRule::MirroredAngles, mirrored)
    } else {
        (SurveyRule::DialAndLines, says)
    };
    Finding::new(rule, Place::Whole, says).measured(apart.by(), None, Unit::Mm)
}

/// A bend that stands on the lines as a push between two of them would.
fn flanks_of_a_push(case: &Case<'_>, distinct: usize) -> Option<Finding> {
    let bend = case.run_out.map_or(0.0, |r| r.bend_mm);
    let rim = case.job.zones.iter().map(|z| z.to.as_mm()).fold(0.0, f64::max);
    let shows = 2.0 * NOISE_SHOWS * last_cut(case.job);
    let push = push::between_lines(case.model, rim)?;
    if bend <= BEND_SHOWS || push.deeper <= shows {
        return None;
    }
    let says = format!(
        "{distinct} lines show a bend of {bend:.2} mm as a rim pushed in near {:.0} deg would: there it may lie up to {:.2} mm lower than they show.",
        push.at.to_degrees(),
        push.deeper
    );
    Some(Finding::new(SurveyRule::PushBetweenLines, Place::Whole, says).measured(
        push.deeper,
        Some(shows),
        Unit::Mm,
    ))
}

/// Damage at the rim, where the blow may have pushed the rim in beside lines that all stand off it.
fn pushed_in_between(case: &Case<'_>, distinct: usize, widest: f64) -> Option<Finding> {
    let rim = case.job.zones.iter().map(|z| z.to.as_mm()).fold(0.0, f64::max);
    let listed = case.job.damage.iter().map(|d| d.to.as_mm());
    let seen = harm::seen(case.model).map(|d| d.stretch.to);
    if widest <= PUSH_SHOWS || widest > WIDEST_ANGLE || !listed.chain(seen).any(|to| to > rim - RIM) {
        return None;
    }
    let says = format!(
        "{distinct} lines stand up to {widest:.0} deg apart: where a blow scraped the rim it may have pushed it in too, and a push of 30 deg between two of them does not show."
    );
    Some(Finding::new(SurveyRule::PushBetweenLines, Place::Whole, says).measured(
        widest,
        Some(PUSH_SHOWS),
        Unit::Deg,
    ))
}

fn angles(distinct: usize, widest: f64, measured_round: bool) -> Finding {
    let (rule, says) = if widest > WIDEST_ANGLE && !measured_round {
        (
            SurveyRule::WideGap,
            format!("No line stands within {widest:.0} deg of the turn, so the wheel there is a guess."),
        )
    } else {
        (SurveyRule::Lines, format!("{distinct} lines, at most {widest:.0} deg apart."))
    };
    Finding::new(rule, Place::Whole, says).measured(widest, Some(WIDEST_ANGLE), Unit::Deg)
}

/// Where no line, or one line less, met metal.
fn unmeasured(case: &Case<'_>) -> Vec<Finding> {
    let job = case.job;
    let settled =
        |s: &Stretch| job.mending.no_metal.iter().any(|z| z.from.as_mm() <= s.from && s.to <= z.to.as_mm());
    let none = coverage::unmeasured(job, case.lines, case.model);
    let mut found: Vec<Finding> = none
        .iter()
        .filter(|s| !settled(s))
        .map(|s| {
            let says = format!("Nothing was measured on metal from {:.2} mm to {:.2} mm.", s.from, s.to);
            let place = Place::Radius { from_mm: s.from, to_mm: s.to };
            let limit = job.measured.longest_gap.as_mm();
            Finding::new(SurveyRule::Unmeasured, place, says).measured(s.length(), Some(limit), Unit::Mm)
        })
        .collect();
    for (line, cleaned) in case.lines.lines.iter().enumerate() {
        let longest = job.measured.longest_gap.as_mm();
        let gaps = coverage::gaps(&cleaned.line, longest).into_iter();
        let gaps = gaps.flat_map(|s| coverage::outside_windows(job, s));
        let gaps = gaps.filter(|s| s.length() > longest && in_zones(job, s));
        for s in gaps.chain(coverage::beyond_ends(&cleaned.line, &job.zones, longest)) {
            let hole = cleaned.line.no_metal.iter().any(|n| n.meets(&s));
            let what = if hole { "met no metal" } else { "was not measured" };
            let says = format!(
                "The line at {} {what} from {:.1} mm to {:.1} mm; the other lines speak there.",
                line_name(case.model, Some(line)),
                s.from,
                s.to
            );
            let place = place_on(case.model, Some(line), s);
            found.push(Finding::new(SurveyRule::UnmeasuredOnLine, place, says).measured(
                s.length(),
                None,
                Unit::Mm,
            ));
        }
    }
    found
}

/// Depth of the last cut, millimetres: the finish cut's, or the rough cut's where there is none.
pub(super) fn last_cut(job: &Job) -> f64 {
    let schedule = &job.schedule;
    let finish = schedule.finish.as_ref().map(|f| f.depth.as_mm()).filter(|&d| d > 0.0);
    finish.or_else(|| schedule.rough.as_ref().map(|r| r.depth.as_mm())).unwrap_or(f64::INFINITY)
}

/// What noise is left in the face, against the last cut.
fn noise(case: &Case<'_>) -> Finding {
    let cut = last_cut(case.job);
    let left = super::face_error(case.job, case.model);
    let (rule, share, says) = if left > NOISE_STOPS * cut {
        let says = format!(
            "The face is known within {left:.4} mm (one standard error), and the last cut takes {cut:.3} mm."
        );
        (SurveyRule::TooNoisy, NOISE_STOPS, says)
    } else if left > NOISE_SHOWS * cut {
        let says = format!(
            "The face is known within {left:.4} mm (one standard error): noise of that size shows in the last cut."
        );
        (SurveyRule::Noisy, NOISE_SHOWS, says)
    } else {
        (
            SurveyRule::Noise,
            NOISE_SHOWS,
            format!("The face is known within {left:.4} mm (one standard error)."),
        )
    };
    let limit = Some(share * cut).filter(|l| l.is_finite());
    Finding::new(rule, Place::Whole, says).measured(left, limit, Unit::Mm)
}

/// Stretches inside the zones for which one line alone speaks.
fn one_lines_word(case: &Case<'_>) -> Vec<Finding> {
    if case.model.angles.len() < 2 {
        return Vec::new();
    }
    let alone = case.model.unwitnessed.iter().filter(|u| u.why == WhyUnwitnessed::OneLine);
    alone
        .map(|u| u.stretch)
        .filter(|s| in_zones(case.job, s) && s.length() >= LEAST_LENGTH)
        .map(|s| {
            let says = format!(
                "From {:.1} mm to {:.1} mm one line alone met metal, with nothing to hold it against.",
                s.from, s.to
            );
            let place = Place::Radius { from_mm: s.from, to_mm: s.to };
            Finding::new(SurveyRule::OneLinesWord, place, says).measured(s.length(), None, Unit::Mm)
        })
        .collect()
}

/// What no part of the model explains.
fn unexplained(case: &Case<'_>) -> Vec<Finding> {
    let large = case.model.unexplained.iter().filter(|u| {
        in_zones(case.job, &u.stretch)
            && u.size.abs() >= UNEXPLAINED
            && u.stretch.length() >= LEAST_LENGTH
            && !is_listed(case.job, u)
    });
    large
        .map(|u| {
            let way = if u.size > 0.0 { "above" } else { "below" };
            let says = format!(
                "From {:.1} mm to {:.1} mm the line at {} stands {:.2} mm {way} the face, and neither tilt nor bend nor damage explains it.",
                u.stretch.from,
                u.stretch.to,
                line_name(case.model, Some(u.line)),
                u.size.abs()
            );
            let place = place_on(case.model, Some(u.line), u.stretch);
            Finding::new(SurveyRule::Unexplained, place, says).measured(u.size.abs(), Some(UNEXPLAINED), Unit::Mm)
        })
        .collect()
}

/// Whether the job lists damage as deep where a line departs: rash over the rim's edge has one foot, as a bent rim has, and a
/// person saw which it is.
fn is_listed(job: &Job, u: &Unexplained) -> bool {
    let inside = |z: &Zone| (u.stretch.from.max(z.from.as_mm()), u.stretch.to.min(z.to.as_mm()));
    job.zones.iter().map(inside).filter(|(from, to)| from < to).all(|(from, to)| {
        job.damage.iter().any(|d| {
            let covers = d.from.as_mm() <= from + AT_THE_END && to - AT_THE_END <= d.to.as_mm();
            covers && (-d.depth.as_mm()..=0.0).contains(&u.size)
        })
    })
}

/// Stretches in the zones that stand over the face.
fn standing_over<'a>(case: &'a Case<'_>) -> impl Iterator<Item = &'a SetAside> {
    let over = |s: &&SetAside| s.reason == Reason::StandsOver && s.off >= RAISED;
    case.model.set_aside.iter().filter(over).filter(|s| in_zones(case.job, &s.stretch))
}

/// The deepest dent of a line that meets a stretch.
fn deepest_in(case: &Case<'_>, s: &Stretch) -> f64 {
    harm::seen(case.model).filter(|d| d.stretch.meets(s)).map(|d| d.depth).fold(0.0, f64::max)
}

/// Listed damage that stands above the face: metal does not grow where it was scraped, so the face is upside down.
fn upside_down(case: &Case<'_>) -> Option<Finding> {
    let up =
        |s: &Stretch| standing_over(case).filter(|u| u.stretch.meets(s)).map(|u| u.off).fold(0.0, f64::max);
    let listed = case.job.damage.iter().find(|l| {
        let s = Stretch { from: l.from.as_mm(), to: l.to.as_mm() };
        let up = up(&s);
        up >= UPSIDE_DOWN * l.depth.as_mm() && up > deepest_in(case, &s)
    })?;
    let (is, other) = senses(case);
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

const fn senses(case: &Case<'_>) -> (&'static str, &'static str) {
    match case.job.measured.z {
        HeightSense::Height => ("height", "distance"),
        HeightSense::Distance => ("distance", "height"),
    }
}

/// Metal above the face on one line. Beside dents it is a burr; alone it may be a scrape on a face that is upside down.
fn raised(case: &Case<'_>) -> Vec<Finding> {
    let deepest = harm::seen(case.model)
        .filter(|d| in_zones(case.job, &d.stretch))
        .map(|d| d.depth)
        .fold(0.0, f64::max);
    standing_over(case)
        .map(|u| {
            let says = format!(
                "The line at {} stands {:.2} mm above the others from {:.1} mm to {:.1} mm.",
                line_name(case.model, Some(u.line)),
                u.off,
                u.stretch.from,
                u.stretch.to
            );
            let place = place_on(case.model, Some(u.line), u.stretch);
            if is_the_rim(case, u) {
                let bent = Finding::new(SurveyRule::Unexplained, place, says);
                return bent.measured(u.off, Some(RAISED), Unit::Mm);
            }
            if deepest >= u.off {
                return Finding::new(SurveyRule::RaisedSpot, place, says).measured(
                    u.off,
                    Some(RAISED),
                    Unit::Mm,
                );
            }
            let alone =
                Finding::new(SurveyRule::RaisedOnly, place, says).measured(u.off, Some(RAISED), Unit::Mm);
            case.unless_accepted(alone, Acceptance::RaisedSpot)
        })
        .collect()
}

/// Whether what stands over the others is no burr but the rim: a rise that has one foot only and lasts to the end of its line.
fn is_the_rim(case: &Case<'_>, over: &SetAside) -> bool {
    let Some(line) = case.lines.lines.get(over.line) else { return false };
    let radii = line.line.readings.iter().filter(|r| !r.suspect).map(|r| r.x);
    over.stretch.length() > BURR && over.stretch.to >= radii.fold(f64::NEG_INFINITY, f64::max) - AT_THE_END
}

/// Readings that no scrape explains, one by one; wild single readings by their number.
fn set_aside(case: &Case<'_>) -> Vec<Finding> {
    let in_zone = || case.model.set_aside.iter().filter(|s| in_zones(case.job, &s.stretch));
    let mut found: Vec<Finding> = in_zone()
        .filter(|s| s.reason == Reason::DeepForItsWidth)
        .map(|s| {
            let says = format!(
                "The line at {} reads {:.2} mm below the face at {:.1} mm, too deep for its width of {:.1} mm to be a scrape.",
                line_name(case.model, Some(s.line)),
                -s.off,
                f64::midpoint(s.stretch.from, s.stretch.to),
                s.stretch.length()
            );
            let place = place_on(case.model, Some(s.line), s.stretch);
            Finding::new(SurveyRule::SetAside, place, says).measured(-s.off, None, Unit::Mm)
        })
        .collect();
    let wild = in_zone().filter(|s| s.reason == Reason::FalseReading);
    let (places, readings) = wild.fold((0_usize, 0_usize), |(p, n), s| (p + 1, n + s.readings));
    if places > 0 {
        let says =
            format!("{readings} readings at {places} places jump off the face and back, and were left out.");
        found.push(Finding::new(SurveyRule::FalseReadings, Place::Whole, says));
    }
    found
}

/// What the sensor did, where it was taken off.
fn sensor(case: &Case<'_>) -> Vec<Finding> {
    let mut found = Vec::new();
    for (line, terms) in case.model.sensor.iter().enumerate() {
        let drift = terms.drift.map(|d| format!("drifted by {d:+.3} mm"));
        let way = terms.hysteresis.map(|h| format!("read {h:+.3} mm on the way inward"));
        let zero = terms.zero.map(|z| format!("had its zero {z:+.3} mm off the other lines'"));
        let name = line_name(case.model, Some(line));
        if let (None, Some(off)) = (terms.drift, terms.zero) {
            let says = format!(
                "The line at {name} stands {off:+.3} mm off the other lines by as much at every radius; that was taken for the sensor's zero, and taken off."
            );
            let place = Place::Whole;
            found.push(Finding::new(SurveyRule::ZeroMoved, place, says).measured(off, None, Unit::Mm));
            continue;
        }
        let what: Vec<String> = [drift, way, zero].into_iter().flatten().collect();
        if !what.is_empty() {
            let says = format!("On the line at {name} the sensor {}; it was taken off.", together(&what));
            found.push(Finding::new(SurveyRule::SensorDrift, Place::Whole, says));
        }
    }
    found
}

/// Words in a row.
fn together(words: &[String]) -> String {
    match words {
        [first, middle @ .., last] if !middle.is_empty() => {
            format!("{first}, {} and {last}", middle.join(", "))
        }
        _ => words.join(" and "),
    }
}

/// Corrections that the readings show, but too badly for what they would be applied to.
fn withheld(case: &Case<'_>) -> impl Iterator<Item = Finding> {
    let limit = NOISE_SHOWS * last_cut(case.job);
    case.model.withheld.iter().map(move |w| {
        let (what, place) = match w.term {
            WithheldTerm::Bend { start } => (format!("a bend from {start:.0} mm radius on"), Place::Whole),
            WithheldTerm::Eccentricity => ("that the face stands off the spindle's axis".to_owned(), Place::Whole),
            WithheldTerm::Sensor { line } => {
                let name = line_name(case.model, Some(line));
                (format!("that the sensor drifted on the line at {name}"), Place::Whole)
            }
        };
        let says = format!(
            "The readings show {what}, but leave {:.3} mm of it open (one standard error), more than a tenth of the last cut: it was not taken off.",
            w.error
        );
        Finding::new(SurveyRule::Withheld, place, says).measured(w.error, Some(limit), Unit::Mm)
    })
}
