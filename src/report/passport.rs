//! What the ledger holds of a wheel and of a tool's edges, and what a comparison of two faces says, as a person reads it.

use crate::diagnostics::text::visible;
use crate::ledger::{
    Comparison, Cut, EdgeUse, KeptProgram, KeptSurvey, KeptTouch, MeasuredAgain, Run, Stamp, WheelHistory,
};
use crate::units::{Length, name_as_written};
use std::fmt::{Result, Write};

/// Characters of a program's hash that are shown: enough to tell the programs of one wheel apart.
const SHORT_HASH: usize = 8;

/// The last figure of a depth that is shown, millimetres.
const SHOWN_MM: f64 = 0.001;

/// The numbers of wheels, one a line.
#[must_use]
pub fn wheels(numbers: &[String]) -> String {
    let mut text = String::new();
    for number in numbers {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{}", visible(number));
    }
    text
}

/// The history of a wheel.
#[must_use]
pub fn wheel(history: &WheelHistory) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = write_wheel(&mut text, history);
    text
}

fn write_wheel(out: &mut String, history: &WheelHistory) -> Result {
    writeln!(out, "wheel    {}, {}", shown(&history.number), shown(&history.name))?;
    let counted = history.cuts.iter().filter(|c| c.corrected_by.is_none());
    let sum = |of: &dyn Fn(&Cut) -> bool| {
        Length::mm(counted.clone().filter(|c| of(c)).map(|c| c.taken.as_mm()).sum())
    };
    let stated = sum(&|c: &Cut| c.run.is_none() && c.again.is_none());
    let confirmed = sum(&|c: &Cut| c.run.is_some());
    let beyond = sum(&|c: &Cut| c.again.is_some());
    write!(out, "taken    {:.3}: {stated:.3} as stated in jobs, {confirmed:.3} confirmed", history.taken)?;
    if beyond.as_mm() > 0.0 {
        write!(out, ", {beyond:.3} more as measured again")?;
    }
    writeln!(out)?;
    if let Some(survey) = history.surveys.last() {
        let left = Length::mm(survey.limit.as_mm() - history.taken.as_mm());
        writeln!(out, "left     {left:.3} of the {:.3} that the last job allows", survey.limit)?;
    }
    for survey in &history.surveys {
        writeln!(out)?;
        write_survey(out, survey)?;
        let on_it = |cut: &&Cut| {
            cut.run.as_ref().is_some_and(|run| survey.programs.iter().any(|p| p.entry == run.program))
                || cut.again.as_ref().is_some_and(|again| again.survey == survey.entry)
        };
        for cut in history.cuts.iter().filter(on_it) {
            writeln!(out, "  {}", self::cut(cut))?;
        }
    }
    let mut stated = history.cuts.iter().filter(|c| c.run.is_none() && c.again.is_none()).peekable();
    if stated.peek().is_some() {
        writeln!(out)?;
    }
    stated.try_for_each(|cut| writeln!(out, "{}", self::cut(cut)))
}

fn write_survey(out: &mut String, survey: &KeptSurvey) -> Result {
    writeln!(
        out,
        "survey   entry {}, {}: {}; clean-up {:.3}, {}",
        survey.entry,
        when(&survey.stamp),
        shown(&survey.job),
        survey.clean_up,
        visible(&survey.verdict)
    )?;
    for touch in &survey.touches {
        writeln!(out, "  {}", self::touch(touch))?;
    }
    survey.programs.iter().try_for_each(|p| writeln!(out, "  {}", program(p)))
}

fn program(program: &KeptProgram) -> String {
    let [part, of] = program.part;
    let [from, to] = program.depth;
    let part = if of > 1 { format!(", part {part} of {of}") } else { String::new() };
    let passes = counted(program.passes, "pass", "passes");
    format!(
        "program {}, entry {}{part}: {passes} from {from:.3} to {to:.3}, proof {}",
        short(&program.hash),
        program.entry,
        visible(&program.verdict)
    )
}

fn touch(KeptTouch { stamp, touch }: &KeptTouch) -> String {
    let axis =
        |name: &str, [error, within]: [Length; 2]| format!("{name} off by {error:.3} within {within:.3}");
    let x = touch.error_x.map_or_else(String::new, |x| axis(", X", x));
    let note = note(&touch.note);
    let z = axis("Z", touch.error_z);
    format!("touch check of {}, {}: {z}{x}{note}", visible(&touch.tool), when(stamp))
}

/// One cut in a line.
#[must_use]
pub fn cut(cut: &Cut) -> String {
    let what = match (&cut.run, &cut.again) {
        (Some(run), _) => self::run(run),
        (None, Some(again)) => measured_again(again),
        (None, None) => "taken before, or elsewhere".to_owned(),
    };
    let how = how(cut);
    let corrects = cut.corrects.map_or_else(String::new, |old| format!(", corrects entry {old}"));
    let corrected =
        cut.corrected_by.map_or_else(String::new, |new| format!("; counts no more, see entry {new}"));
    let note = note(&cut.note);
    format!(
        "cut      entry {}, {}{corrects}: {what}, {:.3} taken{how}{note}{corrected}",
        cut.entry,
        when(&cut.stamp),
        cut.taken
    )
}

/// How what was taken is known; where it was measured and planned, by how much both differ.
fn how(cut: &Cut) -> String {
    let gauge = cut.gauge.map(|gauge| {
        let within = gauge.within.map_or_else(String::new, |within| format!(" within {within:.3}"));
        format!(" as a gauge shows, {:.3} deep{within}", gauge.depth)
    });
    let Some(run) = &cut.run else {
        let by = if cut.measured { " as measured" } else { " as stated" };
        return if cut.again.is_some() && !cut.measured { " beyond".to_owned() } else { by.to_owned() };
    };
    if !cut.measured {
        return " as planned".to_owned();
    }
    let known = gauge.unwrap_or_else(|| " as measured".to_owned());
    known + &difference(cut.taken, run.planned, "planned")
}

/// By how much a measured depth differs from another; nothing where no figure that is shown would.
fn difference(measured: Length, other: Length, named: &str) -> String {
    let off = measured.as_mm() - other.as_mm();
    if off.abs() < SHOWN_MM / 2.0 {
        return String::new();
    }
    let way = if off > 0.0 { "more" } else { "less" };
    format!(", {:.3} {way} than {named}", Length::mm(off.abs()))
}

fn measured_again(again: &MeasuredAgain) -> String {
    format!(
        "measured again in entry {}, {:.3} gone within {:.3} where {:.3} were entered{}",
        again.survey,
        again.most,
        again.uncertainty,
        again.entered,
        difference(again.most, again.entered, "entered")
    )
}

/// A name or a note as its author wrote it, also where the text goes to a shop of inches.
fn shown(text: &str) -> String {
    name_as_written(&visible(text))
}

fn run(run: &Run) -> String {
    let passes = match run.passes {
        0 => "no pass".to_owned(),
        1 => format!("pass {}", run.first),
        n => format!("passes {} to {}", run.first, run.first.saturating_add(n).saturating_sub(1)),
    };
    format!("{passes} of program {}, {:.3} planned", short(&run.hash), run.planned)
}

fn note(text: &str) -> String {
    if text.is_empty() { String::new() } else { format!(" ({})", shown(text)) }
}

fn when(stamp: &Stamp) -> String {
    let by = if stamp.by.is_empty() { String::new() } else { format!(" by {}", visible(&stamp.by)) };
    format!("{}{by}", stamp.at.day())
}

fn short(hash: &str) -> &str {
    hash.get(..SHORT_HASH).unwrap_or(hash)
}

fn counted(count: u32, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// What the edges of a tool have done.
#[must_use]
pub fn edges(tool: &str, edges: &[EdgeUse]) -> String {
    let mut text = format!("tool     {}\n", visible(tool));
    for edge in edges {
        let [day, by] = &edge.since;
        let since = match edge.entry {
            Some(entry) => format!("entry {entry}, put in {day} by {}{}", visible(by), note(&edge.note)),
            None => "in the tool before any was entered".to_owned(),
        };
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "edge     {since}: {} on {}, spiral of {:.0} m, {:.1} cm3 of chips",
            counted(edge.passes, "pass", "passes"),
            counted(edge.wheels, "wheel", "wheels"),
            edge.spiral.as_mm() / 1000.0,
            edge.chips / 1000.0
        );
    }
    text
}

/// What two faces say of each other.
#[must_use]
pub fn comparison(entry: i64, said: &Comparison) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = write_comparison(&mut text, entry, said);
    text
}

fn write_comparison(out: &mut String, entry: i64, said: &Comparison) -> Result {
    let model = if said.same_model { "the same model" } else { "another model" };
    let [from, to] = said.common_mm;
    let [x, z] = said.moved_mm;
    writeln!(out, "face     {model} as entry {entry}: {:.0} % of the radii agree", 100.0 * said.agree)?;
    writeln!(out, "radii    {from:.1} mm to {to:.1} mm shown by both")?;
    writeln!(out, "moved    {x:.3} mm in X and {z:.3} mm in Z to lie on it")?;
    if !said.same_model {
        return Ok(());
    }
    for m in &said.missing {
        writeln!(
            out,
            "missing  up to {:.3} mm from {:.1} mm to {:.1} mm, the most at {:.1} mm",
            m.depth_mm, m.from_mm, m.to_mm, m.deepest_at_mm
        )?;
    }
    if said.missing.is_empty() {
        writeln!(out, "missing  nothing beyond {:.3} mm", said.uncertainty_mm)?;
    }
    Ok(())
}
