//! Against scipy's grey erosion (tests/reference/sweep.py; ISO 16610-40).

use crate::fixtures::{face::face, job::job, script::Script};
use facewright::proof::sweep::sweep;
use facewright::units::{Angle, Length};

fn number(value: &serde_json::Value) -> f64 {
    value.as_f64().expect("a number")
}

fn numbers(value: &serde_json::Value) -> Vec<f64> {
    value.as_array().expect("a list").iter().map(number).collect()
}

/// The depth at a radius of a depth curve.
fn depth_at(curve: &[facewright::proof::sweep::DepthAt], u: f64) -> f64 {
    let i = curve.partition_point(|d| d.radius < u).clamp(1, curve.len() - 1);
    let (a, b) = (curve[i - 1], curve[i]);
    a.depth + (b.depth - a.depth) * ((u - a.radius) / (b.radius - a.radius))
}

#[test]
fn the_metal_left_is_the_grey_erosion_of_the_path() {
    let text = std::fs::read_to_string("fixtures/reference/sweep.json").expect("the reference file");
    let all: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    // Sampling at this step lifts the erosion by at most half a step times the steepest edge's climb; beside the corners far less.
    let step = number(&all["step"]);
    for case in all["cases"].as_array().expect("cases") {
        let mut job = job(1, 0, 55.0, 85.0);
        job.tools[0].nose_radius = Length::mm(number(&case["nose_radius"]));
        job.tools[0].inner_edge = Angle::deg(number(&case["inner_edge"]));
        job.tools[0].outer_edge = Angle::deg(number(&case["outer_edge"]));
        let climb = 1.0 / job.tools[0].inner_edge.as_rad().min(job.tools[0].outer_edge.as_rad()).tan();
        let radii = numbers(&case["radii"]);
        let left = numbers(&case["left"]);
        let mut points = vec![(55.0, 30.0)];
        points.extend(radii.iter().map(|&u| (u, 30.0)));
        points.push((85.0, 30.0));
        let path: Vec<Vec<f64>> = case["path"].as_array().expect("a path").iter().map(numbers).collect();
        let mut script = Script::new(path[0][0], path[0][1]);
        for p in &path {
            script = script.feed(p[0], p[1]);
        }
        let s = sweep(&script.movements, &job, &face(&points));
        for (u, z) in radii.iter().zip(&left) {
            let ours = 30.0 - depth_at(&s.total, *u);
            // The curve of depths is thinned to 0.0002 mm.
            assert!(ours <= z + 3e-4, "below the sampled surface: {ours} {z} at {u}");
            assert!(ours >= z - step * climb / 2.0 - 3e-4, "{ours} {z} at {u}");
        }
    }
}
