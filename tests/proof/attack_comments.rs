//! Edits that once passed as sound, and edits that once were stopped for nothing, tried on the demo at every control: numbers in comments, the first
//! motion, lines of the shop's own, a finish that is too thick, and what an editor leaves at the ends of lines.
//!
//! Ranks are common practice, no source.

use super::attack::{code, each, has, places, put};
use crate::fixtures::demo::{at_controls, job_and_face};
use facewright::gcode;
use facewright::job::{Comments, PassCount};
use facewright::plan::{Options, plan};
use facewright::proof::{Circumstances, Rank, prove_in};
use facewright::units::Length;

/// `ENTER Z15 2.0` is read by somebody, and not as it was written.
#[test]
fn a_blank_in_a_number_of_a_comment_is_told() {
    let tried = each(&["text-changed"], Rank::Warning, |lines, _| {
        let parted = |i: usize| {
            let line = &lines[i];
            let digits = |k: &usize| {
                let [a, b] = [line.as_bytes()[*k - 1], line.as_bytes()[*k]];
                a.is_ascii_digit() && (b.is_ascii_digit() || b == b'.')
            };
            let at = (1..line.len()).find(digits)?;
            let mut lines = lines.to_vec();
            lines[i].insert(at, ' ');
            Some(lines)
        };
        let comment = |l: &str| l.starts_with(['(', ';']) && !l.contains("CHECKSUM");
        places(lines, comment).into_iter().step_by(3).filter_map(parted).take(8).collect()
    });
    assert!(tried > 50, "{tried}");
}

/// Up and across joined into one block: whoever does that trusts that the tool stands at the park.
#[test]
fn a_first_motion_up_and_across_at_once_is_told() {
    let tried = each(&["not-up-first"], Rank::Warning, |lines, job| {
        if job.control.traits.comments == Comments::None {
            return Vec::new();
        }
        let moves = |l: &&String| code(l).split(' ').any(|w| w.starts_with(['X', 'Z']));
        let Some(up) = lines.iter().position(|l| moves(&l)) else { return Vec::new() };
        if has(&lines[up], "G28") || !code(&lines[up]).contains('Z') {
            return Vec::new();
        }
        let across = lines[up + 1..].iter().find(|l| code(l).split(' ').any(|w| w.starts_with('X')));
        let word =
            across.and_then(|l| code(l).split(' ').find(|w| w.starts_with('X'))).expect("a way across");
        let mut joined = lines.to_vec();
        joined[up] = format!("{} {word}", lines[up].trim_end());
        vec![joined]
    });
    assert!(tried >= 10, "{tried}");
}

/// What opens a clamp may shut it again.
#[test]
fn a_line_of_the_shops_own_that_comes_twice_is_told() {
    let tried = each(&["extra-line-again"], Rank::Warning, |lines, job| {
        let declared = &job.control.traits.extra_lines;
        let own = |l: &str| {
            let words: Vec<&str> =
                code(l).split(' ').filter(|w| !w.is_empty() && !w.starts_with('N')).collect();
            let same = |line: &&facewright::job::ExtraLine| {
                line.words.len() == words.len()
                    && line
                        .words
                        .iter()
                        .zip(&words)
                        .all(|(a, b)| b.starts_with(a.letter) && b[1..].parse::<f64>() == Ok(a.value()))
            };
            let waits = words.first().is_some_and(|w| w.starts_with("G04") || *w == "G4");
            !waits && declared.all().any(|line| same(&line))
        };
        places(lines, own).into_iter().map(|i| put(lines, i, code(&lines[i]).trim())).collect()
    });
    assert!(tried > 2, "{tried}");
}

/// With one tool for both the sweep holds it to the deeper kind of pass: a finish of a rough pass's depth was sound.
#[test]
fn a_finish_that_takes_more_than_the_schedule_gives_it_is_told() {
    let (demo, face) = job_and_face();
    let job_with = |rough: f64, finish: f64| {
        let mut job = demo.clone();
        let schedule = &mut job.schedule;
        let (first, last) =
            (schedule.rough.as_mut().expect("rough"), schedule.finish.as_mut().expect("finish"));
        last.tool = first.tool.clone();
        (first.depth, first.passes) = (Length::mm(rough), PassCount::Count(3));
        (last.depth, last.passes) = (Length::mm(finish), 1);
        job
    };
    let asked = job_with(0.10, 0.04);
    let told = |written: &facewright::job::Job| {
        let plan = plan(written, face, Options::default()).expect("a plan");
        let parts = gcode::write(written, &plan).expect("a program");
        let report = prove_in(parts[0].text.as_bytes(), &asked, face, &Circumstances::default());
        report.findings().iter().filter(|f| f.rank >= Rank::Warning).map(|f| f.rule.id()).collect::<Vec<_>>()
    };
    assert!(!told(&asked).contains(&"finish-takes-more"), "{:?}", told(&asked));
    // As deep in all, and no pass deeper than a rough one may be.
    let thick = told(&job_with(0.08, 0.10));
    assert!(thick.contains(&"finish-takes-more"), "{thick:?}");
}

/// Some editors end every block with a semicolon, and indent: the control reads what it read before.
#[test]
fn semicolons_at_line_ends_and_blanks_before_lines_are_no_alarm() {
    let mut tried = 0;
    for own in at_controls() {
        let part = &own.parts[0];
        let circumstances =
            Circumstances { already: part.before, goes_on: part.part < part.of, ..Circumstances::default() };
        let rules = |text: &str| {
            let report = prove_in(text.as_bytes(), &own.job, &job_and_face().1, &circumstances);
            let warned = report.findings().iter().filter(|f| f.rank >= Rank::Warning);
            warned.map(|f| f.rule.id()).collect::<Vec<_>>()
        };
        let before = rules(&part.text);
        let longest = part.text.lines().map(str::len).max().unwrap_or(0);
        let each_line = |with: &dyn Fn(&str) -> String| {
            part.text.lines().map(with).collect::<Vec<_>>().join("\r\n") + "\r\n"
        };
        let ended = each_line(&|l| if l == "%" { l.to_owned() } else { format!("{l};") });
        let indented = each_line(&|l| if l == "%" { l.to_owned() } else { format!("  {l}") });
        // A program that grows beyond the memory, and a line beyond the width, are said so.
        let grows = |id: &&str| !["large-program", "mixed-line-ends"].contains(id);
        let of = |text: &str| rules(text).into_iter().filter(grows).collect::<Vec<_>>();
        assert_eq!(of(&ended), before, "{}: semicolons", own.name);
        if longest + 2 <= own.job.control.longest_line {
            assert_eq!(of(&indented), before, "{}: blanks", own.name);
            tried += 1;
        }
        tried += 1;
    }
    assert!(tried > 12, "{tried}");
}

/// Of fifty thousand single faults five passed: the S behind G97 lost, where the surface speed is said in feet, and the X of a flat arc.
#[test]
fn a_speed_in_feet_that_may_be_revolutions_and_an_arc_without_a_way_are_stopped() {
    let tried = each(&["over-speed"], Rank::Stop, |lines, job| {
        if !(job.control.unit_word.is_inch() && job.control.surface_speed) {
            return Vec::new();
        }
        let without = |i: usize| {
            let words = code(&lines[i]).split(' ').filter(|w| !w.starts_with('S'));
            let mut lines = lines.to_vec();
            lines[i] = words.collect::<Vec<_>>().join(" ");
            lines
        };
        let held = |i: &usize| lines[..*i].iter().rev().any(|l| has(l, "G96"));
        let alone = |l: &str| has(l, "G97") && code(l).contains(" S") && !code(l).contains(" M");
        places(lines, alone).into_iter().filter(held).map(without).collect()
    });
    assert!(tried > 5, "{tried}");
    let own = &at_controls()[0];
    let lines: Vec<String> = own.parts[0].text.lines().map(str::to_owned).collect();
    let z = |l: &String| code(l).split(' ').find_map(|w| w.strip_prefix('Z')?.parse::<f64>().ok());
    let at = places(&lines, |l| has(l, "G01") && code(l).contains('X') && code(l).contains('Z'));
    let told = |by: f64| {
        let at = at[at.len() / 2];
        let arc = format!("G03 Z{:.3} I1.804 K-4982.196", z(&lines[at]).expect("a height") + by);
        let text = put(&lines, at + 1, &arc).join("\n") + "\n";
        let report = prove_in(text.as_bytes(), &own.job, &job_and_face().1, &Circumstances::default());
        report.findings().iter().any(|f| f.rule.id() == "arc-radii")
    };
    assert!(told(-0.001) && told(0.001));
}
