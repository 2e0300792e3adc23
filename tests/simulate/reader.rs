//! Laws of the reader, and other readers beside it.

use crate::fixtures::machine::{self, plain};
use facewright::job::{BareNumbers, FeedWords};
use facewright::proof::{ProgramRead, Rank, explain, read, simulate};
use proptest::prelude::*;
use std::path::Path;

/// The words of a program as letters and numbers, N and O included.
fn words(read: &ProgramRead) -> Vec<Vec<(char, f64)>> {
    let mut out = Vec::new();
    for block in &read.blocks {
        let mut line = Vec::new();
        if let Some(n) = block.number {
            line.push(('O', n as f64));
        }
        if let Some(n) = block.sequence {
            line.push(('N', n as f64));
        }
        line.extend(block.words.iter().map(|w| (w.letter, w.value)));
        if !line.is_empty() {
            out.push(line);
        }
    }
    out
}

/// A word as a person may write it: letter in either case, blanks after it, sign, zeros in front and behind, point or none.
#[derive(Debug, Clone)]
struct Written {
    letter: char,
    thousandths: i32,
    lower: bool,
    blank: bool,
    plus: bool,
    zeros: usize,
    tail: usize,
}

impl Written {
    fn text(&self) -> String {
        let letter = if self.lower { self.letter.to_ascii_lowercase() } else { self.letter };
        let blank = if self.blank { " " } else { "" };
        let sign = if self.thousandths < 0 {
            "-"
        } else if self.plus {
            "+"
        } else {
            ""
        };
        let size = self.thousandths.unsigned_abs();
        let fraction = format!("{:03}", size % 1000);
        let fraction = format!("{}{}", fraction.trim_end_matches('0'), "0".repeat(self.tail));
        let point = if fraction.is_empty() { "" } else { "." };
        format!("{letter}{blank}{sign}{}{}{point}{fraction}", "0".repeat(self.zeros), size / 1000)
    }
}

fn written() -> impl Strategy<Value = Written> {
    let letters = prop::sample::select("ABCDEFGHIJKLMPQRSTUVWXYZ".chars().collect::<Vec<_>>());
    (letters, -9_999_999..9_999_999i32, any::<(bool, bool, bool)>(), 0..3usize, 0..3usize).prop_map(
        |(letter, thousandths, (lower, blank, plus), zeros, tail)| Written {
            letter,
            thousandths,
            lower,
            blank,
            plus,
            zeros,
            tail,
        },
    )
}

proptest! {
    /// No bytes whatever make reading, running or explaining panic, and whatever is in no word is a finding.
    #[test]
    fn never_panics_on_bytes(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let lathe = plain();
        let _ = explain(&simulate(&bytes, lathe.setup()));
    }

    /// Nor do letters, digits and signs of programs in any order.
    #[test]
    fn never_panics_on_words(
        text in "[GMXZIKRFSTPDNUWO/%:;(). \\-+0-9\n]{0,300}",
        implied in prop::option::of(0..40usize), increments_uw: bool,
    ) {
        let lathe = plain().with(|control| {
            if let Some(decimals) = implied {
                control.bare_numbers = BareNumbers::Steps;
                control.decimals = decimals;
            }
            if increments_uw {
                control.feed_words = FeedWords::G98G99;
            }
        });
        let run = lathe.run(&text);
        let explained = explain(&run);
        prop_assert_eq!(explained.len(), run.program.blocks.len());
        prop_assert!(explained.iter().all(|e| !e.text.contains(char::is_control)));
        for execution in run.executions() {
            for m in &execution.movements {
                prop_assert!(m.piece.from() != m.piece.to());
                prop_assert!(run.program.blocks.get(m.block).is_some_and(|b| b.line == m.line));
            }
        }
    }

    /// Words written in any way read back as the same letters and numbers, at the columns where they stand.
    #[test]
    fn written_words_read_back(
        lines in prop::collection::vec(prop::collection::vec((written(), 0..3usize), 1..8), 1..8),
        crlf: bool,
    ) {
        let mut text = String::new();
        let mut expected = Vec::new();
        let mut columns = Vec::new();
        for line in &lines {
            let mut at = String::new();
            for (word, blanks) in line {
                columns.push(at.len() + 1);
                at += &word.text();
                at += &" ".repeat(*blanks);
            }
            expected.push(line.iter().map(|(w, _)| (w.letter, f64::from(w.thousandths) / 1000.0)).collect::<Vec<_>>());
            text += &at;
            text += if crlf { "\r\n" } else { "\n" };
        }
        let read = read(text.as_bytes());
        prop_assert_eq!(&read.findings, &vec![], "{}", text);
        prop_assert_eq!(words(&read), expected);
        let found: Vec<usize> = read.blocks.iter().flat_map(|b| b.words.iter().map(|w| w.column)).collect();
        prop_assert_eq!(found, columns);
        for block in &read.blocks {
            for (word, (meant, _)) in block.words.iter().zip(&lines[block.line - 1]) {
                prop_assert_eq!(read.word_text(word), meant.text());
            }
        }
    }

    /// A character that belongs to no word is always a stop, wherever it stands outside a comment.
    #[test]
    fn nothing_is_skipped(strange in "[!\"#$&'*,<=>?@\\[\\]^_`{|}~äß\u{7f}\u{0}]", at in 0..3usize) {
        let mut parts = ["G01", "X90.", "Z40."].map(str::to_owned);
        parts[at] += &strange;
        let read = read(parts.join(" ").as_bytes());
        prop_assert_eq!(read.findings.iter().filter(|f| f.rank == Rank::Stop).count(), 1);
    }
}

fn fixture(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures").join(name);
    std::fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// The programs kept for readers to agree on.
const PROGRAMS: &[&str] = &["diameter-inch.nc", "everything.nc", "metric-arcs.nc"];

/// Source: the `pygcode` package of Python reads the same words in the same order (tests/reference/words.py).
#[test]
fn another_reader_finds_the_same_words() {
    let reference: serde_json::Value =
        serde_json::from_slice(&fixture("reference/words.json")).unwrap_or_default();
    for name in PROGRAMS {
        let ours = words(&read(&fixture(&format!("programs/{name}"))));
        let theirs: Vec<Vec<(char, f64)>> =
            serde_json::from_value(reference[name].clone()).unwrap_or_default();
        assert!(!theirs.is_empty(), "{name} has no reference");
        assert_eq!(ours, theirs, "{name}");
    }
}

/// The words of a program as the `gcode` crate reads it, in the order they stand. It knows neither tape
/// marks nor program numbers nor block skip, and keeps values in single precision.
fn gcode_words(text: &str) -> Vec<(char, f32)> {
    let lines = text.lines().filter(|l| !l.starts_with(['%', 'O'])).map(|l| l.trim_start_matches('/'));
    let program = gcode::parse(&lines.collect::<Vec<_>>().join("\n")).unwrap_or_default();
    let literal = |value: &gcode::Value| if let gcode::Value::Literal(v) = value { *v } else { f32::NAN };
    let number = |n: gcode::core::Number| n.to_string().parse().unwrap_or(f32::NAN);
    let mut out = Vec::new();
    for block in &program.blocks {
        let mut found = Vec::new();
        for code in &block.codes {
            let (letter, n, at, args) = match code {
                gcode::Code::General(c) => ('G', c.number, c.span.start, &c.args),
                gcode::Code::Miscellaneous(c) => ('M', c.number, c.span.start, &c.args),
                gcode::Code::ToolChange(c) => ('T', c.number, c.span.start, &c.args),
                _ => continue,
            };
            found.push((at, letter, number(n)));
            found.extend(args.iter().map(|a| (a.span.start, a.letter, literal(&a.value))));
        }
        found.extend(block.word_addresses.iter().map(|w| (w.span.start, w.letter, literal(&w.value))));
        found.sort_by_key(|(at, ..)| *at);
        #[allow(clippy::cast_precision_loss)] // Sequence numbers are small.
        out.extend(block.line_number.map(|n| ('N', n as f32)));
        out.extend(found.into_iter().map(|(_, letter, value)| (letter.to_ascii_uppercase(), value)));
    }
    out
}

/// Source: the `gcode` crate reads the same words in the same order.
#[test]
fn the_gcode_crate_finds_the_same_words() {
    for name in PROGRAMS {
        let text = String::from_utf8_lossy(&fixture(&format!("programs/{name}"))).into_owned();
        #[allow(clippy::cast_possible_truncation)] // Their precision.
        let ours: Vec<(char, f32)> = words(&read(text.as_bytes()))
            .concat()
            .into_iter()
            .filter(|(letter, _)| *letter != 'O')
            .map(|(letter, value)| (letter, value as f32))
            .collect();
        assert_eq!(ours, gcode_words(&text), "{name}");
    }
}

/// The fixtures are sound programs: neither stop nor warning, each at the control it is written for.
#[test]
fn the_programs_are_sound() {
    use facewright::job::{Coolant, SpindleLimitWord, ToolWord, UnitWord, XWords};
    let metric = plain().with(|c| c.tape_marks = true);
    let inch = plain().with(|c| {
        c.unit_word = UnitWord::G20;
        c.x_words = XWords::Diameter;
        c.decimals = 4;
        c.spindle_limit_word = SpindleLimitWord::G50;
        c.feed_words = facewright::job::FeedWords::G98G99;
        c.tool_word = ToolWord::NumberAndOffset;
        c.work_offset = Some(54);
        c.coolant = Coolant::M08;
        c.program_number = Some(1042);
    });
    for (name, lathe) in
        [("metric-arcs.nc", &metric), ("diameter-inch.nc", &inch), ("everything.nc", &metric)]
    {
        let text = String::from_utf8_lossy(&fixture(&format!("programs/{name}"))).into_owned();
        let run = lathe.run(&text);
        // Two of them stop with the tool over the rim, one ends before the park, waits over the wheel and runs a coolant that the control
        // does not have, as programs from elsewhere may: it is told.
        let mut found = machine::kinds(&run.findings, Rank::Warning);
        let known = ["stop-away-from-park", "end-away-from-park", "wait-over-wheel", "other-coolant"];
        found.retain(|id| !known.contains(id));
        assert_eq!(found, Vec::<&str>::new(), "{name} {:#?}", run.findings);
        assert!(run.executions().all(|w| w.ended && w.time.is_some()));
    }
}
