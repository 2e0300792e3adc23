//! The motions of a pass as they are put together, each starting where the one before it ended.

use super::{Motion, Role};
use crate::geometry::{Piece, Point};

/// Motions one after the other.
pub(super) struct MotionBuilder {
    /// Where the tool stands.
    pub at: Point,
    /// Those so far.
    pub motions: Vec<Motion>,
}

impl MotionBuilder {
    /// Straight to a place; nothing where it stands there.
    pub fn to(&mut self, role: Role, to: Point) {
        if to != self.at {
            self.motions.push(Motion::new(role, Piece::line(self.at, to)));
            self.at = to;
        }
    }

    /// Along a piece that begins where it stands, lifted.
    pub fn along(&mut self, role: Role, piece: &Piece, lift: f64) {
        let piece = piece.shifted(0.0, lift);
        self.at = piece.to();
        self.motions.push(Motion::new(role, piece));
    }
}
