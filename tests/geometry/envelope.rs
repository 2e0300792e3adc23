//! The laws of the envelope, its closed forms, and its values against general-purpose libraries.

use crate::fixtures::envelope::{close, dilate, erode};
use facewright::geometry::envelope::{Graph, dilate_disk, erode_disk, greatest_excess, higher, lower};
use facewright::geometry::{Curve, Holder, Outline, Piece, Point, Profile};
use float_cmp::assert_approx_eq;
use proptest::prelude::*;

/// A path may lie no more than this below the exact one: the rounding of x (3e-14 mm at 200 mm) on the steepest wall
/// of these tests, 3 mm high and 1e-6 mm wide, is 1e-7 mm; elsewhere it is far less.
const BELOW: f64 = 1e-7;

/// And no more than this above it. Where an arc ends upright, as parallel curves do, x holds its height only to √(2·r·ε), some 4e-7 mm for
/// r = 3 mm and ε = 3e-14 mm, the rounding of a radius of 200 mm; what lies between is decided upward.
const ABOVE: f64 = 1e-6;

/// A case is the same in every run: the seed is fixed.
fn cases(n: u32) -> ProptestConfig {
    ProptestConfig {
        cases: n,
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(7),
        ..ProptestConfig::default()
    }
}

fn profile(points: &[(f64, f64)]) -> Profile {
    Profile::new(points.iter().map(|&(x, z)| Point::new(x, z)).collect()).unwrap()
}

/// Steps of x that occur: walls of a nanometre, dense scans, hand-measured points.
fn any_step() -> impl Strategy<Value = f64> {
    prop_oneof![
        1 => Just(1e-6),
        2 => 1e-4..1e-3,
        6 => 0.01..0.5,
        3 => 0.5..6.0,
    ]
}

fn any_profile() -> impl Strategy<Value = Profile> {
    (
        0.0..400.0,
        prop::collection::vec((any_step(), -1.0..1.0), 1..40),
        prop_oneof![Just(0.02), Just(0.5), Just(3.0)],
    )
        .prop_map(|(start, steps, height)| {
            let mut x = start;
            let mut points = vec![(x, 0.0)];
            for (dx, z) in steps {
                x += dx;
                points.push((x, z * height));
            }
            profile(&points)
        })
}

/// Curves of lines, caps and cups.
fn any_curve() -> impl Strategy<Value = Curve> {
    (any_profile(), 0.05..3.0, 0.05..3.0, 0..3).prop_map(|(f, up, down, how)| {
        let line = Curve::from(&f);
        match how {
            0 => line,
            1 => erode_disk(&dilate_disk(&line, up), down),
            _ => dilate_disk(&erode_disk(&line, down), up),
        }
    })
}

fn any_tool() -> impl Strategy<Value = Outline> {
    let holder = prop::option::of((0.5..30.0, 0.5..30.0));
    (0.2..3.0, 0.1..1.3, 0.1..1.3, 2.0..9.0, holder).prop_map(|(r, inner, outer, length, holder)| Outline {
        nose_radius: r,
        inner_edge: inner,
        outer_edge: outer,
        edge_length: length,
        holder: holder.map(|(inner, outer)| Holder { inner, outer }),
    })
}

/// The greatest f(u) − T(u−x) by search: every piece, every stretch of the outline, samples and then a ternary search around the best.
fn searched(f: &Curve, tool: &Outline, x: f64) -> f64 {
    let (inner, outer) = (tool.inner(), tool.outer());
    let mut knees = [
        -inner.width().min(1e4),
        -inner.edge_end.x,
        -inner.nose_end.x,
        0.0,
        outer.nose_end.x,
        outer.edge_end.x,
        outer.width().min(1e4),
    ];
    knees.sort_by(f64::total_cmp);
    let mut best = f64::NEG_INFINITY;
    for piece in f.pieces() {
        for w in knees.windows(2) {
            let (lo, hi) = (piece.from().x.max(x + w[0]), piece.to().x.min(x + w[1]));
            if lo > hi {
                continue;
            }
            // Inside the stretch, whatever the rounding of u − x.
            let value = |u: f64| piece.at(u) - tool.height((u - x).clamp(w[0], w[1]));
            let n = if matches!(piece, Piece::Line(_)) { 2 } else { 24 };
            let place = |i: i32| lo + (hi - lo) * f64::from(i) / f64::from(n);
            let top = (0..=n).max_by(|&i, &j| value(place(i)).total_cmp(&value(place(j)))).unwrap();
            let (mut a, mut b) = (place((top - 1).max(0)), place((top + 1).min(n)));
            best = best.max(value(lo)).max(value(hi)).max(value(place(top)));
            for _ in 0..60 {
                let (p, q) = (a + (b - a) * 0.382, a + (b - a) * 0.618);
                if value(p) < value(q) { a = p } else { b = q }
            }
            best = best.max(value(f64::midpoint(a, b)));
        }
    }
    best
}

/// Places to look at: evenly spread, and at some joints.
fn places(curve: &Curve) -> Vec<f64> {
    let (a, b) = (curve.start(), curve.end());
    let joints = curve.pieces().iter().map(|p| p.from().x);
    let skip = curve.pieces().len() / 15 + 1;
    (0..=20).map(|i| a + (b - a) * f64::from(i) / 20.0).chain(joints.step_by(skip)).collect()
}

/// That `value` is what `exact` says, up to a shift of 1e-9 mm in x: on a wall of a nanometre a rounding of x is a micrometre of z.
fn agrees(value: f64, x: f64, range: [f64; 2], exact: impl Fn(f64) -> f64) -> Result<(), TestCaseError> {
    let within = |low: f64, high: f64| value >= low - BELOW && value <= high + ABOVE;
    let here = exact(x);
    if within(here, here) {
        return Ok(());
    }
    let [left, right] = [x - 1e-9, x + 1e-9].map(|x| exact(x.clamp(range[0], range[1])));
    let (low, high) = (here.min(left).min(right), here.max(left).max(right));
    prop_assert!(within(low, high), "at {x}: {value}, searched {low} to {high}");
    Ok(())
}

/// That one curve is nowhere above another by more than `allowed`, seen at many places, where a shift of 1e-9 mm in x does not explain it.
fn nowhere_above(a: &Curve, b: &Curve, allowed: f64) -> Result<(), TestCaseError> {
    for x in places(a).into_iter().chain(places(b)) {
        if x < a.start().max(b.start()) || x > a.end().min(b.end()) {
            continue;
        }
        let roof = [x - 1e-9, x, x + 1e-9].map(|x| b.at(x)).into_iter().fold(f64::NEG_INFINITY, f64::max);
        prop_assert!(a.at(x) <= roof + allowed, "at {x}: {} above {roof}", a.at(x));
    }
    Ok(())
}

/// That two curves are one, up to rounding.
fn same(a: &Curve, b: &Curve) -> Result<(), TestCaseError> {
    nowhere_above(a, b, ABOVE)?;
    nowhere_above(b, a, ABOVE)
}

/// The curve moved; not one whose narrowest pieces would lose their width to rounding.
fn shifted(c: &Curve, dx: f64, dz: f64) -> Result<Curve, TestCaseError> {
    let pieces: Vec<_> = c.pieces().iter().map(|p| p.shifted(dx, dz)).collect();
    prop_assume!(pieces.iter().all(|p| p.to().x > p.from().x));
    Ok(Curve::from_pieces(pieces))
}

/// The range over which a path is asked for: the face and a little, as far as the tool meets it.
fn around(f: &impl Graph, tool: &Outline) -> [f64; 2] {
    let [a, b] = f.range();
    [a - 2.0_f64.min(tool.outer().width()), b + 2.0_f64.min(tool.inner().width())]
}

/// That the curve is a curve in release builds too.
fn sound(c: &Curve) -> Result<(), TestCaseError> {
    prop_assert!(c.pieces().iter().all(|p| p.to().x > p.from().x));
    prop_assert!(c.pieces().windows(2).all(|w| w[0].to() == w[1].from()));
    for p in c.pieces() {
        if let Piece::Arc(a) = p {
            prop_assert!((a.radius() - a.to.distance(a.centre)).abs() < ABOVE, "{a:?}");
        }
        for end in [p.from(), p.to()] {
            prop_assert!(end.x.is_finite() && end.z.is_finite());
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases(200))]

    /// Never cuts, and touches: p(x) is the greatest f(u) − T(u−x).
    #[test]
    fn dilation_is_the_greatest(f in any_curve(), tool in any_tool()) {
        let p = dilate(&f, &tool, around(&f, &tool));
        sound(&p)?;
        for x in places(&p) {
            agrees(p.at(x), x, [p.start(), p.end()], |x| searched(&f, &tool, x))?;
        }
    }

    /// On a face as it is measured, without walls of a nanometre, p(x) is the greatest f(u) − T(u−x) to 1e-10 mm.
    #[test]
    fn dilation_of_a_measured_face(
        steps in prop::collection::vec((0.02..0.4, -0.2..0.2), 2..40),
        tool in any_tool(),
    ) {
        let (mut x, mut z) = (180.0, 0.0);
        let face = profile(&steps.iter().map(|(dx, dz)| { x += dx; z += dz; (x, z) }).collect::<Vec<_>>());
        let p = dilate(&face, &tool, around(&face, &tool));
        sound(&p)?;
        for x in places(&p) {
            let exact = searched(&Curve::from(&face), &tool, x);
            prop_assert!((p.at(x) - exact).abs() < 1e-10, "at {}: {} against {}", x, p.at(x), exact);
        }
    }

    /// A profile and the same as a curve have one dilation.
    #[test]
    fn profile_and_curve_agree(f in any_profile(), tool in any_tool()) {
        let over = around(&f, &tool);
        prop_assert_eq!(dilate(&f, &tool, over), dilate(&Curve::from(&f), &tool, over));
    }

    /// q(u) is the least p(x) + T(u−x).
    #[test]
    fn erosion_is_the_least(p in any_curve(), tool in any_tool()) {
        let back = tool.mirrored();
        let q = erode(&p, &tool, around(&p, &back));
        sound(&q)?;
        let upside = p.flipped();
        for u in places(&q) {
            agrees(-q.at(u), u, [q.start(), q.end()], |u| searched(&upside, &back, u))?;
        }
    }

    /// A closing is nowhere below the face, and closing again changes nothing.
    #[test]
    fn closing_is_extensive_and_idempotent(f in any_curve(), tool in any_tool()) {
        let q = close(&f, &tool, f.range());
        sound(&q)?;
        // Where an arc of the face ends upright, at its very end, see ABOVE.
        nowhere_above(&f.slice(f.start() + 1e-9, f.end() - 1e-9).unwrap(), &q, BELOW)?;
        same(&close(&q, &tool, f.range()), &q)?;
    }

    /// What a path leaves can be reached again by a path no higher.
    #[test]
    fn opening_is_no_higher(path in any_curve(), tool in any_tool()) {
        let back = tool.mirrored();
        let left = erode(&path, &tool, [path.start() - back.outer().width().min(9.0), path.end() + back.inner().width().min(9.0)]);
        let again = dilate(&left, &tool, path.range());
        nowhere_above(&again, &path, ABOVE)?;
    }

    /// A higher face never has a lower path.
    #[test]
    fn dilation_is_increasing(f in any_profile(), tool in any_tool(), lifts in prop::collection::vec(0.0..0.3, 40)) {
        let lifted = f.points().iter().zip(lifts).map(|(p, dz)| (p.x, p.z + dz));
        let g = profile(&lifted.collect::<Vec<_>>());
        let over = around(&f, &tool);
        nowhere_above(&dilate(&f, &tool, over), &dilate(&g, &tool, over), BELOW)?;
        nowhere_above(&erode(&f, &tool, f.range()), &erode(&g, &tool, f.range()), BELOW)?;
    }

    /// Seen from behind, the tool turned round does the same.
    #[test]
    fn mirror(f in any_curve(), tool in any_tool()) {
        let [a, b] = around(&f, &tool);
        let p = dilate(&f, &tool, [a, b]);
        let behind = dilate(&f.mirrored(), &tool.mirrored(), [-b, -a]);
        same(&behind.mirrored(), &p)?;
        let q = erode(&f, &tool, f.range());
        same(&erode(&f.mirrored(), &tool.mirrored(), [-f.end(), -f.start()]).mirrored(), &q)?;
    }

    /// A face moved has its path moved.
    #[test]
    fn shift(f in any_profile(), tool in any_tool(), dx in -30.0..30.0, dz in -30.0..30.0) {
        let [a, b] = around(&f, &tool);
        let moved = profile(&f.points().iter().map(|p| (p.x + dx, p.z + dz)).collect::<Vec<_>>());
        let p = dilate(&f, &tool, [a, b]);
        let there = dilate(&moved, &tool, [a + dx, b + dx]);
        let back = shifted(&p, dx, dz)?;
        same(&there, &back)?;
    }

    /// Two disks one after the other are one of both radii.
    #[test]
    fn disks_add(f in any_curve(), r in 0.1..2.0, s in 0.1..2.0) {
        let twice = dilate_disk(&dilate_disk(&f, r), s);
        sound(&twice)?;
        let once = dilate_disk(&f, r + s);
        sound(&once)?;
        // At its two ends a parallel curve stands upright: a rounding of x is half a micrometre of z there.
        let inside = |c: &Curve| c.slice(f.start() - r - s + 1e-3, f.end() + r + s - 1e-3).unwrap();
        same(&inside(&twice), &inside(&once))?;
    }

    /// A disk from above and back from below is a closing: nowhere below the curve, and the curve itself where no cup is tighter.
    #[test]
    fn disk_closing(f in any_curve(), r in 0.1..2.0) {
        let q = erode_disk(&dilate_disk(&f, r), r).slice(f.start(), f.end()).unwrap();
        sound(&q)?;
        nowhere_above(&f, &q, ABOVE)?;
        let p = dilate_disk(&q, r).slice(f.start(), f.end()).unwrap();
        same(&p, &dilate_disk(&f, r).slice(f.start(), f.end()).unwrap())?;
    }

    /// The higher of two curves is above both and one of them everywhere; the lower likewise.
    #[test]
    fn higher_and_lower(a in any_curve(), b in any_curve(), share in 0.0..1.0) {
        let dx = a.start() - b.end() + share * (a.end() - a.start() + b.end() - b.start());
        let b = shifted(&b, dx, 0.0)?;
        let (up, down) = (higher(&a, &b), lower(&a, &b));
        sound(&up)?;
        sound(&down)?;
        let both = [a.start().max(b.start()), a.end().min(b.end())];
        for x in places(&up).into_iter().filter(|&x| x > both[0] + 1e-8 && x < both[1] - 1e-8) {
            agrees(up.at(x), x, both, |x| a.at(x).max(b.at(x)))?;
            agrees(-down.at(x), x, both, |x| -a.at(x).min(b.at(x)))?;
        }
        prop_assert_eq!((up.start(), up.end()), (a.start().min(b.start()), a.end().max(b.end())));
    }

    /// The greatest excess is reached where it says, and nowhere exceeded.
    #[test]
    fn excess(a in any_curve(), b in any_curve()) {
        let b = shifted(&b, a.start() - b.start(), 0.0)?;
        let most = greatest_excess(&a, &b).unwrap();
        assert_approx_eq!(f64, a.at(most.x) - b.at(most.x), most.height, epsilon = ABOVE);
        let end = a.end().min(b.end());
        for i in 0..=2000 {
            let x = a.start() + (end - a.start()) * f64::from(i) / 2000.0;
            prop_assert!(a.at(x) - b.at(x) <= most.height + ABOVE);
        }
    }

    /// A slice is the curve between its ends; chords stay within their tolerance.
    #[test]
    fn slices_and_chords(f in any_curve(), a in 0.0..1.0, b in 0.0..1.0) {
        let place = |t: f64| f.start() + t * (f.end() - f.start());
        let (a, b) = (place(a), place(b));
        prop_assert_eq!(f.slice(a, b).is_some(), a < b);
        if let Some(part) = f.slice(a, b) {
            sound(&part)?;
            prop_assert_eq!((part.start(), part.end()), (a, b));
            same(&part, &f)?;
        }
        let chords = Curve::from(&Profile::new(f.chords(1e-3)).unwrap());
        nowhere_above(&chords, &dilate_disk(&f, 1.001e-3), ABOVE)?;
        nowhere_above(&erode_disk(&f, 1.001e-3), &chords, ABOVE)?;
    }
}

proptest! {
    #![proptest_config(cases(400))]

    /// Whatever the holder, a range that holds any of the face has a path there: nothing in the plan asks for another.
    #[test]
    fn a_tool_meets_the_face_wherever_there_is_some(
        face in any_profile(),
        tool in any_tool(),
        share in 0.0..1.0,
        around in 1e-6..30.0,
    ) {
        let at = face.start() + (face.end() - face.start()) * share;
        for over in [[at - around, at + around], [face.start() - around, face.end() + around]] {
            let path = dilate(&face, &tool, over);
            prop_assert!(path.start() <= over[0].max(face.start()) && over[1].min(face.end()) <= path.end());
            let left = erode(&path, &tool, [path.start(), path.end()]);
            prop_assert!(left.start() <= path.start() && path.end() <= left.end());
        }
    }
}

fn tool(nose_radius: f64, inner_deg: f64, outer_deg: f64) -> Outline {
    Outline {
        nose_radius,
        inner_edge: inner_deg.to_radians(),
        outer_edge: outer_deg.to_radians(),
        edge_length: 8.0,
        holder: None,
    }
}

/// Plane geometry: the nose rolls around a ridge on an arc of its own radius.
#[test]
fn ridge_gives_an_arc_of_the_nose_radius() {
    let face = profile(&[(80.0, -2.0), (90.0, 3.0), (100.0, -2.0)]);
    let path = dilate(&face, &tool(0.8, 20.0, 20.0), [80.0, 100.0]);
    let [Piece::Line(_), Piece::Arc(arc), Piece::Line(_)] = path.pieces() else { panic!("{path:?}") };
    assert!(arc.centre.distance(Point::new(90.0, 3.0 - 0.8)) < 1e-12);
    assert_approx_eq!(f64, arc.radius(), 0.8, epsilon = 1e-12);
    // It touches each side along the normal of the slope 1/2.
    let side = 0.8 * (1.0_f64 / 5.0_f64.sqrt());
    assert_approx_eq!(f64, arc.from.x, 90.0 - side, epsilon = 1e-12);
    assert_approx_eq!(f64, arc.to.x, 90.0 + side, epsilon = 1e-12);
}

/// Plane geometry: the parallel curves of a circle of radius R are circles of R + r and R − r around the same centre.
#[test]
fn circles_stay_circles() {
    let centre = Point::new(150.0, -30.0);
    let point = |x: f64| Point::new(x, centre.z + (25.0_f64 * 25.0 - (x - centre.x).powi(2)).sqrt());
    let cap = Curve::from_pieces(vec![Piece::Arc(facewright::geometry::Arc {
        from: point(130.0),
        to: point(165.0),
        centre,
        turn: facewright::geometry::Turn::Clockwise,
    })]);
    for (curve, radius) in [(dilate_disk(&cap, 1.2), 26.2), (erode_disk(&cap, 1.2), 23.8)] {
        let arcs = curve.pieces().iter().filter_map(|p| if let Piece::Arc(a) = p { Some(a) } else { None });
        assert!(
            arcs.clone().any(|a| a.centre.distance(centre) < 1e-12 && (a.radius() - radius).abs() < 1e-12)
        );
        for x in [132.0, 140.0, 150.0, 163.0] {
            let exact = centre.z + (radius * radius - (x - centre.x).powi(2)).sqrt();
            assert_approx_eq!(f64, curve.at(x), exact, epsilon = 1e-12);
        }
    }
    // A cup tighter than the disk is touched at its two ends only.
    let cup = dilate_disk(&cap.flipped(), 40.0);
    let Some(Piece::Arc(left)) = cup.pieces().first() else { panic!("{cup:?}") };
    assert_eq!((cup.pieces().len(), left.centre), (2, cap.flipped().pieces()[0].from()));
}

/// Plane geometry: in a valley of slopes ∓m the nose's centre goes down to where the two offset lines meet, r·√(1+m²) above the bottom.
#[test]
fn valley_gives_two_lines_that_meet() {
    let m = 0.75;
    let face = profile(&[(80.0, 10.0 * m), (90.0, 0.0), (100.0, 10.0 * m)]);
    let path = dilate(&face, &tool(1.2, 30.0, 30.0), [82.0, 98.0]);
    let [Piece::Line(left), Piece::Line(right)] = path.pieces() else { panic!("{path:?}") };
    assert_eq!(left.to, right.from);
    assert!(left.to.distance(Point::new(90.0, 1.2 * 1.0_f64.hypot(m) - 1.2)) < 1e-12);
}

/// Plane geometry: at a wall steeper than its edge the tool climbs along the edge through the wall's top.
#[test]
fn step_is_climbed_along_the_edge() {
    let face = profile(&[(80.0, 0.0), (90.0, 0.0), (90.000_001, 2.0), (100.0, 2.0)]);
    let t = tool(0.8, 30.0, 25.0);
    let path = dilate(&face, &t, [80.0, 100.0]);
    // The top corner lies on the edge: f = 2 at the distance w outward of the nose.
    for w in [0.9, 1.0, 1.2] {
        assert_approx_eq!(f64, path.at(90.000_001 - w), 2.0 - t.height(w), epsilon = 1e-12);
    }
    // Left of where the edge passes the wall's top, the floor.
    assert_approx_eq!(f64, path.at(85.0), 0.0, epsilon = 1e-12);
    // And the rest left in the corner: the edge's and the nose's outline itself, lowered on the floor.
    let left = close(&face, &t, [80.0, 100.0]);
    let stand = path.pieces().iter().find(|p| p.to().z > 1e-9).unwrap().from().x;
    for u in [89.0, 89.5, 89.9] {
        let rest = if u > stand { t.height(u - stand) } else { 0.0 };
        assert_approx_eq!(f64, left.at(u), rest, epsilon = 1e-9);
    }
}

#[derive(serde::Deserialize)]
struct Reference {
    step: f64,
    morphology: Vec<Morphology>,
    parallels: Vec<Parallel>,
}

#[derive(serde::Deserialize)]
struct Morphology {
    points: Vec<(f64, f64)>,
    tool: ReferenceTool,
    x: Vec<f64>,
    dilated: Vec<f64>,
    eroded: Vec<f64>,
    closed: Vec<f64>,
}

#[derive(serde::Deserialize)]
struct ReferenceTool {
    nose_radius: f64,
    inner_edge: f64,
    outer_edge: f64,
    edge_length: f64,
    holder: Option<ReferenceHolder>,
}

#[derive(serde::Deserialize)]
struct ReferenceHolder {
    inner: f64,
    outer: f64,
}

#[derive(serde::Deserialize)]
struct Parallel {
    points: Vec<(f64, f64)>,
    radius: f64,
    segments: f64,
    offset: Vec<(f64, f64)>,
}

fn reference() -> Reference {
    serde_json::from_str(include_str!("../../fixtures/reference/envelope.json")).unwrap()
}

/// `grey_dilation`, `grey_erosion` and `grey_closing` of scipy.ndimage on a grid that holds all vertices (tests/reference/envelope.py).
#[test]
fn agrees_with_grey_morphology() {
    let reference = reference();
    for case in &reference.morphology {
        let t = &case.tool;
        let tool = Outline {
            nose_radius: t.nose_radius,
            inner_edge: t.inner_edge,
            outer_edge: t.outer_edge,
            edge_length: t.edge_length,
            holder: t.holder.as_ref().map(|h| Holder { inner: h.inner, outer: h.outer }),
        };
        let face = profile(&case.points);
        // T'' of the nose is greatest where it goes over into the flatter-standing edge: (1 + cot²)^(3/2)/r.
        let bend = tool.inner().slope.max(tool.outer().slope).hypot(1.0).powi(3) / tool.nose_radius;
        let missed = (reference.step / 2.0).powi(2) / 2.0 * bend;
        let path = dilate(&face, &tool, face.range());
        let left = erode(&face, &tool, face.range());
        let closed = close(&face, &tool, face.range());
        for (i, &x) in case.x.iter().enumerate() {
            let over = path.at(x) - case.dilated[i];
            assert!((-1e-9..missed).contains(&over), "dilation at {x}: {over}");
            let under = case.eroded[i] - left.at(x);
            assert!((-1e-9..missed).contains(&under), "erosion at {x}: {under}");
            // The closing's path may miss a contact, which lowers it; its erosion may besides miss the
            // place where two arcs of the path meet, by half a step of a path as steep as the edge.
            let higher = case.closed[i] - closed.at(x);
            let steep = tool.inner().slope.max(tool.outer().slope);
            assert!(
                (-missed..missed + steep * reference.step / 2.0).contains(&higher),
                "closing at {x}: {higher}"
            );
        }
    }
}

/// The distance of a point from a curve.
fn distance(p: Point, curve: &Curve) -> f64 {
    let from_piece = |piece: &Piece| {
        let ends = p.distance(piece.from()).min(p.distance(piece.to()));
        match piece {
            Piece::Line(l) => {
                let (dx, dz) = (l.to.x - l.from.x, l.to.z - l.from.z);
                let t = ((p.x - l.from.x) * dx + (p.z - l.from.z) * dz) / (dx * dx + dz * dz);
                p.distance(l.from.shifted(t.clamp(0.0, 1.0) * dx, t.clamp(0.0, 1.0) * dz))
            }
            Piece::Arc(a) => {
                let foot = a.centre.x + (p.x - a.centre.x) * a.radius() / p.distance(a.centre);
                let inside = foot > a.from.x && foot < a.to.x && p.z > a.centre.z;
                if inside { (p.distance(a.centre) - a.radius()).abs() } else { ends }
            }
        }
    };
    curve.pieces().iter().map(from_piece).fold(f64::INFINITY, f64::min)
}

/// shapely's `offset_curve`: the Hausdorff distance is no more than a chord of its arcs leaves them (tests/reference/envelope.py).
#[test]
fn agrees_with_offset_curves() {
    for case in reference().parallels {
        let curve = dilate_disk(&profile(&case.points), case.radius);
        let (first, last) = (case.offset[0], case.offset[case.offset.len() - 1]);
        for &(x, z) in &case.offset {
            let off = distance(Point::new(x, z), &curve);
            assert!(off < 1e-9, "offset vertex at {x} is {off} away");
        }
        // A quarter turn in so many chords, a corner's in the nearest number, so a chord spans up to half as much again;
        // over the angle s it leaves its arc by r·(1 − cos(s/2)).
        let widest = 1.5 * std::f64::consts::FRAC_PI_2 / case.segments;
        let chord = case.radius * (1.0 - (widest / 2.0).cos());
        let theirs = Curve::from(&profile(&case.offset));
        for p in curve.chords(1e-6).into_iter().filter(|p| p.x >= first.0 && p.x <= last.0) {
            assert!(distance(p, &theirs) < chord + 1e-9, "curve at {} is {} away", p.x, distance(p, &theirs));
        }
    }
}
