//! No refusal of our own making: what a person may rightly ask for ends in a sound program, or in a refusal that names the job's own reason.
//!
//! A few of each in every run. The same over all seeds up to 10,000 and every depth by 0.001 mm:
//! `WIDE=1 cargo test --release --test all plan::no_fault`.

use crate::fixtures::{demo, shops};
use facewright::face::Face;
use facewright::gcode::{self, GcodeError};
use facewright::job::{self, Job, PassCount, Step};
use facewright::plan::{self, Only, Options};
use facewright::proof::{self, Circumstances, Rank, Verdict};
use facewright::units::Length;

/// What became of a job.
#[derive(Debug, Clone, PartialEq)]
enum Outcome {
    Sound,
    Refused,
    Fault(String),
}

/// Plans, writes and proves, as the pipeline does, on the demo's face.
fn outcome(job: &Job, face: &Face, options: Options) -> Outcome {
    let Ok(plan) = plan::plan(job, face, options) else { return Outcome::Refused };
    let parts = match gcode::write(job, &plan) {
        Ok(parts) => parts,
        // What the control can hold is the shop's word.
        Err(
            GcodeError::TooLarge { .. } | GcodeError::SequenceFull { .. } | GcodeError::ProgramNumber { .. },
        ) => return Outcome::Refused,
        Err(fault) => return Outcome::Fault(fault.to_string()),
    };
    for part in &parts {
        let goes_on = part.part < part.of || options.only == Only::Rough;
        let circumstances = Circumstances { already: part.before, goes_on };
        let report = proof::read_back(part.text.as_bytes(), job, face, &circumstances).report;
        if report.verdict == Verdict::Stop {
            let stop = report.findings().iter().find(|f| f.rank == Rank::Stop);
            return Outcome::Fault(stop.map_or_else(String::new, |f| f.what.clone()));
        }
    }
    Outcome::Sound
}

fn wide() -> bool {
    std::env::var_os("WIDE").is_some()
}

/// Every depth that may be gone already, with fixed and automatic passes, both steps, one tool and two.
#[test]
fn every_depth_that_is_gone_already_goes_on_soundly() {
    let (demo, face) = demo::job_and_face();
    let by = if wide() { 1 } else { 160 };
    let mut sound = 0;
    for (fixed, normal, one_tool) in (0..8).map(|i| (i & 1 == 1, i & 2 == 2, i & 4 == 4)) {
        let mut job = demo.clone();
        let rough = job.schedule.rough.as_mut().expect("the demo has rough passes");
        if fixed {
            rough.passes = PassCount::Count(3);
        }
        let tool = rough.tool.clone();
        if normal {
            job.schedule.step = Step::Normal;
        }
        if one_tool {
            job.schedule.finish.as_mut().expect("the demo has a finish").tool = tool;
            job.tools.truncate(1);
        }
        let most = (job.wheel.allowance.remaining().as_mm() * 1000.0).round() as u32;
        for depth in (0..=most).step_by(by) {
            let already = Length::mm(f64::from(depth) / 1000.0);
            match outcome(&job, face, Options { already, ..Options::default() }) {
                Outcome::Sound => sound += 1,
                Outcome::Refused => {}
                Outcome::Fault(what) => {
                    panic!("fixed {fixed}, normal {normal}, one tool {one_tool}, already {already}: {what}")
                }
            }
        }
    }
    assert!(sound >= 8 * 4, "only {sound} sound");
}

/// Shops and jobs of all kinds, some of which are refused for a reason of their own.
#[test]
fn no_plausible_job_ends_in_a_fault_of_ours() {
    let (_, face) = demo::job_and_face();
    let folder = tempfile::tempdir().expect("a folder for the two files");
    let seeds = if wide() { 10_000 } else { 24 };
    let mut sound = 0;
    for seed in 0..seeds {
        let made = shops::of_seed(seed);
        std::fs::write(folder.path().join("shop.yaml"), &made.shop).expect("written");
        std::fs::write(folder.path().join("job.yaml"), &made.job).expect("written");
        let Ok(job) = job::load(&folder.path().join("job.yaml")) else { continue };
        let only = match made.only {
            Some("rough") => Only::Rough,
            Some(_) => Only::Finish,
            None => Only::All,
        };
        match outcome(&job, face, Options { only, already: Length::mm(made.already), ..Options::default() }) {
            Outcome::Sound => sound += 1,
            Outcome::Refused => {}
            Outcome::Fault(what) => panic!("seed {seed}: {what}\n{}\n{}", made.shop, made.job),
        }
    }
    assert!(sound * 2 > seeds, "only {sound} of {seeds} sound");
}
