//! The page from top to bottom.

use super::charts::Breadth;
use super::listing::Listing;
use super::passes::{Pass, finished, passes, table};
use super::status::{Status, status};
use super::text::{name, plain, read_in_inches};
use super::{Sheet, charts, contact, document, metal_removed, stepper, summary};
use crate::survey::Survey;
use maud::{Markup, PreEscaped, html};

/// The sheet as one self-contained HTML file.
#[must_use]
pub fn page(sheet: &Sheet<'_>) -> String {
    let listing = Listing::new(sheet);
    let passes = passes(sheet, &listing);
    let body = html! {
        header {
            p.kind { "Sheet to review before the cut" }
            h1 { (name(&sheet.job.title)) }
            @if sheet.job.wheel.name != sheet.job.title { p.wheel { (name(&sheet.job.wheel.name)) } }
        }
        main {
            (summary::verdict(sheet))
            // Two minutes by the lathe: what to set first, unless nothing may be cut and the reason comes first.
            @if status(sheet) == Status::Stop { (summary::findings(sheet)) (summary::set_up(sheet)) }
            @else { (summary::set_up(sheet)) (summary::findings(sheet)) }
            (summary::cautions(sheet))
            section aria-labelledby="metal" {
                h2 #metal { "Metal" }
                (summary::metal(sheet))
                @if let Ok(survey) = &sheet.survey { (pictures(sheet, survey, &passes, &listing)) }
            }
            @if !passes.is_empty() {
                section aria-labelledby="passes" { h2 #passes { "Passes" } (table(sheet, &passes)) (contact::contact(sheet)) (finished(sheet)) }
            }
            @if let (Ok(survey), false) = (&sheet.survey, sheet.programs.is_empty()) {
                (stepper::section(sheet, survey, &passes, &listing))
            }
            (summary::signing(sheet))
        }
    };
    // The head's title is a name and nothing else.
    let body = if sheet.job.control.unit_word.is_inch() {
        PreEscaped(read_in_inches(&body.into_string()))
    } else {
        body
    };
    document::document(&format!("Sheet: {}", plain(&sheet.job.title)), &body)
}

fn pictures(sheet: &Sheet<'_>, survey: &Survey, passes: &[Pass<'_>], listing: &Listing<'_>) -> Markup {
    let any = metal_removed::count(passes) > 0;
    html! {
        (figure("The face as measured, mended, and as it will be", "The mended face is the highest place of the whole turn: what the tool meets first.", |b| charts::face(sheet, survey, b)))
        (figure(
            if any { "Metal removed against the radius, one band for each pass" } else { "Clean-up depth against the radius" },
            "Depth has a scale of its own and grows downward, as the tool goes. Where the bands reach below the clean-up depth, the damage goes.",
            |b| metal_removed::bands(sheet, survey, passes, b),
        ))
        @if !passes.is_empty() {
            (figure("Spindle speed, surface speed and feed against the radius", "Passes that run alike share a line.", |b| charts::speeds(sheet, survey, passes, listing, b)))
        }
    }
}

fn figure(title: &str, note: &str, picture: impl Fn(Breadth) -> String) -> Markup {
    html! {
        figure {
            figcaption { strong { (title) } ". " (note) }
            (charts::both(title, picture))
        }
    }
}
