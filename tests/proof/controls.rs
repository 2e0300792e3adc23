//! The demo's wheel at every control: survey, plan, program, proof, from the measured lines to the written words.

use crate::fixtures::controls::VARIANTS;
use crate::fixtures::demo::{AtControl, at_controls, job_and_face};
use crate::fixtures::excerpt::excerpt;
use facewright::proof::{Circumstances, Rank, Report, prove, prove_in};
use std::fmt::Write;

fn stops(report: &Report) -> String {
    let stops = report.findings().iter().filter(|f| f.rank == Rank::Stop);
    stops.fold(String::new(), |mut text, f| {
        let _ = writeln!(text, "line {}: {}: {}", f.line(), f.rule, f.what);
        text
    })
}

/// No program of any control has a finding ranked stop.
#[test]
fn every_control_gets_a_program_that_passes_its_proof() {
    for AtControl { name, job, parts, .. } in at_controls() {
        for part in parts {
            let before = Circumstances {
                already: part.before,
                goes_on: part.part < part.of,
                ..Circumstances::default()
            };
            let report = prove_in(part.text.as_bytes(), job, &job_and_face().1, &before);
            assert!(stops(&report).is_empty(), "{name}:\n{}", stops(&report));
            assert!(report.movements > 50, "{name}: {} motions prove nothing", report.movements);
        }
    }
}

/// The same input gives the same bytes.
#[test]
fn a_program_is_made_of_nothing_but_its_input() {
    for (&(name, change), first) in VARIANTS.iter().zip(at_controls()).take(2) {
        assert!(AtControl::make(name, change).parts == first.parts, "{name}");
    }
}

/// The first program whole, as a technician reads it, and of the others what their controls word otherwise; each change is read line by
/// line before it is kept.
#[test]
fn a_whole_program_and_excerpts_of_the_others() {
    for (i, AtControl { name, parts, .. }) in at_controls().iter().enumerate() {
        let texts = parts.iter().map(|p| p.text.replace('\r', ""));
        let texts = texts.map(|t| if i == 0 { t } else { excerpt(&t) });
        let name = name.replace([',', ' '], "-").replace("--", "-");
        insta::assert_snapshot!(name, texts.collect::<Vec<_>>().join("\n"));
    }
}

/// The report of the demo's program, and of the same with a plunge of 0.3 mm put into the finish pass, down and up again.
#[test]
fn reports_of_the_demo_as_written_and_as_edited_at_the_machine() {
    let AtControl { job, parts, .. } = &at_controls()[0];
    let text = &parts[0].text;
    insta::assert_snapshot!("report", prove(text.as_bytes(), job, &job_and_face().1));

    let begins = text.rfind("(FINISH PASS 1 OF 1").expect("the finish pass has its comment");
    // A block that names its kind of motion may follow any other; one that does not would become a straight one.
    let is_named_arc = |line: &&str| line.contains(" G02 X") || line.contains(" G03 X");
    let arc = text[begins..].lines().filter(is_named_arc).nth(2).expect("the finish pass turns");
    let before = text[..text.find(arc).expect("found above")].lines().next_back().expect("a block");
    let z = before.split(' ').find_map(|w| w.strip_prefix('Z')).expect("the finish pass names Z");
    let deeper = z.parse::<f64>().expect("a number") - 0.3;
    let put_in = format!("G01 Z{deeper:.3}\nZ{z}\n");
    let edited = text.replacen(arc, &format!("{}{arc}", put_in.replace('\n', "\r\n")), 1);
    let report = prove(edited.as_bytes(), job, &job_and_face().1);
    assert_eq!(report.verdict, facewright::proof::Verdict::Stop);
    insta::assert_snapshot!(
        "report-of-an-edited-program",
        format!("before\n{arc}\ncame\n{put_in}\n{report}")
    );
}
