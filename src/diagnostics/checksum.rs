//! The checksum that a program carries: whether its words, or what it tells people, changed since it was written.
//!
//! What the words do can be proved anew, whoever changed them. What the comments tell people to do (touch here, enter that) is carried out by
//! hand, and nothing but this number shows that somebody edited it. So there are two: of all comments, each with what the block behind it orders, and of all else. Each
//! is the first 32 bits of SHA-256 (FIPS 180-4). Blanks, blank lines, line ends, tape marks and control characters do not count: an editor
//! or a transfer may change them. A blank between two digits of a comment does: `X15 2.0` is another number to whoever reads it.

use sha2::{Digest, Sha256};
use std::fmt;

/// What the comment that holds the checksum begins with.
pub const LABEL: &str = "CHECKSUM";

/// The two checksums of a program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Checksum {
    /// Of its comments.
    pub comments: u32,
    /// Of its words.
    pub words: u32,
}

impl Checksum {
    /// The checksum of a program's text. The comment that holds it is left out.
    #[must_use]
    pub fn of(text: &str) -> Self {
        let (mut comments, mut words) = (Sha256::new(), Sha256::new());
        // A comment tells of the block behind it: `STOP` before another block is another statement.
        let mut told = Told::No;
        for line in text.lines() {
            let (mut rest, behind) = before_semicolon(line);
            // A control that reads comments behind a semicolon has them on lines of their own.
            if let Some(comment) = line.trim_start().strip_prefix(';') {
                // One more ends the line, by some editors.
                let comment = comment.trim_end_matches(|c: char| c == ';' || !counts(c));
                if Self::read(comment).is_none() && add_comment(&mut comments, comment) {
                    told = told.and(comment);
                }
                continue;
            }
            while let Some((before, after)) = rest.split_once('(') {
                add(&mut words, before);
                let (comment, behind) = after.split_once(')').unwrap_or((after, ""));
                if Self::read(comment).is_none() && add_comment(&mut comments, comment) {
                    told = told.and(comment);
                }
                rest = behind;
            }
            let any_words = add(&mut words, rest);
            if told != Told::No && any_words {
                add(&mut comments, &commands(rest, told));
                told = Told::No;
            }
            if !behind.is_empty() && add_comment(&mut comments, behind) {
                told = told.and(behind);
            }
        }
        Self { comments: first(comments), words: first(words) }
    }

    /// The checksum that a comment holds, if it holds one.
    #[must_use]
    pub fn read(comment: &str) -> Option<Self> {
        let mut parts = comment.split_whitespace();
        let label = parts.next()?;
        let [comments, words] = [parts.next()?, parts.next()?].map(|p| u32::from_str_radix(p, 16));
        (label == LABEL && parts.next().is_none())
            .then_some(Self { comments: comments.ok()?, words: words.ok()? })
    }
}

/// As it stands in the comment, behind the label.
impl fmt::Display for Checksum {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:08X} {:08X}", self.comments, self.words)
    }
}

/// A line parted at the semicolon behind its words, of which one within brackets is none.
fn before_semicolon(line: &str) -> (&str, &str) {
    let mut inside = false;
    let at = line.find(|c: char| {
        inside = c == '(' || inside && c != ')';
        c == ';' && !inside
    });
    let (words, behind) = line.split_at(at.unwrap_or(line.len()));
    (words, behind.trim_start_matches(';'))
}

/// What the comments before a block tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Told {
    /// Nothing.
    No,
    /// Something.
    Something,
    /// Of an optional stop: one that is made where it says so whatever the switches is no other statement.
    OptionalStop,
}

impl Told {
    fn and(self, comment: &str) -> Self {
        let optional = self == Self::OptionalStop || comment.trim_start().starts_with("OPTIONAL STOP");
        if optional { Self::OptionalStop } else { Self::Something }
    }
}

/// What the words of a block order, without its number, places, feed and speed: its T words, and its G and M words but for motions. Numbers
/// that a hand may rightly change do not count, nor does how a word is written: `m0` is `M00`.
fn commands(words: &str, told: Told) -> String {
    let mut out = String::new();
    let line = words.to_ascii_uppercase();
    let mut rest = line.as_str();
    while let Some(at) = rest.find(|c: char| c.is_ascii_alphabetic()) {
        let (_, word) = rest.split_at(at);
        let end = word.get(1..).and_then(|w| w.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == ' ')));
        let (word, behind) = word.split_at(end.map_or(word.len(), |e| e + 1));
        let number = word.get(1..).unwrap_or_default().trim();
        let motion = word.starts_with('G') && matches!(number.trim_start_matches('0'), "" | "1" | "2" | "3");
        if word.starts_with(['G', 'M', 'T']) && !motion {
            let zero = if number.len() == 1 && !word.starts_with('T') { "0" } else { "" };
            let stops = told == Told::OptionalStop && word.starts_with('M') && matches!(number, "0" | "00");
            let number = if stops { "01" } else { number };
            let zero = if stops { "" } else { zero };
            out.extend([word.get(..1).unwrap_or_default(), zero, number]);
        }
        rest = behind;
    }
    out
}

/// Adds a comment. One that is made of words is marked as no block: what a hand takes out of a program it puts into brackets.
fn add_comment(to: &mut Sha256, comment: &str) -> bool {
    let is_word = |word: &str| {
        let number = word.strip_prefix(|c: char| c.is_ascii_alphabetic());
        number.is_some_and(|n| n.parse::<f64>().is_ok())
    };
    if !comment.trim().is_empty() && comment.split_whitespace().all(is_word) {
        to.update(b"(");
    }
    let mut kept = String::with_capacity(comment.len());
    let mut blank = false;
    for c in comment.chars() {
        if !counts(c) {
            blank |= c.is_whitespace();
            continue;
        }
        let of_number = |c: char| c.is_ascii_digit() || c == '.';
        if blank && of_number(c) && kept.ends_with(of_number) {
            kept.push(' ');
        }
        blank = false;
        kept.push(c);
    }
    add_kept(to, &kept)
}

/// Adds the characters that count, and a mark where they end; whether there were any.
fn add(to: &mut Sha256, text: &str) -> bool {
    let mut kept = String::with_capacity(text.len());
    kept.extend(text.chars().filter(|&c| counts(c)));
    add_kept(to, &kept)
}

/// Whether a character counts.
fn counts(c: char) -> bool {
    !(c.is_whitespace() || c.is_control() || c == '%')
}

/// Adds what counts of a text, and a mark where it ends; whether there was any.
fn add_kept(to: &mut Sha256, kept: &str) -> bool {
    if !kept.is_empty() {
        to.update(kept.as_bytes());
        to.update(b"\n");
    }
    !kept.is_empty()
}

fn first(sum: Sha256) -> u32 {
    sum.finalize().iter().take(4).fold(0, |all, &byte| (all << 8) | u32::from(byte))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4: SHA-256 of "abc" begins with ba7816bf; the mark at the end makes ours that of "abc\n" (coreutils `sha256sum`).
    #[test]
    fn it_is_sha_256() {
        assert_eq!(Checksum::of("abc").words, 0xedea_aff3);
        assert_eq!(Checksum::of("(abc)").comments, 0xedea_aff3);
        let own = Checksum::of("(A)\nG00 X1.0\n");
        assert_eq!(Checksum::read(&format!("{LABEL} {own}")), Some(own));
        assert_eq!(Checksum::read("CHECKSUM OF 12 34"), None);
    }

    #[test]
    fn what_an_editor_or_a_transfer_does_counts_for_nothing() {
        let text = "%\r\n(ENTER Z0.02)\r\n(CHECKSUM 00000000 00000000)\r\nN10 G00 X1.0\r\n%\r\n";
        for same in [
            "(ENTER Z0.02)\nN10G00X1.0",
            "\0%\n\n(ENTER  Z0.02)  \n N10 G00 X1.0 \r\r\n",
            "(CHECKSUM 1 2)\n(ENTER Z0.02)\nN10 G00 X1.0",
        ] {
            assert_eq!(Checksum::of(same), Checksum::of(text), "{same}");
        }
        assert_ne!(Checksum::of("(ENTER Z0. 02)"), Checksum::of("(ENTER Z0.02)"));
        assert_eq!(Checksum::of("(PASS 1  OF 2)"), Checksum::of("(PASS1OF2)"));
        let told = Checksum::of("(ENTER Z0.2)\nN10 G00 X1.0");
        assert!(told.comments != Checksum::of(text).comments && told.words == Checksum::of(text).words);
        let moved = Checksum::of("(ENTER Z0.02)\nN10 G00 X10.");
        assert!(moved.words != Checksum::of(text).words && moved.comments == Checksum::of(text).comments);
        // A comment that moved to another order is another statement; a changed place or a block put elsewhere changes none.
        let stop = |text: &str| Checksum::of(text).comments;
        let written = stop("(STOP. LOOK)\nN30 M00\nN40 G01 X1.0 F0.2\nN50 M05");
        assert_ne!(written, stop("N30 M00\n(STOP. LOOK)\nN40 G01 X1.0 F0.2\nN50 M05"));
        assert_ne!(written, stop("N30 M00\nN40 G01 X1.0 F0.2\n(STOP. LOOK)\nN50 M05"));
        assert_eq!(written, stop("(STOP. LOOK)\nN31 M00\nN40 G01 X2.0 F0.3\nN45 G01 Z5.0\nN50 M05"));
        // Behind a semicolon it is no stop either.
        assert_ne!(stop(";STOP. LOOK\nN30 M00\nM05"), stop(";STOP. LOOK\nN30 ; M00\nM05"));
        for same in ["n30 m00", "N30 M0", "N30 M00 ;", "N30M00"] {
            assert_eq!(written, stop(&format!("(STOP. LOOK)\n{same}\nN40 G01 X1.0 F0.2\nN50 M05")), "{same}");
        }
        // A stop that is made for certain where an optional one is told tells nobody anything wrong; the other way round it does.
        let optional = stop("(OPTIONAL STOP. LOOK)\nM01");
        assert_eq!(optional, stop("(OPTIONAL STOP. LOOK)\nM00"));
        assert_eq!(optional, stop("(OPTIONAL STOP. LOOK)\nM0"));
        assert_ne!(written, stop("(STOP. LOOK)\nN30 M01\nN40 G01 X1.0 F0.2\nN50 M05"));
        // A word moved into a comment is no word, and a stop there is no stop.
        assert_ne!(written, stop("(STOP. LOOK)\nN30 (M00)\nN40 G01 X1.0 F0.2\nN50 M05"));
        assert_ne!(Checksum::of("(ENTER Z0.02)\n(N10 G00 X1.0)"), Checksum::of(text));
    }
}
