//! The bytes of a scan as plain UTF-8 text with one blank, one minus sign and no quotation marks, whatever program saved it.
//!
//! UTF-16 is known by its byte order mark or by its zero bytes (The Unicode Standard, 3.10); bytes that are no UTF-8 are taken
//! letter by letter as ISO 8859-1, where µ, Ø and ° stand. Every character is replaced by one character, so that the columns
//! which a fault names are those that an editor shows. Text that needs no change is not copied.

use super::trouble::Trouble;
use std::borrow::Cow;

/// So many bytes at the start tell UTF-16 without a mark from other text.
const LOOKED_AT: usize = 256;

/// A file that is no text of columns: what it is, by its first bytes, and what to do.
const OTHER_FILES: &[(&[u8], &str)] = &[
    (b"PK\x03\x04", "a spreadsheet or another packed file"),
    (b"\xD0\xCF\x11\xE0", "a spreadsheet or another office file of the older kind"),
    (b"%PDF", "a PDF"),
    (b"\x1F\x8B", "a file packed by gzip"),
    (b"SQLite format 3", "a database"),
    (b"\x89PNG", "a picture"),
    (b"\xFF\xD8\xFF", "a picture"),
    (b"<", "XML or HTML"),
    (b"\xFF\xFE\x00\x00", "text in UTF-32"),
    (b"\x00\x00\xFE\xFF", "text in UTF-32"),
];

/// The text of a scan.
///
/// # Errors
/// What the file is, where it is no text of columns.
pub(super) fn plain(bytes: &[u8]) -> Result<Cow<'_, [u8]>, Trouble> {
    refuse_other_files(bytes)?;
    let decoded = decoded(bytes)?;
    let text = match decoded {
        Cow::Borrowed(text) if text.is_ascii() && !text.contains(&b'"') => return Ok(Cow::Borrowed(text)),
        Cow::Borrowed(text) => match std::str::from_utf8(text) {
            Ok(text) => text.to_owned(),
            Err(_) => text.iter().map(|&b| char::from(b)).collect(),
        },
        Cow::Owned(text) => String::from_utf8_lossy(&text).into_owned(),
    };
    let text: String = text.chars().map(plain_character).collect();
    if text.contains('"') {
        unquoted(&with_inch_marks(&text)).map(|t| Cow::Owned(t.into_bytes()))
    } else {
        Ok(Cow::Owned(text.into_bytes()))
    }
}

fn whole_file(found: impl Into<String>, expected: &str, fix: impl Into<String>) -> Trouble {
    // Nothing left: the fault has no place in the file.
    Trouble { left: 0, line: 0, found: found.into(), expected: expected.into(), fix: fix.into() }
}

/// The number of a line, from 1, before which so many end.
fn line_number(before: usize) -> u32 {
    u32::try_from(before).unwrap_or(u32::MAX).saturating_add(1)
}

fn refuse_other_files(bytes: &[u8]) -> Result<(), Trouble> {
    const EXPECTED: &str = "columns of numbers as plain text";
    let start = bytes.trim_ascii_start();
    if let Some((_, what)) = OTHER_FILES
        .iter()
        .find(|(begins, _)| bytes.starts_with(begins) || (*begins == b"<" && start.starts_with(b"<")))
    {
        return Err(whole_file(
            *what,
            EXPECTED,
            "export the readings as text (CSV), and name that file in the job",
        ));
    }
    let json = match start {
        [b'{', rest @ ..] => rest.trim_ascii_start().first().is_some_and(|b| matches!(b, b'"' | b'}')),
        [b'[', rest @ ..] => rest
            .trim_ascii_start()
            .first()
            .is_some_and(|b| matches!(b, b'{' | b'[' | b'"' | b']') || b.is_ascii_digit() || *b == b'-'),
        _ => false,
    };
    if json {
        return Err(whole_file(
            "JSON",
            EXPECTED,
            "write one reading a line, x and z with a semicolon between, and name that file in the job",
        ));
    }
    Ok(())
}

/// A unit of UTF-16 from its two bytes, in one of the two orders.
type Unit = fn([u8; 2]) -> u16;

/// UTF-8 or another encoding of single bytes as it stands, without its mark; UTF-16 decoded.
fn decoded(bytes: &[u8]) -> Result<Cow<'_, [u8]>, Trouble> {
    let (units, read): (&[u8], Unit) = match bytes {
        [0xEF, 0xBB, 0xBF, rest @ ..] => return Ok(Cow::Borrowed(rest)),
        [0xFF, 0xFE, rest @ ..] => (rest, u16::from_le_bytes),
        [0xFE, 0xFF, rest @ ..] => (rest, u16::from_be_bytes),
        _ => {
            let start = bytes.get(..LOOKED_AT.min(bytes.len())).unwrap_or_default();
            let zeros = |parity: usize| start.iter().skip(parity).step_by(2).filter(|b| **b == 0).count();
            // Digits, marks and line ends all have one zero byte; three quarters leave room for other letters.
            let most = start.len() / 2 * 3 / 4;
            match (zeros(0), zeros(1)) {
                (0, odd) if odd > most.max(1) => (bytes, u16::from_le_bytes),
                (even, 0) if even > most.max(1) => (bytes, u16::from_be_bytes),
                _ => return Ok(Cow::Borrowed(bytes)),
            }
        }
    };
    let (pairs, rest) = units.as_chunks::<2>();
    let text: String =
        char::decode_utf16(pairs.iter().map(|&p| read(p))).map(|c| c.unwrap_or('\u{FFFD}')).collect();
    if !rest.is_empty() {
        let fault = whole_file(
            "text in UTF-16 that ends within a character",
            "the whole file",
            "copy or export the scan again, best as UTF-8",
        );
        return Err(Trouble { line: line_number(text.matches('\n').count()), ..fault });
    }
    Ok(Cow::Owned(text.trim_start_matches('\u{FEFF}').to_owned().into_bytes()))
}

/// Blanks of every width become a blank, every minus a hyphen.
const fn plain_character(c: char) -> char {
    match c {
        '\u{A0}' | '\u{2000}'..='\u{200B}' | '\u{202F}' | '\u{205F}' | '\u{3000}' | '\u{FEFF}' => ' ',
        // The last is the en dash of code page 1252, read as ISO 8859-1.
        '\u{2010}'..='\u{2013}' | '\u{2212}' | '\u{FE63}' | '\u{FF0D}' | '\u{96}' => '-',
        c => c,
    }
}

/// What a quotation mark becomes that stands for inches: the double prime, which no program quotes with.
const INCH_MARK: char = '\u{2033}';

/// The text with an inch mark for every quotation mark that is one by what stands around it: in brackets (`Radius ["]`), behind a
/// stroke (`Radius / "`) or behind the word `in` (`Radius in "`). Within quotes it may be doubled, as quoted text doubles it, or not.
fn with_inch_marks(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for line in text.split_inclusive(['\n', '\r']) {
        let mut open = false;
        let mut rest = line;
        while let Some(at) = rest.find('"') {
            let (before, from) = rest.split_at(at);
            out.push_str(before);
            let after = from.trim_start_matches('"');
            let marks = from.len() - after.len();
            let written = line.get(..line.len() - from.len()).unwrap_or_default();
            let closes = match inches(written, after) {
                // An undoubled mark at the end of quoted text that ends so: `"Radius / "`.
                Some(Inches::AtEnd) if open && marks == 1 => None,
                Some(Inches::AtEnd) => Some(open),
                Some(Inches::InBrackets) => Some(false),
                None => None,
            };
            if let Some(closes) = closes {
                out.push(INCH_MARK);
                let blanks = marks - 1 - usize::from(closes);
                out.extend(std::iter::repeat_n(' ', blanks));
                if closes {
                    out.push('"');
                    open = false;
                }
            } else {
                out.push_str(from.get(..marks).unwrap_or_default());
                open ^= marks % 2 == 1;
            }
            rest = after;
        }
        out.push_str(rest);
    }
    out
}

/// Where a quotation mark stands that means inches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Inches {
    InBrackets,
    /// At the end of a heading.
    AtEnd,
}

/// Whether quotation marks mean inches, by what is written before and after them in their line.
fn inches(before: &str, after: &str) -> Option<Inches> {
    let blank = |c: char| c == ' ' || c == '_';
    let word = before.trim_end_matches(blank);
    let next = after.trim_start_matches(blank);
    if word.ends_with(['(', '[']) && next.starts_with([')', ']']) {
        return Some(Inches::InBrackets);
    }
    let ends = after.is_empty() || after.starts_with(|c: char| c.is_whitespace() || matches!(c, ';' | ','));
    // Two strokes, or one at the beginning of the line, are a comment mark.
    let stroke =
        word.strip_suffix('/').is_some_and(|w| !w.trim_matches(blank).is_empty() && !w.ends_with('/'));
    let of = word.strip_suffix("in").is_some_and(|w| w.ends_with(blank));
    (ends && (stroke || of)).then_some(Inches::AtEnd)
}

/// How a quoted number with one comma is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Quoted {
    /// No number with a comma.
    Other,
    /// A comma with other than three digits after it: a decimal comma.
    Decimal,
    /// Three digits after the comma: a decimal comma or a thousands mark.
    Either,
}

fn quoted(text: &str) -> Quoted {
    let digits = text.trim().trim_start_matches(['+', '-']);
    let Some((whole, part)) = digits.split_once(',') else { return Quoted::Other };
    let all = |t: &str| !t.is_empty() && t.bytes().all(|b| b.is_ascii_digit());
    // No thousands mark stands before an exponent.
    if let Some((part, exponent)) = part.split_once(['e', 'E']) {
        let power = exponent.strip_prefix(['+', '-']).unwrap_or(exponent);
        return if all(whole) && all(part) && all(power) { Quoted::Decimal } else { Quoted::Other };
    }
    match all(whole) && all(part) {
        true if part.len() == 3 && whole.len() <= 3 => Quoted::Either,
        true => Quoted::Decimal,
        false => Quoted::Other,
    }
}

/// The text with blanks in place of its quotation marks. Where commas separate, a comma within quotes is a decimal mark, which
/// becomes a point; within quoted words separators become blanks.
fn unquoted(text: &str) -> Result<String, Trouble> {
    let pieces = |line: &str| line.split('"').map(str::to_owned).collect::<Vec<_>>();
    let beside_comma =
        |before: &str, after: &str| before.trim_end().ends_with(',') || after.trim_start().starts_with(',');
    let mut decimal = false;
    let mut either = None;
    for (number, line) in text.split_inclusive(['\n', '\r']).enumerate() {
        let all = pieces(line);
        for three in all.windows(3).step_by(2) {
            let [before, inside, after] = three else { continue };
            if beside_comma(before, after) {
                match quoted(inside) {
                    Quoted::Decimal => decimal = true,
                    Quoted::Either => either = either.or(Some((number, inside.clone()))),
                    Quoted::Other => {}
                }
            }
        }
    }
    if let (Some((line, number)), false) = (either, decimal) {
        let fault = whole_file(
            format!(
                "`{number}` in quotation marks, which may be {} or {}",
                number.replace(',', "."),
                number.replace(',', "")
            ),
            "numbers that can be read in one way",
            "export the scan with decimal points and without thousands marks, or with semicolons between the columns",
        );
        return Err(Trouble { line: line_number(line), ..fault });
    }
    let mut out = String::with_capacity(text.len());
    for line in text.split_inclusive(['\n', '\r']) {
        let all = pieces(line);
        for (i, piece) in all.iter().enumerate() {
            if i > 0 {
                out.push(' ');
            }
            let closed = i % 2 == 1 && i + 1 < all.len();
            let (before, after) = (i.checked_sub(1).and_then(|b| all.get(b)), all.get(i + 1));
            let comma = before.zip(after).is_some_and(|(b, a)| beside_comma(b, a));
            match quoted(piece) {
                Quoted::Decimal | Quoted::Either if closed && comma => out.push_str(&piece.replace(',', ".")),
                Quoted::Other
                    if closed
                        && !piece
                            .trim()
                            .starts_with(|c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '.')) =>
                {
                    out.push_str(&piece.replace([',', ';', '\t'], " "));
                }
                _ => out.push_str(piece),
            }
        }
    }
    Ok(out)
}
