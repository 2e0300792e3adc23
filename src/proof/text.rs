//! The report as text for a person: the verdict first, then the passes, then every finding.

use super::report::{Report, Verdict};
use super::sweep::{Interval, PassKind, SweptPass};
use crate::diagnostics::text::visible;
use crate::diagnostics::{Finding, Rank};
use crate::units::MM_PER_INCH;
use std::fmt;

/// Writes of the report only the verdict, the counts and what is no mere note.
pub(super) fn write_brief(report: &Report, f: &mut impl fmt::Write) -> fmt::Result {
    verdict(report, f)?;
    let must_be_seen = |finding: &&Finding| finding.rank > Rank::Note;
    report.findings().iter().filter(must_be_seen).try_for_each(|finding| {
        writeln!(f)?;
        one(finding, f)
    })
}

/// Writes the report: in millimetres, with the table of passes in inches in the alternate form.
pub(super) fn write(report: &Report, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    verdict(report, f)?;
    write!(f, "{}, {}", many(report.blocks, "block"), many(report.movements, "motion"))?;
    if let Some(seconds) = report.seconds.filter(|s| *s > 0.0) {
        write!(f, ", {:.0} min {:02.0} s", (seconds / 60.0).floor(), (seconds % 60.0).floor())?;
    }
    writeln!(f)?;
    passes(report, f)?;
    totals(report, f)?;
    for finding in report.findings() {
        writeln!(f)?;
        one(finding, f)?;
    }
    Ok(())
}

/// The verdict, and how many findings of each rank there are.
fn verdict(report: &Report, f: &mut impl fmt::Write) -> fmt::Result {
    let count = |rank: Rank| report.findings().iter().filter(|x| x.rank == rank).count();
    let verdict = match report.verdict {
        Verdict::Stop => "STOP: do not run this program",
        Verdict::Look => "LOOK: nothing stops it, but read the warnings",
        Verdict::Sound => "SOUND: nothing found that stops it",
    };
    writeln!(f, "{verdict}")?;
    let (stops, warnings, notes) = (count(Rank::Stop), count(Rank::Warning), count(Rank::Note));
    writeln!(f, "{}, {}, {}", many(stops, "stop"), many(warnings, "warning"), many(notes, "note"))
}

fn passes(report: &Report, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    if report.sweep.passes.is_empty() {
        return writeln!(f, "no pass at feed");
    }
    writeln!(f)?;
    let units = if f.alternate() {
        "takes in  lies in  rpm        ft/min     in/rev   ridges uin"
    } else {
        "takes mm  lies mm  rpm        m/min      mm/rev  ridges um"
    };
    writeln!(f, "pass  lines          does  tool  {units}")?;
    report.sweep.passes.iter().try_for_each(|p| pass(p, f))
}

fn pass(p: &SweptPass, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    let does = match p.kind {
        PassKind::Air => "air",
        PassKind::Cut => "cuts",
        PassKind::Rest => "rest",
        PassKind::Idle => "idle",
    };
    let lines = format!("{}-{}", p.from_line, p.to_line);
    let tool = p.tool.map_or("-".to_owned(), |t| t.to_string());
    let inches = f.alternate();
    let length = |mm: f64| if inches { format!("{:.4}", mm / MM_PER_INCH) } else { format!("{mm:.3}") };
    let per_turn = |mm: f64| if inches { format!("{:.5} ", mm / MM_PER_INCH) } else { format!("{mm:.3}") };
    let height =
        |um: f64| if inches { format!("{:.0}", um * 1000.0 / MM_PER_INCH) } else { format!("{um:.1}") };
    let feet = |m: f64| if inches { m * 1000.0 / (12.0 * MM_PER_INCH) } else { m };
    let takes = p.deepest.map_or("-".to_owned(), |d| length(d.depth));
    let lies = p.lies.map_or("-".to_owned(), length);
    let rpm = span(p.rates.spindle, 0);
    let per_minute = |Interval { least, most }| Interval { least: feet(least), most: feet(most) };
    let surface = span(p.rates.surface.map(per_minute), 0);
    let feed = p.rates.feed.map_or("-".to_owned(), |s| per_turn(s.most));
    let ridges = p.rates.ridges.map_or("-".to_owned(), height);
    writeln!(
        f,
        "{:<5} {lines:<14} {does:<5} {tool:<5} {takes:<9} {lies:<8} {rpm:<10} {surface:<10} {feed:<7} {ridges}",
        p.number
    )
}

fn span(span: Option<Interval>, decimals: usize) -> String {
    let Some(Interval { least, most }) = span else { return "-".to_owned() };
    let (a, b) = (format!("{least:.decimals$}"), format!("{most:.decimals$}"));
    if a == b { a } else { format!("{a}-{b}") }
}

fn totals(report: &Report, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    let s = &report.sweep;
    writeln!(f)?;
    if let Some(d) = s.deepest.filter(|d| d.depth > 0.0) {
        writeln!(
            f,
            "deepest below the face  {:.3} mm at radius {:.2} mm, line {}",
            d.depth, d.radius, d.line
        )?;
    }
    writeln!(f, "the job allows          {:.3} mm", s.allowed)?;
    if let Some(d) = s.first_contact {
        writeln!(f, "first meets metal       at radius {:.2} mm, line {}", d.radius, d.line)?;
    }
    if let Some(dry) = s.air_pass {
        writeln!(
            f,
            "air pass                {:.3} mm above the face at its nearest, radius {:.2} mm",
            dry.nearest, dry.at
        )?;
    }
    if let Some(rest) = s.rest.filter(|r| r.amount > 0.0) {
        writeln!(f, "metal not reached       {:.3} mm at radius {:.2} mm", rest.amount, rest.radius)?;
    }
    if let Some(finished) = s.finished {
        if let Some(wave) = finished.waviness_mm {
            writeln!(f, "waviness of the path    {:.1} um between 0.8 mm and 8 mm", wave * 1000.0)?;
        }
        if let Some(joint) = finished.greatest_joint {
            writeln!(
                f,
                "greatest joint          {:.2} deg at radius {:.2} mm, line {}",
                joint.turn_deg, joint.radius, joint.line
            )?;
        }
    }
    if let Some(damage) = s.damage_left.filter(|d| d.amount > 0.0) {
        writeln!(f, "damage that stays       {:.3} mm at radius {:.2} mm", damage.amount, damage.radius)?;
    }
    if let Some((last, others)) = report.begins_again.split_last() {
        let others: Vec<String> = others.iter().map(ToString::to_string).collect();
        let lines = if others.is_empty() {
            format!("line {last}")
        } else {
            format!("lines {} and {last}", others.join(", "))
        };
        writeln!(
            f,
            "may be begun again at   {lines}: it does there, after a reset, what it does as a whole"
        )?;
    }
    writeln!(f, "looked at               {} radii; between them at most {} mm can hide", s.radii, s.hidden)
}

fn one(finding: &Finding, f: &mut impl fmt::Write) -> fmt::Result {
    write!(f, "{} {}", finding.rank, finding.rule)?;
    if let Some(block) = finding.place.block() {
        write!(f, ", block N{block}")?;
    }
    if let Some(line) = finding.place.program_line() {
        write!(f, ", line {line}")?;
    }
    writeln!(f, ": {}", visible(&finding.what))?;
    writeln!(f, "  why:  {}", visible(finding.why()))?;
    writeln!(f, "  do:   {}", visible(&finding.remedy))
}

fn many(count: usize, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}
