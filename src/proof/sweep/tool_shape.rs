//! The tool's lower outline, prepared for the sweep: which part of the tool is at a distance, its height there, and the outline inflated by a clearance.
//!
//! The outline is a height T(w) over the distance w from the nose centre. It never falls on either side of zero, so over a
//! range of radii the tool is lowest at the radius nearest the nose centre; the searches depend on that. A tool inflated by c has a
//! nose radius larger by c, edges moved out by c and a holder lower and wider by c. It enters metal exactly where
//! the true tool is nearer than c (at the holder's square corner somewhat sooner).

use crate::geometry::{Holder, Outline};
use crate::job::{Job, Tool};

/// A part of the tool.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// The nose, which is meant to cut.
    Nose,
    /// A straight edge beside it.
    Edge,
    /// The holder.
    Holder,
}

/// A point where the outline's form changes: distance from the nose centre (outward positive) and height there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corner {
    /// Distance from the nose centre.
    pub w: f64,
    /// Height of the outline there.
    pub height: f64,
}

/// How steeply a straight line climbs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slope {
    /// Its slope.
    pub rise: f64,
    /// Its length over its width.
    pub length: f64,
}

impl Slope {
    /// From a slope.
    #[must_use]
    pub fn new(slope: f64) -> Self {
        Self { rise: slope, length: slope.hypot(1.0) }
    }
}

/// One side of the outline; distances count away from the nose centre.
#[derive(Debug, Clone, Copy)]
struct ToolSide {
    /// Where the nose ends.
    nose_end: f64,
    /// Height of the outline there.
    nose_top: f64,
    /// How steeply the edge climbs.
    climb: f64,
    /// Where the edge ends; infinite where the holder is unknown.
    edge_end: f64,
    /// The holder's underside: its height and its reach.
    under: Option<(f64, f64)>,
}

/// A tool's lower outline, ready for a sweep.
#[derive(Debug, Clone)]
pub struct ToolShape {
    nose_radius: f64,
    /// How far the lowest point is below the front point: the clearance.
    drop: f64,
    inner: ToolSide,
    outer: ToolSide,
    edges: [Slope; 2],
    corners: Vec<Corner>,
}

impl ToolShape {
    /// The true tool.
    #[must_use]
    pub fn new(outline: &Outline) -> Self {
        Self::inflated(outline, 0.0)
    }

    /// The tool inflated by a distance on all sides; its position is still that of the front point of the true tool.
    #[must_use]
    pub fn inflated(outline: &Outline, by: f64) -> Self {
        let Outline { nose_radius, inner_edge, outer_edge, edge_length, holder } = *outline;
        let reach = |pick: fn(Holder) -> f64| holder.map(pick);
        let inner = ToolSide::inflated(nose_radius, inner_edge, edge_length, reach(|h| h.inner), by);
        let outer = ToolSide::inflated(nose_radius, outer_edge, edge_length, reach(|h| h.outer), by);
        let corners =
            [(-1.0, inner), (1.0, outer)].into_iter().flat_map(|(sign, side)| side.corners(sign)).collect();
        let edges = [-inner.climb, outer.climb].map(Slope::new);
        Self { nose_radius: nose_radius + by, drop: by, inner, outer, edges, corners }
    }

    /// Nose radius, with the clearance.
    #[must_use]
    pub const fn nose_radius(&self) -> f64 {
        self.nose_radius
    }

    /// The outline's height over the front point at a distance from the nose centre; infinite where there is no tool.
    #[must_use]
    pub fn height(&self, w: f64) -> f64 {
        let side = self.side(w);
        let w = w.abs();
        if w <= side.nose_end {
            let r = self.nose_radius;
            return r - (r * r - w * w).max(0.0).sqrt() - self.drop;
        }
        if w <= side.edge_end {
            return side.nose_top + (w - side.nose_end) * side.climb;
        }
        match side.under {
            Some((height, reach)) if w <= reach => height,
            _ => f64::INFINITY,
        }
    }

    /// The part of the tool at a distance from the nose centre.
    #[must_use]
    pub fn part(&self, w: f64) -> Part {
        let side = self.side(w);
        // Up to a thousandth beyond the end of the nose is rounding, not the edge.
        let rounding = 1e-3 * self.nose_radius;
        if w.abs() <= side.nose_end + rounding {
            Part::Nose
        } else if w.abs() <= side.edge_end + rounding {
            Part::Edge
        } else {
            Part::Holder
        }
    }

    /// Cosine of the angle at which the nose or the edge beside it slopes at a distance from the nose centre.
    #[must_use]
    pub fn cosine(&self, w: f64) -> f64 {
        let side = self.side(w);
        if w.abs() < side.nose_end {
            (1.0 - (w / self.nose_radius).powi(2)).max(0.0).sqrt()
        } else {
            1.0 / side.climb.hypot(1.0)
        }
    }

    /// Distances from the nose centre, inward and outward and both counted positive, beyond which the outline stands at `height` or higher.
    #[must_use]
    pub fn reach_below(&self, height: f64) -> (f64, f64) {
        (self.side_reach(self.inner, height), self.side_reach(self.outer, height))
    }

    /// Where the outline's form changes.
    #[must_use]
    pub fn corners(&self) -> &[Corner] {
        &self.corners
    }

    /// The slopes of the inner and the outer edge, outward.
    #[must_use]
    pub const fn edges(&self) -> [Slope; 2] {
        self.edges
    }

    const fn side(&self, w: f64) -> &ToolSide {
        if w < 0.0 { &self.inner } else { &self.outer }
    }

    fn side_reach(&self, side: ToolSide, height: f64) -> f64 {
        let r = self.nose_radius;
        let rise = height + self.drop;
        if rise <= 0.0 {
            return 0.0;
        }
        if height <= side.nose_top {
            return (r * r - (r - rise) * (r - rise)).max(0.0).sqrt();
        }
        let on_edge = side.nose_end + (height - side.nose_top) / side.climb;
        match side.under {
            _ if on_edge <= side.edge_end => on_edge,
            Some((under, reach)) if height > under => reach,
            _ => side.edge_end,
        }
    }
}

impl ToolSide {
    fn inflated(nose_radius: f64, edge: f64, edge_length: f64, reach: Option<f64>, by: f64) -> Self {
        let r = nose_radius + by;
        let climb = 1.0 / edge.tan();
        let nose_end = r * edge.cos();
        let nose_top = r * (1.0 - edge.sin()) - by;
        let Some(reach) = reach else {
            return Self { nose_end, nose_top, climb, edge_end: f64::INFINITY, under: None };
        };
        let under = nose_radius * (1.0 - edge.sin()) + edge_length * edge.cos() - by;
        let true_edge_end = nose_radius * edge.cos() + edge_length * edge.sin();
        let reach = reach.max(true_edge_end) + by;
        if under < nose_top {
            // Inflated so much that the holder's underside meets the nose below its end.
            let rise = under + by;
            let end = (r * r - (r - rise) * (r - rise)).max(0.0).sqrt();
            return Self {
                nose_end: end,
                nose_top: under,
                climb,
                edge_end: end,
                under: Some((under, reach)),
            };
        }
        let edge_end = (nose_end + (under - nose_top) / climb).min(reach);
        Self { nose_end, nose_top, climb, edge_end, under: Some((under, reach)) }
    }

    fn corners(self, sign: f64) -> Vec<Corner> {
        let mut corners = vec![Corner { w: sign * self.nose_end, height: self.nose_top }];
        if let Some((height, reach)) = self.under {
            let edge_top = self.nose_top + (self.edge_end - self.nose_end) * self.climb;
            corners.push(Corner { w: sign * self.edge_end, height: edge_top });
            if reach > self.edge_end {
                corners.push(Corner { w: sign * reach, height });
            }
        }
        corners
    }
}

/// How far from the end of a zone a nose climbs from a depth, millimetres: the furthest of all tools.
#[must_use]
pub fn climb(job: &Job, depth: f64) -> f64 {
    let reach = |tool: &Tool| ToolShape::new(&tool.outline()).reach_below(depth);
    job.tools.iter().map(reach).map(|(a, b)| a.max(b)).fold(0.0, f64::max)
}
