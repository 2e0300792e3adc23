//! The windows between two zones, as the job names them: no metal stands there to be cut, and nobody knows what stands low in them.
//!
//! Beside each edge the nose rolls off, and stands by less than itself below it. Further in a tool has nothing to do at feed, nor has one that
//! goes on at feed from the one zone into the other. At rapid a window counts as covered, straight from edge to edge.

use super::{CLEARANCE_SLACK, Edge, LEAD, OUTSIDE, Obstacle, PAST_EDGE, Speed};
use crate::diagnostics::{Finding, SweepRule, Unit};
use crate::geometry::Outline;
use crate::job::Job;
use crate::proof::Movement;
use crate::proof::sweep::allowed_depth::AllowedDepth;
use crate::proof::sweep::findings::{mm, note};
use crate::proof::sweep::metal::Metal;
use crate::proof::sweep::segment::Segment;
use crate::proof::sweep::tool_shape::ToolShape;

/// The front point of a tool by itself, millimetres and radians: a tool so slender that nothing else of it counts.
const POINT: Outline =
    Outline { nose_radius: 1e-6, inner_edge: 1e-3, outer_edge: 1e-3, edge_length: 1.0, holder: None };

/// What a front point must stay above at feed.
#[derive(Debug, Clone)]
pub(super) struct Window {
    /// Its edges.
    edges: [f64; 2],
    /// Beside its edges, by less than a nose below them.
    beside: Vec<Edge>,
    /// Further in, by the clearance above the lines from edge to edge.
    further_in: Option<Edge>,
    /// The same all over it.
    over: Edge,
}

/// The windows of a job.
pub(super) fn windows(job: &Job, metal: &Metal, allowed: &AllowedDepth) -> Vec<Window> {
    let widest = job.tools.iter().map(|t| t.nose_radius.as_mm()).fold(0.0, f64::max);
    let of = |[from, to]: [f64; 2]| {
        let height = |x: f64| metal.face.get(metal.radii.partition_point(|u| *u < x)).copied();
        let [inner, outer] = [height(from)?, height(to)?];
        let clearance = (job.machine.clearance.as_mm() - CLEARANCE_SLACK).max(0.0);
        let climb = (outer - inner) / (to - from);
        let above = |radii: [f64; 2]| {
            let height = inner + climb * (radii[0] - from);
            Edge { radii, heights: [height + clearance, height], climb }
        };
        let level = |from: f64, to: f64, height: f64| {
            let height = height - allowed.most - widest - OUTSIDE;
            (from <= to).then_some(Edge { radii: [from, to], heights: [height; 2], climb: 0.0 })
        };
        // So far past each edge a nose goes on its way off.
        let past = widest + PAST_EDGE + LEAD;
        let [off, on] = [(from + past).min(to), (to - past).max(from)];
        let [first, last] = [off.min(on), off.max(on)];
        let both = level(first, last, inner.min(outer)).filter(|_| on < off);
        let beside = [level(from, first, inner), both, level(last, to, outer)].into_iter().flatten();
        Some(Window {
            edges: [from, to],
            beside: beside.collect(),
            further_in: (off < on).then(|| above([off, on])),
            over: above([from, to]),
        })
    };
    job.runs_off.windows_mm().filter_map(of).collect()
}

impl Window {
    /// What a rapid meets.
    pub(super) fn obstacle(&self) -> Obstacle {
        let edge = Edge { heights: [f64::NEG_INFINITY, self.over.heights[1]], ..self.over };
        let name = format!("{}, of which nobody knows what stands in it", self.name());
        Obstacle { name, edges: vec![edge], unmeasured: true }
    }

    fn name(&self) -> String {
        let [from, to] = self.edges;
        format!("the window from radius {} to {}", mm(from), mm(to))
    }

    /// Judges motions at feed that cross the face one way.
    pub(super) fn judge_feed(
        &self,
        segments: &[Segment],
        movements: &[Movement],
        findings: &mut Vec<Finding>,
    ) {
        let point = ToolShape::new(&POINT);
        let lowest = |edge: &Edge| {
            let below =
                |s: &Segment| edge.height(Speed::Feed) - s.lowest_above(&point, edge.radii, edge.climb);
            let all = segments.iter().map(|s| (below(s), s.movement));
            all.filter(|(below, _)| *below > 0.0).max_by(|a, b| a.0.total_cmp(&b.0))
        };
        let [first, last] = segments
            .iter()
            .flat_map(|s| [s.x0, s.x1])
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[first, last], x| [first.min(x), last.max(x)]);
        let [from, to] = self.edges;
        let crosses = (first <= from && to <= last).then_some(&self.over);
        let astray = crosses.or(self.further_in.as_ref()).and_then(lowest);
        let dives = self.beside.iter().filter_map(lowest).max_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((below, movement)) = dives {
            let what = format!("the tool goes {} too low beside an edge of {}", mm(below), self.name());
            let finding = note(SweepRule::Unmeasured, movements.get(movement), what);
            findings.push(finding.measured(below, Some(0.0), Unit::Mm));
        } else if let Some((_, movement)) = astray {
            let what = format!("the tool is fed low over {}, where the job has nothing to cut", self.name());
            findings.push(note(SweepRule::FedAstray, movements.get(movement), what));
        }
    }
}
