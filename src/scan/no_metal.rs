//! Stretches of a line over which the sensor met no metal: a window between spokes, a bolt hole, the end of the face.
//!
//! Between two long calm runs, and before the first and behind the last, the sensor saw nothing or wrote heights that
//! do not follow from each other. Where that lasts longer than a cluster of wild readings does, there was nothing to see.

use super::line::{Stretch, joined};
use super::sequence::Item;

/// Wild readings over less than this, millimetres, are a cluster.
const LEAST_LENGTH: f64 = 1.6;

/// Fewer wild readings and drop-outs than this are a cluster.
const LEAST_COUNT: usize = 15;

/// The radii without metal. `wild` says of each item whether it is a drop-out or a suspect, `long` gives the long
/// calm runs as ranges of items in the order of time.
pub(super) fn stretches(items: &[Item], wild: &[bool], long: &[(usize, usize)]) -> Vec<Stretch> {
    let mut found = Vec::new();
    let mut from = 0;
    let ends = long.iter().copied().chain([(items.len(), items.len())]);
    for (start, end) in ends {
        found.extend(between(items, wild, from, start));
        from = end;
    }
    joined(found)
}

/// The stretch without metal from one item to before another, if there is one.
fn between(items: &[Item], wild: &[bool], from: usize, to: usize) -> Option<Stretch> {
    let part = items.get(from..to)?.iter().zip(wild.get(from..to)?);
    let (mut count, mut stretch) = (0, Stretch { from: f64::INFINITY, to: f64::NEG_INFINITY });
    for (item, _) in part.filter(|(_, wild)| **wild) {
        count += 1;
        stretch = Stretch { from: stretch.from.min(item.x), to: stretch.to.max(item.x) };
    }
    let most = 2 * count > to - from;
    (most && count >= LEAST_COUNT && stretch.length() >= LEAST_LENGTH).then_some(stretch)
}
