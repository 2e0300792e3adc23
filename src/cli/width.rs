//! Text that fits the terminal: long lines are broken between words, and what goes on stands under what it goes on.
//!
//! Only a terminal has a width: what goes to a file or a pipe keeps its lines, as a script reads them. Nothing is ever left out; a word
//! longer than the terminal is wide stays whole.

use std::io::IsTerminal;
use terminal_size::{Width, terminal_size};

/// What a person reads has lines of this length at least: fewer words in a line are harder to read than a line that the terminal breaks.
const NARROWEST: usize = 40;

/// The word at the beginning of a line of an account is so wide, with the blank after it.
const LABEL: usize = 9;

/// What goes on stands no farther in than this share of the line.
const DEEPEST: usize = 2;

/// The columns of the terminal that a stream writes to: as `COLUMNS` says, or the terminal itself. None for a file or a pipe.
pub(super) fn of_terminal(stream: &impl IsTerminal) -> Option<usize> {
    if !stream.is_terminal() {
        return None;
    }
    let told = std::env::var("COLUMNS").ok().and_then(|columns| columns.trim().parse().ok());
    let its_own = || terminal_size().map(|(Width(width), _)| usize::from(width));
    // A terminal of no width at all is one that does not know its own.
    told.or_else(its_own).filter(|width| *width > 0).map(|width| width.max(NARROWEST))
}

/// A text in lines no longer than so many characters.
pub(super) fn fitted(text: &str, width: usize) -> String {
    let mut out = String::with_capacity(text.len());
    for line in text.split_inclusive('\n') {
        let bare = line.trim_end_matches('\n');
        if bare.chars().count() <= width {
            out.push_str(line);
            continue;
        }
        broken(&mut out, bare, width);
        out.push_str(line.get(bare.len()..).unwrap_or_default());
    }
    out
}

/// One line that is too long.
fn broken(out: &mut String, line: &str, width: usize) {
    let hanging = hanging(line).min(width / DEEPEST);
    let mut length = 0;
    let mut begun = false;
    // Blanks in a line are its columns; they stay, but where it breaks.
    for piece in line.split_inclusive(' ') {
        let word = piece.trim_end_matches(' ').chars().count();
        if begun && word > 0 && length + word > width {
            out.truncate(out.trim_end_matches(' ').len());
            out.push('\n');
            out.extend(std::iter::repeat_n(' ', hanging));
            length = hanging;
        }
        begun |= word > 0;
        out.push_str(piece);
        length += piece.chars().count();
    }
}

/// How far in a line goes on: under its second column where it has one near its beginning, else a little farther than it begins.
fn hanging(line: &str) -> usize {
    const WITHIN: usize = 24;
    let characters: Vec<char> = line.chars().collect();
    let begins = characters.iter().take_while(|c| **c == ' ').count();
    let gap = characters.windows(2).skip(begins).position(|pair| pair == [' ', ' ']);
    let second = gap.map(|gap| {
        let at = begins + gap;
        at + characters.iter().skip(at).take_while(|c| **c == ' ').count()
    });
    match second {
        Some(second) if second <= WITHIN => second,
        _ if begins == 0 && is_label(&characters) => LABEL,
        _ => begins + 2,
    }
}

/// Whether a line begins with a word as wide as a label may be.
fn is_label(characters: &[char]) -> bool {
    characters.get(LABEL - 1) == Some(&' ') && characters.iter().take(LABEL - 1).all(char::is_ascii_lowercase)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_goes_on_stands_under_what_it_goes_on() {
        for (line, fitted_line) in [
            (
                "face     The face is cut along the lowest place of the turn.",
                "face     The face is cut along the\n         lowest place of the turn.",
            ),
            (
                "waviness 8.35 um between 0.8 mm and 8 mm: 4.45 um",
                "waviness 8.35 um between 0.8 mm and 8\n         mm: 4.45 um",
            ),
            (
                "  is          how fast balance and tyre let it turn",
                "  is          how fast balance and tyre\n              let it turn",
            ),
            (
                "  line at   0 deg,   62.0 mm to  218.5 mm: 1258 points",
                "  line at   0 deg,   62.0 mm to  218.5\n            mm: 1258 points",
            ),
            ("short", "short"),
        ] {
            assert_eq!(fitted(line, 40), fitted_line);
        }
    }

    proptest! {
        /// Nothing is lost, and no line with a blank to break at is longer than the terminal is wide.
        #[test]
        fn every_word_stays_and_every_line_fits(text in "([a-z.]{1,9} {1,4}){0,40}(\n[a-z ]{0,60}){0,3}", width in 40usize..120) {
            let narrow = fitted(&text, width);
            prop_assert!(narrow.split_whitespace().eq(text.split_whitespace()));
            prop_assert!(narrow.lines().all(|l| l.trim_end().chars().count() <= width || !l.trim().contains(' ')), "{}", narrow);
        }
    }
}
