//! The number of pieces against the least possible, by dynamic programming, and against Douglas and Peucker's simplification.

use geo::{LineString, Simplify};

use super::super::corridor::Corridor;
use super::super::feasible::bend_through;
use super::{Dice, centre_arcs, path_of, tube};
use crate::fit::{ArcRule, Tube, fit};
use crate::geometry::{Curve, Piece, Point};

/// Columns and heights at which the dynamic programme lets pieces end: on the grid, between the path's joints too.
const COLUMNS_PER_PIECE: usize = 3;
const HEIGHTS: usize = 8;

/// Those heights, and two for the fit's own ends.
const ROW: usize = HEIGHTS + 2;

/// Faces of each kind.
const CASES: usize = 40;

/// Abscissae of a path piece at which a piece is judged.
const JUDGED: usize = 8;

/// How many columns in a row must be out of reach before a start is done with.
const GIVE_UP: usize = 12;

/// The least number of pieces over a raster of ends, each piece judged at sampled abscissae.
///
/// Imai and Iri (1988) state the fewest pieces as a shortest path through the graph of all pieces
/// that keep the tolerance; here the graph is searched whole.
fn least_pieces(path: &Curve, tube: &Tube, fitted: &Curve) -> usize {
    let (corridor, _) = Corridor::new(path, tube.tolerance);
    let mut xs = Vec::new();
    for p in path.pieces() {
        for i in 0..JUDGED {
            xs.push(p.from().x + (p.to().x - p.from().x) * i as f64 / JUDGED as f64);
        }
    }
    xs.push(path.end());
    let floor: Vec<f64> = xs.iter().map(|&x| path.at(x)).collect();
    let roof: Vec<f64> = xs.iter().map(|&x| corridor.roof_at(x)).collect();
    // The columns and, in each, every height of the grid inside the tube; some columns may have none.
    let grid = &tube.grid;
    let mut abscissae: Vec<f64> = (0..=path.pieces().len() * COLUMNS_PER_PIECE)
        .map(|i| {
            let (piece, part) =
                (i / COLUMNS_PER_PIECE, (i % COLUMNS_PER_PIECE) as f64 / COLUMNS_PER_PIECE as f64);
            let x = path
                .pieces()
                .get(piece)
                .map_or(path.end() - grid.dx / 2.0, |p| p.from().x + (p.to().x - p.from().x) * part);
            grid.nearest_x(x.max(path.start() + grid.dx / 2.0))
        })
        .chain(fitted.pieces().iter().map(|p| p.to().x))
        .collect();
    abscissae.sort_by(f64::total_cmp);
    abscissae.dedup_by(|b, a| *b - *a < grid.dx / 2.0);
    let columns: Vec<(f64, Vec<f64>)> = abscissae
        .into_iter()
        .map(|x| {
            let low = grid.z_not_below(path.at(x));
            let count = ((corridor.roof_at(x) - low) / grid.dz).floor().max(-1.0);
            let stride = (count / HEIGHTS as f64).max(1.0);
            let mut heights: Vec<f64> = (0..HEIGHTS)
                .map(|h| (h as f64 * stride).floor())
                .filter(|h| *h <= count)
                .map(|h| low + h * grid.dz)
                .collect();
            heights.extend(
                fitted.pieces().iter().filter(|p| (p.to().x - x).abs() < grid.dx / 2.0).map(|p| p.to().z),
            );
            heights.extend(
                fitted.pieces().iter().filter(|p| (p.from().x - x).abs() < grid.dx / 2.0).map(|p| p.from().z),
            );
            heights.truncate(HEIGHTS + 2);
            (x, heights)
        })
        .collect();
    let most = match tube.arcs {
        ArcRule::None => 0.0,
        ArcRule::Allowed(limits) => 1.0 / limits.min_radius,
    };
    let holds = |p: Point, q: Point| {
        let inside = xs.partition_point(|&x| x <= p.x)..xs.partition_point(|&x| x < q.x);
        let q = q.shifted(-p.x, -p.z);
        let steep = (1.0 + (q.z / q.x).powi(2)).sqrt();
        let (mut lo, mut hi) = (-most * steep, most * steep);
        for i in inside {
            let below = bend_through(q, Point::new(xs[i] - p.x, floor[i] - p.z));
            let above = bend_through(q, Point::new(xs[i] - p.x, roof[i] - p.z));
            let (Some(below), Some(above)) = (below, above) else { return false };
            lo = lo.max(below);
            hi = hi.min(above);
            if lo > hi {
                return false;
            }
        }
        true
    };
    let mut least = vec![usize::MAX; columns.len() * ROW];
    least[..ROW].fill(0);
    for (c0, (x0, heights0)) in columns.iter().enumerate() {
        for (h0, &z0) in heights0.iter().enumerate() {
            let steps = least[c0 * ROW + h0];
            if steps == usize::MAX {
                continue;
            }
            let mut missed = 0;
            for (c1, (x1, heights1)) in columns.iter().enumerate().skip(c0 + 1).filter(|c| c.1.0 > *x0) {
                let mut any = false;
                for (h1, &z1) in heights1.iter().enumerate() {
                    if holds(Point::new(*x0, z0), Point::new(*x1, z1)) {
                        any = true;
                        let there = &mut least[c1 * ROW + h1];
                        *there = (*there).min(steps + 1);
                    }
                }
                missed = if any { 0 } else { missed + 1 };
                if missed == GIVE_UP {
                    break;
                }
            }
        }
    }
    least[least.len() - ROW..].iter().copied().min().unwrap_or(usize::MAX)
}

/// Pieces of the polyline that Douglas and Peucker's method leaves of the path, its arcs taken at 16 chords each.
fn simplified(path: &Curve, tolerance: f64) -> usize {
    let mut points = vec![(path.start(), path.at(path.start()))];
    for p in path.pieces() {
        let parts = if matches!(p, Piece::Line(_)) { 1 } else { 16 };
        for i in 1..=parts {
            let x = p.from().x + (p.to().x - p.from().x) * f64::from(i) / f64::from(parts);
            points.push((x, p.at(x)));
        }
    }
    LineString::from(points).simplify(tolerance).0.len() - 1
}

/// The same path, free of the limit on changes of direction, for that the programme does not know.
fn counts(path: &Curve, arcs: ArcRule) -> [usize; 5] {
    let tube = Tube { tangent_jump: std::f64::consts::PI, ..tube(arcs) };
    let fitted = fit(path, &tube).unwrap_or_else(|e| panic!("{e}"));
    // Simplify keeps its tolerance on both sides; at half of it, its band is as wide as the tube.
    [
        path.pieces().len(),
        fitted.pieces().len(),
        least_pieces(path, &tube, &fitted),
        simplified(path, tube.tolerance),
        simplified(path, tube.tolerance / 2.0),
    ]
}

/// Douglas and Peucker keep the tolerance on both sides, a band twice as wide as the tube: over what a nose rolls
/// on, arcs need no more pieces than that even so; in a band as wide as the tube, neither do lines anywhere.
#[test]
fn never_more_pieces_than_simplify() {
    let mut dice = Dice(0x0051_4D91);
    for i in 0..60 {
        let straight = i % 3 == 2;
        let noise = [0.0, 0.002, 0.01][i / 3 % 3];
        let Some(path) = path_of(&mut dice, 100, 0.1, noise, straight) else { continue };
        for arcs in [centre_arcs(), ArcRule::None] {
            let tube = Tube { tangent_jump: std::f64::consts::PI, ..tube(arcs) };
            let fitted = fit(&path, &tube).unwrap_or_else(|e| panic!("{e}")).pieces().len();
            let half = arcs == ArcRule::None || straight;
            let simple = simplified(&path, if half { tube.tolerance / 2.0 } else { tube.tolerance });
            assert!(fitted <= simple, "face {i}: {fitted} pieces where Simplify has {simple}");
        }
    }
}

/// The goal: in the median within three in a hundred of the least, for each kind of path. The table of docs/fair.md has more faces,
/// and longer ones.
#[test]
fn near_the_least() {
    let mut dice = Dice(0x1EA5_7000);
    for arcs in [centre_arcs(), ArcRule::None] {
        for (noise, straight) in KINDS.map(|(_, noise, straight)| (noise, straight)) {
            let mut ratios: Vec<f64> = Vec::new();
            while ratios.len() < 9 {
                let Some(path) = path_of(&mut dice, 60, 0.1, noise, straight) else { continue };
                let [_, fitted, least, ..] = counts(&path, arcs);
                // A raster too coarse for a steep face says nothing.
                if least < usize::MAX {
                    ratios.push(fitted as f64 / least as f64);
                }
            }
            ratios.sort_by(f64::total_cmp);
            assert!(ratios[4] <= 1.03, "noise {noise}, straight {straight}, {arcs:?}: {ratios:?}");
        }
    }
}

/// The kinds of path: name, noise, straight stretches.
const KINDS: [(&str, f64, bool); 4] = [
    ("nose over a smooth face", 0.0, false),
    ("nose over noise of 0.002 mm", 0.002, false),
    ("nose over noise of 0.01 mm", 0.01, false),
    ("straight stretches, noise of 0.002 mm", 0.002, true),
];

/// Prints docs/fair.md's first table.
#[test]
#[ignore = "a table, not a law: some minutes"]
fn table() {
    let mut dice = Dice(0x0B5E_55ED);
    println!(
        "| path of 200 points | pieces | fitted | least | over least, median | worst | Simplify, ± tolerance (faces with fewer) | Simplify, ± half |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    for (arcs, with) in [(centre_arcs(), "arcs"), (ArcRule::None, "lines only")] {
        for (name, noise, straight) in KINDS {
            let (mut sums, mut worse) = ([0; 5], 0);
            let mut ratios = Vec::new();
            while ratios.len() < CASES {
                let Some(path) = path_of(&mut dice, 200, 0.1, noise, straight) else { continue };
                let counts = counts(&path, arcs);
                let [_, fitted, least, simple, _] = counts;
                // A raster too coarse for a steep face says nothing.
                if least == usize::MAX {
                    continue;
                }
                worse += usize::from(fitted > simple);
                for (sum, n) in sums.iter_mut().zip(counts) {
                    *sum += n;
                }
                ratios.push(fitted as f64 / least as f64);
            }
            ratios.sort_by(f64::total_cmp);
            let percent = |r: f64| format!("{:.1} %", 100.0 * (r - 1.0));
            let median = f64::midpoint(ratios[(CASES - 1) / 2], ratios[CASES / 2]);
            println!(
                "| {name}, {with} | {} | {} | {} | {} | {} | {} ({worse}) | {} |",
                sums[0],
                sums[1],
                sums[2],
                percent(median),
                percent(ratios[CASES - 1]),
                sums[3],
                sums[4]
            );
        }
    }
}
