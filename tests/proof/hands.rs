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

/// A spindle that starts without its S word turns as fast as the program before had it.
#[test]
fn a_start_without_a_speed_is_stopped() {
    let without = |text: &str| {
        let at = text.find("M03").expect("it starts");
        let from = text[..at].rfind('S').expect("its speed");
        let to = from + text[from..].find(' ').expect("the next word") + 1;
        format!("{}{}", &text[..from], &text[to..])
    };
    assert!(ids(without, Rank::Stop).contains(&"no-speed"));
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
        let told = ids(replaced(from, to), Rank::Warning);
        // A height that the job does not give at that place is more than a changed text.
        let touches = ["AT X", "ENTER", "STAND"].iter().any(|said| from.starts_with(said));
        assert_eq!(told.contains(&"touch-off-elsewhere"), touches, "{from} to {to}: {told:?}");
        assert!(told.contains(&"text-changed"), "{from} to {to}: {told:?}");
        assert_eq!(told.len(), 1 + usize::from(touches), "{from} to {to}: {told:?}");
    }
}

#[test]
fn another_wheels_program_is_told_first() {
    for (from, to) in [
        ("(JOB DEMO 7", "(JOB DEMO 8"),
        // Of a longer name ours may be the beginning.
        ("(JOB DEMO 7, REAR RIGHT", "(JOB DEMO 7, REAR RIGHT 1"),
        ("(WHEEL 17 X 7", "(WHEEL 18 X 8"),
    ] {
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

/// A tool that is called without its offset is called all the same: before the first one the head's touch-off is another tool's, in mid pass it is fed in.
#[test]
fn a_tool_called_without_its_offset_is_touched_off_too() {
    for (from, to) in [("T0101", "T0200\r\nT0101"), ("G01 ", "T0200\r\nG01 ")] {
        let told = ids(replaced(from, to), Rank::Stop);
        assert!(told.contains(&"tool-not-touched-off"), "{from} to {to}: {told:?}");
    }
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

/// A stop with the tool over the wheel: by the lost way to the park, or by a way toward it.
#[test]
fn a_stop_with_the_tool_over_the_wheel_is_told() {
    let air = |text: &str, from: &str, to: &str| {
        let at = text
            .find("(AIR PASS 1 OF 2, ABOVE")
            .map_or(0, |at| text[at + 1..].find("(AIR PASS 1").map_or(at, |b| at + 1 + b));
        format!("{}{}", &text[..at], text[at..].replacen(from, to, 1))
    };
    let stop = |from: &'static str, to: &'static str| ids(|t| air(t, from, to), Rank::Warning);
    assert!(stop(" M00", " G00 X282.0\r\nM00").contains(&"stop-away-from-park"));
    assert!(stop(" M00", " G00 Z20.0\r\nM00").contains(&"stop-away-from-park"));
}

/// Nothing tells a program without comments from another job's.
#[test]
fn a_program_from_which_every_comment_was_taken_is_told() {
    let bare = |t: &str| t.split_inclusive('\n').filter(|l| !l.starts_with('(')).collect::<String>();
    assert_eq!(ids(bare, Rank::Warning), ["no-head"]);
}

/// What names the wheel and nothing else has lost what people do by it.
#[test]
fn a_head_of_which_job_and_wheel_alone_are_left_is_told() {
    let left = |t: &str| {
        let kept = |l: &&str| !l.starts_with('(') || l.starts_with("(JOB ") || l.starts_with("(WHEEL ");
        t.split_inclusive('\n').filter(kept).collect::<String>()
    };
    assert_eq!(ids(left, Rank::Warning), ["text-changed"]);
}

/// A comment before another block is another statement, though its words are the same.
#[test]
fn a_comment_that_was_moved_is_told() {
    let moved = |text: &str| {
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        let stop = lines.iter().position(|l| l.contains("(STOP. AIR PASS DONE")).expect("a stop");
        let order = lines[stop..].iter().position(|l| !l.starts_with('(')).expect("its block");
        let mut moved = lines.clone();
        // The stop's block before its own comment.
        let block = moved.remove(stop + order);
        moved.insert(stop, block);
        moved.concat()
    };
    assert_eq!(ids(moved, Rank::Warning), ["text-changed"]);
}

/// With one tool for both, the last passes are the finish: at the rough passes' feed and speed they are told.
#[test]
fn a_finish_at_the_rough_passes_feed_is_told_with_one_tool_too() {
    let (demo, face) = demo::job_and_face();
    let mut job = demo.clone();
    let tool = job.schedule.rough.as_ref().expect("rough passes").tool.clone();
    job.schedule.finish.as_mut().expect("a finish").tool = tool;
    job.tools.truncate(1);
    let plan = facewright::plan::plan(&job, face, facewright::plan::Options::default()).expect("a plan");
    let text = facewright::gcode::write(&job, &plan).expect("a program").remove(0).text;
    let told = |text: &str| {
        let report = prove(text.as_bytes(), &job, face);
        report.findings().iter().filter(|f| f.rank >= Rank::Warning).map(|f| f.rule.id()).collect::<Vec<_>>()
    };
    let none: Vec<&str> = Vec::new();
    assert_eq!(told(&text), none);
    let at = text.rfind("(FINISH PASS 1").expect("a finish");
    let (before, finish) = text.split_at(at);
    let feed = finish.split(" F").nth(1).and_then(|f| f.split_whitespace().next()).expect("its feed");
    let coarse = format!("{before}{}", finish.replacen(&format!(" F{feed}"), " F0.2", 1));
    assert_ne!(coarse, text);
    assert!(told(&coarse).iter().any(|id| id.starts_with("feed")), "{:?}", told(&coarse));
    let fast = format!("{before}{}", finish.replacen("G96 S220", "G96 S280", 1));
    assert_ne!(fast, text);
    assert!(told(&fast).iter().any(|id| id.contains("surface-speed")), "{:?}", told(&fast));
}

/// Between a tenth of the schedule's speed, which stops, and half of it.
#[test]
fn a_surface_speed_below_half_of_the_schedules_is_told() {
    assert!(ids(replaced("G96 S280", "G96 S60"), Rank::Warning).contains(&"slow-surface"));
    assert!(!ids(replaced("G96 S280", "G96 S230"), Rank::Warning).contains(&"slow-surface"));
    assert!(ids(replaced("G96 S280", "G96 S20"), Rank::Stop).contains(&"nearly-stands"));
}

/// What transfers put around and between lines is read by no control.
#[test]
fn leaders_marks_and_line_ends_of_a_transfer_are_no_alarm() {
    let none: Vec<&str> = Vec::new();
    assert_eq!(ids(|t| t.replace("\r\n", "\r\r\n"), Rank::Warning), none);
    assert_eq!(ids(|t| t.replace("\r\n", "\n\r"), Rank::Warning), none);
    assert_eq!(ids(|t| format!("\0\0\0\0{t}"), Rank::Warning), none);
    assert_eq!(ids(|t| format!("{t}\u{1a}"), Rank::Warning), none);
    assert_eq!(ids(|t| format!("{t}\0\0\0\0"), Rank::Warning), none);
    // Blanks behind a comment as long as the line may be.
    assert_eq!(ids(|t| t.replace("\r\n", "   \r\n"), Rank::Warning), none);
    // A stop that is made for certain where an optional one is told.
    assert_eq!(ids(replaced("M01", "M00"), Rank::Warning), none);
    // A label before the mark: this control reads from the mark on.
    assert_eq!(ids(|t| format!("DEMO7\r\n{t}"), Rank::Warning), ["outside-marks"]);
    // Words before it are none that anybody may pass over.
    assert!(!ids(|t| format!("G00 X0.0\r\n{t}"), Rank::Stop).is_empty());
}

/// After the start and after a touch-off the program does not know at which radius the tool stands: a rapid down in Z alone may lead through wheel or tyre,
/// though straight up from the park, or from the reference point, nothing would be under it.
#[test]
fn a_rapid_down_from_a_radius_that_nobody_knows_is_stopped() {
    let (_, face) = demo::job_and_face();
    let mut touched_off = 0;
    for own in demo::at_controls() {
        let inch = own.job.control.unit_word.is_inch();
        let low = if inch { "G00 Z0.04\n" } else { "G00 Z1.039\n" };
        let high = if inch { "G00 Z5.0\n" } else { "G00 Z127.0\n" };
        // On short lines the comment is divided.
        let second = own.parts.iter().find(|p| p.text.contains("TOUCH OFF THIS TOOL"));
        touched_off += usize::from(second.is_some());
        let starts =
            second.map(|part| (part, "TOUCH OFF THIS TOOL")).into_iter().chain([(&own.parts[0], "G40")]);
        for (part, from) in starts {
            let at = part.text.find(from).expect("it is there");
            let before = part.text[at..].find("Z200").or_else(|| part.text[at..].find("Z7.874"));
            let before = at + before.expect("the first motion goes up");
            let line = part.text[..before].rfind('\n').expect("a line before") + 1;
            let stops = |put: &str| {
                let text = format!("{}{put}{}", &part.text[..line], &part.text[line..]);
                let report = prove(text.as_bytes(), &own.job, face);
                let stops = report.findings().iter().filter(|f| f.rank == Rank::Stop);
                stops.map(|f| f.rule.id()).collect::<Vec<_>>().contains(&"position-unknown")
            };
            assert!(stops(low), "{}, behind {from}", own.name);
            assert!(!stops(high), "{}, behind {from}: nothing stands so high", own.name);
        }
    }
    assert!(touched_off > 7, "{touched_off} controls with a second tool");
}

/// A stop behind the slow turn counts only where nothing is fed before it.
#[test]
fn a_feed_between_the_slow_turn_and_its_stop_is_told_as_such() {
    let (_, face) = demo::job_and_face();
    let own = demo::at_controls().iter().find(|c| c.job.machine.spin.first.is_some()).expect("a slow turn");
    let text = &own.parts[0].text;
    let stop = text.find("M00").expect("its stop");
    let line = text[..stop].rfind('\n').expect("a line before") + 1;
    let told = |put: &str| {
        let text = format!("{}{put}{}", &text[..line], &text[line..]);
        prove(text.as_bytes(), &own.job, face).findings().iter().any(|f| f.rule.id() == "first-turn")
    };
    assert!(told("G01 Z190.0 F100.\n"));
    assert!(!told("G00 Z190.0\n"));
}

/// An arc whose words give no path is fed all the same.
#[test]
fn an_arc_without_a_path_counts_as_fed() {
    let second = |text: &str| {
        let at = text.find("TOUCH OFF THIS TOOL").expect("a second tool");
        let line = at + text[at..].find("M00").expect("its stop");
        let line = text[..line].rfind('\n').expect("a line before") + 1;
        format!("{}G03 X590.0 Z190.0 F0.1\r\n{}", &text[..line], &text[line..])
    };
    let stops = ids(second, Rank::Stop);
    assert!(stops.contains(&"missing-word") && stops.contains(&"tool-not-touched-off"), "{stops:?}");
}

/// A pass that was raised into the air, with the stop between the air pass and it lost.
#[test]
fn a_second_pass_in_the_air_without_a_stop_is_told() {
    let twice = |text: &str| {
        let from = text.find("(AIR PASS").expect("an air pass");
        let from = from + text[from..].find("G01").expect("fed");
        let from = text[..from].rfind('\n').expect("a line before") + 1;
        let rapid = from + text[from..].find("G00 Z200").expect("up");
        let rapid = text[..rapid].rfind('\n').expect("a line before") + 1;
        let back = text[..from].rmatch_indices("G00 Z200").next().expect("the way in").0;
        let back = text[..back].rfind('\n').expect("a line before") + 1;
        format!("{}{}{}", &text[..rapid], &text[back..rapid], &text[rapid..])
    };
    assert!(ids(twice, Rank::Warning).contains(&"no-stop-between"));
}
