//! Keep-outs of any shape: what the sweep finds, held against geo's own intersection and distance of polygons.

use crate::fixtures::face::face;
use crate::fixtures::job::{job, mm};
use crate::fixtures::script::Script;
use facewright::geometry::Outline;
use facewright::job::KeepOut;
use facewright::proof::sweep::sweep;
use geo::{Coord, Distance, Euclidean, Intersects, LineString, Polygon, Translate};
use proptest::prelude::*;
use std::f64::consts::TAU;

/// How far the tool's polygon reaches from the nose, and how finely its underside is drawn, millimetres.
const REACH: f64 = 120.0;
const DRAWN: f64 = 0.25;

/// Positions looked at along a motion.
const LOOKS: u32 = 300;

/// A tool that stays so far away at every position looked at meets nothing between them either, millimetres: half a step of the
/// longest motion, and what the chords of the underside leave out.
const CLEAR: f64 = 0.5;

/// The tool over its front point at the origin: all that stands above chords of its underside, so no more than the tool.
fn tool(outline: &Outline) -> Polygon<f64> {
    let under = std::iter::successors(Some(-REACH), |w| (*w < REACH).then_some(w + DRAWN));
    let mut corners: Vec<Coord<f64>> =
        under.map(|w| Coord { x: w, y: outline.height(w) }).filter(|c| c.y.is_finite()).collect();
    let top = 1000.0;
    let (first, last) = (corners[0], corners[corners.len() - 1]);
    corners.extend([Coord { x: last.x, y: top }, Coord { x: first.x, y: top }]);
    Polygon::new(LineString::new(corners), Vec::new())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// A motion that meets the outline at any position is stopped; one that stays clear of it everywhere is not.
    #[test]
    fn what_meets_the_outline_is_stopped_and_what_stays_clear_is_not(
        radii in prop::collection::vec(4.0..30.0_f64, 3..9),
        turned in 0.0..1.0_f64,
        middle in (60.0..140.0_f64, 20.0..60.0_f64),
        from in (55.0..145.0_f64, 1.0..80.0_f64),
        to in (55.0..145.0_f64, 1.0..80.0_f64),
    ) {
        // Corners in their order round a middle: an outline that does not cross itself, with hollows and overhangs.
        let count = radii.len() as f64;
        let corners: Vec<_> = radii.iter().enumerate().map(|(i, r)| {
            let angle = TAU * (turned + i as f64) / count;
            [mm(middle.0 + r * angle.cos()), mm(middle.1 + r * angle.sin())]
        }).collect();
        let keep_out = KeepOut::polygon("clamp", &corners).expect("a simple outline");
        let mut asked = job(1, 0, 50.0, 150.0);
        asked.keep_out.push(keep_out.clone());
        let program = Script::new(from.0, from.1).feed(to.0, to.1).movements;
        let found = sweep(&program, &asked, &face(&[(50.0, 0.0), (150.0, 0.0)]));
        let stopped = found.findings.iter().any(|f| f.rule.id() == "keep-out");

        let tool = tool(&asked.tools[0].outline());
        let at = |i: u32| {
            let t = f64::from(i) / f64::from(LOOKS);
            tool.translate(from.0 + (to.0 - from.0) * t, from.1 + (to.1 - from.1) * t)
        };
        let placed: Vec<_> = (0..=LOOKS).map(at).collect();
        if placed.iter().any(|tool| tool.intersects(keep_out.outline())) {
            prop_assert!(stopped, "met and not found");
        } else if placed.iter().step_by(3).all(|tool| Euclidean.distance(tool, keep_out.outline()) > CLEAR) {
            prop_assert!(!stopped, "{:?}", found.findings);
        }
    }
}
