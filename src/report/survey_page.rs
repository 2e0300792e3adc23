//! The survey as plain text: the verdict, then each topic with its numbers, limits and what to do.

use crate::diagnostics::text::visible;
use crate::survey::{Finding, Rank, Survey, Topic, Verdict};
use crate::units::{name_as_written, told_apart};
use std::fmt::Write as _;

/// Longest line of the page where its reader has no other: fits most terminals and a sheet of paper.
pub const WIDTH: usize = 96;

/// The survey as a page of plain text.
#[must_use]
pub fn page(survey: &Survey) -> String {
    page_within(survey, WIDTH)
}

/// Of the survey only the verdict, what stands against it and what must be looked at first, in lines of so many characters at most.
#[must_use]
pub fn brief(survey: &Survey, width: usize) -> String {
    let mut out = String::new();
    verdict(&mut out, survey, width);
    for f in survey.findings.iter().filter(|f| f.rank == Rank::Warning) {
        paragraph(&mut out, width, "  ", &format!("! {}: {} {}", f.rule.title(), f.what, f.remedy));
    }
    out
}

/// The survey as [`page`] has it, its paragraphs in lines of so many characters at most.
#[must_use]
pub fn page_within(survey: &Survey, width: usize) -> String {
    let mut out = String::new();
    verdict(&mut out, survey, width);
    if survey.verdict == Verdict::Cut {
        let warnings = survey.findings.iter().filter(|f| f.rank == Rank::Warning).count();
        let _ = match warnings {
            0 => writeln!(out, "  Nothing stands against it."),
            n => {
                writeln!(out, "  Nothing stands against it, but look first at what is marked ! below ({n}).")
            }
        };
    }
    let _ = writeln!(out, "\n{:<12} {:<18} {:>9} {:>9}", "", "", "number", "limit");
    for (topic, mut name) in TOPICS {
        for f in survey.findings.iter().filter(|f| f.rule.topic() == topic) {
            row(&mut out, width, name, f);
            name = "";
        }
    }
    let _ = writeln!(
        out,
        "\n! look before the cut   ? decide first   > mount truer and measure again   X not cut   . worth knowing"
    );
    out.push_str(&super::again::page(survey));
    dents(&mut out, survey);
    lines(&mut out, survey);
    out
}

/// The verdict and what stands against it.
fn verdict(out: &mut String, survey: &Survey, width: usize) {
    let verdict = survey.verdict.words().to_uppercase();
    let [job, wheel] = [&survey.job, &survey.wheel].map(|name| visible(&name_as_written(name)));
    let _ = if job == wheel {
        writeln!(out, "{verdict}: {job}")
    } else {
        writeln!(out, "{verdict}: {job}, {wheel}")
    };
    for f in survey.findings.iter().filter(|f| !f.rank.is_told()) {
        paragraph(out, width, "  ", &format!("{} {}", f.what, f.remedy));
    }
}

/// The topics of the survey in the order of the page, and their names on it.
const TOPICS: [(Topic, &str); 5] = [
    (Topic::Quality, "measurement"),
    (Topic::RunOut, "run-out"),
    (Topic::Damage, "damage"),
    (Topic::Depth, "depth"),
    (Topic::Allowance, "allowance"),
];

/// The mark of a rank, which does not depend on colour.
const fn mark(rank: Rank) -> char {
    match rank {
        Rank::Fine => ' ',
        Rank::Note => '.',
        Rank::Warning => '!',
        Rank::Decision => '?',
        Rank::Remount => '>',
        Rank::Stop => 'X',
    }
}

fn row(out: &mut String, width: usize, topic: &str, f: &Finding) {
    // A number beyond its limit must not look equal to it.
    let decimals = |v: f64| format!("{v:.3}");
    let [number, limit] = match (f.value_mm(), f.limit_mm()) {
        (Some(v), Some(l)) if !f.rank.is_told() => told_apart(v, l, 3).map(Some),
        (v, l) => [v.map(decimals), l.map(decimals)],
    };
    let shown = |v: Option<String>| v.map_or_else(String::new, |v| format!("{v} mm"));
    let lead =
        format!("{topic:<12}{}{:<18} {:>9} {:>9}", mark(f.rank), f.rule.title(), shown(number), shown(limit));
    let _ = writeln!(out, "{}", lead.trim_end());
    paragraph(out, width, "              ", &f.what);
    if !f.remedy.is_empty() {
        paragraph(out, width, "              ", &format!("To do: {}", f.remedy));
    }
}

/// The list of dents: how each was removed from the face.
fn dents(out: &mut String, survey: &Survey) {
    let traced: Vec<_> = survey.damage.iter().filter(|d| d.line_deg.is_some()).collect();
    if traced.is_empty() {
        return;
    }
    let _ = writeln!(out, "\nmended in the face, so that no dent is cut into the whole turn:");
    for d in traced {
        let by = d.mended_by.unwrap_or(crate::survey::MendedBy::OtherLines).words();
        let _ = writeln!(
            out,
            "  line at {:>3.0} deg, {:>6.1} mm to {:>6.1} mm ({:>4.1} mm long), {:.3} mm deep: by {by}",
            d.line_deg.unwrap_or(0.0),
            d.from_mm,
            d.to_mm,
            d.to_mm - d.from_mm,
            d.depth_mm
        );
    }
}

/// The list of measured lines.
fn lines(out: &mut String, survey: &Survey) {
    let _ = writeln!(out, "\nmeasured lines:");
    for l in &survey.lines {
        let aside = match l.summary_lines {
            0 => String::new(),
            1 => ", a line of a summary left aside".to_owned(),
            lines => format!(", {lines} lines of a summary left aside"),
        };
        let _ = writeln!(
            out,
            "  line at {:>3.0} deg, {:>6.1} mm to {:>6.1} mm: {} points {:.2} mm apart, {} missing, {} removed, noise {:.3} mm{aside}",
            l.at_deg, l.from_mm, l.to_mm, l.points, l.spacing_mm, l.missing, l.removed, l.noise_mm
        );
    }
}

/// A paragraph broken between words, every line indented.
fn paragraph(out: &mut String, width: usize, lead: &str, text: &str) {
    let mut line = String::new();
    let mut words = text.split_whitespace().map(visible).peekable();
    while let Some(mut word) = words.next() {
        // A number stays with its unit: torn apart, neither a reader nor the turn into inches knows what it counts.
        if is_number(&word)
            && let Some(unit) = words.next_if(|next| next.starts_with(|c: char| c.is_alphabetic()))
        {
            word.push(' ');
            word.push_str(&unit);
        }
        if !line.is_empty() && lead.len() + line.chars().count() + 1 + word.chars().count() > width {
            let _ = writeln!(out, "{lead}{line}");
            line.clear();
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(&word);
    }
    let _ = writeln!(out, "{lead}{line}");
}

/// Whether a word ends in a number, such as `0.31`, `(0.31` or `[0.31`.
fn is_number(word: &str) -> bool {
    word.trim_start_matches(['(', '[']).parse::<f64>().is_ok()
}
