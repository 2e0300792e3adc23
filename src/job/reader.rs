//! A serde deserializer over the tree of nodes, so that every error has the position of its node.
//!
//! [`NodeDeserializer`] presents the tree to derived types. The type of a scalar was decided by `serde_yaml` when the tree
//! was made ([`super::source`]). An error gets the position, name and text of the innermost node that
//! was being read.
//!
//! Serde stops at the first error. To find all errors, the tree is read again without the nodes that had one, until
//! no new error is found. Unknown and missing keys of a group are found together when the group is entered.

use super::keys::{self, Needed};
use super::source::{Node, Shape};
use crate::diagnostics::{InputError, Mismatch};
use serde::Deserialize;
use serde::de::value::StrDeserializer;
use serde::de::{self, DeserializeSeed, Error as _, IntoDeserializer, MapAccess, SeqAccess, Visitor};
use std::cell::RefCell;
use std::fmt;

/// Reads a value of a derived type from a node; every error under the node is added to `errors`.
///
/// Returns none where an error was found.
pub(super) fn read<'n, T: Deserialize<'n>>(node: &'n Node, errors: &mut Vec<InputError>) -> Option<T> {
    let state = State::default();
    let value = loop {
        match T::deserialize(NodeDeserializer { node, state: &state }) {
            Ok(value) => break Some(value),
            Err(failure) => {
                let failure = failure.at(node);
                state.add(failure.error.map(|error| *error));
                let full = state.errors.borrow().len() >= MOST_ERRORS;
                match failure.node {
                    Some(at) if at != node.number && !full => state.skipped.borrow_mut().push(at),
                    _ => break None,
                }
            }
        }
    };
    let found = state.errors.into_inner();
    let value = if found.is_empty() { value } else { None };
    errors.extend(found);
    value
}

/// After so many errors in one tree no more are looked for: each is compared with those before it.
const MOST_ERRORS: usize = 200;

/// What the deserializers of one tree share.
#[derive(Default)]
struct State {
    /// Nodes with an error that is known.
    skipped: RefCell<Vec<usize>>,
    errors: RefCell<Vec<InputError>>,
}

impl State {
    fn add(&self, error: Option<InputError>) {
        let mut errors = self.errors.borrow_mut();
        if errors.len() >= MOST_ERRORS {
            return;
        }
        if let Some(error) = error.filter(|error| !errors.contains(error)) {
            errors.push(error);
        }
    }

    fn skips(&self, node: &Node) -> bool {
        self.skipped.borrow().contains(&node.number)
    }
}

/// An error inside serde, without a position until the node that was being read adds it.
#[derive(Debug)]
pub(super) struct ReadError {
    what: What,
    /// The number of the node that was being read.
    node: Option<usize>,
    /// The error with its position; none where it only repeats a known one.
    error: Option<Box<InputError>>,
}

#[derive(Debug)]
enum What {
    Mismatch(Box<Mismatch>),
    Missing(&'static str),
}

impl ReadError {
    /// The error at the innermost node that was being read.
    fn at(mut self, node: &Node) -> Self {
        if self.node.is_none() {
            self.node = Some(node.number);
            self.error = match &self.what {
                What::Mismatch(mismatch) => Some(Box::new(node.mismatch(mismatch))),
                What::Missing(key) => Some(Box::new(node.missing(&Needed::plain(key)))),
            };
        }
        self
    }

    /// The error in a group of a named type, whose required keys are known. If the key is present it was skipped, and its error is known.
    fn in_group(mut self, node: &Node, kind: &str) -> Self {
        if let (None, What::Missing(key)) = (self.node, &self.what) {
            self.node = Some(node.number);
            // A key of the table was told when the group was entered.
            let told = keys::needed(kind).any(|n| n.key == *key);
            self.error = (!node.has(key) && !told).then(|| Box::new(node.missing(&Needed::plain(key))));
        }
        self.at(node)
    }

    /// An error that already has its position.
    fn placed(error: InputError, node: &Node) -> Self {
        let what = What::Mismatch(Box::new(Mismatch::expected("", "")));
        Self { what, node: Some(node.number), error: Some(Box::new(error)) }
    }
}

impl fmt::Display for ReadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.error, &self.what) {
            (Some(error), _) => error.fmt(f),
            (None, What::Mismatch(mismatch)) => mismatch.fmt(f),
            (None, What::Missing(key)) => write!(f, "no `{key}`"),
        }
    }
}

impl std::error::Error for ReadError {}

impl de::Error for ReadError {
    fn custom<T: fmt::Display>(text: T) -> Self {
        let what = What::Mismatch(Box::new(Mismatch::from_text(&text.to_string())));
        Self { what, node: None, error: None }
    }

    fn invalid_type(_: de::Unexpected<'_>, expected: &dyn de::Expected) -> Self {
        // A visitor's expectation may be the text of a complete mismatch.
        Self::custom(expected)
    }

    fn invalid_value(found: de::Unexpected<'_>, expected: &dyn de::Expected) -> Self {
        Self::invalid_type(found, expected)
    }

    fn missing_field(key: &'static str) -> Self {
        Self { what: What::Missing(key), node: None, error: None }
    }
}

/// The deserializer of one node.
#[derive(Clone, Copy)]
struct NodeDeserializer<'n, 's> {
    node: &'n Node,
    state: &'s State,
}

impl<'n, 's> NodeDeserializer<'n, 's> {
    fn items(self, items: &'n [Node]) -> Items<'n, 's> {
        Items { nodes: items.iter(), state: self.state }
    }

    /// The entries of a group; those with unknown keys are skipped.
    fn entries(self, entries: &'n [Node], known: Option<&'static [&'static str]>) -> Entries<'n, 's> {
        Entries { nodes: entries.iter(), value: None, known, state: self.state }
    }

    fn placed<T>(self, result: Result<T, InputError>) -> Result<T, ReadError> {
        result.map_err(|error| ReadError::placed(error, self.node))
    }
}

impl<'n> de::Deserializer<'n> for NodeDeserializer<'n, '_> {
    type Error = ReadError;

    /// Scalars are given as written, so that a message can repeat them.
    fn deserialize_any<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, ReadError> {
        let node = self.node;
        match &node.shape {
            Shape::Nothing => visitor.visit_unit(),
            Shape::Flag(flag) => visitor.visit_bool(*flag),
            Shape::Number | Shape::Text => visitor.visit_borrowed_str(&node.written),
            Shape::List(items) => visitor.visit_seq(self.items(items)),
            Shape::Group(entries) => visitor.visit_map(self.entries(entries, None)),
        }
        .map_err(|e: ReadError| e.at(node))
    }

    fn deserialize_bool<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, ReadError> {
        visitor.visit_bool(self.placed(self.node.flag())?)
    }

    fn deserialize_str<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, ReadError> {
        let text = self.placed(self.node.text())?;
        visitor.visit_borrowed_str(text).map_err(|e: ReadError| e.at(self.node))
    }

    fn deserialize_string<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, ReadError> {
        self.deserialize_str(visitor)
    }

    /// A key without a value is not the same as a missing key.
    fn deserialize_option<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, ReadError> {
        visitor.visit_some(self)
    }

    fn deserialize_newtype_struct<V: Visitor<'n>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, ReadError> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_seq<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, ReadError> {
        let items = self.placed(self.node.list())?;
        visitor.visit_seq(self.items(items)).map_err(|e: ReadError| e.at(self.node))
    }

    fn deserialize_tuple<V: Visitor<'n>>(self, _: usize, visitor: V) -> Result<V::Value, ReadError> {
        self.deserialize_any(visitor)
    }

    fn deserialize_map<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, ReadError> {
        let entries = self.placed(self.node.entries())?;
        visitor.visit_map(self.entries(entries, None)).map_err(|e: ReadError| e.at(self.node))
    }

    fn deserialize_struct<V: Visitor<'n>>(
        self,
        kind: &'static str,
        known: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, ReadError> {
        let node = self.node;
        let entries = self.placed(node.entries())?;
        for key in entries.iter().filter_map(|n| n.key.as_ref()) {
            if !known.contains(&key.text.as_str()) && self.state.errors.borrow().len() < MOST_ERRORS {
                self.state.add(Some(node.unknown_key(key, known)));
            }
        }
        let missing: Vec<Needed> = keys::needed(kind).filter(|n| !node.has(n.key)).collect();
        match missing.as_slice() {
            [] => {}
            [needed] => self.state.add(Some(node.missing(needed))),
            several => self.state.add(Some(node.missing_several(several))),
        }
        visitor.visit_map(self.entries(entries, Some(known))).map_err(|e: ReadError| e.in_group(node, kind))
    }

    fn deserialize_enum<V: Visitor<'n>>(
        self,
        _: &'static str,
        words: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, ReadError> {
        let word = self.placed(self.node.choice(words))?;
        let word: StrDeserializer<'n, ReadError> = word.into_deserializer();
        visitor.visit_enum(word).map_err(|e: ReadError| e.at(self.node))
    }

    fn deserialize_ignored_any<V: Visitor<'n>>(self, visitor: V) -> Result<V::Value, ReadError> {
        visitor.visit_unit()
    }

    serde::forward_to_deserialize_any! {
        <V: Visitor<'n>>
        i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char bytes byte_buf unit unit_struct tuple_struct identifier
    }
}

/// The items of a list.
struct Items<'n, 's> {
    nodes: std::slice::Iter<'n, Node>,
    state: &'s State,
}

impl<'n> SeqAccess<'n> for Items<'n, '_> {
    type Error = ReadError;

    fn next_element_seed<T: DeserializeSeed<'n>>(&mut self, seed: T) -> Result<Option<T::Value>, ReadError> {
        let state = self.state;
        let Some(node) = self.nodes.find(|node| !state.skips(node)) else { return Ok(None) };
        seed.deserialize(NodeDeserializer { node, state }).map(Some).map_err(|e| e.at(node))
    }
}

/// The entries of a group.
struct Entries<'n, 's> {
    nodes: std::slice::Iter<'n, Node>,
    value: Option<&'n Node>,
    known: Option<&'static [&'static str]>,
    state: &'s State,
}

impl<'n> MapAccess<'n> for Entries<'n, '_> {
    type Error = ReadError;

    fn next_key_seed<K: DeserializeSeed<'n>>(&mut self, seed: K) -> Result<Option<K::Value>, ReadError> {
        let (known, state) = (self.known, self.state);
        self.value = self.nodes.find(|node| !state.skips(node) && node.is_known(known));
        let Some(key) = self.value.and_then(|node| node.key.as_ref()) else { return Ok(None) };
        let text: StrDeserializer<'n, ReadError> = key.text.as_str().into_deserializer();
        seed.deserialize(text).map(Some)
    }

    fn next_value_seed<T: DeserializeSeed<'n>>(&mut self, seed: T) -> Result<T::Value, ReadError> {
        let Some(node) = self.value.take() else { return Err(ReadError::custom("a value")) };
        seed.deserialize(NodeDeserializer { node, state: self.state }).map_err(|e| e.at(node))
    }
}
