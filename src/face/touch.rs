//! Where a tool touches the face: the height at which its front point stands when it first meets metal.
//!
//! Lowered at a fixed radius, the tool stops at `z = max over u of f(u) − T(u − at)`. The face f is
//! straight between its points and the outline T is a nose arc, two straight edges and perhaps a
//! flat holder, so on each segment of f the largest value stands at an end of the segment, where
//! the outline changes from one part to the next, or where the nose arc is parallel to the segment.
//! All of these are tried; nothing is approximated and no step size enters. The search takes every
//! segment in turn and shares nothing with the envelope, so each can be held against the other.
//!
//! Only the face between its ends is metal; what lies beyond is not known and not touched.

use crate::geometry::{Outline, Point, Profile};

/// A tool standing on the face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Touch {
    /// Height of the tool's front point (the nose's lowest point), millimetres.
    /// Negative infinity where no part of the tool stands over the face.
    pub z: f64,
    /// Radius at which the tool meets the face, millimetres; of several, the one nearest the nose centre.
    pub contact: f64,
}

/// Lowers the tool with its nose centre at the radius `at` (millimetres) until it meets the face.
///
/// ```
/// use facewright::face::touch;
/// use facewright::geometry::{Outline, Point, Profile};
/// let flat = Profile::new(vec![Point::new(50.0, 2.0), Point::new(90.0, 2.0)])?;
/// let tool = Outline { nose_radius: 0.8, inner_edge: 0.5, outer_edge: 0.5, edge_length: 8.0, holder: None };
/// let t = touch(&flat, &tool, 70.0);
/// assert_eq!((t.z, t.contact), (2.0, 70.0));
/// # Ok::<(), facewright::geometry::profile::ProfileError>(())
/// ```
#[must_use]
pub fn touch(face: &Profile, outline: &Outline, at: f64) -> Touch {
    let breaks = outline_breaks(outline);
    let mut best = Touch { z: f64::NEG_INFINITY, contact: at };
    // The distance w goes in beside u, not as u − at: rounding must not push the holder's last point off its end.
    let mut stand = |w: f64, u: f64, f: f64| {
        let z = f - outline.height(w);
        let nearer = w.abs() < (best.contact - at).abs();
        if z > best.z || (z == best.z && nearer) {
            best = Touch { z, contact: u };
        }
    };
    for pair in face.points().windows(2) {
        let [a, b] = pair else { continue };
        stand(a.x - at, a.x, a.z);
        stand(b.x - at, b.x, b.z);
        let slope = (b.z - a.z) / (b.x - a.x);
        // The nose arc has the segment's slope s at w = r·s/√(1 + s²), where the nose reaches so far.
        let parallel = outline.nose_radius * slope / slope.hypot(1.0);
        for w in breaks.into_iter().chain([parallel]) {
            let u = at + w;
            if u > a.x && u < b.x {
                stand(w, u, on_segment(*a, *b, u));
            }
        }
    }
    best
}

fn on_segment(a: Point, b: Point, u: f64) -> f64 {
    a.z + (b.z - a.z) * ((u - a.x) / (b.x - a.x))
}

/// The distances from the nose centre at which the outline changes from nose to edge, from edge to holder, and ends.
fn outline_breaks(outline: &Outline) -> [f64; 7] {
    let r = outline.nose_radius;
    let nose = |angle: f64| r * angle.cos();
    let edge = |angle: f64| nose(angle) + outline.edge_length * angle.sin();
    // Without a holder the edges go on without end, and the edge's end is no break; trying it does no harm.
    let (inner_reach, outer_reach) = outline.holder.map_or((0.0, 0.0), |h| (h.inner, h.outer));
    [
        0.0,
        -nose(outline.inner_edge),
        nose(outline.outer_edge),
        -edge(outline.inner_edge),
        edge(outline.outer_edge),
        -inner_reach,
        outer_reach,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Holder;
    use proptest::prelude::*;

    fn tool() -> Outline {
        Outline { nose_radius: 1.2, inner_edge: 0.5, outer_edge: 0.6, edge_length: 8.0, holder: None }
    }

    fn profile(points: &[(f64, f64)]) -> Profile {
        match Profile::new(points.iter().map(|&(x, z)| Point::new(x, z)).collect()) {
            Ok(p) => p,
            Err(e) => panic!("{e}"),
        }
    }

    #[test]
    fn on_a_slope_the_nose_rolls_uphill() {
        // Plane geometry: a circle of radius r on a slope s stands r·(√(1+s²) − 1) above the slope at its own x.
        let s = 0.25;
        let t = touch(&profile(&[(10.0, 0.0), (50.0, 40.0 * s)]), &tool(), 30.0);
        let r = 1.2;
        assert!((t.z - (20.0 * s + r * (s.hypot(1.0) - 1.0))).abs() < 1e-12, "{t:?}");
        assert!((t.contact - (30.0 + r * s / s.hypot(1.0))).abs() < 1e-12, "{t:?}");
    }

    #[test]
    fn a_holder_may_meet_the_rim_first() {
        let with_holder = Outline { holder: Some(Holder { inner: 4.0, outer: 25.0 }), ..tool() };
        let lip = profile(&[(10.0, 0.0), (50.0, 0.0), (50.1, 20.0), (60.0, 20.0)]);
        let t = touch(&lip, &with_holder, 30.0);
        assert!(t.contact > 50.0, "{t:?}");
        assert!((t.z - (20.0 - with_holder.height(t.contact - 30.0))).abs() < 1e-12);
    }

    #[test]
    fn nothing_below_the_tool_is_no_touch() {
        let with_holder = Outline { holder: Some(Holder { inner: 4.0, outer: 5.0 }), ..tool() };
        assert_eq!(touch(&profile(&[(10.0, 0.0), (12.0, 0.0)]), &with_holder, 30.0).z, f64::NEG_INFINITY);
    }

    proptest! {
        /// Where it stands the tool enters the face nowhere, and it meets it at the contact.
        #[test]
        fn it_touches_and_never_enters(
            heights in prop::collection::vec(-2.0..2.0f64, 3..30),
            at in 1.0..20.0f64,
            with_holder in any::<bool>(),
        ) {
            let points: Vec<_> = heights.iter().enumerate().map(|(i, &z)| (i as f64 * 0.7, z)).collect();
            let face = profile(&points);
            let outline = Outline { holder: with_holder.then_some(Holder { inner: 6.0, outer: 25.0 }), ..tool() };
            let t = touch(&face, &outline, at);
            prop_assume!(t.z.is_finite());
            let gap = |u: f64| t.z + outline.height(u - at) - face.at(u);
            prop_assert!(gap(t.contact).abs() < 1e-9);
            let steps = 5000;
            for i in 0..=steps {
                let u = face.start() + (face.end() - face.start()) * f64::from(i) / f64::from(steps);
                prop_assert!(gap(u) > -1e-9, "enters at {u} by {}", gap(u));
            }
        }
    }
}
