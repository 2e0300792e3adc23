//! The status of the whole job: the worst of survey, plan and proof.

use super::{Origin, Sheet};
use crate::proof::Verdict as Proved;
use crate::survey::{Rank, Verdict as Surveyed};

/// The status at the top of the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Status {
    /// Nothing was found against the cut.
    Ready,
    /// Nothing stops it, but there are warnings to read.
    Look,
    /// Nothing is cut.
    Stop,
}

/// The worst of survey, plan and proof. For a program given by the user, the failure of the job's own plan is only
/// a warning.
#[must_use]
pub fn status(sheet: &Sheet<'_>) -> Status {
    let survey = match &sheet.survey {
        Ok(s) if s.verdict != Surveyed::Cut => Status::Stop,
        Ok(s) if s.findings.iter().any(|f| f.rank >= Rank::Warning) => Status::Look,
        Ok(_) => Status::Ready,
        Err(_) => Status::Stop,
    };
    let plan = match (&sheet.plan, sheet.origin) {
        (Ok(plan), _) if plan.findings.is_empty() => Status::Ready,
        (Ok(_), _) | (Err(_), Origin::Given) => Status::Look,
        (Err(_), Origin::Written) => Status::Stop,
    };
    let proof = sheet.programs.iter().map(|p| match p.report.verdict {
        Proved::Sound => Status::Ready,
        Proved::Look => Status::Look,
        Proved::Stop => Status::Stop,
    });
    let proof = proof.max().unwrap_or(Status::Stop);
    survey.max(plan).max(proof)
}
