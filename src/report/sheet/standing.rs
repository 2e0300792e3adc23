//! The verdict over everything: the worst of survey, plan and proof.

use super::{Origin, Sheet};
use crate::proof::Verdict as Proved;
use crate::survey::{Rank, Verdict as Surveyed};

/// What the page says first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// Nothing stands against the cut.
    Ready,
    /// Nothing stops it, but there are warnings to read.
    Look,
    /// Nothing is cut.
    Stop,
}

/// The worst of survey, plan and proof. A program that was given is proved by itself; that nothing could be planned for
/// the job is then a warning.
#[must_use]
pub fn standing(sheet: &Sheet<'_>) -> Standing {
    let survey = match &sheet.survey {
        Ok(s) if s.verdict != Surveyed::Cut => Standing::Stop,
        Ok(s) if s.findings.iter().any(|f| f.rank >= Rank::Warning) => Standing::Look,
        Ok(_) => Standing::Ready,
        Err(_) => Standing::Stop,
    };
    let plan = match (&sheet.plan, sheet.origin) {
        (Ok(plan), _) if plan.findings.is_empty() => Standing::Ready,
        (Ok(_), _) | (Err(_), Origin::Given) => Standing::Look,
        (Err(_), Origin::Written) => Standing::Stop,
    };
    let proof = sheet.programs.iter().map(|p| match p.report.verdict {
        Proved::Sound => Standing::Ready,
        Proved::Look => Standing::Look,
        Proved::Stop => Standing::Stop,
    });
    let proof = proof.max().unwrap_or(Standing::Stop);
    survey.max(plan).max(proof)
}
