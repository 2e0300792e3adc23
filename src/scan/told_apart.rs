//! Traces that a column of a scan tells apart, for the guess of a job file: 1, 1, 1, … 2, 2, 2, …
//!
//! The column holds one name through each trace and another in the next, and the traces run over the same radii. A column that
//! changes with every reading, such as a time, or that names stretches of one line after each other, tells no traces apart.

use super::beside;
use super::guess::{Row, Trace, reach};
use super::traces::{LEAST_READINGS, key};
use std::collections::HashSet;

/// The traces that a column tells apart, in the order of the file; none where it does not.
pub(super) fn told_apart(rows: &[Row<'_>], column: usize, x: usize) -> Option<Vec<Trace>> {
    let mut runs: Vec<(&str, Vec<f64>)> = Vec::new();
    for row in rows {
        let name = row.field(column)?;
        let value = row.values.get(x).copied().flatten();
        if runs.last().is_none_or(|(last, _)| *last != name) {
            if runs.last().is_some_and(|(_, radii)| radii.len() < LEAST_READINGS) {
                return None;
            }
            runs.push((name, Vec::new()));
        }
        if let Some((_, radii)) = runs.last_mut() {
            radii.extend(value);
        }
    }
    let mut names = HashSet::new();
    let named = runs
        .iter()
        .all(|(name, radii)| !name.is_empty() && radii.len() >= LEAST_READINGS && names.insert(key(name)));
    if runs.len() < 2 || !named {
        return None;
    }
    let trace = |(name, radii): (&str, Vec<f64>)| {
        Some(Trace { name: name.to_owned(), reach: reach(radii)?, angle: None })
    };
    let traces: Vec<Trace> = runs.into_iter().map(trace).collect::<Option<_>>()?;
    let spans: Vec<(f64, f64)> = traces.iter().map(|t| (t.reach[0], t.reach[1])).collect();
    (beside::count(spans) == traces.len()).then_some(traces)
}
