//! Laws, on random faces and movements, against samples without number.

use crate::fixtures::{face::face, job::job, script::Script};
use facewright::geometry::{Outline, Piece, Point, Turn};
use facewright::proof::sweep::{DepthAt, Sweep, sweep};
use facewright::proof::{Movement, Rank};
use proptest::prelude::*;

/// Points along a piece, close together.
fn samples(piece: &Piece, count: usize) -> Vec<Point> {
    let along = |t: f64| match *piece {
        Piece::Line(l) => Point::new(l.from.x + t * (l.to.x - l.from.x), l.from.z + t * (l.to.z - l.from.z)),
        Piece::Arc(a) => {
            let angle = |p: Point| (p.z - a.centre.z).atan2(p.x - a.centre.x);
            let sign = if a.turn == Turn::CounterClockwise { 1.0 } else { -1.0 };
            let sweep = (sign * (angle(a.to) - angle(a.from))).rem_euclid(std::f64::consts::TAU);
            let at = angle(a.from) + sign * sweep * t;
            Point::new(a.centre.x + a.radius() * at.cos(), a.centre.z + a.radius() * at.sin())
        }
    };
    (0..=count).map(|i| along(i as f64 / count as f64)).collect()
}

/// The lowest that the tool comes over a radius, from samples of its way.
fn lowest(way: &[Point], outline: &Outline, u: f64) -> f64 {
    let under = outline.heights();
    way.iter().map(|p| p.z + under(u - p.x)).fold(f64::INFINITY, f64::min)
}

fn at(curve: &[DepthAt], u: f64) -> f64 {
    let i = curve.partition_point(|d| d.radius < u).clamp(1, curve.len() - 1);
    let (a, b) = (curve[i - 1], curve[i]);
    a.depth + (b.depth - a.depth) * ((u - a.radius) / (b.radius - a.radius))
}

#[derive(Debug, Clone)]
enum Step {
    Line(f64, f64),
    /// End, and how far the centre stands off the chord's middle, with its turn.
    Arc(f64, f64, f64, bool),
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let line = (60.0..80.0_f64, -1.0..1.0_f64).prop_map(|(x, z)| Step::Line(x, z));
    let arc = (60.0..80.0_f64, -1.0..1.0_f64, -6.0..6.0_f64, any::<bool>())
        .prop_map(|(x, z, off, turn)| Step::Arc(x, z, off, turn));
    prop::collection::vec(prop_oneof![2 => line, 1 => arc], 1..8)
}

fn script(steps: &[Step]) -> Vec<Movement> {
    let mut from = Point::new(70.0, 2.0);
    let mut script = Script::new(from.x, from.z);
    for step in steps {
        let to = match *step {
            Step::Line(x, z) | Step::Arc(x, z, ..) => Point::new(x, z),
        };
        script = match *step {
            Step::Arc(_, _, off, clockwise) if from.distance(to) > 0.01 => {
                let chord = from.distance(to);
                let (nx, nz) = ((to.z - from.z) / chord, (from.x - to.x) / chord);
                let centre = (f64::midpoint(from.x, to.x) + off * nx, f64::midpoint(from.z, to.z) + off * nz);
                script.arc(
                    to.x,
                    to.z,
                    centre,
                    if clockwise { Turn::Clockwise } else { Turn::CounterClockwise },
                )
            }
            _ => script.feed(to.x, to.z),
        };
        from = to;
    }
    script.movements
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, rng_seed: proptest::test_runner::RngSeed::Fixed(20), ..ProptestConfig::with_cases(60) })]

    /// Neither above nor below what samples of the movement give.
    #[test]
    fn the_metal_left_is_what_samples_say(steps in steps(), zs in prop::collection::vec(0.0..3.0_f64, 12), holder in any::<bool>(), which in 0..2_usize) {
        let mut job = job(3, 0, 50.0, 90.0);
        let tool = &mut job.tools[which];
        tool.number = 1;
        if holder {
            tool.edge_length = facewright::units::Length::mm(2.0);
            tool.holder = Some([facewright::units::Length::mm(3.0), facewright::units::Length::mm(7.0)]);
        }
        let tool = tool.clone();
        let outline = tool.outline();
        job.tools = vec![tool];
        let points: Vec<(f64, f64)> = zs.iter().enumerate().map(|(i, &z)| (50.0 + 40.0 * i as f64 / 11.0, z)).collect();
        let face = face(&points);
        let movements = script(&steps);
        let way: Vec<Point> = movements.iter().flat_map(|m| samples(&m.piece, 6000)).collect();
        let s = sweep(&movements, &job, &face);
        for d in s.total.iter().step_by(3) {
            let sampled = face.highest.at(d.radius).min(lowest(&way, &outline, d.radius));
            let ours = face.highest.at(d.radius) - d.depth;
            prop_assert!(ours <= sampled + 1e-9, "above a sample: {} {} at {}", ours, sampled, d.radius);
            // Samples of steep edges: a sample apart is 1/6000 of a way of 20 mm, times a climb of 2.75.
            prop_assert!(ours >= sampled - 0.012, "below every sample: {} {} at {}", ours, sampled, d.radius);
        }
    }

    /// A path of the lowered face's own dilation never stops, on any face, at any depth the schedule has.
    #[test]
    fn a_right_path_is_never_stopped(zs in prop::collection::vec(0.0..4.0_f64, 30), passes in 1..4_u32, inward in any::<bool>()) {
        let mut job = job(passes, 0, 50.0, 90.0);
        if inward {
            job.schedule.direction = facewright::job::Direction::Inward;
        }
        let points: Vec<(f64, f64)> = zs.iter().enumerate().map(|(i, &z)| (50.0 + 40.0 * i as f64 / 29.0, z)).collect();
        let face = face(&points);
        let outline = job.tools[0].outline();
        let mut path = dilated(&face.highest, &outline);
        if inward {
            path.reverse();
        }
        let lifted = |dz: f64| path.iter().map(|p| (p.x, p.z + dz)).collect::<Vec<_>>();
        let start = path[0];
        let mut script = Script::new(start.x, 50.0).pass(&lifted(0.9)).stop();
        for k in 1..=passes {
            script = script.pass(&lifted(-0.1 * f64::from(k)));
        }
        let s = sweep(&script.movements, &job, &face);
        let stops: Vec<_> = s.findings.iter().filter(|f| f.rank == Rank::Stop).collect();
        prop_assert!(stops.is_empty(), "{:#?}", stops);
        check_curves(&s)?;
    }
}

fn check_curves(s: &Sweep) -> Result<(), TestCaseError> {
    // What the passes take adds up to what is gone.
    for u in [55.0, 63.3, 71.7, 88.8] {
        let sum: f64 = s.passes.iter().filter(|p| !p.taken.is_empty()).map(|p| at(&p.taken, u)).sum();
        prop_assert!(
            (sum - at(&s.total, u)).abs() < 0.0002 * (s.passes.len() + 1) as f64 + 1e-9,
            "{} {}",
            sum,
            at(&s.total, u)
        );
    }
    Ok(())
}

/// The lowest front points over a profile from samples 0.004 mm apart, lifted by what a chord between them can lose.
fn dilated(face: &facewright::geometry::Profile, outline: &Outline) -> Vec<Point> {
    let step = 0.004;
    let count = 10_000_i32;
    let heights: Vec<f64> = (0..=count).map(|k| face.at(50.0 + step * f64::from(k))).collect();
    // The edges of 30° stand 4 mm high, as high as any of these faces, 3.0 mm from the nose centre.
    let reach = 800_i32;
    let t: Vec<f64> = (-reach..=reach).map(|w| outline.height(step * f64::from(w))).collect();
    let mut path = Vec::new();
    for k in (0..=count).step_by(10) {
        let mut z = f64::NEG_INFINITY;
        for w in -reach..=reach {
            let u = k + w;
            if let Some(h) = usize::try_from(u).ok().and_then(|u| heights.get(u)) {
                z = z.max(h - t[usize::try_from(w + reach).expect("in range")]);
            }
        }
        path.push(Point::new(50.0 + step * f64::from(k), z + 0.004));
    }
    path
}
