//! T words, tool changes and the words that take up an offset, in the forms that a control's description can name.

use super::{EventKind, Interpreter};
use crate::diagnostics::ProgramRule;
use crate::job::{LengthOffset, ToolWord};
use crate::simulate::commands::BlockCommands;
use crate::simulate::modal::{LengthWord, ToolInForce, Turning};
use crate::simulate::reader::Word;

/// Digits of number and of offset in a T word that holds both; the number's leading zero may be left out.
const OFFSET_DIGITS: u32 = 2;

impl Interpreter<'_> {
    /// The T word, then the change.
    pub(super) fn tool(&mut self, commands: &BlockCommands) {
        let form = self.set.control.tool_word;
        if let Some(word) = commands.t {
            let number = word.whole().and_then(|n| u32::try_from(n).ok()).filter(|_| !word.point);
            let written = self.read.word_text(&word).to_owned();
            match (number, form) {
                (None, _) => {
                    self.note(ProgramRule::ToolForm, format!("{written}: a tool has a whole number"));
                }
                (Some(n), ToolWord::NumberAndOffset | ToolWord::ShortNumberAndOffset) => {
                    self.number_and_offset(n, word.digits, &written);
                }
                // Without its own word an offset is not in force.
                (Some(n), ToolWord::NumberAndD) => self.in_force(n, false),
                (Some(n), ToolWord::Number) => self.in_force(n, self.by_tool_word()),
                (Some(_), ToolWord::None) => {
                    self.note(ProgramRule::ToolForm, format!("{written}: the control has no tool word"));
                }
                (Some(n), ToolWord::NumberAndM06) => {
                    self.check_of_job(n);
                    self.state.selected = Some(n);
                }
            }
        }
        if commands.change.is_some() {
            if form == ToolWord::NumberAndM06 {
                match self.state.selected {
                    Some(n) => self.in_force(n, self.by_tool_word()),
                    None => self.note(ProgramRule::MissingWord, "M06, and no T word was ever read"),
                }
            } else {
                self.note(ProgramRule::ToolForm, "M06: the control changes tools by the T word alone");
            }
        }
    }

    /// Whether the tool word takes up the offset, without another word.
    fn by_tool_word(&self) -> bool {
        self.set.control.traits.length_offset == LengthOffset::None
    }

    /// D beside or after the tool word, and G43 and G49 with H.
    pub(super) fn length_offset(&mut self, commands: &BlockCommands) {
        if let Some(d) = commands.d.filter(|_| self.set.control.tool_word == ToolWord::NumberAndD) {
            self.offset_by(d, false);
        }
        match (commands.length, commands.h) {
            (Some(LengthWord::Off), _) => self.offset_off(),
            (Some(LengthWord::On), _) if self.by_tool_word() => self.note(
                ProgramRule::NotAtThisControl,
                "G43: the tool word takes up the offset, and this would add another",
            ),
            (Some(LengthWord::On), Some(h)) => return self.offset_by(h, true),
            (Some(LengthWord::On), None) => self.note(ProgramRule::MissingWord, "G43 without H"),
            (None, _) => {}
        }
        if let Some(h) = commands.h {
            self.note(ProgramRule::UnusedWord, self.read.word_text(&h));
        }
    }

    fn offset_off(&mut self) {
        if let Some(tool) = &mut self.state.tool {
            tool.offset = false;
        }
    }

    /// The offset of a number is taken up; 0 cancels it.
    fn offset_by(&mut self, word: Word, by_h: bool) {
        let written = self.read.word_text(&word).to_owned();
        let number = word.whole().and_then(|n| u32::try_from(n).ok());
        let Some(tool) = self.state.tool.filter(|t| t.number != 0) else {
            if number != Some(0) {
                self.note(ProgramRule::ToolForm, format!("{written} before any tool was called"));
            }
            return;
        };
        match number {
            Some(0) => self.offset_off(),
            Some(n) => {
                if n != tool.number {
                    let word = if by_h { "G43 " } else { "" };
                    let what = format!("{word}{written}: tool {} with the offset of tool {n}", tool.number);
                    self.note(ProgramRule::ToolForm, what);
                }
                self.tool_called(tool.number, true);
                self.state.tool = Some(ToolInForce { offset: true, ..tool });
            }
            None => self.note(ProgramRule::ToolForm, format!("{written}: an offset has a whole number")),
        }
    }

    fn number_and_offset(&mut self, word: u32, digits: u32, written: &str) {
        if word == 0 {
            // T0, T00 and T0000 cancel the offset, or call no tool: either way none may cut.
            self.offset_off();
            return;
        }
        let (number, offset) = (word / 100, word % 100);
        if !(OFFSET_DIGITS + 1..=2 * OFFSET_DIGITS).contains(&digits) {
            let what = format!("{written}: the control reads number and offset, two digits each");
            self.note(ProgramRule::ToolForm, what);
        } else if offset != 0 && offset != number {
            self.note(
                ProgramRule::ToolForm,
                format!("{written}: tool {number} with the offset of tool {offset}"),
            );
        }
        self.in_force(number, offset != 0);
    }

    /// A tool that is called or got ready is one of the job's.
    fn check_of_job(&mut self, number: u32) {
        if number != 0 && !self.set.tools.iter().any(|t| t.number == number) {
            let numbers: Vec<String> = self.set.tools.iter().map(|t| t.number.to_string()).collect();
            self.note(
                ProgramRule::OtherTool,
                format!("tool {number}; the job has tool {}", numbers.join(" and tool ")),
            );
        }
    }

    fn in_force(&mut self, number: u32, offset: bool) {
        let changed = self.state.tool.is_none_or(|t| t.number != number);
        if number != 0 {
            self.check_change_place(number, changed);
            self.tool_called(number, offset);
        }
        self.state.tool = Some(ToolInForce { number, offset });
        if !changed {
            return;
        }
        self.check_of_job(number);
        if self.state.turning != Turning::Off {
            self.note(
                ProgramRule::ChangeWhileTurning,
                format!("tool {number} is called while the spindle turns"),
            );
        }
        self.event(EventKind::Tool { number });
    }
}
