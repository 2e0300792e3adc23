//! A plan that the control's memory cannot hold as one program is divided between passes.
//!
//! Each part stands by itself: its own touch-off and tool call, an air pass above its own first pass. The air
//! pass is the first pass lifted by the job's height, rounded up to a whole step. Its tool is touched
//! off on what the passes before it have left: at the radius of the touch-off the tool then stands
//! on its own last path. Rest passes stay with those before them. How long a part's text is only the writer knows; [`split`] is given that as a question.

use super::figures::Conditions;
use super::spindle::SpindleLaw;
use super::surface::{self, Span};
use super::touching::TouchGround;
use super::{Motion, Operation, Pass, PassKind, Plan, PlanError, Role, TouchOff};
use crate::face::Touch;
use crate::face::touch_check::Ground;
use crate::geometry::{Arc, Curve, Piece, Point, envelope};
use crate::job::Job;
use crate::units::Length;

/// The operations of one program.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Which part it is, from 1.
    pub number: usize,
    /// How many parts there are.
    pub of: usize,
    /// Whether its first tool is the one that the part before it ended with, touched off already.
    pub goes_on_with_tool: bool,
    /// Its operations, each beginning with an air pass.
    pub operations: Vec<Operation>,
}

impl Part {
    /// A whole plan as one part.
    #[must_use]
    pub fn whole(plan: &Plan) -> Self {
        Self { number: 1, of: 1, goes_on_with_tool: false, operations: plan.operations.clone() }
    }

    /// How deep the face lies below the surface that passes follow when the part begins.
    #[must_use]
    pub fn before(&self) -> Length {
        let air = self.operations.first().and_then(|o| o.passes.first());
        air.map_or(Length::mm(0.0), |air| air.total)
    }
}

/// Whether a part's program fits into the control.
#[derive(Debug, Clone, PartialEq)]
pub enum Fit<E> {
    /// It does.
    Fits,
    /// It does not; why, for the case that it cannot be made any shorter.
    TooLong(E),
}

/// One pass and the operation it belongs to, both counted from 0.
type PassIndex = (usize, usize);

/// The plan in as few parts as fit, each as long as fits.
///
/// # Errors
/// What `fit` says of a pass that is too long alone, or where it cannot tell; [`PlanError`] if a tool has nothing to be touched off on.
pub fn split<E: From<PlanError>>(
    job: &Job,
    plan: &Plan,
    fit: impl Fn(&Part) -> Result<Fit<E>, E>,
) -> Result<Vec<Part>, E> {
    let whole = Part::whole(plan);
    if let Fit::Fits = fit(&whole)? {
        return Ok(vec![whole]);
    }
    // Air passes are not counted among what is divided: every tool of every part has its own.
    let passes: Vec<PassIndex> = plan
        .operations
        .iter()
        .enumerate()
        .flat_map(|(o, operation)| (1..operation.passes.len()).map(move |p| (o, p)))
        .collect();
    let mut parts: Vec<Part> = Vec::new();
    let mut rest = passes.as_slice();
    while !rest.is_empty() {
        let mut best: Option<(usize, Vec<Operation>)> = None;
        for count in 1..=rest.len() {
            let (chosen, later) = rest.split_at(count);
            if later.first().is_some_and(|next| is_later_rest_pass(plan, *next)) {
                continue;
            }
            // As if there were as many parts as passes, and a tool to go on with: no part's header can then turn out longer than here.
            let part = Part {
                number: parts.len() + 1,
                of: passes.len().max(2),
                goes_on_with_tool: true,
                operations: operations_of(job, plan, chosen)?,
            };
            match fit(&part)? {
                Fit::Fits => best = Some((count, part.operations)),
                Fit::TooLong(why) if best.is_none() => return Err(why),
                Fit::TooLong(_) => break,
            }
        }
        let Some((count, operations)) = best else { break };
        let number = |o: &Operation| o.tool.number;
        let before = parts.last().and_then(|p| p.operations.last()).map(number);
        let goes_on_with_tool = before.is_some() && before == operations.first().map(number);
        parts.push(Part { number: parts.len() + 1, of: 0, goes_on_with_tool, operations });
        rest = rest.split_at(count).1;
    }
    let of = parts.len();
    for part in &mut parts {
        part.of = of;
    }
    Ok(parts)
}

/// Whether a pass is a rest pass after another: their air pass runs before the first of them, where the metal still stands.
fn is_later_rest_pass(plan: &Plan, (operation, pass): PassIndex) -> bool {
    let of_tool = plan.operations.get(operation).map(|o| o.passes.as_slice()).unwrap_or_default();
    pass > 1 && of_tool.get(pass).is_some_and(|p| p.kind == PassKind::Rest)
}

/// The operations that run the chosen passes, each with the air pass of its first pass ahead.
fn operations_of(job: &Job, plan: &Plan, chosen: &[PassIndex]) -> Result<Vec<Operation>, PlanError> {
    let mut out = Vec::new();
    for (o, operation) in plan.operations.iter().enumerate() {
        let numbers: Vec<usize> = chosen.iter().filter(|&&(of, _)| of == o).map(|&(_, p)| p).collect();
        let Some(&start) = numbers.first() else { continue };
        let passes = numbers.iter().filter_map(|&p| operation.passes.get(p));
        let mut part = operation_after(job, operation, start)?;
        let planned = operation.passes.first().filter(|_| start == 1).cloned();
        let air = planned.or_else(|| passes.clone().next().map(|p| air_of(p, job, operation)));
        part.passes = air.into_iter().chain(passes.cloned()).collect();
        out.push(part);
    }
    // The air passes are counted in the part: nobody watches those of another.
    let airs = || out.iter().flat_map(|o: &Operation| &o.passes).filter(|p| p.kind == PassKind::Air);
    let of = (1..).zip(airs()).map(|(number, _)| number).last().unwrap_or(0);
    let airs = out.iter_mut().flat_map(|o| &mut o.passes).filter(|p| p.kind == PassKind::Air);
    for (number, air) in (1..).zip(airs) {
        (air.number, air.of) = (number, of);
    }
    Ok(out)
}

/// An operation without passes, its touch-off on what its passes before `start` have left.
fn operation_after(job: &Job, operation: &Operation, start: usize) -> Result<Operation, PlanError> {
    let mut touch_off = operation.touch_off;
    let at = touch_off.at.as_mm();
    let before = operation.passes.get(..start).unwrap_or_default();
    let cuts = last_cuts(before.iter().filter(|p| p.kind != PassKind::Air));
    let over_it = cuts.iter().find(|cut| cut.start() < at && at < cut.end());
    if let (Some(over_it), None) = (over_it, job.touching.setter) {
        let outline = operation.tool.outline();
        let left = |cut: &Curve| envelope::erode(cut, &outline, [cut.start(), cut.end()]);
        let stands = match operation.ground.as_ref().map(TouchGround::surface) {
            // Beside the cuts stands what nobody cut, which may hold a nose or an edge up.
            Some(met) => cuts
                .iter()
                .try_fold(met.clone(), |stands, cut| {
                    let span = Span { from: cut.start(), to: cut.end() };
                    Some(surface::replaced(&stands, &left(cut)?, &[span]))
                })
                .map(|stands| envelope::lower(&stands, met)),
            None => left(over_it),
        };
        let Touch { z, contact } = stands
            .and_then(|stands| TouchGround::new(&stands, &outline, job.touching.shim.as_mm()))
            .ok_or_else(|| PlanError::unreachable(&operation.tool, &job.zones))?
            .touch(at);
        if z < touch_off.z.as_mm() {
            // Lacquer went with the metal.
            let lacquer = Length::mm(0.0);
            touch_off = TouchOff { z: Length::mm(z), contact: Length::mm(contact), lacquer, ..touch_off };
        }
    }
    // The places of the check lie on what the tool met first.
    let (ground, check, check_leaves) = if start == 1 {
        (operation.ground.clone(), operation.check.clone(), operation.check_leaves)
    } else {
        (None, None, None)
    };
    Ok(Operation { tool: operation.tool.clone(), touch_off, ground, check, check_leaves, passes: Vec::new() })
}

/// The cuts of passes, in their order and from the inside out, without those that a later one runs over from end to end.
fn last_cuts<'p>(passes: impl DoubleEndedIterator<Item = &'p Pass>) -> Vec<Curve> {
    let mut cuts: Vec<Curve> = Vec::new();
    for cut in passes.rev().flat_map(cuts_of) {
        if !cuts.iter().any(|later| later.start() <= cut.start() && cut.end() <= later.end()) {
            cuts.push(cut);
        }
    }
    cuts.reverse();
    cuts
}

/// The cuts of a pass, each from the inside out.
fn cuts_of(pass: &Pass) -> impl Iterator<Item = Curve> {
    let cuts =
        pass.motions.chunk_by(|a, b| a.role == b.role).filter(|m| m.iter().all(|m| m.role == Role::Cut));
    cuts.map(|motions| {
        let inward = motions.iter().any(|m| m.piece.from().x > m.piece.to().x);
        let pieces = motions.iter().map(|m| m.piece);
        Curve::from_pieces(if inward {
            pieces.rev().map(|p| p.reversed()).collect()
        } else {
            pieces.collect()
        })
    })
}

/// The air pass above a pass, from park to park.
fn air_of(pass: &Pass, job: &Job, operation: &Operation) -> Pass {
    let park = pass.motions.first().map_or(f64::INFINITY, |m| m.piece.from().z);
    let grid = job.control.grid(&operation.tool);
    let lift = grid.z_not_below(job.schedule.air.height.as_mm() + grid.z0) - grid.z0;
    // Places at the park's height stay: nothing goes above the park.
    let lifted = |p: Point| Point::new(p.x, (p.z + lift).min(p.z.max(park)));
    let raise = |m: &Motion| {
        let piece = match m.piece {
            Piece::Line(line) => Piece::line(lifted(line.from), lifted(line.to)),
            Piece::Arc(arc) => Piece::Arc(Arc {
                from: lifted(arc.from),
                to: lifted(arc.to),
                centre: arc.centre.shifted(0.0, lift),
                turn: arc.turn,
            }),
        };
        Motion { piece, ..*m }
    };
    let motions: Vec<Motion> = pass.motions.iter().map(raise).collect();
    let feed = job.schedule.air.feed.map_or(pass.feed, |feed| job.control.nameable_feed(feed));
    let conditions = Conditions {
        tool: &operation.tool,
        law: SpindleLaw { surface_speed: pass.surface_speed, limit: pass.spindle_limit },
        feed,
        rapid: job.machine.rapid,
    };
    Pass {
        kind: PassKind::Air,
        number: 1,
        of: 1,
        ring: pass.ring.clone(),
        depth: Length::mm(0.0),
        total: Length::mm(pass.total.as_mm() - pass.depth.as_mm()),
        surface_speed: pass.surface_speed,
        spindle_limit: pass.spindle_limit,
        feed,
        figures: conditions.figures(&motions),
        contact: None,
        motions,
    }
}
