//! Reading single values with conditions that their types do not express: sign, range, count, text of two words.

use crate::diagnostics::Mismatch;
use crate::units::{Angle, Length, Quantity};
use serde::de::{Deserialize, Deserializer, Error, Visitor};
use std::fmt;

/// One turn.
const TURN: Angle = Angle::deg(360.0);

/// A quantity above zero.
pub(super) fn above_zero<'de, D, Q>(from: D) -> Result<Q, D::Error>
where
    D: Deserializer<'de>,
    Q: Quantity + Deserialize<'de>,
{
    let quantity = Q::deserialize(from)?;
    if quantity.inside() > 0.0 { Ok(quantity) } else { Err(sign::<Q, _>("above zero")) }
}

/// A quantity above zero under a key that may be left out.
pub(super) fn some_above_zero<'de, D, Q>(from: D) -> Result<Option<Q>, D::Error>
where
    D: Deserializer<'de>,
    Q: Quantity + Deserialize<'de>,
{
    above_zero(from).map(Some)
}

/// A quantity of zero or more.
pub(super) fn not_negative<'de, D, Q>(from: D) -> Result<Q, D::Error>
where
    D: Deserializer<'de>,
    Q: Quantity + Deserialize<'de>,
{
    let quantity = Q::deserialize(from)?;
    if quantity.inside() >= 0.0 { Ok(quantity) } else { Err(sign::<Q, _>("of zero or more")) }
}

/// A quantity of zero or more under a key that may be left out.
pub(super) fn some_not_negative<'de, D, Q>(from: D) -> Result<Option<Q>, D::Error>
where
    D: Deserializer<'de>,
    Q: Quantity + Deserialize<'de>,
{
    not_negative(from).map(Some)
}

/// A length between two, each in whole micrometres, both included.
pub(super) fn length_between<'de, D, const LEAST: u32, const MOST: u32>(from: D) -> Result<Length, D::Error>
where
    D: Deserializer<'de>,
{
    /// Micrometres in a millimetre.
    const UM: f64 = 1000.0;
    let length = Length::deserialize(from)?;
    let [least, most] = [LEAST, MOST].map(|um| Length::mm(f64::from(um) / UM));
    if least <= length && length <= most {
        return Ok(length);
    }
    Err(D::Error::custom(Mismatch::expected(
        format!("a length from `{least}` to `{most}`"),
        "write the length that is meant; check its unit",
    )))
}

fn sign<Q: Quantity, E: Error>(wanted: &str) -> E {
    let expected = format!("{} {wanted}", Q::KIND);
    E::custom(Mismatch::expected(expected.as_str(), format!("write {expected}")))
}

/// Two lengths, the first less than the second.
pub(super) fn range<'de, D: Deserializer<'de>>(from: D) -> Result<[Length; 2], D::Error> {
    let lengths = lengths(
        from,
        Mismatch::expected(
            "two lengths, least and greatest, such as `[0 mm, 420 mm]`",
            "write the two lengths in brackets",
        ),
    )?;
    let [least, greatest] = lengths;
    if least < greatest {
        return Ok(lengths);
    }
    Err(D::Error::custom(Mismatch {
        found: format!("a range from `{least}` to `{greatest}`"),
        expected: "the lesser length first and a greater one after it".to_owned(),
        fix: format!("write `[{greatest}, {least}]`, if that is meant"),
    }))
}

/// Two lengths in brackets; the mismatch says what they are.
pub(super) fn lengths<'de, D: Deserializer<'de>>(
    from: D,
    refused: Mismatch,
) -> Result<[Length; 2], D::Error> {
    struct Two(Mismatch);

    impl<'de> Visitor<'de> for Two {
        type Value = [Length; 2];

        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            fmt::Display::fmt(&self.0, f)
        }

        fn visit_seq<A: serde::de::SeqAccess<'de>>(self, mut items: A) -> Result<[Length; 2], A::Error> {
            let mut lengths: Vec<Length> = Vec::new();
            while let Some(length) = items.next_element()? {
                lengths.push(length);
            }
            <[Length; 2]>::try_from(lengths).map_err(|lengths| {
                A::Error::custom(Mismatch {
                    found: format!("a list of {}", lengths.len()),
                    fix: "write exactly two lengths in brackets".to_owned(),
                    ..self.0
                })
            })
        }
    }

    from.deserialize_any(Two(refused))
}

/// An angle within one turn; a whole turn is zero.
pub(super) fn within_turn<'de, D: Deserializer<'de>>(from: D) -> Result<Angle, D::Error> {
    let at = Angle::deserialize(from)?;
    // A whole turn is none: some programs write the place where they began so.
    if at == TURN {
        return Ok(Angle::deg(0.0));
    }
    if at.as_rad() >= 0.0 && at < TURN {
        return Ok(at);
    }
    Err(D::Error::custom(Mismatch::expected(
        "an angle from `0 deg` to `360 deg`",
        "write the wheel's angle at this line within one turn",
    )))
}

/// An angle within one turn under a key that may be left out.
pub(super) fn some_within_turn<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Angle>, D::Error> {
    within_turn(from).map(Some)
}

/// The length above zero that follows a word and a blank, as in `ball 3 mm`; none where the text does not begin so.
///
/// `refused` is the message for a length of zero or less.
pub(super) fn length_after(word: &str, text: &str, refused: &Mismatch) -> Option<Result<Length, Mismatch>> {
    let length = text.strip_prefix(word)?.strip_prefix(' ')?;
    Some(match length.parse::<Length>() {
        Ok(length) if length.as_mm() > 0.0 => Ok(length),
        Ok(_) => Err(refused.clone()),
        Err(error) => Err(Mismatch::from(error)),
    })
}

/// A value that is written as one text.
///
/// `refused` is the message for a list, a group or nothing.
pub(super) fn text<'de, D, T>(
    from: D,
    refused: Mismatch,
    read: impl FnOnce(&str) -> Result<T, Mismatch>,
) -> Result<T, D::Error>
where
    D: Deserializer<'de>,
{
    struct Text<T, F>(Mismatch, F, std::marker::PhantomData<T>);

    impl<T, F: FnOnce(&str) -> Result<T, Mismatch>> Visitor<'_> for Text<T, F> {
        type Value = T;

        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            fmt::Display::fmt(&self.0, f)
        }

        fn visit_str<E: Error>(self, text: &str) -> Result<T, E> {
            (self.1)(text).map_err(E::custom)
        }
    }

    from.deserialize_any(Text(refused, read, std::marker::PhantomData))
}

/// Longest number of a wheel, in characters: more is a description, and belongs under `name`.
const LONGEST_NUMBER: usize = 40;

/// A shop's own number of a wheel, as it is painted or stamped on it: digits alone, or with letters.
pub(super) fn some_wheel_number<'de, D: Deserializer<'de>>(from: D) -> Result<Option<String>, D::Error> {
    let refused = Mismatch::expected(
        format!(
            "the shop's own number of this wheel, such as `R-1042`, of {LONGEST_NUMBER} characters at most"
        ),
        "write the number or name that the shop marks this one wheel with",
    );
    text(from, refused.clone(), |number| {
        let fits = !number.trim().is_empty()
            && number.chars().count() <= LONGEST_NUMBER
            && !number.chars().any(char::is_control);
        if fits { Ok(Some(number.trim().to_owned())) } else { Err(refused) }
    })
}

/// A whole number from `LEAST` to `MOST`.
pub(super) fn count<'de, D, T, const LEAST: u32, const MOST: u32>(from: D) -> Result<T, D::Error>
where
    D: Deserializer<'de>,
    T: TryFrom<u32>,
{
    let refused = Mismatch::expected(
        format!("a whole number from {LEAST} to {MOST}"),
        "write a whole number in that range, without a unit",
    );
    text(from, refused.clone(), |text| {
        let count = text.parse().ok().filter(|count| (LEAST..=MOST).contains(count));
        count.and_then(|count| T::try_from(count).ok()).ok_or(refused)
    })
}

/// A whole number from `LEAST` to `MOST` under a key that may be left out.
pub(super) fn some_count<'de, D, T, const LEAST: u32, const MOST: u32>(from: D) -> Result<Option<T>, D::Error>
where
    D: Deserializer<'de>,
    T: TryFrom<u32>,
{
    count::<D, T, LEAST, MOST>(from).map(Some)
}

/// A certain word, or a value in its place.
pub(super) fn word_or<'de, D, T>(
    from: D,
    word: &str,
    as_word: T,
    refused: Mismatch,
    read: impl FnOnce(&str) -> Option<T>,
) -> Result<T, D::Error>
where
    D: Deserializer<'de>,
{
    text(from, refused.clone(), |text| if text == word { Ok(as_word) } else { read(text).ok_or(refused) })
}

/// Entries with names that a person chose, in the order of the file.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Named<T>(pub(super) Vec<(String, T)>);

impl<T> Default for Named<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Named<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Entries<T>(std::marker::PhantomData<T>);

        impl<'de, T: Deserialize<'de>> Visitor<'de> for Entries<T> {
            type Value = Named<T>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a group of names")
            }

            fn visit_map<A: serde::de::MapAccess<'de>>(self, mut entries: A) -> Result<Named<T>, A::Error> {
                let mut named = Vec::new();
                while let Some(entry) = entries.next_entry()? {
                    named.push(entry);
                }
                Ok(Named(named))
            }
        }

        from.deserialize_map(Entries(std::marker::PhantomData))
    }
}
