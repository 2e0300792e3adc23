//! The demo's wheel at every control: survey, plan, program, proof, from the measured lines to the written words.

#[path = "common/controls.rs"]
mod controls;

use facewright::face::Face;
use facewright::job::{self, Job};
use facewright::plan::{Options, plan};
use facewright::program::{self, ProgramText};
use facewright::proof::{Circumstances, Rank, Report, prove_in};
use facewright::survey::survey;
use facewright::trace::Trace;
use std::fmt::Write;
use std::path::Path;
use std::sync::OnceLock;

fn demo() -> &'static (Job, Face) {
    static DEMO: OnceLock<(Job, Face)> = OnceLock::new();
    DEMO.get_or_init(|| {
        let job = job::load(Path::new("demo-data/job.yaml")).expect("the demo's job is whole");
        let lines = job.measured.lines.iter();
        let traces: Vec<Trace> =
            lines.map(|l| Trace::open(l, &job.measured).expect("the scans are whole")).collect();
        let survey = survey(&job, &traces).expect("the demo's wheel has a face");
        let face = survey.cleared().expect("the demo's wheel may be cut").clone();
        (job, face)
    })
}

fn written(change: fn(&mut Job)) -> (Job, Vec<ProgramText>) {
    let (job, face) = demo();
    let mut job = job.clone();
    change(&mut job);
    let plan = plan(&job, face, Options::default()).unwrap_or_else(|refusal| panic!("{refusal}"));
    let parts = program::write(&job, &plan).unwrap_or_else(|error| panic!("{error}"));
    (job, parts)
}

fn stops(report: &Report) -> String {
    let stops = report.findings().iter().filter(|f| f.rank == Rank::Stop);
    stops.fold(String::new(), |mut text, f| {
        let _ = writeln!(text, "line {}: {}: {}", f.line, f.kind, f.what);
        text
    })
}

/// No program of any control has a finding ranked stop.
#[test]
fn every_control_gets_a_program_that_passes_its_proof() {
    for &(name, change) in controls::VARIANTS {
        let (job, parts) = written(change);
        for part in &parts {
            let before = Circumstances { already: part.before };
            let report = prove_in(part.text.as_bytes(), &job, &demo().1, &before);
            assert!(stops(&report).is_empty(), "{name}:\n{}", stops(&report));
            assert!(report.movements > 50, "{name}: {} motions prove nothing", report.movements);
        }
    }
}

/// The same input gives the same bytes.
#[test]
fn a_program_is_made_of_nothing_but_its_input() {
    for &(_, change) in &controls::VARIANTS[..2] {
        assert!(written(change).1 == written(change).1);
    }
}

/// Whole programs as a technician reads them; each change of one is read line by line before it is kept.
#[test]
fn whole_programs() {
    for &(name, change) in controls::VARIANTS.iter().take(6) {
        let (_, parts) = written(change);
        let text = parts[0].text.replace('\r', "");
        insta::assert_snapshot!(name.replace([',', ' '], "-").replace("--", "-"), text);
    }
}
