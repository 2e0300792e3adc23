//! The corridor between the exact path and its roof, and the exact check of a piece against it.

use super::NOISE;
use super::feasible::Side;
use super::graph::Graph;
use super::index::{BucketIndex, Positioned};
use crate::geometry::envelope::dilate_disk;
use crate::geometry::{Curve, Point};

/// Share of the tolerance by which a piece that keeps the points watched may leave a curve between them: small
/// enough to cost no reach; the exact check finds what is left.
const SHARE_OF_TOLERANCE: f64 = 1.0 / 64.0;

/// Share of the tolerance by which the curve may turn away from the chord between two points watched: hollows of the
/// path and humps of the roof bind nothing that keeps the points at both sides.
const SHARE_OF_HOLLOW: f64 = 1.0 / 3.0;

/// A straight stretch longer than this is watched at points inside it too, millimetres; at most eight parts.
const LONG_LINE: f64 = 0.25;

/// A graph over a range.
#[derive(Debug, Clone, Copy)]
pub(super) struct Span {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) graph: Graph,
}

impl Positioned for Span {
    /// Where it ends.
    fn x(&self) -> f64 {
        self.to
    }
}

/// A point that pieces must pass on a side.
#[derive(Debug, Clone, Copy)]
pub(super) struct Constraint {
    pub(super) at: Point,
    pub(super) side: Side,
}

impl Positioned for Constraint {
    fn x(&self) -> f64 {
        self.at.x
    }
}

/// A stretch of the path and its direction.
#[derive(Debug, Clone, Copy)]
pub(super) struct Chord {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) heading: f64,
}

impl Positioned for Chord {
    /// Where it ends.
    fn x(&self) -> f64 {
        self.to
    }
}

/// Where a piece leaves the corridor, and on which side of that point it should pass.
pub(super) type Breach = Constraint;

/// The tube as two functions.
pub(super) struct Corridor {
    /// The exact path.
    floor: BucketIndex<Span>,
    /// The path dilated by a disk of the tolerance.
    roof: BucketIndex<Span>,
    /// The path as chords between the points that stand for it.
    pub(super) chords: BucketIndex<Chord>,
}

impl Corridor {
    /// The corridor of a path, and the points that stand for it in the search, by x.
    pub(super) fn new(path: &Curve, tolerance: f64) -> (Self, Vec<Constraint>) {
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
        let mut constraints = watched(&floor, Side::Above, tolerance);
        let chords = constraints
            .windows(2)
            .map(|w| Chord {
                from: w[0].at.x,
                to: w[1].at.x,
                heading: (w[1].at.z - w[0].at.z).atan2(w[1].at.x - w[0].at.x),
            })
            .collect();
        constraints.extend(watched(&roof, Side::Below, tolerance));
        constraints.sort_by(|a, b| a.at.x.total_cmp(&b.at.x));
        (
            Self {
                floor: BucketIndex::new(floor),
                roof: BucketIndex::new(roof),
                chords: BucketIndex::new(chords),
            },
            constraints,
        )
    }

    /// Where path or roof change their direction by more than an angle at once.
    pub(super) fn kinks(&self, angle: f64) -> Vec<f64> {
        let kinks = |spans: &[Span]| {
            let turns =
                |w: &&[Span]| (w[1].graph.heading(w[1].from) - w[0].graph.heading(w[0].to)).abs() > angle;
            spans.windows(2).filter(turns).map(|w| w[1].from).collect::<Vec<_>>()
        };
        [kinks(self.floor.things()), kinks(self.roof.things())].concat()
    }

    /// The path's height at x.
    pub(super) fn floor_at(&self, x: f64) -> f64 {
        height(&self.floor, x, f64::max)
    }

    /// The roof's height at x, the lower one where it jumps.
    pub(super) fn roof_at(&self, x: f64) -> f64 {
        height(&self.roof, x, f64::min)
    }

    /// Where a piece leaves the corridor worst, if it does: `low` must not pass below the path, nor `high` above the roof.
    pub(super) fn breach(&self, low: &Graph, high: &Graph, from: f64, to: f64) -> Option<Breach> {
        let mut worst = (NOISE, None);
        for s in self.floor.beyond(from) {
            if s.from >= to {
                break;
            }
            let (d, x) = s.graph.most_above(low, s.from.max(from), s.to.min(to));
            if d > worst.0 {
                worst = (d, Some(Constraint { at: Point::new(x, s.graph.at(x)), side: Side::Above }));
            }
        }
        for s in self.roof.beyond(from) {
            if s.from >= to {
                break;
            }
            let (d, x) = high.most_above(&s.graph, s.from.max(from), s.to.min(to));
            if d > worst.0 {
                worst = (d, Some(Constraint { at: Point::new(x, s.graph.at(x)), side: Side::Below }));
            }
        }
        worst.1
    }
}

fn height(index: &BucketIndex<Span>, x: f64, of_two: fn(f64, f64) -> f64) -> f64 {
    let (spans, i) = (index.things(), index.before(x));
    let Some(s) = spans.get(i) else { return spans.last().map_or(0.0, |s| s.graph.at(s.to)) };
    let here = s.graph.at(x.max(s.from));
    match spans.get(i + 1) {
        Some(next) if s.to == x => of_two(here, next.graph.at(x)),
        _ => here,
    }
}

/// Points that stand for a curve: enough that whatever passes them passes the curve, but for a share of the tolerance.
///
/// One way through the points of the curve, keeping one when the chord from the last one kept would
/// leave those between: the cone method of Imai and Iri's class of one-sided approximations.
fn watched(spans: &[Span], side: Side, tolerance: f64) -> Vec<Constraint> {
    let slack = tolerance * SHARE_OF_TOLERANCE;
    let sign = if side == Side::Above { 1.0 } else { -1.0 };
    let mut points = Vec::new();
    let mut kept: Vec<Constraint> = Vec::new();
    let mut thin = Thinning { anchor: None, last: None, slopes: (f64::NEG_INFINITY, f64::INFINITY) };
    for s in spans {
        points.clear();
        s.points(slack / 2.0, &mut points);
        for &p in &points {
            let (above, below) = (tolerance * SHARE_OF_HOLLOW, slack / 2.0);
            let room = if sign > 0.0 { (below, above) } else { (above, below) };
            if let Some(at) = thin.next(p, room) {
                kept.push(Constraint { at, side });
            }
        }
    }
    kept.extend(thin.last.map(|at| Constraint { at, side }));
    kept
}

/// The points between the last one kept and now, as the range of slopes of chords that stay near them all.
struct Thinning {
    anchor: Option<Point>,
    last: Option<Point>,
    slopes: (f64, f64),
}

impl Thinning {
    /// Takes the next point; the one before it, if that must be kept. `room` is how far a chord may pass below and above a point.
    fn next(&mut self, p: Point, room: (f64, f64)) -> Option<Point> {
        let (Some(anchor), Some(last)) = (self.anchor, self.last) else {
            self.anchor = Some(p);
            self.last = Some(p);
            return Some(p);
        };
        if p.x <= last.x {
            return None;
        }
        let slope = (p.z - anchor.z) / (p.x - anchor.x);
        let far = p.x - anchor.x > LONG_LINE && last.x > anchor.x;
        let keep = far || slope < self.slopes.0 || slope > self.slopes.1;
        let from = if keep {
            self.anchor = Some(last);
            self.slopes = (f64::NEG_INFINITY, f64::INFINITY);
            last
        } else {
            anchor
        };
        let run = p.x - from.x;
        self.slopes.0 = self.slopes.0.max((p.z - room.0 - from.z) / run);
        self.slopes.1 = self.slopes.1.min((p.z + room.1 - from.z) / run);
        self.last = Some(p);
        keep.then_some(last)
    }
}

impl Span {
    /// Points of the span, close enough that chords miss it by no more than the slack.
    fn points(&self, slack: f64, points: &mut Vec<Point>) {
        let mut add = |x: f64| points.push(Point::new(x, self.graph.at(x)));
        add(self.from);
        match self.graph {
            Graph::Line { .. } => {
                let parts = ((self.to - self.from) / LONG_LINE).ceil().clamp(1.0, 8.0);
                let mut i = 1.0;
                while i < parts {
                    add(self.from + (self.to - self.from) * (i / parts));
                    i += 1.0;
                }
            }
            Graph::Arc { centre, radius, .. } => {
                let (a, b) =
                    (((self.from - centre.x) / radius).asin(), ((self.to - centre.x) / radius).asin());
                let parts = ((b - a) / (8.0 * slack / radius).sqrt()).ceil().clamp(1.0, 64.0);
                let mut i = 1.0;
                while i < parts {
                    add(centre.x + radius * (a + (b - a) * (i / parts)).sin());
                    i += 1.0;
                }
            }
        }
        add(self.to);
    }
}
