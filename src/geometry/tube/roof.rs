//! The roof: the upper edge of all that lies within a distance of the path, as a function.
//!
//! That edge is the upper envelope of the path's pieces moved outward along their normals and of
//! disks about its peaks (the dilation of the path by a disk, ISO 16610-40). It is built with a
//! stack, each piece cutting back those before it where they cross; where pieces are so small
//! that more than that would be needed, what is kept is still some piece's offset or some point's disk,
//! so that the result may lie below the edge, never above it: the tube gets no wider.

use super::band::Span;
use super::graph::Graph;
use crate::geometry::Point;

/// Halvings for a crossing: from twice a tolerance of 0.01 mm to 10⁻⁹ mm, and both neighbours are right wherever it falls.
const HALVINGS: usize = 24;

/// The roof over a path's spans.
pub(super) fn over(floor: &[Span], tolerance: f64) -> Vec<Span> {
    let (Some(first), Some(last)) = (floor.first(), floor.last()) else { return Vec::new() };
    let mut roof = Roof { spans: Vec::with_capacity(2 * floor.len()), start: first.from, end: last.to };
    // A start that falls and an end that rises leave their disks' outer parts uncovered.
    let mut heading = std::f64::consts::FRAC_PI_2;
    for s in floor {
        let (leaves, arrives) = (s.graph.heading(s.from), s.graph.heading(s.to));
        if leaves < heading {
            let disk =
                Graph::Arc { centre: Point::new(s.from, s.graph.at(s.from)), radius: tolerance, side: 1.0 };
            roof.lay(s.from - tolerance * heading.sin(), s.from - tolerance * leaves.sin(), disk);
        }
        if let Some(graph) = s.graph.offset(tolerance) {
            roof.lay(s.from - tolerance * leaves.sin(), s.to - tolerance * arrives.sin(), graph);
        }
        heading = arrives;
    }
    let disk =
        Graph::Arc { centre: Point::new(last.to, last.graph.at(last.to)), radius: tolerance, side: 1.0 };
    roof.lay(last.to - tolerance * heading.sin(), last.to + tolerance, disk);
    roof.spans
}

/// The envelope so far: spans without gap from the path's start.
struct Roof {
    spans: Vec<Span>,
    start: f64,
    end: f64,
}

impl Roof {
    fn lay(&mut self, from: f64, to: f64, graph: Graph) {
        let (reach, to) = (from.max(self.start), to.min(self.end));
        if to <= reach {
            return;
        }
        let mut tail = self.split(to);
        let hidden = self.spans.last().is_some_and(|top| top.to == to && graph.at(to) <= top.graph.at(to));
        if !hidden {
            self.lay_last(reach, to, graph);
        }
        self.spans.append(&mut tail);
    }

    /// Takes away what lies beyond x.
    fn split(&mut self, x: f64) -> Vec<Span> {
        let keep = self.spans.iter().rposition(|s| s.from < x).map_or(0, |i| i + 1);
        let mut tail = self.spans.split_off(keep);
        if let Some(top) = self.spans.last_mut().filter(|top| top.to > x) {
            tail.insert(0, Span { from: x, ..*top });
            top.to = x;
        }
        tail
    }

    /// Lays a piece that ends no earlier than the envelope and above it.
    fn lay_last(&mut self, reach: f64, to: f64, graph: Graph) {
        let mut from = reach;
        while let Some(top) = self.spans.last_mut() {
            if reach >= top.to {
                from = top.to;
                break;
            }
            from = reach.max(top.from);
            if graph.at(from) < top.graph.at(from) {
                from = crossing(&top.graph, &graph, from, top.to);
                top.to = from;
                break;
            }
            if from > top.from {
                top.to = from;
                break;
            }
            self.spans.pop();
        }
        if to > from {
            self.spans.push(Span { from, to, graph });
        }
    }
}

/// Where the second graph, below the first at `from`, comes above it; `to` if it does not.
fn crossing(first: &Graph, second: &Graph, from: f64, to: f64) -> f64 {
    let (mut below, mut above) = (from, to);
    if second.at(to) <= first.at(to) {
        return to;
    }
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(below, above);
        if second.at(middle) > first.at(middle) { above = middle } else { below = middle }
    }
    above
}
