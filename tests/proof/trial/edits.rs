//! Single edits as people, editors and transfers make them, each with what must be said of it whatever the oracles see.
//!
//! They are those that somebody who had not read the proof got past it, and their kin.

use super::faults::Dice;
use facewright::job::{Comments, Coolant, Direction, DwellWord, Job, MWords, ToolWord, XWords};

/// What must be said of a program with the edit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Says {
    /// A stop or a warning by one of these rules.
    Any(&'static [&'static str]),
    /// No stop and no warning.
    Nothing,
}

/// Without its word the speed of the place where the pass begins holds all along it: too fast toward the rim, too slow toward the axis.
const SPEED_LOST: Says =
    Says::Any(&["surface-speed", "over-speed", "slow-surface", "nearly-stands", "spindle-off"]);
const STOP_BETWEEN: &[&str] =
    &["no-stop-between", "no-stop-after-air", "first-turn", "tool-not-touched-off", "no-air-pass"];

/// Every edit.
pub const EDITS: &[(&str, Says)] = &[
    ("slow turn tenfold", Says::Any(&["first-turn"])),
    ("slow turn the other way", Says::Any(&["first-turn"])),
    ("slow turn lost", Says::Any(&["no-first-turn"])),
    ("stop in a comment", Says::Any(STOP_BETWEEN)),
    ("stop behind a skip mark", Says::Any(STOP_BETWEEN)),
    ("stop made a wait", Says::Any(STOP_BETWEEN)),
    ("optional stop where it must stop", Says::Any(STOP_BETWEEN)),
    (
        "stop between passes lost",
        Says::Any(&["no-stop-between", "no-stop-after-air", "tool-not-touched-off"]),
    ),
    ("stop for an optional stop", Says::Nothing),
    ("surface speed lost", SPEED_LOST),
    ("speed of a rougher pass", Says::Any(&["surface-speed", "over-speed", "other-surface-speed"])),
    ("feed fourfold", Says::Any(&["feed", "air-feed", "other-feed", "feed-coarse"])),
    ("feed a tenth", Says::Any(&["feed-low", "feed-fine", "grooves"])),
    ("dwell by another letter", Says::Any(&["other-dwell"])),
    ("dwell lost", Says::Any(&["no-wait", "no-first-turn"])),
    ("dwell a thousandfold", Says::Any(&["long-wait"])),
    ("way home lost", Says::Any(&["change-away-from-home", "end-away-from-home"])),
    ("change before the way home", Says::Any(&["change-away-from-home"])),
    (
        "pass raised by 1.5 mm",
        Says::Any(&[
            "takes-nothing",
            "air-pass-short",
            "air-pass-height",
            "air-pass-touches",
            "no-air-pass",
            "metal-left",
        ]),
    ),
    (
        "pass lowered by 0.5 mm",
        Says::Any(&[
            "pass-too-deep",
            "gouge",
            "air-pass-height",
            "air-pass-touches",
            "keep-out",
            "unmeasured",
            "rapid-near",
        ]),
    ),
    ("air pass made twice", Says::Nothing),
    ("off and on again", Says::Any(&["starts-again"])),
    ("wait over the face", Says::Any(&["wait-over-wheel", "stands-in-cut"])),
    ("wait at the park", Says::Nothing),
    ("two M words", Says::Any(&["two-m-words"])),
    ("coolant of another control", Says::Any(&["other-coolant"])),
    ("air pass under coolant", Says::Any(&["air-pass-wet", "stop-with-coolant", "other-coolant"])),
    ("one line end of another system", Says::Any(&["mixed-line-ends"])),
    ("a carriage return alone", Says::Any(&["unreadable", "comment-character"])),
    ("first M05 lost", Says::Any(&["spindle-unset"])),
    ("exact stop", Says::Any(&["exact-stop"])),
    ("continuous path", Says::Any(&["rounded-corners"])),
    ("fed past the last reading", Says::Any(&["fed-astray", "unmeasured", "keep-out"])),
    (
        "blocks of a part lost",
        Says::Any(&["part-takes-less", "pass-too-deep", "no-air-pass", "air-pass-short"]),
    ),
    ("pass there twice", Says::Any(&["takes-nothing", "air-pass-height", "no-stop-between", "no-air-pass"])),
    ("coolant left on", Says::Any(&["stop-with-coolant", "coolant-left-on"])),
    ("spindle left on", Says::Any(&["stop-while-turning", "spindle-left-on"])),
    ("start for the stop of the spindle", Says::Any(&["stop-while-turning", "spindle-left-on"])),
    ("blank behind a sign", Says::Any(&["blank-in-number"])),
    ("fed to the axis", Says::Any(&["fed-astray", "unmeasured", "keep-out", "gouge"])),
    ("fed out over the tyre", Says::Any(&["fed-astray", "keep-out", "unmeasured"])),
    ("tool word of another control", Says::Any(&["other-tool", "tool-form"])),
    ("wait in the cut", Says::Any(&["stands-in-cut"])),
    ("stop in the cut", Says::Any(&["stands-in-cut", "stop-while-turning"])),
    ("comment edited", Says::Any(&["text-changed", "other-wheel"])),
    ("comments taken out", Says::Any(&["no-head"])),
    ("high bit", Says::Any(&["unreadable"])),
    ("blanks at the ends", Says::Nothing),
    ("padding behind the end", Says::Nothing),
    ("line ends", Says::Nothing),
    ("small letters", Says::Nothing),
    ("numbers lost", Says::Nothing),
];

fn code(line: &str) -> &str {
    line.split(['(', ';']).next().unwrap_or_default()
}

fn has(line: &str, word: &str) -> bool {
    code(line).split(' ').any(|w| w == word)
}

/// A number behind a letter in a line's words.
fn number(line: &str, letter: char) -> Option<f64> {
    code(line).split(' ').find_map(|w| w.strip_prefix(letter)).and_then(|n| n.parse().ok())
}

fn turned(word: &str) -> &'static str {
    if word == "M03" { "M04" } else { "M03" }
}

/// The program with an edit; none where it finds no place. `ends` are the radii at which the readings end.
#[allow(clippy::too_many_lines)] // One table.
pub fn make(name: &str, text: &str, (job, ends): (&Job, [f64; 2]), dice: &mut Dice) -> Option<String> {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let end = if text.contains('\r') { "\r\n" } else { "\n" };
    let all =
        |wanted: &dyn Fn(usize) -> bool| (0..lines.len()).filter(|&i| wanted(i)).collect::<Vec<usize>>();
    let one = |of: Vec<usize>, dice: &mut Dice| (!of.is_empty()).then(|| of[dice.below(of.len())]);
    let line = |i: usize| lines.get(i).map_or("", String::as_str);
    let stops = all(&|i| has(line(i), "M00"));
    let starts = all(&|i| has(line(i), "M03") || has(line(i), "M04"));
    // The start of the slow turn: the first, where the shop asks for one and no motion follows before the stop.
    let slow = || {
        job.machine.spin.first?;
        let first = *starts.first()?;
        let stop = *stops.first()?;
        (first < stop && (first..stop).all(|i| number(line(i), 'Z').is_none())).then_some((first, stop))
    };
    // Passes: from a start of the spindle to the next stop of any kind, or the end.
    let passes: Vec<(usize, usize)> = starts
        .iter()
        .filter(|&&s| slow().is_none_or(|(first, _)| s != first))
        .filter_map(|&s| Some((s, (s..lines.len()).find(|&i| has(line(i), "M05"))?)))
        .filter(|&(from, to)| (from..to).any(|i| has(line(i), "G01")))
        .collect();
    let some_pass = |dice: &mut Dice| (!passes.is_empty()).then(|| passes[dice.below(passes.len())]);
    let cuts = all(&|i| {
        passes.iter().any(|&(a, b)| a < i && i < b)
            && number(line(i), 'X').is_some()
            && number(line(i), 'Z').is_some_and(|z| z < 0.0)
    });
    match name {
        "slow turn tenfold" => {
            let (i, _) = slow()?;
            let speed = number(line(i), 'S')?;
            lines[i] = line(i).replace(&format!("S{speed}"), &format!("S{speed}0"));
        }
        "slow turn the other way" => {
            let (i, _) = slow()?;
            let word = if has(line(i), "M03") { "M03" } else { "M04" };
            lines[i] = line(i).replace(word, turned(word));
        }
        "slow turn lost" => {
            let (first, stop) = slow()?;
            lines.drain(first..=stop);
        }
        "stop in a comment"
        | "stop behind a skip mark"
        | "stop made a wait"
        | "optional stop where it must stop" => {
            let i = one(stops, dice)?;
            lines[i] = match name {
                "stop in a comment" => match job.control.traits.comments {
                    Comments::Brackets => line(i).replace("M00", "(M00)"),
                    Comments::Semicolon => line(i).replace("M00", "; M00"),
                    Comments::None => return None,
                },
                "stop behind a skip mark" => format!("/{}", line(i)),
                "stop made a wait" => line(i).replace("M00", "G04 P1.0"),
                _ => line(i).replace("M00", "M01"),
            };
        }
        "stop between passes lost" => {
            let between = all(&|i| {
                let stops = has(line(i), "M01")
                    || has(line(i), "M00") && passes.iter().skip(1).any(|&(_, b)| (b..b + 4).contains(&i));
                // Behind a tool's last pass its change stops the program.
                let later = |wanted: &dyn Fn(usize) -> bool| (i..lines.len()).find(|&k| wanted(k));
                let fed = later(&|k| has(line(k), "G01"));
                let changed = later(&|k| number(line(k), 'T').is_some());
                stops && fed.is_some_and(|fed| changed.is_none_or(|t| fed < t))
            });
            lines.remove(one(between, dice)?);
        }
        "stop for an optional stop" => {
            let i = one(all(&|i| has(line(i), "M01")), dice)?;
            lines[i] = line(i).replace("M01", "M00");
        }
        "surface speed lost" => {
            lines.remove(one(all(&|i| has(line(i), "G96")), dice)?);
        }
        "speed of a rougher pass" => {
            let i = one(all(&|i| has(line(i), "G96")), dice)?;
            let speed = number(line(i), 'S')?;
            lines[i] = line(i).replace(&format!("S{speed}"), &format!("S{:.0}", speed * 1.3));
        }
        "feed fourfold" | "feed a tenth" => {
            let (from, to) = some_pass(dice)?;
            let first_pass = |i: usize| name == "feed a tenth" && is_air(&lines, i);
            let i = (from..to).find(|&i| number(line(i), 'F').is_some() && !first_pass(i))?;
            let feed = code(line(i)).split(' ').find(|w| w.starts_with('F'))?.to_owned();
            let factor = if name == "feed fourfold" { 4.0 } else { 0.1 };
            let new = format!("F{:.5}", number(line(i), 'F')? * factor);
            lines[i] = line(i).replacen(&feed, &new, 1);
        }
        "dwell a thousandfold" => {
            let spin = &job.machine.spin;
            let i = one(all(&|i| has(line(i), "G04")), dice)
                .filter(|_| spin.up.is_some() || spin.first.is_some())?;
            let word = code(line(i)).split(' ').find(|w| w.starts_with(['P', 'X']))?.to_owned();
            let seconds = number(line(i), word.chars().next()?)?;
            lines[i] = line(i).replacen(&word, &format!("{}{:.1}", &word[..1], seconds * 1000.0), 1);
        }
        "dwell by another letter" | "dwell lost" => {
            let i = one(all(&|i| has(line(i), "G04")), dice)?;
            if name == "dwell lost" {
                lines.remove(i);
            } else {
                let (from, to) =
                    if job.machine.spin.dwell == DwellWord::P { (" P", " X") } else { (" X", " P") };
                lines[i] = line(i).replace(from, to);
            }
        }
        "way home lost" => {
            lines.remove(one(all(&|i| has(line(i), "G28")), dice)?);
        }
        "change before the way home" => {
            let i = one(all(&|i| has(line(i), "G28")), dice)?;
            let call = (i..lines.len()).find(|&k| number(line(k), 'T').is_some_and(|t| t != 0.0))?;
            let home = lines.remove(i);
            lines.insert(call, home);
        }
        "pass raised by 1.5 mm" | "pass lowered by 0.5 mm" => {
            let (from, to) = some_pass(dice)?;
            let inch = job.control.unit_word.is_inch();
            let by = if name == "pass raised by 1.5 mm" { 1.5 } else { -0.5 };
            let by = if inch { by / 25.4 } else { by };
            let places = if inch { 4 } else { 3 };
            // What is fed, and not the way up behind it.
            let first = (from..to).find(|&i| has(line(i), "G01"))?;
            let last = (first..to).rev().find(|&i| has(line(i), "G00"))?;
            for fed in &mut lines[first..last] {
                let Some(z) = number(fed, 'Z') else { continue };
                let old = code(fed).split(' ').find(|w| w.starts_with('Z'))?.to_owned();
                *fed = fed.replacen(&old, &format!("Z{:.places$}", z + by), 1);
            }
        }
        "air pass made twice" => {
            let title = one(all(&|i| line(i).contains("AIR PASS") && !line(i).contains("STOP.")), dice)?;
            let from = (title..lines.len()).find(|&i| !line(i).starts_with(['(', ';']))?;
            let to = (from..lines.len()).find(|&i| has(line(i), "M00"))?;
            if !(from..to).any(|i| has(line(i), "G01")) || (from..to).any(|i| number(line(i), 'T').is_some())
            {
                return None;
            }
            // After the stop it begins as the pass behind it does: with all that a reset loses.
            let next = (to..lines.len()).find(|&i| has(line(i), "G18"))?;
            let start = (next..lines.len()).find(|&i| has(line(i), "M03") || has(line(i), "M04"))?;
            let first = (from..to).find(|&i| has(line(i), "M03") || has(line(i), "M04"))?;
            let again = (next..start).chain(first..=to).map(|i| line(i).to_owned());
            let again: Vec<String> = again.filter(|l| !l.starts_with(['(', ';'])).collect();
            lines.splice(to + 1..to + 1, again);
        }
        "off and on again" => {
            let (from, _) = some_pass(dice)?;
            let word = if has(line(from), "M04") { "M04" } else { "M03" };
            lines.insert(from + 1, word.into());
            lines.insert(from + 1, "M05".into());
        }
        "wait over the face" | "exact stop" | "continuous path" => {
            let (from, to) = some_pass(dice)?;
            let i = (from..to).find(|&i| has(line(i), "G01"))?;
            let wait = if job.machine.spin.dwell == DwellWord::P { "G04 P2.0" } else { "G04 X2.0" };
            let block = match name {
                "exact stop" => "G61",
                "continuous path" => "G64",
                _ => wait,
            };
            lines.insert(i, block.into());
        }
        "wait at the park" => {
            // By hand the spindle is stopped over the wheel.
            let (_, off) = some_pass(dice).filter(|_| text.contains("CHECKSUM"))?;
            let wait = if job.machine.spin.dwell == DwellWord::P { "G04 P2.0" } else { "G04 X2.0" };
            lines.insert(off + 1, wait.into());
        }
        "two M words" if job.control.traits.m_words == MWords::All => return None,
        "two M words" => {
            let (_, off) = some_pass(dice)?;
            lines[off] = line(off).replace("M05", "M05 M09");
        }
        "coolant of another control" => {
            let (from, _) = some_pass(dice)?;
            lines.insert(from + 1, if job.control.coolant == Coolant::M08 { "M07" } else { "M08" }.into());
        }
        "air pass under coolant" => {
            let (from, _) = some_pass(dice).filter(|p| is_air(&lines, p.0))?;
            lines.insert(from + 1, if job.control.coolant == Coolant::M07 { "M07" } else { "M08" }.into());
        }
        "one line end of another system" | "a carriage return alone" => {
            let words = |i: usize| i < lines.len() && code(line(i)).trim().len() > 1;
            let i = one(all(&|i| words(i) && words(i + 1)), dice)?;
            let other = match (name, end) {
                ("a carriage return alone", _) => "\r",
                (_, "\n") => "\r\n",
                _ => "\n",
            };
            let made = |(k, l): (usize, &String)| format!("{l}{}", if k == i { other } else { end });
            return Some(lines.iter().enumerate().map(made).collect());
        }
        "first M05 lost" => {
            // Of a program from elsewhere nobody asks for it.
            let first = all(&|i| has(line(i), "M05")).first().copied()?;
            if !text.contains("CHECKSUM") || starts.first().is_some_and(|&s| s < first) {
                return None;
            }
            lines[first] = line(first).replace(" M05", "");
        }
        "fed past the last reading" => {
            let (from, to) = some_pass(dice)?;
            let first = (from..to).find(|&i| has(line(i), "G01"))?;
            let inch = if job.control.unit_word.is_inch() { 25.4 } else { 1.0 };
            let across = if job.control.x_words == XWords::Diameter { 2.0 } else { 1.0 };
            let nose = job.tools.iter().map(|t| t.nose_radius.as_mm()).fold(0.0, f64::max);
            let by = 4.0 + nose + dice.below(100) as f64 / 100.0;
            let x = if dice.below(2) == 0 { ends[0] - by } else { ends[1] + by };
            lines.insert(first + 2, format!("G01 X{:.3}", x * across / inch));
        }
        "blocks of a part lost" => {
            if !text.contains("(PART 1 ") {
                return None;
            }
            let (from, to) = some_pass(dice)?;
            let first = (from..to).find(|&i| has(line(i), "G01"))?;
            let last = (first..to).rev().find(|&i| has(line(i), "G00"))?.checked_sub(2)?;
            let half = first + (last - first) / 2;
            lines.drain(if dice.below(2) == 0 { first..last } else { half..last });
        }
        "pass there twice" => {
            let (from, _) = some_pass(dice).filter(|p| !is_air(&lines, p.0))?;
            let stop = (from..lines.len()).find(|&i| has(line(i), "M00") || has(line(i), "M01"))?;
            let again = lines.get(from..=stop)?.to_vec();
            let at = stop + 1;
            lines.splice(at..at, again);
        }
        "coolant left on" => {
            let off =
                all(&|i| has(line(i), "M09") && (0..i).any(|k| has(line(k), "M07") || has(line(k), "M08")));
            // After an air pass nothing ran.
            let off: Vec<usize> = off
                .into_iter()
                .filter(|&i| {
                    let since = (0..i).rev().find(|&k| has(line(k), "M09")).unwrap_or(0);
                    (since..i).any(|k| has(line(k), "M07") || has(line(k), "M08"))
                })
                .collect();
            lines.remove(one(off, dice)?);
        }
        "spindle left on" | "start for the stop of the spindle" => {
            let off = passes.iter().map(|p| p.1).collect();
            let i = one(off, dice)?;
            let new = if name == "spindle left on" { String::new() } else { " M03".into() };
            lines[i] = line(i).replace(" M05", &new).replace("M05", new.trim());
        }
        "blank behind a sign" => {
            let i = one(cuts, dice)?;
            lines[i] = line(i).replacen("Z-", "Z- ", 1);
        }
        // Inward a pass ends there, at the clearance over what stands.
        "fed to the axis" if job.schedule.direction == Direction::Inward => return None,
        "fed to the axis" => {
            let (from, to) = some_pass(dice)?;
            let first = (from..to).find(|&i| has(line(i), "G01"))?;
            let up = (first..to).rev().find(|&i| has(line(i), "G00"))?;
            // A pass that has led off to the clearance goes over everything.
            let height = (first..up).rev().find_map(|i| number(line(i), 'Z'))?;
            let unit = if job.control.unit_word.is_inch() { 25.4 } else { 1.0 };
            if height * unit > job.machine.clearance.as_mm() - 1.0 {
                return None;
            }
            lines.insert(up, "G01 X0.0".into());
        }
        "fed out over the tyre" => {
            let (from, to) = some_pass(dice)?;
            let first = (from..to).find(|&i| has(line(i), "G01"))?;
            let up = (first..to).rev().find(|&i| has(line(i), "G00"))?;
            let out = (up..to).find(|&i| number(line(i), 'X').is_some())?;
            let x = code(line(out)).split(' ').find(|w| w.starts_with('X'))?.to_owned();
            lines.insert(up, format!("G01 {x}"));
        }
        "tool word of another control" => {
            let i = one(stops, dice)?;
            let word = match job.control.tool_word {
                ToolWord::NumberAndOffset | ToolWord::ShortNumberAndOffset => "T7",
                _ => "T0202",
            };
            lines.insert(i + 1, word.into());
        }
        "wait in the cut" | "stop in the cut" => {
            let i = one(cuts, dice)?;
            let dwell = if job.machine.spin.dwell == DwellWord::P { "G04 P2.0" } else { "G04 X2.0" };
            lines.insert(i, if name == "wait in the cut" { dwell.into() } else { "M00".into() });
        }
        "comment edited" => {
            let told = all(&|i| {
                let comment = line(i).trim_start().starts_with(['(', ';']);
                comment && !line(i).contains("CHECKSUM") && line(i).contains(|c: char| c.is_ascii_digit())
            });
            let i = one(told, dice)?;
            let at = line(i).find(|c: char| c.is_ascii_digit())?;
            let other = if line(i).as_bytes()[at] == b'7' { "3" } else { "7" };
            lines[i].replace_range(at..=at, other);
        }
        "comments taken out" => {
            let kept: Vec<String> =
                lines.iter().filter(|l| !l.trim_start().starts_with(['(', ';'])).cloned().collect();
            if kept.len() == lines.len() || kept.iter().any(|l| l.contains('(')) {
                return None;
            }
            lines = kept;
        }
        "high bit" => {
            let i = one(cuts, dice)?;
            let z = line(i).find('Z')? + 2;
            lines[i].replace_range(z..=z, "\u{b3}");
        }
        "blanks at the ends" => lines.iter_mut().for_each(|l| *l += "   "),
        "padding behind the end" => {
            lines.push(["\0\0\0\0", "\u{1a}", "\0\0\u{1a}\u{1a}"][dice.below(3)].into());
        }
        "line ends" => {
            let other = ["\n", "\r\n", "\r\r\n", "\n\r", "\r\n\r\n"][dice.below(5)];
            let made = lines.join(other) + other;
            return (made != text).then_some(made);
        }
        "small letters" => {
            let i = one(cuts, dice)?;
            lines[i] = line(i).to_lowercase();
        }
        "numbers lost" => {
            let i = one(all(&|i| line(i).starts_with('N')), dice)?;
            lines[i] = line(i).split_once(' ')?.1.to_owned();
        }
        _ => return None,
    }
    let made = lines.join(end) + end;
    (made != text).then_some(made)
}

/// Whether a line belongs to a tool's first pass: no stop that looks at it stands between the tool's call and the line.
fn is_air(lines: &[String], i: usize) -> bool {
    let call = (0..i).rev().find(|&k| number(&lines[k], 'T').is_some_and(|t| t != 0.0));
    let begin = call.unwrap_or(0);
    !(begin..i).any(|k| has(&lines[k], "M00") && (begin..k).any(|f| has(&lines[f], "G01")))
}
