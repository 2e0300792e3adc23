//! The control in the shop file: which words and formats it reads.
//!
//! A key has no default if a wrong value could make a program wrong, unsafe or truncated. A key for something
//! that a control may lack defaults to its absence: no program number, no work offset, no
//! coolant, no tape marks, no sequence numbers, no spindle limit word where it holds no surface speed. Three keys have values that
//! every control accepts: lines of at most 80 characters ended by carriage return and line feed, and arcs whose ends
//! agree within 0.002 mm (the NIST RS274/NGC Interpreter, Version 3, NISTIR 6556, section 3.5.3). Keys that few controls
//! need are explained in [`super::traits`]; all of them stand in docs/controls.md.

use super::fields;
use super::keys::Needed;
use super::machine::Machine;
use super::node::quoted;
use super::shop::{
    Arcs, BareNumbers, Control, Coolant, FeedWords, LineEnd, Sequence, SpindleLimitWord, SpindleTurns, Stops,
    ToolWord, UnitWord, XWords,
};
use super::source::Node;
use super::traits::{
    self, Comments, ExtraLinesFile, GearFile, LeadingZero, LengthOffset, MWords, Quadrants, TrailingZeros,
    Traits, WayHome,
};
use crate::diagnostics::{InputError, Mismatch};
use crate::units::{Angle, Length, MM_PER_INCH, Size};
use serde::de::Error;
use serde::{Deserialize, Deserializer};

/// Decimals a coordinate word may have: a millionth of a millimetre is finer than any control's resolution.
const MOST_DECIMALS: i32 = 6;

/// How far a resolution may be from a whole number in its last decimal: rounding of the unit conversion.
const WHOLE: f64 = 1e-9;

/// Coarsest resolution: a hundredth of a millimetre, a fifth of a thin finish cut; more is a wrong unit.
const COARSEST: Length = Length::mm(0.01);

/// Most that an arc's start and end radius may differ, in millimetres, where the shop file says nothing (NISTIR 6556, 3.5.3).
const ARC_TOLERANCE: Length = Length::mm(0.002);

/// The same on a control that reads inches: 0.0002 in (there).
const ARC_TOLERANCE_INCH: Length = Length::mm(0.0002 * MM_PER_INCH);

/// Default of the longest line: short enough for any control. Written ones hold 40 characters at least, which one block
/// needs, and 256 at most (NISTIR 6556).
const LINE: usize = 80;

/// Smallest program size that can hold a header and one pass.
const LEAST_PROGRAM: u64 = 2_000;
/// Largest program size accepted: more is a wrong unit.
const MOST_PROGRAM: f64 = 1e12;

/// Program numbers have four digits (NISTIR 6556 has none; common practice, no source).
const LAST_PROGRAM: u32 = 9999;

/// The control as written in the file.
#[derive(Debug, Deserialize)]
pub(super) struct ControlFile {
    x_words: XWords,
    units: Units,
    unit_word: UnitWord,
    #[serde(deserialize_with = "fields::above_zero")]
    resolution: Length,
    arcs: Arcs,
    #[serde(default, deserialize_with = "arc_tolerance")]
    arc_tolerance: Option<Length>,
    surface_speed: bool,
    spindle_limit_word: Option<SpindleLimitWord>,
    #[serde(deserialize_with = "feed_words")]
    feed_words: FeedWords,
    #[serde(default = "bare_numbers")]
    bare_numbers: BareNumbers,
    #[serde(default = "no_sequence", deserialize_with = "sequence")]
    sequence: Sequence,
    #[serde(default, deserialize_with = "program_number")]
    program_number: Option<u32>,
    #[serde(default)]
    tape_marks: bool,
    #[serde(default = "line_end")]
    line_end: LineEnd,
    #[serde(default = "longest_line", deserialize_with = "fields::count::<_, _, 40, 256>")]
    longest_line: usize,
    #[serde(deserialize_with = "fields::above_zero")]
    largest_program: Size,
    #[serde(deserialize_with = "fields::count::<_, _, 1, 100_000>")]
    blocks_per_second: u32,
    tool_word: ToolWord,
    #[serde(default)]
    work_offset: WorkOffset,
    spindle_turns: SpindleTurns,
    #[serde(default = "no_coolant")]
    coolant: Coolant,
    #[serde(default)]
    stops: Stops,
    #[serde(default)]
    comments: Comments,
    #[serde(default, deserialize_with = "fields::some_count::<_, _, 40, 256>")]
    comment_columns: Option<usize>,
    #[serde(default)]
    trailing_zeros: TrailingZeros,
    #[serde(default, deserialize_with = "traits::leading_zero")]
    leading_zero: LeadingZero,
    #[serde(default = "traits::last_sequence", deserialize_with = "fields::count::<_, _, 99, 99_999_999>")]
    largest_sequence: u32,
    #[serde(default, deserialize_with = "traits::longest_arc")]
    longest_arc: Option<Angle>,
    #[serde(default)]
    quadrants: Quadrants,
    #[serde(default)]
    length_offset: LengthOffset,
    #[serde(default)]
    m_words: MWords,
    #[serde(default)]
    way_home: WayHome,
    #[serde(default)]
    gears: Vec<GearFile>,
    #[serde(default)]
    extra_lines: ExtraLinesFile,
    #[serde(default, deserialize_with = "fields::some_count::<_, _, 2, 100>")]
    speed_steps: Option<u32>,
}

/// The unit that the unit word sets, as written in `units`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Units {
    Mm,
    Inch,
}

/// A work offset by its word.
#[derive(Debug, Clone, Copy, Default, Deserialize)]
enum WorkOffset {
    #[default]
    #[serde(rename = "none")]
    None,
    G54,
    G55,
    G56,
    G57,
    G58,
    G59,
}

impl WorkOffset {
    const fn number(self) -> Option<u32> {
        match self {
            Self::None => None,
            Self::G54 => Some(54),
            Self::G55 => Some(55),
            Self::G56 => Some(56),
            Self::G57 => Some(57),
            Self::G58 => Some(58),
            Self::G59 => Some(59),
        }
    }
}

fn arc_tolerance<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Length>, D::Error> {
    fields::length_between::<_, 1, 1000>(from).map(Some)
}

const fn bare_numbers() -> BareNumbers {
    BareNumbers::Units
}

const fn no_sequence() -> Sequence {
    Sequence::None
}

const fn line_end() -> LineEnd {
    LineEnd::CrLf
}

const fn longest_line() -> usize {
    LINE
}

const fn no_coolant() -> Coolant {
    Coolant::None
}

fn feed_words<'de, D: Deserializer<'de>>(from: D) -> Result<FeedWords, D::Error> {
    let words = Vec::<String>::deserialize(from)?;
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["G94", "G95"] => Ok(FeedWords::G94G95),
        ["G98", "G99"] => Ok(FeedWords::G98G99),
        _ => Err(D::Error::custom(Mismatch {
            found: format!("a list of {}", quoted(words)),
            expected: "`[G94, G95]` or `[G98, G99]`: feed per minute, then feed per revolution".to_owned(),
            fix: "write the pair that the control's manual names".to_owned(),
        })),
    }
}

fn sequence<'de, D: Deserializer<'de>>(from: D) -> Result<Sequence, D::Error> {
    let refused = Mismatch::expected(
        "steps from 1 to 1000, such steps `at passes`, or `none`",
        "write `10`, `10 at passes`, or `none` for no N words",
    );
    fields::word_or(from, "none", Sequence::None, refused, |text| {
        let step = |text: &str| text.trim().parse().ok().filter(|step| (1..=1000).contains(step));
        match text.strip_suffix("at passes") {
            Some(steps) => step(steps).map(Sequence::AtPasses),
            None => step(text).map(Sequence::StepsOf),
        }
    })
}

pub(super) fn program_number<'de, D: Deserializer<'de>>(from: D) -> Result<Option<u32>, D::Error> {
    let refused = Mismatch::expected(
        "a letter O and 1 to 4 digits, above zero, or `none`",
        "write for example `O1001`",
    );
    fields::word_or(from, "none", None, refused, |text| {
        let digits = text.strip_prefix('O').filter(|d| d.bytes().all(|b| b.is_ascii_digit()));
        digits.and_then(|d| d.parse().ok()).filter(|number| (1..=LAST_PROGRAM).contains(number)).map(Some)
    })
}

/// The control, if its keys are consistent; every error is added to `errors`.
pub(super) fn check(
    file: &ControlFile,
    machine: &Machine,
    node: &Node,
    errors: &mut Vec<InputError>,
) -> Option<Control> {
    check_unit_word(file, node, errors);
    let limit_word = check_limit_word(file, node, errors);
    let decimals = decimals(file.resolution, file.units, node.at("resolution"));
    let largest = largest_program(file.largest_program, node.at("largest_program"));
    let mut sound = |result: Result<u64, InputError>| result.map_err(|error| errors.push(error)).ok();
    let (decimals, largest_program) = (sound(decimals), sound(largest));
    let traits = Traits {
        comments: file.comments,
        comment_columns: file.comment_columns,
        trailing_zeros: file.trailing_zeros,
        leading_zero: file.leading_zero,
        largest_sequence: file.largest_sequence,
        longest_arc: file.longest_arc,
        quadrants: file.quadrants,
        length_offset: file.length_offset,
        m_words: file.m_words,
        way_home: file.way_home,
        gears: traits::gears(&file.gears, node.at("gears"), errors),
        extra_lines: file.extra_lines.clone().into(),
        speed_steps: file.speed_steps,
    };
    let control = Control {
        x_words: file.x_words,
        unit_word: file.unit_word,
        resolution: file.resolution,
        decimals: usize::try_from(decimals?).ok()?,
        arcs: file.arcs,
        arc_tolerance: file.arc_tolerance.unwrap_or(match file.units {
            Units::Mm => ARC_TOLERANCE,
            Units::Inch => ARC_TOLERANCE_INCH,
        }),
        surface_speed: file.surface_speed,
        spindle_limit_word: limit_word,
        feed_words: file.feed_words,
        bare_numbers: file.bare_numbers,
        sequence: file.sequence,
        program_number: file.program_number,
        tape_marks: file.tape_marks,
        line_end: file.line_end,
        longest_line: file.longest_line,
        largest_program: largest_program?,
        blocks_per_second: f64::from(file.blocks_per_second),
        tool_word: file.tool_word,
        work_offset: file.work_offset.number(),
        spindle_turns: file.spindle_turns,
        coolant: file.coolant,
        stops: file.stops,
        traits,
    };
    traits::check(&control, machine, node, errors);
    Some(control)
}

/// Checks that the word that sets the unit and `units` agree.
fn check_unit_word(file: &ControlFile, node: &Node, errors: &mut Vec<InputError>) {
    if file.unit_word.is_inch() == (file.units == Units::Inch) {
        return;
    }
    let (says, wanted) = match file.units {
        Units::Inch => ("inch", "G20 or G70"),
        Units::Mm => ("mm", "G21 or G71"),
    };
    let word = node.at("unit_word");
    errors.push(word.error_with_found(
        format!("`{}` beside `units: {says}`", word.written),
        format!("{wanted}, which set the control to {says}"),
        "make the two agree; ask the control's manual which it is",
    ));
}

/// The word that limits the spindle: none is needed where the spindle speed is written in steps.
fn check_limit_word(file: &ControlFile, node: &Node, errors: &mut Vec<InputError>) -> SpindleLimitWord {
    let limit = node.at("spindle_limit_word");
    match file.spindle_limit_word {
        None if file.surface_speed => {
            let needed = Needed { key: "spindle_limit_word", example: "G92", why: None };
            errors.push(node.missing(&needed));
        }
        Some(SpindleLimitWord::None) if file.surface_speed => errors.push(limit.error_with_found(
            "`spindle_limit_word: none` beside `surface_speed: true`",
            "a word that limits the spindle: under constant surface speed it would turn without bound toward the axis",
            "write the control's limit word, or `surface_speed: false` for stepped spindle speeds",
        )),
        Some(SpindleLimitWord::G92) if file.feed_words == FeedWords::G98G99 => {
            errors.push(limit.error_with_found(
                "`spindle_limit_word: G92` beside `feed_words: [G98, G99]`",
                "a limit word of the same family: there G92 is a threading cycle",
                "write `G50`, or `feed_words: [G94, G95]` if that is what the control reads",
            ));
        }
        _ => {}
    }
    file.spindle_limit_word.unwrap_or(SpindleLimitWord::None)
}

/// Decimals that the resolution needs in the control's unit.
fn decimals(resolution: Length, units: Units, node: &Node) -> Result<u64, InputError> {
    if resolution > COARSEST {
        return Err(node.error(format!("`resolution` of {COARSEST} at most"), "check the unit"));
    }
    let (value, unit, example) = match units {
        Units::Inch => (resolution.as_mm() / MM_PER_INCH, "inches", "0.0001 in"),
        Units::Mm => (resolution.as_mm(), "millimetres", "0.001 mm"),
    };
    for decimals in 0..=MOST_DECIMALS {
        let steps = value * 10_f64.powi(decimals);
        if steps > 0.5 && (steps - steps.round()).abs() < WHOLE * steps {
            return Ok(u64::try_from(decimals).unwrap_or_default());
        }
    }
    Err(node.error(
        format!("`resolution` that can be written in {unit} with at most {MOST_DECIMALS} decimals, the control's unit"),
        format!("write the last digit of the control's display, for example `{example}`"),
    ))
}

fn largest_program(size: Size, node: &Node) -> Result<u64, InputError> {
    let bytes = size.as_bytes().floor();
    if bytes > MOST_PROGRAM {
        return Err(node.error("`largest_program` that a control can hold", "check the unit"));
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "above zero and below 10^12, checked just here"
    )]
    let bytes = bytes as u64;
    if bytes < LEAST_PROGRAM {
        return Err(node.error(
            "`largest_program` of 2 kB at least, which a header and one pass need",
            "write the control's free memory, for example `64 kB`",
        ));
    }
    Ok(bytes)
}
