//! Changes of direction where pieces meet: how large they are, and that the limit holds.

use super::dilate;
use super::{Dice, centre_arcs, radius_arcs, tube};
use crate::fit::{ArcRule, Tube, fit};
use crate::geometry::{Curve, Outline, Piece, Point, Profile};

/// Spacing of the face's points, millimetres.
const SPACING: f64 = 0.05;

/// The path of a nose of 0.8 mm over a face as a filter leaves it: waves of 1.2 mm and more, no curve tighter than 40 mm.
pub(super) fn smooth_path(dice: &mut Dice, length: f64) -> Curve {
    let waves: Vec<(f64, f64, f64)> = (0..4)
        .map(|i| {
            let k = std::f64::consts::TAU / dice.between(1.2, 8.0);
            // Together at most a curvature of 1/45 mm, with the bow below 1/40.
            (dice.between(0.2, 1.0) / (4.0 * 45.0 * k * k), k, f64::from(i) + dice.next())
        })
        .collect();
    let bow = dice.between(-0.001, 0.001);
    // A millimetre more at both ends, so that the nose does not roll over where the face ends.
    let steps = ((length + 2.0) / SPACING).round();
    let mut points = Vec::new();
    let mut i = 0.0;
    while i <= steps {
        let u = i * SPACING - 1.0;
        let z: f64 = waves.iter().map(|(a, k, p)| a * (u * k + p).sin()).sum();
        points.push(Point::new(100.0 + u, z + bow * u * u));
        i += 1.0;
    }
    let face = Profile::new(points).unwrap_or_else(|e| panic!("{e}"));
    let tool = Outline { nose_radius: 0.8, inner_edge: 0.5, outer_edge: 0.5, edge_length: 8.0, holder: None };
    dilate(&face, &tool, [100.0, 100.0 + length])
}

/// The changes of direction at a curve's joints, in degrees.
pub(super) fn jumps(curve: &Curve) -> Vec<f64> {
    let heading = |p: &Piece, at: Point| match p {
        Piece::Line(l) => (l.to.z - l.from.z).atan2(l.to.x - l.from.x),
        Piece::Arc(a) => {
            let slope = -(at.x - a.centre.x) / (at.z - a.centre.z);
            slope.atan()
        }
    };
    curve
        .pieces()
        .windows(2)
        .map(|w| (heading(&w[1], w[1].from()) - heading(&w[0], w[0].to())).abs().to_degrees())
        .collect()
}

#[test]
fn a_smooth_path_gets_no_kink_over_the_limit() {
    let mut dice = Dice(0xB819_FACE);
    for i in 0..60 {
        let path = smooth_path(&mut dice, 20.0);
        let tube = tube([centre_arcs(), radius_arcs(), ArcRule::None][i % 3]);
        let fitted = fit(&path, &tube).unwrap_or_else(|e| panic!("{e}"));
        let most = jumps(&fitted).into_iter().fold(0.0, f64::max);
        assert!(most <= 1.0 + 1e-9, "face {i}: {most} degrees");
    }
}

/// Prints docs/fair.md's second table.
#[test]
#[ignore = "a table, not a law"]
fn table() {
    let free = |arcs| Tube { tangent_jump: std::f64::consts::PI, ..tube(arcs) };
    let rows = [
        ("lines, no limit", free(ArcRule::None)),
        ("lines, 1°", tube(ArcRule::None)),
        ("arcs, no limit", free(centre_arcs())),
        ("arcs, 1°", tube(centre_arcs())),
    ];
    println!("| fit | pieces | joint, median | joint, 95 % | joint, greatest |");
    println!("|---|---|---|---|---|");
    for (name, tube) in rows {
        let mut dice = Dice(0x7_FACE);
        let mut all = Vec::new();
        let mut pieces = 0;
        for _ in 0..40 {
            let path = smooth_path(&mut dice, 100.0);
            let fitted = fit(&path, &tube).unwrap_or_else(|e| panic!("{e}"));
            pieces += fitted.pieces().len();
            all.extend(jumps(&fitted));
        }
        all.sort_by(f64::total_cmp);
        let [median, most, greatest] = [50, 95, 100].map(|percent| all[(all.len() - 1) * percent / 100]);
        println!("| {name} | {pieces} | {median:.2}° | {most:.2}° | {greatest:.2}° |");
    }
}
