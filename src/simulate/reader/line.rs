//! Splits one line into its words, by small parsers that each read one token and return the rest.
//!
//! A token that cannot be read becomes a finding at its column, and reading goes on after it, so that one
//! mistake does not hide the next.

use super::{Block, Skip, Word};
use crate::diagnostics::{FindingCollector, ProgramRule};
use nom::branch::alt;
use nom::bytes::complete::{take_while, take_while1};
use nom::character::complete::{anychar, char, one_of, satisfy};
use nom::combinator::{map, opt, recognize, rest};
use nom::sequence::{delimited, preceded};
use nom::{IResult, Parser};

/// No control holds a number of this size (common practice, no source: eight digits); it is refused here.
const LARGEST: f64 = 1e9;

/// One token of a line.
#[derive(Clone, Copy)]
enum Token<'a> {
    /// Blanks.
    Blank,
    /// `/`, with the digit that may follow directly.
    Skip(Option<char>),
    /// `%`.
    TapeMark,
    /// A comment in brackets.
    Comment(&'a str),
    /// A comment after a semicolon.
    Tail(&'a str),
    /// A bracket that is opened and never closed, with all that follows.
    Unclosed,
    /// A letter or a colon, and the text of its number.
    Word(char, &'a str),
    /// Anything else, up to the next character that can begin a token.
    Unknown(&'a str),
}

const fn is_blank(c: char) -> bool {
    matches!(c, ' ' | '\t')
}

fn blank(input: &str) -> IResult<&str, Token<'_>> {
    map(take_while1(is_blank), |_| Token::Blank).parse_complete(input)
}

fn comment(input: &str) -> IResult<&str, Token<'_>> {
    map(delimited(char('('), take_while(|c| c != ')'), char(')')), Token::Comment).parse_complete(input)
}

fn unclosed(input: &str) -> IResult<&str, Token<'_>> {
    map(preceded(char('('), rest), |_| Token::Unclosed).parse_complete(input)
}

fn tail(input: &str) -> IResult<&str, Token<'_>> {
    map(preceded(char(';'), rest), Token::Tail).parse_complete(input)
}

fn skip(input: &str) -> IResult<&str, Token<'_>> {
    map(preceded(char('/'), opt(one_of("123456789"))), Token::Skip).parse_complete(input)
}

fn tape_mark(input: &str) -> IResult<&str, Token<'_>> {
    map(char('%'), |_| Token::TapeMark).parse_complete(input)
}

/// Sign, digits, points and blanks, as written.
fn number(input: &str) -> IResult<&str, &str> {
    recognize((
        take_while(is_blank),
        opt(one_of("+-")),
        take_while(|c: char| c.is_ascii_digit() || c == '.' || is_blank(c)),
    ))
    .parse_complete(input)
}

fn word(input: &str) -> IResult<&str, Token<'_>> {
    map((satisfy(|c| c.is_ascii_alphabetic() || c == ':'), number), |(letter, number)| {
        Token::Word(letter.to_ascii_uppercase(), number)
    })
    .parse_complete(input)
}

/// At least one character, then all that cannot begin a token.
fn unknown(input: &str) -> IResult<&str, Token<'_>> {
    let lost = |c: char| !(c.is_ascii_alphabetic() || is_blank(c) || ":(;/%".contains(c));
    map(recognize((anychar, take_while(lost))), Token::Unknown).parse_complete(input)
}

fn token(input: &str) -> IResult<&str, Token<'_>> {
    alt((word, blank, comment, unclosed, tail, skip, tape_mark, unknown)).parse_complete(input)
}

/// Reads one line that starts at a byte of the text.
pub(super) fn read_line(content: &str, start: usize, line: usize, notes: &mut FindingCollector) -> Block {
    let mut out = LineReader { block: Block { line, ..Block::default() }, begun: false, notes };
    let mut left = content;
    // Column of the present token, in characters.
    let mut column = 1;
    while let Ok((next, token)) = token(left) {
        let at = start + (content.len() - left.len());
        out.take(token, column, at);
        let eaten = left.len() - next.len();
        column += left.get(..eaten).map_or(eaten, |s| s.chars().count());
        left = next;
    }
    if out.block.tape_mark && (out.block.sequence.is_some() || !out.block.words.is_empty()) {
        let place = out.block.place();
        out.notes.add(ProgramRule::Unreadable, place, "`%` and words on one line".into());
    }
    out.block
}

/// Most characters of a token that a finding repeats.
const MOST_SHOWN: usize = 60;

/// The beginning of a token, which may be as long as the file.
fn shown(text: &str) -> &str {
    text.char_indices().nth(MOST_SHOWN).and_then(|(at, _)| text.get(..at)).unwrap_or(text)
}

/// A line of which some tokens have been read.
struct LineReader<'n> {
    block: Block,
    /// Whether a word or mark has been read.
    begun: bool,
    notes: &'n mut FindingCollector,
}

impl LineReader<'_> {
    fn fault(&mut self, what: String) {
        let place = self.block.place();
        self.notes.add(ProgramRule::Unreadable, place, what);
    }

    fn take(&mut self, token: Token<'_>, column: usize, at: usize) {
        match token {
            Token::Blank => {}
            Token::Comment(text) => self.comment(text, column),
            Token::Tail(text) => self.tail(text, column),
            Token::Unclosed => {
                let place = self.block.place();
                self.notes.add(
                    ProgramRule::OpenComment,
                    place,
                    format!("the bracket at column {column} is never closed"),
                );
            }
            Token::Skip(digit) => {
                if self.begun {
                    self.fault(format!("`/` at column {column}: it may stand first on the line only"));
                }
                let switch = digit.and_then(|d| d.to_digit(10)).unwrap_or(1);
                self.block.skip = Some(Skip { switch });
                self.begun = true;
            }
            Token::TapeMark => {
                if self.begun {
                    self.fault(format!("`%` at column {column}: it may stand alone on its line only"));
                }
                self.block.tape_mark = true;
                self.begun = true;
            }
            Token::Word(letter, number) => self.word(letter, number, column, at),
            Token::Unknown(text) => {
                self.fault(format!(
                    "`{}` at column {column} is no part of any word",
                    shown(text).escape_debug()
                ));
                self.begun = true;
            }
        }
    }

    /// What stands behind a semicolon: a comment to most controls, the next block to some.
    fn tail(&mut self, text: &str, column: usize) {
        if !text.trim_matches(|c: char| c.is_whitespace() || c == ';').is_empty() {
            let place = self.block.place();
            let what = format!("text behind the `;` at column {column}");
            self.notes.add(ProgramRule::Semicolon, place, what);
        }
        self.check_comment(text, column);
        // One more ends the line, by some editors.
        let text = text.trim_end_matches(|c: char| c.is_whitespace() || c == ';');
        self.block.comment_forms.1 |= !text.trim().is_empty();
        self.block.comments.push(text.trim().to_owned());
    }

    /// Characters that steer a reader, though they stand in a comment.
    fn check_comment(&mut self, text: &str, column: usize) {
        let steers = |c: &char| *c == '%' || (c.is_control() && *c != '\t');
        if let Some(found) = text.chars().find(steers) {
            let place = self.block.place();
            let what = format!("`{}` in the comment at column {column}", found.escape_debug());
            self.notes.add(ProgramRule::CommentCharacter, place, what);
        }
    }

    fn comment(&mut self, text: &str, column: usize) {
        self.block.comment_forms.0 = true;
        self.check_comment(text, column);
        if text.contains('(') {
            let place = self.block.place();
            self.notes.add(
                ProgramRule::NestedComment,
                place,
                format!("a bracket is opened inside the comment at column {column}"),
            );
        }
        self.block.comments.push(text.trim().to_owned());
    }

    fn word(&mut self, letter: char, number: &str, column: usize, at: usize) {
        let first = !self.begun || (self.block.words.is_empty() && self.block.sequence.is_none());
        self.begun = true;
        let written = number.trim_end_matches(is_blank);
        let bytes = (at, at + letter.len_utf8() + written.len());
        let Some(word) = self.number(letter, written.trim_start_matches(is_blank), column, bytes) else {
            return;
        };
        match letter {
            'N' => match word.whole() {
                Some(_) if !first || self.block.number.is_some() => {
                    self.fault(format!("the N word at column {column} does not stand first"));
                }
                Some(n) => self.block.sequence = Some(n),
                None => self.fault(format!("N{written}: a sequence number is a whole number")),
            },
            'O' | ':' => match word.whole() {
                Some(n) if self.block.words.is_empty() && self.block.number.is_none() => {
                    self.block.number = Some(n);
                }
                Some(_) => self.fault(format!("the program number at column {column} does not stand first")),
                None => self.fault(format!("{letter}{written}: a program number is a whole number")),
            },
            _ => self.block.words.push(word),
        }
    }

    fn number(&mut self, letter: char, written: &str, column: usize, bytes: (usize, usize)) -> Option<Word> {
        let points = written.matches('.').count();
        let digits = written.chars().filter(char::is_ascii_digit).count();
        if digits == 0 || points > 1 {
            let written = shown(written);
            self.fault(format!("`{letter}{written}` at column {column} is no letter with a number"));
            return None;
        }
        let joined: String;
        let plain = if written.contains(is_blank) {
            joined = written.chars().filter(|&c| !is_blank(c)).collect();
            let place = self.block.place();
            let what = format!(
                "`{letter}{}` at column {column} is read as {letter}{}",
                shown(written),
                shown(&joined)
            );
            self.notes.add(ProgramRule::BlankInNumber, place, what);
            joined.as_str()
        } else {
            written
        };
        let Some(value) = plain.parse::<f64>().ok().filter(|v| v.abs() < LARGEST) else {
            let written = shown(written);
            self.fault(format!("`{letter}{written}` at column {column} is no number a control can hold"));
            return None;
        };
        let fraction = plain.split_once('.').map_or("", |(_, f)| f.trim_end_matches('0'));
        let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Some(Word {
            letter,
            value,
            decimals: count(fraction.len()),
            digits: count(digits),
            point: points == 1,
            column,
            bytes,
        })
    }
}
