//! Quantities as people write them: a number and a unit, with or without blanks between.
//!
//! A number is decimal digits with a decimal point, a sign and an exponent where wanted; before `in` it may be a fraction of
//! whole numbers, `1/32 in`, as inserts and drawings have it, and is then taken exactly. A unit is
//! spelt as in the tables below, and capitals matter (`mm` and `Mm` differ by a factor of a billion). Printing
//! gives at most [`DECIMALS`] decimals of the kind's first unit; reading it again gives the same
//! value to within half of the last of them. Unit factors are those of NIST SP 811, appendix B.

use super::{
    Angle, FeedPerMinute, FeedPerRev, Length, MM_PER_INCH, Size, Speed, SpindleSpeed, SurfaceSpeed, Time,
};
use crate::diagnostics::{Mismatch, shown};
use std::f64::consts::PI;
use std::fmt;

/// Decimals printed at most: a millionth of any first unit (a nanometre, a microsecond) is finer than anything
/// a lathe, a sensor or a person can distinguish, and hides the rounding of binary arithmetic.
const DECIMALS: usize = 6;

/// Half of the last printed decimal: less is printed as zero.
const HALF_A_DECIMAL: f64 = 0.5e-6;

/// Millimetres in one foot, exact (NIST SP 811, appendix B): twelve inches.
pub(super) const MM_PER_FOOT: f64 = 304.8;

/// A unit: its spellings, the first one printed, and how many of the inside unit it is, as a fraction so that
/// decimal factors stay exact (a micrometre is 1/1000 mm).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// Spellings; the first is the one printed.
    pub spellings: &'static [&'static str],
    /// Numerator of the factor to the inside unit.
    pub times: f64,
    /// Denominator of the factor to the inside unit.
    pub over: f64,
}

const fn unit(spellings: &'static [&'static str], times: f64, over: f64) -> Unit {
    Unit { spellings, times, over }
}

/// A kind of quantity: its name and the units it may be written in.
pub trait Quantity: Copy + PartialOrd {
    /// Its name with the article, as in "a length".
    const KIND: &'static str;
    /// The units it may be written in; the first is the one it is printed in.
    const UNITS: &'static [Unit];
    /// How many units, from the first on, a message suggests to a person who wrote none.
    const OFFERED: usize;
    /// An example as a person would write it.
    const EXAMPLE: &'static str;
    /// The most that any shop has of it, in the inside unit: more is a slip of the hand, and is refused when it is read.
    const MOST: f64;
    /// From a value in the inside unit; none where it is not finite.
    fn from_inside(value: f64) -> Option<Self>;
    /// The value in the inside unit.
    fn inside(self) -> f64;

    /// Reads a quantity from text.
    ///
    /// # Errors
    /// Where the text is not a finite number followed by one of the kind's units, is beyond [`MOST`](Self::MOST), or so small that it
    /// would be printed as zero.
    fn read(text: &str) -> Result<Self, QuantityError> {
        parse(text)
    }
}

macro_rules! kind {
    ($name:ident, $kind:literal, $offered:literal, $example:literal, $most:expr, [$($spellings:expr => $times:expr, $over:expr;)*]) => {
        impl Quantity for $name {
            const KIND: &'static str = $kind;
            const UNITS: &'static [Unit] = &[$(unit(&$spellings, $times, $over)),*];
            const OFFERED: usize = $offered;
            const EXAMPLE: &'static str = $example;
            const MOST: f64 = $most;
            fn from_inside(value: f64) -> Option<Self> { value.is_finite().then_some(Self(value)) }
            fn inside(self) -> f64 { self.0 }
        }
    };
}

kind!(Length, "a length", 2, "0.10 mm", 10_000.0, [
    ["mm"] => 1.0, 1.0;
    ["in"] => MM_PER_INCH, 1.0;
    ["um", "µm", "μm"] => 1.0, 1000.0;
    ["cm"] => 10.0, 1.0;
    ["m"] => 1000.0, 1.0;
    ["mil", "thou"] => MM_PER_INCH, 1000.0;
    ["uin", "µin", "μin", "microinch"] => MM_PER_INCH, 1_000_000.0;
]);
kind!(Angle, "an angle", 1, "15 deg", 20.0 * PI, [
    ["deg", "°"] => PI, 180.0;
]);
kind!(Time, "a time", 1, "30 s", 86_400.0, [
    ["s"] => 1.0, 1.0;
    ["min"] => 60.0, 1.0;
    ["h"] => 3600.0, 1.0;
]);
kind!(Speed, "a speed", 2, "6 m/min", 1e6, [
    ["m/min"] => 1000.0, 1.0;
    ["in/min"] => MM_PER_INCH, 1.0;
    ["mm/min"] => 1.0, 1.0;
    ["ft/min"] => MM_PER_FOOT, 1.0;
]);
kind!(SurfaceSpeed, "a surface speed", 2, "280 m/min", 1e7, [
    ["m/min"] => 1000.0, 1.0;
    ["ft/min"] => MM_PER_FOOT, 1.0;
    ["m/s"] => 60_000.0, 1.0;
]);
kind!(FeedPerRev, "a feed per revolution", 2, "0.20 mm/rev", 100.0, [
    ["mm/rev"] => 1.0, 1.0;
    ["in/rev"] => MM_PER_INCH, 1.0;
]);
kind!(FeedPerMinute, "a feed per minute", 2, "1500 mm/min", 1e6, [
    ["mm/min"] => 1.0, 1.0;
    ["in/min"] => MM_PER_INCH, 1.0;
    ["m/min"] => 1000.0, 1.0;
]);
kind!(SpindleSpeed, "a spindle speed", 1, "700 rpm", 1e5, [
    ["rpm", "rev/min", "1/min"] => 1.0, 1.0;
]);
kind!(Size, "a size", 1, "64 kB", 1e12, [
    ["kB"] => 1000.0, 1.0;
    ["B"] => 1.0, 1.0;
    ["KiB"] => 1024.0, 1.0;
    ["MB"] => 1_000_000.0, 1.0;
]);

/// Every kind with its units, for naming the kind that a wrong unit belongs to.
const KINDS: [(&str, &[Unit]); 9] = [
    (Length::KIND, Length::UNITS),
    (Angle::KIND, Angle::UNITS),
    (Time::KIND, Time::UNITS),
    (SurfaceSpeed::KIND, SurfaceSpeed::UNITS),
    (FeedPerMinute::KIND, FeedPerMinute::UNITS),
    (Speed::KIND, Speed::UNITS),
    (FeedPerRev::KIND, FeedPerRev::UNITS),
    (SpindleSpeed::KIND, SpindleSpeed::UNITS),
    (Size::KIND, Size::UNITS),
];

/// Units that inch shops write otherwise than we read them, each with ours of the very same size: a hint never changes a size.
const OTHER_SPELLINGS: &[(&[&str], &str)] = &[
    (&["\"", "''", "inch", "inches", "In", "IN"], "in"),
    (&["mils", "thous", "MIL"], "mil"),
    (&["microinches", "uinch", "uinches"], "uin"),
    (&["MM", "millimetres", "millimeters"], "mm"),
    (&["sfm", "SFM", "sfpm", "SFPM", "fpm", "sf/min"], "ft/min"),
    (&["ipr", "IPR"], "in/rev"),
    (&["ipm", "IPM"], "in/min"),
];

/// Why a text is not the quantity it should be.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("found {found}; expected {expected}")]
pub struct QuantityError {
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// How to correct it.
    pub fix: String,
}

/// Reads a quantity from text.
pub(super) fn parse<Q: Quantity>(text: &str) -> Result<Q, QuantityError> {
    let text = text.trim();
    let (number, unit) = split(text);
    let kind = Q::KIND;
    let plain = |found: String, fix: String| QuantityError {
        found,
        expected: format!("{kind} such as `{}`", Q::EXAMPLE),
        fix,
    };
    let Ok(value) = number.parse::<f64>() else {
        return Err(plain(
            format!("`{}`, which does not begin with a number", shown(text)),
            format!("write a number and its unit, for example `{}`", Q::EXAMPLE),
        ));
    };
    let beyond = || {
        plain(format!("`{}`, a number beyond all bounds", shown(text)), "write the number meant".to_owned())
    };
    if !value.is_finite() {
        return Err(beyond());
    }
    if let Some(decimals) = unit.strip_prefix(',') {
        return Err(plain(
            format!("`{}`, with a decimal comma", shown(text)),
            format!("write a decimal point: `{number}.{}`", shown(decimals)),
        ));
    }
    let (under, unit) = match fraction(number, unit) {
        None => (None, unit),
        Some((under, "in")) if under > 0.0 && takes_inches::<Q>() => (Some(under), "in"),
        Some((under, unit)) => {
            let fix = if takes_inches::<Q>() {
                "write a decimal number; a fraction of whole numbers stands before `in` alone, such as `1/32 in`"
            } else {
                "write a decimal number"
            };
            let what = match (under > 0.0, unit) {
                (false, _) => "a number divided by zero",
                (true, "") => "a fraction without a unit",
                (true, _) => "a fraction",
            };
            return Err(plain(format!("`{}`, {what}", shown(text)), fix.to_owned()));
        }
    };
    let offers: Vec<String> = Q::UNITS
        .iter()
        .take(Q::OFFERED)
        .filter_map(|u| u.spellings.first())
        .map(|u| format!("`{number} {u}`"))
        .collect();
    let offers = offers.join(" or ");
    let offering = |found: String, fix: String| QuantityError {
        found,
        expected: format!("{kind} such as {offers}"),
        fix,
    };
    if unit.is_empty() {
        let fix = format!("add the unit that is meant: {offers}");
        return Err(offering(format!("`{}`, a number without a unit", shown(text)), fix));
    }
    if let Some(known) = Q::UNITS.iter().find(|u| u.spellings.contains(&unit)) {
        let inside = match under {
            None => value * known.times / known.over,
            // Whole numbers by whole numbers, rounded once: 25.4 is 127 fifths.
            Some(under) => value * 127.0 / (5.0 * under),
        };
        let quantity = Q::from_inside(inside).ok_or_else(beyond)?;
        let inside = quantity.inside().abs();
        if inside > Q::MOST {
            return Err(beyond());
        }
        // A number that would be printed as zero, and is none.
        let least = Q::UNITS.first().map_or(0.0, |u| HALF_A_DECIMAL * u.times / u.over);
        if inside > 0.0 && inside < least {
            return Err(plain(
                format!("`{}`, a number too small to be meant", shown(text)),
                "write the number meant, or 0 with its unit".to_owned(),
            ));
        }
        return Ok(quantity);
    }
    let units: Vec<&str> = Q::UNITS.iter().filter_map(|u| u.spellings.first()).copied().collect();
    let ours = OTHER_SPELLINGS.iter().find(|(others, ours)| others.contains(&unit) && units.contains(ours));
    if let Some((_, ours)) = ours {
        return Err(QuantityError {
            found: format!("`{}`, whose unit is read as `{ours}`", shown(text)),
            expected: format!("{kind} such as `{number} {ours}`"),
            fix: format!("write `{number} {ours}`"),
        });
    }
    let fix = format!("write {kind} in {}", one_of(&units));
    let other = KINDS.iter().find(|(_, units)| units.iter().any(|u| u.spellings.contains(&unit)));
    Err(offering(
        match other {
            Some((other, _)) => format!("`{}`, {other}", shown(text)),
            None => format!("`{}`, whose unit `{}` is not known", shown(text), shown(unit)),
        },
        fix,
    ))
}

/// Splits text into its leading number and, without the blanks between, what follows.
fn split(text: &str) -> (&str, &str) {
    let bytes = text.as_bytes();
    let digits = |from: usize| bytes.iter().skip(from).take_while(|b| b.is_ascii_digit()).count();
    let at = |i: usize| bytes.get(i).copied();
    let mut end = usize::from(matches!(at(0), Some(b'+' | b'-')));
    end += digits(end);
    if at(end) == Some(b'.') {
        end += 1 + digits(end + 1);
    }
    if matches!(at(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(at(end + 1), Some(b'+' | b'-')));
        let exponent = digits(end + 1 + sign);
        if exponent > 0 {
            end += 1 + sign + exponent;
        }
    }
    let (number, unit) = text.split_at_checked(end).unwrap_or((text, ""));
    (number, unit.trim_start())
}

/// Whether a kind of quantity may be written in inches.
fn takes_inches<Q: Quantity>() -> bool {
    Q::UNITS.iter().any(|unit| unit.spellings.contains(&"in"))
}

/// The denominator and the unit of a fraction of whole numbers, from its numerator and what follows; none where it is no fraction.
fn fraction<'t>(number: &str, rest: &'t str) -> Option<(f64, &'t str)> {
    let whole = |digits: &str| !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    let (under, unit) = split(rest.strip_prefix('/')?);
    (whole(number.trim_start_matches(['+', '-'])) && whole(under))
        .then(|| under.parse().ok().map(|n| (n, unit)))?
}

/// "a", "a or b", "a, b or c".
fn one_of(words: &[&str]) -> String {
    match words.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        Some((last, _)) => (*last).to_owned(),
        None => String::new(),
    }
}

/// From this size on a number is surely a typing mistake. It is printed as a power of ten, since hundreds of digits would hide it.
const HUGE: f64 = 1e12;

/// Two numbers with the fewest decimals, at least `least`, that show them different: a number beyond its limit must not look equal to it.
#[must_use]
pub fn told_apart(a: f64, b: f64, least: usize) -> [String; 2] {
    if a.abs().max(b.abs()) >= HUGE {
        return [a, b].map(|v| format!("{v:e}"));
    }
    let both = |decimals: usize| [a, b].map(|v| format!("{v:.decimals$}"));
    (least..=DOUBLE_DECIMALS).map(both).find(|[a, b]| a != b).unwrap_or_else(|| both(least))
}

/// A number with all its digits, or as a power of ten where that would be too many.
#[must_use]
pub fn in_full(value: f64) -> String {
    if value.abs() < HUGE { value.to_string() } else { format!("{value:e}") }
}

/// Decimals beyond which two doubles near one cannot differ.
const DOUBLE_DECIMALS: usize = 15;

/// Prints a quantity with the requested number of decimals, or as many as its value has, up to [`DECIMALS`].
pub(super) fn print<Q: Quantity>(quantity: Q, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    let Some(unit) = Q::UNITS.first() else { return Err(fmt::Error) };
    let value = quantity.inside() * unit.over / unit.times;
    let decimals = f.precision().unwrap_or(DECIMALS);
    if value.abs() >= HUGE {
        return write!(f, "{value:e} {}", unit.spellings.first().copied().unwrap_or_default());
    }
    let digits = match f.precision() {
        None => in_full_places(value),
        Some(_) => without_sign_of_nothing(&format!("{value:.decimals$}")),
    };
    write!(f, "{digits} {}", unit.spellings.first().copied().unwrap_or_default())
}

/// A number with as many decimals as it has, up to [`DECIMALS`].
pub(super) fn in_full_places(value: f64) -> String {
    let digits = format!("{value:.DECIMALS$}");
    without_sign_of_nothing(digits.trim_end_matches('0').trim_end_matches('.'))
}

/// Zero has no sign.
fn without_sign_of_nothing(digits: &str) -> String {
    let nothing = digits.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    if nothing { digits.trim_start_matches('-') } else { digits }.to_owned()
}

/// Implements reading and printing for a kind: `FromStr`, `Display`, serde both ways.
macro_rules! written {
    ($name:ident) => {
        impl std::str::FromStr for $name {
            type Err = $crate::units::QuantityError;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                $crate::units::text::parse(text)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                $crate::units::text::print(*self, f)
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                to.collect_str(self)
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                from.deserialize_any($crate::units::text::QuantityVisitor(std::marker::PhantomData))
            }
        }
    };
}
pub(super) use written;

impl From<QuantityError> for Mismatch {
    fn from(QuantityError { found, expected, fix }: QuantityError) -> Self {
        Self { found, expected, fix }
    }
}

/// The serde visitor of a quantity. It accepts values other than text only to refuse them with a message that says what to write.
pub(super) struct QuantityVisitor<Q>(pub(super) std::marker::PhantomData<Q>);

impl<Q: Quantity> QuantityVisitor<Q> {
    fn refused<E: serde::de::Error>() -> E {
        let expected = format!("{} such as `{}`", Q::KIND, Q::EXAMPLE);
        E::custom(Mismatch::expected(expected, "write a number and its unit"))
    }
}

impl<'de, Q: Quantity> serde::de::Visitor<'de> for QuantityVisitor<Q> {
    type Value = Q;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} such as `{}`", Q::KIND, Q::EXAMPLE)
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Q, E> {
        parse(text).map_err(|error| E::custom(Mismatch::from(error)))
    }

    fn visit_f64<E: serde::de::Error>(self, value: f64) -> Result<Q, E> {
        self.visit_str(&value.to_string())
    }

    fn visit_i64<E: serde::de::Error>(self, value: i64) -> Result<Q, E> {
        self.visit_str(&value.to_string())
    }

    fn visit_u64<E: serde::de::Error>(self, value: u64) -> Result<Q, E> {
        self.visit_str(&value.to_string())
    }

    fn visit_bool<E: serde::de::Error>(self, _: bool) -> Result<Q, E> {
        Err(Self::refused())
    }

    fn visit_unit<E: serde::de::Error>(self) -> Result<Q, E> {
        Err(Self::refused())
    }

    fn visit_seq<A: serde::de::SeqAccess<'de>>(self, _: A) -> Result<Q, A::Error> {
        Err(Self::refused())
    }

    fn visit_map<A: serde::de::MapAccess<'de>>(self, _: A) -> Result<Q, A::Error> {
        Err(Self::refused())
    }
}
