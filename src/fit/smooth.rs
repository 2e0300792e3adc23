//! How much the direction may change at a joint: the limit where the path is smooth, the path's own turn where it is not.
//!
//! A joint of angle θ stands for a turn of the path if the path turns by θ within tolerance/θ of it,
//! for that is how far from a kink of θ two lines that keep the tube can meet. Any other joint is a
//! kink that the fit would add, and must stay under the limit.

use super::corridor::{Chord, Corridor};

/// Halvings of the range in which the largest excused angle is sought: to better than a tenth.
const HALVINGS: usize = 5;

/// The largest change of direction allowed at x.
pub(super) fn allowed(corridor: &Corridor, x: f64, tolerance: f64, limit: f64) -> f64 {
    if limit >= std::f64::consts::PI {
        return limit;
    }
    let reaches = |c: &Chord, reach: f64| c.to > x - reach && c.from < x + reach;
    // No angle sought is less than the limit, so no other reach is greater than this.
    let furthest = tolerance / limit;
    let near = corridor.chords.beyond(x - furthest).iter().take_while(|c| reaches(c, furthest));
    let turn_within = |reach: f64| {
        let (lo, hi) = near
            .clone()
            .filter(|c| reaches(c, reach))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), c| (lo.min(c.heading), hi.max(c.heading)));
        (hi - lo).max(0.0)
    };
    let widest = turn_within(furthest);
    if widest <= limit {
        return limit;
    }
    let (mut good, mut bad) = (limit, widest);
    if turn_within(tolerance / bad) >= bad {
        return bad;
    }
    for _ in 0..HALVINGS {
        let middle = (good * bad).sqrt();
        if turn_within(tolerance / middle) >= middle { good = middle } else { bad = middle }
    }
    good
}
