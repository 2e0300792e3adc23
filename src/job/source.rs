//! A YAML file as a tree of nodes, each with its line and column.
//!
//! Two parsers are used. `saphyr-parser` gives the position of every node and its text as
//! written; `serde_yaml` gives the type of every scalar (text, number, boolean, null). Their trees
//! have the same shape, so they are joined node by node, and every later error, also one between
//! two values far apart, can give the line and column of the wrong value.
//!
//! Only the part of YAML that these files need is accepted: one document of groups, lists and scalars.
//! Anchors, aliases and tags are refused; a key given twice is an error.

use super::JobError;
use crate::diagnostics::{InputError, shown};
use crate::input::{self, Input};
use saphyr_parser::{Event, Parser, ScalarStyle, Span, StrInput};
use serde_yaml::Value;
use std::path::{Path, PathBuf};
use std::rc::Rc;

/// Deepest nesting accepted: the files need five levels; the limit bounds the stack.
const DEEPEST: usize = 32;

/// Most values and keys of one file: the largest shop has some thousands, and time and memory grow with them.
const MOST_VALUES: usize = 20_000;

/// A position in a file, counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) line: usize,
    pub(super) column: usize,
}

/// The key of a node.
#[derive(Debug, Clone)]
pub(super) struct Key {
    pub(super) text: String,
    pub(super) place: Place,
}

/// The content of a node.
#[derive(Debug, Clone)]
pub(super) enum Shape {
    Nothing,
    Flag(bool),
    Number,
    Text,
    List(Vec<Node>),
    /// Nodes that each have a key.
    Group(Vec<Node>),
}

/// A file's path and text.
#[derive(Debug)]
pub(super) struct Source {
    pub(super) path: PathBuf,
    pub(super) text: String,
    /// An error for each key that stands a second time in its group; the first was read.
    pub(super) twice: Vec<InputError>,
}

impl Source {
    /// A line of the text, counted from 1.
    pub(super) fn line(&self, number: usize) -> Option<&str> {
        self.text.lines().nth(number.checked_sub(1)?)
    }
}

/// One node of the file.
#[derive(Debug, Clone)]
pub(super) struct Node {
    pub(super) file: Rc<Source>,
    /// Its number in the file, from 1 in the order of reading; unique.
    pub(super) number: usize,
    /// Its key, where it has one.
    pub(super) key: Option<Key>,
    pub(super) place: Place,
    /// A scalar as it was written, without quotes.
    pub(super) written: String,
    pub(super) shape: Shape,
}

/// A node with its position, before the types of its scalars are known.
struct Mark {
    place: Place,
    written: String,
    shape: MarkShape,
}

enum MarkShape {
    /// As it stands, to be typed by what it looks like.
    Plain,
    Quoted,
    List(Vec<Mark>),
    Group(Vec<(Key, Mark)>),
}

impl Mark {
    /// Its value, each plain scalar typed by itself: for a file with keys that stand twice, which no other parser takes.
    fn value(&self) -> Value {
        match &self.shape {
            MarkShape::Quoted => Value::String(self.written.clone()),
            MarkShape::Plain => match serde_yaml::from_str(&self.written) {
                Ok(Value::Sequence(_) | Value::Mapping(_) | Value::Tagged(_)) | Err(_) => {
                    Value::String(self.written.clone())
                }
                Ok(scalar) => scalar,
            },
            MarkShape::List(marks) => Value::Sequence(marks.iter().map(Self::value).collect()),
            MarkShape::Group(marks) => {
                let entry = |(key, mark): &(Key, Self)| (Value::String(key.text.clone()), mark.value());
                Value::Mapping(marks.iter().map(entry).collect())
            }
        }
    }
}

/// Reads a YAML file.
pub(super) fn open(path: &Path) -> Result<Node, JobError> {
    open_input(&path.into())
}

/// Reads YAML from a file or standard input.
pub(super) fn open_input(from: &Input) -> Result<Node, JobError> {
    let path = from.name();
    let bytes =
        from.read(input::LARGEST_YAML).map_err(|source| JobError::Io { path: path.to_owned(), source })?;
    let text = match std::str::from_utf8(&bytes) {
        Ok(text) => text,
        Err(error) => {
            let good = bytes.get(..error.valid_up_to()).unwrap_or_default();
            return Err(not_text(path, &String::from_utf8_lossy(good)).into());
        }
    };
    Ok(parse(path, text)?)
}

fn not_text(path: &Path, before: &str) -> InputError {
    InputError {
        file: path.to_owned(),
        line: before.matches('\n').count() + 1,
        column: before.chars().rev().take_while(|&c| c != '\n').count() + 1,
        found: "bytes that are not UTF-8 text".to_owned(),
        expected: "a YAML file in UTF-8".to_owned(),
        fix: "save the file as UTF-8 in a text editor".to_owned(),
        context: None,
    }
}

/// Reads YAML text; `path` is only for error messages.
pub(super) fn parse(path: &Path, text: &str) -> Result<Node, InputError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut file = Source { path: path.to_owned(), text: text.to_owned(), twice: Vec::new() };
    let shown = |error: InputError, width: usize| match file.line(error.line) {
        Some(line) => error.with_excerpt(line, width),
        None => error,
    };
    let mut marker = Marker { path, events: Parser::new_from_str(text), values: 0, twice: Vec::new() };
    let mark = marker.document().map_err(|error| shown(error, 1))?;
    let value: Value = if marker.twice.is_empty() {
        serde_yaml::from_str(text).map_err(|error| {
            let (line, column) = error.location().map_or((0, 0), |at| (at.line(), at.column()));
            shown(not_yaml(path, Place { line, column }, &error.to_string()), 1)
        })?
    } else {
        mark.value()
    };
    file.twice = marker.twice.into_iter().map(|(error, width)| shown(error, width)).collect();
    Ok(join(&Rc::new(file), &mut 0, None, mark, Some(&value)))
}

fn not_yaml(path: &Path, place: Place, why: &str) -> InputError {
    InputError {
        file: path.to_owned(),
        line: place.line,
        column: place.column,
        found: format!("text that is not YAML ({why})"),
        expected: "groups of `key: value` lines, indented with blanks".to_owned(),
        fix: "look for a missing colon, bracket or quote, or a tab, at this place or just before it"
            .to_owned(),
        context: None,
    }
}

/// Joins the positions from one parser with the values from the other.
fn join(file: &Rc<Source>, count: &mut usize, key: Option<Key>, mark: Mark, value: Option<&Value>) -> Node {
    *count += 1;
    let number = *count;
    let shape = match mark.shape {
        MarkShape::Plain | MarkShape::Quoted => match value {
            Some(Value::Bool(flag)) => Shape::Flag(*flag),
            Some(Value::Number(_)) => Shape::Number,
            Some(Value::String(_)) => Shape::Text,
            _ => Shape::Nothing,
        },
        MarkShape::List(marks) => {
            let values = value.and_then(Value::as_sequence);
            Shape::List(
                marks
                    .into_iter()
                    .enumerate()
                    .map(|(i, mark)| join(file, count, None, mark, values.and_then(|v| v.get(i))))
                    .collect(),
            )
        }
        MarkShape::Group(marks) => {
            let mut values = value.and_then(Value::as_mapping).into_iter().flat_map(|m| m.values());
            Shape::Group(
                marks
                    .into_iter()
                    .map(|(key, mark)| join(file, count, Some(key), mark, values.next()))
                    .collect(),
            )
        }
    };
    Node { file: Rc::clone(file), number, key, place: mark.place, written: mark.written, shape }
}

/// Builds the tree of marks from the parser's events.
struct Marker<'a> {
    path: &'a Path,
    events: Parser<'a, StrInput<'a>>,
    /// Keys and values so far.
    values: usize,
    /// An error for each key that stands a second time in its group, and how many characters it has.
    twice: Vec<(InputError, usize)>,
}

/// More keys that stand twice are not looked for: nobody reads on.
const MOST_TWICE: usize = 200;

impl<'a> Marker<'a> {
    fn document(&mut self) -> Result<Mark, InputError> {
        let mut root = None;
        loop {
            let (event, span) = self.next()?;
            match event {
                Event::StreamEnd => break,
                Event::StreamStart | Event::DocumentStart(_) | Event::DocumentEnd | Event::Nothing => {}
                event if root.is_none() => root = Some(self.node(event, span, 0)?),
                _ => {
                    return Err(self.refused(
                        place(span),
                        "a second document",
                        "one document a file",
                        "keep one document and move the others to files of their own",
                    ));
                }
            }
        }
        root.ok_or_else(|| {
            self.refused(
                Place { line: 0, column: 0 },
                "an empty file",
                "groups of `key: value` lines",
                "write the file's groups, or name another file",
            )
        })
    }

    fn next(&mut self) -> Result<(Event<'a>, Span), InputError> {
        match self.events.next() {
            Some(Ok(next)) => Ok(next),
            Some(Err(error)) => {
                let at = error.marker();
                Err(not_yaml(self.path, Place { line: at.line(), column: at.col() + 1 }, error.info()))
            }
            None => Ok((Event::StreamEnd, Span::default())),
        }
    }

    fn node(&mut self, event: Event<'a>, span: Span, depth: usize) -> Result<Mark, InputError> {
        let place = place(span);
        self.values += 1;
        if self.values > MOST_VALUES {
            return Err(self.refused(
                place,
                &format!("more than {MOST_VALUES} keys and values"),
                "a job or a shop file",
                "name the right file, or take out what is not needed",
            ));
        }
        if depth > DEEPEST {
            return Err(self.refused(
                place,
                "groups nested too deep",
                "a few levels",
                "check the indentation and brackets",
            ));
        }
        match event {
            Event::Scalar(.., Some(_))
            | Event::SequenceStart(_, Some(_))
            | Event::MappingStart(_, Some(_)) => Err(self.refused(
                place,
                "a YAML tag (`!`)",
                "a plain value",
                "write the value without the tag",
            )),
            Event::Alias(_) => Err(self.refused(
                place,
                "a YAML alias (`*`)",
                "the value itself",
                "write the value out where it is needed",
            )),
            Event::Scalar(_, _, anchor, _)
            | Event::SequenceStart(anchor, _)
            | Event::MappingStart(anchor, _)
                if anchor > 0 =>
            {
                Err(self.refused(
                    place,
                    "a YAML anchor (`&`)",
                    "the value itself",
                    "write the value without the anchor",
                ))
            }
            Event::Scalar(text, style, ..) => {
                let (written, shape) = if matches!(style, ScalarStyle::Plain) {
                    (text.trim().to_owned(), MarkShape::Plain)
                } else {
                    (text.into_owned(), MarkShape::Quoted)
                };
                Ok(Mark { place, written, shape })
            }
            Event::SequenceStart(..) => {
                let mut items = Vec::new();
                loop {
                    let (event, span) = self.next()?;
                    if matches!(event, Event::SequenceEnd | Event::StreamEnd) {
                        break;
                    }
                    items.push(self.node(event, span, depth + 1)?);
                }
                Ok(Mark { place, written: String::new(), shape: MarkShape::List(items) })
            }
            Event::MappingStart(..) => self.group(place, depth),
            _ => Err(self.refused(place, "nothing", "a value", "write the value")),
        }
    }

    fn group(&mut self, place: Place, depth: usize) -> Result<Mark, InputError> {
        let mut entries: Vec<(Key, Mark)> = Vec::new();
        loop {
            let (event, span) = self.next()?;
            if matches!(event, Event::MappingEnd | Event::StreamEnd) {
                break;
            }
            let key = self.node(event, span, depth + 1)?;
            if !matches!(key.shape, MarkShape::Plain | MarkShape::Quoted) {
                return Err(self.refused(
                    key.place,
                    "a group or list as a key",
                    "a plain word as a key",
                    "write `key: value`",
                ));
            }
            let first = entries.iter().find(|(first, _)| first.text == key.written);
            let twice = first.map(|(first, _)| first.place.line);
            let (event, span) = self.next()?;
            let value = self.node(event, span, depth + 1)?;
            if let Some(line) = twice {
                let error = self.refused(
                    key.place,
                    &format!("`{}` a second time", shown(&key.written)),
                    &format!("each key once; the first stands in line {line}"),
                    "keep the one that is meant and delete the other",
                );
                if self.twice.len() < MOST_TWICE {
                    self.twice.push((error, key.written.chars().count()));
                }
                continue;
            }
            entries.push((Key { text: key.written, place: key.place }, value));
        }
        Ok(Mark { place, written: String::new(), shape: MarkShape::Group(entries) })
    }

    fn refused(&self, place: Place, found: &str, expected: &str, fix: &str) -> InputError {
        InputError {
            file: self.path.to_owned(),
            line: place.line,
            column: place.column,
            found: found.to_owned(),
            expected: expected.to_owned(),
            fix: fix.to_owned(),
            context: None,
        }
    }
}

fn place(span: Span) -> Place {
    Place { line: span.start.line(), column: span.start.col() + 1 }
}
