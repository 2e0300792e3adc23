//! Faults planted in the demo's two files, alone, in pairs and in triples: one run names every one with line, column and a mend.
//!
//! The table of keys tells what can be wrong of each key that stands in the files: it may be missing, misspelt or there twice, its
//! value of another type, in another unit, or none that there is. No fault may hide another, whichever of the files it stands in.

use super::bad_files::{DEMO, JOB, SHOP};
use facewright::diagnostics::InputError;
use facewright::job::keys::{self, Absent, Form, Group, Key};
use facewright::job::{self, JobError};
use saphyr_parser::{Event, Parser, Span};
use std::fs;
use std::ops::Range;
use std::path::Path;

const FILES: [&str; 2] = [JOB, SHOP];

/// A key of a file with a value that is no group: where both stand, in characters.
struct Leaf {
    key: &'static Key,
    name: Range<usize>,
    value: Range<usize>,
    /// Whether the value is a list in brackets.
    list: bool,
    /// The key of the group, or where the group begins.
    group: usize,
    /// Whether the group stands in braces.
    braces: bool,
}

/// One fault: what is changed, and where it must be told.
#[derive(Clone)]
struct Plant {
    file: usize,
    /// Where the key stands.
    key: usize,
    what: String,
    cut: Range<usize>,
    put: String,
    at: At,
    /// What the message must quote.
    quotes: String,
}

#[derive(Clone, Copy)]
enum At {
    /// At what stands there in the demo's file.
    Old(usize),
    /// So far within what is put.
    New(usize),
}

struct Reader<'t> {
    events: Parser<'t, saphyr_parser::StrInput<'t>>,
    text: &'t [char],
    leaves: Vec<Leaf>,
}

impl Reader<'_> {
    fn next(&mut self) -> (String, bool, Span, Kind) {
        loop {
            let (event, span) = self.events.next().expect("an event").expect("the demo is YAML");
            let kind = match event {
                Event::Scalar(text, ..) => return (text.into_owned(), true, span, Kind::Scalar),
                Event::SequenceStart(..) => Kind::List,
                Event::MappingStart(..) => Kind::Group,
                Event::SequenceEnd | Event::MappingEnd | Event::StreamEnd => Kind::End,
                _ => continue,
            };
            return (String::new(), false, span, kind);
        }
    }

    /// The end of what began, however deep.
    fn skip(&mut self) -> usize {
        let mut open = 1;
        loop {
            let (_, _, span, kind) = self.next();
            match kind {
                Kind::Scalar => {}
                Kind::List | Kind::Group => open += 1,
                Kind::End => open -= 1,
            }
            if open == 0 {
                return span.end.index();
            }
        }
    }

    /// The entries of a group whose start was read.
    fn group(&mut self, group: &'static Group, start: usize, about: usize) {
        let braces = self.text.get(start) == Some(&'{');
        loop {
            let (name, _, span, kind) = self.next();
            if kind == Kind::End {
                return;
            }
            let key = group.keys.iter().find(|k| k.key == name).unwrap_or_else(|| panic!("no {name}"));
            let name = span.start.index()..span.end.index();
            self.value(key, name, about, braces);
        }
    }

    fn value(&mut self, key: &'static Key, name: Range<usize>, group: usize, braces: bool) {
        let (_, _, span, kind) = self.next();
        let start = span.start.index();
        let leaf = |list, end| Leaf { key, name: name.clone(), value: start..end, list, group, braces };
        match (kind, key.form) {
            (Kind::Scalar, _) => self.leaves.push(leaf(false, span.end.index())),
            (Kind::List, Form::List(inner)) => loop {
                let (_, _, span, kind) = self.next();
                if kind == Kind::End {
                    return;
                }
                self.group(inner, span.start.index(), span.start.index());
            },
            (Kind::List, _) => {
                let end = self.skip();
                self.leaves.push(leaf(true, end));
            }
            (Kind::Group, Form::Named(inner)) => loop {
                let (_, _, named, kind) = self.next();
                if kind == Kind::End {
                    return;
                }
                let (_, _, span, _) = self.next();
                self.group(inner, span.start.index(), named.start.index());
            },
            (Kind::Group, form) => match form.group() {
                Some(inner) => self.group(inner, start, name.start),
                None => {
                    self.skip();
                }
            },
            (Kind::End, _) => panic!("{} without a value", key.key),
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Scalar,
    List,
    Group,
    End,
}

fn leaves(text: &str, root: &'static Group) -> Vec<Leaf> {
    let chars: Vec<char> = text.chars().collect();
    let mut reader = Reader { events: Parser::new_from_str(text), text: &chars, leaves: Vec::new() };
    let (_, _, span, _) = reader.next();
    let start = span.start.index();
    reader.group(root, start, start);
    reader.leaves
}

/// The faults that a key of a file can have.
fn plants(file: usize, text: &[char], leaf: &Leaf, into: &mut Vec<Plant>) {
    let Leaf { key, name, value, .. } = leaf;
    let word: String = name.clone().map(|i| text[i]).collect();
    let whole: String = (name.start..value.end).map(|i| text[i]).collect();
    let mut plant = |what: &str, cut: Range<usize>, put: &str, at: At, quotes: String| {
        into.push(Plant {
            file,
            key: name.start,
            what: format!("{what} {word}"),
            cut,
            put: put.to_owned(),
            at,
            quotes,
        });
    };
    let line_start = (0..name.start).rev().find(|&i| text[i] == '\n').map_or(0, |i| i + 1);
    let line_end = (value.end..text.len()).find(|&i| text[i] == '\n').unwrap_or(text.len());
    let lead = &text[line_start..name.start];
    plant("misspelt", name.end..name.end, "zz", At::Old(name.start), format!("`{word}zz`"));
    if leaf.braces {
        let put = format!(", {whole}");
        plant("twice", value.end..value.end, &put, At::New(2), format!("`{word}` a second time"));
    } else {
        let put = format!("\n{}{whole}", " ".repeat(lead.len()));
        plant("twice", line_end..line_end, &put, At::New(1 + lead.len()), format!("`{word}` a second time"));
    }
    let needed = matches!(key.absent, Absent::Needed | Absent::Decided);
    // What a group begins with marks its place.
    if needed && leaf.group != name.start {
        let before = (0..name.start).rev().find(|&i| !text[i].is_whitespace()).map(|i| (i, text[i]));
        let after = (value.end..text.len()).find(|&i| text[i] != ' ').map(|i| (i, text[i]));
        let cut = match (leaf.braces, before, after) {
            (true, Some((comma, ',')), _) => Some(comma..value.end),
            (true, _, Some((comma, ','))) => Some(name.start..comma + 1),
            (false, ..) if lead.iter().all(|c| *c == ' ') => Some(line_start..line_end),
            _ => None,
        };
        if let Some(cut) = cut {
            plant("missing", cut, "", At::Old(leaf.group), format!("`{word}`"));
        }
    }
    let at = At::New(0);
    let other = if leaf.list { "zzz" } else { "[zz, zz]" };
    let texts = matches!(key.form, Form::Or(..) | Form::TextOr(_));
    if !texts {
        plant("of another type", value.clone(), other, at, String::new());
    }
    match key.form {
        Form::Quantity(..) => {
            plant("in no unit of its kind", value.clone(), "5 kg", at, "kg".to_owned());
            plant("without a unit", value.clone(), "5", at, "5".to_owned());
            plant("no number", value.clone(), "plenty", at, "plenty".to_owned());
        }
        Form::Words(_) | Form::Flag | Form::Count(..) => {
            plant("none of its values", value.clone(), "zzz", at, "zzz".to_owned());
        }
        _ => {}
    }
}

/// The files with faults planted, and where each must be told: file, line and column.
fn planted(texts: &[Vec<char>; 2], all: &[&Plant]) -> ([String; 2], Vec<(usize, usize, usize)>) {
    let mut changed = texts.clone();
    let mut targets = vec![(0, 0); all.len()];
    for (file, text) in changed.iter_mut().enumerate() {
        let mut mine: Vec<usize> = (0..all.len()).filter(|&i| all[i].file == file).collect();
        mine.sort_by_key(|&i| all[i].cut.start);
        // What is put before a place moves it.
        let moved = |at: usize| {
            let before = mine.iter().map(|&i| all[i]).filter(|p| p.cut.start < at);
            before.fold(at.cast_signed(), |at, p| {
                at + p.put.chars().count().cast_signed() - p.cut.len().cast_signed()
            })
        };
        for &i in &mine {
            let at = match all[i].at {
                At::Old(at) => moved(at),
                At::New(more) => moved(all[i].cut.start) + more.cast_signed(),
            };
            targets[i] = (file, usize::try_from(at).expect("a place in the file"));
        }
        for &i in mine.iter().rev() {
            text.splice(all[i].cut.clone(), all[i].put.chars());
        }
    }
    let place = |&(file, at): &(usize, usize)| {
        let before = &changed[file][..at];
        let line = before.iter().filter(|c| **c == '\n').count() + 1;
        (file, line, before.iter().rev().take_while(|c| **c != '\n').count() + 1)
    };
    let places = targets.iter().map(place).collect();
    (changed.map(|text| text.into_iter().collect()), places)
}

/// What one run says.
fn told(files: &[String; 2]) -> Vec<InputError> {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, text) in FILES.iter().zip(files) {
        fs::write(folder.path().join(name), text).expect("written");
    }
    let Err(errors) = job::load_all(&folder.path().join(JOB)) else { return Vec::new() };
    std::iter::once(errors.first)
        .chain(errors.more)
        .map(|error| match error {
            JobError::Input(fault) => fault,
            JobError::Io { .. } => panic!("{error}"),
        })
        .collect()
}

/// Which of some faults one run does not name.
fn unnamed(texts: &[Vec<char>; 2], all: &[&Plant]) -> Vec<String> {
    let (files, places) = planted(texts, all);
    let errors = told(&files);
    let names = |plant: &Plant, place: &(usize, usize, usize)| {
        errors.iter().any(|e| {
            let file = e.file.file_name().is_some_and(|name| name == FILES[place.0]);
            let quoted = [&e.found, &e.expected].iter().any(|text| text.contains(&plant.quotes));
            file && (e.line, e.column) == (place.1, place.2) && quoted && !e.fix.is_empty()
        })
    };
    let missed = all.iter().zip(&places).filter(|(plant, place)| !names(plant, place));
    let said = || errors.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
    missed
        .map(|(plant, place)| format!("{} in {} at {place:?}:\n{}", plant.what, FILES[plant.file], said()))
        .collect()
}

/// Whether two faults can stand beside each other: of different keys (what stands under a misspelt one cannot be judged), and changing
/// different text; and none in a shop file that the job does not name.
fn apart(a: &Plant, b: &Plant) -> bool {
    let unnamed = |a: &Plant, b: &Plant| a.what == "of another type shop" && b.file == 1;
    if unnamed(a, b) || unnamed(b, a) {
        return false;
    }
    (a.file, a.key) != (b.file, b.key)
        && (a.file != b.file || a.cut.end < b.cut.start || b.cut.end < a.cut.start)
}

#[test]
fn no_fault_hides_another() {
    let texts = FILES.map(|name| {
        let text = fs::read_to_string(Path::new(DEMO).join(name)).expect("the demo");
        text.chars().collect::<Vec<char>>()
    });
    let mut all = Vec::new();
    for (file, root) in [&keys::JOB, &keys::SHOP].into_iter().enumerate() {
        let text: String = texts[file].iter().collect();
        for leaf in leaves(&text, root) {
            plants(file, &texts[file], &leaf, &mut all);
        }
    }
    assert!(all.len() > 350, "{} faults", all.len());
    let alone: Vec<String> = all.iter().flat_map(|plant| unnamed(&texts, &[plant])).collect();
    assert!(alone.is_empty(), "{} of {} not named\n{}", alone.len(), all.len(), alone.join("\n\n"));

    // Numbers from a fixed sequence (Knuth's multiplier for 64 bits).
    let mut seed: u64 = 19;
    let mut any = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        &all[usize::try_from(seed >> 33).expect("31 bits") % all.len()]
    };
    for several in [2, 3] {
        let mut missed = Vec::new();
        for _ in 0..600 {
            let mut drawn: Vec<&Plant> = Vec::new();
            while drawn.len() < several {
                let plant = any();
                if drawn.iter().all(|other| apart(plant, other)) {
                    drawn.push(plant);
                }
            }
            let names: Vec<&str> = drawn.iter().map(|p| p.what.as_str()).collect();
            let hidden = unnamed(&texts, &drawn);
            missed.extend(hidden.first().map(|said| format!("{names:?}: {said}")));
        }
        let shown: Vec<&str> = missed.iter().take(12).map(String::as_str).collect();
        assert!(missed.is_empty(), "{} of 600 of {several}\n{}", missed.len(), shown.join("\n\n"));
    }
}
