//! How a tool leaves the metal where a zone runs off it: straight on at feed, until its nose is clear of the edge.
//!
//! Where the tool touches the last of the face its path goes on along its tangent if that climbs, else level: so it goes nowhere below what it
//! came along, and cuts nothing of a face that falls away or of what may stand beyond. The nose is clear once its centre stands a nose
//! radius, and a little, beyond the edge; there the way off begins.
//!
//! Limit: what stands beyond the edge nobody has measured. Keep-outs and the travel hold there as everywhere.

use super::surface::Span;
use crate::geometry::{Curve, Grid, Outline, Piece, Point};

/// The nose goes this far beyond standing clear of the edge, millimetres: what the edge of a wheel may run out in the plane, and then some.
const CLEAR: f64 = 0.5;

/// A tool is looked for this far short of an edge, millimetres: at the edge itself it rolls over without touching anything else.
const SHORT: f64 = 0.001;

/// The radii between which the tool is to touch a zone that runs off at some of its ends.
#[must_use]
pub(super) fn touched(zone: Span, [inner, outer]: [bool; 2]) -> Span {
    Span {
        from: if inner { zone.from + SHORT } else { zone.from },
        to: if outer { zone.to - SHORT } else { zone.to },
    }
}

/// A path that goes on beyond the edges of the face at the ends that run off.
#[must_use]
pub(super) fn extended(path: &Curve, runs_off: [bool; 2], face: Span, tool: &Outline, grid: &Grid) -> Curve {
    let [inner, outer] = runs_off;
    let mut pieces = path.pieces().to_vec();
    let beyond = tool.nose_radius + CLEAR;
    if inner {
        let start = Point::new(path.start(), path.at(path.start()));
        let climb = (-path.slope_at(path.start())).max(0.0);
        let x = grid.nearest_x(face.from - beyond);
        if x < start.x {
            pieces.insert(0, Piece::line(Point::new(x, start.z + climb * (start.x - x)), start));
        }
    }
    if outer {
        let end = Point::new(path.end(), path.at(path.end()));
        let climb = path.slope_at(path.end()).max(0.0);
        let x = grid.nearest_x(face.to + beyond);
        if x > end.x {
            pieces.push(Piece::line(end, Point::new(x, end.z + climb * (x - end.x))));
        }
    }
    Curve::from_pieces(pieces)
}
