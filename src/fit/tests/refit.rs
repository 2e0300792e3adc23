//! A fit made again: the laws hold as for any fit, and what agrees is kept.

use super::facets::{jumps, smooth_path};
use super::*;
use crate::fit::refit::GIVEN_UP;
use crate::fit::{Fitted, refit};
use crate::geometry::envelope::{agreement, higher};

/// The path of the next pass: moved down by a depth, but for walls at both ends that the tool's edges slide along.
fn next_pass(path: &Curve, depth: f64, steepness: f64) -> Curve {
    let at = |x: f64| Point::new(x, path.at(x));
    let (start, end) = (at(path.start()), at(path.end()));
    let fall = (start.z - end.z) / (end.x - start.x);
    let steepness = steepness.max(1.5 * fall.abs());
    // The two walls meet deep below the middle.
    let meet = start.x + (end.x - start.x) * (steepness + fall) / (2.0 * steepness);
    let walls = polyline(&[start, Point::new(meet, start.z - steepness * (meet - start.x)), end]);
    higher(&path.raised(-depth), &walls)
}

fn fitted(path: Curve, tube: &Tube) -> Fitted {
    let fit = fit(&path, tube).unwrap_or_else(|e| panic!("{e} {tube:?}"));
    Fitted { path, fit }
}

#[test]
fn a_path_moved_by_whole_steps_keeps_its_fit() {
    let mut dice = Dice(0xA6A1);
    for i in 0..100 {
        let tube = random_tube(&mut dice, i);
        let known = fitted(random_path(&mut dice, 40, 0.002, i % 2 == 0), &tube).moved(-0.3, &tube.grid);
        let again = refit(&known.path, &tube, &known).unwrap_or_else(|e| panic!("{i}: {e}"));
        assert_eq!(again.pieces().len(), known.fit.pieces().len());
        assert_holds(&known.path, &again, &tube);
    }
}

/// A thousand pairs of passes: every law of the second, and hardly more pieces than the first has.
#[test]
fn the_next_pass_keeps_every_law() {
    let mut dice = Dice(0xA6A1_45EE);
    let (mut first, mut again, mut anew) = (0, 0, 0);
    for i in 0..1000 {
        let path = random_path(&mut dice, 40, [0.0, 0.002, 0.01][i / 9 % 3], i % 4 == 3);
        let tube = random_tube(&mut dice, i);
        let known = fitted(path, &tube);
        let steps = (dice.between(0.02, 0.2) / tube.grid.dz).round();
        let depth = steps * tube.grid.dz;
        let next = next_pass(&known.path, depth, dice.between(0.6, 4.0));
        let result = refit(&next, &tube, &known.moved(-depth, &tube.grid))
            .unwrap_or_else(|e| panic!("pass {i}: {e} {tube:?}"));
        assert_holds(&next, &result, &tube);
        first += known.fit.pieces().len();
        again += result.pieces().len();
        anew += fitted(next, &tube).fit.pieces().len();
    }
    println!("first passes {first} pieces, next passes {again}, the same fitted anew {anew}");
    assert!(again * 100 <= anew * 103, "{again} pieces where {anew} are enough");
}

/// What agrees is kept to the piece: beyond the walls' reach both passes are one path; a few pieces beside it may go for a
/// better joint.
#[test]
fn the_middle_is_the_known_fit() {
    let mut dice = Dice(0x0A_6A1D);
    let (mut kept, mut all) = (0, 0);
    for i in 0..60 {
        let tube = tube([centre_arcs(), radius_arcs(), ArcRule::None][i % 3]);
        let known = fitted(path_of_smooth_face(&mut dice), &tube);
        let moved = known.moved(-0.1, &tube.grid);
        let next = next_pass(&known.path, 0.1, 1.7);
        let again = refit(&next, &tube, &moved).unwrap_or_else(|e| panic!("{i}: {e}"));
        assert_holds(&next, &again, &tube);
        let Some([from, to]) = agreement(&next, &moved.path, 1e-10) else { panic!("{i}: no agreement") };
        let near = |a: Point, b: Point| a.distance(b) < 1e-9;
        let margin = 0.5;
        let inside = |p: &&Piece| p.from().x > from + margin && p.to().x < to - margin;
        let inside: Vec<&Piece> = moved.fit.pieces().iter().filter(inside).collect();
        let middle = &inside[GIVEN_UP..inside.len() - GIVEN_UP];
        let found = |piece: &&Piece| {
            let same = |p: &&Piece| near(p.from(), piece.from()) && near(p.to(), piece.to());
            again.pieces().iter().any(|p| same(&p))
        };
        let k = middle.iter().copied().filter(found).count();
        kept += k;
        all += middle.len();
    }
    println!("{kept} of {all} pieces kept");
    assert!(kept * 10 > all * 9, "{kept} of {all}");
}

fn path_of_smooth_face(dice: &mut Dice) -> Curve {
    loop {
        if let Some(path) = path_of(dice, 200, 0.15, 0.001, false) {
            return path;
        }
    }
}

#[test]
fn where_nothing_agrees_all_is_fitted_anew() {
    let mut dice = Dice(0x0A_6A1F);
    let tube = tube(centre_arcs());
    let known = fitted(random_path(&mut dice, 40, 0.002, false), &tube);
    let other = random_path(&mut dice, 40, 0.002, false);
    assert_eq!(refit(&other, &tube, &known), fit(&other, &tube));
}

/// Beyond the walls' reach the path is smooth, and so is the fit: no joint there over the limit, also none where kept pieces and new
/// ones meet.
#[test]
fn the_ends_join_smoothly() {
    let mut dice = Dice(0x0A_6A1E);
    for i in 0..150 {
        let tube = tube([centre_arcs(), radius_arcs(), ArcRule::None][i % 3]);
        let known = fitted(smooth_path(&mut dice, 12.0), &tube).moved(-0.1, &tube.grid);
        let next = next_pass(&known.path.raised(0.1), 0.1, dice.between(1.7, 8.0));
        let again = refit(&next, &tube, &known).unwrap_or_else(|e| panic!("{i}: {e}"));
        assert_holds(&next, &again, &tube);
        let Some([from, to]) = agreement(&next, &known.path, 1e-10) else { panic!("{i}: no agreement") };
        for (joint, angle) in again.pieces().iter().skip(1).map(|p| p.from().x).zip(jumps(&again)) {
            let smooth = joint > from + 0.3 && joint < to - 0.3;
            assert!(!smooth || angle <= 1.0 + 1e-9, "{i}: {angle} degrees at {joint} in {from} to {to}");
        }
    }
}

/// A path a little higher than the known one is another path, however little.
#[test]
fn a_hair_is_a_difference() {
    let mut dice = Dice(0x0A_6A1A);
    for i in 0..60 {
        let tube = tube([centre_arcs(), radius_arcs(), ArcRule::None][i % 3]);
        let known = fitted(random_path(&mut dice, 40, 0.002, i % 2 == 0), &tube);
        let hair = [1e-4, 1e-5, 1e-6][i / 3 % 3];
        let higher = known.path.raised(hair);
        let again = refit(&higher, &tube, &known).unwrap_or_else(|e| panic!("{i}: {e}"));
        assert_holds(&higher, &again, &tube);
        assert_eq!(Ok(again), fit(&higher, &tube));
    }
}
