//! Reads the text of a numerically controlled turning program (ISO 6983 style) into blocks of words.
//!
//! The reader knows letters and numbers, not their meaning; that is left to the interpreter. Text that
//! cannot be read is a finding of the highest rank at its line, never skipped silently. The rules
//! follow NISTIR 6556 (Kramer, Proctor, Messina, 2000), chapter 3, from memory: one
//! block per line, blanks without meaning, letters in either case, numbers without exponents,
//! comments in brackets that do not nest, `/` first on a line for block skip, N next, and a pair of
//! `%` lines around it all. Comments after a semicolon are common practice, no source.
//!
//! Limits: expressions, variables and subprograms are not read; they are refused.

#![warn(clippy::indexing_slicing)]

mod line;

use crate::diagnostics::{Finding, FindingCollector, Place, ProgramRule};

/// One word: a letter and its number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Word {
    /// The letter, as a capital.
    pub letter: char,
    /// The number as written, before implied decimals and units.
    pub value: f64,
    /// Digits after the point, without zeros at the end.
    pub decimals: u32,
    /// Digits in all.
    pub digits: u32,
    /// Whether a point was written.
    pub point: bool,
    /// Column of the letter in characters, counted from 1.
    pub column: usize,
    /// Byte range of the word in the text: start and end.
    bytes: (usize, usize),
}

impl Word {
    /// The number, where it is a whole number not below zero.
    #[must_use]
    pub fn whole(&self) -> Option<u64> {
        let whole = self.value >= 0.0 && self.value.fract() == 0.0 && self.value < 1e15;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        whole.then_some(self.value as u64)
    }

    /// Ten times the number, where that is a whole number: the code of a G or M word (`G01` is 10).
    #[must_use]
    pub fn code(&self) -> Option<u32> {
        // A tenth has no exact binary form, so ten times it may miss a whole number by rounding.
        const ROUNDING: f64 = 1e-6;
        let tenths = self.value * 10.0;
        let code = tenths.round();
        let fits = (0.0..10_000.0).contains(&code) && (tenths - code).abs() < ROUNDING;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        fits.then_some(code as u32)
    }
}

/// One line of the text, read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Block {
    /// Line, counted from 1.
    pub line: usize,
    /// The block-skip mark, where the line begins with one.
    pub skip: Option<Skip>,
    /// Sequence number: the N word.
    pub sequence: Option<u64>,
    /// Program number: the O word, or the number after a colon.
    pub number: Option<u64>,
    /// The other words, in their order.
    pub words: Vec<Word>,
    /// Comments, without their brackets or semicolon.
    pub comments: Vec<String>,
    /// Which forms its comments have: in brackets, behind a semicolon.
    pub comment_forms: (bool, bool),
    /// Whether the line is a `%`.
    pub tape_mark: bool,
    /// Byte range of the line in the text: start, and end without the line end.
    bytes: (usize, usize),
}

impl Block {
    /// The block as a place for findings.
    #[must_use]
    pub(crate) fn place(&self) -> Place {
        Place::Program { line: self.line, block: self.sequence }
    }
}

/// A block-skip mark: a switch at the control decides whether the block is executed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Skip {
    /// Its number, 1 where none was written: some controls have a switch for each.
    pub switch: u32,
}

/// A program text that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct ProgramRead {
    /// The text.
    text: String,
    /// Its size in bytes before decoding.
    pub bytes: usize,
    /// Every line that is not empty.
    pub blocks: Vec<Block>,
    /// Line of the `%` that opens it.
    pub opened: Option<usize>,
    /// Line of the `%` that closes it.
    pub closed: Option<usize>,
    /// First line before the opening `%` that is not empty; such lines are not read.
    pub before_open: Option<usize>,
    /// First line after the closing `%` that is not empty; it and all after it are not read.
    pub after_close: Option<usize>,
    /// First line that ends otherwise than the lines before it, and whether it ends in CR LF where they end in LF.
    pub ends_otherwise: Option<(usize, bool)>,
    /// What could not be read.
    pub findings: Vec<Finding>,
}

impl ProgramRead {
    /// The text as it was read.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The line of a block as it was written, without its end.
    #[must_use]
    pub fn line_text(&self, block: &Block) -> &str {
        self.text.get(block.bytes.0..block.bytes.1).unwrap_or_default()
    }

    /// A word as it was written.
    #[must_use]
    pub fn word_text(&self, word: &Word) -> &str {
        self.text.get(word.bytes.0..word.bytes.1).unwrap_or_default()
    }

    /// Whether any block has a block-skip mark.
    #[must_use]
    pub fn has_skips(&self) -> bool {
        self.blocks.iter().any(|b| b.skip.is_some())
    }
}

/// Reads the text of a program. Never fails: what cannot be read is a finding.
///
/// ```
/// use facewright::proof::read;
/// let program = read(b"n10 g01 x 12.5 (down)\n");
/// assert_eq!(program.blocks[0].sequence, Some(10));
/// assert_eq!(program.blocks[0].words[1].value, 12.5);
/// assert!(program.findings.is_empty());
/// ```
#[must_use]
pub fn read(text: &[u8]) -> ProgramRead {
    let mut notes = FindingCollector::default();
    let bytes = text.len();
    let text = String::from_utf8_lossy(text).into_owned();
    let mut out = ProgramRead {
        text: String::new(),
        bytes,
        blocks: Vec::new(),
        opened: None,
        closed: None,
        before_open: None,
        after_close: None,
        ends_otherwise: ends_otherwise(without_padding(&text)),
        findings: Vec::new(),
    };
    let leader = leader(&text);
    let mut any_words = false;
    for (index, (start, content)) in lines(without_padding(&text)).enumerate() {
        let number = index + 1;
        // A byte order mark is not part of the first line; controls do not know it.
        let (start, content) = match content.strip_prefix('\u{feff}') {
            Some(rest) if index == 0 => {
                notes.add(
                    ProgramRule::ByteOrderMark,
                    Place::line(1),
                    "the text begins with a byte order mark".into(),
                );
                (start + '\u{feff}'.len_utf8(), rest)
            }
            _ => (start, content),
        };
        // The blank leader of a punched tape.
        let blank = content.len() - content.trim_start_matches('\0').len();
        let (start, content) = match content.get(blank..) {
            Some(rest) if index == 0 => (start + blank, rest),
            _ => (start, content),
        };
        if content.trim().is_empty() {
            continue;
        }
        if index < leader || out.closed.is_some() {
            // Punched leaders and the marks of old editors: nothing that any control reads.
            if content.chars().all(|c| c.is_whitespace() || c.is_control()) {
                continue;
            }
            if index < leader {
                out.before_open = out.before_open.or(Some(number));
                continue;
            }
        }
        if out.closed.is_some() {
            out.after_close = out.after_close.or(Some(number));
            continue;
        }
        let mut block = line::read_line(content, start, number, &mut notes);
        block.bytes = (start, start + content.len());
        if block.tape_mark {
            if any_words || out.opened.is_some() {
                out.closed = Some(number);
            } else {
                out.opened = Some(number);
            }
        }
        any_words |= !block.words.is_empty() || block.number.is_some();
        out.blocks.push(block);
    }
    out.text = text;
    out.findings = notes.into_findings();
    out
}

/// A text without what a transfer fills its last record up with, on lines of their own: blank tape, and the end marks of old systems.
fn without_padding(text: &str) -> &str {
    let padding = |c: char| c.is_whitespace() || matches!(c, '\0' | '\u{1a}');
    let last = text.trim_end_matches(padding).len();
    let line = text.get(last..).and_then(|rest| rest.find('\n'));
    line.and_then(|at| text.get(..last + at)).unwrap_or(text)
}

/// How many lines stand before the first `%`, where nothing but labels stands there: no line that begins with a word. A reader of
/// tapes passes over them (ISO 6983-1, from memory).
fn leader(text: &str) -> usize {
    let lines =
        || lines(text).map(|(_, line)| line.trim_matches(|c: char| c.is_whitespace() || c.is_control()));
    let Some(mark) = lines().position(|line| line == "%") else { return 0 };
    let is_word = |line: &str| {
        let mut letters = line.trim_start_matches('\u{feff}').chars();
        let first = letters.next();
        let number = letters.as_str().trim_start();
        first.is_some_and(|c| c.is_ascii_alphabetic() || matches!(c, ':' | '/' | '(' | ';'))
            && (number.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '+'))
                || line.starts_with(['/', '(', ';']))
    };
    if lines().take(mark).any(is_word) { 0 } else { mark }
}

/// The first line that is not empty and ends otherwise than the one before it.
fn ends_otherwise(text: &str) -> Option<(usize, bool)> {
    let mut ends = text.split_inclusive('\n').enumerate().filter_map(|(index, line)| {
        let content = line.strip_suffix('\n')?;
        let both = content.ends_with('\r');
        (!content.trim().is_empty()).then_some((index + 1, both))
    });
    let (_, first) = ends.next()?;
    ends.find(|(_, both)| *both != first)
}

/// The lines of a text with the byte each starts at; carriage returns before and behind the line feed belong to the line end.
fn lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let mut start = 0;
    text.split('\n').map(move |raw| {
        let at = start;
        start += raw.len() + 1;
        let led = raw.trim_start_matches('\r');
        (at + (raw.len() - led.len()), led.trim_end_matches('\r'))
    })
}
