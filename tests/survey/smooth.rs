//! How well the demo's face is known where it is smooth: noise of 0.010 mm a reading must become 0.001 mm.
//!
//! The truth is the generator's own. Smooth is what lies well off the edges of groove and step, the lip and the ends of the zone.

use crate::fixtures::wheel;
use facewright::{job, scan, survey};
use std::path::Path;

/// Feet and tops of the demo's groove, step and lip, and the ends of its zone, millimetres.
const EDGES: [f64; 9] = [70.0, 168.0, 172.0, 174.0, 178.0, 196.0, 200.0, 214.0, 216.0];
/// So far from an edge the face is smooth, millimetres: several times the width over which the readings tell an edge.
const OFF: f64 = 4.0;
/// The standard error that a smooth face must be known to, in the median, millimetres.
const GOAL: f64 = 0.001;
/// By what factor the error found may exceed the one told: some fifty windows' worth of noise lie along the face, of which the root
/// of the mean square is known to a tenth, and what three lines cannot show of the demo's bend (0.006 mm in two lobes)
/// is no straight line.
const TOLD: f64 = 1.3;

#[test]
fn a_smooth_face_is_known_to_a_tenth_of_the_noise() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/job.yaml");
    let job = job::load(&file).unwrap_or_else(|e| panic!("{e}"));
    let traces = scan::open_all(&job.measured).unwrap_or_else(|e| panic!("{e}"));
    let survey = survey::survey(&job, &traces).unwrap_or_else(|e| panic!("{e}"));
    let face = survey.face();
    let errors = face.errors.as_ref().unwrap_or_else(|| panic!("no errors"));
    let wheel = wheel::demo_wheel();
    let highest = |r: f64| {
        (0..720).map(|half| wheel.sound(r, f64::from(half).to_radians() / 2.0)).fold(f64::MIN, f64::max)
    };
    let places: Vec<[f64; 3]> = (0..=1460)
        .map(|tenths| 70.0 + 0.1 * f64::from(tenths))
        .filter(|r| EDGES.iter().all(|edge| (r - edge).abs() > OFF))
        .map(|r| [r, face.highest.at(r) - highest(r), errors.height.at(r)])
        .collect();
    assert!(places.len() > 800, "{}", places.len());
    let mean = |of: &dyn Fn(&[f64; 3]) -> f64| places.iter().map(of).sum::<f64>() / places.len() as f64;
    let (r, off) = (mean(&|p| p[0]), mean(&|p| p[1]));
    let tilt = mean(&|p| (p[0] - r) * (p[1] - off)) / mean(&|p| (p[0] - r).powi(2));
    let found = mean(&|p| (p[1] - off - tilt * (p[0] - r)).powi(2)).sqrt();
    let stated = mean(&|p| p[2].powi(2)).sqrt();
    let mut each: Vec<f64> = places.iter().map(|p| p[2]).collect();
    each.sort_by(f64::total_cmp);
    let median = each.get(each.len() / 2).copied().unwrap_or(f64::NAN);
    println!(
        "median {median:.5} mm; root mean square stated {stated:.5} mm, found {found:.5} mm off a line, \
         mean {off:.5} mm, tilt {tilt:.7}"
    );
    assert!(median < GOAL, "{median:.5} mm in the median");
    assert!(found < TOLD * stated, "{found:.5} mm found, {stated:.5} mm stated");
}
