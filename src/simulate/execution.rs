//! One execution of a program, with the block-skip switch in one position: what the machine would do, block by block.
//!
//! Each block is executed once, and its effect is kept: its motions, its events, and the state before and after. So
//! explaining a block does not need another execution. A state is stored only where it changes, which is rare: most blocks
//! move the tool and change nothing else.

use super::interpreter::{Event, Interpreter, Setup};
use super::modal::{State, ToolInForce};
use super::movement::Movement;
use super::reader::{Block, ProgramRead};
use super::time::time;
use crate::diagnostics::{Finding, Place, ProgramRule};
use crate::geometry::Point;
use crate::units::Time;
use std::ops::Range;

/// Position of the block-skip switch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum SkipSwitch {
    /// Off: blocks with a `/` are executed.
    Off,
    /// On: they are skipped.
    On,
}

/// What the machine would do with the switch in one position.
#[derive(Debug, Clone, PartialEq)]
pub struct Execution {
    /// Position of the switch.
    pub switch: SkipSwitch,
    /// Motions in order.
    pub movements: Vec<Movement>,
    /// How long each motion takes; none where speed or feed is missing.
    pub times: Vec<Option<Time>>,
    /// What happens between the motions, in order.
    pub events: Vec<Event>,
    /// Whether M02 or M30 was reached.
    pub ended: bool,
    /// How long all motions take; none where speed or feed is missing. Stops and dwells not counted.
    pub time: Option<Time>,
    /// Every different state, in order; the first is the one before the program.
    states: Vec<State>,
    /// A snapshot before the first block, then one after each block.
    after: Vec<Snapshot>,
}

/// The situation between two blocks, by indices.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Snapshot {
    /// Index of the state in force.
    state: usize,
    /// Position of the programmed point.
    position: Point,
    /// How many motions have been made.
    movements: usize,
    /// How many events have happened.
    events: usize,
}

/// The effect of one block.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Effect<'a> {
    /// State before the block.
    pub before: &'a State,
    /// State after it.
    pub after: &'a State,
    /// Position of the programmed point before it.
    pub from: Point,
    /// Position after it.
    pub to: Point,
    /// The block's motions.
    pub movements: &'a [Movement],
    /// The block's events.
    pub events: &'a [Event],
}

impl Execution {
    /// Executes the blocks of a program; also returns the findings about them.
    pub(super) fn new(program: &ProgramRead, setup: Setup<'_>, switch: SkipSwitch) -> (Self, Vec<Finding>) {
        let mut interpreter = Interpreter::new(program, setup);
        let mut states = vec![interpreter.state.clone()];
        let mut after = Vec::with_capacity(program.blocks.len() + 1);
        after.push(snapshot(&interpreter, &mut states));
        let mut told_after_end = false;
        for (index, block) in program.blocks.iter().enumerate() {
            let left_out = switch == SkipSwitch::On && block.skip.is_some();
            if !left_out && !interpreter.state.ended {
                interpreter.step(index, block);
            } else if !left_out && !block.words.is_empty() && !told_after_end {
                told_after_end = true;
                let what = "blocks after the end of the program".into();
                interpreter.notes.add(ProgramRule::AfterEnd, block.place(), what);
            }
            after.push(snapshot(&interpreter, &mut states));
        }
        if !interpreter.state.ended {
            let last = program.blocks.iter().rev().find(|b| !b.words.is_empty());
            let place = last.map_or(Place::Whole, Block::place);
            interpreter.notes.add(ProgramRule::NoEnd, place, "the program ends without M02 or M30".into());
        }
        let rapid = setup.machine.rapid;
        let Interpreter { state, notes, movements, events, .. } = interpreter;
        let times: Vec<Option<Time>> = movements.iter().map(|m| time(m, rapid)).collect();
        let total = times.iter().map(|t| t.map(Time::as_s)).sum::<Option<f64>>();
        let execution = Self {
            switch,
            movements,
            times,
            events,
            ended: state.ended,
            time: total.map(Time::s),
            states,
            after,
        };
        (execution, notes.into_findings())
    }

    /// The effect of the block with an index; none where the program has no such block.
    pub(crate) fn effect_of(&self, block: usize) -> Option<Effect<'_>> {
        let (a, b) = (self.after.get(block)?, self.after.get(block.checked_add(1)?)?);
        Some(Effect {
            before: self.states.get(a.state)?,
            after: self.states.get(b.state)?,
            from: a.position,
            to: b.position,
            movements: self.movements.get(a.movements..b.movements)?,
            events: self.events.get(a.events..b.events)?,
        })
    }
}

/// What a control does with some blocks of a program that is begun there, after a reset: it holds nothing but the tool, which stands at a place.
/// Returns the motions and what is found; blocks that the switch would skip are executed.
pub(crate) fn begun_at(
    program: &ProgramRead,
    setup: Setup<'_>,
    blocks: Range<usize>,
    (tool, at): (Option<ToolInForce>, Point),
) -> (Vec<Movement>, Vec<Finding>) {
    let mut interpreter = Interpreter::new(program, setup);
    interpreter.state.tool = tool;
    interpreter.position = at;
    for (index, block) in program.blocks.iter().enumerate().take(blocks.end).skip(blocks.start) {
        interpreter.step(index, block);
    }
    (interpreter.movements, interpreter.notes.into_findings())
}

/// The present snapshot; the state is stored if it differs from the last one stored.
fn snapshot(interpreter: &Interpreter<'_>, states: &mut Vec<State>) -> Snapshot {
    if states.last() != Some(&interpreter.state) {
        states.push(interpreter.state.clone());
    }
    Snapshot {
        state: states.len() - 1,
        position: interpreter.position,
        movements: interpreter.movements.len(),
        events: interpreter.events.len(),
    }
}
