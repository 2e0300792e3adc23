//! The header: what the operator reads before anything turns.

use super::block::ProgramBuilder;
use super::scale::Scale;
use super::{GcodeError, touch_words};
use crate::job::{Arcs, Control, Job, ProgrammedPoint, Tool, Tyre, XWords};
use crate::plan::parts::Part;
use crate::plan::{Pass, PassKind, Plan, time_of};
use crate::units::{Length, Time, for_shop};

/// What is said before every cut, whatever the wheel.
const CAUTIONS: [&str; 7] = [
    "WEAR EYE PROTECTION. DOOR SHUT WHENEVER THE SPINDLE TURNS",
    "BEFORE START CHECK JAWS, WHEEL SEAT AND BALANCE, TURN THE WHEEL BY HAND ONCE",
    "NEVER CUT A CRACKED, BENT OR WELDED WHEEL",
    "THE WHEEL MAKER AND LOCAL RULES COME BEFORE THIS PROGRAM",
    "START WITH THE TOOL AT THE PARK, CLEAR OF EVERYTHING. FIRST MOVE IS Z TO THE PARK, THEN X",
    "TO BEGIN AGAIN AT A LATER PASS FIRST CALL ITS TOOL AT THE PARK, THEN START AT THE G18 BLOCK OF THE PASS",
    "AFTER A STOP DO NOT GO ON UNLESS THE TOOL STANDS WHERE THE PROGRAM LEFT IT",
];

/// What is said of a tool that the part before has used: touched off once more on the face it has cut, it could only be set worse.
const SAME_TOOL: &str = "THE SAME TOOL AS IN THE PART BEFORE, DO NOT TOUCH IT OFF AGAIN. ONLY IF IT OR ITS INSERT WAS CHANGED, BEFORE START,";

/// Writes the header of one part.
pub(super) fn write(
    program: &mut ProgramBuilder<'_>,
    job: &Job,
    plan: &Plan,
    part: &Part,
    scale: &Scale,
) -> Result<(), GcodeError> {
    program.comment("JOB", &job.title);
    let tyre = match job.wheel.tyre {
        Tyre::Mounted => "TYRE MOUNTED",
        Tyre::Removed => "TYRE REMOVED",
    };
    let said: Vec<&str> = job.wheel.said_beside(&job.title).chain([tyre]).collect();
    program.comment("WHEEL", &said.join(", "));
    program.checksum();
    if part.of > 1 {
        program.comment("PART", &format!("{} OF {}. RUN THE PARTS IN THEIR ORDER", part.number, part.of));
    }
    program.comment("WORDS", &words_text(&job.control, scale));
    for (i, operation) in part.operations.iter().enumerate() {
        program.comment("TOOL", &tool_text(&operation.tool, scale));
        let text = touch_words::touch_off_text(operation, job, scale)?;
        if i == 0 {
            let when = if part.goes_on_with_tool { SAME_TOOL } else { "BEFORE START." };
            program.comment("TOUCH-OFF", &format!("{when} {text}"));
        } else {
            program
                .comment("TOUCH-OFF", &format!("AT THE STOP IN THE PROGRAM, ON WHAT IS LEFT THEN. {text}"));
        }
        if let Some(text) = touch_words::check_text(operation, job, scale)? {
            program.comment("TOUCH CHECK", &text);
        }
    }
    let before = part.before();
    if before.as_mm() > 0.0 {
        program.comment(
            "GONE",
            &format!("BEFORE THIS PROGRAM {} OFF THE HIGHEST PLACE AS MEASURED", scale.length_text(before)),
        );
    }
    if let Some(place) = plan.cut_along {
        program.comment("FACE", &format!("CUT ALONG THE {} PLACE OF THE TURN", place.words().to_uppercase()));
    }
    program.comment(
        "TAKES",
        &format!(
            "{} OFF THE HIGHEST PLACE{}, LEAVES {} OF THE ALLOWANCE",
            scale.length_text(plan.removed),
            if part.of > 1 { " IN ALL PARTS" } else { "" },
            scale.length_text(plan.left)
        ),
    );
    let passes = || part.operations.iter().flat_map(|o| &o.passes);
    for pass in passes() {
        program.comment(&pass_name(pass), &pass_text(pass, scale)?);
    }
    let time = time_of(job, &part.operations);
    program.comment("TIME", &format!("ABOUT {} WITHOUT STOPS", time_text(time)));
    for finding in &plan.findings {
        program.comment("NOTE", &for_shop(finding.what.clone(), job.control.unit_word.is_inch()));
    }
    for caution in CAUTIONS {
        program.comment("CAUTION", caution);
    }
    Ok(())
}

fn words_text(control: &Control, scale: &Scale) -> String {
    let x = match control.x_words {
        XWords::Diameter => "X IS DIAMETER",
        XWords::Radius => "X IS RADIUS",
    };
    let arcs = match control.arcs {
        Arcs::Centre => ", I K FROM START TO CENTRE AS RADIUS",
        Arcs::Radius => ", R IS THE ARC RADIUS",
        Arcs::None => "",
    };
    format!("{}, {x} WITH ZERO ON THE SPINDLE AXIS{arcs}, FEED FOR EACH REVOLUTION", scale.unit())
}

fn tool_text(tool: &Tool, scale: &Scale) -> String {
    let point = match tool.point {
        ProgrammedPoint::Front => "X OF NOSE CENTRE AND LOWEST Z OF NOSE",
        ProgrammedPoint::Centre => "NOSE CENTRE",
        ProgrammedPoint::Inner => "SHARP CORNER TOWARD THE AXIS",
        ProgrammedPoint::Outer => "SHARP CORNER TOWARD THE RIM",
    };
    format!(
        "{} {}, NOSE RADIUS {}, EDGES INNER {} OUTER {}, PROGRAMMED POINT {point}",
        tool.number,
        tool.name,
        scale.as_it_is(tool.nose_radius),
        tool.inner_edge.to_string().to_uppercase(),
        tool.outer_edge.to_string().to_uppercase()
    )
}

/// What a pass is called.
pub(super) fn pass_name(pass: &Pass) -> String {
    format!("{} PASS", pass.kind.name().to_uppercase())
}

/// A pass in one line.
pub(super) fn pass_text(pass: &Pass, scale: &Scale) -> Result<String, GcodeError> {
    let depth = match pass.kind {
        PassKind::Air => "ABOVE THE FACE".to_owned(),
        PassKind::Spring => "NO DEEPER".to_owned(),
        PassKind::Rough | PassKind::Rest | PassKind::Finish => {
            format!("DEPTH {}", scale.length_text(pass.depth))
        }
    };
    let feed = scale.feed(pass.feed)?.to_string();
    let ring = pass.ring.as_ref().map_or_else(String::new, |name| format!(" RING {name},"));
    Ok(format!(
        "{} OF {},{ring} {depth}, {} {}, {} {}, AT MOST {} RPM",
        pass.number,
        pass.of,
        feed.trim_start_matches('F'),
        scale.feed_unit(),
        scale.surface_speed(pass.surface_speed)?,
        scale.surface_speed_unit(),
        super::scale::whole_rpm(pass.spindle_limit)?
    ))
}

/// What a pass should have touched, as sentences for the stop after it; empty where that is not known.
pub(super) fn contact_text(pass: &Pass, scale: &Scale) -> String {
    let Some(contact) = &pass.contact else { return String::new() };
    let touches = format!("PASS {} TOUCHES {:.0} PCT OF THE FACE", contact.number, 100.0 * contact.share);
    if contact.is_unbroken() {
        return format!("{touches}, UNBROKEN EVERYWHERE. ");
    }
    let radii = |all: &[[Length; 2]]| {
        let shown = all
            .iter()
            .map(|[from, to]| format!("{} TO {}", scale.radius_text(*from), scale.radius_text(*to)));
        format!("{} {}", shown.collect::<Vec<_>>().join(" AND "), scale.unit())
    };
    let mut said = vec![touches];
    let (begins, whole, sides) = (contact.begins(), contact.all_round(), contact.side_degrees());
    if !begins.is_empty() {
        said.push(format!(", FROM RADIUS {}", radii(&begins)));
    }
    if !whole.is_empty() {
        let else_on = if sides.is_empty() { "" } else { ", ELSE" };
        said.push(format!(", ALL ROUND FROM RADIUS {}{else_on}", radii(&whole)));
    }
    if !sides.is_empty() {
        said.push(format!(" ON THE SIDE OF {} DEG", sides.join(" AND ")));
    }
    format!("{}. MUCH MORE MEANS TOUCHED TOO LOW, MUCH LESS TOO HIGH. ", said.concat())
}

fn time_text(time: Time) -> String {
    let seconds = time.as_s();
    if !seconds.is_finite() || seconds < 0.0 {
        return "UNKNOWN".to_owned();
    }
    let minutes = (seconds / 60.0).floor();
    format!("{minutes:.0} MIN {:.0} S", (seconds - 60.0 * minutes).floor())
}
