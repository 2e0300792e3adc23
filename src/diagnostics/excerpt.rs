//! A piece of an input line with the spot of an error marked: `depth: >>0.1<<, passes: auto`.
//!
//! The mark stands in the line and not under it, so that it holds in proportional type, in a narrow terminal and behind a
//! pipe. Of a long line as much is shown as stands near the spot.

use super::text::visible;
use std::fmt;

/// So many characters are shown before the spot and after it.
const BESIDE: usize = 36;

/// The longest spot, in characters.
const LONGEST_SPOT: usize = 40;

/// A piece of a line in three parts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Excerpt {
    before: String,
    spot: String,
    after: String,
}

impl Excerpt {
    /// Of a line: the spot begins at a column, counted in characters from 1, and is so many characters long. None where there
    /// is no such column or nothing to show.
    #[must_use]
    pub fn of(line: &str, column: usize, width: usize) -> Option<Self> {
        let line = line.trim_end();
        let from = column.checked_sub(1)?;
        if line.is_empty() || from > line.chars().count() {
            return None;
        }
        let part = |skip: usize, take: usize| line.chars().skip(skip).take(take).collect::<String>();
        let width = width.min(LONGEST_SPOT);
        let (start, end) = (from.saturating_sub(BESIDE), from.saturating_add(width));
        let mut before = part(start, from.saturating_sub(start)).trim_start().to_owned();
        if start > 0 && !part(0, start).trim().is_empty() {
            before = format!("…{before}");
        }
        let mut after = part(end, BESIDE);
        if line.chars().nth(end.saturating_add(BESIDE)).is_some() {
            after = format!("{}…", after.trim_end());
        }
        let [before, spot, after] = [before, part(from, width), after].map(|t| visible(&t));
        Some(Self { before, spot, after })
    }
}

impl fmt::Display for Excerpt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}>>{}<<{}", self.before, self.spot, self.after)
    }
}

#[cfg(test)]
mod tests {
    use super::Excerpt;

    #[test]
    fn the_spot_is_marked_where_it_stands() {
        let shown = |line: &str, column, width| Excerpt::of(line, column, width).map(|e| e.to_string());
        assert_eq!(shown("depth: 0.1, passes", 8, 3).as_deref(), Some("depth: >>0.1<<, passes"));
        assert_eq!(shown("  früh\u{7}", 3, 4).as_deref(), Some(">>früh<<\u{FFFD}"));
        assert_eq!(shown("depth:", 7, 1).as_deref(), Some("depth:>><<"));
        assert_eq!(shown("depth", 9, 1), None);
        assert_eq!(shown("", 1, 1), None);
        let long = "a".repeat(50) + "b" + &"c".repeat(50);
        assert!(
            shown(&long, 51, 1)
                .is_some_and(|e| e.starts_with("…a") && e.contains("a>>b<<c") && e.ends_with("c…"))
        );
    }
}
