//! Values out of nodes: each reading either gives a checked value or a fault that points at the node.

use super::source::{Key, Node, Place, Shape};
use crate::diagnostics::{InputError, shown};
use crate::units::{Length, Quantity};
use std::ops::RangeInclusive;
use std::str::FromStr;

/// How like a known key an unknown one must be to be taken for a slip of the pen (Jaro–Winkler, 0 to 1):
/// one or two wrong letters score above it, another word below.
const SLIP: f64 = 0.7;

impl Node {
    /// What stands here, as a message says it.
    pub(super) fn found(&self) -> String {
        match &self.shape {
            Shape::Nothing => "nothing".to_owned(),
            Shape::List(_) => "a list".to_owned(),
            Shape::Group(_) => "a group of keys".to_owned(),
            Shape::Flag(_) | Shape::Number | Shape::Text => format!("`{}`", shown(&self.written)),
        }
    }

    /// The node's name in a message: its key, or `value` in a list.
    fn name(&self) -> String {
        self.key.as_ref().map_or_else(|| "this value".to_owned(), |key| format!("`{}`", shown(&key.text)))
    }

    /// A fault at this node: it stands where the node stands, and blames what stands there.
    pub(super) fn fault(&self, expected: impl Into<String>, fix: impl Into<String>) -> InputError {
        self.fault_found(self.found(), expected, fix)
    }

    /// A fault at this node, with words of its own for what stands there.
    pub(super) fn fault_found(
        &self,
        found: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) -> InputError {
        self.fault_at(self.place, found, expected, fix)
    }

    fn fault_at(
        &self,
        place: Place,
        found: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) -> InputError {
        InputError {
            file: self.file.to_path_buf(),
            line: place.line,
            column: place.column,
            found: found.into(),
            expected: expected.into(),
            fix: fix.into(),
        }
    }

    /// The node under a key, or this node where there is none: for pointing at values that were read before.
    pub(super) fn at(&self, key: &str) -> &Self {
        match &self.shape {
            Shape::Group(entries) => entries.iter().find(|n| n.is_under(key)).unwrap_or(self),
            _ => self,
        }
    }

    fn is_under(&self, key: &str) -> bool {
        self.key.as_ref().is_some_and(|k| k.text == key)
    }

    /// A group whose keys are all known.
    pub(super) fn group(&self, known: &[&str]) -> Result<Group<'_>, InputError> {
        let entries = self.entries()?;
        for entry in entries {
            let Some(key) = entry.key.as_ref() else { continue };
            if !known.contains(&key.text.as_str()) {
                return Err(self.unknown_key(key, known));
            }
        }
        Ok(Group { node: self, entries })
    }

    /// A group's nodes, whatever their keys.
    pub(super) fn entries(&self) -> Result<&[Self], InputError> {
        match &self.shape {
            Shape::Group(entries) => Ok(entries),
            _ => Err(self.fault(
                format!("{} as a group of `key: value` lines", self.name()),
                "write the group's keys indented under it, or in braces",
            )),
        }
    }

    fn unknown_key(&self, key: &Key, known: &[&str]) -> InputError {
        let all = known.iter().map(|k| format!("`{k}`")).collect::<Vec<_>>().join(", ");
        let fix = match nearest(&key.text, known.iter().copied()) {
            Some(near) => format!("write `{near}`, if that is meant, or delete the key"),
            None => "delete the key, or write one of those".to_owned(),
        };
        self.fault_at(
            key.place,
            format!("`{}`, a key that is not known here", shown(&key.text)),
            format!("one of {all}"),
            fix,
        )
    }

    /// A list with at least one item.
    pub(super) fn list(&self, of_what: &str) -> Result<&[Self], InputError> {
        match &self.shape {
            Shape::List(items) if !items.is_empty() => Ok(items),
            Shape::List(_) => Err(self.fault_found(
                "an empty list",
                format!("{} as a list of {of_what}", self.name()),
                format!("write {of_what}, one a line, each after a dash"),
            )),
            _ => Err(self.fault(
                format!("{} as a list of {of_what}", self.name()),
                format!("write {of_what}, one a line, each after a dash"),
            )),
        }
    }

    /// A list that may be empty.
    pub(super) fn list_or_empty(&self, of_what: &str) -> Result<&[Self], InputError> {
        match &self.shape {
            Shape::List(items) if items.is_empty() => Ok(items),
            _ => self.list(of_what),
        }
    }

    /// A word or sentence: any scalar as it was written, on one line and not empty.
    pub(super) fn text(&self) -> Result<&str, InputError> {
        let scalar = matches!(self.shape, Shape::Text | Shape::Number | Shape::Flag(_));
        if scalar && !self.written.trim().is_empty() && !self.written.contains(['\n', '\r']) {
            return Ok(&self.written);
        }
        Err(self.fault(
            format!("{} as text on one line", self.name()),
            "write the text, in quotes where it holds a colon",
        ))
    }

    /// One of several words.
    pub(super) fn choice<T: Copy>(&self, choices: &[(&str, T)]) -> Result<T, InputError> {
        if let Shape::Text | Shape::Number | Shape::Flag(_) = self.shape
            && let Some((_, choice)) = choices.iter().find(|(word, _)| *word == self.written)
        {
            return Ok(*choice);
        }
        let all = choices.iter().map(|(word, _)| format!("`{word}`")).collect::<Vec<_>>().join(", ");
        let fix = match nearest(&self.written, choices.iter().map(|(word, _)| *word)) {
            Some(near) => format!("write `{near}`, if that is meant"),
            None => "write the one that is meant".to_owned(),
        };
        Err(self.fault(format!("{} as one of {all}", self.name()), fix))
    }

    /// Whether a choice of this word would be taken: for values that are a word or something else.
    pub(super) fn is_word(&self, word: &str) -> bool {
        matches!(self.shape, Shape::Text) && self.written == word
    }

    /// Yes or no.
    pub(super) fn flag(&self) -> Result<bool, InputError> {
        match self.shape {
            Shape::Flag(flag) => Ok(flag),
            _ => Err(self.fault(format!("{} as `true` or `false`", self.name()), "write `true` or `false`")),
        }
    }

    /// A whole number within a range.
    pub(super) fn count<T>(&self, range: RangeInclusive<T>) -> Result<T, InputError>
    where
        T: FromStr + PartialOrd + std::fmt::Display,
    {
        match (&self.shape, self.written.parse::<T>()) {
            (Shape::Number, Ok(count)) if range.contains(&count) => Ok(count),
            _ => Err(self.fault(
                format!("{} as a whole number from {} to {}", self.name(), range.start(), range.end()),
                "write a whole number in that range, without a unit",
            )),
        }
    }

    /// A quantity of any sign.
    pub(super) fn quantity<Q>(&self) -> Result<Q, InputError>
    where
        Q: Quantity,
    {
        match self.shape {
            Shape::Text | Shape::Number => self.quantity_in(&self.written),
            _ => Err(self.fault(
                format!("{} as {} such as `{}`", self.name(), Q::KIND, Q::EXAMPLE),
                "write a number and its unit",
            )),
        }
    }

    /// A quantity that is part of what stands here.
    pub(super) fn quantity_in<Q: Quantity>(&self, text: &str) -> Result<Q, InputError> {
        Q::read(text)
            .map_err(|e| self.fault_found(e.found, format!("{} as {}", self.name(), e.expected), e.fix))
    }

    /// A quantity above zero.
    pub(super) fn above_zero<Q: Quantity>(&self) -> Result<Q, InputError> {
        let quantity: Q = self.quantity()?;
        if quantity.inside() > 0.0 { Ok(quantity) } else { Err(self.sign::<Q>("above zero")) }
    }

    /// A quantity of zero or more.
    pub(super) fn not_negative<Q: Quantity>(&self) -> Result<Q, InputError> {
        let quantity: Q = self.quantity()?;
        if quantity.inside() >= 0.0 { Ok(quantity) } else { Err(self.sign::<Q>("of zero or more")) }
    }

    fn sign<Q: Quantity>(&self, wanted: &str) -> InputError {
        self.fault(format!("{} as {} {wanted}", self.name(), Q::KIND), format!("write {} {wanted}", Q::KIND))
    }

    /// Two lengths, the first less than the second.
    pub(super) fn range(&self) -> Result<[Length; 2], InputError> {
        let expected =
            || format!("{} as two lengths, least and greatest, such as `[0 mm, 420 mm]`", self.name());
        let Shape::List(items) = &self.shape else {
            return Err(self.fault(expected(), "write the two lengths in brackets"));
        };
        let [least, greatest] = items.as_slice() else {
            return Err(self.fault_found(
                format!("a list of {}", items.len()),
                expected(),
                "write exactly two lengths in brackets",
            ));
        };
        let (a, b): (Length, Length) = (least.quantity()?, greatest.quantity()?);
        if a < b {
            return Ok([a, b]);
        }
        Err(self.fault_found(
            format!("a range from `{}` to `{}`", least.written, greatest.written),
            "the lesser length first and a greater one after it",
            format!("write `[{}, {}]`, if that is meant", greatest.written, least.written),
        ))
    }
}

/// A group whose keys are known to be known.
#[derive(Debug, Clone, Copy)]
pub(super) struct Group<'a> {
    node: &'a Node,
    entries: &'a [Node],
}

impl<'a> Group<'a> {
    /// The node under a key, where there is one.
    pub(super) fn get(&self, key: &str) -> Option<&'a Node> {
        self.entries.iter().find(|n| n.is_under(key))
    }

    /// The node under a key that must be there; the example shows how it may be written.
    pub(super) fn need(&self, key: &str, example: &str) -> Result<&'a Node, InputError> {
        self.get(key).ok_or_else(|| {
            self.missing(key, format!("`{key}`"), format!("add it, for example `{key}: {example}`"))
        })
    }

    /// The node under a key that only a person can decide, with the reason; the form shows how it is written.
    pub(super) fn need_decided(&self, key: &str, form: &str, why: &str) -> Result<&'a Node, InputError> {
        self.get(key).ok_or_else(|| {
            let expected = format!("`{key}`, which has no default: {why}");
            self.missing(key, expected, format!("decide it, then write it in the form `{key}: {form}`"))
        })
    }

    fn missing(&self, key: &str, expected: String, fix: String) -> InputError {
        let node = self.node;
        let place = node.key.as_ref().map_or(node.place, |key| key.place);
        let found = match &node.key {
            Some(group) => format!("`{}` without `{key}`", shown(&group.text)),
            None => format!("no `{key}`"),
        };
        node.fault_at(place, found, expected, fix)
    }

    /// The group's own node.
    pub(super) fn node(&self) -> &'a Node {
        self.node
    }
}

/// The known word that a slip of the pen may have meant.
///
/// Words with digits in them are a control's words, which differ by a digit and mean another thing: none is guessed.
pub(super) fn nearest<'k>(word: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    if word.bytes().any(|b| b.is_ascii_digit()) {
        return None;
    }
    let lower = word.to_lowercase();
    known
        .into_iter()
        .map(|k| (strsim::jaro_winkler(&lower, &k.to_lowercase()), k))
        .filter(|(likeness, _)| *likeness >= SLIP)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, k)| k)
}
