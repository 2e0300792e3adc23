//! Lines of the shop's own, taken as its file declares them: they move nothing and change no mode, which reading that file has checked.
//!
//! What such a line does is not known here (it may open a clamp), so it must stand where the shop said that it stands: while the
//! spindle stands and the tool is off the wheel. One that is declared and missing is told.

use super::{EventKind, Interpreter};
use crate::diagnostics::ProgramRule;
use crate::job::ExtraLine;
use crate::simulate::modal::Turning;
use crate::simulate::reader::Block;
use crate::units::Time;

/// What is still to come and what has come of the shop's own lines.
#[derive(Debug, Default)]
pub(super) struct Declared<'a> {
    /// Lines that must come before the next motion.
    awaited: Vec<&'a ExtraLine>,
    /// Lines that came since the last motion.
    since_motion: Vec<&'a ExtraLine>,
}

impl<'a> Declared<'a> {
    pub(super) fn before_the_start(lines: &'a [ExtraLine]) -> Self {
        Self { awaited: lines.iter().collect(), since_motion: Vec::new() }
    }
}

/// A line as it is told.
fn told(line: &ExtraLine) -> String {
    let words = line.words.iter().map(|w| format!("{}{}", w.letter, w.value()));
    words.collect::<Vec<_>>().join(" ")
}

impl Interpreter<'_> {
    /// Carries out a line of the shop's own; whether the block is one.
    pub(super) fn declared(&mut self, block: &Block) -> bool {
        let same = |line: &&ExtraLine| {
            line.words.len() == block.words.len()
                && line.words.iter().zip(&block.words).all(|(a, b)| {
                    // Both were read from decimal digits, so equal numbers are equal bits.
                    a.letter == b.letter && a.value().to_bits() == b.value.to_bits()
                })
        };
        let Some(line) = self.set.control.traits.extra_lines.all().find(same) else { return false };
        if self.state.turning != Turning::Off {
            self.note(ProgramRule::ExtraLineMisplaced, format!("{} while the spindle turns", told(line)));
        }
        self.stands("a line of the shop's own");
        self.check_clear_of_wheel(ProgramRule::ExtraLineMisplaced, "a line of the shop's own");
        for word in
            line.words.iter().filter(|w| w.letter == 'P' && line.words.iter().any(|g| g.letter == 'G'))
        {
            self.event(EventKind::Dwell { time: Time::s(word.value()) });
        }
        self.declared.awaited.retain(|l| *l != line);
        self.declared.since_motion.push(line);
        true
    }

    /// After a stop other lines are awaited.
    pub(super) fn await_lines_between(&mut self) {
        let control = self.set.control;
        self.declared.awaited = control.traits.extra_lines.between.iter().collect();
    }

    /// At a motion none may be awaited any more.
    pub(super) fn check_awaited_lines(&mut self) {
        self.declared.since_motion.clear();
        for line in std::mem::take(&mut self.declared.awaited) {
            self.note(ProgramRule::ExtraLineMissing, format!("{} before this motion", told(line)));
        }
    }

    /// At the end those of the end have come.
    pub(super) fn check_last_lines(&mut self) {
        let control = self.set.control;
        let came = std::mem::take(&mut self.declared.since_motion);
        for line in control.traits.extra_lines.end.iter().filter(|l| !came.contains(l)) {
            self.note(ProgramRule::ExtraLineMissing, format!("{} before the end", told(line)));
        }
    }
}
