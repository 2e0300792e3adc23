//! Checks of the text as a whole: beginning and end, program and sequence numbers, size.

use super::reader::{Block, ProgramRead};
use super::simulation::collect_findings;
use crate::diagnostics::{Finding, FindingCollector, Place, ProgramRule};
use crate::job::{Comments, Control, LineEnd};
use std::collections::HashMap;

/// Checks the text as a whole.
pub(super) fn check(read: &ProgramRead, control: &Control) -> Vec<Finding> {
    collect_findings(|notes| {
        size(read, control, notes);
        numbers(read, control, notes);
        sequence(read, control, notes);
        comments(read, control, notes);
        ends(read, control, notes);
        line_ends(read, control, notes);
        switches(read, notes);
    })
}

fn size(read: &ProgramRead, control: &Control, notes: &mut FindingCollector) {
    if u64::try_from(read.bytes).unwrap_or(u64::MAX) > control.largest_program {
        let what = format!("{} bytes; the control holds {}", read.bytes, control.largest_program);
        notes.add(ProgramRule::LargeProgram, Place::Whole, what);
    }
    for block in &read.blocks {
        // Blanks at the end of a line lose nothing where it is cut, nor does the mark by which some editors and controls end a block.
        let text = read.line_text(block).trim_end_matches(|c: char| c.is_whitespace() || c == ';');
        if text.len() > control.longest_line {
            let length = text.chars().count();
            if length > control.longest_line {
                let what = format!("{length} characters; the control reads {}", control.longest_line);
                notes.add(ProgramRule::LongLine, block.place(), what);
            }
        }
        if !text.is_ascii() {
            notes.add(ProgramRule::NotAscii, block.place(), "characters outside ASCII".into());
        }
    }
}

fn numbers(read: &ProgramRead, control: &Control, notes: &mut FindingCollector) {
    let mut seen = None;
    let mut begun = false;
    for block in &read.blocks {
        if block.number.is_some() && seen.is_some() {
            notes.add(ProgramRule::SecondProgram, block.place(), "another program number".into());
        } else if block.number.is_some() && (begun || block.sequence.is_some()) {
            notes.add(
                ProgramRule::SecondProgram,
                block.place(),
                "a program number behind the first block".into(),
            );
        }
        seen = seen.or(block.number);
        begun |= !block.words.is_empty() || block.sequence.is_some();
    }
    // Later parts of a divided program have the numbers behind its own.
    let wanted = control.program_number.map(|n| u64::from(n) + part(read).saturating_sub(1));
    if let Some(wanted) = wanted.filter(|n| seen != Some(*n)) {
        let found = seen.map_or_else(|| "no program number".to_owned(), |n| format!("program number {n}"));
        notes.add(ProgramRule::ProgramNumber, Place::Whole, format!("{found}; the control's is {wanted}"));
    }
}

/// Which part of a divided program the head says that this is; the first, where it says nothing.
fn part(read: &ProgramRead) -> u64 {
    let mut comments = read.blocks.iter().flat_map(|b| &b.comments);
    let said = comments.find_map(|c| c.strip_prefix("PART ")?.split_whitespace().next()?.parse().ok());
    said.unwrap_or(1)
}

/// Comments in a form that the control does not read.
fn comments(read: &ProgramRead, control: &Control, notes: &mut FindingCollector) {
    let told = |block: &Block| match (control.traits.comments, block.comment_forms) {
        (Comments::None, (true, _) | (_, true)) => Some("a comment; the control reads none"),
        (Comments::Semicolon, (true, _)) => {
            Some("a comment in brackets; the control reads them behind a semicolon")
        }
        _ => None,
    };
    for block in &read.blocks {
        if let Some(what) = told(block) {
            notes.add(ProgramRule::CommentForm, block.place(), what.into());
        }
    }
}

fn sequence(read: &ProgramRead, control: &Control, notes: &mut FindingCollector) {
    let numbered = || read.blocks.iter().filter_map(|b| Some((b.sequence?, b)));
    let largest = control.traits.largest_sequence;
    for (_, block) in numbered().filter(|(n, _)| *n > u64::from(largest)) {
        notes.add(ProgramRule::BigSequence, block.place(), format!("a sequence number above {largest}"));
    }
    if numbered().map(|(n, _)| n).is_sorted_by(|a, b| a < b) {
        return;
    }
    let mut lines = HashMap::new();
    let mut before = None;
    for (n, block) in numbered() {
        if let Some(first) = lines.insert(n, block.line) {
            notes.add(
                ProgramRule::RepeatedSequence,
                block.place(),
                format!("N{n} stands at line {first} already"),
            );
        } else if before.is_some_and(|b| n < b) {
            notes.add(
                ProgramRule::FallingSequence,
                block.place(),
                "a sequence number below the one before".into(),
            );
        }
        before = Some(n);
    }
}

fn ends(read: &ProgramRead, control: &Control, notes: &mut FindingCollector) {
    if control.tape_marks {
        if read.opened.is_none() {
            notes.add(ProgramRule::TapeMark, Place::Whole, "no `%` stands before the first block".into());
        }
        if read.closed.is_none() {
            notes.add(ProgramRule::TapeMark, Place::Whole, "no `%` stands after the last block".into());
        }
    } else if read.opened.is_some() && read.closed.is_none() {
        // A pair or none (NISTIR 6556, chapter 3).
        notes.add(ProgramRule::TapeMark, Place::Whole, "a `%` stands first and none last".into());
    }
    if let Some(line) = read.before_open {
        let rule = if control.tape_marks { ProgramRule::OutsideMarks } else { ProgramRule::BeforeMark };
        notes.add(rule, Place::line(line), "text before the opening `%`".into());
    }
    if let Some(line) = read.after_close {
        notes.add(ProgramRule::AfterEnd, Place::line(line), "text after the closing `%`".into());
    }
}

/// A line that ends otherwise than those before it.
fn line_ends(read: &ProgramRead, control: &Control, notes: &mut FindingCollector) {
    let Some((line, both)) = read.ends_otherwise else { return };
    let (here, before) = if both { ("CR LF", "LF") } else { ("LF", "CR LF") };
    let written = if control.line_end == LineEnd::Lf { "LF" } else { "CR LF" };
    let what = format!(
        "this line ends in {here}, those before in {before}; the control's description says {written}"
    );
    notes.add(ProgramRule::MixedLineEnds, Place::line(line), what);
}

fn switches(read: &ProgramRead, notes: &mut FindingCollector) {
    let mut numbered = read.blocks.iter().filter_map(|b| Some((b.skip?.switch, b.place())));
    if let Some((first, _)) = numbered.next()
        && let Some((other, place)) = numbered.find(|(n, _)| *n != first)
    {
        notes.add(ProgramRule::SkipSwitches, place, format!("block-skip switches {first} and {other}"));
    }
}
