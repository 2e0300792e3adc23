//! What lines measured again say, as text: for the survey's page, and for the account of a program.

use crate::survey::{Again, Survey};
use std::fmt::Write as _;

/// What was really taken, by radius, and the damage that is left, for the survey's page; nothing where nothing was measured again.
#[must_use]
pub fn page(survey: &Survey) -> String {
    let mut out = String::new();
    let Some(again) = &survey.again else { return out };
    // Writing to a string cannot fail.
    let _ = writeln!(
        out,
        "\nreally taken off the highest place, {:.3} mm told; where that place is, the lines leave open by {:.3} mm:",
        again.told_mm, again.turn_mm
    );
    for at in &again.at {
        let off = at.taken_mm - again.told_mm;
        let _ = writeln!(
            out,
            "  radius {:>6.1} mm: {:.3} mm, known within {:.3} mm, {:.3} mm {} than told",
            at.r_mm,
            at.taken_mm,
            at.uncertainty_mm,
            off.abs(),
            if off < 0.0 { "less" } else { "more" }
        );
    }
    let _ = writeln!(
        out,
        "\n{:.0} % of what the new lines cross in the zones was touched{}",
        again.touched_percent,
        if again.not_touched.is_empty() { "" } else { "; no metal is plainly gone on:" }
    );
    for line in not_touched_lines(again) {
        let _ = writeln!(out, "  {line}");
    }
    if !again.left.is_empty() {
        let _ = writeln!(out, "\ndamage left below what the tool left:");
    }
    for line in left_lines(again) {
        let _ = writeln!(out, "  {line}");
    }
    let seen = if again.uncut_mm > 0.0 {
        format!("{:.1} mm of line over metal that was not cut show it", again.uncut_mm)
    } else {
        "no line crosses metal that was not cut: that the sensor and the wheel stayed is only said".to_owned()
    };
    let _ = writeln!(out, "\nzero of the new lines: {:+.3} mm against the first; {seen}", again.zero_mm);
    out
}

/// One line for each damage that is left.
fn left_lines(again: &Again) -> Vec<String> {
    let line = |d: &crate::survey::DamageStill| {
        format!(
            "line at {:>3.0} deg, {:>6.1} mm to {:>6.1} mm: {:.3} mm deep at {:.1} mm, known within {:.3} mm",
            d.line_deg, d.from_mm, d.to_mm, d.depth_mm, d.deepest_at_mm, d.uncertainty_mm
        )
    };
    again.left.iter().map(line).collect()
}

/// One line for each place that was not touched.
fn not_touched_lines(again: &Again) -> Vec<String> {
    let line = |n: &crate::survey::NotTouched| {
        format!("line at {:>3.0} deg, {:>6.1} mm to {:>6.1} mm", n.line_deg, n.from_mm, n.to_mm)
    };
    again.not_touched.iter().map(line).collect()
}

/// The lines of the account; nothing where nothing was measured again.
#[must_use]
pub fn account(survey: &Survey) -> String {
    let mut out = String::new();
    let Some(again) = &survey.again else { return out };
    let _ = writeln!(
        out,
        "again    {:.3} mm really taken on the mean, known within {:.3} mm, where {:.3} mm were told: {}",
        again.taken_mm, again.uncertainty_mm, again.told_mm, again.looks_like
    );
    let radii: Vec<String> =
        again.at.iter().map(|a| format!("{:.3} mm at {:.0} mm", a.taken_mm, a.r_mm)).collect();
    let _ = writeln!(out, "again    taken at radius: {}", radii.join(", "));
    if !again.not_touched.is_empty() {
        let _ = writeln!(
            out,
            "again    {:.0} % of what the new lines cross in the zones was touched; no metal is plainly gone on: {}",
            again.touched_percent,
            not_touched_lines(again).join("; ")
        );
    }
    for line in left_lines(again) {
        let _ = writeln!(out, "again    damage left: {line}");
    }
    let _ = writeln!(
        out,
        "again    touch every tool off anew: the program goes on from what stands, {:.3} mm at least; most is gone at radius {:.0} mm, {:.3} mm",
        again.begins_mm, again.most_at_mm, again.most_mm
    );
    out
}
