//! The way from a job file to programs that may be cut: load, measure, survey, plan, write, prove.
//!
//! Each step is a type that only the step before it can make, and a program can be had only as a
//! [`ProvedProgram`]. So no caller can plan a wheel that the survey refused, or save a program that was not
//! proved. Each part of a split program is proved on the metal that the parts before it left.
//!
//! Programs from elsewhere are proved against the same survey by [`Surveyed::prove_other`]; that returns a simulation and a report, never a
//! [`ProvedProgram`].

mod edges;
mod passport;

pub use passport::{face_to_keep, hash};

use crate::diagnostics::SurveyRule;
use crate::face::FaceError;
use crate::gcode::{self, GcodeError, ProgramText, Seen, TryOut};
use crate::input::Input;
use crate::job::{self, Counted, Job, JobError, JobErrors, Variation};
use crate::ledger::LedgerError;
use crate::plan::{self, Only, Options, Plan, PlanError};
use crate::proof::{self, Circumstances, DryReport, Finding, ReadBack, Report, Simulation, Verdict};
use crate::scan::{self, MeasuredLines, ScanError};
use crate::survey::{self, NotClearedError, Survey};
use crate::units::Length;
use std::borrow::Cow;
use std::path::Path;

/// Why a step failed.
#[derive(Debug, thiserror::Error)]
pub enum PipelineError {
    /// The job or shop file cannot be read or contains errors.
    #[error(transparent)]
    Job(Box<JobError>),
    /// They contain several errors.
    #[error(transparent)]
    Faults(Box<JobErrors>),
    /// A scan file cannot be read or contains no measurement.
    #[error(transparent)]
    Scan(Box<ScanError>),
    /// No face can be made from the lines.
    #[error(transparent)]
    Face(#[from] FaceError),
    /// The survey refuses the wheel.
    #[error(transparent)]
    NotCleared(#[from] NotClearedError),
    /// The job cannot be planned as asked.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// The plan cannot be expressed in the control's words.
    #[error(transparent)]
    Gcode(#[from] GcodeError),
    /// The ledger contradicts the job, or cannot be used.
    #[error(transparent)]
    Ledger(#[from] LedgerError),
    /// The written program did not pass its proof.
    #[error(
        "the program does not pass its own proof, and no file is written. This is a fault of facewright, not of the job: please report it with the job, the shop file and the scans\n{0}"
    )]
    Proof(Box<Report>),
    /// The dry program for a new control did not pass its proof.
    #[error("the dry program does not pass its proof, and no file is written: {}\n  to mend it: {}", .0.what, .0.remedy)]
    Dry(Box<Finding>),
}

impl From<JobError> for PipelineError {
    fn from(error: JobError) -> Self {
        Self::Job(Box::new(error))
    }
}

impl From<ScanError> for PipelineError {
    fn from(error: ScanError) -> Self {
        Self::Scan(Box::new(error))
    }
}

/// A job with the shop file that it names, and what the ledger says of its wheel.
#[derive(Debug, Clone)]
pub struct Loaded {
    job: Job,
    known: Option<passport::Known>,
}

/// Reads a job file and the shop file that it names, and asks the shop's ledger for the wheel where the job gives its number: what
/// was taken comes from there then.
///
/// # Errors
/// If either cannot be read or contains errors, if the job claims less than the ledger holds, or if the ledger cannot be read.
pub fn load(path: &Path) -> Result<Loaded, PipelineError> {
    load_varied(path, &Variation::default())
}

/// Reads a job as [`load`] does, varied for one program.
///
/// # Errors
/// As [`load`].
pub fn load_varied(path: &Path, variation: &Variation) -> Result<Loaded, PipelineError> {
    load_input(&path.into(), variation)
}

/// Reads a job as [`load_varied`] does, from a file or standard input.
///
/// # Errors
/// As [`load`].
pub fn load_input(from: &Input, variation: &Variation) -> Result<Loaded, PipelineError> {
    let mut job = job::load_input(from, variation).map_err(|errors| match *errors {
        JobErrors { first, more, inches: false, .. } if more.is_empty() => first.into(),
        several => PipelineError::Faults(Box::new(several)),
    })?;
    let known = passport::ask(&mut job)?;
    edges::resolve(&mut job)?;
    Ok(Loaded { job, known })
}

/// A job by itself: no ledger is asked.
impl From<Job> for Loaded {
    fn from(job: Job) -> Self {
        Self { job, known: None }
    }
}

impl Loaded {
    /// The job.
    #[must_use]
    pub const fn job(&self) -> &Job {
        &self.job
    }

    /// The trial that the job lists, as a separate job; none where it lists no rings. It is cut on a scrap wheel, and nothing of it is
    /// entered in the ledger.
    #[must_use]
    pub fn into_trial(self) -> Option<Self> {
        Some(Self { job: self.job.for_trial()?, known: None })
    }

    /// Writes and proves the dry program that shows what the job's control makes of its words. No scan is read: no wheel is cut.
    ///
    /// # Errors
    /// If the control cannot say it, or its proof stops it.
    pub fn try_out(&self) -> Result<ProvedTryOut, PipelineError> {
        let TryOut { program, seen } = gcode::try_out(&self.job)?;
        let report = proof::prove_dry(program.text.as_bytes(), &self.job);
        match report.findings.first() {
            Some(stop) if report.stops() => Err(PipelineError::Dry(Box::new(stop.clone()))),
            _ => Ok(ProvedTryOut { program, seen, report }),
        }
    }

    /// Reads and conditions the scans that the job names.
    ///
    /// # Errors
    /// If one cannot be read or contains no measurement.
    pub fn measure(&self) -> Result<Measured<'_>, PipelineError> {
        let lines = edges::open(&self.job)?;
        let read: Vec<_> = lines.lines.iter().map(|l| &l.line).collect();
        scan::meaning::check(&self.job, &read).map_err(ScanError::from)?;
        let all: Vec<_> = lines.lines.iter().chain(&lines.again).map(|l| &l.line).collect();
        scan::beyond::check(&self.job, &all).map_err(ScanError::from)?;
        Ok(Measured { job: &self.job, lines })
    }
}

/// A job with its measured lines.
#[derive(Debug, Clone)]
pub struct Measured<'j> {
    job: &'j Job,
    lines: MeasuredLines,
}

impl<'j> Measured<'j> {
    /// The conditioned lines, in the order of the job.
    #[must_use]
    pub const fn lines(&self) -> &MeasuredLines {
        &self.lines
    }

    /// Surveys the wheel from its lines.
    ///
    /// # Errors
    /// If no face over the zones of the job can be made from them.
    pub fn survey(&self) -> Result<Surveyed<'j>, PipelineError> {
        let survey = survey::survey(self.job, &self.lines)?;
        Ok(Surveyed { job: edges::at_face(self.job, &survey), survey })
    }
}

/// A surveyed wheel, whatever the verdict.
#[derive(Debug, Clone)]
pub struct Surveyed<'j> {
    job: Cow<'j, Job>,
    survey: Survey,
}

impl Surveyed<'_> {
    /// The survey.
    #[must_use]
    pub const fn survey(&self) -> &Survey {
        &self.survey
    }

    /// Plans the passes on the face as surveyed.
    ///
    /// # Errors
    /// If the survey refuses the wheel, or the job cannot be planned as asked.
    pub fn plan(&self, options: Options) -> Result<Planned<'_>, PipelineError> {
        let since = options.already;
        let already = self.below_first(since);
        let options = Options { noise: options.noise.or(self.survey.noise()), already, ..options };
        let mut plan = plan::plan(&self.job, self.survey.cleared()?, options)?;
        // Whoever reads the program reads what the survey asked to be looked at.
        plan.look_ahead(&self.job, self.survey.model(), self.survey.face());
        plan.which_face = self.survey.which_face().map(str::to_owned);
        plan.cut_along = Some(self.survey.depth.along.cut);
        // The survey knows nothing of what earlier programs took off: what stays uncleaned is the plan's to say then.
        let goes_on = since.as_mm() > 0.0 || self.job.schedule.counted != Counted::FromMeasured;
        let warnings =
            self.survey.warnings().filter(|f| !goes_on || f.rule != SurveyRule::PassesTooFew.into());
        plan.findings.splice(0..0, warnings.cloned());
        Ok(Planned { surveyed: self, options, plan })
    }

    /// A depth since the wheel was measured last, counted below the highest place as measured at first: the same unless it was measured
    /// again.
    #[must_use]
    pub fn below_first(&self, since: Length) -> Length {
        self.survey.begins() + since
    }

    /// Proves a program from elsewhere, or one edited by hand, on the face as surveyed, or as it stood when it was measured again. Depths
    /// of the circumstances count below the highest place as measured at first ([`Self::below_first`]).
    #[must_use]
    pub fn prove_other(&self, program: &[u8], circumstances: &Circumstances) -> ReadBack {
        let read_back = proof::read_back(program, &self.job, self.survey.face(), circumstances);
        match self.survey.cleared() {
            Ok(_) => read_back,
            Err(why) => ReadBack { report: read_back.report.on_refused_wheel(why.to_string()), ..read_back },
        }
    }
}

/// A plan for a wheel that the survey did not refuse.
#[derive(Debug, Clone)]
pub struct Planned<'s> {
    surveyed: &'s Surveyed<'s>,
    options: Options,
    plan: Plan,
}

impl<'s> Planned<'s> {
    /// The plan.
    #[must_use]
    pub const fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Writes the plan for the job's control.
    ///
    /// # Errors
    /// If the plan cannot be expressed in the control's words.
    pub fn write(self) -> Result<Written<'s>, PipelineError> {
        let parts = gcode::write(&self.surveyed.job, &self.plan)?;
        Ok(Written { planned: self, parts })
    }
}

/// The programs of a plan, not yet proved: their text is available only after [`Written::prove`].
#[derive(Debug, Clone)]
pub struct Written<'s> {
    planned: Planned<'s>,
    parts: Vec<ProgramText>,
}

impl Written<'_> {
    /// Proves every part on the metal that the parts before it left.
    ///
    /// # Errors
    /// If one must not run; then none is returned.
    pub fn prove(self) -> Result<ProvedProgram, PipelineError> {
        let Planned { surveyed, options, plan } = self.planned;
        let among = circumstances(&self.parts, options.only);
        let parts = self.parts.into_iter().zip(among).map(|(program, circumstances)| {
            let read_back = surveyed.prove_other(program.text.as_bytes(), &circumstances);
            match read_back.report.verdict {
                Verdict::Stop => Err(PipelineError::Proof(Box::new(read_back.report))),
                Verdict::Look | Verdict::Sound => Ok(ProvedPart { program, read_back, among: circumstances }),
            }
        });
        Ok(ProvedProgram { parts: parts.collect::<Result<_, _>>()?, plan })
    }
}

/// What the proof of each part of a program must know of the others.
#[must_use]
pub fn circumstances(parts: &[ProgramText], only: Only) -> Vec<Circumstances> {
    let mut rest_passes = 0;
    let of = |(i, part): (usize, &ProgramText)| {
        let next = parts.get(i + 1);
        let goes_on = next.is_some() || only == Only::Rough;
        let among =
            Circumstances { already: part.before, goes_on, ends_at: next.map(|p| p.before), rest_passes };
        rest_passes += part.rest_passes();
        among
    };
    parts.iter().enumerate().map(of).collect()
}

/// A dry program whose proof found no stop.
#[derive(Debug, Clone)]
pub struct ProvedTryOut {
    program: ProgramText,
    seen: Vec<Seen>,
    report: DryReport,
}

impl ProvedTryOut {
    /// The text for the control.
    #[must_use]
    pub const fn program(&self) -> &ProgramText {
        &self.program
    }

    /// What the operator must see, block by block.
    #[must_use]
    pub fn seen(&self) -> &[Seen] {
        &self.seen
    }

    /// What its proof found.
    #[must_use]
    pub const fn report(&self) -> &DryReport {
        &self.report
    }
}

/// A program whose proof found no stop, in one part or several.
#[derive(Debug, Clone)]
pub struct ProvedProgram {
    plan: Plan,
    parts: Vec<ProvedPart>,
}

impl ProvedProgram {
    /// The plan that it was written from.
    #[must_use]
    pub const fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Its parts, in the order in which they run; at least one.
    #[must_use]
    pub fn parts(&self) -> &[ProvedPart] {
        &self.parts
    }
}

/// One part of a proved program.
#[derive(Debug, Clone)]
pub struct ProvedPart {
    program: ProgramText,
    read_back: ReadBack,
    among: Circumstances,
}

impl ProvedPart {
    /// The text for the control.
    #[must_use]
    pub const fn program(&self) -> &ProgramText {
        &self.program
    }

    /// The simulation that was proved.
    #[must_use]
    pub const fn simulation(&self) -> &Simulation {
        &self.read_back.simulation
    }

    /// The report of the proof.
    #[must_use]
    pub const fn report(&self) -> &Report {
        &self.read_back.report
    }

    /// What its proof knew of the other programs of the job.
    #[must_use]
    pub const fn among(&self) -> &Circumstances {
        &self.among
    }
}
