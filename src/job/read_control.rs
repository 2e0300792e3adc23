//! The control: what a machine control reads.
//!
//! What would make a program wrong, unsafe or cut short on the control has no default. What a
//! control without it simply does not need has one: no program number, no work offset, no
//! coolant, no tape marks, no sequence numbers; and three values that every control takes:
//! lines of at most 80 characters ended by carriage return and line feed, and arcs whose ends
//! agree within 0.002 mm (the NIST RS274/NGC Interpreter, Version 3, NISTIR 6556, section 3.5.3).

use super::source::Node;
use super::{
    Arcs, BareNumbers, Control, Coolant, FeedWords, LineEnd, Sequence, SpindleLimitWord, SpindleTurns,
    ToolWord, UnitWord, XWords,
};
use crate::diagnostics::InputError;
use crate::units::{Length, MM_PER_INCH, Size};

const KEYS: [&str; 21] = [
    "x_words",
    "units",
    "unit_word",
    "resolution",
    "arcs",
    "arc_tolerance",
    "surface_speed",
    "spindle_limit_word",
    "feed_words",
    "bare_numbers",
    "sequence",
    "program_number",
    "tape_marks",
    "line_end",
    "longest_line",
    "largest_program",
    "blocks_per_second",
    "tool_word",
    "work_offset",
    "spindle_turns",
    "coolant",
];

/// Decimals a coordinate word may have: a millionth of a millimetre is finer than any control names.
const MOST_DECIMALS: i32 = 6;

/// How far from a whole number of last decimals a resolution may lie: rounding of the unit's conversion, no more.
const WHOLE: f64 = 1e-9;

/// Coarsest resolution: a hundredth of a millimetre, a fifth of a thin finish cut; more is a slip in the unit.
const COARSEST: Length = Length::mm(0.01);

/// Most that an arc's start and end radius may differ, in millimetres, where the shop file says nothing (NISTIR 6556, 3.5.3).
const ARC_TOLERANCE: Length = Length::mm(0.002);

/// Lines: short enough for any control where nothing is said; long enough for one block; no longer than NISTIR 6556 (256) allows.
const LINE: usize = 80;
const SHORTEST_LINE: usize = 40;
const LONGEST_LINE: usize = 256;

/// Smallest memory that holds a header and one pass.
const LEAST_PROGRAM: u64 = 2_000;
/// Largest program worth asking for: beyond it the size is a slip in the unit.
const MOST_PROGRAM: f64 = 1e12;

pub(super) fn control(node: &Node) -> Result<Control, InputError> {
    let group = node.group(&KEYS)?;
    let unit_word = unit_word(group.need("units", "mm")?, group.need("unit_word", "G71")?)?;
    let resolution_node = group.need("resolution", "0.001 mm")?;
    let resolution = resolution_node.above_zero()?;
    let decimals = decimals(resolution_node, resolution, unit_word)?;
    let surface_speed_node = group.need("surface_speed", "true")?;
    let surface_speed = surface_speed_node.flag()?;
    let limit_node = group.need("spindle_limit_word", "G92")?;
    let spindle_limit_word = limit_node.choice(&[
        ("G92", SpindleLimitWord::G92),
        ("G50", SpindleLimitWord::G50),
        ("D", SpindleLimitWord::D),
        ("none", SpindleLimitWord::None),
    ])?;
    if surface_speed && spindle_limit_word == SpindleLimitWord::None {
        return Err(limit_node.fault_found(
            "`spindle_limit_word: none` beside `surface_speed: true`",
            "a word that limits the spindle: under constant surface speed it would turn without bound toward the axis",
            "write the control's limit word, or `surface_speed: false` for stepped spindle speeds",
        ));
    }
    let feed_words = feed_words(group.need("feed_words", "[G94, G95]")?)?;
    if feed_words == FeedWords::G98G99 && spindle_limit_word == SpindleLimitWord::G92 {
        return Err(limit_node.fault_found(
            "`spindle_limit_word: G92` beside `feed_words: [G98, G99]`",
            "a limit word of the same family: there G92 is a threading cycle",
            "write `G50`, or `feed_words: [G94, G95]` if that is what the control reads",
        ));
    }
    Ok(Control {
        x_words: group
            .need("x_words", "diameter")?
            .choice(&[("diameter", XWords::Diameter), ("radius", XWords::Radius)])?,
        unit_word,
        resolution,
        decimals,
        arcs: group.need("arcs", "centre")?.choice(&[
            ("centre", Arcs::Centre),
            ("radius", Arcs::Radius),
            ("none", Arcs::None),
        ])?,
        arc_tolerance: group.get("arc_tolerance").map_or(Ok(ARC_TOLERANCE), Node::above_zero)?,
        surface_speed,
        spindle_limit_word,
        feed_words,
        bare_numbers: group.get("bare_numbers").map_or(Ok(BareNumbers::Units), |n| {
            n.choice(&[("units", BareNumbers::Units), ("steps", BareNumbers::Steps)])
        })?,
        sequence: group.get("sequence").map_or(Ok(Sequence::None), sequence)?,
        program_number: group.get("program_number").map(program_number).transpose()?.flatten(),
        tape_marks: group.get("tape_marks").map_or(Ok(false), Node::flag)?,
        line_end: group
            .get("line_end")
            .map_or(Ok(LineEnd::CrLf), |n| n.choice(&[("crlf", LineEnd::CrLf), ("lf", LineEnd::Lf)]))?,
        longest_line: group
            .get("longest_line")
            .map_or(Ok(LINE), |n| n.count(SHORTEST_LINE..=LONGEST_LINE))?,
        largest_program: largest_program(group.need("largest_program", "64 kB")?)?,
        blocks_per_second: f64::from(group.need("blocks_per_second", "100")?.count(1_u32..=100_000)?),
        tool_word: group.need("tool_word", "T0101")?.choice(&[
            ("T0101", ToolWord::NumberAndOffset),
            ("T1", ToolWord::Number),
            ("T1 M06", ToolWord::NumberAndM06),
        ])?,
        work_offset: group.get("work_offset").map_or(Ok(None), |n| {
            n.choice(&[
                ("none", None),
                ("G54", Some(54)),
                ("G55", Some(55)),
                ("G56", Some(56)),
                ("G57", Some(57)),
                ("G58", Some(58)),
                ("G59", Some(59)),
            ])
        })?,
        spindle_turns: group
            .need("spindle_turns", "M03")?
            .choice(&[("M03", SpindleTurns::M03), ("M04", SpindleTurns::M04)])?,
        coolant: group.get("coolant").map_or(Ok(Coolant::None), |n| {
            n.choice(&[("none", Coolant::None), ("M07", Coolant::M07), ("M08", Coolant::M08)])
        })?,
    })
}

/// The word that sets the unit; `units` says the same for people, and the two must agree.
fn unit_word(units: &Node, word: &Node) -> Result<UnitWord, InputError> {
    let inch = units.choice(&[("mm", false), ("inch", true)])?;
    let chosen = word.choice(&[
        ("G20", UnitWord::G20),
        ("G21", UnitWord::G21),
        ("G70", UnitWord::G70),
        ("G71", UnitWord::G71),
    ])?;
    if chosen.is_inch() == inch {
        return Ok(chosen);
    }
    let (says, wanted) = if inch { ("inch", "G20 or G70") } else { ("mm", "G21 or G71") };
    Err(word.fault_found(
        format!("`{}` beside `units: {says}`", word.written),
        format!("{wanted}, which set the control to {says}"),
        "make the two agree; ask the control's manual which it is",
    ))
}

/// Decimals that the resolution needs in the control's unit.
fn decimals(node: &Node, resolution: Length, unit_word: UnitWord) -> Result<usize, InputError> {
    if resolution > COARSEST {
        return Err(node.fault(format!("`resolution` of {COARSEST} at most"), "check the unit"));
    }
    let (value, unit, example) = if unit_word.is_inch() {
        (resolution.as_mm() / MM_PER_INCH, "inches", "0.0001 in")
    } else {
        (resolution.as_mm(), "millimetres", "0.001 mm")
    };
    for decimals in 0..=MOST_DECIMALS {
        let steps = value * 10_f64.powi(decimals);
        if steps > 0.5 && (steps - steps.round()).abs() < WHOLE * steps {
            return Ok(usize::try_from(decimals).unwrap_or_default());
        }
    }
    Err(node.fault(
        format!("`resolution` that can be written in {unit} with at most {MOST_DECIMALS} decimals, the control's unit"),
        format!("write the last digit of the control's display, for example `{example}`"),
    ))
}

fn feed_words(node: &Node) -> Result<FeedWords, InputError> {
    let words: Vec<&str> = node.list("two words")?.iter().map(|n| n.written.as_str()).collect();
    match words.as_slice() {
        ["G94", "G95"] => Ok(FeedWords::G94G95),
        ["G98", "G99"] => Ok(FeedWords::G98G99),
        _ => Err(node.fault_found(
            format!("a list of {}", super::read_shop::quoted(&words)),
            "`feed_words` as `[G94, G95]` or `[G98, G99]`: feed per minute, then feed per revolution",
            "write the pair that the control's manual names",
        )),
    }
}

fn sequence(node: &Node) -> Result<Sequence, InputError> {
    if node.is_word("none") {
        return Ok(Sequence::None);
    }
    node.count(1..=1000).map(Sequence::StepsOf).map_err(|_| {
        node.fault("`sequence` as steps from 1 to 1000, or `none`", "write `10`, or `none` for no N words")
    })
}

fn program_number(node: &Node) -> Result<Option<u32>, InputError> {
    if node.is_word("none") {
        return Ok(None);
    }
    let digits =
        node.written.strip_prefix('O').filter(|d| d.len() <= 5 && d.bytes().all(|b| b.is_ascii_digit()));
    match digits.and_then(|d| d.parse().ok()) {
        Some(number) if number > 0 => Ok(Some(number)),
        _ => Err(node.fault(
            "`program_number` as the letter O and 1 to 5 digits, above zero, or `none`",
            "write for example `O1001`",
        )),
    }
}

fn largest_program(node: &Node) -> Result<u64, InputError> {
    let size: Size = node.above_zero()?;
    let bytes = size.as_bytes().floor();
    if bytes > MOST_PROGRAM {
        return Err(node.fault("`largest_program` that a control can hold", "check the unit"));
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "above zero and below 10^12, checked just here"
    )]
    let bytes = bytes as u64;
    if bytes < LEAST_PROGRAM {
        return Err(node.fault(
            "`largest_program` of 2 kB at least, which a header and one pass need",
            "write the control's free memory, for example `64 kB`",
        ));
    }
    Ok(bytes)
}
