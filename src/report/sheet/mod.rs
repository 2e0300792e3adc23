//! The sheet: one page that the technician reviews and signs before the cut.
//!
//! [`page()`] makes one self-contained HTML file from the results of survey, plan and proof. It is complete
//! without a script: pictures, tables and listing are in its text. A small script, the only one that its policy allows, links the
//! listing with the picture. Text from files is escaped. The page decides nothing: every number comes
//! from survey, plan or proof.

mod charts;
mod contact;
mod document;
mod glance;
mod listing;
mod metal_removed;
mod motions;
mod page;
mod passes;
mod status;
mod stepper;
mod summary;
mod text;

pub use page::page;
pub use status::{Status, status};

use crate::gcode::{PassName, TouchOffWords};
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
    /// A file given by the user: edited by hand, or written elsewhere.
    Given,
}

/// One program with its simulation and proof.
#[derive(Debug, Clone)]
pub struct Program {
    /// Its name on the page.
    pub name: String,
    /// Its passes, if it was written from the plan; none for one that was given.
    pub passes: Vec<PassName>,
    /// Its simulation, the one that was proved.
    pub simulation: Simulation,
    /// The proof of that simulation.
    pub report: Report,
}

/// All that a sheet shows.
#[derive(Debug, Clone)]
pub struct Sheet<'a> {
    /// The job.
    pub job: &'a Job,
    /// The survey, or why there is none.
    pub survey: Result<&'a Survey, String>,
    /// The plan, or why there is none.
    pub plan: Result<&'a Plan, String>,
    /// Depth that earlier programs of this job have removed.
    pub already: Length,
    /// How the planned tools are touched off, in the order of the programs.
    pub touch_offs: Vec<TouchOffWords>,
    /// The origin of the programs.
    pub origin: Origin,
    /// The programs, in the order in which they run; none where nothing may be cut.
    pub programs: Vec<Program>,
}

/// What a program is called that was written from the plan as a whole.
pub const THE_PROGRAM: &str = "the program";
