//! Another reader: the `gcode` crate finds in the text, word for word, what the writer meant.

use super::sample::{Sample, control};
use super::snapshots::samples;
use crate::fixtures::demo::at_controls;
use ::gcode::core::{
    BlockVisitor, CommandVisitor, ControlFlow, Diagnostics, HasDiagnostics, Number, ProgramVisitor, Span,
    TokenType, Value,
};
use facewright::gcode::{self, Block, ProgramText};
use facewright::job::Control;

/// What was read or meant in one line.
#[derive(Debug, Clone, PartialEq)]
enum Item {
    Mark,
    Comment(String),
    Word(char, f64),
}

#[derive(Debug, Default)]
struct Faults(Vec<String>);

impl Diagnostics for Faults {
    fn emit_unknown_content(&mut self, text: &str, _: Span) {
        self.0.push(format!("unknown {text}"));
    }
    fn emit_unexpected(&mut self, actual: &str, _: &[TokenType], _: Span) {
        self.0.push(format!("unexpected {actual}"));
    }
}

/// Everything the other reader finds, in the order in which it finds it.
struct Reading<'s> {
    source: &'s str,
    lines: Vec<Vec<Item>>,
    faults: Faults,
}

impl Reading<'_> {
    fn add(&mut self, item: Item) {
        self.lines.last_mut().expect("a block was begun").push(item);
    }

    /// The word's own digits: the reader keeps values as f32, which is checked, but reads where a word begins and ends.
    fn add_value(&mut self, letter: char, value: &Value<'_>, span: Span) {
        let text = &self.source[span.start..span.end()];
        let exact: f64 = text[1..].parse().expect(text);
        #[allow(clippy::cast_possible_truncation)]
        let short = exact as f32;
        assert!(matches!(value, Value::Literal(v) if *v == short), "{text} read as {value}");
        self.add(Item::Word(letter, exact));
    }
}

struct Line<'r, 's>(&'r mut Reading<'s>);

impl HasDiagnostics for Reading<'_> {
    fn diagnostics(&mut self) -> &mut dyn Diagnostics {
        &mut self.faults
    }
}

impl HasDiagnostics for Line<'_, '_> {
    fn diagnostics(&mut self) -> &mut dyn Diagnostics {
        &mut self.0.faults
    }
}

impl ProgramVisitor for Reading<'_> {
    fn start_block(&mut self) -> ControlFlow<impl BlockVisitor + '_> {
        self.lines.push(Vec::new());
        ControlFlow::Continue(Line(self))
    }
}

impl<'s> Line<'_, 's> {
    fn code(&mut self, letter: char, number: Number) -> ControlFlow<Line<'_, 's>> {
        assert!(number.minor().is_none());
        self.0.add(Item::Word(letter, f64::from(number.major())));
        ControlFlow::Continue(Line(self.0))
    }
}

impl BlockVisitor for Line<'_, '_> {
    fn line_number(&mut self, n: u32, _: Span) {
        self.0.add(Item::Word('N', f64::from(n)));
    }
    fn comment(&mut self, value: &str, _: Span) {
        // Behind a semicolon the reader counts the carriage return to the comment.
        self.0.add(Item::Comment(value.trim_end_matches('\r').to_owned()));
    }
    fn program_number(&mut self, number: u32, _: Span) {
        self.0.add(Item::Word('O', f64::from(number)));
    }
    fn program_delimiter(&mut self, _: Span) {
        self.0.add(Item::Mark);
    }
    fn word_address(&mut self, letter: char, value: Value<'_>, span: Span) {
        self.0.add_value(letter, &value, span);
    }
    fn start_general_code(&mut self, number: Number) -> ControlFlow<impl CommandVisitor + '_> {
        self.code('G', number)
    }
    fn start_miscellaneous_code(&mut self, number: Number) -> ControlFlow<impl CommandVisitor + '_> {
        self.code('M', number)
    }
    fn start_tool_change_code(&mut self, number: Number) -> ControlFlow<impl CommandVisitor + '_> {
        self.code('T', number)
    }
}

impl CommandVisitor for Line<'_, '_> {
    fn argument(&mut self, letter: char, value: Value<'_>, span: Span) {
        self.0.add_value(letter, &value, span);
    }
}

fn meant(program: &ProgramText) -> Vec<Vec<Item>> {
    let line = |block: &Block| match block {
        Block::TapeMark => vec![Item::Mark],
        Block::Comment(comment) => vec![Item::Comment(comment.to_string())],
        Block::Words(words) => words.iter().map(|w| Item::Word(w.address(), w.value())).collect(),
    };
    program.blocks.iter().map(line).collect()
}

/// Asserts that the other reader agrees with every word of a program.
pub fn agrees(program: &ProgramText) {
    let mut reading = Reading { source: &program.text, lines: Vec::new(), faults: Faults::default() };
    ::gcode::core::parse(&program.text, &mut reading);
    assert_eq!(reading.faults.0, Vec::<String>::new());
    assert!(::gcode::parse(&program.text).is_ok());
    assert_eq!(reading.lines, meant(program));
}

#[test]
fn another_reader_agrees_word_for_word() {
    for (name, sample) in samples() {
        for program in gcode::write(&sample.job(), &sample.plan()).expect(name) {
            agrees(&program);
        }
    }
    let sample = Sample::new(Control { largest_program: 2950, ..control() });
    for program in gcode::write(&sample.job(), &sample.plan()).expect("parts") {
        agrees(&program);
    }
    for program in at_controls().iter().flat_map(|at| &at.parts) {
        agrees(program);
    }
}
