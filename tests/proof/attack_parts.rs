//! Metal that a later pass must not take at once, because an edit left it to that pass: passes lost from parts and from programs that go on, where
//! the control reads no comments too, and a pass lost over one zone of two.
//!
//! Each edit passed as sound when somebody tried it who had not read the proof. Ranks are common practice, no source.

use crate::fixtures::face::face;
use crate::fixtures::job as made;
use facewright::face::Face;
use facewright::gcode::{self, ProgramText};
use facewright::job::{
    Comments, Coolant, Counted, Job, LineEnd, NextPasses, Only, PassCount, PassKind, Sequence, Zone,
};
use facewright::pipeline::circumstances;
use facewright::plan::{Options, plan};
use facewright::proof::{Circumstances, Rank, prove_in};
use facewright::units::{Angle, Length};

/// A valley of 60 degrees to one side, where a blunt nose leaves metal standing.
fn valley() -> Face {
    let climb = 3f64.sqrt();
    face(&[(60.0, 0.0), (88.0, 0.0), (90.0, -2.0 * climb), (150.0, -2.0 * climb)])
}

/// A level face.
fn level() -> Face {
    face(&[(60.0, 0.0), (150.0, 0.0)])
}

/// So many rough passes with a nose of 2 mm, and finish passes with one of 0.4 mm.
fn job(rough: u32, finish: u32) -> Job {
    let mut job = made::job(rough, finish, 66.0, 140.0);
    (job.tools[0].nose_radius, job.tools[1].nose_radius) = (Length::mm(2.0), Length::mm(0.4));
    for tool in &mut job.tools {
        (tool.inner_edge, tool.outer_edge) = (Angle::deg(20.0), Angle::deg(20.0));
    }
    job.schedule.rest_limit = Length::mm(0.08);
    (job.control.sequence, job.control.line_end) = (Sequence::None, LineEnd::Lf);
    job
}

/// The programs of a job, and what the proof of each must know of the others.
fn programs(job: &Job, face: &Face, options: Options) -> Vec<(ProgramText, Circumstances)> {
    let plan = plan(job, face, options).expect("a plan");
    let parts = gcode::write(job, &plan).expect("a program");
    let among = circumstances(&parts, options.only);
    parts.into_iter().zip(among).collect()
}

/// Every part of a job divided in every way that small memories divide it, with what its proof must know of the others.
fn divided(job: &Job, face: &Face) -> Vec<(ProgramText, Circumstances)> {
    let plan = plan(job, face, Options::default()).expect("a plan");
    let mut job = job.clone();
    let sizes = (1_500..9_000).step_by(100);
    let divided = sizes.filter_map(|largest| {
        job.control.largest_program = largest;
        gcode::write(&job, &plan).ok().filter(|parts| parts.len() > 1)
    });
    let mut all: Vec<Vec<ProgramText>> = divided.collect();
    all.dedup();
    let among = |parts: Vec<ProgramText>| {
        let among = circumstances(&parts, Only::All);
        parts.into_iter().zip(among)
    };
    all.into_iter().flat_map(among).collect()
}

/// What is told at a warning or above.
fn told(text: &str, job: &Job, face: &Face, among: &Circumstances) -> Vec<String> {
    let report = prove_in(text.as_bytes(), job, face, among);
    let told = report.findings().iter().filter(|f| f.rank >= Rank::Warning);
    told.map(|f| format!("{} {}", f.rank, f.rule.id())).collect()
}

fn is_stopped(text: &str, job: &Job, face: &Face, among: &Circumstances) {
    let told = told(text, job, face, among);
    assert!(told.iter().any(|t| t.starts_with("stop")), "{told:?}\n{text}");
}

fn lines(text: &str) -> Vec<&str> {
    text.lines().collect()
}

/// The lines of a pass, from the comment that names it to the next one's.
fn of_pass(lines: &[&str], name: &str) -> std::ops::Range<usize> {
    let begins = |line: &str| line.starts_with('(') && !line.starts_with("(- ") && line.contains(" PASS ");
    let from = lines.iter().rposition(|l| l.starts_with(&format!("({name} "))).expect("the pass");
    let behind = lines[from + 1..].iter().position(|l| begins(l) || *l == "M30" || *l == "%");
    from..from + 1 + behind.expect("something behind it")
}

/// A text without some of its lines.
fn without(text: &str, gone: &std::ops::Range<usize>) -> String {
    text.split_inclusive('\n').enumerate().filter(|(i, _)| !gone.contains(i)).map(|(_, line)| line).collect()
}

/// The text as a control without comments has it.
fn silent(text: &str) -> String {
    text.split_inclusive('\n').filter(|l| !l.starts_with('(')).collect()
}

/// A job at a control that reads no comments.
fn silenced(job: &Job) -> Job {
    let mut job = job.clone();
    job.control.traits.comments = Comments::None;
    job
}

/// Rest passes lost from a part: the finish takes what they should have.
#[test]
fn rest_passes_lost_from_a_part_are_stopped() {
    let (face, job) = (valley(), job(3, 1));
    let silent_job = silenced(&job);
    let mut tried = 0;
    for (part, among) in divided(&job, &face) {
        let first = |kind: PassKind| part.names.iter().find(|n| n.kind == kind).map(|n| n.number);
        let (Some(rest), Some(finish)) = (first(PassKind::Rest), first(PassKind::Finish)) else { continue };
        assert_eq!(told(&silent(&part.text), &silent_job, &face, &among), [""; 0]);
        let at = lines(&part.text);
        let [rest, finish] =
            [of_pass(&at, &format!("REST PASS {rest}")), of_pass(&at, &format!("FINISH PASS {finish}"))];
        let lost = without(&part.text, &(rest.start..finish.start));
        is_stopped(&silent(&lost), &silent_job, &face, &among);
        tried += 1;
    }
    assert!(tried > 0, "no part has rest passes before the finish");
}

/// A finish behind rest passes of another part is sound only if those are said to be made.
#[test]
fn rest_passes_that_nobody_made_are_not_taken_for_made() {
    let (face, job) = (valley(), silenced(&job(3, 1)));
    let mut tried = 0;
    for (part, among) in divided(&job, &face).iter().filter(|(_, among)| among.rest_passes > 0) {
        assert_eq!(told(&part.text, &job, &face, among), [""; 0]);
        is_stopped(&part.text, &job, &face, &Circumstances { rest_passes: 0, ..*among });
        tried += 1;
    }
    assert!(tried > 0, "no part comes behind rest passes");
}

/// A rough pass lost from a part, where no head says what it takes: the next part takes double.
#[test]
fn a_pass_lost_from_a_part_without_comments_is_stopped() {
    let (face, job) = (level(), job(5, 1));
    let silent_job = silenced(&job);
    let mut tried = 0;
    for (part, among) in divided(&job, &face).iter().filter(|(_, among)| among.ends_at.is_some()) {
        assert_eq!(told(&silent(&part.text), &silent_job, &face, among), [""; 0]);
        for name in part.names.iter().filter(|n| n.kind == PassKind::Rough) {
            let gone = of_pass(&lines(&part.text), &format!("ROUGH PASS {}", name.number));
            is_stopped(&silent(&without(&part.text, &gone)), &silent_job, &face, among);
            tried += 1;
        }
    }
    assert!(tried > 1, "{tried}");
}

/// One rough pass more is one: neither none nor two.
#[test]
fn one_more_rough_pass_is_neither_none_nor_two() {
    let face = level();
    for finish_too in [false, true] {
        let mut job = silenced(&job(1, 2));
        job.schedule.counted = Counted::FromHere(NextPasses::Rough);
        if finish_too {
            let rough = job.schedule.rough.as_ref().expect("rough").tool.clone();
            job.schedule.finish.as_mut().expect("finish").tool = rough;
        }
        let next = |already: f64| {
            let options = Options { only: Only::Rough, already: Length::mm(already), ..Options::default() };
            programs(&job, &face, options).remove(0)
        };
        let (once, among) = next(0.2);
        assert_eq!(told(&once.text, &job, &face, &among), [""; 0]);
        // With the pass itself lost only the air pass is left.
        let at = lines(&once.text);
        let begins: Vec<usize> = (0..at.len()).filter(|&i| at[i].starts_with("G18 ")).collect();
        let end = at.iter().position(|l| *l == "M30").expect("an end");
        let none = without(&once.text, &(begins[1]..end));
        let said = told(&none, &job, &face, &among);
        assert!(said.iter().any(|t| t == "stop part-takes-less"), "{said:?}");
        // Another one behind it takes metal that nobody asked it to.
        let (again, _) = next(0.3);
        let cut = lines(&again.text);
        let from = cut.iter().enumerate().filter(|(_, l)| l.starts_with("G18 ")).nth(1).expect("a pass").0;
        let to = cut.iter().position(|l| *l == "M30").expect("an end");
        let both: Vec<&str> =
            at[..end].iter().chain(&["M00"]).chain(&cut[from..to]).chain(&at[end..]).copied().collect();
        is_stopped(&(both.join("\n") + "\n"), &job, &face, &among);
    }
}

/// The first of two finish passes lost over one of two zones: the second takes double there.
#[test]
fn a_finish_lost_over_one_zone_is_told() {
    let face = level();
    let mut job = job(2, 2);
    let rough = job.schedule.rough.as_ref().expect("rough").tool.clone();
    job.schedule.finish.as_mut().expect("finish").tool = rough;
    job.zones = [[66.0, 100.0], [110.0, 140.0]]
        .map(|[from, to]| Zone { from: Length::mm(from), to: Length::mm(to) })
        .to_vec();
    let (part, among) = programs(&job, &face, Options::default()).remove(0);
    assert_eq!(told(&part.text, &job, &face, &among), [""; 0]);
    let at = lines(&part.text);
    for pass in ["FINISH PASS 1", "FINISH PASS 2"] {
        let range = of_pass(&at, pass);
        // The runs of cuts in the pass: the second is lost, with the way to it.
        let rapid = |i: &usize| at[*i].starts_with("G00") || at[*i].starts_with("G97");
        let cuts: Vec<usize> = range.clone().filter(|i| at[*i].starts_with("G01")).collect();
        let hop = range.clone().filter(rapid).find(|i| *i > cuts[0]).expect("a way up");
        let next = cuts.iter().find(|i| **i > hop).expect("a second run");
        let end = range.filter(rapid).find(|i| i > next).expect("a way out");
        let said = told(&without(&part.text, &(hop..end)), &job, &face, &among);
        let wanted = if pass.ends_with('1') { "warning finish-takes-more" } else { "warning metal-left" };
        assert!(said.iter().any(|t| t == wanted), "{pass}: {said:?}");
    }
}

/// At a control without comments nobody tells ours from another: M05 and M09 before the first start are asked for.
#[test]
fn what_may_be_left_on_is_told_without_comments_too() {
    let face = level();
    let mut job = silenced(&job(2, 1));
    job.control.coolant = Coolant::M08;
    let (part, among) = programs(&job, &face, Options::default()).remove(0);
    assert_eq!(told(&part.text, &job, &face, &among), [""; 0]);
    for (word, rule) in [("M05", "warning spindle-unset"), ("M09", "warning coolant-unset")] {
        let at = lines(&part.text);
        let line = at.iter().position(|l| l.split(' ').any(|w| w == word)).expect("the word");
        let kept: Vec<&str> = at[line].split(' ').filter(|w| *w != word).collect();
        let kept = kept.join(" ");
        let edited: Vec<&str> =
            at.iter().enumerate().map(|(i, l)| if i == line { kept.as_str() } else { l }).collect();
        let edited: Vec<&str> = edited.into_iter().filter(|l| !l.is_empty()).collect();
        let said = told(&(edited.join("\n") + "\n"), &job, &face, &among);
        assert!(said.iter().any(|t| t == rule), "{word}: {said:?}");
    }
}

/// A job whose passes are not counted says as much of the next rough passes.
#[test]
fn next_rough_passes_are_counted_where_the_schedule_counts_none() {
    let mut job = job(1, 1);
    job.schedule.counted = Counted::FromHere(NextPasses::Rough);
    if let Some(rough) = &mut job.schedule.rough {
        rough.passes = PassCount::Count(2);
    }
    let options = Options { only: Only::Rough, already: Length::mm(0.1), ..Options::default() };
    let (part, among) = programs(&job, &level(), options).remove(0);
    assert_eq!(told(&part.text, &job, &level(), &among), [""; 0]);
    let gone = of_pass(&lines(&part.text), "ROUGH PASS 2");
    is_stopped(&without(&part.text, &gone), &job, &level(), &among);
}
