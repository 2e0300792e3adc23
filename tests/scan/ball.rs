//! A ball probe's path becomes the surface under it: closed forms of plane geometry.

use facewright::geometry::{Point, Profile, envelope::dilate_disk};
use facewright::scan::{Stretch, ball};

const RADIUS: f64 = 1.5;

/// What lies under a ball that is driven over a surface in steps of 0.05 mm; its path is the height of its lowest point.
fn probed(path: impl Fn(f64) -> f64) -> (Vec<Point>, Vec<Stretch>) {
    let xs = (0..=400).map(|i| 80.0 + 0.05 * f64::from(i));
    let path = Profile::new(xs.map(|x| Point::new(x, path(x))).collect()).unwrap_or_else(|f| panic!("{f}"));
    ball::surface(&path, RADIUS)
}

fn rolled(surface: &[(f64, f64)]) -> impl Fn(f64) -> f64 {
    let points = surface.iter().map(|&(x, z)| Point::new(x, z)).collect();
    let profile = Profile::new(points).unwrap_or_else(|f| panic!("{f}"));
    let centre = dilate_disk(&profile, RADIUS);
    move |x| centre.at(x) - RADIUS
}

/// A plane of slope m lies under a path that runs `R·(√(1 + m²) − 1)` higher.
#[test]
fn a_slope_comes_down_by_its_closed_form() {
    let m = 0.75;
    let (points, unreached) = probed(|x| m * (x - 90.0));
    let drop = RADIUS * (1.0_f64 + m * m).sqrt() - RADIUS;
    for p in points.iter().filter(|p| (82.0..98.0).contains(&p.x)) {
        assert!((p.z - (m * (p.x - 90.0) - drop)).abs() < 1e-9, "{p:?}");
    }
    assert!(unreached.is_empty());
}

/// A ball on a sharp ridge draws its own arc; the ridge comes back, and none of it counts as unreached.
#[test]
fn a_ridge_comes_back() {
    let surface = [(70.0, -10.0), (90.0, 0.0), (110.0, -10.0)];
    let (points, unreached) = probed(rolled(&surface));
    // Between two measured places of an arc the chord lies up to s²/(8·R) lower.
    let chord = 0.05_f64.powi(2) / (8.0 * RADIUS);
    for p in points.iter().filter(|p| (82.0..98.0).contains(&p.x)) {
        let off = p.z + 0.5 * (p.x - 90.0).abs();
        assert!(off > -2.0 * chord && off < 1e-3, "{p:?} is off by {off}");
    }
    assert!(unreached.is_empty(), "{unreached:?}");
}

/// In a valley of two walls of slope 1 the ball touches R·sin 45° to either side of the bottom: between is unreached.
#[test]
fn a_valley_is_told_as_unreached_and_never_too_low() {
    let surface = [(70.0, 20.0), (90.0, 0.0), (110.0, 20.0)];
    let (points, unreached) = probed(rolled(&surface));
    assert_eq!(unreached.len(), 1, "{unreached:?}");
    let s = unreached[0];
    let reach = RADIUS * std::f64::consts::FRAC_1_SQRT_2;
    assert!((s.from - (90.0 - reach)).abs() < 0.05 && (s.to - (90.0 + reach)).abs() < 0.05, "{s:?}");
    for p in points.iter().filter(|p| (82.0..98.0).contains(&p.x)) {
        let off = p.z - (p.x - 90.0).abs();
        assert!(off > -1e-3, "{p:?} lies below the surface by {off}");
        if (p.x - 90.0).abs() > reach + 0.1 {
            assert!(off < 1e-6, "{p:?} is off by {off}");
        }
    }
}
