//! Where findings are noted: one entry for the same thing said again, with a count.

use crate::diagnostics::catalog::Fact;
use crate::diagnostics::finding::Finding;
use std::collections::HashMap;

/// Where a finding stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Place {
    /// Sequence number.
    pub block: Option<u64>,
    /// Line, 0 for the whole.
    pub line: usize,
}

impl Place {
    /// The whole text.
    pub const WHOLE: Self = Self { block: None, line: 0 };

    /// A line without a sequence number.
    pub const fn line(line: usize) -> Self {
        Self { block: None, line }
    }
}

/// One entry: the first time, and how often again.
#[derive(Debug, Clone)]
struct Entry {
    finding: Finding,
    again: usize,
    last: usize,
}

/// Findings as they are noted.
#[derive(Debug, Clone, Default)]
pub(crate) struct FindingCollector {
    entries: Vec<Entry>,
    known: HashMap<(&'static str, String), usize>,
}

impl FindingCollector {
    /// Notes a fact; the same kind with the same words is counted, not repeated.
    pub fn add(&mut self, fact: &'static Fact, place: Place, what: String) {
        if let Some(entry) = self.known.get(&(fact.kind, what.clone())).and_then(|&i| self.entries.get_mut(i))
        {
            if entry.last != place.line {
                entry.again += 1;
                entry.last = place.line;
            }
            return;
        }
        self.known.insert((fact.kind, what.clone()), self.entries.len());
        let finding = Finding {
            rank: fact.rank,
            kind: fact.kind,
            block: place.block,
            line: place.line,
            what,
            why: fact.why.to_owned(),
            fix: fact.fix.to_owned(),
        };
        self.entries.push(Entry { finding, again: 0, last: place.line });
    }

    /// The findings in the order of their lines, the heavier first on one line.
    pub fn into_findings(self) -> Vec<Finding> {
        let mut out: Vec<Finding> = self
            .entries
            .into_iter()
            .map(|Entry { mut finding, again, last }| {
                if again > 0 {
                    let blocks = if again == 1 { "block" } else { "blocks" };
                    let more = format!("; the same at {again} more {blocks}, the last at line {last}");
                    finding.what.push_str(&more);
                }
                finding
            })
            .collect();
        sort(&mut out);
        out
    }
}

/// Findings in the order of their lines, the heavier first on one line.
pub(crate) fn sort(findings: &mut [Finding]) {
    findings.sort_by(|a, b| {
        (a.line, b.rank, a.kind).cmp(&(b.line, a.rank, b.kind)).then_with(|| a.what.cmp(&b.what))
    });
}
