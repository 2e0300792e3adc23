//! No refusal of our own making: what a person may rightly ask for ends in a sound program, or in a refusal that names the job's own reason.
//!
//! A few of each in every run. Ten thousand seeds and every depth by 0.001 mm (seeds below a million are for the demo's face alone):
//! `FROM=1010000 CASES=10000 DEPTHS_BY=1 cargo test --release --test all plan::no_fault -- --nocapture`.

use crate::fixtures::face::profile;
use crate::fixtures::{demo, shops};
use facewright::face::Face;
use facewright::gcode::{self, GcodeError};
use facewright::job::{self, Job, JobError, PassCount, Step};
use facewright::pipeline::circumstances;
use facewright::plan::{self, Only, Options};
use facewright::proof::{self, Rank, Verdict};
use facewright::units::Length;
use std::collections::BTreeMap;

/// What became of a job.
#[derive(Debug, Clone, PartialEq)]
enum Outcome {
    Sound,
    Refused(String),
    Fault(String),
}

/// Plans, writes and proves, as the pipeline does, on the demo's face.
fn outcome(job: &Job, face: &Face, options: Options) -> Outcome {
    let plan = match plan::plan(job, face, options) {
        Ok(plan) => plan,
        Err(reason) => return Outcome::Refused(reason.to_string()),
    };
    let parts = match gcode::write(job, &plan) {
        Ok(parts) => parts,
        // What the control can hold is the shop's word.
        Err(
            reason @ (GcodeError::TooLarge { .. }
            | GcodeError::SequenceFull { .. }
            | GcodeError::ProgramNumber { .. }),
        ) => return Outcome::Refused(reason.to_string()),
        Err(fault) => return Outcome::Fault(fault.to_string()),
    };
    for (part, among) in parts.iter().zip(circumstances(&parts, options.only)) {
        let report = proof::read_back(part.text.as_bytes(), job, face, &among).report;
        if report.verdict == Verdict::Stop {
            let stop = report.findings().iter().find(|f| f.rank == Rank::Stop);
            return Outcome::Fault(stop.map_or_else(String::new, |f| f.what.clone()));
        }
    }
    Outcome::Sound
}

/// Depths by 0.001 mm from nothing to the demo's allowance of 0.8 mm.
const DEPTHS: u64 = 801;

/// A number from the environment, for the long runs by hand.
fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().and_then(|v| v.parse().ok()).unwrap_or(otherwise)
}

/// What became of many jobs.
#[derive(Default)]
struct Tally {
    tried: usize,
    sound: usize,
    /// How many were refused by each reason, with its numbers left out.
    refused: BTreeMap<String, usize>,
    faults: Vec<String>,
}

impl Tally {
    fn note(&mut self, outcome: Outcome, named: impl FnOnce() -> String) {
        self.tried += 1;
        match outcome {
            Outcome::Sound => self.sound += 1,
            Outcome::Refused(reason) => *self.refused.entry(without_numbers(&reason)).or_default() += 1,
            Outcome::Fault(what) => self.faults.push(format!("{what}: {}", named())),
        }
    }

    fn and(mut self, other: Self) -> Self {
        self.tried += other.tried;
        self.sound += other.sound;
        for (reason, count) in other.refused {
            *self.refused.entry(reason).or_default() += count;
        }
        self.faults.extend(other.faults);
        self
    }

    /// Prints the counts, and fails if any is a fault of ours.
    fn judge(&self) {
        println!("tried {}, sound {}, faults of ours {}", self.tried, self.sound, self.faults.len());
        let mut refused: Vec<_> = self.refused.iter().collect();
        refused.sort_by_key(|(_, count)| std::cmp::Reverse(**count));
        for (reason, count) in refused {
            println!("{count:6} refused: {reason}");
        }
        assert!(self.faults.is_empty(), "{} faults of ours:\n{}", self.faults.len(), self.faults.join("\n"));
    }
}

/// A reason as a kind: every number as `0`, one line.
fn without_numbers(reason: &str) -> String {
    let mut out = String::new();
    for c in reason.chars() {
        let c = if c == '\n' { ' ' } else { c };
        let goes_on = out.ends_with('0') && (c.is_ascii_digit() || c == '.' || c == '-');
        if !goes_on {
            out.push(if c.is_ascii_digit() { '0' } else { c });
        }
    }
    out
}

/// Tries the numbers of a range, half of them beside the other half.
fn each(range: std::ops::Range<u64>, try_one: impl Fn(u64, &mut Tally) + Sync) -> Tally {
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        let (range, try_one) = (&range, &try_one);
        let part = |w: usize| {
            let mut tally = Tally::default();
            range.clone().skip(w).step_by(workers).for_each(|i| try_one(i, &mut tally));
            tally
        };
        let parts: Vec<_> = (0..workers).map(|w| scope.spawn(move || part(w))).collect();
        parts.into_iter().fold(Tally::default(), |all, p| all.and(p.join().expect("a worker ends")))
    })
}

/// Every depth that may be gone already, with fixed and automatic passes, both steps, one tool and two.
#[test]
fn every_depth_that_is_gone_already_goes_on_soundly() {
    let (demo, face) = demo::job_and_face();
    let by = number("DEPTHS_BY", 160);
    let mut all = Tally::default();
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
        all = all.and(each(0..DEPTHS.div_ceil(by), |i, tally| {
            let already = Length::mm((i * by) as f64 * 0.001);
            let outcome = outcome(&job, face, Options { already, ..Options::default() });
            tally.note(outcome, || {
                format!("fixed {fixed}, normal {normal}, one tool {one_tool}, already {already}")
            });
        }));
    }
    all.judge();
    assert!(all.sound >= 8 * 4, "only {} sound", all.sound);
}

/// The face of a seed: the demo's, or a made-up one with a scrape as the job lists it.
fn face_of(seed: u64) -> Face {
    let Some(points) = shops::other_face(seed) else { return demo::job_and_face().1.clone() };
    let of = |height: &dyn Fn(&[f64; 3]) -> f64| {
        profile(&points.iter().map(|p| (p[0], height(p))).collect::<Vec<_>>())
    };
    let highest = of(&|p| p[1]);
    let lowest = of(&|p| p[1] - p[2]);
    let damage = of(&|p| if (203.0..=214.0).contains(&p[0]) { 0.35 } else { 0.0 });
    Face { highest, lowest, damage, errors: None, followed: None, taken: None }
}

/// What becomes of the shop and job of a seed.
fn of_seed(seed: u64, tally: &mut Tally) {
    let face = &face_of(seed);
    let made = shops::of_seed(seed);
    let folder = tempfile::tempdir().expect("a folder for the two files");
    std::fs::write(folder.path().join("shop.yaml"), &made.shop).expect("written");
    std::fs::write(folder.path().join("job.yaml"), &made.job).expect("written");
    let only = match made.only {
        Some("rough") => Only::Rough,
        Some(_) => Only::Finish,
        None => Only::All,
    };
    let outcome = match job::load(&folder.path().join("job.yaml")) {
        Err(JobError::Input(refused)) => Outcome::Refused(format!("the files: {}", refused.expected)),
        Err(error) => Outcome::Fault(error.to_string()),
        Ok(job) => {
            let job = job.with_metal_between([face.highest.start(), face.highest.end()]);
            let windows: Vec<[f64; 2]> = job.runs_off.windows_mm().collect();
            let face = face.clone().with_windows(&windows).expect("a face with its windows");
            outcome(&job, &face, Options { only, already: Length::mm(made.already), ..Options::default() })
        }
    };
    tally.note(outcome, || {
        let asked = format!("only {:?}, already {}", made.only, made.already);
        format!("seed {seed}, {asked}\n# shop.yaml\n{}\n# job.yaml\n{}", made.shop, made.job)
    });
}

/// Shops and jobs from a seed on, some of which are refused for a reason of their own; one in so many at least is sound.
fn drawn(name: &str, otherwise: u64, one_in: usize) {
    let from = number(name, otherwise);
    let all = each(from..from + number("CASES", 24), of_seed);
    all.judge();
    assert!(all.sound * one_in > all.tried, "only {} of {} sound", all.sound, all.tried);
}

/// Of all kinds.
#[test]
fn no_plausible_job_ends_in_a_fault_of_ours() {
    drawn("FROM", shops::OTHER_FACES, 3);
}

/// The same where zones run off at windows between them too.
#[test]
fn no_job_with_windows_ends_in_a_fault_of_ours() {
    drawn("FROM_WINDOWS", shops::WITH_WINDOWS, 4);
}

/// What ended in a fault of ours once: rest that parts before may have left at an edge that a zone runs off, a floor between two walls with no radius on
/// it, a holder that lets no pass go deeper, or only few places of it, and one that rests on what the passes before could not take. Then, over other
/// faces: touch-offs beside walls, on a holder's corner and over a stroke that its holder kept off; fillets along the normal after earlier programs; rest and
/// finish passes of parts before; an edge that slides up the last of the face; leads that a change of speed parts. Then the end of an edge beside a holder,
/// where its nose stands elsewhere, rests that a holder left, and a wall at a zone's end as steep as an edge. At windows: an edge that slides over the edge
/// of one along the normal; two strokes that meet in the middle of one; a nose beside the first reading; a holder that reaches a keep-out to the bit; a face
/// that falls from the edge of one more steeply than an edge, and a blunt finish before it; leads parted at a speed and at a quadrant.
#[test]
fn no_job_ends_again_in_a_fault_that_was_mended() {
    let mut all = Tally::default();
    for seed in [700_724, 706_021, 702_110, 702_214, 703_203, 725_874, 706_402, 729_244, 709_595, 705_392] {
        of_seed(seed, &mut all);
    }
    assert_eq!((all.tried, all.sound), (10, 2));
    for seed in [
        1_010_084, 1_010_525, 1_017_662, 1_059_017, 1_014_171, 1_011_364, 1_019_821, 1_059_751, 1_010_938,
        1_011_690, 1_053_730,
    ] {
        of_seed(seed, &mut all);
    }
    assert_eq!((all.tried, all.sound), (21, 12));
    for seed in [
        1_091_672, 1_085_883, 1_083_571, 1_085_494, 1_100_548, 1_136_235, 1_139_505, 1_130_973, 1_121_155,
        1_140_176, 1_144_708, 1_146_764, 1_140_781, 1_069_663, 1_020_511,
    ] {
        of_seed(seed, &mut all);
    }
    all.judge();
    assert_eq!((all.tried, all.sound), (36, 26));
}
