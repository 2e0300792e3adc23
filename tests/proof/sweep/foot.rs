//! The foot of a wall: a blunt nose bridges it, a sharp one behind goes to the bottom.
//!
//! Beside a wall that climbs at an angle θ from a flat, a nose of radius r touches both where its centre stands r·tan(θ/2) before the foot, and over the
//! foot its underside is r − √(r² − (r·tan(θ/2))²) high (plane geometry): 1.10 mm for 2.4 mm and 80°, 0.18 mm for 0.4 mm.

use crate::fixtures::envelope::dilate;
use crate::fixtures::face::face;
use crate::fixtures::job::{job, mm};
use crate::fixtures::script::Script;
use facewright::face::Face;
use facewright::job::Job;
use facewright::proof::Movement;
use facewright::proof::sweep::{Sweep, sweep};
use facewright::units::Angle;
use float_cmp::assert_approx_eq;

const FOOT: f64 = 100.0;
const WALL: f64 = 80.0;

/// How high the underside of a nose stands over the foot.
fn bridged(nose: f64) -> f64 {
    let before = nose * (WALL.to_radians() / 2.0).tan();
    nose - (nose * nose - before * before).sqrt()
}

/// A flat that ends at a wall of 15 mm, and a flat on top of it.
fn stepped() -> Face {
    let top = FOOT + 15.0 / WALL.to_radians().tan();
    face(&[(50.0, 0.0), (FOOT, 0.0), (top, 15.0), (150.0, 15.0)])
}

/// Three rough passes of 0.1 mm with a nose of 2.4 mm, and a finish of 0.05 mm with one of 0.4 mm, up to the foot.
fn blunt_then_sharp() -> Job {
    let mut job = job(3, 1, 55.0, FOOT);
    for (tool, nose) in job.tools.iter_mut().zip([2.4, 0.4]) {
        tool.nose_radius = mm(nose);
        (tool.inner_edge, tool.outer_edge) = (Angle::deg(5.0), Angle::deg(5.0));
        tool.edge_length = mm(25.0);
    }
    job
}

/// A program's motions pass by pass: each with a tool, down to a depth, from a radius until its nose meets the wall.
fn motions(job: &Job, face: &Face, passes: &[(usize, f64, f64)]) -> Vec<Movement> {
    let mut all = Script::new(45.0, 50.0);
    let mut tools = Vec::new();
    for &(tool, depth, from) in passes {
        let path = dilate(&face.highest, &job.tools[tool].outline(), [52.0, 148.0]);
        let nose = job.tools[tool].nose_radius.as_mm();
        // Where the centre of the nose stands as far before the lowered flat's end as before the foot.
        let angle = WALL.to_radians();
        let meets = FOOT - (nose - angle.cos() * (nose - depth)) / angle.sin();
        assert_approx_eq!(f64, path.at(FOOT - nose * (angle / 2.0).tan()), 0.0, epsilon = 1e-6);
        all = all.pass(&[(from, -depth), (meets - 0.001, -depth)]).stop();
        tools.resize(all.movements.len(), tool);
    }
    let number = |tool: usize| Some(job.tools[tool].number);
    all.movements.into_iter().zip(tools).map(|(m, tool)| Movement { tool: number(tool), ..m }).collect()
}

/// What the sharp nose takes of the fillet at a time, millimetres: its depth, and what a path within the tolerance may add beside a wall this steep.
const STEP: f64 = 0.06;

/// The rough passes, then the sharp nose down the fillet that the last left, and the finish.
fn program() -> Vec<(usize, f64, f64)> {
    let mut passes = vec![(0, -1.0, 54.0), (0, 0.1, 54.0), (0, 0.2, 54.0), (0, 0.3, 54.0)];
    passes.push((1, -1.0 - bridged(2.4), 54.0));
    let mut height = bridged(2.4);
    while height > 0.0 {
        height -= STEP;
        passes.push((1, 0.3 - height.max(0.0), FOOT - 2.4));
    }
    passes.push((1, 0.35, 54.0));
    passes
}

fn too_low(sweep: &Sweep) -> Vec<&str> {
    let of_depth = sweep.findings.iter().filter(|f| f.rule.id() == "pass-too-deep");
    of_depth.map(|f| f.what.as_str()).filter(|what| what.contains("lies")).collect()
}

#[test]
fn a_pass_counts_at_a_foot_that_its_nose_bridges() {
    // Beyond what a pass may stand above the metal elsewhere.
    assert!(bridged(2.4) > 1.0 && bridged(0.4) < 0.2);
    let (job, face) = (blunt_then_sharp(), stepped());
    let swept = sweep(&motions(&job, &face, &program()), &job, &face);
    assert_eq!(too_low(&swept), Vec::<&str>::new());
    let at_foot = swept.total.iter().filter(|d| d.radius > FOOT - 0.5 && d.radius < FOOT - 0.4);
    for d in at_foot {
        assert!(d.depth > 0.3, "the sharp nose goes to the bottom: {d:?}");
    }
}

/// A pass over the flat alone, up to 12 mm before the foot, is none there: its nose could have gone on.
#[test]
fn a_pass_that_ends_before_a_foot_counts_at_none() {
    let (job, face) = (blunt_then_sharp(), stepped());
    let mut short = motions(&job, &face, &program());
    for m in short.iter_mut().filter(|m| m.tool == Some(1)) {
        m.piece = clipped(&m.piece, FOOT - 12.0);
    }
    let swept = sweep(&short, &job, &face);
    assert!(!too_low(&swept).is_empty(), "{:#?}", swept.findings);
}

/// A straight motion no further out than a radius.
fn clipped(piece: &facewright::geometry::Piece, most: f64) -> facewright::geometry::Piece {
    use facewright::geometry::{Piece, Point};
    let inside = |p: Point| Point::new(p.x.min(most), p.z);
    Piece::line(inside(piece.from()), inside(piece.to()))
}
