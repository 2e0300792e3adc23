//! The lowest point of a tool over a radius, over many segments, in logarithmic time.
//!
//! The segments are the leaves of a binary tree of bounding boxes. If the front points in a box are not lower than z and not
//! nearer to u than w, the tool is nowhere below `z + T(w)`, because T never falls away from the nose centre. Such a
//! box is skipped once a lower point is known (branch and bound). The answer is exact whatever the order of the segments;
//! the time is logarithmic where segments that follow one another in the program are near one another in space, as along any path.

use super::segment::{LowestPoint, Segment};
use super::tool_shape::ToolShape;
use rayon::prelude::*;

/// Heights closer than this count as equal; the earlier movement is then named.
const SAME: f64 = 1e-10;

/// Radii are searched on several processors in shares of so many: some dozens would go where a share begins far from its leaf.
const SHARE: usize = 512;

#[derive(Debug, Clone, Copy)]
struct Bounds {
    x0: f64,
    x1: f64,
    z: f64,
}

impl Bounds {
    const EMPTY: Self = Self { x0: f64::INFINITY, x1: f64::NEG_INFINITY, z: f64::INFINITY };

    const fn joined(self, other: Self) -> Self {
        Self { x0: self.x0.min(other.x0), x1: self.x1.max(other.x1), z: self.z.min(other.z) }
    }

    /// Lower bound of the tool's height over `u` while its front point is in the box; infinite for an empty box.
    fn floor(&self, shape: &ToolShape, u: f64) -> f64 {
        self.z + shape.height(u - u.max(self.x0).min(self.x1))
    }
}

/// Segments in a tree of bounding boxes.
#[derive(Debug)]
pub struct Tree {
    segments: Vec<Segment>,
    /// Boxes in heap order, the root at 1, the leaves from `width` on.
    boxes: Vec<Bounds>,
    width: usize,
}

impl Tree {
    /// A tree over segments in the order of the program.
    #[must_use]
    pub fn new(segments: Vec<Segment>) -> Self {
        let width = segments.len().next_power_of_two();
        let mut boxes = vec![Bounds::EMPTY; 2 * width];
        for (leaf, s) in boxes[width..].iter_mut().zip(&segments) {
            *leaf = Bounds { x0: s.x0, x1: s.x1, z: s.least() };
        }
        for i in (1..width).rev() {
            boxes[i] = boxes[2 * i].joined(boxes[2 * i + 1]);
        }
        Self { segments, boxes, width }
    }

    /// Least and greatest radius of the front point, and its least height; none without segments.
    #[must_use]
    pub fn extent(&self) -> Option<(f64, f64, f64)> {
        let all = self.boxes.get(1)?;
        (all.x0 <= all.x1).then_some((all.x0, all.x1, all.z))
    }

    /// The lowest point of the tool over a radius. `near` is the leaf found for a neighbouring radius; the leaf found is left in it.
    ///
    /// The search begins at that leaf and goes up to the root; at each step the other half is searched if it can contain a lower point.
    #[must_use]
    pub fn lowest(&self, shape: &ToolShape, u: f64, near: &mut usize) -> LowestPoint {
        let mut best = LowestPoint::NONE;
        let mut node = self.width + *near;
        self.search(node, shape, u, &mut best, near);
        while node > 1 {
            let beside = node ^ 1;
            if self.boxes[beside].floor(shape, u) < best.z + SAME {
                self.search(beside, shape, u, &mut best, near);
            }
            node /= 2;
        }
        best
    }

    /// The lowest points of the tool over many radii in rising order.
    #[must_use]
    pub fn lowest_each(&self, shape: &ToolShape, radii: &[f64]) -> Vec<LowestPoint> {
        // Within a share each search begins at the leaf of the one before.
        let shares = radii.par_chunks(SHARE).map(|share| {
            let mut near = 0;
            share.iter().map(|&u| self.lowest(shape, u, &mut near)).collect::<Vec<_>>()
        });
        shares.collect::<Vec<_>>().concat()
    }

    fn search(&self, node: usize, shape: &ToolShape, u: f64, best: &mut LowestPoint, near: &mut usize) {
        if node >= self.width {
            let Some(segment) = self.segments.get(node - self.width) else { return };
            let point = segment.lowest(shape, u);
            let lower = point.z < best.z - SAME;
            let earlier = point.z < best.z + SAME && point.movement < best.movement;
            if lower || earlier {
                *best = point;
                *near = node - self.width;
            }
            return;
        }
        let (left, right) = (2 * node, 2 * node + 1);
        let floors = (self.boxes[left].floor(shape, u), self.boxes[right].floor(shape, u));
        let order = if floors.0 <= floors.1 {
            [(left, floors.0), (right, floors.1)]
        } else {
            [(right, floors.1), (left, floors.0)]
        };
        for (child, floor) in order {
            if floor < best.z + SAME {
                self.search(child, shape, u, best, near);
            }
        }
    }
}
