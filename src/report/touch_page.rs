//! The touch check as a person reads it at the lathe, and as JSON: where to touch, and what the readings tell.
//!
//! Places are words of the control, lengths are in its unit, X errors are of radius. What stands after ± is two standard errors.

use crate::diagnostics::text::visible;
use crate::face::touch_check::{Estimate, Found, TouchPoint};
use crate::gcode::{PlaceWords, TouchOffWords};
use crate::job::{Job, Tool, XWords};
use crate::plan::touch_cost::{Amount, Decision, Judged};
use crate::units::{Length, MM_PER_INCH, name_as_written};
use serde::Serialize;
use std::fmt::Write;

/// Standard errors after ±.
const SURE: f64 = 2.0;

/// A tool at the places where it is touched.
#[derive(Debug, Clone, Copy)]
pub struct Table<'a> {
    /// The job.
    pub job: &'a Job,
    /// The tool.
    pub tool: &'a Tool,
    /// How it is touched off.
    pub words: &'a TouchOffWords,
    /// The places.
    pub points: &'a [TouchPoint],
    /// Their words.
    pub places: &'a [PlaceWords],
    /// What readings there would tell, drawn from readings without error.
    pub foreseen: &'a Found,
    /// What would be made of readings without error.
    pub at_best: Judged,
}

/// What the readings tell, with all that follows from it.
#[derive(Debug, Clone)]
pub struct Answer<'a> {
    /// What the control showed at each place, in the words' unit.
    pub readings: &'a [f64],
    /// What was found.
    pub found: &'a Found,
    /// What the tool would do.
    pub judged: Judged,
    /// Share of the face that the first pass would touch as planned and as the tool stands, where the turn is known.
    pub contact: Option<[f64; 2]>,
    /// The last place touched as the control shows it, and as it is.
    pub correction: [PlaceWords; 2],
    /// What became of it in the ledger.
    pub entered: Option<String>,
}

/// A length in the control's unit.
fn length(job: &Job, mm: f64) -> String {
    if job.control.unit_word.is_inch() {
        format!("{:.4} in", mm / MM_PER_INCH)
    } else {
        format!("{mm:.3} mm")
    }
}

fn radius(job: &Job, r: Length) -> String {
    if job.control.unit_word.is_inch() {
        format!("{:.2} in", r.as_mm() / MM_PER_INCH)
    } else {
        format!("{:.1} mm", r.as_mm())
    }
}

/// The table of places.
#[must_use]
pub fn table(table: &Table<'_>) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = write_table(&mut out, table);
    out
}

fn write_table(out: &mut String, t: &Table<'_>) -> std::fmt::Result {
    let how = t.words.how.to_lowercase();
    writeln!(out, "tool     T{} {}: {how}", t.tool.number, visible(&name_as_written(&t.tool.name)))?;
    writeln!(out, "  {:<12} {:<16} {:>8}", "stand at", "must touch at", "slope")?;
    for (point, place) in t.points.iter().zip(t.places) {
        writeln!(out, "  {:<12} {:<16} {:>+8.3}", place.x, place.z, point.slope)?;
    }
    let job = t.job;
    let told = |e: Estimate| length(job, SURE * e.error);
    let x = t.foreseen.x.map_or_else(
        || "X cannot be told on this face, which has no slopes of both signs; ".to_owned(),
        |x| format!("X within {}, ", told(x)),
    );
    let end = Length::mm(t.points.last().map_or(0.0, |p| p.contact));
    writeln!(
        out,
        "tells    {x}Z within {}, a tilt within {} at radius {}, if a touch repeats within {}",
        told(t.foreseen.z),
        length(job, SURE * t.foreseen.tilt.error * end.as_mm()),
        radius(job, end),
        length(job, job.touching.repeats.as_mm())
    )?;
    let x_words = match job.control.x_words {
        XWords::Diameter => "X words are diameters",
        XWords::Radius => "X words are radii",
    };
    writeln!(out, "do       spindle standing, the highest place of the turn each time; {x_words}")?;
    if t.at_best.never_go(job) {
        writeln!(out, "caution  no reading at these places could give go: {}", too_little(job, &t.at_best))?;
    }
    Ok(())
}

/// Why places cannot give go, and what would.
fn too_little(job: &Job, judged: &Judged) -> String {
    format!(
        "they leave ± {} open where a touch repeats within {}, and the shop's `limit` is {}; touch more places with --at, or see that `repeats` and `limit` under `touch` in the shop file are what they should be",
        length(job, judged.open.as_mm()),
        length(job, job.touching.repeats.as_mm()),
        length(job, job.touching.limit.as_mm())
    )
}

/// What decides against going on.
fn decides(job: &Job, judged: &Judged) -> String {
    if judged.never_go(job) {
        return too_little(job, judged);
    }
    if judged.too_dear(job) {
        return format!(
            "it may cut up to {} deeper than planned, and after the plan the wheel may lose {} (`allowance`)",
            length(job, judged.deepest.as_mm()),
            length(job, judged.spare.as_mm().max(0.0))
        );
    }
    format!(
        "it may be off by up to {}, of which ± {} is what these places leave open where a touch repeats within {} (`repeats`); the shop's `limit` is {}",
        length(job, judged.may.as_mm()),
        length(job, judged.open.as_mm()),
        length(job, job.touching.repeats.as_mm()),
        length(job, job.touching.limit.as_mm())
    )
}

/// The answer to readings.
#[must_use]
pub fn answer(t: &Table<'_>, answer: &Answer<'_>) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = write_answer(&mut out, t, answer);
    out
}

fn write_answer(out: &mut String, t: &Table<'_>, answer: &Answer<'_>) -> std::fmt::Result {
    let (job, found) = (t.job, answer.found);
    let stands = |e: Estimate, [less, more]: [&str; 2]| {
        let side = if e.value < 0.0 { less } else { more };
        let (by, sure) = (length(job, e.value.abs()), length(job, SURE * e.error));
        format!("the tool stands {by} {side} than shown, ± {sure}")
    };
    match found.x {
        Some(x) => writeln!(out, "X        {}", stands(x, ["farther in", "farther out"]))?,
        None => writeln!(out, "X        cannot be told on this face, which has no slopes of both signs")?,
    }
    if let Some(other) = found.or_else {
        writeln!(out, "X        an error of {} would explain the readings as well", length(job, other))?;
    }
    writeln!(out, "Z        {}", stands(found.z, ["lower", "higher"]))?;
    let end = t.points.last().map_or(0.0, |p| p.contact);
    writeln!(
        out,
        "tilt     the highest place of radius {} lies {} {} than a wheel seated as surveyed has it, ± {}",
        radius(job, Length::mm(end)),
        length(job, (found.tilt.value * end).abs()),
        if found.tilt.value < 0.0 { "lower" } else { "higher" },
        length(job, SURE * found.tilt.error * end)
    )?;
    let off = found.off.iter().fold(0.0_f64, |a, o| a.max(o.abs()));
    match found.misfit {
        Some(misfit) => writeln!(
            out,
            "fit      the readings are off by {} at most, {misfit:.1} of their standard deviations",
            length(job, off)
        )?,
        None => writeln!(
            out,
            "fit      no reading is left to check the others by; touch one place more for that"
        )?,
    }
    let amount = |a: &Amount, what: &str| {
        let (most, sure) = (length(job, a.most.as_mm()), length(job, SURE * a.error.as_mm()));
        format!("{what} up to {most} at radius {}, ± {sure}", radius(job, a.at))
    };
    let Judged { takes, leaves, allowance_left, .. } = &answer.judged;
    let left = allowance_left.as_mm();
    let allowance = if left < 0.0 {
        format!("{} more than the wheel may lose", length(job, -left))
    } else {
        format!("{} of the allowance would be left", length(job, left))
    };
    if takes.most.as_mm() > 0.0 {
        writeln!(out, "cost     {}; {allowance}", amount(takes, "as it stands it takes too much, by"))?;
    }
    if leaves.most.as_mm() > 0.0 {
        writeln!(out, "stays    {}", amount(leaves, "as it stands it leaves metal and damage standing, by"))?;
    }
    if let Some([planned, stands]) = answer.contact {
        writeln!(
            out,
            "contact  the first pass would touch {:.0} % of the face instead of {:.0} %",
            100.0 * stands,
            100.0 * planned
        )?;
    }
    writeln!(out, "verdict  {}", verdict(answer.judged.decision))?;
    if !matches!(answer.judged.decision, Decision::Go) && found.fits() {
        writeln!(out, "decides  {}", decides(job, &answer.judged))?;
    }
    if matches!(answer.judged.decision, Decision::SetAnew) {
        let [shown, is] = &answer.correction;
        let x = if found.x_is_told() { format!("{} as the X and ", is.x) } else { String::new() };
        writeln!(
            out,
            "enter    with the tool at {} {}, where it touched last: {x}{} as the Z of this place, in {}",
            shown.x,
            shown.z,
            is.z,
            t.words.into.to_lowercase()
        )?;
    }
    if let Some(entered) = &answer.entered {
        writeln!(out, "ledger   {entered}")?;
    }
    Ok(())
}

/// A decision in words.
#[must_use]
pub const fn verdict(decision: Decision) -> &'static str {
    match decision {
        Decision::Go => "go: it cuts within the limit of what was planned",
        Decision::SetAnew => "set anew: enter the offsets, then touch again",
        Decision::SurveyAgain => {
            "survey again: the wheel is seated otherwise than when it was measured, and no offset mends that"
        }
        Decision::TouchAgain => {
            "touch again: the readings contradict each other or tell too little; clean nose and face, and take more places"
        }
    }
}

#[derive(Serialize)]
struct PlaceJson<'a> {
    x: &'a str,
    z: &'a str,
    at_mm: f64,
    z_mm: f64,
    contact_mm: f64,
    slope: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    read: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    off_mm: Option<f64>,
}

#[derive(Serialize)]
struct EstimateJson {
    value_mm: f64,
    standard_error_mm: f64,
}

#[derive(Serialize)]
#[expect(clippy::struct_field_names, reason = "in JSON the unit is in the field's name")]
struct AmountJson {
    most_mm: f64,
    standard_error_mm: f64,
    at_mm: f64,
}

#[derive(Serialize)]
struct AnswerJson<'a> {
    x: Option<EstimateJson>,
    z: EstimateJson,
    /// At the outermost place.
    tilt: EstimateJson,
    misfit: Option<f64>,
    x_or_else_mm: Option<f64>,
    takes: AmountJson,
    leaves: AmountJson,
    allowance_left_mm: f64,
    first_pass_contact: Option<[f64; 2]>,
    decision: &'static str,
    enter: Option<[&'a str; 2]>,
    into: &'a str,
    ledger: Option<&'a str>,
}

/// Table and answer as one JSON object.
#[derive(Serialize)]
pub struct TouchJson<'a> {
    tool: u32,
    tells: &'static str,
    places: Vec<PlaceJson<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    answer: Option<AnswerJson<'a>>,
}

/// Table and answer for another program.
#[must_use]
pub fn json<'a>(t: &Table<'a>, answer: Option<&'a Answer<'a>>) -> TouchJson<'a> {
    let read = |i: usize| answer.and_then(|a| a.readings.get(i).copied());
    let off = |i: usize| answer.and_then(|a| a.found.off.get(i).copied());
    let places = t.points.iter().zip(t.places).enumerate();
    TouchJson {
        tool: t.tool.number,
        tells: if t.foreseen.x.is_some() { "x, z, tilt" } else { "z, tilt" },
        places: places
            .map(|(i, (p, w))| PlaceJson {
                x: &w.x,
                z: &w.z,
                at_mm: p.at,
                z_mm: p.z,
                contact_mm: p.contact,
                slope: p.slope,
                read: read(i),
                off_mm: off(i),
            })
            .collect(),
        answer: answer.map(|a| answer_json(t, a)),
    }
}

fn answer_json<'a>(t: &Table<'a>, a: &'a Answer<'a>) -> AnswerJson<'a> {
    let estimate = |e: Estimate, times: f64| EstimateJson {
        value_mm: e.value * times,
        standard_error_mm: e.error * times,
    };
    let amount = |a: &Amount| AmountJson {
        most_mm: a.most.as_mm(),
        standard_error_mm: a.error.as_mm(),
        at_mm: a.at.as_mm(),
    };
    let end = t.points.last().map_or(0.0, |p| p.contact);
    AnswerJson {
        x: a.found.x.map(|x| estimate(x, 1.0)),
        z: estimate(a.found.z, 1.0),
        tilt: estimate(a.found.tilt, end),
        misfit: a.found.misfit,
        x_or_else_mm: a.found.or_else,
        takes: amount(&a.judged.takes),
        leaves: amount(&a.judged.leaves),
        allowance_left_mm: a.judged.allowance_left.as_mm(),
        first_pass_contact: a.contact,
        decision: match a.judged.decision {
            Decision::Go => "go",
            Decision::SetAnew => "set anew",
            Decision::SurveyAgain => "survey again",
            Decision::TouchAgain => "touch again",
        },
        enter: matches!(a.judged.decision, Decision::SetAnew)
            .then_some([a.correction[1].x.as_str(), a.correction[1].z.as_str()]),
        into: &t.words.into,
        ledger: a.entered.as_deref(),
    }
}
