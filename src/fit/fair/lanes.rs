//! All directions from one place at once, and the curvatures that each may still have.
//!
//! The circle from the origin in the direction t that passes through v has the curvature 2·(t × v)/|v|²; one that bulges up less
//! passes above. So a point bounds the curvatures of every direction by a number that is linear in the direction, and one walk along the tube
//! serves them all.

use super::super::feasible::Side;
use super::Direction;
use crate::geometry::Point;

/// The directions that leave one place, side by side, and the range of curvatures that each may have.
#[derive(Debug, Default)]
pub(super) struct Lanes {
    /// Which state each belongs to.
    pub(super) state: Vec<u32>,
    pub(super) x: Vec<f64>,
    pub(super) z: Vec<f64>,
    pub(super) low: Vec<f64>,
    pub(super) high: Vec<f64>,
}

impl Lanes {
    /// One lane for each direction, every curvature up to `most` either way allowed.
    pub(super) fn open(&mut self, of: impl Iterator<Item = (u32, Direction)>, most: f64) {
        self.state.clear();
        self.x.clear();
        self.z.clear();
        for (state, direction) in of {
            self.state.push(state);
            self.x.push(direction.x);
            self.z.push(direction.z);
        }
        self.low.clear();
        self.low.resize(self.x.len(), -most);
        self.high.clear();
        self.high.resize(self.x.len(), most);
    }

    /// Narrows every lane by a point, given from the start.
    pub(super) fn pass(&mut self, v: Point, side: Side) {
        let twice = 2.0 / (v.x * v.x + v.z * v.z);
        let (a, b) = (v.x * twice, v.z * twice);
        let lanes = self.x.iter().zip(&self.z);
        match side {
            Side::Above => {
                for (low, (x, z)) in self.low.iter_mut().zip(lanes) {
                    let bound = x * b - z * a;
                    *low = if bound > *low { bound } else { *low };
                }
            }
            Side::Below => {
                for (high, (x, z)) in self.high.iter_mut().zip(lanes) {
                    let bound = x * b - z * a;
                    *high = if bound < *high { bound } else { *high };
                }
            }
        }
    }

    /// Leaves away the lanes in which no curvature is left; true if none is.
    pub(super) fn close(&mut self) -> bool {
        let open = self.low.iter().zip(&self.high).filter(|(low, high)| low <= high).count();
        if open < self.low.len() {
            let mut next = 0;
            for n in 0..self.low.len() {
                if self.low[n] <= self.high[n] {
                    self.state[next] = self.state[n];
                    self.x[next] = self.x[n];
                    self.z[next] = self.z[n];
                    self.low[next] = self.low[n];
                    self.high[next] = self.high[n];
                    next += 1;
                }
            }
            self.state.truncate(next);
            self.x.truncate(next);
            self.z.truncate(next);
            self.low.truncate(next);
            self.high.truncate(next);
        }
        open == 0
    }
}
