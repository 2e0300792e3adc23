//! What the shop asks for around the passes, and what of it a program may not lack: the demo at a control that asks for all of it.

use crate::fixtures::demo::{AtControl, at_controls, job_and_face};
use facewright::gcode;
use facewright::plan::{self, Options};
use facewright::proof::{Circumstances, Rank, Verdict, prove, prove_in};
use facewright::units::Length;

fn asking() -> &'static AtControl {
    let name = "every pass stopped, waits by P, home, coolant, spring pass";
    at_controls().iter().find(|c| c.name == name).expect("a control that asks for it")
}

/// What is told of the program after an edit, at a rank or above; but for what the checksum tells of the comments beside it.
fn told(edit: impl Fn(&str) -> String, least: Rank) -> Vec<&'static str> {
    let AtControl { job, parts, .. } = asking();
    let text = edit(&parts[0].text);
    assert!(text != parts[0].text, "an edit that changes nothing");
    let report = prove(text.as_bytes(), job, &job_and_face().1);
    let told = report.findings().iter().filter(|f| f.rank >= least).map(|f| f.rule.id());
    told.filter(|id| *id != "text-changed").collect()
}

/// The text with the last place changed at which something stands.
fn last(text: &str, from: &str, to: &str) -> String {
    let at = text.rfind(from).expect("it stands there");
    format!("{}{to}{}", &text[..at], &text[at + from.len()..])
}

#[test]
fn the_first_turn_is_slow_the_right_way_and_has_its_stop() {
    let stop = |from: &'static str, to: &'static str| told(|t| t.replacen(from, to, 1), Rank::Stop);
    assert_eq!(stop("S60 M03", "S600 M03"), ["first-turn"]);
    assert_eq!(stop("S60 M03", "S60 M04"), ["first-turn"]);
    let edited = |to: &'static str| {
        move |t: &str| {
            let turn = t.find("S60 M03").expect("a slow turn");
            format!("{}{}", &t[..turn], t[turn..].replacen("M00", to, 1))
        }
    };
    for to in ["G40", "M01", "G04 P1.0"] {
        assert_eq!(told(edited(to), Rank::Stop), ["first-turn"], "{to}");
    }
    let lost = |t: &str| {
        let turn = t.find("N60 G97 S60").or(t.find("G97 S60")).expect("a slow turn");
        let line = t[..turn].rfind('\n').expect("a line") + 1;
        let stop = turn + t[turn..].find("M00").expect("its stop");
        let end = stop + t[stop..].find('\n').expect("its line") + 1;
        format!("{}{}", &t[..line], &t[end..])
    };
    assert_eq!(told(lost, Rank::Warning), ["no-first-turn"]);
    // Less than once round.
    assert_eq!(told(|t| t.replacen("G04 P3.0", "G04 P0.3", 1), Rank::Warning), ["no-first-turn"]);
}

#[test]
fn the_tool_waits_for_the_spindle() {
    for to in ["G04 P0.2", "G40"] {
        assert_eq!(told(|t| t.replacen("G04 P2.0", to, 1), Rank::Warning), ["no-wait"], "{to}");
    }
    let found = told(|t| t.replacen("G04 P2.0", "G04 X2.0", 1), Rank::Warning);
    assert_eq!(found, ["no-wait", "other-dwell"]);
}

/// A spring pass takes nothing, and has the speed and the feed of the finish all the same.
#[test]
fn a_spring_pass_has_its_speed_and_feed() {
    let stop = |from: &'static str, to: &'static str| told(|t| last(t, from, to), Rank::Stop);
    assert_eq!(stop(" F0.113", " F0.38"), ["feed"]);
    assert!(stop("G96 S220 D650", "G40").contains(&"surface-speed"));
    assert_eq!(told(|t| last(t, "G96 S220", "G96 S280"), Rank::Warning), ["surface-speed"]);
    assert_eq!(told(|t| last(t, " F0.113", " F0.0113"), Rank::Warning), ["feed-low"]);
}

#[test]
fn an_air_pass_is_no_faster_than_asked() {
    assert_eq!(told(|t| t.replacen(" F0.4", " F1.15", 1), Rank::Warning), ["air-feed"]);
    assert_eq!(told(|t| t.replacen(" F0.4", " F0.3", 1), Rank::Warning), Vec::<&str>::new());
}

/// Each pass but the last of a tool has the stop that the shop file says.
#[test]
fn passes_have_their_stops() {
    let AtControl { parts, .. } = asking();
    let text = &parts[0].text;
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let stops: Vec<usize> = (0..lines.len()).filter(|&i| lines[i].contains("M00")).collect();
    // Slow turn, air pass, and then those between the rough passes.
    let between = stops[3];
    for to in ["M01", "G40"] {
        let edited = |_: &str| {
            let changed = lines[between].replace("M00", to);
            let with = lines.iter().enumerate().map(|(i, l)| if i == between { changed.as_str() } else { l });
            with.collect::<String>()
        };
        let told = told(edited, Rank::Warning);
        assert!(told.contains(&"no-stop-between"), "{to}: {told:?}");
        // With the stop gone the spindle starts again by itself.
        assert_eq!(told.contains(&"starts-again"), to == "G40", "{to}: {told:?}");
    }
}

/// Parts of a program, one of which has nothing left but the spring pass: no warning. The last pass of a part before it raised: told.
#[test]
fn parts_with_a_spring_pass_alone_or_a_raised_pass() {
    let (demo, face) = job_and_face();
    let mut job = demo.clone();
    job.schedule.finish.as_mut().expect("a finish").spring_passes = 1;
    let plan = plan::plan(&job, face, Options::default()).expect("a plan");
    let parts = (14_000..22_000).step_by(500).find_map(|largest| {
        job.control.largest_program = largest;
        gcode::write(&job, &plan)
            .ok()
            .filter(|p| p.len() > 1 && p.last().is_some_and(|last| last.passes == 1))
    });
    let parts = parts.expect("a division with the spring pass alone");
    for part in &parts {
        let before =
            Circumstances { already: part.before, goes_on: part.part < part.of, ..Circumstances::default() };
        let report = prove_in(part.text.as_bytes(), &job, face, &before);
        assert!(report.findings().iter().all(|f| f.rank < Rank::Warning), "part {}:\n{report}", part.part);
    }
    let first = &parts[0];
    let at = first.text.rfind("PASS").expect("its last pass");
    let raised: String = first.text[at..].split_inclusive('\n').map(|line| raised(line, 2.0)).collect();
    let raised = format!("{}{raised}", &first.text[..at]);
    let before = Circumstances { already: Length::mm(0.0), goes_on: true, ..Circumstances::default() };
    let report = prove_in(raised.as_bytes(), &job, face, &before);
    let found: Vec<_> =
        report.findings().iter().filter(|f| f.rank == Rank::Warning).map(|f| f.rule.id()).collect();
    assert_eq!(found, ["takes-nothing"], "{report}");
}

/// A line with its height raised, but for the heights of the approach.
fn raised(line: &str, by: f64) -> String {
    let z = line.split(' ').find_map(|w| w.trim_end().strip_prefix('Z').map(str::to_owned));
    match z.and_then(|z| Some((z.parse::<f64>().ok()?, z))).filter(|(z, _)| *z < 1.2) {
        Some((height, z)) => line.replacen(&format!("Z{z}"), &format!("Z{:.3}", height + by), 1),
        None => line.to_owned(),
    }
}

/// Beyond the zones and their leads the tool keeps its clearance at feed too: hub and tyre stand where nobody measured them.
#[test]
fn a_tool_fed_beyond_the_zones_is_stopped() {
    let before_the_way_up = |block: &'static str| {
        move |t: &str| {
            let cut = t.rfind("G96").expect("a pass");
            let up = cut + t[cut..].find("G00 Z200").expect("the way up");
            let line = t[..up].rfind('\n').expect("a line") + 1;
            format!("{}{block}\r\n{}", &t[..line], &t[line..])
        }
    };
    for block in ["G01 X0.0", "G01 Z2.1\r\nX600.0"] {
        let found = told(before_the_way_up(block), Rank::Stop);
        assert!(found.contains(&"fed-astray"), "{block}: {found:?}");
    }
}

/// A line as long as a file makes no more findings than anybody reads.
#[test]
fn findings_of_one_line_are_bounded() {
    let report = told(|t| format!("{}{t}", "X".repeat(400_000) + "\r\n"), Rank::Stop);
    assert!(report.len() < 100, "{}", report.len());
}

/// However often a program crosses the face, what is kept of it is bounded: it is stopped where that is reached.
#[test]
fn a_program_without_end_is_stopped() {
    let (job, face) = job_and_face();
    let text = &at_controls()[0].parts[0].text;
    let at = text.rfind("G02 X").or_else(|| text.rfind("G03 X")).expect("an arc in the finish pass");
    let (before, after) = text.split_at(text[..at].rfind('\n').expect("a line") + 1);
    for (step, times) in [
        (["G01 X400 Z5\r\n", "G01 X150\r\n"], 4000),
        (["G00 X400 Z5\r\n", "G00 X150 Z6\r\n"], 6000),
        (["G01 X300.1\r\n", "G00 X300\r\n"], 12_000),
    ] {
        let many = step.concat().repeat(times);
        let report = prove(format!("{before}{many}{after}").as_bytes(), job, face);
        assert!(report.findings().iter().any(|f| f.rule.id() == "too-long"), "{step:?}");
        assert_eq!(report.verdict, Verdict::Stop);
        assert!(report.findings().len() < 10_000, "{} findings", report.findings().len());
    }
}

/// The slow turn is a turn at a fixed speed: at a surface speed the spindle runs up as the tool goes in.
#[test]
fn a_slow_turn_at_a_surface_speed_is_stopped() {
    let found = told(|text| text.replacen("G97 S60", "G96 S60", 1), Rank::Stop);
    assert!(found.contains(&"first-turn"), "{found:?}");
}
