//! Tilt and harmonics against numpy.linalg.lstsq and `scipy.optimize.least_squares` (tests/reference/harmonics.py).

use facewright::face::harmonic::{Harmonics, fit_tilt, fit_tilt_plain};
use facewright::face::lines::Lines;
use serde_json::Value;

fn reference() -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/reference/harmonics.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

#[test]
fn tilt_is_that_of_the_reference() {
    for case in reference()["tilts"].as_array().unwrap() {
        let lines = Lines {
            x: numbers(&case["r"]),
            angle: numbers(&case["angles"]),
            z: case["z"].as_array().unwrap().iter().map(numbers).collect(),
            places: Vec::new(),
            noise: Vec::new(),
        };
        // At a radius of 216 mm these are a millionth and a hundred-thousandth of a millimetre.
        let plain = fit_tilt_plain(&lines).unwrap();
        let want = numbers(&case["plain"]);
        assert!((plain.cos - want[0]).hypot(plain.sin - want[1]) * 216.0 < 1e-6, "{plain:?} {want:?}");
        let robust = fit_tilt(&lines, &|_, _| false, None).unwrap();
        let want = numbers(&case["robust"]);
        let off = (robust.tilt.cos - want[0]).hypot(robust.tilt.sin - want[1]) * 216.0;
        assert!(off < 1e-5, "{robust:?} {want:?}");
        assert!((robust.sigma / case["sigma"].as_f64().unwrap() - 1.0).abs() < 1e-3, "{robust:?}");
        // The truth that the reference was made with, within its noise.
        assert!((robust.tilt.cos - 3e-4).hypot(robust.tilt.sin + 2e-4) * 216.0 < 0.01);
    }
}

#[test]
fn harmonics_are_those_of_the_reference() {
    for ring in reference()["rings"].as_array().unwrap() {
        let order = usize::try_from(ring["order"].as_u64().unwrap()).unwrap();
        let fit = Harmonics::fit(&numbers(&ring["angles"]), &numbers(&ring["values"]), order).unwrap();
        for (a, b) in fit.terms.iter().zip(numbers(&ring["terms"])) {
            assert!((a - b).abs() < 1e-9, "{fit:?}");
        }
    }
}

#[test]
fn lines_on_one_diameter_tell_no_tilt() {
    let lines = Lines {
        x: vec![100.0, 150.0, 200.0],
        angle: [0.0_f64, 180.0, 0.0].map(f64::to_radians).to_vec(),
        z: vec![vec![0.1, 0.15, 0.2], vec![-0.1, -0.15, -0.2], vec![0.1, 0.15, 0.2]],
        places: Vec::new(),
        noise: Vec::new(),
    };
    assert_eq!(fit_tilt(&lines, &|_, _| false, None), None);
}
