//! What somebody who had not read the proof got past it, tried on the demo at every control: each edit at several places, and beside it the
//! like that does no harm.
//!
//! Ranks are common practice, no source.

use crate::fixtures::demo::{AtControl, at_controls, job_and_face};
use facewright::gcode;
use facewright::job::{Coolant, DwellWord, Job, LengthOffset, MWords, ToolWord};
use facewright::plan::{Options, plan};
use facewright::proof::{Circumstances, Rank, prove_in};
use facewright::units::Length;

/// What is told, at a rank or above.
pub(super) fn told_at(own: &AtControl, part: usize, text: &str, least: Rank) -> Vec<&'static str> {
    let of = &own.parts[part];
    let circumstances =
        Circumstances { already: of.before, goes_on: of.part < of.of, ..Circumstances::default() };
    let report = prove_in(text.as_bytes(), &own.job, &job_and_face().1, &circumstances);
    report.findings().iter().filter(|f| f.rank >= least).map(|f| f.rule.id()).collect()
}

pub(super) fn code(line: &str) -> &str {
    line.split(['(', ';']).next().unwrap_or_default()
}

pub(super) fn has(line: &str, word: &str) -> bool {
    code(line).split(' ').any(|w| w == word)
}

pub(super) fn joined(lines: &[String], own: &AtControl) -> String {
    let end = if own.parts[0].text.contains('\r') { "\r\n" } else { "\n" };
    lines.join(end) + end
}

/// Tries edits on every part at every control; an edit gives some texts, and each must be told by one of the rules, or by none at all.
pub(super) fn each(rules: &[&str], least: Rank, edit: impl Fn(&[String], &Job) -> Vec<Vec<String>>) -> usize {
    let mut tried = 0;
    for own in at_controls() {
        for (i, part) in own.parts.iter().enumerate() {
            let lines: Vec<String> = part.text.lines().map(str::to_owned).collect();
            for edited in edit(&lines, &own.job) {
                let text = joined(&edited, own);
                assert_ne!(text, part.text, "{}: an edit that changes nothing", own.name);
                let told = told_at(own, i, &text, least);
                let at = lines.iter().zip(&edited).position(|(a, b)| a != b).unwrap_or(lines.len());
                let said = format!("{}, line {}: {:?}: {told:?}", own.name, at + 1, edited.get(at));
                // Where the control's memory is full a block more is one too many.
                let full = |id: &&str| own.name == "in parts" && *id == "large-program";
                match rules {
                    [] => assert!(told.iter().all(full), "{said}"),
                    rules => assert!(rules.iter().any(|r| told.contains(r)), "{said}"),
                }
                tried += 1;
            }
        }
    }
    tried
}

/// The lines where something holds.
pub(super) fn places(lines: &[String], holds: impl Fn(&str) -> bool) -> Vec<usize> {
    (0..lines.len()).filter(|&i| holds(&lines[i])).collect()
}

/// The lines with something put before one of them.
pub(super) fn put(lines: &[String], at: usize, block: &str) -> Vec<String> {
    let mut lines = lines.to_vec();
    lines.insert(at, block.to_owned());
    lines
}

fn starts(line: &str) -> bool {
    has(line, "M03") || has(line, "M04")
}

fn dwell(job: &Job) -> &'static str {
    if job.machine.spin.dwell == DwellWord::P { "G04 P2.0" } else { "G04 X2.0" }
}

#[test]
fn a_spindle_that_starts_again_without_a_stop_is_told() {
    let tried = each(&["starts-again"], Rank::Warning, |lines, _| {
        // Behind the start of each pass: off and on again.
        let again = |i: usize| {
            let start = code(&lines[i]).trim_start_matches(|c: char| c != 'M').trim().to_owned();
            let word = start.split(' ').find(|w| *w == "M03" || *w == "M04").unwrap_or("M03").to_owned();
            put(&put(lines, i + 1, "M05"), i + 2, &word)
        };
        places(lines, starts).into_iter().map(again).collect()
    });
    assert!(tried > 50, "{tried}");
    // The stop between M05 and the next start lost.
    let tried = each(&["starts-again"], Rank::Warning, |lines, _| {
        let stop = |line: &str| has(line, "M00") || has(line, "M01");
        let goes_on = |&i: &usize| lines[i..].iter().any(|l| starts(l));
        let lost = |i: usize| [&lines[..i], &lines[i + 1..]].concat();
        let ours = |i: &usize| {
            let alone = code(&lines[*i]).split(' ').filter(|w| !w.starts_with('N')).count() == 1;
            let stops = lines[..*i].iter().rposition(|l| stop(l)).unwrap_or(0);
            let next = lines[*i..].iter().position(|l| starts(l)).map_or(lines.len(), |n| *i + n);
            // Between a tool's last pass and its change two stops follow each other.
            let another = lines[*i + 1..next].iter().any(|l| stop(l));
            alone && lines[stops..*i].iter().any(|l| starts(l)) && !another
        };
        places(lines, stop).into_iter().filter(goes_on).filter(ours).map(lost).collect()
    });
    assert!(tried > 30, "{tried}");
}

/// The places where a pass begins at feed: the tool stands at the clearance over the face.
fn before_feed(lines: &[String]) -> Vec<usize> {
    places(lines, |l| has(l, "G01") && code(l).contains('Z'))
}

#[test]
fn a_wait_over_the_face_is_told_and_one_in_the_clear_is_not() {
    let tried = each(&["wait-over-wheel", "stands-in-cut"], Rank::Warning, |lines, job| {
        before_feed(lines).into_iter().step_by(2).map(|i| put(lines, i, dwell(job))).collect()
    });
    assert!(tried > 30, "{tried}");
    // With the spindle stopped there, whether or not it starts again.
    let tried = each(&["wait-over-wheel"], Rank::Warning, |lines, job| {
        let waits = |i: usize| put(&put(lines, i, "M05"), i + 1, dwell(job));
        before_feed(lines).into_iter().skip(1).step_by(3).map(waits).collect()
    });
    assert!(tried > 20, "{tried}");
    let tried = each(&["stop-away-from-park"], Rank::Warning, |lines, _| {
        let stop = |i: usize| put(&put(lines, i, "M05"), i + 1, "M01");
        before_feed(lines).into_iter().step_by(3).map(stop).collect()
    });
    assert!(tried > 20, "{tried}");
    // At the park, before the stop, nothing is to be said; nor of a spindle stopped in the clear before it.
    let tried = each(&[], Rank::Warning, |lines, job| {
        let stop = |l: &str| has(l, "M00") || has(l, "M01");
        // Before the comments that belong to the stop.
        let before =
            |i: usize| lines[..i].iter().rposition(|l| !l.starts_with(['(', ';'])).map_or(i, |b| b + 1);
        places(lines, stop).into_iter().map(|i| put(lines, before(i), dwell(job))).collect()
    });
    assert!(tried > 50, "{tried}");
}

/// At a control that says that it carries out all of them nothing is told.
#[test]
fn two_m_words_in_a_block_are_told() {
    let tried = each(&["two-m-words"], Rank::Warning, |lines, job| {
        // This control says that it carries out all.
        if job.control.traits.m_words == MWords::All {
            return Vec::new();
        }
        let off = |i: &usize| has(&lines[*i], "M05") && lines[i + 1..].iter().any(|l| has(l, "M00"));
        let both = |i: usize| {
            let mut lines = lines.to_vec();
            lines[i] = lines[i].replace("M05", "M05 M09");
            lines
        };
        (0..lines.len()).filter(off).map(both).collect()
    });
    assert!(tried > 50, "{tried}");
    let tried = each(&["two-m-words"], Rank::Warning, |lines, job| {
        // This control says that it carries out all.
        if job.control.traits.m_words == MWords::All {
            return Vec::new();
        }
        let both = |i: usize| {
            let mut lines = lines.to_vec();
            lines[i] = lines[i].replace("M00", "M00 M03");
            lines
        };
        places(lines, |l| has(l, "M00")).into_iter().map(both).collect()
    });
    assert!(tried > 12, "{tried}");
}

fn swapped(lines: &[String], i: usize, from: &str, to: &str) -> Vec<String> {
    let mut lines = lines.to_vec();
    lines[i] = lines[i].replace(from, to);
    lines
}

#[test]
fn another_coolant_word_is_told() {
    let any = [
        "other-coolant",
        "no-coolant",
        "air-pass-wet",
        "stop-with-coolant",
        "coolant-unset",
        "coolant-left-on",
    ];
    let tried = each(&any, Rank::Warning, |lines, job| {
        let own = match job.control.coolant {
            Coolant::None => return Vec::new(),
            Coolant::M07 => "M07",
            Coolant::M08 => "M08",
        };
        let other = if own == "M07" { "M08" } else { "M07" };
        let on = places(lines, |l| has(l, own));
        let off = places(lines, |l| has(l, "M09"));
        // What is said to be off a second time needs no word.
        let first = lines.iter().position(|l| starts(l)).unwrap_or(0);
        let runs = |i: &usize| *i < first || on.iter().any(|o| o < i && !off.iter().any(|f| o < f && f < i));
        let off: Vec<usize> = off.iter().copied().filter(runs).collect();
        let lost = |i: usize| [&lines[..i], &lines[i + 1..]].concat();
        // A spring pass takes nothing.
        let spring = lines.iter().rposition(|l| l.contains("SPRING PASS")).unwrap_or(lines.len());
        let cuts = |i: &&usize| **i < spring;
        let mut all: Vec<_> = on.iter().map(|&i| swapped(lines, i, own, other)).collect();
        all.extend(on.iter().filter(cuts).map(|&i| swapped(lines, i, own, "M09")));
        all.extend(on.iter().filter(cuts).map(|&i| lost(i)));
        all.extend(off.iter().map(|&i| swapped(lines, i, "M09", own)));
        all.extend(off.iter().map(|&i| lost(i)));
        all
    });
    assert!(tried > 40, "{tried}");
    // Where the control's description says none, any is another.
    let tried = each(&["other-coolant"], Rank::Warning, |lines, job| {
        if job.control.coolant != Coolant::None {
            return Vec::new();
        }
        places(lines, starts).into_iter().map(|i| put(lines, i + 1, "M08")).collect()
    });
    assert!(tried > 40, "{tried}");
}

#[test]
fn lines_that_end_otherwise_in_the_middle_are_told() {
    for own in at_controls() {
        let text = &own.parts[0].text;
        let (from, to) = if text.contains('\r') { ("\r\n", "\n") } else { ("\n", "\r\n") };
        let half = text.len() / 2;
        let at = half + text[half..].find(from).expect("a line ends");
        let one = format!("{}{to}{}", &text[..at], &text[at + from.len()..]);
        let rest = format!("{}{}", &text[..at], text[at..].replace(from, to));
        let alone = format!("{}\r{}", &text[..at], &text[at + from.len()..]);
        for edited in [&one, &rest] {
            let told = told_at(own, 0, edited, Rank::Warning);
            assert!(told.contains(&"mixed-line-ends"), "{}: {told:?}", own.name);
        }
        for edited in [alone, text.replace(from, "\r")] {
            assert!(!told_at(own, 0, &edited, Rank::Stop).is_empty(), "{}: a CR alone", own.name);
        }
        // The same all through is a transfer's.
        let lines: Vec<&str> = text.lines().collect();
        for end in ["\n", "\r\n", "\r\r\n"] {
            let all = lines.join(&format!("  {end}")) + "  " + end;
            let told = told_at(own, 0, &all, Rank::Warning);
            let full = |id: &&str| own.name == "in parts" && *id == "large-program";
            assert!(told.iter().all(full), "{}: {told:?}", own.name);
        }
    }
}

#[test]
fn the_first_m05_lost_is_told() {
    let tried = each(&["spindle-unset"], Rank::Warning, |lines, _| {
        let first = lines.iter().position(|l| has(l, "M05")).expect("it says that the spindle stands");
        vec![swapped(lines, first, " M05", ""), swapped(lines, first, "M05", "(M05)")]
            .into_iter()
            .filter(|l| {
                l[first].contains("G97") && !l.iter().any(|l| l.starts_with(';') && l.contains("M05"))
            })
            .collect()
    });
    assert!(tried > 12, "{tried}");
}

#[test]
fn words_of_path_control_are_told() {
    for (word, rule) in [("G61", "exact-stop"), ("G64", "rounded-corners")] {
        let tried = each(&[rule], Rank::Warning, |lines, _| {
            before_feed(lines).into_iter().take(3).map(|i| put(lines, i, word)).collect()
        });
        assert!(tried > 20, "{word}: {tried}");
    }
}

/// Wherever a lost offset comes before a motion.
#[test]
fn an_offset_cancelled_is_told() {
    let tried =
        each(&["tool-offset-off", "offset-not-taken-up", "begins-otherwise"], Rank::Warning, |lines, job| {
            if job.control.traits.length_offset != LengthOffset::G43 {
                return Vec::new();
            }
            let moves = |l: &str| !has(l, "G04") && (code(l).contains('X') || code(l).contains('Z'));
            places(lines, moves)
                .into_iter()
                .filter(|i| *i > 20)
                .step_by(7)
                .map(|i| put(lines, i, "G49"))
                .collect()
        });
    assert!(tried > 20, "{tried}");
}

/// Each part of a divided program, with passes or blocks of them taken out.
#[test]
fn a_part_that_takes_less_than_its_head_says_is_stopped() {
    let tried = each(&["part-takes-less", "pass-too-deep"], Rank::Stop, |lines, _| {
        if !lines.iter().any(|l| l.contains("(PART ")) {
            return Vec::new();
        }
        let titles = |l: &&usize| lines[**l].contains("ROUGH PASS") || lines[**l].contains("FINISH PASS");
        let stops = places(lines, |l| has(l, "M00") || has(l, "M01") || has(l, "M30"));
        let blocks = lines.iter().position(|l| has(l, "G18")).expect("blocks");
        let all: Vec<usize> = (blocks..lines.len()).collect();
        let mut edits = Vec::new();
        // What each pass feeds, lost; and all that all of them feed.
        let fed = |from: usize, to: usize| -> Vec<usize> {
            let first = (from..to).find(|&i| has(&lines[i], "G01")).unwrap_or(to);
            let last = (first..to).rev().find(|&i| has(&lines[i], "G00")).unwrap_or(first);
            (first..last.saturating_sub(1)).collect()
        };
        let without = |gone: &[usize]| -> Vec<String> {
            (0..lines.len()).filter(|i| !gone.contains(i)).map(|i| lines[i].clone()).collect()
        };
        let mut every = Vec::new();
        for &title in all.iter().filter(titles) {
            let to = stops.iter().copied().find(|s| *s > title).unwrap_or(lines.len());
            let gone = fed(title, to);
            edits.push(without(&gone));
            edits.push(without(&gone[gone.len() / 2..]));
            every.extend(gone);
        }
        edits.push(without(&every));
        edits
    });
    assert!(tried > 10, "{tried}");
}

/// An operator touches off by the head: with its touch-off gone, changed or made a comment of a comment somebody must look.
#[test]
fn a_touch_off_taken_out_of_the_head_or_changed_is_told() {
    let rules = ["text-changed", "nested-comment", "comment-character", "open-comment"];
    let tried = each(&rules, Rank::Warning, |lines, _| {
        let touch = |l: &str| l.starts_with("(TOUCH-OFF") || l.starts_with("; TOUCH-OFF");
        let goes_on = |l: &str| l.starts_with("(- ") || l.starts_with("; - ");
        let mut edits = Vec::new();
        for at in places(lines, touch) {
            let behind = lines[at + 1..].iter().take_while(|l| goes_on(l)).count();
            edits.push([&lines[..at], &lines[at + 1 + behind..]].concat());
            edits.push(swapped(lines, at, "TOUCH-OFF", "TOUCHED OFF"));
            // With the checksum gone too.
            let bare = [&lines[..at], &lines[at + 1 + behind..]].concat();
            edits.push(bare.into_iter().filter(|l| !l.contains("CHECKSUM")).collect());
            let entered = (at..=at + behind).find(|&i| lines[i].contains(" X")).unwrap_or(at);
            edits.push(swapped(lines, entered, " X1", " X2"));
        }
        edits.retain(|e| e != lines);
        edits
    });
    assert!(tried > 50, "{tried}");
}

/// Beyond the last reading the tool is led off by its nose and a lead; further out, or in, nobody knows what stands there.
#[test]
fn a_tool_fed_past_the_last_reading_is_stopped() {
    let (_, face) = job_and_face();
    let ends = [face.highest.start(), face.highest.end()];
    let tried = each(&["fed-astray", "unmeasured", "keep-out"], Rank::Stop, |lines, job| {
        let inch = if job.control.unit_word.is_inch() { 25.4 } else { 1.0 };
        let across = if job.control.x_words == facewright::job::XWords::Diameter { 2.0 } else { 1.0 };
        let offset = job.tools[0].point_offset().0;
        // In the middle of the first rough pass, where X stands alone or with Z.
        let title = lines.iter().rposition(|l| l.contains("ROUGH PASS 1"));
        let Some(from) = title.and_then(|t| (t..lines.len()).find(|&i| has(&lines[i], "G01"))) else {
            return Vec::new();
        };
        let edit = |x: f64| put(lines, from + 3, &format!("G01 X{:.4}", (x + offset) * across / inch));
        [4.0, 5.0].iter().flat_map(|by| [edit(ends[0] - by), edit(ends[1] + by)]).collect()
    });
    assert!(tried > 20, "{tried}");
}

/// Who watches an air pass twice does no harm, whatever the feed of it is.
#[test]
fn an_air_pass_made_twice_is_no_alarm() {
    let tried = each(&[], Rank::Warning, |lines, _| {
        let titles = places(lines, |l| l.contains("AIR PASS"));
        let twice = |title: usize| {
            let from = (title..lines.len()).find(|&i| !lines[i].starts_with(['(', ';']))?;
            let to = (from..lines.len()).find(|&i| has(&lines[i], "M00"))?;
            // After the stop it begins as the pass behind it does: with all that a reset loses.
            let next = (to..lines.len()).find(|&i| has(&lines[i], "G18"))?;
            let start = (next..lines.len()).find(|&i| starts(&lines[i]))?;
            let first = (from..to).find(|&i| starts(&lines[i]))?;
            // Comments are held against their checksum.
            let again = lines[next..start].iter().chain(&lines[first..=to]);
            let again: Vec<String> = again.filter(|l| !l.starts_with(['(', ';'])).cloned().collect();
            let mut lines = lines.to_vec();
            lines.splice((to + 1)..=to, again);
            Some(lines)
        };
        let blocks = lines.iter().position(|l| has(l, "G18")).unwrap_or(0);
        titles.into_iter().filter(|t| *t > blocks).filter_map(twice).collect()
    });
    assert!(tried > 20, "{tried}");
}

/// The number of the last X word before a line.
fn x_before(lines: &[String], at: usize) -> Option<f64> {
    let word = |l: &String| code(l).split(' ').find_map(|w| w.strip_prefix('X')?.parse::<f64>().ok());
    lines[..at].iter().rev().find_map(word)
}

/// Hub and rim that nobody measured: a rapid over them at the clearance of the face is told.
#[test]
fn a_rapid_low_over_what_nobody_measured_is_told() {
    let tried = each(&["over-unmeasured"], Rank::Warning, |lines, _| {
        let over = |i: usize| {
            let x = x_before(lines, i)?;
            let goes = |to: f64| format!("G00 X{to:.4}");
            Some(put(&put(lines, i, &goes(0.2 * x)), i + 1, &goes(x)))
        };
        before_feed(lines).into_iter().step_by(4).filter_map(over).collect()
    });
    assert!(tried > 15, "{tried}");
}

/// A program of the same wheel, tools and passes for a face that was touched through a shim says another height.
#[test]
fn a_touch_off_that_the_job_does_not_give_is_stopped() {
    let (_, face) = job_and_face();
    let mut tried = 0;
    for own in at_controls() {
        for thicker in [0.05, 0.2] {
            let mut job = own.job.clone();
            job.touching.shim = Length::mm(job.touching.shim.as_mm() + thicker);
            let plan = plan(&job, face, Options::default()).expect("a plan");
            let parts = gcode::write(&job, &plan).expect("a program");
            // What earlier parts have really left nobody but the plan knows: there a height between that and the face as measured may be right.
            let first =
                |part: &&gcode::ProgramText| part.before.as_mm() <= 0.0 && part.text.contains("STAND TOOL");
            for part in parts.iter().filter(first) {
                let circumstances = Circumstances {
                    already: part.before,
                    goes_on: part.part < part.of,
                    ..Circumstances::default()
                };
                let told = |job: &Job| {
                    let report = prove_in(part.text.as_bytes(), job, face, &circumstances);
                    report.findings().iter().map(|f| f.rule.id()).any(|id| id == "touch-off-elsewhere")
                };
                assert!(told(&own.job) && !told(&job), "{}, {thicker} mm thicker", own.name);
                tried += 1;
            }
        }
    }
    assert!(tried > 20, "{tried}");
}

/// The offset that a touch-off gave is taken up before anything moves, and not behind the first rapids.
#[test]
fn an_offset_taken_up_behind_the_way_up_is_stopped() {
    let tried = each(&["offset-not-taken-up"], Rank::Stop, |lines, job| {
        if job.control.tool_word != ToolWord::NumberAndOffset {
            return Vec::new();
        }
        let calls = places(lines, |l| {
            code(l).split(' ').any(|w| w.len() == 5 && w.starts_with('T') && !w.ends_with("00"))
        });
        let again = |i: usize| {
            let stop = lines[..i].iter().rposition(|l| has(l, "M00"))?;
            let same =
                lines[..stop].iter().rposition(|l| !l.starts_with(['(', ';']) && code(l).contains(" T"))?;
            let word = |l: &String| code(l).split(' ').find(|w| w.starts_with('T')).map(str::to_owned);
            (word(&lines[same]) == word(&lines[i])).then_some(())?;
            let up = (i..lines.len()).find(|&k| has(&lines[k], "G00"))?;
            let mut moved = lines.to_vec();
            let call = moved.remove(i);
            moved.insert(up + 1, call);
            Some(moved)
        };
        calls.into_iter().filter_map(again).take(2).collect()
    });
    assert!(tried > 3, "{tried}");
}

/// A first turn that does not turn, and a start whose wait lets the spindle reach nothing.
#[test]
fn a_spindle_that_hardly_turns_at_its_start_is_told() {
    let slower = |lines: &[String], slow: bool, to: &str| -> Vec<Vec<String>> {
        let start =
            |i: &usize| has(&lines[*i], "G97") && starts(&lines[*i]) && has(&lines[*i], "S60") == slow;
        let with = |i: usize| {
            let words = code(&lines[i]).split(' ').map(|w| if w.starts_with('S') { to } else { w });
            let mut lines = lines.to_vec();
            lines[i] = words.collect::<Vec<_>>().join(" ");
            lines
        };
        (0..lines.len()).filter(start).map(with).take(2).collect()
    };
    let mut tried = 0;
    for to in ["S0", "S5"] {
        tried += each(&["no-first-turn"], Rank::Warning, |lines, job| {
            if job.machine.spin.first.is_some() { slower(lines, true, to) } else { Vec::new() }
        });
        tried += each(&["no-wait"], Rank::Warning, |lines, job| {
            if job.machine.spin.up.is_some() { slower(lines, false, to) } else { Vec::new() }
        });
    }
    assert!(tried > 6, "{tried}");
}

/// Over the face, behind a pass, with the spindle turning: who sees the tool stand reaches in.
#[test]
fn a_wait_behind_a_pass_is_told() {
    let tried = each(&["wait-over-wheel"], Rank::Warning, |lines, job| {
        let speed = |l: &String| code(l).split(' ').any(|w| w.starts_with('S'));
        let behind = |i: &usize| has(&lines[*i], "G97") && !starts(&lines[*i]) && speed(&lines[*i]);
        (0..lines.len()).filter(behind).step_by(3).map(|i| put(lines, i, dwell(job))).collect()
    });
    assert!(tried > 15, "{tried}");
}
