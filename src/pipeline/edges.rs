//! Where the metal ends, for zones that run off it: read from the lines before the survey, and from the face after it.
//!
//! A job whose zones all end at radii is left as it is, and no line is read for it.

use super::PipelineError;
use crate::job::Job;
use crate::scan::{self, MeasuredLines};
use crate::survey::Survey;
use std::borrow::Cow;

/// The job's lines, without the readings beyond an edge that a person gave.
pub(super) fn open(job: &Job) -> Result<MeasuredLines, PipelineError> {
    let mut lines = scan::open_with_again(&job.measured, job.measured_again.as_ref())?;
    if job.runs_off.any() {
        let [first, last] = job.runs_off.metal();
        for line in lines.lines.iter_mut().chain(&mut lines.again) {
            line.line.readings.retain(|r| first <= r.x && r.x <= last);
        }
    }
    Ok(lines)
}

/// Ends the zones that run off where the readings end.
pub(super) fn resolve(job: &mut Job) -> Result<(), PipelineError> {
    if !job.runs_off.any() {
        return Ok(());
    }
    let lines = open(job)?;
    let readings =
        lines.lines.iter().flat_map(|l| &l.line.readings).filter(|r| !r.suspect && r.x.is_finite());
    let ends = readings.fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], r| [a.min(r.x), b.max(r.x)]);
    // Lines without a reading are refused by the survey.
    if ends[0] < ends[1] {
        *job = job.with_metal_between(ends);
    }
    Ok(())
}

/// The job with zones that run off where the surveyed face does.
pub(super) fn at_face<'j>(job: &'j Job, survey: &Survey) -> Cow<'j, Job> {
    if !job.runs_off.any() {
        return Cow::Borrowed(job);
    }
    let highest = &survey.face().highest;
    Cow::Owned(job.with_metal_between([highest.start(), highest.end()]))
}
