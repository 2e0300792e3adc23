//! Programs that a control's memory cannot hold are parted between passes.
//!
//! Each part stands by itself: header, safe start, its own touch-off and tool call, an air pass above its
//! own first pass, end. A part that begins or ends where the plan does not pass by the park gets the
//! way to or from it: at the park's height, where nothing stands, and straight down or up. The air
//! pass is the first pass lifted by the job's height, rounded up to a whole step. Its tool is touched
//! off on what the passes before it have left: at the radius of the touch-off the tool then stands
//! on its own last path.

use super::scale::{Frame, Scale};
use super::writer::write_part;
use super::{GcodeError, Part, ProgramText, header};
use crate::geometry::{Arc, Piece, Point};
use crate::job::{Control, Job};
use crate::plan::{Motion, Operation, Pass, PassKind, Plan, Role};
use crate::units::{Length, Time};

/// One pass and the operation it belongs to, both counted from 0.
type PassIndex = (usize, usize);

/// The whole plan, in as many parts as the control's memory asks for.
pub(super) fn write(job: &Job, plan: &Plan) -> Result<Vec<ProgramText>, GcodeError> {
    check_order(plan)?;
    let whole = write_part(job, plan, &Part { operations: &plan.operations, number: 1, of: 1 });
    match whole {
        Ok(text) if fits(&text, &job.control) => return Ok(vec![text]),
        Ok(_) | Err(GcodeError::SequenceFull { .. }) => {}
        Err(error) => return Err(error),
    }
    // Air passes are not counted among what is parted: every tool of every part has its own.
    let passes: Vec<PassIndex> = plan
        .operations
        .iter()
        .enumerate()
        .flat_map(|(o, operation)| (1..operation.passes.len()).map(move |p| (o, p)))
        .collect();
    let parts = parts(job, plan, &passes)?;
    let of = parts.len();
    parts
        .iter()
        .enumerate()
        .map(|(i, operations)| write_part(job, plan, &Part { operations, number: i + 1, of }))
        .collect()
}

fn fits(text: &ProgramText, control: &Control) -> bool {
    text.text.len() as u64 <= control.largest_program
}

/// Refuses a plan in which a tool's passes do not begin with an air pass, or nothing follows it.
fn check_order(plan: &Plan) -> Result<(), GcodeError> {
    let in_order = |operation: &Operation| {
        let mut kinds = operation.passes.iter().map(|p| p.kind);
        kinds.next() == Some(PassKind::Air) && kinds.len() > 0 && kinds.all(|k| k != PassKind::Air)
    };
    let whole = !plan.operations.is_empty() && plan.operations.iter().all(in_order);
    if whole { Ok(()) } else { Err(GcodeError::AirPass) }
}

/// As few parts as hold the passes in their order, each as long as the control takes.
fn parts(job: &Job, plan: &Plan, passes: &[PassIndex]) -> Result<Vec<Vec<Operation>>, GcodeError> {
    let mut parts: Vec<Vec<Operation>> = Vec::new();
    let mut rest = passes;
    while !rest.is_empty() {
        let number = parts.len() + 1;
        let mut best: Option<(usize, Vec<Operation>)> = None;
        for count in 1..=rest.len() {
            let (chosen, _) = rest.split_at(count);
            let operations = operations_of(job, plan, chosen)?;
            // As if there were as many parts as passes: no part's header can then turn out longer than here.
            let part = Part { operations: &operations, number, of: passes.len().max(2) };
            match write_part(job, plan, &part) {
                Ok(text) if fits(&text, &job.control) => best = Some((count, operations)),
                Ok(text) if best.is_none() => {
                    let bytes = text.text.len() as u64;
                    return Err(too_large(plan, chosen, bytes, job.control.largest_program));
                }
                Err(error) if best.is_none() || !matches!(error, GcodeError::SequenceFull { .. }) => {
                    return Err(error);
                }
                Ok(_) | Err(_) => break,
            }
        }
        let Some((count, operations)) = best else { break };
        parts.push(operations);
        rest = rest.split_at(count).1;
    }
    Ok(parts)
}

fn too_large(plan: &Plan, chosen: &[PassIndex], bytes: u64, largest: u64) -> GcodeError {
    let pass = chosen.first().and_then(|&(o, p)| plan.operations.get(o)?.passes.get(p));
    let at =
        pass.map_or_else(String::new, |p| format!("{} {}", header::pass_name(p).to_lowercase(), p.number));
    GcodeError::TooLarge { at, bytes, largest }
}

/// The operations that run the chosen passes, each with the air pass of its first pass ahead.
fn operations_of(job: &Job, plan: &Plan, chosen: &[PassIndex]) -> Result<Vec<Operation>, GcodeError> {
    let scale = Scale::new(&job.control)?;
    let mut out = Vec::new();
    for (o, operation) in plan.operations.iter().enumerate() {
        let numbers: Vec<usize> = chosen.iter().filter(|&&(of, _)| of == o).map(|&(_, p)| p).collect();
        let Some(&start) = numbers.first() else { continue };
        let passes = numbers.iter().filter_map(|&p| operation.passes.get(p));
        let mut part = operation_after(operation, start);
        let planned = operation.passes.first().filter(|_| start == 1).cloned();
        let frame = Frame::new(scale, &operation.tool);
        let air = planned.or_else(|| passes.clone().next().map(|p| air_of(p, job, &frame)));
        part.passes = air.into_iter().chain(passes.cloned()).collect();
        out.push(part);
    }
    Ok(out)
}

/// An operation without passes, its touch-off on what its passes before `start` have left.
fn operation_after(operation: &Operation, start: usize) -> Operation {
    let mut touch_off = operation.touch_off;
    let at = touch_off.at.as_mm();
    let cut = |m: &&Motion| m.role == Role::Cut;
    let heights = operation
        .passes
        .iter()
        .take(start)
        .filter(|p| p.kind != PassKind::Air)
        .flat_map(|p| p.motions.iter().filter(cut))
        .map(|m| m.piece)
        .filter(|p| p.from().x.min(p.to().x) <= at && at <= p.from().x.max(p.to().x))
        .map(|p| p.at(at));
    touch_off.z = Length::mm(heights.fold(touch_off.z.as_mm(), f64::min));
    Operation { tool: operation.tool.clone(), touch_off, passes: Vec::new() }
}

/// The air pass above a pass, from park to park.
fn air_of(pass: &Pass, job: &Job, frame: &Frame) -> Pass {
    let park = pass.motions.first().map_or(f64::INFINITY, |m| m.piece.from().z);
    let height = job.schedule.air.height.as_mm();
    let step = frame.scale.step();
    let lift = (height / step).ceil() * step;
    // Places at the park's height stay: nothing goes above the park.
    let lifted = |p: Point| Point::new(p.x, (p.z + lift).min(p.z.max(park)));
    let motions = pass
        .motions
        .iter()
        .map(|m| {
            let piece = match m.piece {
                Piece::Line(line) => Piece::line(lifted(line.from), lifted(line.to)),
                Piece::Arc(arc) => Piece::Arc(Arc {
                    from: lifted(arc.from),
                    to: lifted(arc.to),
                    centre: arc.centre.shifted(0.0, lift),
                    turn: arc.turn,
                }),
            };
            Motion { role: m.role, piece }
        })
        .collect();
    let feed = job.schedule.air.feed.unwrap_or(pass.feed);
    let slower = pass.feed.as_mm_per_rev() / feed.as_mm_per_rev();
    let mut air = pass.clone();
    air.kind = PassKind::Air;
    (air.number, air.of) = (1, 1);
    air.total = Length::mm(pass.total.as_mm() - pass.depth.as_mm());
    air.depth = Length::mm(0.0);
    air.feed = feed;
    air.motions = motions;
    air.figures.time = Time::s(pass.figures.time.as_s() * slower);
    air.figures.chip_volume = 0.0;
    air
}
