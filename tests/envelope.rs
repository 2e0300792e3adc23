//! The laws of the envelope, its closed forms, and its values against general-purpose libraries.

use facewright::geometry::envelope::{Graph, dilate, dilate_disk, erode, erode_disk};
use facewright::geometry::{Curve, Holder, Outline, Piece, Point, Profile};
use proptest::prelude::*;

/// A path may lie no more than this below the exact one: a sliver.
const BELOW: f64 = 2e-9;

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
    let mut knees = vec![
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
    let near = [x - 1e-9, x, x + 1e-9].map(|x| exact(x.clamp(range[0], range[1])));
    let (low, high) = (
        near.iter().copied().fold(f64::INFINITY, f64::min),
        near.iter().copied().fold(f64::NEG_INFINITY, f64::max),
    );
    prop_assert!(
        value >= low - BELOW && value <= high + ABOVE,
        "at {x}: {value}, searched {low} to {high}, off by {:e}",
        (value - high).max(low - value)
    );
    Ok(())
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
    #![proptest_config(cases(250))]

    /// Never cuts, and touches: p(x) is the greatest f(u) − T(u−x).
    #[test]
    fn dilation_is_the_greatest(f in any_curve(), tool in any_tool()) {
        let p = dilate(&f, &tool, around(&f, &tool));
        sound(&p)?;
        for x in places(&p) {
            agrees(p.at(x), x, [p.start(), p.end()], |x| searched(&f, &tool, x))?;
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
}
