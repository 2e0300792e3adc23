//! G-code text: words, blocks, comments, and the writer that puts them in order. It decides nothing.
//!
//! [`write()`] turns a job and its plan into one program, or into several where the control's memory is
//! too small for one; where to divide them, what each part's air pass is and how its tool is touched off is planned in
//! [`plan::parts`](crate::plan::parts). Every coordinate of the plan must already lie on the control's grid: the writer
//! rounds none and refuses any that does not. The blocks stay available as data beside the
//! text, so that another reader can be held against what was meant.
//!
//! Words are those of ISO 6983-1, with the lathe words that the control's description names.

mod arc;
mod block;
mod comment;
mod error;
mod header;
mod machine_words;
mod scale;
mod touch_words;
mod try_out;
mod word;
mod writer;

pub use block::Block;
pub use comment::Comment;
pub use error::GcodeError;
pub use touch_words::{PlaceWords, TouchOffWords, place_of, place_words, touch_off_words};
pub use try_out::{REACH, Seen, TryOut, try_out};
pub use word::{ModalGroup, Word};

use crate::job::Job;
use crate::plan::parts::{self, Fit, Part};
use crate::plan::{Operation, PassKind, Plan};
use crate::units::{Length, Time};
use std::cell::RefCell;
use writer::write_part;

/// A pass as its comment names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PassName {
    /// What it is for.
    pub kind: PassKind,
    /// Its number among those of its kind, from 1.
    pub number: u32,
    /// How many of its kind there are.
    pub of: u32,
    /// The ring of a trial that it cuts.
    pub ring: Option<String>,
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
    /// How many of the plan's passes that cut it runs, those of the parts before it left out.
    pub passes: usize,
    /// All its passes, those in the air too, in the order in which they run.
    pub names: Vec<PassName>,
    /// How long it takes, without stops and tool changes.
    pub time: Time,
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

    /// How many rest passes it makes.
    #[must_use]
    pub fn rest_passes(&self) -> u32 {
        self.names.iter().map(|name| u32::from(name.kind == PassKind::Rest)).sum()
    }
}

/// Writes a plan as programs for the job's control, in the order in which they are to be run: one, or as few as the
/// control's memory takes.
///
/// # Errors
/// Where the control cannot say what the plan holds, or the plan breaks its own rules; the message says what to change.
pub fn write(job: &Job, plan: &Plan) -> Result<Vec<ProgramText>, GcodeError> {
    check_order(plan)?;
    let tried = RefCell::new(None);
    let parts = parts::split(job, plan, |part| match write_part(job, plan, part) {
        Ok(program) => {
            let fit = fit(job, part, &program);
            tried.replace(Some(program));
            Ok(fit)
        }
        Err(full @ GcodeError::SequenceFull { .. }) => Ok(Fit::TooLong(full)),
        Err(error) => Err(error),
    })?;
    match tried.into_inner() {
        // What was written to see whether all of it fits is the program, if it does.
        Some(whole) if parts.len() == 1 && whole.of == 1 => Ok(vec![whole]),
        _ => parts.iter().map(|part| write_part(job, plan, part)).collect(),
    }
}

/// Refuses a plan in which a tool's passes do not begin with an air pass, or nothing follows it.
fn check_order(plan: &Plan) -> Result<(), GcodeError> {
    let in_order = |operation: &Operation| {
        let mut kinds = operation.passes.iter().map(|p| p.kind);
        kinds.next() == Some(PassKind::Air) && kinds.len() > 0 && kinds.all(|k| k != PassKind::Air)
    };
    let whole = !plan.operations.is_empty() && plan.operations.iter().all(in_order);
    if whole { Ok(()) } else { Err(GcodeError::AirPass) }
}

/// Whether a program fits into the control's memory.
fn fit(job: &Job, part: &Part, program: &ProgramText) -> Fit<GcodeError> {
    let (bytes, largest) = (program.text.len() as u64, job.control.largest_program);
    if bytes <= largest {
        return Fit::Fits;
    }
    let first = part.operations.first().and_then(|o| o.passes.get(1));
    let at =
        first.map_or_else(String::new, |p| format!("{} {}", header::pass_name(p).to_lowercase(), p.number));
    Fit::TooLong(GcodeError::TooLarge { at, bytes, largest })
}
