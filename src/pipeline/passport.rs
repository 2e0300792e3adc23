//! The pipeline and the ledger: what a wheel has lost comes from there, and what was surveyed and written goes there.
//!
//! A job without a passport never touches the ledger, and everything is as if there were none.

use super::{Loaded, PipelineError, ProvedProgram, Surveyed};
use crate::input;
use crate::job::{Job, Passport, ScanLine};
use crate::ledger::{
    AgainRecord, FaceProfile, Ledger, LedgerError, Lines, Pass, ProgramRecord, Stamp, Standing, SurveyRecord,
    Touch,
};
use crate::plan::{self, PassKind};
use crate::proof::{Rank, Verdict};
use crate::scan::ScanError;
use crate::survey::Survey;
use crate::units::Length;
use sha2::{Digest, Sha256};
use std::fmt::Write;

/// What the ledger says of the wheel on the machine.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Known {
    passport: Passport,
    /// SHA-256 of the scans.
    measurement: String,
    /// SHA-256 of those before any cut.
    first: String,
    /// What the job itself says was taken.
    claims: Option<Length>,
    standing: Option<Standing>,
}

/// SHA-256 of bytes, in hexadecimal digits: how the ledger names programs.
#[must_use]
pub fn hash(bytes: &[u8]) -> String {
    digits(Sha256::digest(bytes).as_slice())
}

fn digits(bytes: &[u8]) -> String {
    let mut text = String::new();
    for byte in bytes {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
    }
    text
}

/// Names what was measured by the bytes of its scans, in the order of the job.
fn measurement(job: &Job) -> Result<String, PipelineError> {
    let mut all = Sha256::new();
    of_lines(&mut all, &job.measured.lines)?;
    Ok(digits(all.finalize().as_slice()))
}

/// Names what was measured again, with the first lines; as [`measurement`] where it was not.
fn measurement_again(job: &Job) -> Result<String, PipelineError> {
    let again = job.measured_again.iter().flat_map(|a| &a.lines);
    let mut all = Sha256::new();
    of_lines(&mut all, job.measured.lines.iter().chain(again))?;
    Ok(digits(all.finalize().as_slice()))
}

fn of_lines<'l>(
    all: &mut Sha256,
    lines: impl IntoIterator<Item = &'l ScanLine>,
) -> Result<(), PipelineError> {
    for line in lines {
        let scan = input::read(&line.file, input::LARGEST_SCAN).map_err(|source| ScanError::Unreadable {
            file: line.file.clone(),
            named: line.named.clone(),
            source,
        })?;
        // Each scan's own hash: where one ends and the next begins cannot be mistaken.
        all.update(Sha256::digest(&scan));
    }
    Ok(())
}

/// Asks the ledger for the job's wheel, and puts what it holds as taken into the job.
pub(super) fn ask(job: &mut Job) -> Result<Option<Known>, PipelineError> {
    let Some(passport) = job.passport.clone() else { return Ok(None) };
    let (measurement, first) = (measurement_again(job)?, measurement(job)?);
    let standing = match Ledger::open(&passport.ledger)? {
        Some(ledger) => ledger.standing(&passport.number, Lines { all: &measurement, first: &first })?,
        None => None,
    };
    // What was cut on the first lines went before the new ones, and yet is of this job: it counts below the face as measured at first.
    if let (Some(again), Some(standing)) = (job.measured_again.as_mut(), standing) {
        again.cut = again.cut.or(Some(standing.told));
    }
    let claims = passport.claims_taken.then_some(job.wheel.allowance.taken);
    let wheel = || passport.number.clone();
    match (claims, standing) {
        (None, None) => return Err(LedgerError::TakenNotKnown { wheel: wheel() }.into()),
        (Some(claimed), Some(Standing { taken: held, .. })) if less(claimed, held) => {
            return Err(LedgerError::ClaimsLess { wheel: wheel(), claimed, held }.into());
        }
        // A job may know of cuts that the ledger does not.
        (Some(_), _) => {}
        (None, Some(Standing { taken, .. })) => job.wheel.allowance.taken = taken,
    }
    Ok(Some(Known { passport, measurement, first, claims, standing }))
}

/// Depths closer than this are equal, millimetres: the ledger keeps whole nanometres.
const SAME: f64 = 1e-6;

fn less(a: Length, b: Length) -> bool {
    a.as_mm() < b.as_mm() - SAME
}

impl Loaded {
    /// How much an earlier program of this job has taken off already: as given, or else as the ledger holds for this measurement.
    ///
    /// # Errors
    /// Where less is given than the ledger holds.
    pub fn already(&self, given: Option<Length>) -> Result<Length, PipelineError> {
        let held = self.known.as_ref().and_then(|k| k.standing).map(|s| s.already);
        match (given, held) {
            (Some(given), Some(held)) if less(given, held) => {
                Err(LedgerError::AlreadyLess { given, held }.into())
            }
            (given, held) => Ok(given.or(held).unwrap_or_default()),
        }
    }

    /// The face that the ledger keeps of the job's wheel: of one survey, or of the last one of another measurement; with its entry.
    ///
    /// # Errors
    /// Where the job has no passport, or the ledger holds no such face.
    pub fn kept_face(
        &self,
        wheel: Option<&str>,
        entry: Option<i64>,
    ) -> Result<(i64, FaceProfile), PipelineError> {
        let Some(known) = &self.known else {
            return Err(LedgerError::Asked(
                "this job's wheel has no passport\n  to mend it: write `ledger: wheels.db` into the shop file, and the wheel's `number` into the job".to_owned(),
            )
            .into());
        };
        let path = &known.passport.ledger;
        let ledger = Ledger::open(path)?.ok_or_else(|| LedgerError::NoLedger { path: path.clone() })?;
        Ok(ledger.face(wheel.unwrap_or(&known.passport.number), entry, &known.measurement)?)
    }

    /// Enters the survey and its proved program in the ledger, where the job has a passport. Nothing of it counts as cut.
    ///
    /// # Errors
    /// Where the ledger cannot be written.
    pub fn record(
        &self,
        surveyed: &Surveyed<'_>,
        program: &ProvedProgram,
        stamp: &Stamp,
    ) -> Result<(), PipelineError> {
        let Some(known) = &self.known else { return Ok(()) };
        let survey = surveyed.survey();
        let record = SurveyRecord {
            number: known.passport.number.clone(),
            name: self.job.wheel.name.clone(),
            measurement: known.measurement.clone(),
            job: self.job.title.clone(),
            claims: known.claims,
            verdict: survey.verdict.words().to_owned(),
            clean_up: Length::mm(survey.depth.clean_up_mm),
            limit: self.job.wheel.allowance.limit,
            face: face_to_keep(survey),
            again: survey.again.as_ref().map(|again| AgainRecord {
                first: known.first.clone(),
                begins: Length::mm(again.begins_mm),
                most: Length::mm(again.most_mm),
                uncertainty: Length::mm(again.uncertainty_of_most()),
            }),
            inches: self.job.control.unit_word.is_inch(),
        };
        let mut ledger = Ledger::open_or_create(&known.passport.ledger)?;
        Ok(ledger.record(stamp, &record, &programs(program, survey.begins()))?)
    }
}

impl Loaded {
    /// Enters a touch check in the ledger. False where the job has no passport.
    ///
    /// # Errors
    /// Where the ledger does not know the measurement, or cannot be written.
    pub fn record_touch(&self, touch: &Touch, stamp: &Stamp) -> Result<bool, PipelineError> {
        let Some(known) = &self.known else { return Ok(false) };
        let path = &known.passport.ledger;
        let mut ledger = Ledger::open(path)?.ok_or_else(|| LedgerError::NoLedger { path: path.clone() })?;
        ledger.record_touch(stamp, &known.passport.number, &known.measurement, touch)?;
        Ok(true)
    }
}

/// Standard deviations within which a height is said to be known.
const COVERAGE: f64 = 2.0;

/// The face of a survey as the ledger keeps it.
#[must_use]
pub fn face_to_keep(survey: &Survey) -> FaceProfile {
    let face = survey.face();
    let known_within = if let Some(run_out) = &survey.run_out {
        run_out.uncertainty_mm
    } else {
        // One line: the middle of the turn may lie half the stated run-out beside it.
        let at = face.lowest.end();
        COVERAGE * survey.noise_mm + (face.highest.at(at) - face.lowest.at(at)) / 2.0
    };
    FaceProfile::between(&face.highest, &face.lowest, Length::mm(known_within))
}

/// The parts of a program with the passes that each runs. The ledger counts their depths from where passes are counted
/// since the last measurement.
fn programs(program: &ProvedProgram, begins: Length) -> Vec<ProgramRecord> {
    let operations = program.plan().operations.iter();
    let mut passes = operations.flat_map(|o| {
        let cutting = o.passes.iter().filter(|p| p.kind != PassKind::Air);
        cutting.map(|pass| pass_to_keep(&o.tool.name, pass, begins))
    });
    let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    let records = program.parts().iter().map(|part| {
        let (text, report) = (part.program(), part.report());
        let told = report.findings().iter().filter(|f| f.rank > Rank::Note);
        ProgramRecord {
            hash: hash(text.text.as_bytes()),
            part: [count(text.part), count(text.of)],
            before: text.before - begins,
            passes: passes.by_ref().take(text.passes).collect(),
            verdict: match report.verdict {
                Verdict::Sound => "sound",
                Verdict::Look => "look",
                Verdict::Stop => "stop",
            }
            .to_owned(),
            findings: told.map(|f| f.what.clone()).collect(),
        }
    });
    records.collect()
}

fn pass_to_keep(tool: &str, pass: &plan::Pass, begins: Length) -> Pass {
    Pass {
        kind: pass.kind.name().to_owned(),
        tool: tool.to_owned(),
        depth: pass.depth,
        total: pass.total - begins,
        spiral: pass.figures.spiral_length,
        chips: pass.figures.chip_volume,
    }
}
