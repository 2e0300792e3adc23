//! What some controls want beyond the words that every program needs, and how they want it written.
//!
//! Every key may be left out; then the control has no such wish, or the value is one that every control accepts. Lines of the
//! shop's own are the exception to "every word is ours": they are held to a list of what cannot move anything, so that the proof may take
//! them as declared.

use super::fields;
use super::machine::Machine;
use super::shop::{Arcs, Control, SpindleLimitWord, ToolWord};
use super::source::Node;
use crate::diagnostics::{InputError, Mismatch};
use crate::units::{Angle, SpindleSpeed};
use serde::de::Error;
use serde::{Deserialize, Deserializer};

/// Greatest sequence number where the shop file says nothing (NISTIR 6556, section 3.3.1).
const LAST_SEQUENCE: u32 = 99_999;

/// Most lines of the shop's own at one place; more is a program.
const MOST_LINES: usize = 10;

/// The words of gear ranges: M40 to M45 are in use for them (common practice, no source).
const GEAR_WORDS: [u32; 6] = [40, 41, 42, 43, 44, 45];

/// M words that stop, end, turn, change, cool, call or turn aside, and so are no lines of the shop's own: 13 and 14 turn the spindle with
/// coolant, 17 ends a called program, 19 turns the spindle to an angle, 48 and 49 rule the overrides, 60 stops, 61 sets the tool, 70 to 73 save and
/// restore modes, 96 to 99 and 198 call other programs (NISTIR 6556, table 5; 13 to 19, 61 to 73, 96 to 99 and 198: common practice, no source).
const NOT_OF_THE_SHOP: [u32; 29] = [
    0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 13, 14, 17, 19, 30, 48, 49, 60, 61, 70, 71, 72, 73, 96, 97, 98, 99, 100,
    198,
];

/// Letters that may follow such an M word: none of them is an axis, a speed, a feed, a tool or an offset on a lathe.
const ARGUMENTS: [char; 4] = ['P', 'Q', 'L', 'E'];

/// Smallest arc that a control may want as its longest: shorter ones are lines.
const SHORTEST_ARC: Angle = Angle::deg(5.0);

/// Traits beyond the words of every program.
#[derive(Debug, Clone, PartialEq)]
pub struct Traits {
    /// How comments are written.
    pub comments: Comments,
    /// Widest comment in characters, brackets counted: what the control's screen shows of a line; none: as wide as the line.
    pub comment_columns: Option<usize>,
    /// Zeros at the end of a number.
    pub trailing_zeros: TrailingZeros,
    /// The zero before the point.
    pub leading_zero: LeadingZero,
    /// Greatest sequence number.
    pub largest_sequence: u32,
    /// The most that one arc may turn.
    pub longest_arc: Option<Angle>,
    /// Whether an arc may run from one quadrant into the next.
    pub quadrants: Quadrants,
    /// The word that takes up a tool's offset, where the tool word does not.
    pub length_offset: LengthOffset,
    /// How many M words of a block are carried out.
    pub m_words: MWords,
    /// Where a tool goes before it is changed and at the end.
    pub way_home: WayHome,
    /// Gear ranges, the slowest first; empty where the spindle has none.
    pub gears: Vec<Gear>,
    /// Lines of the shop's own.
    pub extra_lines: ExtraLines,
    /// Most different spindle speeds in a pass, on a control that holds no surface speed; none: as few as keep the surface speed.
    pub speed_steps: Option<u32>,
}

impl Traits {
    /// Whether arcs are written in parts.
    #[must_use]
    pub fn parts_arcs(&self) -> bool {
        self.longest_arc.is_some() || self.quadrants == Quadrants::Split
    }
}

impl Default for Traits {
    fn default() -> Self {
        Self {
            comments: Comments::Brackets,
            comment_columns: None,
            trailing_zeros: TrailingZeros::Needed,
            leading_zero: LeadingZero::Written,
            largest_sequence: LAST_SEQUENCE,
            longest_arc: None,
            quadrants: Quadrants::Crossed,
            length_offset: LengthOffset::None,
            m_words: MWords::One,
            way_home: WayHome::Park,
            gears: Vec::new(),
            extra_lines: ExtraLines::default(),
            speed_steps: None,
        }
    }
}

/// How comments are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Comments {
    /// Between round brackets (ISO 6983-1).
    #[default]
    Brackets,
    /// After a semicolon.
    Semicolon,
    /// The control reads none.
    None,
}

/// Zeros at the end of a number with a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum TrailingZeros {
    /// One digit behind the point is enough: `X66.0`.
    #[default]
    Needed,
    /// Every place is written: `X66.000`.
    All,
}

/// The zero before the point of a number below one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LeadingZero {
    /// `X0.5`.
    #[default]
    Written,
    /// `X.5`.
    LeftOut,
}

/// Whether an arc may run from one quadrant into the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Quadrants {
    /// It may.
    #[default]
    Crossed,
    /// Every arc ends where its circle is level or upright.
    Split,
}

/// The word that takes up a tool's offset.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
pub enum LengthOffset {
    /// None: the tool word does it.
    #[default]
    #[serde(rename = "none")]
    None,
    /// G43 with the tool's number as H, cancelled by G49.
    G43,
}

/// How many M words of a block are carried out. No program of ours has more than one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum MWords {
    /// One, and which is not said.
    #[default]
    One,
    /// All, the spindle's and the coolant's before a stop.
    All,
}

/// Where a tool goes before it is changed and at the end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
pub enum WayHome {
    /// To the park.
    #[default]
    #[serde(rename = "park")]
    Park,
    /// To the park, and from there by G28 to the machine's reference point.
    G28,
}

/// A gear range of the spindle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gear {
    /// The number of its M word.
    pub word: u32,
    /// The fastest that the spindle turns in it.
    pub to: SpindleSpeed,
}

/// Lines of the shop's own, by where they stand. All stand at the park while the spindle stands.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ExtraLines {
    /// Before the first pass.
    pub start: Vec<ExtraLine>,
    /// After every stop, before the next pass.
    pub between: Vec<ExtraLine>,
    /// After the last pass.
    pub end: Vec<ExtraLine>,
}

impl ExtraLines {
    /// Every line.
    pub fn all(&self) -> impl Iterator<Item = &ExtraLine> {
        self.start.iter().chain(&self.between).chain(&self.end)
    }
}

/// One such line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExtraLine {
    /// Its words, in order.
    pub words: Vec<ExtraWord>,
}

/// A word of such a line: `count` units of the last of `places` decimal places.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ExtraWord {
    /// The letter, a capital.
    pub letter: char,
    /// The number in units of its last decimal place.
    pub count: i64,
    /// Decimal places, none for a whole number.
    pub places: usize,
    /// Digits that a whole number was written with.
    pub digits: usize,
}

impl ExtraWord {
    /// The number.
    #[must_use]
    pub fn value(&self) -> f64 {
        self.count as f64 / 10_f64.powi(i32::try_from(self.places).unwrap_or(i32::MAX))
    }
}

/// Reads `true` or `false` for the zero before the point.
pub(super) fn leading_zero<'de, D: Deserializer<'de>>(from: D) -> Result<LeadingZero, D::Error> {
    Ok(if bool::deserialize(from)? { LeadingZero::Written } else { LeadingZero::LeftOut })
}

/// Default of the greatest sequence number.
pub(super) const fn last_sequence() -> u32 {
    LAST_SEQUENCE
}

/// Reads the longest arc.
pub(super) fn longest_arc<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Angle>, D::Error> {
    let most = Angle::deg(180.0);
    let angle = Angle::deserialize(from)?;
    if (SHORTEST_ARC..=most).contains(&angle) {
        return Ok(Some(angle));
    }
    Err(D::Error::custom(Mismatch::expected(
        format!("an angle from {SHORTEST_ARC} to {most}"),
        "write the most that the control's manual allows one arc to turn, for example `90 deg`",
    )))
}

/// A gear range as written.
#[derive(Debug, Clone, Copy, Deserialize)]
pub(super) struct GearFile {
    #[serde(deserialize_with = "gear_word")]
    word: u32,
    #[serde(deserialize_with = "fields::above_zero")]
    to: SpindleSpeed,
}

fn gear_word<'de, D: Deserializer<'de>>(from: D) -> Result<u32, D::Error> {
    let refused = Mismatch::expected("M40 to M45", "write the word of the gear range, for example `M41`");
    fields::text(from, refused.clone(), |text| {
        let number = text.strip_prefix('M').and_then(|n| n.parse().ok());
        number.filter(|n| GEAR_WORDS.contains(n)).ok_or(refused)
    })
}

/// The shop's own lines as written.
#[derive(Debug, Clone, Default, Deserialize)]
pub(super) struct ExtraLinesFile {
    #[serde(default)]
    start: Vec<ExtraLine>,
    #[serde(default)]
    between: Vec<ExtraLine>,
    #[serde(default)]
    end: Vec<ExtraLine>,
}

impl From<ExtraLinesFile> for ExtraLines {
    fn from(file: ExtraLinesFile) -> Self {
        Self { start: file.start, between: file.between, end: file.end }
    }
}

impl<'de> Deserialize<'de> for ExtraLine {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let refused = |why: &str| {
            Mismatch::expected(
                format!(
                    "a line that moves nothing and changes no mode, as `M10` or `M68 P2` or `G04 P1.0`; {why}"
                ),
                "write one M word that is no word of ours, with P, Q, L or E where it needs them, or G04 with P in seconds",
            )
        };
        fields::text(from, refused("it is no text"), |text| line(text).map_err(refused))
    }
}

/// A line of the shop's own, or why it may not be one.
fn line(text: &str) -> Result<ExtraLine, &'static str> {
    let words = text.split_whitespace().map(word).collect::<Option<Vec<_>>>();
    let words = words.ok_or("this one is not made of words, each a capital letter and a number")?;
    let (codes, others): (Vec<&ExtraWord>, Vec<&ExtraWord>) =
        words.iter().partition(|w| matches!(w.letter, 'G' | 'M'));
    let [code] = codes.as_slice() else { return Err("this one does not hold one M word, or G04") };
    if others.iter().enumerate().any(|(i, w)| others.iter().skip(i + 1).any(|o| o.letter == w.letter)) {
        return Err("a letter stands there twice");
    }
    let number = u32::try_from(code.count).ok().filter(|_| code.places == 0);
    match (code.letter, number) {
        ('G', Some(4)) => match others.as_slice() {
            [time] if time.letter == 'P' => Ok(ExtraLine { words }),
            _ => Err("a dwell needs P and nothing else"),
        },
        ('M', Some(n)) if NOT_OF_THE_SHOP.contains(&n) => {
            Err("this M word stops, ends, turns, changes, cools or calls another program")
        }
        ('M', Some(n)) if GEAR_WORDS.contains(&n) => {
            Err("this M word is a gear range, which belongs under `gears`")
        }
        ('M', Some(_)) if others.iter().all(|w| ARGUMENTS.contains(&w.letter)) => Ok(ExtraLine { words }),
        ('M', Some(_)) => Err("a letter there may move, feed, turn or call something"),
        _ => Err("this G word may move something or change a mode"),
    }
}

fn word(text: &str) -> Option<ExtraWord> {
    /// More digits than any such word has.
    const MOST_DIGITS: usize = 8;
    let mut rest = text.chars();
    let letter = rest.next().filter(char::is_ascii_uppercase)?;
    let (whole, fraction) = rest.as_str().split_once('.').unwrap_or((rest.as_str(), ""));
    let digits = format!("{whole}{fraction}");
    let plain =
        !digits.is_empty() && digits.len() <= MOST_DIGITS && digits.bytes().all(|b| b.is_ascii_digit());
    let count = digits.parse().ok().filter(|_| plain)?;
    Some(ExtraWord { letter, count, places: fraction.len(), digits: whole.len() })
}

/// The gears, if they are in order and reach as fast as the machine turns.
pub(super) fn gears(files: &[GearFile], node: &Node, errors: &mut Vec<InputError>) -> Vec<Gear> {
    let rising = files.windows(2).all(|w| matches!(w, [a, b] if a.to < b.to));
    let own = files.iter().enumerate().all(|(i, g)| files.iter().skip(i + 1).all(|o| o.word != g.word));
    if !(rising && own) {
        errors.push(node.error(
            "gear ranges from the slowest to the fastest, each with a word of its own",
            "write for example `[{ word: M41, to: 350 rpm }, { word: M42, to: 1400 rpm }]`",
        ));
    }
    files.iter().map(|g| Gear { word: g.word, to: g.to }).collect()
}

/// What keys of the control must agree in, and with the machine.
pub(super) fn check(control: &Control, machine: &Machine, node: &Node, errors: &mut Vec<InputError>) {
    let traits = &control.traits;
    let mut refuse = |key: &str, found: &str, expected: &str, fix: &str| {
        errors.push(node.at(key).error_with_found(found, expected, fix));
    };
    if traits.length_offset == LengthOffset::G43 && control.tool_word.carries_offset() {
        refuse(
            "length_offset",
            "`length_offset: G43` beside a tool word that carries an offset",
            "one word that takes up the offset: with two it would be counted twice",
            "write `tool_word: T1` or `T1 M06`, or leave `length_offset` out",
        );
    }
    if control.tool_word == ToolWord::NumberAndD && control.spindle_limit_word == SpindleLimitWord::D {
        refuse(
            "tool_word",
            "`tool_word: T1 D1` beside `spindle_limit_word: D`",
            "one meaning of D",
            "look again into the manual: one of the two has another word",
        );
    }
    if traits.way_home == WayHome::G28 && machine.reference.is_none() {
        refuse(
            "way_home",
            "`way_home: G28` and no `reference` under `machine`",
            "where the tool stands at the machine's reference point, in the wheel's coordinates",
            "write for example `reference: { x: 330 mm, z: 250 mm }` under `machine`, or `way_home: park`",
        );
    }
    if traits.speed_steps.is_some() && control.surface_speed {
        refuse(
            "speed_steps",
            "`speed_steps` for a control that holds a surface speed",
            "a control with `surface_speed: false`, or none of them",
            "delete `speed_steps`: the speed changes smoothly by itself",
        );
    }
    if traits.gears.last().is_some_and(|g| g.to < machine.spindle_limit) {
        refuse(
            "gears",
            "gear ranges that end below the machine's `spindle_limit`",
            "a fastest gear that reaches it",
            "raise the last `to`, or lower `spindle_limit`",
        );
    }
    if traits.quadrants == Quadrants::Split && control.arcs != Arcs::Centre {
        refuse(
            "quadrants",
            "`quadrants: split` for arcs that are not written by their centre",
            "`arcs: centre` beside it: an arc by its radius ends where it likes",
            "leave `quadrants` out, or write `arcs: centre`",
        );
    }
    let lines = &traits.extra_lines;
    for (key, of) in [("start", &lines.start), ("between", &lines.between), ("end", &lines.end)] {
        if of.len() > MOST_LINES {
            errors.push(node.at("extra_lines").at(key).error(
                format!("{MOST_LINES} lines at most"),
                "keep what the machine needs, and leave the rest to the operator",
            ));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_of_the_shops_own_moves_nothing() {
        for good in ["M10", "M68 P2", "G04 P1.5", "M151 Q3 L1"] {
            assert!(line(good).is_ok(), "{good}: {:?}", line(good));
        }
        for bad in [
            "",
            "M03",
            "M3 S100",
            "M30",
            "M98 P1000",
            "M198 P2",
            "M13",
            "M61 Q3",
            "M70",
            "M19",
            "M41",
            "G00 X0",
            "G04",
            "G04 X1.",
            "G91",
            "M10 X5",
            "M10 M11",
            "m10",
            "M10 (CLAMP)",
            "M-1",
            "M10.5",
            "T0202",
            "S300",
            "F0.2",
            "G54",
            "G10 L2 P1",
            "G04 P1 P2",
            "M10;M03",
            "/M10",
            "N5 M10",
        ] {
            assert!(line(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_word_keeps_its_number() {
        let dwell = line("G04 P1.50").map(|l| l.words);
        assert_eq!(
            dwell.as_deref().ok().and_then(|w| w.last()),
            Some(&ExtraWord { letter: 'P', count: 150, places: 2, digits: 1 })
        );
        assert!(word("P1.50").is_some_and(|w| (w.value() - 1.5).abs() < 1e-12));
    }
}
