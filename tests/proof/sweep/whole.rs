//! Whole sweeps in numbers, for what is measured along the normal and for a program that goes on after another.

use crate::fixtures::face::face;
use crate::fixtures::job::{job, mm};
use crate::fixtures::script::Script;
use facewright::job::{Job, Step};
use facewright::proof::sweep::{Sweep, sweep_after};
use facewright::proof::{Circumstances, Movement};
use std::fmt::Write;

/// Flat, up a wall of 30°, flat again.
const FACE: [(f64, f64); 4] = [(50.0, 0.0), (90.0, 0.0), (100.0, 5.773_503), (150.0, 5.773_503)];

/// Nose radius of tool 1.
const NOSE: f64 = 1.2;

/// Front points of the path that takes `depth` along the normal: the corners of the nose centre's parallel curve, at `NOSE - depth`.
fn along_normal(depth: f64) -> Vec<(f64, f64)> {
    let (sin, cos) = 30_f64.to_radians().sin_cos();
    // Both corners lie on the line that halves their angle: that of the wall's foot above it, that of its head beside it.
    let shift = (NOSE - depth) * (1.0 - cos) / sin;
    let up = -depth;
    vec![(47.0, up), (90.0 - shift, up), (100.0 - shift, 5.773_503 + up), (153.0, 5.773_503 + up)]
}

fn shifted(path: &[(f64, f64)], by: f64) -> Vec<(f64, f64)> {
    path.iter().map(|&(x, z)| (x, z + by)).collect()
}

fn program(depths: &[f64]) -> Vec<Movement> {
    let first = along_normal(depths[0]);
    let mut script = Script::new(47.0, 50.0).pass(&shifted(&first, 1.0)).stop();
    for &depth in depths {
        script = script.pass(&along_normal(depth));
    }
    script.movements
}

fn normal(rough: u32) -> Job {
    let mut job = job(rough, 0, 50.0, 150.0);
    job.schedule.step = Step::Normal;
    job
}

/// What a technician would want of a sweep, to a ten-thousandth of a millimetre.
fn told(sweep: &Sweep) -> String {
    let mut out = String::new();
    for pass in &sweep.passes {
        let _ = writeln!(out, "pass {} {:?}, lies {:.4}", pass.number, pass.kind, pass.lies.unwrap_or(0.0));
        for d in pass.taken.iter().step_by(pass.taken.len().div_ceil(24).max(1)) {
            let _ = writeln!(out, "  {:8.3} {:.4}", d.radius, d.depth);
        }
    }
    for f in &sweep.findings {
        let _ = writeln!(out, "{:?} {}, line {}: {}", f.rank, f.rule, f.line(), f.what);
    }
    out
}

#[test]
fn two_passes_along_the_normal() {
    let sweep = sweep_after(&program(&[0.1, 0.2]), &normal(2), &face(&FACE), &Circumstances::default());
    insta::assert_snapshot!(told(&sweep));
}

#[test]
fn the_second_pass_along_the_normal_where_the_first_is_gone_already() {
    let after = Circumstances { already: mm(0.1), goes_on: false, ..Circumstances::default() };
    let sweep = sweep_after(&program(&[0.2]), &normal(2), &face(&FACE), &after);
    insta::assert_snapshot!(told(&sweep));
}
