//! How long the tube's fit takes by the number of the path's points: `cargo bench --bench tube`.
//!
//! A face of 150 mm with waves as a filter of 0.8 mm leaves them, sampled ever more finely; the path is
//! that of a nose of 0.8 mm. Once with arcs, once with lines only.

use divan::counter::ItemsCount;
use facewright::fit::{ArcForm, ArcLimits, ArcRule, Tube, fit};
use facewright::geometry::envelope::dilate;
use facewright::geometry::{Curve, Grid, Outline, Point, Profile};

fn main() {
    divan::main();
}

/// The path over a face of `n` points between 70 mm and 220 mm.
fn path(n: u32) -> Curve {
    let points = (0..=n)
        .map(|i| {
            let u = 150.0 * f64::from(i) / f64::from(n);
            let waves =
                0.002 * (u * 7.9).sin() + 0.001 * (u * 5.3 + 1.0).sin() + 0.001 * (u * 3.1 + 2.0).sin();
            let lip = 0.8 * ((u - 100.0) / 2.0).tanh();
            Point::new(70.0 + u, waves + lip - 0.0006 * u * u)
        })
        .collect();
    let Ok(face) = Profile::new(points) else { unreachable!("the points are in order") };
    let tool = Outline { nose_radius: 0.8, inner_edge: 0.5, outer_edge: 0.5, edge_length: 8.0, holder: None };
    let Some(path) = dilate(&face, &tool, [70.0, 220.0]) else { unreachable!("the tool meets the face") };
    path
}

fn tube(arcs: ArcRule) -> Tube<'static> {
    let grid = Grid { dx: 0.0005, dz: 0.001, x0: 0.0, z0: 0.0 };
    Tube { tolerance: 0.005, grid, arcs, tangent_jump: 1f64.to_radians(), breaks: &[], doubted: &[] }
}

#[divan::bench(args = [1_000, 3_000, 10_000, 100_000], sample_count = 10, sample_size = 1)]
fn with_arcs(bencher: divan::Bencher, n: u32) {
    let limits = ArcLimits {
        min_radius: 0.1,
        max_radius: 5000.0,
        end_tolerance: 0.002,
        form: ArcForm::Centre { step: 0.001 },
        room: None,
        turn: None,
    };
    let tube = tube(ArcRule::Allowed(limits));
    let path = path(n);
    if let Ok(fitted) = fit(&path, &tube) {
        eprintln!("{n} points, {} pieces, fitted with {}", path.pieces().len(), fitted.pieces().len());
    }
    bencher.counter(ItemsCount::new(n)).bench(|| fit(&path, &tube));
}

#[divan::bench(args = [1_000, 3_000, 10_000, 100_000], sample_count = 10, sample_size = 1)]
fn lines_only(bencher: divan::Bencher, n: u32) {
    let tube = tube(ArcRule::None);
    let path = path(n);
    if let Ok(fitted) = fit(&path, &tube) {
        eprintln!("{n} points, {} pieces, fitted with {}", path.pieces().len(), fitted.pieces().len());
    }
    bencher.counter(ItemsCount::new(n)).bench(|| fit(&path, &tube));
}
