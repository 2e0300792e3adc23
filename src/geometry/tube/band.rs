//! The band between the exact path and its roof, and the exact check of a piece against it.

use super::NOISE;
use super::fan::Side;
use super::graph::Graph;
use crate::geometry::envelope::dilate_disk;
use crate::geometry::{Curve, Point};

/// Share of the tolerance that the points standing for a curved stretch may miss it by: too small to cost reach, large enough to keep them few.
const SHARE_OF_TOLERANCE: f64 = 1.0 / 32.0;

/// A straight stretch longer than this is watched at points inside it too, millimetres; at most eight parts.
const LONG_LINE: f64 = 0.25;

/// A graph over a range.
#[derive(Debug, Clone, Copy)]
pub(super) struct Span {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) graph: Graph,
}

/// A point that pieces must pass on a side.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pin {
    pub(super) at: Point,
    pub(super) side: Side,
}

/// Where a piece leaves the band, and on which side of that point it should pass.
pub(super) type Breach = Pin;

/// The tube as two functions.
pub(super) struct Band {
    /// The exact path.
    pub(super) floor: Vec<Span>,
    /// The path dilated by a disk of the tolerance.
    roof: Vec<Span>,
    /// The points that stand for both in the search, by x.
    pub(super) pins: Vec<Pin>,
}

/// The first span that reaches beyond x.
fn first_beyond(spans: &[Span], x: f64) -> usize {
    spans.partition_point(|s| s.to <= x)
}

impl Band {
    pub(super) fn new(path: &Curve, tolerance: f64) -> Self {
        let floor: Vec<Span> = path
            .pieces()
            .iter()
            .map(|p| Span { from: p.from().x, to: p.to().x, graph: Graph::of(p) })
            .collect();
        // One radius beyond each end; what lies there is not asked for.
        let roof: Vec<Span> = dilate_disk(path, tolerance)
            .pieces()
            .iter()
            .map(|p| Span {
                from: p.from().x.max(path.start()),
                to: p.to().x.min(path.end()),
                graph: Graph::of(p),
            })
            .filter(|s| s.to > s.from)
            .collect();
        let slack = tolerance * SHARE_OF_TOLERANCE;
        let mut pins = Vec::with_capacity(2 * (floor.len() + roof.len()));
        for s in &floor {
            s.pin(Side::Above, slack, &mut pins);
        }
        for s in &roof {
            s.pin(Side::Below, slack, &mut pins);
        }
        pins.sort_by(|a, b| a.at.x.total_cmp(&b.at.x));
        Self { floor, roof, pins }
    }

    /// The path's height at x.
    pub(super) fn floor_at(&self, x: f64) -> f64 {
        height(&self.floor, x, f64::max)
    }

    /// The roof's height at x, the lower one where it jumps.
    pub(super) fn roof_at(&self, x: f64) -> f64 {
        height(&self.roof, x, f64::min)
    }

    /// Where a piece leaves the band worst, if it does: `low` must not pass below the path, nor `high` above the roof.
    pub(super) fn breach(&self, low: &Graph, high: &Graph, from: f64, to: f64) -> Option<Breach> {
        let mut worst = (NOISE, None);
        for s in self.floor.get(first_beyond(&self.floor, from)..).unwrap_or_default() {
            if s.from >= to {
                break;
            }
            let (d, x) = s.graph.most_above(low, s.from.max(from), s.to.min(to));
            if d > worst.0 {
                worst = (d, Some(Pin { at: Point::new(x, s.graph.at(x)), side: Side::Above }));
            }
        }
        for s in self.roof.get(first_beyond(&self.roof, from)..).unwrap_or_default() {
            if s.from >= to {
                break;
            }
            let (d, x) = high.most_above(&s.graph, s.from.max(from), s.to.min(to));
            if d > worst.0 {
                worst = (d, Some(Pin { at: Point::new(x, s.graph.at(x)), side: Side::Below }));
            }
        }
        worst.1
    }
}

fn height(spans: &[Span], x: f64, of_two: fn(f64, f64) -> f64) -> f64 {
    let i = spans.partition_point(|s| s.to < x);
    let Some(s) = spans.get(i) else { return spans.last().map_or(0.0, |s| s.graph.at(s.to)) };
    let here = s.graph.at(x.max(s.from));
    match spans.get(i + 1) {
        Some(next) if s.to == x => of_two(here, next.graph.at(x)),
        _ => here,
    }
}

impl Span {
    /// Adds the points that stand for the span.
    fn pin(&self, side: Side, slack: f64, pins: &mut Vec<Pin>) {
        let mut add = |x: f64, z: f64| pins.push(Pin { at: Point::new(x, z), side });
        add(self.from, self.graph.at(self.from));
        match self.graph {
            Graph::Line { .. } => {
                let parts = ((self.to - self.from) / LONG_LINE).ceil().clamp(1.0, 8.0);
                let mut i = 1.0;
                while i < parts {
                    let x = self.from + (self.to - self.from) * (i / parts);
                    add(x, self.graph.at(x));
                    i += 1.0;
                }
            }
            Graph::Arc { centre, radius, side: half } => {
                let (a, b) =
                    (((self.from - centre.x) / radius).asin(), ((self.to - centre.x) / radius).asin());
                let parts = ((b - a) / (8.0 * slack / radius).sqrt()).ceil().clamp(1.0, 64.0);
                // The corners of the tangents' polygon stand above an arc that bulges upward.
                let outside = side == Side::Above && half > 0.0;
                let mut i = if outside { 0.5 } else { 1.0 };
                let reach = if outside { radius / ((b - a) / parts / 2.0).cos() } else { radius };
                while i < parts {
                    let angle = a + (b - a) * (i / parts);
                    add(centre.x + reach * angle.sin(), centre.z + half * reach * angle.cos());
                    i += 1.0;
                }
            }
        }
        add(self.to, self.graph.at(self.to));
    }
}
