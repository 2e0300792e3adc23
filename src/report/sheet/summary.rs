//! The text sections: verdict, findings, set-up with touch-off, cautions, metal, check boxes and signature.

use super::glance::glance;
use super::listing::anchor;
use super::status::{Status, status};
use super::text::{many, mm, name, number, plain, short};
use super::{Origin, Program, Sheet};
use crate::diagnostics::checksum::Checksum;
use crate::diagnostics::{Finding, Rank, Rule, SurveyRule};
use crate::gcode::TouchOffWords;
use crate::job::{Comments, ProgrammedPoint, Tool, Tyre, UnitWord};
use crate::survey::{Survey, Verdict};
use crate::units::{as_it_is, positions_in_inches};
use maud::{Markup, html};

/// The cautions, the same for every wheel.
const CAUTIONS: &[&str] = &[
    "Eye protection on. Door closed whenever the spindle turns. No gloves, sleeves or rags near it.",
    "Check jaws, wheel seat and balance. Turn the wheel by hand once, all the way round.",
    "Never cut a cracked, bent or welded wheel.",
    "Watch the air pass before any cut, a hand at the stop.",
    "The wheel maker's rules, local rules and licensed practice come first; some makers forbid any re-machining.",
];

/// What the head of a program says besides, where the control reads no comments.
const CAUTIONS_OF_THE_HEAD: &[&str] = &[
    "This control reads no comments: nothing in the program says whose wheel it is for. Keep it with this sheet.",
    "Start with the tool at the park, clear of everything. The first move is Z to the park, then X.",
    "To begin again at a later pass first call its tool at the park, then start at the G18 block of the pass.",
    "After a stop do not go on unless the tool stands where the program left it.",
];

/// One thing that the technician ticks before the cut.
#[derive(Debug, Clone, Copy)]
enum Tick {
    /// On every sheet.
    Always(&'static str),
    /// Where there are warnings.
    Warnings,
    /// Which program is on the control.
    Program,
}

/// What the technician ticks before the cut.
const TICKS: &[Tick] = &[
    Tick::Always("Wheel and its name agree with this sheet"),
    Tick::Always("No crack, bend or weld, front and back"),
    Tick::Always("Jaws tight, seated, turned by hand once"),
    Tick::Always("Balance and speed limit agree"),
    Tick::Always("Tools and their numbers agree"),
    Tick::Always("Each tool touched off as written here"),
    Tick::Warnings,
    Tick::Program,
    Tick::Always("Air pass watched from start to end"),
];

/// The tick of the warnings.
const WARNINGS_DEALT_WITH: &str = "Every warning below dealt with";

/// The tick of the program where its own head says which it is.
const BY_ITS_HEAD: &str = "Checksum in its head is the one above";

/// The tick of the program where nothing in it says so: the control reads no comments, the program is from elsewhere, or it was changed.
const BY_ITS_SIZE: &str = "Program on the control is the one listed here: its head does not carry this checksum, so its name, its size and its last block were compared";

/// The checksum of a program as it stands, and whether its head carries it.
pub(super) fn checksum(program: &Program) -> (Checksum, bool) {
    let read = &program.simulation.program;
    let now = Checksum::of(read.text());
    let written = read.blocks.iter().flat_map(|b| &b.comments).find_map(|c| Checksum::read(c));
    (now, written == Some(now))
}

/// The words of a tick; none where there is nothing to tick.
fn tick_words(tick: Tick, sheet: &Sheet<'_>) -> Option<&'static str> {
    match tick {
        Tick::Always(words) => Some(words),
        Tick::Warnings => (status(sheet) != Status::Ready).then_some(WARNINGS_DEALT_WITH),
        Tick::Program if sheet.programs.iter().all(|p| checksum(p).1) => Some(BY_ITS_HEAD),
        Tick::Program => Some(BY_ITS_SIZE),
    }
}

/// The verdict with its reasons.
pub(super) fn verdict(sheet: &Sheet<'_>) -> Markup {
    let (class, sign, words) = match status(sheet) {
        Status::Ready => ("ready", "✓", "Ready"),
        Status::Look => ("look", "!", "Look first"),
        Status::Stop => ("stop", "✕", "Do not cut"),
    };
    html! {
        section.verdict.(class) aria-labelledby="verdict" {
            h2 #verdict { span.sign aria-hidden="true" { (sign) } " " (words) }
            ul.reasons {
                @match &sheet.survey {
                    Ok(s) => li { "Survey: " strong { (survey_words(s.verdict)) } }
                    Err(why) => li { "Survey: " strong { "no face to cut" } ". " (plain(why)) }
                }
                // The reasons of the survey are among the findings.
                @if let (Err(why), Ok(Survey { verdict: Verdict::Cut, .. })) = (&sheet.plan, &sheet.survey) {
                    li.prose { "Plan: " strong { "none" } ". " (plain_lines(why)) }
                }
                @for program in &sheet.programs {
                    @let of = |rank| program.report.findings().iter().filter(|f| f.rank == rank).count();
                    li {
                        "Proof of " (name(&program.name)) ": "
                        strong { (match of(Rank::Stop) { 0 => "nothing stops it".to_owned(), n => many(n, "stop") }) }
                        ", " (many(of(Rank::Warning), "warning")) ", " (many(of(Rank::Note), "note"))
                        @if !checksum(program).1 { ". Its head does not carry its checksum" }
                    }
                }
                @if sheet.programs.is_empty() { li { "There is no program." } }
                @if sheet.origin == Origin::Given { li { "The program was given as a file: it is shown and proved as it stands there." } }
            }
            (glance(sheet))
        }
    }
}

const fn survey_words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Cut => "the wheel can be cut as it is mounted",
        Verdict::DecideFirst => "settle first what the job must decide",
        Verdict::MeasureAgain => "measure the wheel again",
        Verdict::CutAfterRemounting => "mount the wheel truer and measure again",
        Verdict::DoNotCut => "do not cut this wheel",
    }
}

/// Lines of a message as one line of text.
fn plain_lines(text: &str) -> String {
    let mut out = String::new();
    for line in text.lines() {
        if !out.is_empty() {
            out.push_str(if out.ends_with(['.', ':']) { " " } else { ". " });
        }
        out.push_str(&plain(line.trim()));
    }
    out
}

/// What the survey says of the passes of a schedule.
const PASSES: [Rule; 3] = [
    Rule::Survey(SurveyRule::Passes),
    Rule::Survey(SurveyRule::PassesTooFew),
    Rule::Survey(SurveyRule::OnePassEarly),
];

/// All findings of survey, plan and proof, the most serious first.
pub(super) fn findings(sheet: &Sheet<'_>) -> Markup {
    let survey = sheet.survey.as_ref().map(|s| s.findings.as_slice()).unwrap_or_default();
    // How deep the passes of a plan go, and what they leave, it says itself; the survey knows nothing of what earlier programs took off.
    let planned = |f: &&Finding| sheet.plan.is_ok() && PASSES.contains(&f.rule);
    let survey: Vec<&Finding> = survey.iter().filter(|f| !planned(f)).collect();
    let mut heavy: Vec<_> = survey.iter().filter(|f| f.rank >= Rank::Note).collect();
    heavy.sort_by_key(|f| std::cmp::Reverse(f.rank));
    let fine = survey.len() - heavy.len();
    html! {
        section aria-labelledby="findings" {
            h2 #findings { "Findings" }
            ul.findings {
                @for f in heavy {
                    @let (class, word) = rank_shown(f.rank);
                    li.(class) {
                        p { strong.rank { (word) } " survey, " (f.rule.title()) ": " (plain(&f.what)) }
                        @if !f.remedy.is_empty() { p.do { "Do: " (plain(&f.remedy)) } }
                    }
                }
                // The survey's warnings stand in the plan too, for whoever reads the program alone.
                @if let Ok(plan) = &sheet.plan { @for f in plan.findings.iter().filter(|f| !survey.contains(f)) {
                    @let (class, word) = rank_shown(f.rank);
                    li.(class) { p { strong.rank { (word) } " plan: " (plain(&f.what)) } }
                } }
                @for (index, program) in sheet.programs.iter().enumerate() { @for f in program.report.findings() {
                    @let (class, word) = rank_shown(f.rank);
                    li.(class) {
                        p {
                            strong.rank { (word) } " proof"
                            @if let Some(line) = f.place.program_line() { ", " a.place href=(format!("#{}", anchor(index, line))) { "line " (line) } }
                            ": " (plain(&f.what))
                        }
                        p { "Why: " (plain(f.why())) }
                        p.do { "Do: " (plain(&f.remedy)) }
                    }
                } }
                @if fine > 0 { li.fine { p { strong.rank { "Fine" } " survey: " (many(fine, "check")) " passed." } } }
            }
        }
    }
}

/// Class and word of a rank.
const fn rank_shown(rank: Rank) -> (&'static str, &'static str) {
    match rank {
        Rank::Stop => ("stop", "Stop"),
        Rank::Remount => ("stop", "Remount"),
        Rank::Decision => ("stop", "Decision"),
        Rank::Warning => ("look", "Warning"),
        Rank::Note => ("note", "Note"),
        Rank::Fine => ("fine", "Fine"),
    }
}

/// Wheel, tools, control and touch-off.
pub(super) fn set_up(sheet: &Sheet<'_>) -> Markup {
    let (job, wheel, control) = (sheet.job, &sheet.job.wheel, &sheet.job.control);
    let mut said = wheel.said_beside(&job.title).peekable();
    let [x, z] = [job.machine.park_x, job.machine.park_z].map(|at| short(at.as_mm(), 3));
    let park = format!("radius {x} mm, height {z} mm");
    let park = if control.unit_word.is_inch() { positions_in_inches(&park) } else { park };
    html! {
        section aria-labelledby="set-up" {
            h2 #set-up { "Set-up" }
            dl.facts {
                @if said.peek().is_some() {
                    div { dt { "Wheel" } dd { @for (i, part) in said.enumerate() { @if i > 0 { ", " } (name(part)) } } }
                }
                div { dt { "Tyre" } dd { (match wheel.tyre { Tyre::Mounted => "on the wheel", Tyre::Removed => "off the wheel" }) } }
                div { dt { "Park" } dd { (park) } }
            }
            @if !sheet.touch_offs.is_empty() { (touch_off(sheet)) }
        }
    }
}

fn touch_off(sheet: &Sheet<'_>) -> Markup {
    let tool = |n: u32| sheet.job.tools.iter().find(|t| t.number == n);
    let setter = sheet.job.touching.setter.is_some();
    html! {
        h3 { "Touch-off" }
        ol.touch { @for (i, words) in sheet.touch_offs.iter().enumerate() {
            li {
                p { strong { "Tool T" (words.tool) } @if let Some(t) = tool(words.tool) { ", " (tool_text(t, sheet.job.control.unit_word)) } }
                p.numbers {
                    span { span.label { "Stand at" } " " b { (words.x) } }
                    span { span.label { "Enter where it touches" } " " b { (words.z) } }
                }
                p {
                    @if i == 0 { "Before the start." } @else { "At its stop in the program, on what the tools before it have left." }
                    " Spindle standing. "
                    @if setter { "Over the tool setter: " } @else { "Turn the wheel by hand to its highest place there, " }
                    (words.how.to_lowercase()) ", enter the Z in " (words.into.to_lowercase()) ", back to the park."
                }
                @if !words.check.is_empty() { (touch_check(words)) }
            }
        } }
        @if sheet.origin == Origin::Given {
            p.look { strong.rank { "Warning" } " These numbers are those of the plan. Use them only if the given program was made for them; its own header comes first." }
        }
    }
}

/// Where the tool may be touched to see whether it was set right, with room for what it shows.
fn touch_check(words: &TouchOffWords) -> Markup {
    html! {
        table {
            caption {
                "To check " (if words.tells_x { "X and Z" } else { "Z" }) ": at the highest place of the turn it must touch so. "
                "Write down what it shows; facewright touch says what that means."
                @if let Some(leaves) = words.leaves {
                    " These places leave " (mm(leaves.as_mm())) " open, more than the shop's limit: no reading of them lets the tool go on."
                }
            }
            thead { tr { th scope="col" { "Stand at" } th scope="col" { "Must touch at" } th scope="col" { "Touched at" } } }
            tbody { @for place in &words.check {
                tr { th scope="row" { (place.x) } td { (place.z) } td { "" } }
            } }
        }
    }
}

/// As many places of a degree as a file may have given an edge, as in the head of the program.
const EDGE_PLACES: usize = 6;

fn tool_text(tool: &Tool, unit: UnitWord) -> Markup {
    let point = match tool.point {
        ProgrammedPoint::Front => "X of the nose centre and lowest Z of the nose",
        ProgrammedPoint::Centre => "the nose centre",
        ProgrammedPoint::Inner => "the sharp corner toward the axis",
        ProgrammedPoint::Outer => "the sharp corner toward the rim",
    };
    html! {
        (name(&tool.name)) ": nose radius " (as_it_is(tool.nose_radius, unit.is_inch())) ", edges " (short(tool.inner_edge.as_deg(), EDGE_PLACES))
        "° inner and " (short(tool.outer_edge.as_deg(), EDGE_PLACES)) "° outer; the program names " (point)
    }
}

/// Whether the program can say nothing to people.
fn silent(sheet: &Sheet<'_>) -> bool {
    sheet.job.control.traits.comments == Comments::None
}

/// The cautions.
pub(super) fn cautions(sheet: &Sheet<'_>) -> Markup {
    html! {
        section.cautions aria-labelledby="cautions" {
            h2 #cautions { "Before anything turns" }
            ul {
                @for caution in CAUTIONS { li { (caution) } }
                @if silent(sheet) { @for caution in CAUTIONS_OF_THE_HEAD { li { (caution) } } }
            }
        }
    }
}

/// What will be removed, and what is left of the allowance.
pub(super) fn metal(sheet: &Sheet<'_>) -> Markup {
    let allowance = sheet.job.wheel.allowance;
    let may = allowance.limit.as_mm() - allowance.taken.as_mm();
    let depths = sheet.programs.iter().filter_map(|p| p.report.sweep.deepest).map(|d| d.depth);
    let proved = depths.max_by(f64::total_cmp);
    let already = sheet.already.as_mm();
    let survey = sheet.survey.as_ref().ok();
    html! {
        dl.facts {
            div { dt { "Comes off the highest place" } dd.large { (proved.map_or_else(|| "nothing: no program".to_owned(), |depth| mm(depth - already))) } }
            @if already > 0.0 { div { dt { "Taken off by an earlier program" } dd { (mm(already)) } } }
            @if let Some(s) = survey { div { dt { "Needed for clean-up" } dd { (mm(s.depth.clean_up_mm)) " at radius " (number(s.depth.deepest_at_mm, 1)) " mm" } } }
            @if let Some(again) = survey.and_then(|s| s.again.as_ref()) {
                div { dt { "Really taken, as measured again" } dd {
                    (mm(again.taken_mm)) " on the mean, within " (mm(again.uncertainty_mm)) "; " (mm(again.told_mm)) " told: " (again.looks_like)
                } }
                div { dt { "Taken at radius" } dd {
                    @for (i, at) in again.at.iter().enumerate() { @if i > 0 { "; " } (number(at.r_mm, 0)) " mm: " (mm(at.taken_mm)) }
                } }
                @for left in &again.left { div { dt { "Damage left at radius " (number(left.deepest_at_mm, 1)) " mm" } dd { (mm(left.depth_mm)) " on the line at " (number(left.line_deg, 0)) " deg" } } }
            }
            div { dt { "May still be lost" } dd { (mm(may)) " (" (mm(allowance.limit.as_mm())) " in all, " (mm(allowance.taken.as_mm())) " taken before)" } }
            @if let Some(depth) = proved { div { dt { "Left after this job" } dd.large { (mm(may - depth)) } } }
        }
    }
}

/// The boxes that the technician ticks before the cut.
pub(super) fn ticks(sheet: &Sheet<'_>) -> Markup {
    html! {
        h2.tick { "Before the cut: tick" }
        ul.ticks { @for words in TICKS.iter().filter_map(|&tick| tick_words(tick, sheet)) {
            li { label { input type="checkbox" autocomplete="off"; span { (words) } } }
        } }
    }
}

/// The field for the signature, and what is written down after the cut.
pub(super) fn signing(sheet: &Sheet<'_>) -> Markup {
    html! {
        section.signing aria-labelledby="signing" {
            h2 #signing { "Before the cut: sign" }
            @if status(sheet) == Status::Stop {
                p.stop { strong { "Do not sign: nothing is cut as this stands." } }
            } @else {
                p { "Every box at the top is ticked." }
                div.lines { p { "Name" } p { "Date and time" } p { "Signature" } }
                h3 { "After the cut: what was really taken" }
                div.lines { p { "Passes run" } p { "Really taken off the highest place" } p { "Measured at radius, and by" } }
            }
        }
    }
}
