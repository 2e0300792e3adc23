//! Why no program was written, and what to change.

/// Why no program was written.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum GcodeError {
    /// A part of the plan cannot be begun by itself.
    #[error(transparent)]
    Plan(#[from] crate::plan::PlanError),
    /// A number that no word can say: not above zero once it is rounded to the word's places, or of too many digits.
    #[error(
        "{what} of {value} is too small or too great for a word of this control\n  to mend it: correct {keys}"
    )]
    Number {
        /// What it is.
        what: String,
        /// Its value with its unit.
        value: String,
        /// The keys that decide it.
        keys: &'static str,
    },
    /// The control's resolution does not fit its decimal places.
    #[error(
        "the control's resolution of {resolution_mm} mm cannot be written with {decimals} decimal places in the program's unit; state a resolution that is a round number in that unit"
    )]
    Resolution {
        /// The resolution.
        resolution_mm: f64,
        /// The decimal places.
        decimals: usize,
    },
    /// A coordinate between the places that the control can name.
    #[error(
        "{at}: {axis} {value_mm} mm lies {off} of a step beside the places the control can name; the plan must round it, not the writer"
    )]
    OffGrid {
        /// Pass or place.
        at: String,
        /// X or Z.
        axis: char,
        /// The coordinate of the front point.
        value_mm: f64,
        /// How far off, in steps.
        off: f64,
    },
    /// A motion that does not start where the one before it ended.
    #[error("{at}: motion {motion} does not start where the one before it ended")]
    Gap {
        /// The pass.
        at: String,
        /// The motion, counted from 1.
        motion: usize,
    },
    /// Tools are changed and programs begin and end at the park only.
    #[error("{at}: the tool does not stand at the park where its passes begin or end")]
    NotAtPark {
        /// The pass.
        at: String,
    },
    /// A rapid along an arc.
    #[error("{at}: a rapid cannot follow an arc")]
    RapidArc {
        /// The pass.
        at: String,
    },
    /// An arc for a control that reads none.
    #[error("{at}: the path holds an arc, and the control reads none (arcs: none)")]
    ArcForbidden {
        /// The pass.
        at: String,
    },
    /// An arc of half a turn or more, or of no length.
    #[error("{at}: an arc must be longer than nothing and shorter than half a turn")]
    ArcSweep {
        /// The pass.
        at: String,
    },
    /// An arc whose end does not lie on its circle once its words are rounded.
    #[error(
        "{at}: the control would find an arc's radius {start_mm} mm at its start and {end_mm} mm at its end, more apart than its {tolerance_mm} mm"
    )]
    ArcRadii {
        /// The pass.
        at: String,
        /// Radius at the start.
        start_mm: f64,
        /// Radius at the end.
        end_mm: f64,
        /// What the control allows.
        tolerance_mm: f64,
    },
    /// An arc that a rounded R word cannot hold.
    #[error(
        "{at}: an R word rounded to the control's resolution would move an arc of radius {radius_mm} mm by more than {tolerance_mm} mm; write it with arcs: centre or as lines"
    )]
    ArcRadiusWord {
        /// The pass.
        at: String,
        /// The radius.
        radius_mm: f64,
        /// What the control allows.
        tolerance_mm: f64,
    },
    /// A tool's passes have no air pass first, or nothing after it.
    #[error("the passes of every tool must begin with one air pass, with at least one pass after it")]
    AirPass,
    /// Surface speed without a limit.
    #[error(
        "the control holds a surface speed (surface_speed: true) but has no word for the spindle limit: near the axis nothing would hold the wheel back; name spindle_limit_word, or set surface_speed: false for stepped speeds"
    )]
    NoLimitWord,
    /// A pass that may turn faster than wheel or machine.
    #[error(
        "{at}: its spindle limit of {limit_rpm} rpm is above the {allowed_rpm} rpm that wheel and machine allow"
    )]
    SpindleLimit {
        /// The pass.
        at: String,
        /// The pass's limit.
        limit_rpm: f64,
        /// The least of machine and wheel.
        allowed_rpm: f64,
    },
    /// A motion at feed without a spindle speed of its own, for a control that holds no surface speed.
    #[error("{at}: a motion at feed has no spindle speed, and the control holds no surface speed")]
    NoSpindleSpeed {
        /// The pass.
        at: String,
    },
    /// A tool number outside 1 to 99.
    #[error("tool {name} has number {number}: tool words hold 1 to 99")]
    ToolNumber {
        /// The tool.
        name: String,
        /// Its number.
        number: u32,
    },
    /// A work offset outside G54 to G59.
    #[error("work offset G{0} is none of G54 to G59")]
    WorkOffset(u32),
    /// Lines too short for anything.
    #[error("longest_line: {longest} leaves no room for a block; at least {needed} are needed")]
    LineTooShort {
        /// What the control allows.
        longest: usize,
        /// What is needed.
        needed: usize,
    },
    /// A block longer than the control reads.
    #[error("the block `{line}` is longer than the {longest} characters the control reads (longest_line)")]
    LineTooLong {
        /// The block.
        line: String,
        /// What the control allows.
        longest: usize,
    },
    /// More blocks than sequence numbers.
    #[error(
        "more blocks than sequence numbers up to {last} in steps of {step}; choose smaller steps or sequence: none"
    )]
    SequenceFull {
        /// The last number there is.
        last: u64,
        /// The step.
        step: u32,
    },
    /// More than the control's memory in one pass.
    #[error(
        "{at}: a program of this pass alone, with its air pass, takes {bytes} bytes, more than largest_program ({largest} bytes); a wider tolerance makes fewer blocks"
    )]
    TooLarge {
        /// The pass.
        at: String,
        /// What it takes.
        bytes: u64,
        /// What the control holds.
        largest: u64,
    },
    /// Program numbers run out.
    #[error("program number O{first} leaves no number of four digits for part {part}; choose a lower one")]
    ProgramNumber {
        /// The first part's number.
        first: u32,
        /// The part.
        part: usize,
    },
}
