//! What a person gets from `facewright survey`: the demos' verdicts, and that nothing else gives out a face.

use facewright::job::{self, Job};
use facewright::report::{survey_page, survey_picture::picture};
use facewright::scan;
use facewright::survey::{self, Rank, Survey, Topic, Verdict};
use std::path::Path;
use std::process::Command;

fn load(name: &str) -> Job {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data").join(name);
    job::load(&path).unwrap_or_else(|e| panic!("{e}"))
}

fn surveyed(job: &Job) -> Survey {
    let traces = scan::open_all(&job.measured).unwrap_or_else(|e| panic!("{e}"));
    survey::survey(job, &traces).unwrap_or_else(|e| panic!("{e}"))
}

fn stops(s: &Survey, topic: Topic) -> bool {
    s.findings.iter().any(|f| f.rule.topic() == topic && f.rank == Rank::Stop)
}

#[test]
fn the_demo_is_cut() {
    let s = surveyed(&load("job.yaml"));
    assert_eq!(s.verdict, Verdict::Cut);
    assert!(s.cleared().is_ok());
    // The generator's own figures: tilt 0.06 mm high at 220 mm on the side at 40 degrees.
    // Its bend of 0.006 mm in two lobes reads as tilt on three lines, and is the uncertainty of both numbers.
    let tilt = s.run_out.as_ref().and_then(|r| r.tilt.as_ref()).unwrap_or_else(|| panic!("no tilt"));
    assert!((tilt.at_rim_mm - 2.0 * 0.06 * 216.0 / 220.0).abs() < 0.014, "{tilt:?}");
    assert!((tilt.high_side_deg - 40.0).abs() < 7.0, "{tilt:?}");
    assert!(survey_page::page(&s).starts_with("CUT: "));
}

/// A number that is torn from its unit at the end of a line is turned into no inches.
#[test]
fn no_number_of_the_page_is_torn_from_its_unit() {
    let s = surveyed(&load("job.yaml"));
    for width in 40..130 {
        let page = survey_page::page_within(&s, width);
        let torn = page.lines().find(|line| {
            ["mm ", "mm.", "mm,", "mm)", "deg "].iter().any(|unit| line.trim_start().starts_with(unit))
        });
        assert_eq!(torn, None, "{width} wide");
    }
}

#[test]
fn the_bent_wheel_is_not_cut() {
    let s = surveyed(&load("bent/job.yaml"));
    assert_eq!(s.verdict, Verdict::DoNotCut);
    assert!(stops(&s, Topic::RunOut));
    assert!(s.cleared().is_err());
    let bend = s.run_out.as_ref().map_or(0.0, |r| r.bend_mm);
    assert!((bend - 2.0 * 0.34 * 216.0 / 220.0).abs() < 0.02, "{bend}");
}

#[test]
fn what_the_survey_refuses_write_refuses() {
    let job = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/bent/job.yaml");
    for command in ["survey", "write"] {
        let done = Command::new(env!("CARGO_BIN_EXE_facewright")).arg(command).arg(&job).output();
        let done = done.unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(done.status.code(), Some(1), "{command}");
        assert!(!String::from_utf8_lossy(&done.stdout).contains("G1"), "{command} gave out a program");
    }
}

#[test]
fn a_tilt_beyond_the_limit_is_cured_by_remounting() {
    let mut job = load("job.yaml");
    job.wheel.run_out_limit = facewright::units::Length::mm(0.08);
    assert_eq!(surveyed(&job).verdict, Verdict::CutAfterRemounting);
}

#[test]
fn one_line_or_a_crack_or_too_little_metal_is_refused() {
    let mut one = load("job.yaml");
    one.measured.lines.truncate(1);
    assert!(stops(&surveyed(&one), Topic::Quality));
    let mut cracked = load("job.yaml");
    cracked.damage[0].kind = job::DamageKind::Crack;
    assert!(stops(&surveyed(&cracked), Topic::Damage));
    let mut thin = load("job.yaml");
    thin.wheel.allowance.taken = facewright::units::Length::mm(0.9);
    assert!(stops(&surveyed(&thin), Topic::Allowance));
}

#[test]
fn a_wheels_name_cannot_steer_a_page_or_a_picture() {
    let mut job = load("job.yaml");
    job.wheel.name = "<script>\u{1b}[2J\u{202e}".into();
    let s = surveyed(&job);
    assert!(!survey_page::page(&s).contains(['\u{1b}', '\u{202e}']));
    assert!(!picture(&s, &job).contains("<script>"));
}
