//! What the machine would do, in the order of the listing: rows of text, motions, and what was in force in each.

use super::{Program, Sheet};
use crate::proof::{self, Explained, Movement, ReaderOptions};
use crate::units::Time;

/// One line of a program with its plain words.
pub(super) struct Row {
    /// Where the row stands in its page: program and line, both from 1.
    pub anchor: String,
    /// The block as written.
    pub block: String,
    /// What it does.
    pub says: String,
}

/// One motion and the row that makes it.
pub(super) struct Step {
    /// The row, counted from 0 through all programs.
    pub row: usize,
    /// The motion.
    pub movement: Movement,
    /// How long it takes; none where speed or feed is missing.
    pub seconds: Option<f64>,
}

/// All programs, one after another.
pub(super) struct Journey {
    /// The rows of each program.
    pub rows: Vec<Vec<Row>>,
    /// The motions, the block-skip switch off.
    pub steps: Vec<Step>,
}

/// The place of a line in the page.
pub(super) fn anchor(program: usize, line: usize) -> String {
    format!("p{}-l{line}", program + 1)
}

impl Journey {
    pub fn new(sheet: &Sheet<'_>) -> Self {
        let mut journey = Self { rows: Vec::new(), steps: Vec::new() };
        let mut before = 0;
        for (index, program) in sheet.programs.iter().enumerate() {
            before += journey.add(sheet, index, program, before);
        }
        journey
    }

    fn add(&mut self, sheet: &Sheet<'_>, index: usize, program: &Program, before: usize) -> usize {
        let read = proof::read(&program.text, ReaderOptions::default());
        let said = proof::explain(&read, sheet.job);
        let row = |(block, Explained { line, text, .. }): (&crate::simulate::reader::Block, Explained)| Row {
            anchor: anchor(index, line),
            block: read.line_text(block).to_owned(),
            says: text,
        };
        let rows: Vec<Row> = read.blocks.iter().zip(said).map(row).collect();
        let count = rows.len();
        self.rows.push(rows);
        let way = proof::run(&read, sheet.job).executions.into_iter().next();
        let rapid = sheet.job.machine.rapid;
        self.steps.extend(way.into_iter().flat_map(|w| w.movements).map(|movement| Step {
            row: before + movement.block,
            seconds: proof::time(&movement, rapid).map(Time::as_s),
            movement,
        }));
        count
    }
}
