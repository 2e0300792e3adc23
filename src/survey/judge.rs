//! The judgement: every number against its limit, with what it means and what to do.

use super::rings::Ring;
use super::{Again, AllowanceUse, Depth, RunOut, again, harm, metal, quality, running};
use crate::diagnostics::{Finding, Rank};
use crate::face::model::WheelModel;
use crate::job::{Acceptance, Job};
use crate::scan::MeasuredLines;

/// All that is judged.
pub(super) struct Case<'a> {
    pub job: &'a Job,
    pub lines: &'a MeasuredLines,
    pub model: &'a WheelModel,
    pub rings: &'a [Ring],
    pub run_out: Option<&'a RunOut>,
    pub depth: &'a Depth,
    pub allowance: &'a AllowanceUse,
    pub again: Option<&'a Again>,
}

impl Case<'_> {
    /// A finding that waits for the job to settle it, or is only told where the job has.
    pub fn unless_accepted(&self, finding: Finding, by: Acceptance) -> Finding {
        if self.job.accept.contains(&by) { Finding { rank: Rank::Warning, ..finding } } else { finding }
    }
}

/// Everything there is to say, by topic, the heaviest of each first.
pub(super) fn findings(case: &Case<'_>) -> Vec<Finding> {
    let mut found = quality::findings(case);
    found.extend(running::findings(case));
    found.extend(harm::findings(case));
    found.extend(metal::deep(case));
    found.extend(case.again.iter().flat_map(|a| again::findings(case.job, a)));
    // A promise that remounting helps needs a tilt that is known.
    let tilt_known = case.run_out.is_some_and(|r| r.tilt.is_some());
    found.push(metal::metal(case.allowance, case.depth, case.job, tilt_known));
    // A stable sort: within a rank the order above stays.
    found.sort_by_key(|f| (f.rule.topic(), std::cmp::Reverse(f.rank)));
    found
}
