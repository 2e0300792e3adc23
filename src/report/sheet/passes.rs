//! The passes as the proof found them, each with its name, time, spiral and texture.

use super::listing::{Listing, anchor};
use super::text::{Units, mm, name, number, plain, short};
use super::{Origin, Sheet};
use crate::gcode::PassName;
use crate::plan::corners::Evidence;
use crate::plan::texture;
use crate::proof::sweep::{Interval, PassKind as Swept, SweptPass};
use crate::units::{FeedPerRev, Length};
use maud::{Markup, html};

/// One pass with what the page adds to it.
pub(super) struct Pass<'a> {
    /// Its name.
    pub name: String,
    /// The program it belongs to, from 0.
    pub program: usize,
    /// Its result in the proof.
    pub swept: &'a SweptPass,
    /// Its motions among all steps.
    pub steps: std::ops::Range<usize>,
}

/// The passes of all programs.
pub(super) fn passes<'a>(sheet: &'a Sheet<'_>, listing: &Listing<'_>) -> Vec<Pass<'a>> {
    let mut rows_before = 0;
    let mut out: Vec<Pass<'a>> = Vec::new();
    for (index, (program, rows)) in sheet.programs.iter().zip(&listing.rows).enumerate() {
        let row_of = |line: usize| rows_before + rows.partition_point(|r| line_of(&r.anchor) < line);
        let swept = &program.report.sweep.passes;
        // A program that was changed since may have other passes than were written.
        let written = program.passes.len() == swept.len();
        for (i, swept) in swept.iter().enumerate() {
            let [from, to] = [swept.from_line, swept.to_line].map(row_of);
            let start = listing.steps.partition_point(|s| s.row < from);
            let end = listing.steps.partition_point(|s| s.row <= to);
            let written = program.passes.get(i).filter(|_| written);
            let name = written.map_or_else(|| plain_name(swept), written_name);
            out.push(Pass { name, program: index, swept, steps: start..end });
        }
        rows_before += rows.len();
    }
    out
}

fn line_of(anchor: &str) -> usize {
    anchor.rsplit('l').next().and_then(|n| n.parse().ok()).unwrap_or(0)
}

fn written_name(pass: &PassName) -> String {
    let name = || pass.kind.numbered(pass.number, pass.of);
    pass.ring.as_ref().map_or_else(name, |ring| format!("ring {}", plain(ring)))
}

fn plain_name(swept: &SweptPass) -> String {
    match swept.kind {
        Swept::Air => "air".to_owned(),
        Swept::Cut => "cut".to_owned(),
        Swept::Rest => "rest".to_owned(),
        Swept::Idle => "takes nothing".to_owned(),
    }
}

/// The table of the passes.
pub(super) fn table(sheet: &Sheet<'_>, passes: &[Pass<'_>]) -> Markup {
    let dash = || "–".to_owned();
    let Units { feed, surface, spiral, ridge, .. } = Units::of(sheet.job);
    let um = |r: f64| number(r * ridge.times, if ridge.times > 1.0 { 1 } else { 2 });
    let span = |s: Option<Interval>, times: f64, decimals: usize| {
        s.map_or_else(dash, |s| {
            let (a, b) = (number(s.least * times, decimals), number(s.most * times, decimals));
            if a == b { a } else { format!("{a} – {b}") }
        })
    };
    html! {
        div.wide tabindex="0" role="region" aria-label="Table of the passes" {
            table.passes {
                caption { "Every pass as the proof found it in the program; time and spiral are those at feed, leading in and out among them. Rz and Ra are those of the ideal scallop: the real face is rougher." }
                thead { tr {
                    th scope="col" { "Pass" } th scope="col" { "Tool" } th scope="col" { "Takes at most" } th scope="col" { "In all" }
                    th scope="col" { "Feed" br; (feed.unit) } th scope="col" { "Spindle" br; "rpm" } th scope="col" { "Surface" br; (surface.unit) }
                    th scope="col" { "Time" br; "min" } th scope="col" { "Spiral" br; (spiral.unit) } th scope="col" { "Rz" br; (ridge.unit) } th scope="col" { "Ra" br; (ridge.unit) }
                    th scope="col" { "Starts at" }
                } }
                tbody { @for (i, pass) in passes.iter().enumerate() {
                    @let swept = pass.swept;
                    @let cuts = matches!(swept.kind, Swept::Cut | Swept::Rest);
                    tr {
                        th scope="row" { (i + 1) " " (name(&pass.name)) }
                        td data-name="Tool" { (swept.tool.map_or_else(dash, |t| format!("T{t}"))) }
                        td data-name="Takes at most" { (swept.deepest.map_or_else(dash, |d| mm(d.depth))) }
                        td data-name="In all" { (swept.lies.map_or_else(dash, mm)) }
                        td data-name=(format!("Feed, {}", feed.unit)) { (swept.rates.feed.map_or_else(dash, |f| short(f.most * feed.times, 4 + feed.more))) }
                        td data-name="Spindle, rpm" { (span(swept.rates.spindle, 1.0, 0)) }
                        td data-name=(format!("Surface, {}", surface.unit)) { (span(swept.rates.surface, surface.times, 0)) }
                        td data-name="Time, min" { (swept.seconds.map_or_else(dash, |s| number(s / 60.0, 1))) }
                        td data-name=(format!("Spiral, {}", spiral.unit)) { (number(swept.spiral_mm / 1000.0 * spiral.times, 0)) }
                        td data-name=(format!("Rz, {}", ridge.unit)) { (swept.rates.ridges.filter(|_| cuts).map_or_else(dash, um)) }
                        td data-name=(format!("Ra, {}", ridge.unit)) { (ra(sheet, swept).filter(|_| cuts).map_or_else(dash, um)) }
                        td data-name="Starts at" { a.place href=(format!("#{}", anchor(pass.program, swept.from_line))) { "line " (swept.from_line) } }
                    }
                } }
            }
        }
    }
}

/// The visible result of the last pass apart from its texture, as proved and as planned.
pub(super) fn finished(sheet: &Sheet<'_>) -> Markup {
    let proved = sheet.programs.iter().rev().find_map(|p| p.report.sweep.finished);
    let planned = sheet.plan.as_ref().ok().filter(|_| sheet.origin == Origin::Written).map(|p| &p.finished);
    let ridge = Units::of(sheet.job).ridge;
    // As the account writes it: hundredths of a micrometre, or whole millionths of an inch and tenths of a few.
    let um = |mm: f64| {
        let value = mm * 1000.0 * ridge.times;
        let inch = usize::from(value < 10.0);
        format!("{} {}", number(value, if ridge.times > 1.0 { inch } else { 2 }), ridge.unit)
    };
    html! {
        @if let Some(found) = proved {
            h3 { "The finished face" }
            dl.facts {
                @if let Some(wave) = found.waviness_mm { div { dt { "Waviness of the path as proved, 0.8 to 8 mm" } dd { (um(wave)) } } }
                @if let Some(face) = planned {
                    div { dt { "Waviness expected in all" } dd {
                        (um(face.waviness.expected().as_mm())) ": " (um(face.waviness.path.as_mm())) " from the path, "
                        @match face.waviness.face {
                            Some(face) => { (um(face.as_mm())) " from the readings" }
                            None => "what the readings add is not known",
                        }
                    } }
                }
                @if let Some(limit) = sheet.job.schedule.waviness { div { dt { "Waviness allowed" } dd { (um(limit.as_mm())) } } }
                @if let Some(joint) = found.greatest_joint {
                    div { dt { "Greatest angle between motions" } dd { (number(joint.turn_deg, 2)) "° at radius " (number(joint.radius, 1)) " mm, line " (joint.line) } }
                }
                @if let Some(face) = planned.filter(|face| !face.corners.is_empty()) {
                    div { dt { "Corners of the face, kept" } dd {
                        @for (i, c) in face.corners.iter().enumerate() {
                            @if i > 0 { "; " } (number(c.turn.as_deg().abs(), 1)) "°"
                            @if let Evidence::Readings(error) = c.evidence { " ± " (number(error.as_deg(), 1)) "°" }
                            " at radius " (number(c.at.as_mm(), 1)) " mm"
                            @if c.evidence == Evidence::ZoneEnd { ", where the zone ends" }
                        }
                    } }
                }
                @if let Some(face) = planned {
                    div { dt { "The last pass begins and ends at radius" } dd {
                        @for (i, [from, to]) in face.zones.iter().enumerate() {
                            @if i > 0 { "; " } (mm(from.as_mm())) " and " (mm(to.as_mm()))
                        }
                    } }
                    @if let [_, changes @ ..] = face.speeds.as_slice() { @if !changes.is_empty() {
                        div { dt { "Its speed changes at radius" } dd {
                            @for (i, s) in changes.iter().enumerate() { @if i > 0 { ", " } (number(s.from.as_mm(), 1)) }
                            " mm"
                        } }
                    } }
                }
            }
        }
    }
}

/// Ra of the ideal scallop of a pass, micrometres.
fn ra(sheet: &Sheet<'_>, swept: &SweptPass) -> Option<f64> {
    let tool = sheet.job.tools.iter().find(|t| Some(t.number) == swept.tool)?;
    let feed = FeedPerRev::mm_per_rev(swept.rates.feed?.most);
    Some(Length::as_mm(texture::mean_roughness(feed, tool.nose_radius)) * 1000.0)
}
