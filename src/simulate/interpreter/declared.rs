//! Lines of the shop's own, taken as its file declares them: they move nothing and change no mode, which reading that file has checked.
//!
//! What such a line does is not known here (it may open a clamp), so it must stand where the shop said that it stands: while the
//! spindle stands and the tool is off the wheel. One that is declared and missing is told. A dwell alone does nothing but wait, and a program
//! may wait for its spindle by the same block: it may stand anywhere, and is a line of the shop's own only while the spindle stands.

use super::{EventKind, Interpreter};
use crate::diagnostics::ProgramRule;
use crate::job::{ExtraLine, ExtraWord};
use crate::simulate::modal::Turning;
use crate::simulate::reader::Block;

/// What is still to come and what has come of the shop's own lines.
#[derive(Debug, Default)]
pub(super) struct Declared<'a> {
    /// Lines of the start, which must come before the spindle turns, the tool moves or the program stops.
    at_start: Vec<&'a ExtraLine>,
    /// Lines that must come between a stop and the next motion.
    between: Vec<&'a ExtraLine>,
    /// Lines that came since the last motion.
    since_motion: Vec<&'a ExtraLine>,
    /// Lines that came since the last motion and the last stop: one list of them comes there, once.
    in_a_row: Vec<&'a ExtraLine>,
    /// A line of the end alone that came: nothing but the end may follow, since it may have opened a clamp.
    of_end: Option<&'a ExtraLine>,
}

impl<'a> Declared<'a> {
    pub(super) fn before_the_start(lines: &'a [ExtraLine]) -> Self {
        Self { at_start: lines.iter().collect(), ..Self::default() }
    }
}

/// Whether a line is a dwell.
fn waits(line: &ExtraLine) -> bool {
    line.words.first().is_some_and(|w| w.letter == 'G' && w.value() == 4.0)
}

/// Whether two lines say the same: `M010` and `M10` are one word to every control, however each was written.
fn same(a: &ExtraLine, b: &ExtraLine) -> bool {
    // Both were read from decimal digits, so equal numbers are equal bits.
    let word =
        |(a, b): (&ExtraWord, &ExtraWord)| a.letter == b.letter && a.value().to_bits() == b.value().to_bits();
    a.words.len() == b.words.len() && a.words.iter().zip(&b.words).all(word)
}

/// A line as it is told.
fn told(line: &ExtraLine) -> String {
    let words = line.words.iter().map(|w| format!("{}{}", w.letter, w.value()));
    words.collect::<Vec<_>>().join(" ")
}

impl Interpreter<'_> {
    /// Carries out a line of the shop's own; whether the block is one.
    pub(super) fn declared(&mut self, block: &Block) -> bool {
        let is_block = |line: &&ExtraLine| {
            line.words.len() == block.words.len()
                && line.words.iter().zip(&block.words).all(|(a, b)| {
                    // Both were read from decimal digits, so equal numbers are equal bits.
                    a.letter == b.letter && a.value().to_bits() == b.value.to_bits()
                })
        };
        let Some(line) = self.set.control.traits.extra_lines.all().find(is_block) else { return false };
        let turns = self.state.turning != Turning::Off;
        if waits(line) {
            self.stands("G04");
            let dwell = self.set.machine.spin.dwell;
            for word in line.words.iter().filter(|w| w.letter == 'P') {
                self.event(EventKind::Dwell { time: dwell.time(word.value()), by_shops_word: true });
            }
            if turns {
                return true;
            }
        } else {
            if turns {
                self.note(ProgramRule::ExtraLineMisplaced, format!("{} while the spindle turns", told(line)));
            }
            self.stands("a line of the shop's own");
            self.check_spindle_said("a line of the shop's own");
            self.check_clear_of_wheel(ProgramRule::ExtraLineMisplaced, "a line of the shop's own");
        }
        self.declared.at_start.retain(|l| !same(l, line));
        self.declared.between.retain(|l| !same(l, line));
        self.declared.since_motion.push(line);
        let lines = &self.set.control.traits.extra_lines;
        if !waits(line) {
            self.declared.in_a_row.push(line);
            let count = |of: &mut dyn Iterator<Item = &ExtraLine>| of.filter(|l| same(l, line)).count();
            let most = [&lines.start, &lines.between, &lines.end].map(|list| count(&mut list.iter()));
            let came = count(&mut self.declared.in_a_row.iter().copied());
            if came > most.into_iter().max().unwrap_or_default() {
                self.note(ProgramRule::ExtraLineAgain, format!("{} once more than declared", told(line)));
            }
        }
        if !waits(line) && !lines.start.iter().chain(&lines.between).any(|l| same(l, line)) {
            self.declared.of_end = Some(line);
        }
        true
    }

    /// After a stop other lines are awaited.
    pub(super) fn await_lines_between(&mut self) {
        self.check_lines_of_start("this stop");
        let control = self.set.control;
        self.declared.in_a_row.clear();
        self.declared.between = control.traits.extra_lines.between.iter().collect();
    }

    /// When the spindle turns or the program stops, the lines of the start have come.
    pub(super) fn check_lines_of_start(&mut self, before: &str) {
        for line in std::mem::take(&mut self.declared.at_start) {
            self.note(ProgramRule::ExtraLineMissing, format!("{} before {before}", told(line)));
        }
    }

    /// After a line of the end the spindle does not turn again, and nothing moves.
    pub(super) fn check_nothing_follows_the_end(&mut self, what: &str) {
        if let Some(line) = self.declared.of_end.take() {
            self.note(
                ProgramRule::ExtraLineMisplaced,
                format!("{} is a line of the end, and {what} after it", told(line)),
            );
        }
    }

    /// At a motion none may be awaited any more.
    pub(super) fn check_awaited_lines(&mut self) {
        const BEFORE: &str = "this motion";
        self.check_lines_of_start(BEFORE);
        self.check_nothing_follows_the_end("the tool moves");
        self.declared.since_motion.clear();
        self.declared.in_a_row.clear();
        for line in std::mem::take(&mut self.declared.between) {
            self.note(ProgramRule::ExtraLineMissing, format!("{} before {BEFORE}", told(line)));
        }
    }

    /// At the end those of the end have come.
    pub(super) fn check_last_lines(&mut self) {
        let control = self.set.control;
        let came = std::mem::take(&mut self.declared.since_motion);
        for line in control.traits.extra_lines.end.iter().filter(|l| !came.iter().any(|c| same(c, l))) {
            self.note(ProgramRule::ExtraLineMissing, format!("{} before the end", told(line)));
        }
    }
}
