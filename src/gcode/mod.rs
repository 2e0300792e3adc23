//! Words, blocks, the writer: G-code text, no decisions.
//!
//! [`write()`] turns a job and its plan into one program, or into several where the control's memory is
//! too small for one. Every coordinate of the plan must already lie on the control's grid: the writer
//! rounds none and refuses any that does not. What the blocks hold stays available as data beside the
//! text, so that another reader can be held against what was meant.
//!
//! Words are those of ISO 6983-1, with the lathe words that the control's description names.

mod arc;
mod block;
mod comment;
mod error;
mod header;
mod scale;
mod split;
mod steps;
mod word;
mod writer;

pub use block::Block;
pub use comment::Comment;
pub use error::GcodeError;
pub use word::{ModalGroup, Word};

use crate::job::Job;
use crate::plan::{Operation, Plan};
use crate::units::Length;

/// How a tool is touched off, as the words of the control stand in the program's header.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TouchOffWords {
    /// Number of the tool.
    pub tool: u32,
    /// The X word at which the tool stands.
    pub x: String,
    /// The Z word to be entered where it touches.
    pub z: String,
}

/// One program as it goes to the control.
#[derive(Debug, Clone, PartialEq)]
pub struct ProgramText {
    /// Which part it is, from 1.
    pub part: usize,
    /// How many parts there are.
    pub of: usize,
    /// How deep the face lies below the highest place as measured when it begins: what earlier parts and programs took off.
    pub before: Length,
    /// Its blocks, one a line.
    pub blocks: Vec<Block>,
    /// How its tools are touched off, in the order in which they cut.
    pub touch_offs: Vec<TouchOffWords>,
    /// Its text, plain ASCII with the control's line ends.
    pub text: String,
}

impl ProgramText {
    /// What to add to the file's stem: nothing for a program in one part.
    #[must_use]
    pub fn name_suffix(&self) -> String {
        if self.of == 1 { String::new() } else { format!("-part-{}-of-{}", self.part, self.of) }
    }
}

/// The operations of one program.
struct Part<'a> {
    operations: &'a [Operation],
    number: usize,
    of: usize,
}

/// Writes a plan as programs for the job's control, in the order in which they are to be run.
///
/// # Errors
/// Where the control cannot say what the plan holds, or the plan breaks its own rules; the message says what to change.
pub fn write(job: &Job, plan: &Plan) -> Result<Vec<ProgramText>, GcodeError> {
    split::write(job, plan)
}
