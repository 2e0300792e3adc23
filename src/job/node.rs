//! Error messages about a node: its name, its content, and the errors that need no types.

use super::keys::{self, Group, List, Needed};
use super::source::{Key, Node, Place, Shape};
use crate::diagnostics::{InputError, Mismatch, shown};
use crate::units::{Length, Quantity};
use std::path::Path;

/// Similarity from which an unknown key is taken for a misspelt known one (Jaro–Winkler, 0 to 1):
/// one or two wrong letters score above it, another word below.
const SLIP: f64 = 0.7;

/// The mark of a value that is left for a person to fill in.
pub const BLANK: &str = "____";

impl Node {
    /// The content of the node, as a message shows it.
    pub(super) fn found(&self) -> String {
        match &self.shape {
            Shape::Nothing => "nothing".to_owned(),
            Shape::List(_) => "a list".to_owned(),
            Shape::Group(_) => "a group of keys".to_owned(),
            Shape::Flag(_) | Shape::Number | Shape::Text => format!("`{}`", shown(&self.written)),
        }
    }

    /// A value as it was written; a list of values in brackets.
    pub(super) fn as_written(&self) -> String {
        match self.items() {
            [] => self.written.clone(),
            items => format!("[{}]", items.iter().map(|i| i.written.as_str()).collect::<Vec<_>>().join(", ")),
        }
    }

    /// The node's name in a message: its key, or `value` in a list.
    fn name(&self) -> String {
        self.key.as_ref().map_or_else(|| "this value".to_owned(), |key| format!("`{}`", shown(&key.text)))
    }

    /// An error at this node, about its content.
    pub(super) fn error(&self, expected: impl Into<String>, fix: impl Into<String>) -> InputError {
        self.error_with_found(self.found(), expected, fix)
    }

    /// An error at this node, with another text for what was found.
    pub(super) fn error_with_found(
        &self,
        found: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) -> InputError {
        self.error_at(self.place, found, expected, fix)
    }

    fn error_at(
        &self,
        place: Place,
        found: impl Into<String>,
        expected: impl Into<String>,
        fix: impl Into<String>,
    ) -> InputError {
        let error = InputError {
            file: self.path().to_path_buf(),
            line: place.line,
            column: place.column,
            found: found.into(),
            expected: expected.into(),
            fix: fix.into(),
            context: None,
        };
        let Some(line) = self.file.line(place.line) else { return error };
        // The spot: the key where the error is there, else the value as it is written, else where it begins.
        let at_key = self.key.as_ref().filter(|key| key.place == place);
        let spot = at_key.map_or(self.written.as_str(), |key| key.text.as_str());
        let rest = || line.chars().skip(place.column.saturating_sub(1));
        let width = match (spot.chars().count(), rest().next()) {
            (_, Some('[' | '{')) => bracketed(rest()),
            (0, _) => rest().take_while(|c| c.is_alphanumeric() || *c == '_').count().max(1),
            (n, Some('"' | '\'')) => n + 2,
            (n, _) => n,
        };
        error.with_excerpt(line, width)
    }

    /// The file that it stands in.
    pub(super) fn path(&self) -> &Path {
        &self.file.path
    }

    /// The node under a key, where there is one.
    pub(super) fn under(&self, key: &str) -> Option<&Self> {
        let Shape::Group(entries) = &self.shape else { return None };
        entries.iter().find(|n| n.is_under(key))
    }

    /// The node under a key, or this node where there is none: the position for errors about values read before.
    pub(super) fn at(&self, key: &str) -> &Self {
        self.under(key).unwrap_or(self)
    }

    pub(super) fn is_under(&self, key: &str) -> bool {
        self.key.as_ref().is_some_and(|k| k.text == key)
    }

    /// Whether this group has a key.
    pub(super) fn has(&self, key: &str) -> bool {
        self.under(key).is_some()
    }

    /// Whether the node's key is one of those known, where they are known.
    pub(super) fn is_known(&self, known: Option<&[&str]>) -> bool {
        known.is_none_or(|known| self.key.as_ref().is_some_and(|k| known.contains(&k.text.as_str())))
    }

    /// The error for a mismatch that a type found at this node. Unless it begins with `the`, the expectation is prefixed with the node's key.
    pub(super) fn mismatch(&self, mismatch: &Mismatch) -> InputError {
        let Mismatch { found, expected, fix } = mismatch;
        let found = if found.is_empty() { self.found() } else { found.clone() };
        let expected = if expected.starts_with("the ") {
            expected.clone()
        } else {
            format!("{} as {expected}", self.name())
        };
        self.error_with_found(found, expected, fix.as_str())
    }

    /// A group's nodes, whatever their keys.
    pub(super) fn entries(&self) -> Result<&[Self], InputError> {
        match &self.shape {
            Shape::Group(entries) => Ok(entries),
            _ => Err(self.error(
                format!("{} as a group of `key: value` lines", self.name()),
                "write the group's keys indented under it, or in braces",
            )),
        }
    }

    /// The items of a list, or none where this is not a list: the positions for errors about values read before.
    pub(super) fn items(&self) -> &[Self] {
        if let Shape::List(items) = &self.shape { items } else { &[] }
    }

    pub(super) fn unknown_key(&self, key: &Key, known: &[&str]) -> InputError {
        let all = known.iter().map(|k| format!("`{k}`")).collect::<Vec<_>>().join(", ");
        let fix = match nearest(&key.text, known.iter().copied()) {
            Some(near) => format!("write `{near}`, if that is meant, or delete the key"),
            None => "delete the key, or write one of those".to_owned(),
        };
        let entry = self.under(&key.text).unwrap_or(self);
        entry.error_at(
            key.place,
            format!("`{}`, a key that is not known here", shown(&key.text)),
            format!("one of {all}"),
            fix,
        )
    }

    /// The error for a missing key.
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
        self.error_at(place, found, expected, fix)
    }

    /// The error for several missing keys: with a block of them ready to paste, each a blank to be filled in.
    pub(super) fn missing_several(&self, needed: &[Needed]) -> InputError {
        let place = self.key.as_ref().map_or(self.place, |key| key.place);
        let all = quoted(needed.iter().map(|n| n.key));
        let (found, under) = match &self.key {
            Some(group) => (
                format!("`{}` without {all}", shown(&group.text)),
                format!(" under `{}`", shown(&group.text)),
            ),
            None => (format!("no {all}"), String::new()),
        };
        let mut error = self.error_at(
            place,
            found,
            format!("{all}: none of them has a default"),
            format!("write these lines{under}, with a value in place of each {BLANK}:"),
        );
        let width = needed.iter().map(|n| n.key.len()).max().unwrap_or(0) + BLANK.len() + 2;
        let line = |n: &Needed| {
            let why = n.why.map_or(String::new(), |why| format!("; {why}"));
            format!("    {:width$}  # such as {}{why}", format!("{}: {BLANK}", n.key), n.example)
        };
        let block: Vec<String> = needed.iter().map(line).collect();
        error.context.get_or_insert_default().block = Some(block.join("\n"));
        error
    }

    /// The errors of all blanks that were left to be filled in, one a key, in a file of a group.
    pub(super) fn blanks(&self, root: &'static Group) -> Vec<InputError> {
        let mut all = Vec::new();
        self.add_blanks(Some(root), None, &mut all);
        all
    }

    /// Adds the blanks of this node: `group` is what its keys belong to, `about` the key that it stands under.
    fn add_blanks(
        &self,
        group: Option<&'static Group>,
        about: Option<&'static keys::Key>,
        all: &mut Vec<InputError>,
    ) {
        match &self.shape {
            Shape::Group(entries) => {
                for entry in entries {
                    let name = entry.key.as_ref().map_or("", |key| key.text.as_str());
                    let about = group.and_then(|g| g.keys.iter().find(|k| k.key == name));
                    // Under a name that the shop chose stand the keys of the same group.
                    let group = about.map_or(group, |k| k.form.group());
                    entry.add_blanks(group, about, all);
                }
            }
            Shape::List(items) if items.iter().any(|i| matches!(i.shape, Shape::Group(_))) => {
                for item in items {
                    item.add_blanks(group, about, all);
                }
            }
            Shape::List(items) => {
                // A list of values is one blank.
                let key = self.key.clone();
                let blank = items.iter().find(|i| i.written.contains(BLANK));
                all.extend(blank.map(|i| Self { key, ..i.clone() }.blank(about)));
            }
            _ if self.written.contains(BLANK) => all.push(self.blank(about)),
            _ => {}
        }
    }

    /// Whether an error is that of a blank in this tree, or of a list or group that holds one: it is not judged until it is filled in.
    pub(super) fn is_of_blank(&self, error: &InputError) -> bool {
        let here =
            self.path() == error.file && (self.place.line, self.place.column) == (error.line, error.column);
        let within = match &self.shape {
            Shape::List(nodes) | Shape::Group(nodes) => nodes.as_slice(),
            _ => &[],
        };
        (here && self.holds_blank()) || within.iter().any(|node| node.is_of_blank(error))
    }

    fn holds_blank(&self) -> bool {
        match &self.shape {
            Shape::List(nodes) | Shape::Group(nodes) => nodes.iter().any(Self::holds_blank),
            _ => self.written.contains(BLANK),
        }
    }

    fn blank(&self, about: Option<&keys::Key>) -> InputError {
        let (expected, fix) = about.map_or((String::new(), String::new()), |k| {
            (k.why.to_owned(), format!("such as `{}`", k.example))
        });
        let mut error = self.error_with_found(format!("{} is a blank", self.name()), expected, fix);
        error.context.get_or_insert_default().brief = true;
        error
    }

    /// The items of a list, which may be empty only under certain keys.
    pub(super) fn list(&self) -> Result<&[Self], InputError> {
        let List { of, may_be_empty, most, .. } = keys::list(self.key.as_ref().map_or("", |key| &key.text));
        let refused = |found: String| {
            self.error_with_found(
                found,
                format!("{} as a list of {of}", self.name()),
                format!("write {of}, one a line, each after a dash"),
            )
        };
        match &self.shape {
            Shape::List(items) if items.len() > most => Err(self.error_with_found(
                format!("{} {of}", items.len()),
                format!("{} as a list of {most} {of} at most", self.name()),
                "look for entries that stand there twice, or make one of several",
            )),
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
        Err(self.error(
            format!("{} as text on one line", self.name()),
            "write the text, in quotes where it holds a colon",
        ))
    }

    const fn is_scalar(&self) -> bool {
        matches!(self.shape, Shape::Text | Shape::Number | Shape::Flag(_))
    }

    /// One of several allowed words.
    pub(super) fn choice(&self, words: &[&'static str]) -> Result<&'static str, InputError> {
        if self.is_scalar()
            && let Some(word) = words.iter().find(|word| **word == self.written)
        {
            return Ok(word);
        }
        let all = words.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", ");
        let a_unit = |word: &&str| Length::UNITS.iter().any(|u| u.spellings.contains(word));
        // Two units that are written alike may differ a thousandfold: none is guessed.
        let near = nearest(&self.written, words.iter().copied()).filter(|_| !words.iter().any(a_unit));
        let fix = match near {
            Some(near) => format!("write `{near}`, if that is meant"),
            None => "write the one that is meant".to_owned(),
        };
        Err(self.error(format!("{} as one of {all}", self.name()), fix))
    }

    /// A boolean.
    pub(super) fn flag(&self) -> Result<bool, InputError> {
        match self.shape {
            Shape::Flag(flag) => Ok(flag),
            _ => Err(self.error(format!("{} as `true` or `false`", self.name()), "write `true` or `false`")),
        }
    }
}

/// How many characters a list or group in brackets has, from its first bracket on; one where it does not end in the line.
fn bracketed(text: impl Iterator<Item = char>) -> usize {
    let mut open = 0_usize;
    for (i, c) in text.enumerate() {
        match c {
            '[' | '{' => open += 1,
            ']' | '}' => open = open.saturating_sub(1),
            _ => {}
        }
        if open == 0 {
            return i + 1;
        }
    }
    1
}

/// Names in quotes, with commas between.
pub(super) fn quoted<'t>(names: impl IntoIterator<Item = &'t str>) -> String {
    names.into_iter().map(|n| format!("`{}`", shown(n))).collect::<Vec<_>>().join(", ")
}

/// The known word that a misspelt one probably means.
///
/// Words with digits are a control's words, which differ in meaning by one digit: none is guessed.
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
