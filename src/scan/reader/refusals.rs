//! What is wrong with a line that is no reading, and how to mend it: the words of the reader's refusals.

use super::{Mark, Reader, Scan, Separator, Trouble, is_number_or_gap, may_hold_pair, shown};

impl Reader<'_> {
    pub(super) fn not_a_number(&self, rest: &[u8]) -> Trouble {
        // A stray carriage return ends a field before it has begun; it is shown as what it is.
        let field = (rest.len() - self.skip_field(rest).len()).max(1);
        let text = shown(rest.get(..field).unwrap_or(rest));
        let fix = if text.starts_with(['"', '\'']) {
            "take the quotation marks out"
        } else if text.chars().filter(|c| matches!(c, '.' | ',')).count() > 1 {
            "take thousands marks out: one decimal mark in a number; put # before a line that is no reading"
        } else if text.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '.')) {
            "write the bare number; the unit stands in the job"
        } else {
            "mend the line, take it out, or put # before it to make it a comment"
        };
        Trouble::new(rest, text, "a number", fix)
    }

    pub(super) fn mixed_marks(&self, rest: &[u8]) -> Trouble {
        let field = rest.len() - self.skip_field(rest).len();
        let expected = match self.mark {
            Mark::Comma => "a decimal comma, as in the lines before",
            _ => "one decimal mark, the same in the whole file",
        };
        Trouble::new(
            rest,
            shown(rest.get(..field).unwrap_or(rest)),
            expected,
            "use one decimal mark in the whole file, and no thousands marks",
        )
    }

    /// The fault of a line that is laid out otherwise than those before it: other separators, or other columns first.
    pub(super) fn other_layout(&self, start: &[u8]) -> Option<Trouble> {
        let text = self.line_of(start);
        let fields = self.fields_of(text);
        let whole = fields.first().is_some_and(|f| is_number_or_gap(f));
        let other = fields.len() != self.measured.columns.len() && !whole && may_hold_pair(text);
        other.then(|| self.column_count(start, start))
    }

    /// A line with more or fewer fields than the job names.
    pub(super) fn column_count(&self, start: &[u8], rest: &[u8]) -> Trouble {
        let text = self.line_of(start);
        let count = self.fields_of(text).len();
        let named = self.measured.columns.len();
        let commas = self.separator == Separator::Byte(b',') && !text.contains(&b'.');
        let fix = if commas && count > named {
            "if these are decimal commas, separate the columns by semicolons; if not, name every column in `columns` (`other` for one that is read over)"
        } else if count > named {
            "name every column in `columns` (`other` for one that is read over)"
        } else {
            "mend the line or take it out, or make `columns` name what the scan holds"
        };
        Trouble::new(
            rest,
            format!("{count} column{} in `{}`", if count == 1 { "" } else { "s" }, shown(text)),
            format!("{named} columns with {} between", self.separator.name()),
            fix,
        )
    }
}

pub(super) fn too_few_points(scan: &Scan, passed: usize) -> Trouble {
    let mut found = match (scan.points.len(), scan.missing.len()) {
        (0, 0) => "an empty scan".to_string(),
        (0, m) => format!("no measured point; {m} lines are drop-outs"),
        (_, 0) => "a single measured point".into(),
        (_, m) => format!("a single measured point; {m} lines are drop-outs"),
    };
    if passed > 1 {
        found = format!("{found}; {passed} lines are text");
    }
    let first = [scan.points.first().map(|p| p.line), scan.missing.first().map(|m| m.line)];
    Trouble {
        left: 0,
        line: first.into_iter().flatten().min().unwrap_or(0),
        found,
        expected: "at least two measured points".into(),
        fix: "measure the line again, or name another file in the job".into(),
    }
}
