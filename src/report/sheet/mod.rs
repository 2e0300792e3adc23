//! The sheet: one page that the technician reviews and signs before the cut.
//!
//! [`page()`] turns what survey, plan and proof say into one HTML file that needs nothing beside itself. It is complete
//! without a script: pictures, tables and listing are in its text. A small script, the only one that its policy allows, links the
//! listing with the picture. Whatever came from a file is shown as text. The page computes no decision of its own: every number comes
//! from survey, plan or proof.

mod charts;
mod cutting;
mod document;
mod journey;
mod motions;
mod page;
mod passes;
mod status;
mod stepper;
mod summary;
mod text;

pub use page::page;
pub use status::{Status, status};

use crate::gcode::TouchOffWords;
use crate::job::Job;
use crate::plan::Plan;
use crate::proof::Report;
use crate::simulate::Simulation;
use crate::survey::Survey;
use crate::units::Length;

/// Where a program on the page comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Written from the plan.
    Written,
    /// A file that somebody gave, edited by hand or written elsewhere.
    Given,
}

/// One program with what it does.
#[derive(Debug, Clone)]
pub struct Program {
    /// What the page calls it.
    pub name: String,
    /// Its text, read and run: the value that the proof judged.
    pub simulation: Simulation,
    /// What the proof says of that simulation.
    pub report: Report,
}

/// All that a sheet shows.
#[derive(Debug, Clone)]
pub struct Sheet<'a> {
    /// The job.
    pub job: &'a Job,
    /// What the traces say, or why they say nothing.
    pub survey: Result<&'a Survey, String>,
    /// What is planned, or why nothing is.
    pub plan: Result<&'a Plan, String>,
    /// What an earlier program of this job has taken off already.
    pub already: Length,
    /// How the planned tools are touched off, in the order of the programs.
    pub touch_offs: Vec<TouchOffWords>,
    /// Where the programs come from.
    pub origin: Origin,
    /// The programs, in the order in which they run; none where nothing may be cut.
    pub programs: Vec<Program>,
}
