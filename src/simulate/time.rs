//! How long a motion takes, in closed form.
//!
//! At a feed f per revolution and a surface speed v the spindle makes n = v / (2·π·|x|) revolutions per minute, so ds = f·n·dt gives
//! t = 2·π/(f·v) · ∫ |x| ds; where the spindle limit applies, t = s/(f·n). ∫ |x| ds is exact on lines and arcs that are
//! split where |x| is zero and where the limit begins to apply. Acceleration is left out: no control states it.

use super::interpreter::arc;
use super::movement::{Feed, Movement, MovementKind, Spindle};
use crate::geometry::{Piece, Turn};
use crate::units::{Speed, Time};
use std::f64::consts::{PI, TAU};

/// How long a motion takes; none where feed or speed is missing. A rapid takes as long as its longer axis.
#[must_use]
pub fn time(movement: &Movement, rapid: Speed) -> Option<Time> {
    let minutes = match (movement.kind, movement.feed) {
        (MovementKind::Rapid, _) => {
            let (a, b) = (movement.piece.from(), movement.piece.to());
            (b.x - a.x).abs().max((b.z - a.z).abs()) / rapid.as_mm_per_min()
        }
        (MovementKind::Feed, Feed::Missing) => return None,
        (MovementKind::Feed, Feed::PerMinute(f)) => movement.piece.length() / f.as_mm_per_min(),
        (MovementKind::Feed, Feed::PerRev(f)) => revolutions_time(movement, f.as_mm_per_rev())?,
    };
    minutes.is_finite().then(|| Time::s(minutes * 60.0))
}

fn revolutions_time(movement: &Movement, feed: f64) -> Option<f64> {
    match movement.spindle {
        Spindle::Off => None,
        Spindle::Fixed { speed, .. } => Some(movement.piece.length() / (feed * speed?.as_rpm())),
        Spindle::Surface { speed, limit, .. } => {
            let v = speed?.as_mm_per_min();
            // Below this radius the spindle limit applies.
            let held = limit.map_or(0.0, |n| v / (TAU * n.as_rpm()));
            let sections = sections(&movement.piece, held);
            let minutes = sections.iter().map(|s| {
                if s.middle.abs() < held {
                    limit.map_or(f64::INFINITY, |n| s.length / (feed * n.as_rpm()))
                } else {
                    TAU * s.moment.abs() / (feed * v)
                }
            });
            Some(minutes.sum())
        }
    }
}

/// A part of a piece on which x does not cross zero, nor |x| a given radius.
struct Section {
    /// Its length.
    length: f64,
    /// ∫ x ds over it.
    moment: f64,
    /// x at its middle.
    middle: f64,
}

fn sections(piece: &Piece, radius: f64) -> Vec<Section> {
    let bounds = [-radius, 0.0, radius];
    match piece {
        Piece::Line(line) => {
            let (from, to) = (line.from, line.to);
            let length = from.distance(to);
            let dx = to.x - from.x;
            let cuts = bounds.iter().filter(|_| dx != 0.0).map(|b| (b - from.x) / dx);
            between(cuts, 1.0, |a, b| {
                let middle = from.x + dx * f64::midpoint(a, b);
                Section { length: length * (b - a), moment: length * (b - a) * middle, middle }
            })
        }
        Piece::Arc(a) => {
            let r = a.radius();
            let start = (a.from.z - a.centre.z).atan2(a.from.x - a.centre.x);
            let sense = if a.turn == Turn::CounterClockwise { 1.0 } else { -1.0 };
            let swept = arc::sweep(a.from, a.to, a.centre, a.turn);
            let cuts = bounds.iter().flat_map(|b| {
                let cosine = (b - a.centre.x) / r;
                let at = if cosine.abs() <= 1.0 { cosine.acos() } else { f64::NAN };
                [at, -at].map(|at| (sense * (at - start)).rem_euclid(2.0 * PI))
            });
            between(cuts, swept, |t0, t1| {
                let (a0, a1) = (start + sense * t0, start + sense * t1);
                let middle = a.centre.x + r * (f64::midpoint(a0, a1)).cos();
                let moment = r * (a.centre.x * (t1 - t0) + sense * r * (a1.sin() - a0.sin()));
                Section { length: r * (t1 - t0), moment, middle }
            })
        }
    }
}

/// The sections between those splits that are inside `(0, end)`.
fn between(cuts: impl Iterator<Item = f64>, end: f64, section: impl Fn(f64, f64) -> Section) -> Vec<Section> {
    let mut at: Vec<f64> = cuts.filter(|t| *t > 0.0 && *t < end).collect();
    at.sort_by(f64::total_cmp);
    at.push(end);
    let mut from = 0.0;
    at.into_iter()
        .map(|to| {
            let s = section(from, to);
            from = to;
            s
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;
    use crate::units::{FeedPerRev, SpindleSpeed, SurfaceSpeed};
    use proptest::prelude::*;

    /// The point at a fraction of the length of a piece.
    fn along(piece: &Piece, share: f64) -> Point {
        match piece {
            Piece::Line(l) => {
                Point::new(l.from.x + (l.to.x - l.from.x) * share, l.from.z + (l.to.z - l.from.z) * share)
            }
            Piece::Arc(a) => {
                let start = (a.from.z - a.centre.z).atan2(a.from.x - a.centre.x);
                let sense = if a.turn == Turn::CounterClockwise { 1.0 } else { -1.0 };
                let at = start + sense * share * arc::sweep(a.from, a.to, a.centre, a.turn);
                Point::new(a.centre.x + a.radius() * at.cos(), a.centre.z + a.radius() * at.sin())
            }
        }
    }

    fn movement(piece: Piece, v: f64, limit: f64) -> Movement {
        Movement {
            block: 0,
            sequence: None,
            line: 1,
            kind: MovementKind::Feed,
            piece,
            tool: None,
            spindle: Spindle::Surface {
                clockwise: true,
                speed: Some(SurfaceSpeed::mm_per_min(v)),
                limit: Some(SpindleSpeed::rpm(limit)),
            },
            feed: Feed::PerRev(FeedPerRev::mm_per_rev(0.2)),
            coolant: false,
            radius_unknown: false,
            stops_before: (0, 0),
        }
    }

    proptest! {
        /// The closed form is the midpoint sum of ds / (f·n), n = min(v/(2·π·|x|), limit): the definition, integrated by brute force.
        #[test]
        fn closed_form_is_the_integral(
            x in -20.0..120.0f64, bow in -40.0..40.0f64, radius in 41.0..200.0f64, clockwise: bool, is_arc: bool,
        ) {
            let from = Point::new(x, 0.0);
            let to = Point::new(x + 60.0, bow);
            let turn = if clockwise { Turn::Clockwise } else { Turn::CounterClockwise };
            let piece = match arc::centre(from, to, radius, turn, 0.0).filter(|_| is_arc) {
                Some(c) => arc::pieces(from, to, c, turn)[0],
                None => Piece::line(from, to),
            };
            let (v, limit) = (280_000.0, 700.0);
            let steps = 20_000;
            let ds = piece.length() / f64::from(steps);
            let sum: f64 = (0..steps).map(|i| {
                let r = along(&piece, (f64::from(i) + 0.5) / f64::from(steps)).x.abs();
                ds / (0.2 * (v / (TAU * r)).min(limit))
            }).sum();
            let closed = time(&movement(piece, v, limit), Speed::mm_per_min(6000.0)).map_or(f64::NAN, Time::as_s);
            prop_assert!((closed / (sum * 60.0) - 1.0).abs() < 1e-5, "{closed} {}", sum * 60.0);
        }
    }
}
