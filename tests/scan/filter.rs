//! The Gaussian filter against the figures of ISO 16610-21 and -28, and against numpy and scipy.

use facewright::geometry::Point;
use facewright::scan::filter::{Order, gaussian, robust};
use proptest::prelude::*;
use serde_json::Value;
use std::f64::consts::PI;

fn reference() -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/reference/filter.json");
    let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{path}: {e}"));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{path}: {e}"))
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().into_iter().flatten().filter_map(Value::as_f64).collect()
}

fn even_row(n: u32, step: f64, f: impl Fn(f64) -> f64) -> Vec<Point> {
    (0..n).map(|i| f64::from(i) * step).map(|x| Point::new(x, f(x))).collect()
}

/// The share of a wave that the filter lets through, by projection on the wave over whole periods far from the ends.
fn transmission(cutoff: f64, wave: f64, order: Order) -> f64 {
    let step = wave / 40.0;
    let row = even_row(40 * 40, step, |x| (2.0 * PI * x / wave).cos());
    let out = gaussian(&row, cutoff, order);
    let middle = 400..1200;
    2.0 / 800.0 * middle.map(|i| out[i] * row[i].z).sum::<f64>()
}

/// ISO 16610-21: 50 % at the cut-off, 84.09 % at twice, 6.25 % at half; 2^−(λc/λ)² in general.
#[test]
fn transmission_is_that_of_the_standard() {
    for (ratio, share) in [(1.0, 0.5), (2.0, 0.8409), (0.5, 0.0625), (4.0, 0.9576)] {
        let got = transmission(0.8, 0.8 * ratio, Order::Line);
        assert!((got - share).abs() < 1e-4, "wave of {ratio} cut-offs: {got}, the standard says {share}");
    }
    // ISO 16610-31: the parabola's width is set so that one half passes at the cut-off.
    let got = transmission(0.8, 0.8, Order::Parabola);
    assert!((got - 0.5).abs() < 1e-3, "{got}");
}

/// `scipy.ndimage.gaussian_filter1d`, far from the ends.
#[test]
fn an_even_row_agrees_with_scipy() {
    let r = &reference()["even"];
    let (step, cutoff) = (r["step"].as_f64().unwrap_or(0.0), r["cutoff"].as_f64().unwrap_or(0.0));
    let z = numbers(&r["z"]);
    let row: Vec<_> = z.iter().zip(0_u32..).map(|(&z, i)| Point::new(f64::from(i) * step, z)).collect();
    let want = numbers(&r["filtered"]);
    assert_eq!(want.len(), 300);
    for (i, (got, want)) in
        gaussian(&row, cutoff, Order::Line).iter().zip(want).enumerate().skip(45).take(210)
    {
        assert!((got - want).abs() < 1e-7, "point {i}: {got} against {want}");
    }
}

/// numpy.linalg.lstsq at every point of an uneven row, ends too.
#[test]
fn an_uneven_row_agrees_with_least_squares() {
    let r = &reference()["uneven"];
    let cutoff = r["cutoff"].as_f64().unwrap_or(0.0);
    let row: Vec<_> =
        numbers(&r["x"]).into_iter().zip(numbers(&r["z"])).map(|(x, z)| Point::new(x, z)).collect();
    for (order, name) in [(Order::Line, "line"), (Order::Parabola, "parabola")] {
        let want = numbers(&r[name]);
        assert_eq!(want.len(), 150);
        for (i, (got, want)) in gaussian(&row, cutoff, order).iter().zip(want).enumerate() {
            assert!((got - want).abs() < 1e-9, "{name}, point {i}: {got} against {want}");
        }
    }
}

/// ISO 16610-31 by numpy.linalg.lstsq, and each height found once more by scipy.optimize.minimize.
#[test]
fn the_robust_regression_agrees_with_scipy() {
    let r = &reference()["robust"];
    let cutoff = r["cutoff"].as_f64().unwrap_or(0.0);
    let row: Vec<_> =
        numbers(&r["x"]).into_iter().zip(numbers(&r["z"])).map(|(x, z)| Point::new(x, z)).collect();
    let got = robust(&row, cutoff, Order::Line, 1e-12);
    for (name, within) in [("line", 1e-8), ("minimised", 1e-6)] {
        let want = numbers(&r[name]);
        assert_eq!(want.len(), 200);
        for (i, (got, want)) in got.heights.iter().zip(want).enumerate() {
            assert!((got - want).abs() < within, "{name}, point {i}: {got} against {want}");
        }
    }
    assert!((got.cut - r["cut"].as_f64().unwrap_or(0.0)).abs() < 1e-8);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// ISO 16610-28: a line passes unchanged to the ends, and with order 2 a parabola; whatever the spacing.
    #[test]
    fn lines_and_parabolas_pass_unchanged(steps in proptest::collection::vec(0.001..1.5_f64, 1..120),
                                          a in -5.0..5.0_f64, b in -2.0..2.0_f64, c in -0.1..0.1_f64) {
        let mut x = 70.0;
        let xs: Vec<f64> = steps.iter().map(|d| { x += d; x }).collect();
        let of = |f: &dyn Fn(f64) -> f64| xs.iter().map(|&x| Point::new(x, f(x))).collect::<Vec<_>>();
        let line = of(&|x| a + b * (x - 80.0));
        for order in [Order::Line, Order::Parabola] {
            for (p, z) in line.iter().zip(gaussian(&line, 0.8, order)) {
                prop_assert!((p.z - z).abs() < 1e-9, "{:?} at {}: {} became {z}", order, p.x, p.z);
            }
        }
        let parabola = of(&|x| a + b * (x - 80.0) + c * (x - 80.0) * (x - 80.0));
        for (p, z) in parabola.iter().zip(gaussian(&parabola, 0.8, Order::Parabola)) {
            prop_assert!((p.z - z).abs() < 1e-6, "at {}: {} became {z}", p.x, p.z);
        }
    }

    /// Shifted input, shifted output; mirrored input, mirrored output.
    #[test]
    fn shift_and_mirror(steps in proptest::collection::vec((0.01..0.3_f64, -0.1..0.1_f64), 2..80), dz in -3.0..3.0_f64) {
        let mut x = 0.0;
        let row: Vec<_> = steps.iter().map(|&(d, z)| { x += d; Point::new(x, z) }).collect();
        let out = gaussian(&row, 0.8, Order::Line);
        let up: Vec<_> = row.iter().map(|p| p.shifted(0.0, dz)).collect();
        for (a, b) in out.iter().zip(gaussian(&up, 0.8, Order::Line)) {
            prop_assert!((a + dz - b).abs() < 1e-9);
        }
        let back: Vec<_> = row.iter().rev().map(|p| Point::new(x + 1.0 - p.x, p.z)).collect();
        for (a, b) in out.iter().rev().zip(gaussian(&back, 0.8, Order::Line)) {
            prop_assert!((a - b).abs() < 1e-9);
        }
    }
}
