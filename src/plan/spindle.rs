//! The spindle under constant surface speed with a limit, and what a path costs under it, in closed form.
//!
//! At radius x the spindle turns at `n(x) = min(limit, v/(2·π·x))`, so the limit holds inside the radius
//! `v/(2·π·limit)` and the surface speed outside. A stretch ds of the path at feed f takes `ds/(f·n)`;
//! `∫ ds` and `∫ x ds` have closed forms on lines and arcs, and so has everything here.

use crate::geometry::{Arc, Piece, Turn};
use crate::units::{FeedPerRev, Length, SpindleSpeed, SurfaceSpeed, Time};
use std::f64::consts::TAU;

/// A surface speed, held until the spindle limit is reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpindleLaw {
    /// The surface speed.
    pub surface_speed: SurfaceSpeed,
    /// The limit.
    pub limit: SpindleSpeed,
}

impl SpindleLaw {
    /// The spindle speed at a radius.
    #[must_use]
    pub fn at(&self, radius: Length) -> SpindleSpeed {
        let free = self.surface_speed.at_radius(radius);
        if free.as_rpm() < self.limit.as_rpm() { free } else { self.limit }
    }

    /// The radius inside which the limit holds.
    #[must_use]
    pub fn limit_below(&self) -> Length {
        Length::mm(self.surface_speed.as_mm_per_min() / (TAU * self.limit.as_rpm()))
    }

    /// The time that pieces take at a feed: `∫ ds/(f·n(x))`.
    #[must_use]
    pub fn time(&self, pieces: &[Piece], feed: FeedPerRev) -> Time {
        let edge = self.limit_below().as_mm();
        let minutes: f64 = pieces
            .iter()
            .map(|piece| {
                let (inside, outside) = split_at(piece, edge);
                let limited = inside.map_or(0.0, |p| p.length() / self.limit.as_rpm());
                let free = outside.map_or(0.0, |p| TAU * moment(&p) / self.surface_speed.as_mm_per_min());
                limited + free
            })
            .sum();
        Time::s(60.0 * minutes / feed.as_mm_per_rev())
    }
}

/// The length of the spiral that the nose draws on the wheel along pieces at a feed: `∫ 2·π·x/f ds`.
#[must_use]
pub fn spiral_length(pieces: &[Piece], feed: FeedPerRev) -> Length {
    Length::mm(TAU * pieces.iter().map(moment).sum::<f64>() / feed.as_mm_per_rev())
}

/// `∫ x ds` along a piece. On an arc of radius R run against the clock, `dz = (x − cx)·ds/R`.
#[must_use]
pub fn moment(piece: &Piece) -> f64 {
    match piece {
        Piece::Line(l) => 0.5 * (l.from.x + l.to.x) * piece.length(),
        Piece::Arc(a) => {
            let rise = a.to.z - a.from.z;
            let signed = if a.turn == Turn::CounterClockwise { rise } else { -rise };
            a.centre.x * piece.length() + a.radius() * signed
        }
    }
}

/// The parts of a piece inside and outside a radius; pieces run one way in x.
fn split_at(piece: &Piece, x: f64) -> (Option<Piece>, Option<Piece>) {
    let (from, to) = (piece.from(), piece.to());
    if from.x.max(to.x) <= x {
        return (Some(*piece), None);
    }
    if from.x.min(to.x) >= x {
        return (None, Some(*piece));
    }
    let cut = crate::geometry::Point::new(x, piece.at(x));
    let part = |from, to| match *piece {
        Piece::Line(_) => Piece::line(from, to),
        Piece::Arc(a) => Piece::Arc(Arc { from, to, ..a }),
    };
    let (first, second) = (part(from, cut), part(cut, to));
    if from.x < to.x { (Some(first), Some(second)) } else { (Some(second), Some(first)) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;
    use float_cmp::assert_approx_eq;
    use proptest::prelude::*;

    /// Vc = π·D·n/1000: 280 m/min on a diameter of 400 mm is 222.8 rpm.
    /// Source: Machinery's Handbook, cutting speeds (from memory).
    #[test]
    fn handbook_spindle_speed() {
        let law = SpindleLaw {
            surface_speed: SurfaceSpeed::mm_per_min(280_000.0),
            limit: SpindleSpeed::rpm(700.0),
        };
        assert_approx_eq!(f64, law.at(Length::mm(200.0)).as_rpm(), 222.817, epsilon = 1e-3);
        assert_eq!(law.at(Length::mm(20.0)), SpindleSpeed::rpm(700.0));
        assert_approx_eq!(f64, law.limit_below().as_mm(), 63.662, epsilon = 1e-3);
    }

    fn pieces() -> impl Strategy<Value = Piece> {
        (20f64..200.0, 0.1f64..30.0, -0.5f64..0.5, 0.2f64..0.7, any::<bool>(), any::<bool>()).prop_map(
            |(x, dx, slope, bulge, arc, inward)| {
                let dz = dx * slope;
                let (from, to) = (Point::new(x, 0.0), Point::new(x + dx, dz));
                let piece = if arc {
                    // A cap arc on the chord: the centre below the middle, `bulge` the half chord over the radius.
                    let half = from.distance(to) / 2.0;
                    let drop = half * (1.0 / (bulge * bulge) - 1.0).sqrt();
                    let normal = Point::new(-dz / (2.0 * half), dx / (2.0 * half));
                    let centre = Point::new(x + dx / 2.0 - normal.x * drop, dz / 2.0 - normal.z * drop);
                    Piece::Arc(Arc { from, to, centre, turn: Turn::Clockwise })
                } else {
                    Piece::line(from, to)
                };
                if inward { piece.reversed() } else { piece }
            },
        )
    }

    /// Points along a piece, dense enough for sums.
    fn samples(piece: &Piece) -> Vec<Point> {
        const STEPS: usize = 4000;
        let (a, b) = (piece.from(), piece.to());
        (0..=STEPS)
            .map(|i| {
                let x = a.x + (b.x - a.x) * i as f64 / STEPS as f64;
                Point::new(x, piece.at(x))
            })
            .collect()
    }

    proptest! {
        /// The closed forms are the integrals they stand for, summed over a dense polyline.
        #[test]
        fn closed_forms_are_the_integrals(piece in pieces(), speed in 50_000f64..400_000.0) {
            let law = SpindleLaw { surface_speed: SurfaceSpeed::mm_per_min(speed), limit: SpindleSpeed::rpm(700.0) };
            let feed = FeedPerRev::mm_per_rev(0.2);
            let (mut minutes, mut spiral) = (0.0, 0.0);
            for w in samples(&piece).windows(2) {
                let ds = w[0].distance(w[1]);
                let x = 0.5 * (w[0].x + w[1].x);
                minutes += ds / (0.2 * law.at(Length::mm(x)).as_rpm());
                spiral += TAU * x * ds / 0.2;
            }
            let time = law.time(&[piece], feed).as_s();
            prop_assert!((time / (60.0 * minutes) - 1.0).abs() < 1e-4, "{time} against {}", 60.0 * minutes);
            prop_assert!((spiral_length(&[piece], feed).as_mm() / spiral - 1.0).abs() < 1e-4);
        }
    }
}
