//! Where the metal ends, for zones that run off it: read from the lines before the survey, and from the face after it.
//!
//! A job whose zones all end at radii is left as it is, and no line is read for it.

use super::PipelineError;
use crate::face::FaceError;
use crate::job::{Job, Zone};
use crate::numeric::order::median;
use crate::scan::{self, MeasuredLines};
use crate::survey::Survey;
use crate::units::Length;
use std::borrow::Cow;

/// Readings so far beyond an edge may be what a sensor sees as it leaves it, millimetres; a nose on its way off goes little further than the next so many.
const AT_THE_EDGE: f64 = 3.0;

/// Metal that falls away by this beyond an edge is out of a pass's way, millimetres: more than a wheel may lose.
const FALLS_AWAY: f64 = 1.0;

/// So many readings are no speck of dirt.
const METAL: usize = 5;

/// The job's lines, without the readings beyond an edge that a person gave.
pub(super) fn open(job: &Job) -> Result<MeasuredLines, PipelineError> {
    let mut lines = scan::open_with_again(&job.measured, job.measured_again.as_ref())?;
    if job.runs_off.any() {
        metal_ends(job, &lines)?;
        let [first, last] = job.runs_off.metal();
        for line in lines.lines.iter_mut().chain(&mut lines.again) {
            line.line.readings.retain(|r| first <= r.x && r.x <= last && !job.runs_off.in_window(r.x));
        }
    }
    Ok(lines)
}

/// Refuses an edge beyond which the readings show that the metal goes on as high as it stands before: a tool would run off into it.
fn metal_ends(job: &Job, lines: &MeasuredLines) -> Result<(), FaceError> {
    let gap = job.measured.longest_gap.as_mm().max(AT_THE_EDGE);
    let [first, last] = job.runs_off.metal();
    // A person may say that what stands there is none.
    let metal = |x: f64| !job.mending.no_metal.iter().any(|s| s.from.as_mm() <= x && x <= s.to.as_mm());
    let readings =
        || lines.lines.iter().flat_map(|l| &l.line.readings).filter(|r| r.z.is_finite() && metal(r.x));
    let outer = [(first, -1.0, f64::INFINITY), (last, 1.0, f64::INFINITY)];
    // In a window it is looked at as far as half of it.
    let windows =
        job.runs_off.windows_mm().flat_map(|[from, to]| [(from, 1.0, to - from), (to, -1.0, to - from)]);
    for (edge, outward, width) in outer.into_iter().chain(windows) {
        let near = gap.min(width / 4.0);
        // How far beyond the edge a reading lies.
        let between = |from: f64, to: f64| {
            let beyond = move |x: f64| outward * (x - edge);
            readings().filter(move |r| from < beyond(r.x) && beyond(r.x) <= to).map(|r| r.z)
        };
        let Some(face) = median(&mut between(-gap, 0.0).collect::<Vec<_>>()) else { continue };
        let as_high = between(near, 2.0 * near).filter(|z| *z > face - FALLS_AWAY).count();
        if as_high >= METAL {
            return Err(FaceError::MetalBeyondEdge { edge: Length::mm(edge), count: as_high });
        }
    }
    Ok(())
}

/// Ends the zones that run off where the readings end.
pub(super) fn resolve(job: &mut Job) -> Result<(), PipelineError> {
    if !job.runs_off.any() {
        return Ok(());
    }
    let lines = open(job)?;
    let readings =
        lines.lines.iter().flat_map(|l| &l.line.readings).filter(|r| !r.suspect && r.x.is_finite());
    let [first, last] =
        readings.fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], r| [a.min(r.x), b.max(r.x)]);
    // Lines without a reading are refused by the survey.
    if first < last {
        covered(job, [first, last])?;
        *job = job.with_metal_between([first, last]);
    }
    Ok(())
}

/// Refuses zones beyond the readings: an edge that lies farther from them than a gap between readings may be wide, for the tool would run off
/// into metal that nobody has measured, and a zone that lies beyond all of them.
fn covered(job: &Job, [first, last]: [f64; 2]) -> Result<(), FaceError> {
    let gap = job.measured.longest_gap.as_mm();
    let asked = job.with_metal_between(job.runs_off.edges([first, last]));
    let ends = |z: &Zone| [z.from, z.to].map(Length::as_mm);
    let beyond =
        |&[from, to]: &[f64; 2]| from < first - gap || to > last + gap || from >= last || to <= first;
    match asked.zones.iter().map(ends).find(beyond) {
        None => Ok(()),
        // Beyond all readings an edge that is the last of them lies before the other end.
        Some([from, to]) => Err(FaceError::NotCovered {
            from: Length::mm(from.min(to)),
            to: Length::mm(from.max(to)),
            start: Length::mm(first),
            end: Length::mm(last),
        }),
    }
}

/// The job with zones that run off where the surveyed face does.
pub(super) fn at_face<'j>(job: &'j Job, survey: &Survey) -> Cow<'j, Job> {
    if !job.runs_off.any() {
        return Cow::Borrowed(job);
    }
    let highest = &survey.face().highest;
    Cow::Owned(job.with_metal_between([highest.start(), highest.end()]))
}
