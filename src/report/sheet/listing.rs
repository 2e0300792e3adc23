//! The listing of all programs: its rows of text, and the motions that each row makes.

use super::{Program, Sheet};
use crate::proof::{self, Explained, Movement};
use crate::simulate::reader::Block;
use crate::units::{Time, positions_in_inches};

/// One line of a program with its explanation.
pub(super) struct Row<'a> {
    /// The id of the row in the page, from program and line, both from 1.
    pub anchor: String,
    /// The block as written.
    pub block: &'a str,
    /// Its explanation.
    pub says: String,
}

/// One motion and the row that makes it.
pub(super) struct Step<'a> {
    /// The row, counted from 0 through all programs.
    pub row: usize,
    /// The motion.
    pub movement: &'a Movement,
    /// How long it takes; none where speed or feed is missing.
    pub seconds: Option<f64>,
}

/// All programs, in order.
pub(super) struct Listing<'a> {
    /// The rows of each program.
    pub rows: Vec<Vec<Row<'a>>>,
    /// The motions, with the block-skip switch off.
    pub steps: Vec<Step<'a>>,
}

/// The id of a line in the page.
pub(super) fn anchor(program: usize, line: usize) -> String {
    format!("p{}-l{line}", program + 1)
}

impl<'a> Listing<'a> {
    pub fn new(sheet: &'a Sheet<'_>) -> Self {
        let mut listing = Self { rows: Vec::new(), steps: Vec::new() };
        let mut before = 0;
        for (index, program) in sheet.programs.iter().enumerate() {
            before += listing.add(index, program, before, sheet.job.control.unit_word.is_inch());
        }
        listing
    }

    fn add(&mut self, index: usize, program: &'a Program, before: usize, inches: bool) -> usize {
        let simulation = &program.simulation;
        let said = proof::explain(simulation);
        let row = |(block, Explained { line, text, .. }): (&'a Block, Explained)| Row {
            anchor: anchor(index, line),
            block: simulation.program.line_text(block),
            // A program in millimetres is told in the shop's inches.
            says: if inches { positions_in_inches(&text) } else { text },
        };
        let rows: Vec<Row<'_>> = simulation.program.blocks.iter().zip(said).map(row).collect();
        let count = rows.len();
        self.rows.push(rows);
        let execution = &simulation.skip_off;
        self.steps.extend(execution.movements.iter().zip(&execution.times).map(|(movement, time)| Step {
            row: before + movement.block,
            seconds: time.map(Time::as_s),
            movement,
        }));
        count
    }
}
