//! Corners: where the path itself turns sharply.
//!
//! A nose that rolls over a face turns on arcs no tighter than itself; only where it leaves one place of the face
//! for another at once, in a hollow sharper than the nose or at the wall of a zone, does the path have a kink. An arc with
//! tangents that agree could replace a kink of the angle φ in the tolerance t if its radius were no more than t/(sec(φ/2) − 1):
//! under some degrees that is an arc worth writing, beyond it is shorter than the marks of the control's words.

use super::Tube;
use super::control::{arrives, leaves};
use crate::geometry::Curve;

/// From which change of direction on a kink is a corner, radians: at a tolerance of 0.005 mm the arc in its place would have a radius
/// of 0.3 mm and a length of 0.1 mm.
pub(super) const SHARP: f64 = 20.0 * std::f64::consts::PI / 180.0;

/// From which change of direction on a kink may be left as one where no arc with tangents that agree goes round it, radians.
pub(super) const BLUNT: f64 = 3.0 * std::f64::consts::PI / 180.0;

/// A corner of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corner {
    /// The radius at which it stands, millimetres.
    pub x: f64,
    /// The change of direction, radians, above zero where the path turns upward.
    pub turn: f64,
}

/// The corners of a path, those that are sharp and those that may be left as corners. Joints within two steps of the grid count as one.
#[must_use]
pub fn corners(path: &Curve, tube: &Tube) -> Vec<Corner> {
    let width = 2.0 * tube.grid.dx;
    let pieces = path.pieces();
    let mut found = Vec::new();
    let mut i = 1;
    while i < pieces.len() {
        let x = pieces[i].from().x;
        let before = arrives(&pieces[i - 1]);
        let (mut low, mut high) = (before, before);
        let mut last = i;
        while let Some(piece) = pieces.get(last) {
            let heading = leaves(piece);
            (low, high) = (low.min(heading), high.max(heading));
            if piece.to().x - x > width {
                break;
            }
            last += 1;
        }
        if high - low >= BLUNT {
            let net = pieces.get(last).map_or(0.0, |p| leaves(p) - before);
            let turn = if net < 0.0 { low - high } else { high - low };
            let end = pieces.get(last).map_or(path.end(), |p| p.from().x);
            found.push(Corner { x: f64::midpoint(x, end), turn });
            i = last + 1;
        } else {
            i += 1;
        }
    }
    found
}

impl Corner {
    /// How far from the corner the arc begins that goes round it at half the tolerance, millimetres.
    pub(super) fn tangent(&self, tolerance: f64) -> f64 {
        let half = (self.turn.abs() / 2.0).min(1.0);
        tolerance / 2.0 / (half.cos().recip() - 1.0) * half.tan()
    }

    /// Whether no arc worth writing goes round it.
    pub(super) fn is_sharp(&self) -> bool {
        self.turn.abs() >= SHARP
    }
}
