//! A ball probe: the surface under the path of the ball, and where the ball could not reach it.
//!
//! What a ball reads is the dilation of the face by its disk. That is a face as smooth as any, with damage, tilt and bend as on
//! any other, so the model is fitted to the readings as they are; the disk comes off last, when noise no longer makes
//! the erosion follow its lowest readings.
//!
//! The path is that of the ball's lowest point, as if it touched there. The surface is the erosion of the path by the
//! ball's disk (ISO 16610-40), exact. Where the path has a valley sharper than the ball, the ball sat on both
//! walls at once: between the two places of contact the surface lies below what the erosion gives.

use super::line::Stretch;
use crate::geometry::envelope::erode_disk;
use crate::geometry::{Point, Profile};

/// A stretch is told as unreached if the ball's contact jumps over it by more than this share of its radius:
/// a jump that the noise left in the slopes does not make.
const JUMP: f64 = 0.125;

/// The surface at the path's own radii, and the stretches that the ball did not touch.
#[must_use]
pub fn surface(path: &Profile, radius: f64) -> (Vec<Point>, Vec<Stretch>) {
    let centres = path.raised(radius);
    let surface = erode_disk(&centres, radius);
    let points = path.points().iter().map(|p| Point::new(p.x, surface.at(p.x))).collect();
    (points, unreached(path, radius))
}

/// A ball on a path of slope m touches at `x + R·m/√(1 + m²)`: where that runs ahead at a corner, nothing between was touched.
fn unreached(path: &Profile, radius: f64) -> Vec<Stretch> {
    let contact = |a: Point, b: Point| {
        let (dx, dz) = (b.x - a.x, b.z - a.z);
        radius * dz / dx.hypot(dz)
    };
    let mut out: Vec<Stretch> = Vec::new();
    for w in path.points().windows(3) {
        let (before, behind) = (contact(w[0], w[1]), contact(w[1], w[2]));
        if behind - before > JUMP * radius {
            let (from, to) = (w[1].x + before, w[1].x + behind);
            match out.last_mut() {
                Some(last) if last.to >= from => last.to = last.to.max(to),
                _ => out.push(Stretch { from, to }),
            }
        }
    }
    out
}
