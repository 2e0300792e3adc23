//! Stretches of radius that lie beside each other: which of many spans share half of the shorter one, or more, with another.
//!
//! Two spans do so just where the middle of the shorter lies within the longer: from its middle on, the longer covers one half of
//! it at least. One pass over the ends and middles in rising order finds them, with the spans that are open kept by their length:
//! every span is found once, so the work is that of sorting, however many a file holds.

use std::collections::BTreeSet;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum At {
    From,
    Middle,
    To,
}

/// How many spans, of any unit, share half of the shorter one with another. A span of no length shares nothing.
pub(super) fn count(mut spans: Vec<(f64, f64)>) -> usize {
    spans.retain(|(from, to)| to > from);
    spans.sort_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)));
    // From here on a span is its place in the order of lengths.
    let mut events: Vec<(f64, At, usize)> = Vec::with_capacity(3 * spans.len());
    for (i, &(from, to)) in spans.iter().enumerate() {
        events.extend([(from, At::From, i), (f64::midpoint(from, to), At::Middle, i), (to, At::To, i)]);
    }
    events.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    let mut open = BTreeSet::new();
    // Those that are open and were not found yet.
    let mut alone = BTreeSet::new();
    let mut found = BTreeSet::new();
    for (_, at, span) in events {
        match at {
            At::From => {
                open.insert(span);
                alone.insert(span);
            }
            At::Middle if open.range(span + 1..).next().is_some() => {
                alone.remove(&span);
                found.insert(span);
                found.extend(alone.split_off(&(span + 1)));
            }
            At::Middle => {}
            At::To => {
                open.remove(&span);
                alone.remove(&span);
            }
        }
    }
    found.len()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The definition, pair by pair.
    fn by_pairs(spans: &[(f64, f64)]) -> usize {
        let shares = |a: &(f64, f64), b: &(f64, f64)| {
            let shared = a.1.min(b.1) - a.0.max(b.0);
            shared > 0.0 && shared >= 0.5 * (a.1 - a.0).min(b.1 - b.0)
        };
        let with_another =
            |&(i, a): &(usize, &(f64, f64))| spans.iter().enumerate().any(|(j, b)| i != j && shares(a, b));
        spans.iter().enumerate().filter(with_another).count()
    }

    proptest! {
        /// Whole numbers, so that ends, middles and lengths often coincide.
        #[test]
        fn one_pass_finds_what_pairs_find(spans in proptest::collection::vec((0_u8..40, 0_u8..12), 0..12)) {
            let spans: Vec<(f64, f64)> =
                spans.into_iter().map(|(from, way)| (f64::from(from), f64::from(from) + f64::from(way))).collect();
            prop_assert_eq!(count(spans.clone()), by_pairs(&spans));
        }
    }
}
