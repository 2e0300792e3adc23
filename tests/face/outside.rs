//! The numbers behind the model held against general-purpose libraries: local parabolas, robust constants, harmonics and
//! eccentricity, as tests/reference made them.
//!
//! Each has been seen to fail, the code broken on purpose: parabolas with the kernel of the first power, and with a variance without
//! its cross terms; constants with Tukey's 4.6; harmonics of the next order, and a posterior of 0.99 of its mean (which eccentricity and
//! tilt catch too); eccentricity of the other sign, and a tilt of half its slope.

use facewright::face::estimate::fit;
use facewright::face::model::Measurement;
use facewright::numeric::bayes::Information;
use facewright::numeric::cholesky::Symmetric;
use facewright::numeric::grid::Grid;
use facewright::numeric::harmonic::regressors;
use facewright::numeric::local::Moments;
use facewright::numeric::{order, robust};
use facewright::scan::line::{MeasuredLine, Stretch};
use serde::Deserialize;

#[derive(Deserialize)]
struct Local {
    grid: GridOf,
    x: Vec<f64>,
    y: Vec<f64>,
    weight: Vec<f64>,
    fits: Vec<LocalFit>,
    constants: Constants,
}

#[derive(Deserialize)]
struct GridOf {
    start: f64,
    step: f64,
    len: usize,
}

#[derive(Deserialize)]
struct LocalFit {
    place: f64,
    half: f64,
    value: f64,
    slope: f64,
    variance: f64,
}

#[derive(Deserialize)]
struct Constants {
    huber: f64,
    tukey: f64,
    sigma_per_mad: f64,
}

#[derive(Deserialize)]
struct Turns {
    rings: Vec<RingOf>,
    wheels: Vec<WheelOf>,
}

#[derive(Deserialize)]
struct RingOf {
    angles: Vec<f64>,
    values: Vec<f64>,
    orders: Vec<u32>,
    terms: Vec<f64>,
}

#[derive(Deserialize)]
struct WheelOf {
    angles: Vec<f64>,
    r: Vec<f64>,
    z: Vec<Vec<f64>>,
    noise: f64,
    eccentricity: [f64; 2],
    tilt: [f64; 2],
}

fn local() -> Local {
    serde_json::from_str(include_str!("../../fixtures/reference/local.json")).unwrap()
}

fn turns() -> Turns {
    serde_json::from_str(include_str!("../../fixtures/reference/harmonics.json")).unwrap()
}

#[test]
fn local_parabolas_are_those_of_least_squares() {
    let known = local();
    let grid = Grid { start: known.grid.start, step: known.grid.step, len: known.grid.len };
    let mut moments = Moments::new(grid);
    for ((x, y), w) in known.x.iter().zip(&known.y).zip(&known.weight) {
        moments.add(*x, *y, *w);
    }
    assert_eq!(known.fits.len(), 18);
    for f in &known.fits {
        let found = moments.fit(f.place, f.half).unwrap();
        assert!((found.value - f.value).abs() < 1e-9, "at {} over {}: {found:?}", f.place, f.half);
        assert!((found.slope - f.slope).abs() < 1e-8, "at {} over {}: {found:?}", f.place, f.half);
        assert!(
            (found.variance / f.variance - 1.0).abs() < 1e-8,
            "at {} over {}: {found:?}",
            f.place,
            f.half
        );
    }
}

/// The constants are the usual ones, of three decimals.
#[test]
fn robust_constants_are_those_of_their_papers() {
    let known = local().constants;
    assert!((robust::HUBER - known.huber).abs() < 5e-4, "{}", known.huber);
    assert!((robust::TUKEY - known.tukey).abs() < 1e-3, "{}", known.tukey);
    assert!((order::SIGMA_PER_MAD - known.sigma_per_mad).abs() < 5e-5, "{}", known.sigma_per_mad);
}

/// A posterior whose prior says next to nothing is least squares.
#[test]
fn harmonics_are_those_of_least_squares() {
    for ring in turns().rings {
        let rows: Vec<Vec<f64>> = ring.angles.iter().map(|a| regressors(&ring.orders, *a)).collect();
        let mut noise = Symmetric::zeros(rows.len());
        (0..rows.len()).for_each(|i| noise.add_diagonal(i, 0.01));
        let told = Information::new(ring.terms.len(), &rows, &ring.values, &noise).unwrap();
        let found = told.posterior(&vec![1e5; ring.terms.len()]).unwrap();
        for (a, b) in found.mean.iter().zip(&ring.terms) {
            assert!((a - b).abs() < 1e-6, "{:?} for {:?}", found.mean, ring.terms);
        }
    }
}

/// Least squares are told the face and its slope; the fit finds both, and loses next to nothing by it.
#[test]
fn eccentricity_and_tilt_are_those_of_least_squares_on_a_known_face() {
    for wheel in turns().wheels {
        let lines: Vec<MeasuredLine> = wheel
            .angles
            .iter()
            .zip(&wheel.z)
            .map(|(at, z)| {
                let points: Vec<(f64, f64)> = wheel.r.iter().copied().zip(z.iter().copied()).collect();
                MeasuredLine { noise: wheel.noise, ..MeasuredLine::exact(*at, &points) }
            })
            .collect();
        let zones = [Stretch { from: 62.0, to: 213.0 }];
        let model = fit(&Measurement { lines: &lines, zones: &zones, ..Measurement::default() }).unwrap();
        let e = model.eccentricity.unwrap();
        let found = [e.distance * e.toward.cos(), e.distance * e.toward.sin()];
        let off = (found[0] - wheel.eccentricity[0]).hypot(found[1] - wheel.eccentricity[1]);
        assert!(off < 0.001, "{found:?} for {:?}", wheel.eccentricity);
        let t = model.tilt;
        let rim = 213.0;
        let found = [rim * t.slope * t.high_side.cos(), rim * t.slope * t.high_side.sin()];
        let off = (found[0] - rim * wheel.tilt[0]).hypot(found[1] - rim * wheel.tilt[1]);
        assert!(off < 0.001, "{found:?} mm for {:?} mm", wheel.tilt.map(|v| v * rim));
    }
}
