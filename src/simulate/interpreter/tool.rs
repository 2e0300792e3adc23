//! T words and tool changes, in the three forms that a control's description can name.

use super::{EventKind, Interpreter};
use crate::diagnostics::ProgramRule;
use crate::job::ToolWord;
use crate::simulate::commands::BlockCommands;
use crate::simulate::modal::{ToolInForce, Turning};

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
                (Some(n), ToolWord::NumberAndOffset) => self.number_and_offset(n, word.digits, &written),
                (Some(n), ToolWord::Number) => self.in_force(n, true),
                (Some(n), ToolWord::NumberAndM06) => self.state.selected = Some(n),
            }
        }
        if commands.change.is_some() {
            if form == ToolWord::NumberAndM06 {
                match self.state.selected {
                    Some(n) => self.in_force(n, true),
                    None => self.note(ProgramRule::MissingWord, "M06, and no T word was ever read"),
                }
            } else {
                self.note(ProgramRule::ToolForm, "M06: the control changes tools by the T word alone");
            }
        }
    }

    fn number_and_offset(&mut self, word: u32, digits: u32, written: &str) {
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

    fn in_force(&mut self, number: u32, offset: bool) {
        let changed = self.state.tool.is_none_or(|t| t.number != number);
        if number != 0 {
            self.check_change_place(number);
        }
        if offset && number != 0 {
            self.tool_called(number);
        }
        self.state.tool = Some(ToolInForce { number, offset });
        if !changed {
            return;
        }
        if number != 0 && !self.set.tools.iter().any(|t| t.number == number) {
            let numbers: Vec<String> = self.set.tools.iter().map(|t| t.number.to_string()).collect();
            self.note(
                ProgramRule::OtherTool,
                format!("tool {number}; the job has tool {}", numbers.join(" and tool ")),
            );
        }
        if self.state.turning != Turning::Off {
            self.note(
                ProgramRule::ChangeWhileTurning,
                format!("tool {number} is called while the spindle turns"),
            );
        }
        self.event(EventKind::Tool { number });
    }
}
