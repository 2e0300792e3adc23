//! What a message says of a node: its name, what stands there, and the faults that a tree without types can find.

use super::keys::{self, List, Needed};
use super::source::{Key, Node, Place, Shape};
use crate::diagnostics::{InputError, Mismatch, shown};

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

    /// The node under a key, where there is one.
    pub(super) fn under(&self, key: &str) -> Option<&Self> {
        let Shape::Group(entries) = &self.shape else { return None };
        entries.iter().find(|n| n.is_under(key))
    }

    /// The node under a key, or this node where there is none: for pointing at values that were read before.
    pub(super) fn at(&self, key: &str) -> &Self {
        self.under(key).unwrap_or(self)
    }

    fn is_under(&self, key: &str) -> bool {
        self.key.as_ref().is_some_and(|k| k.text == key)
    }

    /// Whether a key stands in this group.
    pub(super) fn has(&self, key: &str) -> bool {
        self.under(key).is_some()
    }

    /// Whether the node's key is one of those known, where they are known.
    pub(super) fn is_known(&self, known: Option<&[&str]>) -> bool {
        known.is_none_or(|known| self.key.as_ref().is_some_and(|k| known.contains(&k.text.as_str())))
    }

    /// What a type that read this node found wrong. An expectation that does not begin with `the` is said of the node's key.
    pub(super) fn mismatch(&self, mismatch: &Mismatch) -> InputError {
        let Mismatch { found, expected, fix } = mismatch;
        let found = if found.is_empty() { self.found() } else { found.clone() };
        let expected = if expected.starts_with("the ") {
            expected.clone()
        } else {
            format!("{} as {expected}", self.name())
        };
        self.fault_found(found, expected, fix.as_str())
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

    /// The items of a list, or none where this is no list: for pointing at values that were read before.
    pub(super) fn items(&self) -> &[Self] {
        if let Shape::List(items) = &self.shape { items } else { &[] }
    }

    pub(super) fn unknown_key(&self, key: &Key, known: &[&str]) -> InputError {
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

    /// A key that must be there and is not.
    pub(super) fn missing(&self, needed: &Needed) -> InputError {
        let Needed { key, example, why } = needed;
        let (expected, fix) = match why {
            Some(why) => (
                format!("`{key}`, which has no default: {why}"),
                format!("decide it, then write it in the form `{key}: {example}`"),
            ),
            None => (format!("`{key}`"), format!("add it, for example `{key}: {example}`")),
        };
        let place = self.key.as_ref().map_or(self.place, |key| key.place);
        let found = match &self.key {
            Some(group) => format!("`{}` without `{key}`", shown(&group.text)),
            None => format!("no `{key}`"),
        };
        self.fault_at(place, found, expected, fix)
    }

    /// The items of a list, which may be empty only under certain keys.
    pub(super) fn list(&self) -> Result<&[Self], InputError> {
        let List { of, may_be_empty, .. } = keys::list(self.key.as_ref().map_or("", |key| &key.text));
        let refused = |found: String| {
            self.fault_found(
                found,
                format!("{} as a list of {of}", self.name()),
                format!("write {of}, one a line, each after a dash"),
            )
        };
        match &self.shape {
            Shape::List(items) if may_be_empty || !items.is_empty() => Ok(items),
            Shape::List(_) => Err(refused("an empty list".to_owned())),
            _ => Err(refused(self.found())),
        }
    }

    /// A word or sentence: any scalar as it was written, on one line and not empty.
    pub(super) fn text(&self) -> Result<&str, InputError> {
        if self.is_scalar() && !self.written.trim().is_empty() && !self.written.contains(['\n', '\r']) {
            return Ok(&self.written);
        }
        Err(self.fault(
            format!("{} as text on one line", self.name()),
            "write the text, in quotes where it holds a colon",
        ))
    }

    const fn is_scalar(&self) -> bool {
        matches!(self.shape, Shape::Text | Shape::Number | Shape::Flag(_))
    }

    /// One of several words.
    pub(super) fn choice(&self, words: &[&'static str]) -> Result<&'static str, InputError> {
        if self.is_scalar()
            && let Some(word) = words.iter().find(|word| **word == self.written)
        {
            return Ok(word);
        }
        let all = words.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", ");
        let fix = match nearest(&self.written, words.iter().copied()) {
            Some(near) => format!("write `{near}`, if that is meant"),
            None => "write the one that is meant".to_owned(),
        };
        Err(self.fault(format!("{} as one of {all}", self.name()), fix))
    }

    /// Yes or no.
    pub(super) fn flag(&self) -> Result<bool, InputError> {
        match self.shape {
            Shape::Flag(flag) => Ok(flag),
            _ => Err(self.fault(format!("{} as `true` or `false`", self.name()), "write `true` or `false`")),
        }
    }
}

/// Names in quotes, with commas between.
pub(super) fn quoted<'t>(names: impl IntoIterator<Item = &'t str>) -> String {
    names.into_iter().map(|n| format!("`{}`", shown(n))).collect::<Vec<_>>().join(", ")
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
