//! Heads that are true for another state of the wheel, or another job, than the one that a program is proved for: each passed as sound when somebody tried
//! it who had not read the proof. Ranks are common practice, no source: what an operator enters moves every cut.

use crate::fixtures::demo;
use facewright::job::{Counted, Job, NextPasses, Only};
use facewright::plan::{Options, plan};
use facewright::proof::{Circumstances, Rank, Report, prove_in};
use facewright::units::Length;

fn demo_text() -> (&'static str, Job) {
    let own = demo::at_controls().first().expect("the demo's own control");
    (&own.parts[0].text, own.job.clone())
}

fn proved(text: &str, job: &Job, already: f64) -> Report {
    let circumstances = Circumstances { already: Length::mm(already), ..Circumstances::default() };
    prove_in(text.as_bytes(), job, &demo::job_and_face().1, &circumstances)
}

fn told(report: &Report, rank: Rank) -> Vec<&'static str> {
    report.findings().iter().filter(|f| f.rank == rank).map(|f| f.rule.id()).collect()
}

/// With more gone than its head was written for a program touches off at heights that are no more: all goes deeper by the difference.
#[test]
fn a_head_is_for_what_is_gone() {
    let (text, job) = demo_text();
    assert!(!told(&proved(text, &job, 0.0), Rank::Stop).contains(&"gone-before"));
    for already in [0.1, 0.2] {
        assert!(told(&proved(text, &job, already), Rank::Stop).contains(&"gone-before"), "{already}");
    }
    // A program that goes on says what is gone.
    let face = &demo::job_and_face().1;
    let options = Options { already: Length::mm(0.2), ..Options::default() };
    let next =
        facewright::gcode::write(&job, &plan(&job, face, options).expect("a plan")).expect("a program");
    let next = &next[0].text;
    assert_eq!(told(&proved(next, &job, 0.2), Rank::Stop), Vec::<&str>::new());
    for already in [0.0, 0.19, 0.25] {
        assert!(told(&proved(next, &job, already), Rank::Stop).contains(&"gone-before"), "{already}");
    }
    // On a setter nothing hangs on it; what else changes is told by rules of its own.
    let mut setter = job;
    setter.touching.setter = Some(facewright::job::Setter { x: Length::mm(280.0), z: Length::mm(40.0) });
    assert!(!told(&proved(text, &setter, 0.2), Rank::Stop).contains(&"gone-before"));
}

/// The job's touch-off was moved since, as off lacquer or damage: the head sends the tools to where it was.
#[test]
fn a_touch_off_at_another_place_than_the_jobs_is_stopped() {
    let (text, mut job) = demo_text();
    assert!(!told(&proved(text, &job, 0.0), Rank::Stop).contains(&"touch-off-elsewhere"));
    job.touch_off = Some(Length::mm(90.0));
    assert!(told(&proved(text, &job, 0.0), Rank::Stop).contains(&"touch-off-elsewhere"));
}

/// All our comments taken out and one of somebody's put in: nothing tells whose wheel it is, and a note says so.
#[test]
fn comments_from_elsewhere_are_no_head() {
    let (text, job) = demo_text();
    let stripped: Vec<&str> = text.lines().filter(|l| !l.starts_with('(')).collect();
    let stripped = stripped.join("\r\n") + "\r\n";
    assert!(told(&proved(&stripped, &job, 0.0), Rank::Warning).contains(&"no-head"));
    let (mark, blocks) = stripped.split_once("\r\n").expect("a mark");
    let other = format!("{mark}\r\n(FILE DEMO.NC)\r\n{blocks}");
    assert!(told(&proved(&other, &job, 0.0), Rank::Note).contains(&"other-head"));
    assert!(!told(&proved(text, &job, 0.0), Rank::Note).contains(&"other-head"));
}

/// The finish is no rough pass: where the next rough ones were asked for, another tool's is stopped.
#[test]
fn a_finish_in_place_of_the_next_rough_pass_is_stopped() {
    let (_, mut job) = demo_text();
    let face = &demo::job_and_face().1;
    let mut of = |next: NextPasses, only: Only| {
        job.schedule.counted = Counted::FromHere(next);
        let options = Options { only, already: Length::mm(0.4), ..Options::default() };
        let parts = facewright::gcode::write(&job, &plan(&job, face, options).expect("a plan"));
        (parts.expect("a program")[0].text.clone(), job.clone())
    };
    let (finish, _) = of(NextPasses::Finish, Only::Finish);
    let (rough, asked) = of(NextPasses::Rough, Only::Rough);
    assert!(told(&proved(&finish, &asked, 0.4), Rank::Stop).contains(&"tool"));
    assert!(!told(&proved(&rough, &asked, 0.4), Rank::Stop).contains(&"tool"));
}
