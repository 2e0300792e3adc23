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
    /// What it shows to be gone, where the wheel was measured again.
    pub again: Option<AgainRecord>,
    /// Whether the shop reads inches.
    pub inches: bool,
}

/// How much lines measured again show to be gone below the face of the first ones.
#[derive(Debug, Clone, PartialEq)]
pub struct AgainRecord {
    /// SHA-256 of the first lines, as the `measurement` of their survey.
    pub first: String,
    /// The depth from which passes are counted now: the least that is gone.
    pub begins: Length,
    /// The most that is gone: what counts against the allowance.
    pub most: Length,
    /// How well that is known (two standard errors).
    pub uncertainty: Length,
}

/// The lines by which a wheel is known now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lines<'a> {
    /// SHA-256 of all of them: the `measurement` of their survey.
    pub all: &'a str,
    /// SHA-256 of the first ones; the same as `all` unless the wheel was measured again.
    pub first: &'a str,
}

/// A proved program, to be entered with its survey.
#[derive(Debug, Clone, PartialEq)]
pub struct ProgramRecord {
    /// SHA-256 of its bytes, in hexadecimal digits.
    pub hash: String,
    /// Which part it is, from 1, and of how many.
    pub part: [u32; 2],
    /// Depth at which it begins, below the face as measured, or from where the passes are counted since it was measured again.
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
    /// How deep the face lies after it, counted as the depth at which its program begins.
    pub total: Length,
    /// Length of the spiral that the nose draws.
    pub spiral: Length,
    /// Volume of its chips, cubic millimetres.
    pub chips: f64,
}

/// What has gone off a wheel, seen from one measurement of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// Off before its first lines were measured.
    pub taken: Length,
    /// Off from then until it was measured again, as entered; nothing where it was not.
    pub told: Length,
    /// Off since, on programs for this measurement.
    pub already: Length,
}

/// What a person measured after passes had run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Taken {
    /// What they took off the highest place.
    Off(Length),
    /// How deep a gauge shows the face to stand.
    Stands(GaugeReading),
}

/// How deep a gauge shows the face to stand below the face as first measured, such as against metal beside the zones that is not cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaugeReading {
    /// Depth at the highest place.
    pub depth: Length,
    /// How well that is known, where the person says it.
    pub within: Option<Length>,
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
    /// What was really taken, where it was measured.
    pub taken: Option<Taken>,
    /// In the person's own words.
    pub note: String,
}

/// A person puts an entry right.
#[derive(Debug, Clone, PartialEq)]
pub struct Correction {
    /// The entry of the cut.
    pub entry: i64,
    /// What was really taken.
    pub taken: Taken,
    /// How many passes have really run, where the entry says it wrong.
    pub passes: Option<u32>,
    /// Why.
    pub note: String,
}

/// A correction as it was entered.
#[derive(Debug, Clone, PartialEq)]
pub struct Corrected {
    /// The wheel's number.
    pub wheel: String,
    /// The new entry.
    pub cut: Cut,
    /// Entries after the old one that were reckoned from it and not measured, reckoned anew.
    pub reckoned: Vec<Cut>,
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
    /// What of which program; none for what a job states of the time before the ledger, or lines measured again show.
    pub run: Option<Run>,
    /// The lines measured again that show it.
    pub again: Option<MeasuredAgain>,
    /// What a gauge showed.
    pub gauge: Option<GaugeReading>,
    /// What it took off the highest place.
    pub taken: Length,
    /// Whether that was measured; otherwise it is what was planned, or stated.
    pub measured: bool,
    /// In the person's own words.
    pub note: String,
}

/// What lines measured again show, against what was entered until then.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredAgain {
    /// The entry of their survey.
    pub survey: i64,
    /// What was entered on this face until then.
    pub entered: Length,
    /// The most that they show to be gone.
    pub most: Length,
    /// How well that is known.
    pub uncertainty: Length,
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
    /// Depth below the face as first measured from which its passes are counted: nothing unless it was measured again.
    pub begins: Length,
    /// Its touch checks.
    pub touches: Vec<KeptTouch>,
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
    /// Depth below the face as first measured at which it begins and ends.
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

/// A touch check as it was entered.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptTouch {
    /// When and by whom.
    pub stamp: Stamp,
    /// What it found.
    pub touch: Touch,
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
