//! The dry program for a new control: it holds every word that a program for the control holds, stays beside the park, and says what must be seen.

use super::reader::agrees;
use crate::fixtures::demo::{AtControl, at_controls};
use facewright::gcode::{self, Block, ProgramText};
use facewright::job::{Comments, Gear, Job, SpindleLimitWord};
use facewright::proof::{Finding, Rank, prove_dry};
use facewright::units::{SpindleSpeed, Time};
use std::collections::BTreeSet;

/// The G, M and T words of a program, and the letters of all others.
fn words(program: &ProgramText) -> BTreeSet<String> {
    let of = |block: &Block| match block {
        Block::Words(words) => words.clone(),
        Block::TapeMark | Block::Comment(_) => Vec::new(),
    };
    let told = |w: gcode::Word| match w.address() {
        'G' | 'M' | 'T' => w.to_string(),
        letter => letter.to_string(),
    };
    program.blocks.iter().flat_map(of).map(told).collect()
}

fn tried(job: &Job) -> (gcode::TryOut, Vec<Finding>) {
    let tried = gcode::try_out(job).expect("a dry program");
    let report = prove_dry(tried.program.text.as_bytes(), job);
    (tried, report.findings)
}

/// Whatever a program for the control orders was tried before.
#[test]
fn it_holds_every_word_that_a_program_for_the_control_holds() {
    for AtControl { name, job, parts, .. } in at_controls() {
        let tried = words(&tried(job).0.program);
        for part in parts {
            let missing: Vec<_> = words(part).difference(&tried).cloned().collect();
            // The last tool is the only one whose offset is cancelled.
            let missing: Vec<_> = missing.into_iter().filter(|w| w != "T0100").collect();
            assert!(missing.is_empty(), "{name}: {missing:?}");
        }
    }
}

#[test]
fn it_is_sound_and_stays_beside_the_park_at_every_control() {
    for AtControl { name, job, .. } in at_controls() {
        let (tried, findings) = tried(job);
        let told: Vec<_> = findings.iter().filter(|f| f.rank >= Rank::Warning).collect();
        assert!(told.is_empty(), "{name}\n{}\n{told:#?}", tried.program.text);
        agrees(&tried.program);
        assert!(tried.seen.len() > 10, "{name}: {} things to see", tried.seen.len());
    }
}

/// Under a constant surface speed the spindle is faster nearer to the axis, and the gear must reach that too: 220 m/min are 117 rpm at the
/// park of 300 mm and 124 rpm at 282 mm.
#[test]
fn its_gear_reaches_the_speed_of_its_innermost_place() {
    let mut job = at_controls()[0].job.clone();
    let gear = |word, rpm| Gear { word, to: SpindleSpeed::rpm(rpm) };
    job.control.traits.gears = vec![gear(41, 120.0), gear(42, 1400.0)];
    let (tried, findings) = tried(&job);
    let told: Vec<_> = findings.iter().filter(|f| f.rank >= Rank::Warning).collect();
    assert!(told.is_empty(), "{}\n{told:#?}", tried.program.text);
    let before = tried.program.text.split("G96").next().unwrap_or_default();
    assert!(before.rfind("M42") > before.rfind("M41"), "{}", tried.program.text);
}

/// Every gear range comes in, and at a constant surface speed the limit in force is first one that must be seen to hold: below the speed that
/// the spindle has.
#[test]
fn every_gear_is_tried_and_the_limit_is_seen_to_hold() {
    let number = |text: &str, behind: &str| {
        let at = text.find(behind)? + behind.len();
        let digits: String = text.get(at..)?.chars().take_while(char::is_ascii_digit).collect();
        digits.parse::<u32>().ok()
    };
    let (mut geared, mut limited) = (0, 0);
    for AtControl { name, job, .. } in at_controls() {
        let text = tried(job).0.program.text;
        for gear in &job.control.traits.gears {
            geared += 1;
            assert!(
                text.contains(&format!(" M{}\r\n", gear.word))
                    || text.contains(&format!(" M{}\n", gear.word)),
                "{name}: {text}"
            );
        }
        if !job.control.surface_speed {
            continue;
        }
        let behind = match job.control.spindle_limit_word {
            SpindleLimitWord::G92 => "G92 S",
            SpindleLimitWord::G50 => "G50 S",
            SpindleLimitWord::D => " D",
            SpindleLimitWord::None => continue,
        };
        let words: Vec<&str> = text.lines().filter(|l| !l.contains('(') && !l.contains(';')).collect();
        let words = words.join("\n");
        let held = words.find("G96").expect("a surface speed");
        let limit = match job.control.spindle_limit_word {
            SpindleLimitWord::D => number(words.get(held..).unwrap_or_default(), behind),
            _ => number(&words, behind),
        };
        let before = words.get(..held).unwrap_or_default();
        let speed = number(before.get(before.rfind("G97 S").unwrap_or(0)..).unwrap_or_default(), "G97 S");
        limited += 1;
        assert!(limit.zip(speed).is_some_and(|(limit, speed)| limit < speed), "{name}: {limit:?}, {speed:?}");
    }
    assert!(geared > 1 && limited > 5, "{geared} gears, {limited} limits");
}

/// A wait after the spindle's start is tried as it will be written.
#[test]
fn a_wait_is_tried_where_programs_hold_one() {
    let mut job = at_controls()[0].job.clone();
    job.machine.spin.up = Some(Time::s(2.0));
    let (tried, findings) = tried(&job);
    assert!(tried.program.text.contains(" G04 X2.0"), "{}", tried.program.text);
    assert!(findings.iter().all(|f| f.rank < Rank::Warning), "{findings:#?}");
}

/// A dry program that somebody sent to the wheel is none.
#[test]
fn a_motion_away_from_the_park_is_stopped() {
    let job = &at_controls().first().expect("the demo's own control").job;
    let (tried, _) = tried(job);
    let text = tried.program.text.replacen("G01 X580.0", "G01 X480.0", 1);
    assert_ne!(text, tried.program.text);
    let found = prove_dry(text.as_bytes(), job).findings;
    assert!(found.iter().any(|f| f.rule.id() == "leaves-park" && f.rank == Rank::Stop), "{found:#?}");
}

/// Read aloud before it was kept: the demo's own control, and one that wants what few want.
#[test]
fn what_the_operator_reads() {
    let own = &at_controls()[0];
    insta::assert_snapshot!("try_out", tried(&own.job).0.program.text.replace('\r', ""));
    let other = at_controls().iter().find(|c| c.job.control.traits.comments == Comments::Semicolon);
    let other = other.expect("a control with semicolons");
    insta::assert_snapshot!("try_out_of_traits", tried(&other.job).0.program.text.replace('\r', ""));
}
