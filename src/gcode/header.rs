//! The header: what the operator reads before anything turns.

use super::block::ProgramBuilder;
use super::scale::{Scale, WordScale};
use super::{GcodeError, TouchOffWords};
use crate::job::{Arcs, Control, Job, ProgrammedPoint, Tool, ToolWord, Tyre, XWords};
use crate::plan::parts::Part;
use crate::plan::{Operation, Pass, PassKind, Plan, TouchOff};
use crate::units::Time;

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
    program.comment("WHEEL", &format!("{}, {}, {tyre}", job.wheel.name, job.wheel.material));
    if part.of > 1 {
        program.comment("PART", &format!("{} OF {}. RUN THE PARTS IN THEIR ORDER", part.number, part.of));
    }
    program.comment("WORDS", &words_text(&job.control, scale));
    for (i, operation) in part.operations.iter().enumerate() {
        program.comment("TOOL", &tool_text(&operation.tool, scale));
        let text = touch_off_text(operation, &job.control, scale)?;
        if i == 0 {
            program.comment("TOUCH-OFF", &format!("BEFORE START. {text}"));
        } else {
            program
                .comment("TOUCH-OFF", &format!("AT THE STOP IN THE PROGRAM, ON WHAT IS LEFT THEN. {text}"));
        }
    }
    let before = part.before();
    if before.as_mm() > 0.0 {
        program.comment(
            "GONE",
            &format!("BEFORE THIS PROGRAM {} OFF THE HIGHEST PLACE AS MEASURED", scale.length_text(before)),
        );
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
        program.comment(pass_name(pass), &pass_text(pass, scale)?);
    }
    let seconds = passes().map(|p| p.figures.time().as_s()).sum();
    program.comment("TIME", &format!("ABOUT {} WITHOUT STOPS", time_text(Time::s(seconds))));
    for finding in &plan.findings {
        program.comment("NOTE", &finding.what);
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
        "{} {}, NOSE RADIUS {}, EDGES INNER {:.0} DEG OUTER {:.0} DEG, PROGRAMMED POINT {point}",
        tool.number,
        tool.name,
        scale.length_text(tool.nose_radius),
        tool.inner_edge.as_deg(),
        tool.outer_edge.as_deg()
    )
}

/// How a tool is touched off. The height to enter is rounded down to a whole step, so that the tool never stands lower than the words say.
pub(super) fn touch_off_text(
    operation: &Operation,
    control: &Control,
    scale: &Scale,
) -> Result<String, GcodeError> {
    let TouchOffWords { x, z, .. } = touch_off_words(operation, scale)?;
    let into = match control.tool_word {
        ToolWord::NumberAndOffset => format!("OFFSET {:02}", operation.tool.number),
        ToolWord::Number | ToolWord::NumberAndM06 => format!("THE OFFSET OF TOOL {}", operation.tool.number),
    };
    Ok(format!(
        "SPINDLE STANDING. STAND TOOL {} AT {x}, TURN THE WHEEL BY HAND TO ITS HIGHEST PLACE THERE, TOUCH THE FACE, \
         ENTER {z} AS THE Z OF THIS PLACE IN {into}. BACK TO THE PARK",
        operation.tool.number
    ))
}

/// The words of a touch-off.
pub(super) fn touch_off_words(operation: &Operation, scale: &Scale) -> Result<TouchOffWords, GcodeError> {
    let tool_scale = WordScale::new(*scale, &operation.tool);
    let TouchOff { at, z, .. } = operation.touch_off;
    let x = tool_scale.x(at.as_mm(), "the touch-off")?;
    let z = tool_scale
        .z_not_above(z.as_mm())
        .ok_or_else(|| GcodeError::Number { what: "the touch-off height".into(), value: z.as_mm() })?;
    Ok(TouchOffWords {
        tool: operation.tool.number,
        x: scale.word('X', x).to_string(),
        z: scale.word('Z', z).to_string(),
    })
}

/// What a pass is called.
pub(super) const fn pass_name(pass: &Pass) -> &'static str {
    match pass.kind {
        PassKind::Air => "AIR PASS",
        PassKind::Rough => "ROUGH PASS",
        PassKind::Finish => "FINISH PASS",
        PassKind::Spring => "SPRING PASS",
    }
}

/// A pass in one line.
pub(super) fn pass_text(pass: &Pass, scale: &Scale) -> Result<String, GcodeError> {
    let depth = match pass.kind {
        PassKind::Air => "ABOVE THE FACE".to_owned(),
        PassKind::Spring => "NO DEEPER".to_owned(),
        PassKind::Rough | PassKind::Finish => format!("DEPTH {}", scale.length_text(pass.depth)),
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

fn time_text(time: Time) -> String {
    let seconds = time.as_s();
    if !seconds.is_finite() || seconds < 0.0 {
        return "UNKNOWN".to_owned();
    }
    let minutes = (seconds / 60.0).floor();
    format!("{minutes:.0} MIN {:.0} S", (seconds - 60.0 * minutes).floor())
}
