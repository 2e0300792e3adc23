//! The words that make the machine ready for a pass: tool and offset, gear range, lines of the shop's own, and the way home.
//!
//! All of them stand at the park while the spindle stands. After every stop they are said anew, all but the tool word, as a stop may end in a
//! reset. The way home by G28 leads to the park first and names it: from there to the reference point every tool goes away from the wheel only.

use super::GcodeError;
use super::scale::Place;
use super::word::Word;
use super::writer::Writer;
use crate::job::{ExtraLine, ExtraWord, LengthOffset, Tool, ToolWord, WayHome};
use crate::plan::Pass;

/// Where lines of the shop's own stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Moment {
    /// Before the first pass.
    Start,
    /// After a stop.
    Between,
    /// After the last pass.
    End,
}

impl Writer<'_> {
    /// Calls a tool with its offset.
    pub(super) fn call(&mut self, tool: &Tool) -> Result<(), GcodeError> {
        self.words(&self.tool_words(tool)?)?;
        self.offset_taken_up(tool)
    }

    /// Takes up an offset that was changed while the program stood: by the tool word said again, but for a tool that M06 has changed. A
    /// word of its own for the length stands in the pass that follows, where whoever begins again there needs it.
    pub(super) fn call_again(&mut self, tool: &Tool) -> Result<(), GcodeError> {
        if self.control.tool_word != ToolWord::NumberAndM06 {
            self.words(&self.tool_words(tool)?)?;
        }
        Ok(())
    }

    /// The word of its own that takes up a tool's length, where the control has one.
    pub(super) fn offset_taken_up(&mut self, tool: &Tool) -> Result<(), GcodeError> {
        match self.control.traits.length_offset {
            LengthOffset::None => Ok(()),
            LengthOffset::G43 => {
                self.words(&[Word::code('G', 43), Word::whole('H', i64::from(tool.number), 1)])
            }
        }
    }

    fn tool_words(&self, tool: &Tool) -> Result<Vec<Word>, GcodeError> {
        if !(1..=99).contains(&tool.number) {
            return Err(GcodeError::ToolNumber { name: tool.name.clone(), number: tool.number });
        }
        let number = i64::from(tool.number);
        Ok(match self.control.tool_word {
            ToolWord::NumberAndOffset => vec![Word::whole('T', number * 101, 4)],
            ToolWord::ShortNumberAndOffset => vec![Word::whole('T', number * 101, 3)],
            ToolWord::Number => vec![Word::whole('T', number, 1)],
            ToolWord::NumberAndD => vec![Word::whole('T', number, 1), Word::whole('D', number, 1)],
            ToolWord::NumberAndM06 => vec![Word::whole('T', number, 1), Word::code('M', 6)],
            ToolWord::None => Vec::new(),
        })
    }

    /// Cancels the tool's offset, where a word of the control carries it.
    pub(super) fn offset_off(&mut self, tool: &Tool) -> Result<(), GcodeError> {
        let number = i64::from(tool.number);
        match self.control.tool_word {
            ToolWord::NumberAndOffset => self.words(&[Word::whole('T', number * 100, 4)])?,
            ToolWord::ShortNumberAndOffset => self.words(&[Word::whole('T', number * 100, 3)])?,
            ToolWord::NumberAndD => self.words(&[Word::whole('D', 0, 1)])?,
            ToolWord::Number | ToolWord::NumberAndM06 | ToolWord::None => {}
        }
        match self.control.traits.length_offset {
            LengthOffset::None => Ok(()),
            LengthOffset::G43 => self.words(&[Word::code('G', 49)]),
        }
    }

    /// The slowest gear in which the pass can turn as fast as it does.
    pub(super) fn gear(&mut self, pass: &Pass) -> Result<(), GcodeError> {
        let fastest = [pass.figures.fastest, pass.entry_speed(), pass.exit_speed()];
        self.gear_for(fastest.iter().map(|n| n.as_rpm()).fold(0.0, f64::max))
    }

    /// The slowest gear that reaches a speed.
    pub(super) fn gear_for(&mut self, fastest_rpm: f64) -> Result<(), GcodeError> {
        let gears = &self.control.traits.gears;
        // The machine's limit lies in the fastest gear, so where there are gears one is found.
        let Some(gear) = gears.iter().find(|g| fastest_rpm <= g.to.as_rpm()).or(gears.last()) else {
            return Ok(());
        };
        let word = Word::code('M', gear.word);
        self.words(&[word])
    }

    /// The lines of the shop's own that belong here.
    pub(super) fn extra_lines(&mut self, at: Moment) -> Result<(), GcodeError> {
        let control = self.control;
        let lines = &control.traits.extra_lines;
        let lines: &[ExtraLine] = match at {
            Moment::Start => &lines.start,
            Moment::Between => &lines.between,
            Moment::End => &lines.end,
        };
        lines.iter().try_for_each(|line| {
            let words: Vec<Word> = line.words.iter().map(word).collect();
            self.words(&words)
        })
    }

    /// To the machine's reference point by way of the park, where the control wants that; the tool stands at the park already.
    pub(super) fn way_home(&mut self, park: Place) -> Result<(), GcodeError> {
        match self.control.traits.way_home {
            WayHome::Park => Ok(()),
            WayHome::G28 => {
                let words = [Word::code('G', 28), self.scale.word('X', park.x), self.scale.word('Z', park.z)];
                self.words(&words)
            }
        }
    }
}

/// A word of the shop's own as it was written.
fn word(word: &ExtraWord) -> Word {
    if word.places > 0 {
        Word::decimal(word.letter, word.count, word.places)
    } else {
        Word::whole(word.letter, word.count, word.digits)
    }
}
