//! Blocks, and a program as it is built from them: sequence numbers, line lengths, line ends.

use super::GcodeError;
use super::comment::Comment;
use super::word::Word;
use crate::diagnostics::checksum::{self, Checksum};
use crate::job::{Comments, Control, LineEnd, Sequence};
use std::fmt;
use std::fmt::Write as _;

/// Longest line of any program (NISTIR 6556, section 3.3: at most 256 characters).
const LONGEST_OF_ALL: usize = 256;

/// Shortest line that leaves room for a motion's words and a readable comment.
const SHORTEST: usize = 24;

/// What stands in the checksum's place until the program is whole.
const NO_CHECKSUM: Checksum = Checksum { comments: 0, words: 0 };

/// One line of a program.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Block {
    /// `%`, first and last.
    TapeMark,
    /// A comment on a line of its own.
    Comment(Comment),
    /// Words, in the order in which they are printed.
    Words(Vec<Word>),
}

impl fmt::Display for Block {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TapeMark => f.write_str("%"),
            Self::Comment(comment) => comment.fmt(f),
            Self::Words(words) => {
                for (i, word) in words.iter().enumerate() {
                    let gap = if i == 0 { "" } else { " " };
                    write!(f, "{gap}{word}")?;
                }
                Ok(())
            }
        }
    }
}

/// A program as it grows: its blocks and its text, always in step.
pub(super) struct ProgramBuilder<'c> {
    control: &'c Control,
    width: usize,
    blocks: Vec<Block>,
    text: String,
    sequence: u64,
    /// Whether the next block is the first of a pass.
    begins_pass: bool,
}

impl<'c> ProgramBuilder<'c> {
    /// An empty program for a control.
    pub(super) fn new(control: &'c Control) -> Result<Self, GcodeError> {
        let width = control.longest_line.min(LONGEST_OF_ALL);
        if width < SHORTEST {
            return Err(GcodeError::LineTooShort { longest: control.longest_line, needed: SHORTEST });
        }
        Ok(Self { control, width, blocks: Vec::new(), text: String::new(), sequence: 0, begins_pass: false })
    }

    /// `%`, where the control wants it.
    pub(super) fn tape_mark(&mut self) {
        if self.control.tape_marks {
            self.put(Block::TapeMark);
        }
    }

    /// The program number, which carries no sequence number.
    pub(super) fn program_number(&mut self, number: u32) {
        self.put(Block::Words(vec![Word::whole('O', i64::from(number), 4)]));
    }

    /// A comment in as many lines as it takes; the label is ours, the text anybody's.
    pub(super) fn comment(&mut self, label: &str, text: &str) {
        for line in self.comments(label, text) {
            self.put(Block::Comment(line));
        }
    }

    /// The lines of a comment as the control reads comments; none where it reads none.
    fn comments(&self, label: &str, text: &str) -> Vec<Comment> {
        let style = self.control.traits.comments;
        let columns = self.control.traits.comment_columns.unwrap_or(self.width).min(self.width);
        match style {
            Comments::None => Vec::new(),
            // Two brackets, or a semicolon and a blank.
            Comments::Brackets | Comments::Semicolon => {
                Comment::wrapped(label, text, columns.saturating_sub(2), style)
            }
        }
    }

    /// The next block is the first of a pass, which some controls want numbered and no other.
    pub(super) fn number_next(&mut self) {
        self.begins_pass = true;
    }

    /// The step by which the next block is numbered; none where it has no number.
    fn step(&self) -> Option<u32> {
        match self.control.sequence {
            Sequence::None => None,
            Sequence::StepsOf(step) => Some(step),
            Sequence::AtPasses(step) => self.begins_pass.then_some(step),
        }
    }

    /// One block of words, numbered as the control wants it; nothing where there are no words.
    pub(super) fn words(&mut self, words: &[Word]) -> Result<(), GcodeError> {
        if words.is_empty() {
            return Ok(());
        }
        let mut all = Vec::with_capacity(words.len() + 1);
        if let Some(step) = self.step() {
            let last = u64::from(self.control.traits.largest_sequence);
            self.sequence = self.sequence.saturating_add(u64::from(step));
            if self.sequence > last {
                return Err(GcodeError::SequenceFull { last, step });
            }
            all.push(Word::whole('N', i64::try_from(self.sequence).unwrap_or(i64::MAX), 1));
        }
        self.begins_pass = false;
        all.extend_from_slice(words);
        debug_assert!(one_of_each_group(&all), "two words of one group in {}", Block::Words(all.clone()));
        let block = Block::Words(all);
        let line = block.to_string();
        if line.len() > self.width {
            return Err(GcodeError::LineTooLong { line, longest: self.width });
        }
        self.put(block);
        Ok(())
    }

    /// Whether words have room in the next block.
    pub(super) fn has_room(&self, words: &[Word]) -> bool {
        let next = |step| format!("N{} ", self.sequence.saturating_add(u64::from(step)));
        let number = self.step().map_or_else(String::new, next);
        number.len() + Block::Words(words.to_vec()).to_string().len() <= self.width
    }

    /// The blocks so far.
    pub(super) fn blocks(&self) -> &[Block] {
        &self.blocks
    }

    /// Takes back all blocks behind the first so many, which hold no words.
    pub(super) fn take_back(&mut self, blocks: usize) {
        let kept = self.blocks.iter().take(blocks).cloned().collect::<Vec<_>>();
        self.blocks.clear();
        self.text.clear();
        for block in kept {
            self.put(block);
        }
    }

    /// Leaves room for the checksum, which [`finish`](Self::finish) writes.
    pub(super) fn checksum(&mut self) {
        self.comment(checksum::LABEL, &NO_CHECKSUM.to_string());
    }

    /// What was written, with its checksum.
    pub(super) fn finish(mut self) -> (Vec<Block>, String) {
        let line = |sum: Checksum| self.comments(checksum::LABEL, &sum.to_string());
        let (room, sum) = (line(NO_CHECKSUM), line(Checksum::of(&self.text)));
        for (room, sum) in room.into_iter().zip(sum) {
            self.text = self.text.replacen(&room.to_string(), &sum.to_string(), 1);
            let room = Block::Comment(room);
            if let Some(block) = self.blocks.iter_mut().find(|b| **b == room) {
                *block = Block::Comment(sum);
            }
        }
        (self.blocks, self.text)
    }

    fn put(&mut self, block: Block) {
        let end = match self.control.line_end {
            LineEnd::CrLf => "\r\n",
            LineEnd::Lf => "\n",
        };
        // Writing to a String cannot fail.
        let _ = write!(self.text, "{block}{end}");
        self.blocks.push(block);
    }
}

/// Whether a block holds at most one word of each modal group.
pub(super) fn one_of_each_group(words: &[Word]) -> bool {
    words
        .iter()
        .enumerate()
        .all(|(i, a)| words.iter().skip(i + 1).all(|b| a.modal_group() != b.modal_group()))
}
