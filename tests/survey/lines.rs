//! Exact lines over a face given as a formula, surveyed for the demo's job without its damage.

use facewright::job::{self, Job};
use facewright::scan::{MeasuredLine, MeasuredLines};
use facewright::survey::{self, Finding, Rank, Survey};
use std::path::Path;

/// A job with a zone from 70 mm to 216 mm that may lose 0.8 mm and run out 0.30 mm, without damage.
pub fn job() -> Job {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/job.yaml");
    let mut job = job::load(&path).unwrap_or_else(|e| panic!("{e}"));
    job.damage.clear();
    job
}

/// Lines at angles in degrees over a face z(radius, angle in radians).
pub fn surveyed(job: &Job, degrees: &[f64], z: impl Fn(f64, f64) -> f64) -> Survey {
    let lines = degrees
        .iter()
        .map(|&at| {
            let points: Vec<(f64, f64)> = (0..=1600)
                .map(|i| 62.0 + 0.1 * f64::from(i))
                .filter(|&r| r < 218.5)
                .map(|r| (r, z(r, at.to_radians())))
                .collect();
            MeasuredLine::exact(at.to_radians(), &points)
        })
        .collect();
    let traces = MeasuredLines::known(lines);
    survey::survey(job, &traces).unwrap_or_else(|e| panic!("{e}"))
}

/// What is said under a title.
pub fn told<'a>(survey: &'a Survey, title: &str) -> Option<&'a Finding> {
    survey.findings.iter().find(|f| f.rule.title() == title)
}

/// The rank of what is said under a title.
pub fn rank(survey: &Survey, title: &str) -> Option<Rank> {
    told(survey, title).map(|f| f.rank)
}

/// Angles of lines all round, degrees.
pub fn even(lines: u32) -> Vec<f64> {
    (0..lines).map(|i| 360.0 / f64::from(lines) * f64::from(i)).collect()
}
