//! A plan in parts: each tool is touched off once in all of them.

// Counts of steps and bytes: small, and not negative.
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]

use crate::fixtures::demo;
use crate::fixtures::face as made_up;
use crate::fixtures::job as made;
use facewright::face::Face;
use facewright::gcode::{self, ProgramText};
use facewright::job::{Counted, Job, NextPasses, Only, PassCount};
use facewright::pipeline::circumstances;
use facewright::plan::{Options, plan};
use facewright::proof::{self, Circumstances, Finding, Rank};
use facewright::units::{Angle, Length};

/// Words with which a later part says that its first tool stays as it was set.
const STAYS: &str = "DO NOT TOUCH IT OFF AGAIN";

#[test]
fn every_tool_is_touched_off_once_in_all_parts() {
    let (demo, face) = demo::job_and_face();
    let whole = plan(demo, face, Options::default()).expect("a plan");
    let bytes = gcode::write(demo, &whole).expect("a program")[0].text.len();
    let mut most = 0;
    for share in [0.8, 0.6, 0.45, 0.35] {
        let mut job = demo.clone();
        job.control.largest_program = (bytes as f64 * share) as u64;
        let Ok(parts) = gcode::write(&job, &whole) else { continue };
        most = most.max(parts.len());
        for tool in &job.tools {
            let words: Vec<String> = parts.iter().flat_map(|p| touch_offs(&p.text)).collect();
            let of_tool = words.iter().filter(|w| w.contains(&format!("TOOL {} ", tool.number)));
            let anew: Vec<_> = of_tool.filter(|w| !w.contains(STAYS)).collect();
            assert_eq!(anew.len(), 1, "share {share}, tool {}: {words:#?}", tool.number);
        }
    }
    assert!(most > 2, "{most} parts at most");
}

/// Each part is proved on what the parts before it left, and none misses what they made: neither a finish that is divided, nor a count from
/// here, nor the program number that goes on.
#[test]
fn no_part_is_told_of_what_the_parts_before_it_made() {
    let (demo, face) = demo::job_and_face();
    let mut job = demo.clone();
    job.control.largest_program = 8_000;
    job.control.program_number = Some(7);
    let finish = job.schedule.finish.as_mut().expect("the demo has a finish");
    (finish.depth, finish.passes) = (Length::mm(0.03), 3);
    for (counted, only, already) in
        [(Counted::FromMeasured, Only::All, 0.0), (Counted::FromHere(NextPasses::Finish), Only::Finish, 0.3)]
    {
        job.schedule.counted = counted;
        if let (Counted::FromHere(_), Some(rough)) = (counted, &mut job.schedule.rough) {
            // As the next finish passes are asked for.
            rough.passes = PassCount::Count(0);
        }
        let options = Options { already: Length::mm(already), only, ..Options::default() };
        let whole = plan(&job, face, options).expect("a plan");
        let parts = gcode::write(&job, &whole).expect("programs");
        assert!(parts.len() > 1 && parts.last().is_some_and(|p| p.text.contains("FINISH PASS 3 OF 3")));
        for part in &parts {
            let told = told(part, &job, face);
            assert!(told.is_empty(), "{counted:?}, part {}: {told:?}", part.part);
        }
        // Without its last finish pass a part is still found out.
        let last = parts.last().expect("a part");
        let mut cut = last.clone();
        let at = cut.text.rfind("(FINISH PASS 3 OF 3").expect("the last pass");
        let end = cut.text.find("(END").expect("an end");
        cut.text.replace_range(at..end, "");
        assert!(told(&cut, &job, face).iter().any(|rule| rule == "passes-missing"));
    }
}

/// Rest passes of one part are made where the next begins: none is stopped for what they took.
#[test]
fn a_part_begins_where_the_rest_passes_before_it_ended() {
    let climb = 3f64.sqrt();
    let face = &made_up::face(&[
        (60.0, 0.0),
        (88.0, 0.0),
        (90.0, -2.0 * climb),
        (118.0, -2.0 * climb),
        (119.0, -3.0 * climb),
        (150.0, -3.0 * climb),
    ]);
    let mut job = made::job(3, 1, 66.0, 140.0);
    job.tools[1].nose_radius = Length::mm(0.4);
    for tool in &mut job.tools {
        (tool.inner_edge, tool.outer_edge) = (Angle::deg(20.0), Angle::deg(20.0));
    }
    job.schedule.rest_limit = Length::mm(0.08);
    let whole = plan(&job, face, Options::default()).expect("a plan");
    let mut divided = 0;
    for largest in (3_000..9_000).step_by(500) {
        job.control.largest_program = largest;
        let Ok(parts) = gcode::write(&job, &whole) else { continue };
        for (part, among) in parts.iter().zip(circumstances(&parts, Only::All)) {
            let report = proof::read_back(part.text.as_bytes(), &job, face, &among).report;
            let stops: Vec<&Finding> = report.findings().iter().filter(|f| f.rank == Rank::Stop).collect();
            assert!(stops.is_empty(), "{largest} bytes, part {}: {stops:?}", part.part);
        }
        let without_rest = |p: &&ProgramText| p.text.contains("FINISH PASS") && !p.text.contains("REST PASS");
        let rests = parts.iter().any(|p| p.text.contains("REST PASS"));
        divided += usize::from(rests && parts.iter().any(|p| without_rest(&p)));
    }
    assert!(divided > 0, "no finish comes in a part behind its rest passes");
}

/// Which rules of these two the proof of a part names.
fn told(part: &ProgramText, job: &Job, face: &Face) -> Vec<String> {
    let circumstances =
        Circumstances { already: part.before, goes_on: part.part < part.of, ..Circumstances::default() };
    let report = proof::read_back(part.text.as_bytes(), job, face, &circumstances).report;
    // What a part leaves to those behind it is a note; so is another program's number.
    let told = report.findings().iter();
    let told = told.filter(|f| f.rank == Rank::Warning || f.rule.to_string() == "program-number");
    told.map(|f| f.rule.to_string())
        .filter(|rule| rule == "passes-missing" || rule == "program-number")
        .collect()
}

/// The touch-offs of a program's head, each on one line.
fn touch_offs(text: &str) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for line in text.lines().filter_map(|l| l.strip_prefix('(')?.strip_suffix(')')) {
        if let Some(words) = line.strip_prefix("TOUCH-OFF ") {
            all.push(words.to_owned());
        } else if let (Some(more), Some(last)) = (line.strip_prefix("- "), all.last_mut()) {
            // Comments of other kinds are added to the last one too; they name no tool.
            *last += " ";
            *last += more;
        }
    }
    all
}
