//! A made-up wheel, its survey and its programs, and a ledger in a folder of its own.

use facewright::geometry::{Point, Profile};
use facewright::ledger::{
    AgainRecord, Confirmation, FaceProfile, Ledger, Moment, Pass, ProgramRecord, Stamp, SurveyRecord,
};
use facewright::units::Length;
use std::path::PathBuf;
use tempfile::TempDir;

pub fn mm(value: f64) -> Length {
    Length::mm(value)
}

/// A folder with the place of a ledger in it.
pub fn place() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let path = folder.path().join("wheels.db");
    (folder, path)
}

/// An entry of a day in 2026.
pub fn on(month_and_day: &str) -> Stamp {
    let at: Moment = format!("2026-{month_and_day}").parse().expect("a day");
    Stamp { at, by: "A. Turner".into() }
}

/// SHA-256 of nothing in particular.
pub fn hash(name: &str) -> String {
    facewright::pipeline::hash(name.as_bytes())
}

pub fn face() -> FaceProfile {
    let points = (0..300).map(|i| 70.0 + 0.5 * f64::from(i)).map(|r| Point::new(r, (r / 30.0).sin()));
    let profile = Profile::new(points.collect()).expect("a profile");
    FaceProfile::between(&profile, &profile, mm(0.01))
}

/// A wheel as measured, named by the measurement.
pub fn survey(number: &str, measurement: &str, claims: Option<f64>) -> SurveyRecord {
    SurveyRecord {
        number: number.into(),
        name: "made up".into(),
        measurement: hash(measurement),
        job: format!("job of {measurement}"),
        claims: claims.map(mm),
        verdict: "cut".into(),
        clean_up: mm(0.4),
        limit: mm(1.0),
        face: face(),
        again: None,
        inches: false,
    }
}

/// The same wheel measured again after cuts on first lines: at least `begins` is gone, and at most `most`, known within 0.005 mm.
pub fn again(number: &str, measurement: &str, first: &str, begins: f64, most: f64) -> SurveyRecord {
    let again =
        AgainRecord { first: hash(first), begins: mm(begins), most: mm(most), uncertainty: mm(0.005) };
    SurveyRecord { again: Some(again), ..survey(number, measurement, None) }
}

/// A program with rough passes of these depths from a depth down, named by its hash.
pub fn program(name: &str, before: f64, depths: &[f64]) -> ProgramRecord {
    let mut total = before;
    let passes = depths.iter().map(|&depth| {
        total += depth;
        Pass {
            kind: "rough".into(),
            tool: "sweeper".into(),
            depth: mm(depth),
            total: mm(total),
            spiral: mm(1000.0),
            chips: 50.0,
        }
    });
    ProgramRecord {
        hash: hash(name),
        part: [1, 1],
        before: mm(before),
        passes: passes.collect(),
        verdict: "sound".into(),
        findings: Vec::new(),
    }
}

/// So many passes of a program have run; all that remain where none is said.
pub fn run(name: &str, passes: Option<u32>) -> Confirmation {
    Confirmation { hash: hash(name), wheel: None, passes, taken: None, note: String::new() }
}

/// What the ledger holds as taken off a wheel, millimetres.
pub fn taken(ledger: &Ledger, number: &str) -> f64 {
    ledger.wheel(number).expect("readable").expect("known").taken.as_mm()
}
