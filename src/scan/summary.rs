//! Lines of a summary below the readings, such as `mean;142.0;-8.5`: as many numbers as a reading holds, and none.
//!
//! Taken for a reading, the mean of all radii and heights is a wild point of the last trace. Such a line is known by its first word,
//! whatever parts its numbers, and only below the last reading: a column of words may hold one of them over the whole file (common
//! practice, no source). Where readings begin with a number, a line under a key (`Points: 912`) is one of the summary too.
//!
//! Limit: where every reading stands under such a word, the last one is passed over.

use super::above::key_of;
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

/// The word of a summary that a line begins with.
fn word(line: &[u8]) -> Option<&[u8]> {
    let word = line.split(|b| !b.is_ascii_alphabetic()).next()?;
    WORDS.iter().any(|known| known.as_bytes().eq_ignore_ascii_case(word)).then_some(word)
}

/// What readings begin with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Begins {
    /// With x or z: a line that begins with a word is none.
    WithNumbers,
    /// With a column that is read over, and may hold any word.
    WithAnything,
}

/// The words of one summary: none stands in it twice, so that readings under such a word are no summary.
#[derive(Debug)]
pub(super) struct Summary {
    readings: Begins,
    words: HashSet<Vec<u8>>,
}

impl Summary {
    /// No line yet, below readings that begin so.
    pub fn below(readings: Begins) -> Self {
        Self { readings, words: HashSet::new() }
    }

    /// Whether a line is one more of the summary.
    pub fn goes_on(&mut self, line: &[u8]) -> bool {
        let key = || key_of(line).filter(|_| self.readings == Begins::WithNumbers);
        let word = word(line).or_else(key).map(<[u8]>::to_ascii_lowercase);
        word.is_some_and(|word| self.words.insert(word))
    }
}
