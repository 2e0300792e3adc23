//! One word: an address letter and a number, kept as a whole count of its last decimal place so that what is printed is exact.
//!
//! Words with a decimal point always carry it: a control that takes a number without one as a
//! count of its smallest steps would read `X660` as 0.66 mm.

use crate::job::{LeadingZero, TrailingZeros};
use std::fmt;

/// An address and its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Word {
    address: char,
    count: i64,
    form: Form,
}

/// How a word's number is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    /// No decimal point, at least this many digits.
    Whole { digits: usize },
    /// A decimal point; the count is in units of its last possible place.
    Decimal { places: usize, zeros: Zeros },
}

/// Which zeros a number with a point is printed with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Zeros {
    pub(super) trailing: TrailingZeros,
    pub(super) leading: LeadingZero,
}

/// The groups of words of which a block may hold one each (NISTIR 6556, table 4; surface speed and fixed speed after ISO 6983-1).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ModalGroup {
    /// G00 to G03.
    Motion,
    /// G17 to G19.
    Plane,
    /// G90, G91.
    Distance,
    /// G94, G95, G98, G99.
    FeedMode,
    /// G20, G21, G70, G71.
    Unit,
    /// G40 to G42.
    NoseCompensation,
    /// G43, G49.
    LengthOffset,
    /// G54 to G59.
    WorkOffset,
    /// G96, G97.
    SpindleMode,
    /// G50, G92: not modal, but no other such word may share the block.
    Limit,
    /// M00, M01, M30.
    Stop,
    /// M03 to M05.
    SpindleTurn,
    /// M06.
    ToolChange,
    /// M07 to M09.
    Coolant,
    /// Any other address: one of each letter a block.
    Address(char),
}

impl Word {
    /// A G or M word of at least two digits.
    #[must_use]
    pub const fn code(address: char, number: u32) -> Self {
        Self { address, count: number as i64, form: Form::Whole { digits: 2 } }
    }

    /// A whole number of at least `digits` digits.
    #[must_use]
    pub const fn whole(address: char, count: i64, digits: usize) -> Self {
        Self { address, count, form: Form::Whole { digits } }
    }

    /// A number with a decimal point: `count` units of the last of `places` decimal places.
    #[must_use]
    pub const fn decimal(address: char, count: i64, places: usize) -> Self {
        let zeros = Zeros { trailing: TrailingZeros::Needed, leading: LeadingZero::Written };
        Self { address, count, form: Form::Decimal { places, zeros } }
    }

    /// The same word with its zeros as a control wants them.
    pub(super) const fn with_zeros(self, zeros: Zeros) -> Self {
        match self.form {
            Form::Whole { .. } => self,
            Form::Decimal { places, .. } => Self { form: Form::Decimal { places, zeros }, ..self },
        }
    }

    /// The address letter.
    #[must_use]
    pub const fn address(&self) -> char {
        self.address
    }

    /// The number, as a reader of the printed word would have it.
    #[must_use]
    pub fn value(&self) -> f64 {
        match self.form {
            Form::Whole { .. } => self.count as f64,
            Form::Decimal { places, .. } => {
                self.count as f64 / 10f64.powi(i32::try_from(places).unwrap_or(i32::MAX))
            }
        }
    }

    /// The group of words that may not share a block with this one.
    #[must_use]
    pub const fn modal_group(&self) -> ModalGroup {
        match (self.address, self.count) {
            ('G', 0..=3) => ModalGroup::Motion,
            ('G', 17..=19) => ModalGroup::Plane,
            ('G', 90 | 91) => ModalGroup::Distance,
            ('G', 94 | 95 | 98 | 99) => ModalGroup::FeedMode,
            ('G', 20 | 21 | 70 | 71) => ModalGroup::Unit,
            ('G', 40..=42) => ModalGroup::NoseCompensation,
            ('G', 54..=59) => ModalGroup::WorkOffset,
            ('G', 96 | 97) => ModalGroup::SpindleMode,
            ('G', 43 | 49) => ModalGroup::LengthOffset,
            ('G', 50 | 92) => ModalGroup::Limit,
            ('M', 0 | 1 | 30) => ModalGroup::Stop,
            ('M', 3..=5) => ModalGroup::SpindleTurn,
            ('M', 6) => ModalGroup::ToolChange,
            ('M', 7..=9) => ModalGroup::Coolant,
            (address, _) => ModalGroup::Address(address),
        }
    }
}

impl fmt::Display for Word {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.form {
            Form::Whole { digits } => write!(f, "{}{:0digits$}", self.address, self.count),
            Form::Decimal { places, zeros } => {
                write!(f, "{}{}", self.address, printed(self.count, places, zeros))
            }
        }
    }
}

/// `count` units of the last of `places` decimal places, with a decimal point and at least one digit
/// after it where there is room for one, and no other trailing zeros.
#[must_use]
pub(super) fn decimal(count: i64, places: usize) -> String {
    let sign = if count < 0 { "-" } else { "" };
    let digits = format!("{:0width$}", count.unsigned_abs(), width = places + 1);
    let (whole, fraction) = digits.split_at(digits.len() - places);
    let kept = fraction.trim_end_matches('0');
    let kept = if kept.is_empty() { fraction.get(..1).unwrap_or("") } else { kept };
    format!("{sign}{whole}.{kept}")
}

/// The same with all places, or without the zero before the point, where a control wants that.
fn printed(count: i64, places: usize, zeros: Zeros) -> String {
    let mut text = decimal(count, places);
    if zeros.trailing == TrailingZeros::All {
        let written = text.split_once('.').map_or(0, |(_, fraction)| fraction.len());
        text.extend(std::iter::repeat_n('0', places.saturating_sub(written)));
    }
    // Of zero itself one digit stays before the point: a bare point is read as no number at all by some.
    if zeros.leading == LeadingZero::LeftOut && count != 0 {
        for (long, short) in [("0.", "."), ("-0.", "-.")] {
            if let Some(fraction) = text.strip_prefix(long) {
                text = format!("{short}{fraction}");
            }
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn words_print_as_controls_read_them() {
        assert_eq!(Word::code('G', 1).to_string(), "G01");
        assert_eq!(Word::code('M', 30).to_string(), "M30");
        assert_eq!(Word::whole('T', 101, 4).to_string(), "T0101");
        assert_eq!(Word::whole('S', 280, 1).to_string(), "S280");
        assert_eq!(Word::decimal('X', 660_000, 3).to_string(), "X660.0");
        assert_eq!(Word::decimal('X', -50, 3).to_string(), "X-0.05");
        assert_eq!(Word::decimal('Z', 0, 3).to_string(), "Z0.0");
        assert_eq!(Word::decimal('Z', -7, 0).to_string(), "Z-7.");
        assert_eq!(Word::decimal('K', 12_345, 4).to_string(), "K1.2345");
    }

    /// The same numbers, with the zeros that some controls want.
    #[test]
    fn zeros_are_written_as_the_control_wants_them() {
        let all = Zeros { trailing: TrailingZeros::All, leading: LeadingZero::Written };
        let none = Zeros { trailing: TrailingZeros::Needed, leading: LeadingZero::LeftOut };
        for (count, with_all, without) in [
            (660_000, "X660.000", "X660.0"),
            (-50, "X-0.050", "X-.05"),
            (0, "X0.000", "X0.0"),
            (7, "X0.007", "X.007"),
        ] {
            assert_eq!(Word::decimal('X', count, 3).with_zeros(all).to_string(), with_all);
            assert_eq!(Word::decimal('X', count, 3).with_zeros(none).to_string(), without);
        }
        assert_eq!(Word::decimal('Z', -7, 0).with_zeros(all).to_string(), "Z-7.");
    }

    proptest! {
        /// The printed digits are the number: a decimal reader gets the count back to the last place.
        #[test]
        fn a_printed_word_reads_back(count in -10_000_000i64..10_000_000, places in 0usize..6) {
            let text = Word::decimal('X', count, places).to_string();
            let value: f64 = text[1..].parse().unwrap_or(f64::NAN);
            prop_assert_eq!(value, Word::decimal('X', count, places).value());
            prop_assert!(text.contains('.'));
        }
    }
}
