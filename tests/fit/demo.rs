//! What is written for the demo's wheel at every control against the exact paths: how many blocks, how near, how smooth.
//!
//! The table of docs/fair.md: `cargo test --test all fit:: -- --nocapture`

use crate::fixtures::demo::{AtControl, at_controls, job_and_face};
use facewright::geometry::{Curve, Piece, Point, envelope};
use facewright::job::{Arcs, Job, PassDepth};
use facewright::plan::{Pass, PassKind, Plan, Role, surface};
use geo::{LineString, Simplify};

/// Rounding that a path may dip by, millimetres.
const NOISE: f64 = 1e-9;

/// Room of the exact paths beyond the face, millimetres, as the plan gives it.
const ROOM: f64 = 8.0;

/// How closely the written path is looked at, millimetres.
const CLOSE: f64 = 0.01;

/// How far beside a place the nearest point of the exact path is looked for, millimetres: on the steepest
/// edge of the demo's tools the tolerance reaches that far.
const BESIDE: f64 = 0.06;

#[derive(Default)]
struct Row {
    exact: usize,
    written: usize,
    simple: usize,
    half: usize,
    above: f64,
    /// Where it lies the most above.
    above_at: f64,
    below: f64,
    before: Vec<f64>,
    after: Vec<f64>,
    /// The least radius of an arc of the exact paths.
    tightest: f64,
}

#[test]
fn few_blocks_never_below_and_smooth() {
    let face = &job_and_face().1;
    println!(
        "| control | tolerance | exact pieces | written | Simplify, ± tolerance | ± half | least above, um | most above, um | joints before: 95 %, greatest | after: 95 %, greatest |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|");
    for AtControl { name, job, plan, .. } in at_controls() {
        let tolerance = job.schedule.tolerance.as_mm();
        let row = row(job, &Curve::from(face.follows()), plan);
        let joints = |sorted: &[f64]| {
            format!("{:.2}°, {:.2}°", sorted[sorted.len() * 95 / 100], sorted[sorted.len() - 1])
        };
        println!(
            "| {name} | {tolerance} | {} | {} | {} | {} | {:.4} | {:.4} | {} | {} |",
            row.exact,
            row.written,
            row.simple,
            row.half,
            -row.below * 1000.0 + 0.0,
            row.above * 1000.0,
            joints(&row.before),
            joints(&row.after)
        );
        assert!(row.below <= NOISE, "{name}: {} mm below the exact path", row.below);
        // The nearest sampled point is no nearer than the path itself.
        assert!(
            row.above <= tolerance + 1e-5,
            "{name}: {} mm above the exact path at {}",
            row.above,
            row.above_at
        );
        assert!(row.written < row.half, "{name}: {} blocks where Simplify has {}", row.written, row.half);
        // A kink beyond the limit stands for a corner of the path, so none is greater than the path's greatest; or for an arc that lines
        // within the tolerance go round, the tightest by chords that meet at twice their own angle.
        let [before, after] = [&row.before, &row.after].map(|joints| joints.last().copied().unwrap_or(0.0));
        let chords = match job.control.arcs {
            Arcs::None => 2.0 * (1.0 - tolerance / row.tightest).acos().to_degrees(),
            Arcs::Centre | Arcs::Radius => 0.0,
        };
        assert!(
            after <= before.max(chords),
            "{name}: a joint of {after} degrees where the path has {before}"
        );
    }
}

/// All passes of a plan but the dry ones against their exact paths.
fn row(job: &Job, face: &Curve, plan: &Plan) -> Row {
    let mut row = Row { below: f64::NEG_INFINITY, tightest: f64::INFINITY, ..Row::default() };
    let mut left = face.clone();
    for operation in &plan.operations {
        for pass in operation.passes.iter().filter(|p| p.kind != PassKind::Air) {
            let depth = PassDepth { kind: pass.kind, depth: pass.depth };
            let tool = operation.tool.outline();
            let path = surface::path(&left, depth, surface::Aim::of(job), &tool, ROOM)
                .expect("the tool meets the face");
            left = surface::left(&path, &tool, &left).expect("it leaves a face");
            for written in strokes(pass) {
                let exact = path.slice(written.start(), written.end()).expect("a stroke has width");
                let radii = exact.pieces().iter().filter_map(|p| match p {
                    Piece::Arc(arc) => Some(arc.from.distance(arc.centre)),
                    Piece::Line(_) => None,
                });
                row.tightest = radii.fold(row.tightest, f64::min);
                compare(&mut row, &exact, &written, job.schedule.tolerance.as_mm());
            }
        }
    }
    row.before.sort_by(f64::total_cmp);
    row.after.sort_by(f64::total_cmp);
    row
}

/// The cuts of a pass, each from the inside out.
fn strokes(pass: &Pass) -> Vec<Curve> {
    let stretches = pass.motions.chunk_by(|a, b| a.role == b.role).filter(|m| m[0].role == Role::Cut);
    let outward = |pieces: Vec<Piece>| {
        if pieces[0].from().x < pieces[0].to().x {
            pieces
        } else {
            pieces.iter().rev().map(Piece::reversed).collect()
        }
    };
    stretches.map(|m| Curve::from_pieces(outward(m.iter().map(|m| m.piece).collect()))).collect()
}

fn compare(row: &mut Row, exact: &Curve, written: &Curve, tolerance: f64) {
    row.exact += exact.pieces().len();
    row.written += written.pieces().len();
    let points = exact.chords(1e-6);
    let line: LineString = points.iter().map(|p| (p.x, p.z)).collect();
    row.simple += line.simplify(tolerance).0.len() - 1;
    row.half += line.simplify(tolerance / 2.0).0.len() - 1;
    let below = envelope::greatest_excess(exact, written).expect("both are over the same radii");
    row.below = row.below.max(below.height);
    let steps = (written.end() - written.start()) / CLOSE;
    let mut i = 0.0;
    while i <= steps {
        let x = written.start() + i * CLOSE;
        let above = nearest(&points, Point::new(x, written.at(x)));
        if above > row.above {
            (row.above, row.above_at) = (above, x);
        }
        i += 1.0;
    }
    row.before.extend(joints(exact));
    row.after.extend(joints(written));
}

/// The distance from a place to a line of points.
fn nearest(points: &[Point], at: Point) -> f64 {
    let first = points.partition_point(|p| p.x < at.x - BESIDE).saturating_sub(1);
    let near = points[first..].windows(2).take_while(|w| w[0].x <= at.x + BESIDE);
    near.map(|w| from_line(w[0], w[1], at)).fold(f64::INFINITY, f64::min)
}

fn from_line(a: Point, b: Point, at: Point) -> f64 {
    let (dx, dz) = (b.x - a.x, b.z - a.z);
    let along = ((at.x - a.x) * dx + (at.z - a.z) * dz) / (dx * dx + dz * dz);
    let along = along.clamp(0.0, 1.0);
    at.distance(a.shifted(along * dx, along * dz))
}

/// By how many degrees the direction changes at each joint.
fn joints(curve: &Curve) -> impl Iterator<Item = f64> {
    let turn = |w: &[Piece]| {
        (w[1].slope_at(w[1].from().x).atan() - w[0].slope_at(w[0].to().x).atan()).abs().to_degrees()
    };
    curve.pieces().windows(2).map(turn).collect::<Vec<_>>().into_iter()
}
