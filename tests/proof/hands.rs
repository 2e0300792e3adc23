//! What people do to a program between the desk and the lathe, tried on the demo at every control: the edits of a hand, an editor, a transfer.
//!
//! Ranks are common practice, no source: what a hand may meet or a person is told wrongly must at least warn.

use crate::cli::journeys::{Bench, text};
use crate::fixtures::demo;
use facewright::proof::{Rank, prove};

/// The demo's program for its own control, proved after an edit.
fn ids(edit: impl Fn(&str) -> String, least: Rank) -> Vec<&'static str> {
    let own = demo::at_controls().first().expect("the demo's own control");
    let (_, face) = demo::job_and_face();
    let text = edit(&own.parts[0].text);
    assert!(text != own.parts[0].text, "an edit that changes nothing");
    let report = prove(text.as_bytes(), &own.job, face);
    report.findings().iter().filter(|f| f.rank >= least).map(|f| f.rule.id()).collect()
}

fn replaced(from: &'static str, to: &'static str) -> impl Fn(&str) -> String {
    move |text| text.replacen(from, to, 1)
}

/// An operator acts on the head: what it tells cannot be proved by any motion, so a change of it is told.
#[test]
fn the_head_is_part_of_the_program() {
    for (from, to) in [
        ("AT X152.0", "AT X76.0"),
        ("ENTER Z0.02", "ENTER Z0.20"),
        ("STAND TOOL 1", "STAND TOOL 2"),
        ("DEPTH 0.1 MM", "DEPTH 0.2 MM"),
        ("GO ON ONLY IF", "GO ON EVEN IF"),
        ("(CHECKSUM ", "(CHECK "),
    ] {
        assert_eq!(ids(replaced(from, to), Rank::Warning), ["text-changed"], "{from} to {to}");
    }
}

#[test]
fn another_wheels_program_is_told_first() {
    for (from, to) in [("(JOB DEMO 7", "(JOB DEMO 8"), ("(WHEEL 17 X 7", "(WHEEL 18 X 8")] {
        let found = ids(replaced(from, to), Rank::Stop);
        assert_eq!(found.first(), Some(&"other-wheel"), "{found:?}");
    }
}

/// What a transfer or an editor does to blanks and line ends changes nothing, and what a hand does to words is proved as it is.
#[test]
fn harmless_changes_are_no_alarm() {
    let none: Vec<&str> = Vec::new();
    assert_eq!(ids(|t| t.replace("\r\n", "\n"), Rank::Note), none);
    assert_eq!(ids(|t| t.replace("\r\n", "\r\n\r\n"), Rank::Note), none);
    assert_eq!(ids(|t| t.replace(" F0.4", " F0.38"), Rank::Note), ["words-changed"]);
}

#[test]
fn a_hand_may_be_in_there() {
    let stop = |from, to| ids(replaced(from, to), Rank::Stop);
    // M05 before the stop after the air pass: lost, behind a skip mark, or typed M03.
    assert!(stop(" M05\r\n(STOP.", "\r\n(STOP.").contains(&"stop-while-turning"));
    assert!(stop(" M05\r\n(STOP.", " M03\r\n(STOP.").contains(&"stop-while-turning"));
    // The second tool: its stop lost, made optional, or its call lost.
    let second = |text: &str, from: &str, to: &str| {
        let at = text.find("TOUCH OFF THIS TOOL").expect("a second tool");
        format!("{}{}", &text[..at], text[at..].replacen(from, to, 1))
    };
    assert!(ids(|t| second(t, "M00", "G04 P1."), Rank::Stop).contains(&"tool-not-touched-off"));
    assert!(ids(|t| second(t, "M00", "M01"), Rank::Stop).contains(&"tool-not-touched-off"));
    assert!(ids(|t| second(t, "T0202", "G40"), Rank::Stop).contains(&"offset-not-taken-up"));
    assert!(ids(|t| second(t, "T0202", "T0200"), Rank::Stop).contains(&"tool-offset-off"));
}

/// An air pass lowered or raised all along shows the path no better: it is told.
#[test]
fn an_air_pass_at_another_height_is_told() {
    let moved = |by: f64| {
        move |text: &str| -> String {
            let (mut air, mut out) = (0, String::new());
            for line in text.split_inclusive('\n') {
                air += i32::from(line.starts_with("(AIR PASS 1"));
                air += i32::from(line.starts_with("(STOP."));
                // The second time the title stands before the pass itself; rapids and lead-in stay above the park's clearance.
                let z = line
                    .split('Z')
                    .nth(1)
                    .and_then(|z| z.split_whitespace().next())
                    .and_then(|z| z.parse::<f64>().ok());
                match z.filter(|z| air == 2 && *z < 1.5) {
                    Some(z) => out.push_str(&line.replacen(
                        &format!(
                            "Z{}",
                            line.split('Z').nth(1).and_then(|z| z.split_whitespace().next()).unwrap_or("")
                        ),
                        &format!("Z{:.3}", z + by),
                        1,
                    )),
                    None => out.push_str(line),
                }
            }
            out
        }
    };
    for by in [-0.6, 0.8] {
        let found = ids(moved(by), Rank::Warning);
        assert!(found.contains(&"air-pass-height"), "{by}: {found:?}");
    }
}

/// A wheel that the survey refuses is refused by the proof too, whatever the program.
#[test]
fn the_verdict_of_the_survey_binds_the_proof() {
    let bench = Bench::new();
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    bench.change("job.yaml", "kind: scrape", "kind: crack");
    let proved = bench.run(&["proof", "out.nc", "--job", "job.yaml"]);
    let said = text(&proved.stdout);
    assert_eq!(proved.status.code(), Some(1), "{said}");
    assert!(said.starts_with("STOP") && said.contains("wheel-refused"), "{said}");
}
