//! The first screen: which program, how fast at most, where each tool touches, how long, and the boxes to tick.
//!
//! Somebody stands at the lathe with a phone in the hand and two minutes. So what is set and looked at before the start comes in few
//! words at the top; how and why stand below.

use super::status::{Status, status};
use super::text::{minutes, name, short};
use super::{Origin, Sheet, THE_PROGRAM, summary};
use crate::job::XWords;
use maud::{Markup, html};

/// Program, limit, time, touch-off and boxes; only the programs where nothing may be cut.
pub(super) fn glance(sheet: &Sheet<'_>) -> Markup {
    let (job, control) = (sheet.job, &sheet.job.control);
    let seconds: Option<f64> = sheet.programs.iter().map(|p| p.report.seconds).sum();
    let seconds = seconds.filter(|_| !sheet.programs.is_empty());
    let tool = |number| job.tools.iter().find(|t| t.number == number).map(|t| name(&t.name));
    html! {
        dl.glance {
            @for program in &sheet.programs {
                @let (sum, _) = summary::checksum(program);
                div {
                    dt { "Program" @if program.name != THE_PROGRAM { " " (name(&program.name)) } }
                    dd { code { (sum.to_string()) } }
                }
            }
            div { dt { "Spindle at most" } dd { (short(job.speed_limit().as_rpm(), 0)) " rpm" } }
            @if let Some(s) = seconds { div { dt { "Time without stops" } dd { (minutes(s)) } } }
            @for words in &sheet.touch_offs {
                div {
                    dt { "T" (words.tool) @if let Some(called) = tool(words.tool) { " " (called) } " touches" }
                    dd { code { (words.x) " " (words.z) } }
                }
            }
            @if !sheet.touch_offs.is_empty() {
                div {
                    dt { "Words in" }
                    dd {
                        @if control.unit_word.is_inch() { "inches" } @else { "millimetres" } ", X "
                        (match control.x_words { XWords::Diameter => "diameters", XWords::Radius => "radii" })
                    }
                }
            }
        }
        @if status(sheet) != Status::Stop { (summary::ticks(sheet)) }
        @if sheet.origin == Origin::Given && !sheet.touch_offs.is_empty() {
            p.look { strong.rank { "Warning" } " Where tools touch is told of the plan: the head of the given program comes first." }
        }
    }
}
