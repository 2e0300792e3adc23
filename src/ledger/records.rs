//! What goes into the ledger and what comes out of it.

use super::{FaceProfile, Moment};
use crate::units::Length;

/// When an entry is made, and by whom.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamp {
    /// When.
    pub at: Moment,
    /// By whom, as that person says it.
    pub by: String,
}

/// A measured wheel, to be entered.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveyRecord {
    /// The shop's own number of the wheel.
    pub number: String,
    /// What the job calls the wheel.
    pub name: String,
    /// SHA-256 of what was measured, in hexadecimal digits.
    pub measurement: String,
    /// What the person calls the job.
    pub job: String,
    /// What the job says earlier jobs took; none where it leaves that to the ledger.
    pub claims: Option<Length>,
    /// The survey's verdict in words.
    pub verdict: String,
    /// Clean-up depth.
    pub clean_up: Length,
    /// All that the wheel may ever lose.
    pub limit: Length,
    /// The face as measured.
    pub face: FaceProfile,
}

/// A proved program, to be entered with its survey.
#[derive(Debug, Clone, PartialEq)]
pub struct ProgramRecord {
    /// SHA-256 of its bytes, in hexadecimal digits.
    pub hash: String,
    /// Which part it is, from 1, and of how many.
    pub part: [u32; 2],
    /// Depth below the face as measured at which it begins.
    pub before: Length,
    /// The passes that cut, in the order in which they run.
    pub passes: Vec<Pass>,
    /// The verdict of its proof.
    pub verdict: String,
    /// What its proof found, one text a finding.
    pub findings: Vec<String>,
}

/// A pass that cuts.
#[derive(Debug, Clone, PartialEq)]
pub struct Pass {
    /// Rough, finish or spring.
    pub kind: String,
    /// The tool's name.
    pub tool: String,
    /// How much deeper it goes than the pass before it.
    pub depth: Length,
    /// How deep the face lies after it below the surface that passes follow, as measured.
    pub total: Length,
    /// Length of the spiral that the nose draws.
    pub spiral: Length,
    /// Volume of its chips, cubic millimetres.
    pub chips: f64,
}

/// What has gone off a wheel, seen from one measurement of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// Off before it was measured.
    pub taken: Length,
    /// Off since, on programs for this measurement.
    pub already: Length,
}

/// A person says that a program has run.
#[derive(Debug, Clone, PartialEq)]
pub struct Confirmation {
    /// SHA-256 of the program's bytes, in hexadecimal digits.
    pub hash: String,
    /// The wheel, where the same program was written for several.
    pub wheel: Option<String>,
    /// How many passes have run since the last confirmation; all that remain where left out.
    pub passes: Option<u32>,
    /// What these passes really took, where it was measured.
    pub taken: Option<Length>,
    /// In the person's own words.
    pub note: String,
}

/// A person puts an entry right.
#[derive(Debug, Clone, PartialEq)]
pub struct Correction {
    /// The entry of the cut.
    pub entry: i64,
    /// What was really taken.
    pub taken: Length,
    /// How many passes have really run, where the entry says it wrong.
    pub passes: Option<u32>,
    /// Why.
    pub note: String,
}

/// What came off a wheel, as one entry says.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Its entry.
    pub entry: i64,
    /// The entry that it corrects.
    pub corrects: Option<i64>,
    /// The entry that corrects it: it counts no more.
    pub corrected_by: Option<i64>,
    /// When and by whom.
    pub stamp: Stamp,
    /// What of which program; none for what a job states of the time before the ledger.
    pub run: Option<Run>,
    /// What it took off the highest place.
    pub taken: Length,
    /// Whether that was measured; otherwise it is what was planned, or stated.
    pub measured: bool,
    /// In the person's own words.
    pub note: String,
}

/// The passes of a program that have run.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// The program's entry.
    pub program: i64,
    /// Its hash.
    pub hash: String,
    /// The first of the passes, from 1.
    pub first: u32,
    /// How many.
    pub passes: u32,
    /// What they were planned to take.
    pub planned: Length,
}

/// A survey in the ledger.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptSurvey {
    /// Its entry.
    pub entry: i64,
    /// When and by whom.
    pub stamp: Stamp,
    /// The job.
    pub job: String,
    /// Its verdict.
    pub verdict: String,
    /// Clean-up depth.
    pub clean_up: Length,
    /// All that the wheel may ever lose, as the job said.
    pub limit: Length,
    /// Its touch checks.
    pub touches: Vec<Touch>,
    /// The programs written on it.
    pub programs: Vec<KeptProgram>,
}

/// A program in the ledger.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptProgram {
    /// Its entry.
    pub entry: i64,
    /// Its hash.
    pub hash: String,
    /// Which part, of how many.
    pub part: [u32; 2],
    /// Passes that cut.
    pub passes: u32,
    /// Depth below the face as measured at which it begins and ends.
    pub depth: [Length; 2],
    /// The verdict of its proof.
    pub verdict: String,
}

/// A touch check.
#[derive(Debug, Clone, PartialEq)]
pub struct Touch {
    /// The tool's name.
    pub tool: String,
    /// How far off it stood in X and how well that is known, where the check could tell.
    pub error_x: Option<[Length; 2]>,
    /// How far off it stood in Z, and how well that is known.
    pub error_z: [Length; 2],
    /// In words.
    pub note: String,
}

/// A wheel with all that was entered of it.
#[derive(Debug, Clone, PartialEq)]
pub struct WheelHistory {
    /// The shop's own number.
    pub number: String,
    /// What the first job called it.
    pub name: String,
    /// Surveys in their order.
    pub surveys: Vec<KeptSurvey>,
    /// Cuts in their order, also those that were corrected.
    pub cuts: Vec<Cut>,
    /// The sum of the cuts that count.
    pub taken: Length,
}
