//! Whether a program may be begun again where its head says: at the G18 block of a pass, with the tool called and standing where the stop left it.
//!
//! After a reset a control holds nothing of what was said before. So each stretch from such a block to the next stop is executed by itself, and
//! must make the very motions that it makes in the whole program, with the same spindle and feed, and find nothing that stops. What the
//! motions do to the metal is proved with the passes before them: they are what left it as it stands when somebody begins again.
//!
//! Only a program of ours promises such places; one that reads no comments promises them on its sheet.

use super::head;
use crate::diagnostics::{Finding, Place, ProgramRule, Rank};
use crate::geometry::Point;
use crate::job::{Comments, Job, LengthOffset};
use crate::simulate::execution::begun_at;
use crate::simulate::modal::ToolInForce;
use crate::simulate::{Block, Event, EventKind, Movement, MovementKind, Setup, Simulation};
use std::ops::Range;

/// Places nearer than this are the same, millimetres: the park as the machine has it and as words say it.
const SAME_PLACE: f64 = 0.005;

/// Where a program may be begun again.
#[derive(Debug, Default)]
pub(super) struct BeginAgain {
    /// The lines of the places at which it does what it does as a whole.
    pub lines: Vec<usize>,
    /// What is otherwise at the others.
    pub findings: Vec<Finding>,
}

/// Judges every place at which the program promises that it may be begun again.
pub(super) fn judge(simulation: &Simulation, job: &Job) -> BeginAgain {
    let mut judged = BeginAgain::default();
    let program = &simulation.program;
    if !head::is_ours(program) && job.control.traits.comments != Comments::None {
        return judged;
    }
    let execution = &simulation.skip_off;
    let halts: Vec<&Event> = execution.events.iter().filter(|e| halts(e)).collect();
    // Each stretch from one stop to the next is looked at once, however often it sets the plane.
    for (i, stop) in halts.iter().enumerate().filter(|(_, e)| e.kind != EventKind::End) {
        let end = halts.get(i + 1).map_or(program.blocks.len(), |next| next.block);
        let Some(moves) = execution.movements.get(stop.movements_before).filter(|m| m.block < end) else {
            continue;
        };
        let between = program.blocks.get(stop.block..=moves.block).unwrap_or_default();
        match between.iter().position(sets_the_plane) {
            Some(at) => judged.add(simulation, job, stop.block + at..end),
            None => judged.findings.push(without_a_place(stop, moves)),
        }
    }
    judged
}

impl BeginAgain {
    /// Judges the stretch that begins with a block.
    fn add(&mut self, simulation: &Simulation, job: &Job, blocks: Range<usize>) {
        let (program, execution) = (&simulation.program, &simulation.skip_off);
        let (Some(block), Some(effect)) =
            (program.blocks.get(blocks.start), execution.effect_of(blocks.start))
        else {
            return;
        };
        let tool = effect.before.tool.map(|tool| ToolInForce {
            offset: job.control.traits.length_offset == LengthOffset::None,
            ..tool
        });
        let (alone, found) = begun_at(program, Setup::from(job), blocks.clone(), (tool, effect.from));
        let first = execution.movements.partition_point(|m| m.block < blocks.start);
        let whole = execution.movements.iter().skip(first).take_while(|m| m.block < blocks.end);
        let known =
            |f: &Finding| simulation.findings.iter().any(|s| s.rule == f.rule && s.line() == f.line());
        let stops = found.iter().find(|f| f.rank == Rank::Stop && !known(f));
        let otherwise = match stops {
            Some(finding) => Some(said(block, &finding.what)),
            None => first_difference(whole, &alone).map(|line| {
                said(block, &format!("line {line} does not do what it does in the whole program"))
            }),
        };
        match otherwise {
            Some(finding) => self.findings.push(finding),
            None => self.lines.push(block.line),
        }
    }
}

/// What is said of a stop after which something moves before any block at which it could be begun again.
fn without_a_place(stop: &Event, moves: &Movement) -> Finding {
    let what = format!("after the stop in line {} it moves, and no block with G18 stands between", stop.line);
    let place = Place::Program { line: moves.line, block: moves.sequence };
    Finding::new(ProgramRule::BeginsOtherwise, place, what)
}

fn said(block: &Block, what: &str) -> Finding {
    let what = format!("begun again here, the program runs otherwise: {what}");
    Finding::new(ProgramRule::BeginsOtherwise, block.place(), what)
}

fn sets_the_plane(block: &Block) -> bool {
    block.words.iter().any(|w| w.letter == 'G' && (w.value - 18.0).abs() < f64::EPSILON)
}

const fn halts(event: &Event) -> bool {
    matches!(event.kind, EventKind::Stop | EventKind::OptionalStop | EventKind::End)
}

/// The line of the first motion that is not the same in both; none where all are.
fn first_difference<'m>(whole: impl Iterator<Item = &'m Movement>, alone: &[Movement]) -> Option<usize> {
    let moves = |m: &&Movement| m.kind == MovementKind::Feed || !near(m.piece.from(), m.piece.to());
    let (mut whole, mut alone) = (whole.filter(moves), alone.iter().filter(moves));
    loop {
        match (whole.next(), alone.next()) {
            (Some(a), Some(b)) if alike(a, b) => {}
            (None, None) => return None,
            (a, b) => return a.or(b).map(|m| m.line),
        }
    }
}

fn alike(a: &Movement, b: &Movement) -> bool {
    let same = a.block == b.block && a.kind == b.kind && a.tool == b.tool && a.spindle == b.spindle;
    let there = match a.kind {
        MovementKind::Rapid => near(a.piece.to(), b.piece.to()),
        MovementKind::Feed => a.feed == b.feed && a.piece == b.piece,
    };
    same && there && a.coolant == b.coolant
}

fn near(a: Point, b: Point) -> bool {
    (a.x - b.x).hypot(a.z - b.z) < SAME_PLACE
}
