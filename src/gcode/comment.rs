//! Comments: any text made fit to stand between the brackets of a program comment, or behind a semicolon.
//!
//! A comment may come from a file, so it must never be able to close itself, to start a word, or to
//! mean something to a control. What is left of any text is upper case, digits, blanks and a few
//! marks that no control reads inside a comment: no brackets, no control characters, no `%` (end of
//! tape to some readers, and shut out of comments by ISO 6983-1, as is `:`; from memory), no `;`
//! (starts a comment of another kind), nothing beyond ASCII. A long text goes on in further
//! comments, each of which begins with a dash: NISTIR 6556 (section 3.3.4) gives a comment that
//! begins with certain letters and a comma an active meaning, and a text that is broken at the wrong
//! place must not come to begin with them. For the same reason every first line begins with a word of ours.

use crate::diagnostics::text::{self, GOES_ON};
use crate::job::Comments;
use std::fmt;

/// The text of one comment, safe to stand between brackets.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Comment {
    text: String,
    style: Comments,
}

impl Comment {
    /// Comments that hold a text, as many as it takes at `width` characters a comment, brackets not counted.
    ///
    /// The label is ours, the text anybody's.
    #[must_use]
    pub fn wrapped(label: &str, text: &str, width: usize, style: Comments) -> Vec<Self> {
        let of = |text| Self { text, style };
        let safe = text::for_comment(&format!("{label} {text}"));
        let mut lines = Vec::new();
        let mut line = String::new();
        for word in safe.split(' ') {
            let mut rest = word;
            while !rest.is_empty() {
                let empty = line.is_empty() || line == GOES_ON;
                let gap = usize::from(!empty);
                let room = width.saturating_sub(line.len() + gap);
                // A word goes on the next line where it fits there; one longer than any line is broken.
                let fits = rest.len() <= room;
                if !fits && !empty {
                    lines.push(of(std::mem::replace(&mut line, GOES_ON.to_owned())));
                    continue;
                }
                let taken = if fits { rest.len() } else { room.max(1) };
                let (head, tail) = rest.split_at(taken);
                if gap == 1 {
                    line.push(' ');
                }
                line.push_str(head);
                rest = tail;
                if !rest.is_empty() {
                    lines.push(of(std::mem::replace(&mut line, GOES_ON.to_owned())));
                }
            }
        }
        if !line.is_empty() && line != GOES_ON {
            lines.push(of(line));
        }
        lines
    }

    /// The text between the brackets or behind the semicolon.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }
}

impl fmt::Display for Comment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.style {
            Comments::Semicolon => write!(f, "; {}", self.text),
            Comments::Brackets | Comments::None => write!(f, "({})", self.text),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn one(text: &str) -> String {
        Comment::wrapped("JOB", text, 78, Comments::Brackets)
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join("|")
    }

    #[test]
    fn a_text_cannot_close_its_comment_or_start_a_word() {
        assert_eq!(one(") G0 X0 ("), "(JOB G0 X0)");
        assert_eq!(one("a\nM30\r\n%"), "(JOB A M30 PCT)");
        assert_eq!(one("; T99 :7"), "(JOB , T99 ,7)");
        assert_eq!(one("Räder Größe 18″ № 5\u{202e}"), "(JOB RAEDER GROESSE 18. . 5.)");
        assert_eq!(one(""), "(JOB)");
    }

    #[test]
    fn a_long_text_goes_on_and_never_begins_as_an_active_comment() {
        let lines =
            Comment::wrapped("WHEEL", "aaaa MSG, b ccccccccccccccccccccccccc", 12, Comments::Semicolon);
        let texts: Vec<_> = lines.iter().map(Comment::text).collect();
        assert_eq!(texts, ["WHEEL AAAA", "- MSG, B", "- CCCCCCCCCC", "- CCCCCCCCCC", "- CCCCC"]);
    }

    proptest! {
        #[test]
        fn any_text_is_safe_and_fits(text in any::<String>(), width in 8usize..90) {
            let lines = Comment::wrapped("JOB", &text, width, Comments::Brackets);
            prop_assert!(!lines.is_empty());
            for (i, line) in lines.iter().enumerate() {
                prop_assert!(line.text().len() <= width);
                let start = if i == 0 { "JOB" } else { GOES_ON };
                prop_assert!(line.text().starts_with(start));
                prop_assert!(line.text().chars().all(|c| c.is_ascii_uppercase() || c.is_ascii_digit()
                    || c == ' ' || text::MARKS.contains(c)));
            }
        }
    }
}
