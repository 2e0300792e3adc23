//! Collects findings: the same finding made again is counted, not repeated, and of one rule a line holds only so many.

use super::{Finding, Place, ProgramRule};
use std::collections::HashMap;

/// One entry: the first finding, and how often it was made again.
#[derive(Debug, Clone)]
struct Entry {
    finding: Finding,
    again: usize,
    /// Line of the program at which it was made last.
    last: usize,
    /// How many others of its rule on its line are not kept.
    others: usize,
}

/// Most findings of one rule on one line: a line as long as a file would make as many as it has words.
const MOST_OF_A_LINE: usize = 20;

/// The findings so far.
#[derive(Debug, Clone, Default)]
pub(crate) struct FindingCollector {
    entries: Vec<Entry>,
    known: HashMap<(ProgramRule, String), usize>,
    /// How many of a rule were made on the line read last, and the last of them that is kept.
    of_line: HashMap<ProgramRule, (usize, usize, usize)>,
}

impl FindingCollector {
    /// Adds a finding; one of the same rule with the same words is counted instead.
    pub fn add(&mut self, rule: ProgramRule, place: Place, what: String) {
        let line = place.program_line().unwrap_or(0);
        if let Some(entry) = self.known.get(&(rule, what.clone())).and_then(|&i| self.entries.get_mut(i)) {
            if entry.last != line {
                entry.again += 1;
                entry.last = line;
            }
            return;
        }
        let index = self.entries.len();
        let (at, count, kept) = self.of_line.entry(rule).or_insert((line, 0, index));
        if *at != line {
            (*at, *count) = (line, 0);
        }
        if *count == MOST_OF_A_LINE {
            if let Some(entry) = self.entries.get_mut(*kept) {
                entry.others += 1;
            }
            return;
        }
        (*count, *kept) = (*count + 1, index);
        self.known.insert((rule, what.clone()), index);
        self.entries.push(Entry {
            finding: Finding::new(rule, place, what),
            again: 0,
            last: line,
            others: 0,
        });
    }

    /// The findings in the order of their lines, the more serious first on one line.
    pub fn into_findings(self) -> Vec<Finding> {
        let mut out: Vec<Finding> = self
            .entries
            .into_iter()
            .map(|Entry { mut finding, again, last, others }| {
                if others > 0 {
                    let more = format!("; {others} more of this rule on this line");
                    finding.what.push_str(&more);
                }
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

/// Findings in the order of their lines, the more serious first on one line.
pub(crate) fn sort(findings: &mut [Finding]) {
    findings.sort_by(|a, b| {
        let line = a.line().cmp(&b.line());
        let heavier_first = b.rank.cmp(&a.rank);
        let id = a.rule.id().cmp(b.rule.id());
        line.then(heavier_first).then(id).then_with(|| a.what.cmp(&b.what))
    });
}
