//! Lines of a summary below the readings, such as `mean;142.0;-8.5`: as many numbers as a reading holds, and none.
//!
//! Taken for a reading, the mean of all radii and heights is a wild point of the last trace. Such a line is known by its first word,
//! and only below the last reading: a column of words may hold one of them over the whole file (common practice, no source).
//!
//! Limit: where every reading stands under such a word, the last one is passed over.

use std::collections::HashSet;

/// What spreadsheets and loggers write before a summary, in small letters: English, German, French, Italian, Spanish.
const WORDS: &[&str] = &[
    "mean",
    "average",
    "avg",
    "min",
    "minimum",
    "max",
    "maximum",
    "median",
    "sum",
    "total",
    "count",
    "std",
    "stdev",
    "stddev",
    "sd",
    "rms",
    "range",
    "mittelwert",
    "mittel",
    "summe",
    "anzahl",
    "moyenne",
    "somme",
    "media",
    "somma",
    "suma",
];

/// The word of a summary that a first field begins with.
pub(super) fn word(field: &[u8]) -> Option<&'static str> {
    if !field.first()?.is_ascii_alphabetic() {
        return None;
    }
    let word: &[u8] = field.split(|b| !b.is_ascii_alphabetic()).next()?;
    WORDS.iter().find(|known| known.as_bytes().eq_ignore_ascii_case(word)).copied()
}

/// The words of one summary: none stands in it twice, so that readings under such a word are no summary.
#[derive(Debug, Default)]
pub(super) struct Summary(HashSet<&'static str>);

impl Summary {
    /// Whether a line with this first field is one more of the summary.
    pub fn goes_on(&mut self, first_field: &[u8]) -> bool {
        word(first_field).is_some_and(|word| self.0.insert(word))
    }
}
