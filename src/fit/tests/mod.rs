//! The tube's laws, by a check that shares nothing with the fit but the path.

mod facets;
mod fair;
mod optimum;
mod refit;

use super::{ArcForm, ArcLimits, ArcRule, ArcTurn, FitError, NOISE, Tube, fit};
use crate::geometry::envelope;
use crate::geometry::{Arc, Curve, Grid, Holder, Outline, Piece, Point, Profile, Turn};

/// The path of a tool over a face that it meets.
fn dilate(face: &Profile, tool: &Outline, over: [f64; 2]) -> Curve {
    envelope::dilate(face, tool, over).expect("the tool meets the face")
}

/// A small seeded generator (xorshift64*, from memory), so that the same faces come every time.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn between(&mut self, lo: f64, hi: f64) -> f64 {
        lo + (hi - lo) * self.next()
    }

    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.next()).sum::<f64>() - 6.0
    }
}

/// The exact path of a nose over points alone: the upper envelope of its caps, each two of which cross at most once.
fn caps(points: &[Point], nose: f64) -> Curve {
    let centre = |p: &Point| p.shifted(0.0, -nose);
    // Where the cap of b takes over from that of a: on the bisector of their centres.
    let crossing = |a: Point, b: Point| {
        let (dx, dz) = (b.x - a.x, b.z - a.z);
        let d2 = dx * dx + dz * dz;
        let h = (nose * nose / d2 - 0.25).max(0.0).sqrt();
        Point::new(f64::midpoint(a.x, b.x) - dz * h, f64::midpoint(a.z, b.z) + dx * h)
    };
    let mut stack: Vec<(Point, Point)> = Vec::new();
    for p in points {
        let c = centre(p);
        let mut from = *p;
        while let Some(&(top, starts)) = stack.last() {
            let x = crossing(top, c);
            if x.x > starts.x {
                from = x;
                break;
            }
            stack.pop();
            from = Point::new(f64::NEG_INFINITY, 0.0);
        }
        stack.push((c, from));
    }
    // From the first point to the last; what lies beyond is left away.
    let (start, end) = (points[0].x, points[points.len() - 1].x);
    let on = |c: Point, x: f64| Point::new(x, c.z + (nose * nose - (x - c.x).powi(2)).sqrt());
    let mut pieces = Vec::new();
    for (i, &(c, from)) in stack.iter().enumerate() {
        let from = if from.x <= start { on(c, start) } else { from };
        let to = match stack.get(i + 1) {
            Some(next) if next.1.x < end => next.1,
            _ => on(c, end),
        };
        if to.x > from.x {
            pieces.push(Piece::Arc(Arc { from, to, centre: c, turn: Turn::Clockwise }));
        }
        if to.x >= end {
            break;
        }
    }
    Curve::from_pieces(pieces)
}

fn polyline(points: &[Point]) -> Curve {
    Curve::from_pieces(points.windows(2).map(|w| Piece::line(w[0], w[1])).collect())
}

/// A face: a gentle curve, a lip, noise.
fn face(dice: &mut Dice, points: usize, spacing: f64, noise: f64) -> Vec<Point> {
    let (slope, bow) = (dice.between(-0.3, 0.3), dice.between(-0.004, 0.004));
    let (lip, height) = (dice.between(0.3, 0.7), dice.between(-1.0, 1.0));
    let width = dice.between(0.3, 3.0);
    let length = points as f64 * spacing;
    let mut x = 70.0;
    (0..points)
        .map(|_| {
            let u = x - 70.0;
            let z = slope * u
                + bow * u * u
                + height * ((u - lip * length) / width).tanh()
                + noise * dice.normal();
            let p = Point::new(x, z);
            x += spacing * dice.between(0.7, 1.3);
            p
        })
        .collect()
}

fn tube(arcs: ArcRule) -> Tube<'static> {
    Tube {
        tolerance: 0.005,
        grid: Grid { dx: 0.0005, dz: 0.001, x0: 0.0, z0: 0.0 },
        arcs,
        tangent_jump: 1f64.to_radians(),
        breaks: &[],
        doubted: &[],
    }
}

fn centre_arcs() -> ArcRule {
    ArcRule::Allowed(ArcLimits {
        min_radius: 0.1,
        max_radius: 5000.0,
        end_tolerance: 0.002,
        form: ArcForm::Centre { step: 0.001 },
        room: None,
        turn: None,
    })
}

fn radius_arcs() -> ArcRule {
    ArcRule::Allowed(ArcLimits {
        min_radius: 0.1,
        max_radius: 5000.0,
        end_tolerance: 0.002,
        form: ArcForm::Radius { step: 0.001 },
        room: None,
        turn: None,
    })
}

/// Distance of a point from a piece, exact.
fn distance(p: Point, piece: &Piece) -> f64 {
    let ends = p.distance(piece.from()).min(p.distance(piece.to()));
    match piece {
        Piece::Line(l) => {
            let (dx, dz) = (l.to.x - l.from.x, l.to.z - l.from.z);
            let t = ((p.x - l.from.x) * dx + (p.z - l.from.z) * dz) / (dx * dx + dz * dz);
            if (0.0..=1.0).contains(&t) {
                p.distance(Point::new(l.from.x + t * dx, l.from.z + t * dz))
            } else {
                ends
            }
        }
        Piece::Arc(a) => {
            let r = a.from.distance(a.centre);
            let d = p.distance(a.centre);
            let x = a.centre.x + (p.x - a.centre.x) * r / d;
            let up = a.turn == Turn::Clockwise;
            let same_half = (p.z > a.centre.z) == up;
            if same_half && x >= a.from.x && x <= a.to.x { (d - r).abs() } else { ends }
        }
    }
}

/// What the check found of a fit.
#[derive(Debug, Default, Clone, Copy)]
struct Found {
    below: f64,
    above: f64,
}

/// The heights that the control may run at x: for an arc those of the circles through start and end.
fn heights(piece: &Piece, x: f64) -> Vec<f64> {
    match piece {
        Piece::Line(l) => vec![l.from.z + (l.to.z - l.from.z) * (x - l.from.x) / (l.to.x - l.from.x)],
        Piece::Arc(a) => [a.from, a.to]
            .iter()
            .map(|e| {
                let r = e.distance(a.centre);
                let h = (r * r - (x - a.centre.x).powi(2)).max(0.0).sqrt();
                if a.turn == Turn::Clockwise { a.centre.z + h } else { a.centre.z - h }
            })
            .collect(),
    }
}

/// Places sampled in every stretch that one piece of the path and one of the fit share.
const SAMPLES: u32 = 6;

/// Samples a fit against the path: at the path's own joints, and between.
fn sample(path: &Curve, fitted: &Curve, tolerance: f64) -> Found {
    let mut found = Found { below: f64::NEG_INFINITY, above: 0.0 };
    let pieces = path.pieces();
    for piece in fitted.pieces() {
        let (a, b) = (piece.from().x, piece.to().x);
        let first = pieces.partition_point(|p| p.to().x <= a);
        let last = pieces.partition_point(|p| p.from().x < b);
        for p in &pieces[first..last] {
            let (u, v) = (p.from().x.max(a), p.to().x.min(b));
            for i in 0..=SAMPLES {
                let x = u + (v - u) * f64::from(i) / f64::from(SAMPLES);
                for z in heights(piece, x) {
                    found.below = found.below.max(p.at(x) - z);
                    let reach = tolerance * 2.0;
                    let near = pieces.partition_point(|q| q.to().x < x - reach)
                        ..pieces.partition_point(|q| q.from().x <= x + reach);
                    let d = pieces[near]
                        .iter()
                        .map(|q| distance(Point::new(x, z), q))
                        .fold(f64::INFINITY, f64::min);
                    found.above = found.above.max(d);
                }
            }
        }
    }
    found
}

/// A piece shorter than this many columns is one that a search takes which has lost its way.
const CRAWL: f64 = 2.5;

/// The most of them in a row: a corner may need a few.
const MOST_CRAWLING: usize = 3;

/// All that must hold of every fit.
fn assert_holds(path: &Curve, fitted: &Curve, tube: &Tube) -> Found {
    let found = sample(path, fitted, tube.tolerance);
    assert!(found.below <= NOISE, "below the path by {}", found.below);
    assert!(found.above <= tube.tolerance + NOISE, "above by {}", found.above);
    let on = |v: f64, step: f64, at: f64| {
        let n = (v - at) / step;
        (n - n.round()).abs() < 1e-6
    };
    assert!((fitted.start() - path.start()).abs() <= tube.grid.dx);
    assert!((fitted.end() - path.end()).abs() <= tube.grid.dx);
    let mut crawling = 0;
    for piece in fitted.pieces() {
        crawling = if piece.to().x - piece.from().x < CRAWL * tube.grid.dx { crawling + 1 } else { 0 };
        assert!(
            crawling <= MOST_CRAWLING,
            "{crawling} pieces of hardly a column one after the other before {:?}",
            piece.to()
        );
        for p in [piece.from(), piece.to()] {
            assert!(on(p.x, tube.grid.dx, tube.grid.x0) && on(p.z, tube.grid.dz, tube.grid.z0), "{p:?}");
        }
        if let Piece::Arc(a) = piece {
            let ArcRule::Allowed(limits) = tube.arcs else { panic!("an arc where none is allowed") };
            let (r0, r1) = (a.from.distance(a.centre), a.to.distance(a.centre));
            assert!((r0 - r1).abs() <= limits.end_tolerance);
            assert!(r0 >= limits.min_radius && r0 <= limits.max_radius);
            let side = if a.turn == Turn::Clockwise { 1.0 } else { -1.0 };
            assert!(side * (a.from.z - a.centre.z) > 0.0 && side * (a.to.z - a.centre.z) > 0.0);
            match limits.form {
                ArcForm::Centre { step } => {
                    assert!(on(a.centre.x - a.from.x, step, 0.0) && on(a.centre.z - a.from.z, step, 0.0));
                }
                ArcForm::Radius { step } => assert!(on(r0, step, 0.0), "R {r0}"),
            }
        }
    }
    found
}

#[test]
fn a_straight_path_on_the_grid_stays_one_line() {
    let path = polyline(&[Point::new(70.0, 1.0), Point::new(90.0, 1.0), Point::new(110.0, 1.0)]);
    for arcs in [ArcRule::None, centre_arcs(), radius_arcs()] {
        let fitted = fit(&path, &tube(arcs)).unwrap_or_else(|e| panic!("{e}"));
        assert_holds(&path, &fitted, &tube(arcs));
        assert_eq!(fitted.pieces().len(), 1);
        assert!(matches!(fitted.pieces()[0], Piece::Line(_)));
    }
}

#[test]
fn one_cap_becomes_one_arc() {
    // A nose of 0.8 mm rolling over a corner: 60 degrees either side would be too steep for one start, so 45.
    let at =
        |deg: f64| Point::new(100.0 + 0.8 * f64::sin(deg.to_radians()), 0.8 * f64::cos(deg.to_radians()));
    let path = Curve::from_pieces(vec![Piece::Arc(Arc {
        from: at(-45.0),
        to: at(45.0),
        centre: Point::new(100.0, 0.0),
        turn: Turn::Clockwise,
    })]);
    for arcs in [centre_arcs(), radius_arcs()] {
        let fitted = fit(&path, &tube(arcs)).unwrap_or_else(|e| panic!("{e}"));
        assert_holds(&path, &fitted, &tube(arcs));
        assert_eq!(fitted.pieces().len(), 1);
    }
    let lines = fit(&path, &tube(ArcRule::None)).unwrap_or_else(|e| panic!("{e}"));
    assert_holds(&path, &lines, &tube(ArcRule::None));
}

#[test]
fn nonsense_is_refused() {
    let path = polyline(&[Point::new(70.0, 1.0), Point::new(90.0, 1.0)]);
    let zero = Tube { tolerance: 0.0, ..tube(ArcRule::None) };
    assert_eq!(fit(&path, &zero), Err(FitError::Number("tolerance")));
    let short = polyline(&[Point::new(70.0001, 1.0), Point::new(70.0002, 1.0)]);
    assert_eq!(fit(&short, &tube(ArcRule::None)), Err(FitError::TooShort));
    // Heights every 0.01 mm, a tolerance of 0.005 mm, and a path halfway between.
    let path = polyline(&[Point::new(70.0, 0.001), Point::new(90.0, 0.001)]);
    let coarse = Tube { grid: Grid { dz: 0.01, ..tube(ArcRule::None).grid }, ..tube(ArcRule::None) };
    assert!(matches!(fit(&path, &coarse), Err(FitError::Narrow { .. })));
}

/// The steepest slope that an edge of 5 degrees from the spindle axis can follow; no tool's path is steeper.
const STEEPEST: f64 = 11.4;

/// A random path: caps over a face, or straight stretches.
fn random_path(dice: &mut Dice, points: usize, noise: f64, straight: bool) -> Curve {
    loop {
        let spacing = dice.between(0.02, 0.3);
        if let Some(path) = path_of(dice, points, spacing, noise, straight) {
            return path;
        }
    }
}

/// A random path at a spacing, if a tool could follow it.
fn path_of(dice: &mut Dice, points: usize, spacing: f64, noise: f64, straight: bool) -> Option<Curve> {
    let points = face(dice, points, spacing, noise);
    let path = if straight { polyline(&points) } else { caps(&points, dice.between(0.4, 1.6)) };
    let slope = |from: Point, to: Point| ((to.z - from.z) / (to.x - from.x)).abs();
    let steepest = path.pieces().iter().fold(0.0, |most: f64, p| {
        most.max(match p {
            Piece::Line(l) => slope(l.from, l.to),
            Piece::Arc(a) => [a.from, a.to].iter().fold(0.0, |m: f64, e| {
                // Caps that meet under their middles would overhang.
                let up = e.z - a.centre.z;
                m.max(if up > 0.0 { ((e.x - a.centre.x) / up).abs() } else { f64::INFINITY })
            }),
        })
    });
    (steepest <= STEEPEST).then_some(path)
}

/// A control drawn at random: grid with its offsets, tolerance, arcs.
fn random_tube(dice: &mut Dice, i: usize) -> Tube<'static> {
    // Diameter and radius words of 0.001 mm, and diameter words of 0.0001 in.
    let (dx, dz, step) = [(0.0005, 0.001, 0.001), (0.001, 0.001, 0.001), (0.00127, 0.00254, 0.00254)][i % 3];
    let limits =
        ArcLimits { end_tolerance: 2.0 * step, form: ArcForm::Centre { step }, ..limits(centre_arcs()) };
    let arcs = match i / 3 % 3 {
        0 => ArcRule::Allowed(limits),
        1 => ArcRule::Allowed(ArcLimits { form: ArcForm::Radius { step }, ..limits }),
        _ => ArcRule::None,
    };
    Tube {
        tolerance: dice.between(4.0, 20.0) * dz,
        grid: Grid { dx, dz, x0: dice.between(0.0, dx), z0: dice.between(0.0, dz) },
        arcs,
        tangent_jump: dice.between(0.5, 3.0).to_radians(),
        breaks: &[],
        doubted: &[],
    }
}

fn limits(arcs: ArcRule) -> ArcLimits {
    match arcs {
        ArcRule::Allowed(limits) => limits,
        ArcRule::None => panic!("no arcs"),
    }
}

/// Ten thousand faces, every law of each, and the deepest and highest places over all of them.
#[test]
fn random_faces_keep_every_law() {
    let mut dice = Dice(0x5EED_FACE);
    let mut worst = Found { below: f64::NEG_INFINITY, above: f64::NEG_INFINITY };
    for i in 0..10_000 {
        let noise = [0.0, 0.002, 0.01][i / 9 % 3];
        let path = random_path(&mut dice, 8 + i % 9, noise, i % 4 == 3);
        let tube = random_tube(&mut dice, i);
        let fitted = fit(&path, &tube).unwrap_or_else(|e| panic!("face {i}: {e} {tube:?}"));
        let found = assert_holds(&path, &fitted, &tube);
        worst.below = worst.below.max(found.below);
        worst.above = worst.above.max(found.above - tube.tolerance);
    }
    println!(
        "below the path at most {:.1e} mm, above the tolerance at most {:.1e} mm",
        worst.below, worst.above
    );
}

#[test]
fn the_roof_is_the_edge_of_the_tolerance() {
    let mut dice = Dice(0x0F_ACED);
    for i in 0..200 {
        let path = random_path(&mut dice, 60, [0.002, 0.01, 0.03][i % 3], i % 2 == 0);
        let (pieces, tolerance) = (path.pieces(), dice.between(0.002, 0.05));
        let (corridor, _) = super::corridor::Corridor::new(&path, tolerance);
        for _ in 0..100 {
            let x = dice.between(path.start(), path.end());
            let p = Point::new(x, corridor.roof_at(x));
            let off = pieces.iter().map(|q| distance(p, q)).fold(f64::INFINITY, f64::min);
            assert!(off <= tolerance + NOISE, "above the edge by {}", off - tolerance);
            assert!(off >= tolerance - 1e-7, "below the edge by {}: {i} {x}", tolerance - off);
        }
    }
}

/// On a control that wants short arcs within one quadrant, and leaves no room to part them: every arc is one, and every law holds as before.
#[test]
fn no_arc_runs_further_round_than_it_may() {
    let mut dice = Dice(0x0A2C_7024);
    let (mut arcs, mut lines) = (0, 0);
    for i in 0..600 {
        let path = random_path(&mut dice, 8 + i % 9, [0.0, 0.002][i % 2], i % 4 == 3);
        let longest = [5.0, 20.0, 180.0][i / 2 % 3];
        let turn = ArcTurn { longest: f64::to_radians(longest), border: [None, Some(0.001)][i / 6 % 2] };
        let mut tube = random_tube(&mut dice, i);
        let ArcRule::Allowed(limits) = tube.arcs else { continue };
        tube.arcs = ArcRule::Allowed(ArcLimits { turn: Some(turn), ..limits });
        let fitted = fit(&path, &tube).unwrap_or_else(|e| panic!("face {i}: {e} {tube:?}"));
        assert_holds(&path, &fitted, &tube);
        for piece in fitted.pieces() {
            let Piece::Arc(arc) = piece else {
                lines += 1;
                continue;
            };
            arcs += 1;
            assert!(!turn.too_long(arc) && !turn.over_border(arc), "face {i}: {arc:?}, {turn:?}");
        }
    }
    // Arcs are still what most of a face is made of.
    assert!(arcs > 1000 && arcs > lines, "{arcs} arcs, {lines} lines");
}

/// Steep straight stretches, where the circle that would reach furthest cannot be told in the control's words: the search must go
/// around it and not crawl toward it.
#[test]
fn no_search_crawls() {
    let mut dice = Dice(0x00C1_2A31);
    for i in 0..400 {
        let path = random_path(&mut dice, 60, 0.002, true);
        let tube = Tube { tangent_jump: std::f64::consts::PI, ..tube([centre_arcs(), radius_arcs()][i % 2]) };
        let fitted = fit(&path, &tube).unwrap_or_else(|e| panic!("face {i}: {e}"));
        assert_holds(&path, &fitted, &tube);
    }
}

/// Real tools: edges, and holders whose flat underside and end make the path step.
#[test]
fn paths_of_real_tools_keep_every_law() {
    let mut dice = Dice(0x7001_5EED);
    for i in 0..150 {
        let points = face(&mut dice, 60, 0.15, [0.0, 0.003, 0.01][i % 3]);
        let over = [points[0].x, points[points.len() - 1].x];
        let face = Profile::new(points).unwrap_or_else(|e| panic!("{e}"));
        let tool = Outline {
            nose_radius: dice.between(0.4, 1.2),
            inner_edge: dice.between(5.0, 45.0).to_radians(),
            outer_edge: dice.between(5.0, 45.0).to_radians(),
            edge_length: dice.between(1.5, 8.0),
            holder: (i % 2 == 0).then_some(Holder { inner: 7.0, outer: 9.0 }),
        };
        let path = dilate(&face, &tool, over);
        let tube = tube([centre_arcs(), radius_arcs(), ArcRule::None][i / 3 % 3]);
        let fitted = fit(&path, &tube).unwrap_or_else(|e| panic!("face {i}: {e} {tool:?}"));
        assert_holds(&path, &fitted, &tube);
    }
}
