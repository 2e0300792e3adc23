//! Every pass can be begun by itself: after a reset a control that starts at its first block does what the whole program does there.
//!
//! A reset is played by cutting the text off ahead of the pass: what is left is read by whoever knows nothing of it.

use crate::fixtures::demo;
use facewright::diagnostics::ProgramRule;
use facewright::gcode::ProgramText;
use facewright::job::{Comments, Job, LengthOffset, ToolWord};
use facewright::proof::{Circumstances, Finding, Movement, MovementKind, Spindle, read_back, simulate};

/// Lines that begin a pass after a stop, counted from 1.
fn beginnings(text: &str) -> Vec<usize> {
    let first_stop = text.lines().position(|l| has(l, "M00")).expect("a stop");
    let numbered = text.lines().enumerate().skip(first_stop);
    numbered.filter(|(_, line)| has(line, "G18")).map(|(i, _)| i + 1).collect()
}

fn has(line: &str, word: &str) -> bool {
    !line.starts_with('(') && line.split([' ', '/']).any(|w| w.trim() == word)
}

fn otherwise(job: &Job, text: &str) -> Vec<Finding> {
    let face = demo::surveyed().1.face();
    let report = read_back(text.as_bytes(), job, face, &Circumstances::default()).report;
    report.findings().iter().filter(|f| f.rule == ProgramRule::BeginsOtherwise.into()).cloned().collect()
}

fn one_part(at: &demo::AtControl) -> Option<&ProgramText> {
    at.parts.first().filter(|_| at.parts.len() == 1)
}

#[test]
fn every_pass_may_be_begun_by_itself_at_every_control() {
    let face = demo::surveyed().1.face();
    for at in demo::at_controls() {
        let Some(program) = one_part(at) else { continue };
        let report = read_back(program.text.as_bytes(), &at.job, face, &Circumstances::default()).report;
        assert!(otherwise(&at.job, &program.text).is_empty(), "{}: {:#?}", at.name, report.findings());
        let comments = at.job.control.traits.comments;
        if comments == Comments::Brackets {
            assert_eq!(report.begins_again, beginnings(&program.text), "{}", at.name);
        }
        assert!(report.begins_again.len() >= 3, "{}: {:?}", at.name, report.begins_again);
    }
}

/// The same played for real: the motions of the text from there on are those of the whole program.
#[test]
fn what_is_left_of_a_program_does_what_it_did() {
    let mut begun = 0;
    for at in demo::at_controls() {
        let (Some(program), traits) = (one_part(at), &at.job.control.traits) else { continue };
        let called = at.job.control.tool_word == ToolWord::NumberAndOffset;
        if !called || traits.length_offset != LengthOffset::None || traits.comments != Comments::Brackets {
            continue;
        }
        let whole = simulate(program.text.as_bytes(), &at.job).skip_off.movements;
        for line in beginnings(&program.text) {
            let first = whole.iter().find(|m| m.line > line).expect("it moves");
            let tool = first.tool.expect("a tool");
            let rest: Vec<&str> = program.text.lines().skip(line - 1).collect();
            let alone = format!("T{tool:02}{tool:02}\n{}\n", rest.join("\n"));
            let alone = simulate(alone.as_bytes(), &at.job).skip_off.movements;
            let cuts = |all: &[Movement], after: usize| -> Vec<_> {
                let cuts = all.iter().filter(|m| m.kind == MovementKind::Feed && m.line > after);
                cuts.map(|m| (m.piece, m.tool, m.spindle, m.feed, m.coolant)).collect()
            };
            assert!(cuts(&whole, line) == cuts(&alone, 0), "{} from line {line}", at.name);
            begun += 1;
        }
    }
    assert!(begun > 10, "{begun}");
}

/// Each block ahead of a later pass is there for whoever begins at it: without one that says something, the proof tells it.
#[test]
fn a_block_that_is_missing_ahead_of_a_later_pass_is_told() {
    let at = &demo::at_controls()[0];
    let text = &one_part(at).expect("one part").text;
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let start = beginnings(text)[2] - 1;
    let moves = (start..lines.len()).find(|&i| has(lines[i], "G01")).expect("it cuts");
    let mut told = 0;
    for i in start..moves {
        let without: String = lines.iter().enumerate().filter(|(k, _)| *k != i).map(|(_, l)| *l).collect();
        let face = demo::surveyed().1.face();
        let report = read_back(without.as_bytes(), &at.job, face, &Circumstances::default()).report;
        let seen = report.findings().iter().any(|f| f.rule == ProgramRule::BeginsOtherwise.into());
        // What the whole program misses too is told as that.
        let serious = report.findings().iter().any(|f| !f.rank.is_told());
        // The place itself gone, nobody begins there; where the tool stands it goes no more.
        let only_where = lines[i].split_whitespace().skip(1).all(|w| w.starts_with(['X', 'Z']));
        assert!(seen || serious || i == start || only_where, "line {}: {}", i + 1, lines[i]);
        told += usize::from(seen);
    }
    assert!(told >= 2, "{told}");
}

/// On the way out, far from the wheel, the spindle keeps its speed: a surface speed would slow it down and bring it up again.
#[test]
fn the_spindle_keeps_its_speed_on_the_way_out() {
    for at in demo::at_controls().iter().filter(|at| at.job.control.surface_speed) {
        for part in &at.parts {
            let movements = simulate(part.text.as_bytes(), &at.job).skip_off.movements;
            let last_cuts = movements
                .windows(2)
                .filter(|w| w[0].kind == MovementKind::Feed && w[1].kind == MovementKind::Rapid);
            let ends: Vec<_> = last_cuts.map(|w| (w[0].line, w[1].spindle)).collect();
            assert!(ends.iter().any(|(_, s)| matches!(s, Spindle::Fixed { .. })), "{}", at.name);
            // Between two zones the surface speed stays; home it is a fixed one.
            let home = movements.iter().filter(|m| m.kind == MovementKind::Rapid).filter(|m| {
                let park = (at.job.machine.park_x.as_mm(), at.job.machine.park_z.as_mm());
                (m.piece.to().x - park.0).abs() < 5.0 && (m.piece.to().z - park.1).abs() < 5.0
            });
            for m in home {
                assert!(!matches!(m.spindle, Spindle::Surface { .. }), "{}, line {}", at.name, m.line);
            }
        }
    }
}
