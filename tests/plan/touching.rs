//! The touch check against known wheels and closed forms: an error put in comes out, within the uncertainty told.
//!
//! Readings are drawn from the generator's own wheel; nothing of the survey's mathematics enters them.

use crate::fixtures::face;
use crate::fixtures::known::{Known, ZONE, job_over, surveyed};
use crate::fixtures::wheel::Random;
use facewright::face::touch_check::{Estimate, Found, Ground, Tells, TouchError, choose, point, solve};
use facewright::geometry::{Curve, Outline, Point, Profile};
use facewright::job::Tool;
use facewright::plan::touching::{self, TouchGround};

const WHEELS: u64 = 200;
/// Standard deviation of one touch, as the made-up job has it.
const TOUCH: f64 = 0.010;

/// The highest place of the generator's wheel, which now also leans by `tilt` more toward its high side at every radius.
fn truth(wheel: &Known, tilt: f64, tool: &Tool) -> TouchGround {
    let steps = 3_000;
    let points = (0..=steps).map(|i| {
        let r = 63.0 + 154.0 * f64::from(i) / f64::from(steps);
        Point::new(r, wheel.over_the_turn(r)[1] + tilt * r)
    });
    let profile = Profile::new(points.collect()).expect("a profile");
    TouchGround::new(&Curve::from(&profile), &tool.outline(), 0.0).expect("the tool meets the face")
}

/// By how many standard errors an estimate is off.
fn errors(estimate: Estimate, put_in: f64) -> f64 {
    (estimate.value - put_in) / estimate.error
}

/// ±0.5 mm in X, ±0.1 mm in Z and a tilt of up to 0.1 mm at the rim come out within the uncertainty told, on 200 wheels.
///
/// Two standard errors hold 95.4 % of what is normally distributed; of 200 wheels at least 91 % then with a certainty of 99 %.
#[test]
fn an_error_put_in_comes_out() {
    let job = job_over(ZONE[0], ZONE[1]);
    let tool = &job.tools[0];
    let mut off: [Vec<f64>; 3] = Default::default();
    let (mut widths, mut untold): ([Vec<f64>; 3], usize) = (Default::default(), 0);
    for seed in 0..WHEELS {
        let known = Known::of(90_000 + seed);
        let survey = surveyed(&job, known.lines());
        let surface = Curve::from(&survey.face().highest);
        let ground = TouchGround::new(&surface, &tool.outline(), 0.0)
            .expect("the tool meets the face")
            .surveyed(survey.model());
        let choice = touching::choose(&job, tool, &ground, survey.model())
            .unwrap_or_else(|| panic!("wheel {seed}: no place tells"));
        if choice.tells == Tells::NotX {
            untold += 1;
            continue;
        }
        let mut random = Random::new(seed ^ 0x5EED);
        let mut within = |most: f64| most * (2.0 * random.uniform() - 1.0);
        let (dx, dz, tilt) = (within(0.5), within(0.1), within(0.1) / 216.0);
        let wheel = truth(&known, tilt, tool);
        let readings: Vec<f64> =
            choice.points.iter().map(|p| wheel.touch(p.at + dx).z - dz + TOUCH * random.normal()).collect();
        let found = solve(&ground, &choice.points, &readings, choice.tells)
            .unwrap_or_else(|e| panic!("wheel {seed}: {e}"));
        let x = found.x.expect("X was told");
        let told = [(x, dx), (found.z, dz), (found.tilt, tilt)];
        for ((estimate, put_in), (off, widths)) in told.into_iter().zip(off.iter_mut().zip(&mut widths)) {
            off.push(errors(estimate, put_in));
            widths.push(estimate.error);
        }
    }
    println!("{untold} wheels of {WHEELS} cannot tell X");
    for (name, (off, widths)) in ["X", "Z", "tilt"].into_iter().zip(off.iter().zip(&mut widths)) {
        widths.sort_by(f64::total_cmp);
        let within = |k: f64| off.iter().filter(|o| o.abs() <= k).count();
        let (one, two) = (within(1.0), within(2.0));
        let worst = off.iter().fold(0.0_f64, |a, o| a.max(o.abs()));
        let (n, middle) = (off.len(), widths[widths.len() / 2]);
        println!(
            "{name}: {n} wheels, {one} within one and {two} within two standard errors, worst {worst:.1}; standard error {middle:.5} in the middle, {:.5} at most",
            widths[n - 1]
        );
        assert!(n >= 150, "{name}: told on {n} wheels only");
        assert!(two as f64 >= 0.91 * n as f64, "{name}: {two} of {n} within two standard errors");
        assert!(one as f64 <= 0.90 * n as f64, "{name}: {one} of {n} within one: the error told is too wide");
        assert!(worst < 5.0, "{name}: {worst} standard errors off");
    }
}

/// A ground known without error.
fn exact(points: &[(f64, f64)], tool: &Outline, film: f64) -> TouchGround {
    TouchGround::new(&Curve::from(&face::profile(points)), tool, film).expect("the tool meets the face")
}

fn tool() -> Outline {
    Outline { nose_radius: 1.2, inner_edge: 0.5, outer_edge: 0.5, edge_length: 8.0, holder: None }
}

fn told(ground: &TouchGround, at: &[f64], readings: &[f64]) -> Result<Found, TouchError> {
    let points: Vec<_> =
        at.iter().map(|&x| point(ground, x, TOUCH).expect("metal under every place")).collect();
    solve(ground, &points, readings, Tells::All)
}

/// A valley with a flat beside it: slopes of both signs.
const VALLEY: [(f64, f64); 5] = [(60.0, 0.0), (90.0, 0.0), (130.0, -8.0), (170.0, 0.0), (200.0, 0.0)];

#[test]
fn three_places_of_equal_slope_are_refused() {
    let cone = exact(&[(60.0, 0.0), (200.0, 28.0)], &tool(), 0.0);
    let refused = told(&cone, &[80.0, 120.0, 180.0], &[4.0, 12.0, 24.0]);
    assert!(matches!(refused, Err(TouchError::EqualSlopes(_))), "{refused:?}");
    // Slopes of 0.2 and 0.2007 would tell X to no better than some millimetres.
    let nearly = exact(&[(60.0, 0.0), (130.0, 14.0), (200.0, 28.05)], &tool(), 0.0);
    let refused = told(&nearly, &[80.0, 120.0, 180.0], &[80.0, 120.0, 180.0].map(|x| nearly.touch(x).z));
    assert!(matches!(refused, Err(TouchError::EqualSlopes(_))), "{refused:?}");
    let flats = exact(&VALLEY, &tool(), 0.0);
    let refused = told(&flats, &[65.0, 75.0, 85.0], &[0.0, 0.0, 0.0]);
    assert!(matches!(refused, Err(TouchError::EqualSlopes(_))), "{refused:?}");
    let refused = told(&flats, &[75.0, 110.0], &[0.0, -4.0]);
    assert_eq!(refused, Err(TouchError::TooFew(2)));
}

/// A face whose slope grows in proportion to the radius looks the same moved outward and tilted.
#[test]
fn a_parabola_cannot_tell_x_from_tilt() {
    let bowl: Vec<(f64, f64)> =
        (0..=1400).map(|i| 60.0 + 0.1 * f64::from(i)).map(|r| (r, 0.0004 * r * r)).collect();
    let ground = exact(&bowl, &tool(), 0.0);
    let z = [80.0, 120.0, 180.0].map(|x| ground.touch(x).z);
    let refused = told(&ground, &[80.0, 120.0, 180.0], &z);
    assert!(matches!(refused, Err(TouchError::EqualSlopes(_))), "{refused:?}");
}

/// Plane geometry: on straight slopes the answer is that of three linear equations, exactly.
#[test]
fn straight_slopes_give_the_error_exactly() {
    let ground = exact(&VALLEY, &tool(), 0.0);
    let (dx, dz) = (0.37, -0.081);
    let at = [75.0, 110.0, 150.0];
    let readings = at.map(|x| ground.touch(x + dx).z - dz);
    let found = told(&ground, &at, &readings).expect("flat and slopes of both signs");
    let x = found.x.expect("X is told").value;
    assert!((x - dx).abs() < 1e-6 && (found.z.value - dz).abs() < 1e-6, "{found:?}");
    assert!(found.tilt.value.abs() < 1e-8 && found.or_else.is_none(), "{found:?}");
    // A flat and slopes of ±0.2: X follows from half the difference of the slopes' readings over 0.2. With the tilt free the
    // standard errors are those of the inverse of the three equations.
    let slope = 0.2;
    let c = |x: f64, s: f64| x + 1.2 * s / f64::hypot(s, 1.0);
    let rows =
        [[0.0, -1.0, 75.0 + dx], [-slope, -1.0, c(110.0 + dx, -slope)], [slope, -1.0, c(150.0 + dx, slope)]];
    let inverse = inverse(rows);
    let error = TOUCH * inverse[0].iter().map(|v| v * v).sum::<f64>().sqrt();
    let told = found.x.expect("X is told").error;
    assert!((told - error).abs() < 1e-4 * error, "{told} is not {error}");
}

/// By Cramer's rule.
fn inverse(m: [[f64; 3]; 3]) -> [[f64; 3]; 3] {
    let minor = |i: usize, j: usize| {
        let (a, b, c, d) = ((i + 1) % 3, (i + 2) % 3, (j + 1) % 3, (j + 2) % 3);
        m[a][c] * m[b][d] - m[a][d] * m[b][c]
    };
    let det: f64 = (0..3).map(|j| m[0][j] * minor(0, j)).sum();
    std::array::from_fn(|i| std::array::from_fn(|j| minor(j, i) / det))
}

/// Plane geometry: on an arc of radius R that bulges up the nose's centre runs on radius R + r, in a hollow on R − r.
#[test]
fn a_round_nose_on_an_arc() {
    let r = 1.2;
    for (big, sign) in [(40.0, 1.0), (40.0, -1.0)] {
        let arc = |x: f64| sign * (big * big - (x - 100.0) * (x - 100.0)).sqrt();
        let steps = 6_000;
        let points: Vec<(f64, f64)> =
            (0..=steps).map(|i| 85.0 + 30.0 * f64::from(i) / f64::from(steps)).map(|x| (x, arc(x))).collect();
        let ground = exact(&points, &tool(), 0.0);
        let rolls = big + sign * r;
        for x in [92.0, 100.0, 107.5] {
            let met = ground.touch(x);
            let z = sign * (rolls * rolls - (x - 100.0) * (x - 100.0)).sqrt() - r;
            // The chords of 0.005 mm lie 8e-8 mm inside the arc.
            assert!((met.z - z).abs() < 1e-6, "{big} {sign} at {x}: {} is not {z}", met.z);
            let contact = 100.0 + (x - 100.0) * big / rolls;
            assert!((met.contact - contact).abs() < 0.005, "{big} {sign} at {x}: {met:?} is not {contact}");
        }
    }
}

/// A shim lifts the tool by its thickness on a flat exactly, and by √(1 + s²) times that on a slope s.
#[test]
fn a_shim_moves_z_exactly() {
    let bare = exact(&VALLEY, &tool(), 0.0);
    let shim = exact(&VALLEY, &tool(), 0.05);
    for (x, slope) in [(75.0, 0.0), (110.0, -0.2), (150.0, 0.2), (185.0, 0.0)] {
        let lifted = shim.touch(x).z - bare.touch(x).z;
        let expected = 0.05 * f64::hypot(1.0, slope);
        assert!((lifted - expected).abs() < 1e-12, "at {x}: {lifted} is not {expected}");
    }
}

/// Of all places on a valley with flats, those chosen tell more than any even spread; and without slopes X is not told.
#[test]
fn the_places_chosen_tell_most() {
    let ground = exact(&VALLEY, &tool(), 0.0);
    let all: Vec<_> = (32..98).filter_map(|i| point(&ground, 2.0 * f64::from(i), TOUCH)).collect();
    let chosen = choose(&all, 3).expect("there are enough");
    assert_eq!(chosen.tells, Tells::All);
    let slopes: Vec<f64> = chosen.points.iter().map(|p| p.slope).collect();
    assert!(slopes.iter().any(|s| *s > 0.1) && slopes.iter().any(|s| *s < -0.1), "{slopes:?}");
    let error = |points: &[facewright::face::touch_check::TouchPoint]| {
        let z: Vec<f64> = points.iter().map(|p| p.z).collect();
        let found = solve(&ground, points, &z, Tells::All).ok()?;
        let m = &found.covariance;
        let det = m.get(0, 0) * (m.get(1, 1) * m.get(2, 2) - m.get(1, 2).powi(2))
            - m.get(0, 1) * (m.get(0, 1) * m.get(2, 2) - m.get(1, 2) * m.get(0, 2))
            + m.get(0, 2) * (m.get(0, 1) * m.get(1, 2) - m.get(1, 1) * m.get(0, 2));
        Some(det)
    };
    let best = error(&chosen.points).expect("told");
    let straight = |p: &facewright::face::touch_check::TouchPoint| {
        [90.0, 130.0, 170.0].iter().all(|k| (p.at - k).abs() > 2.5)
    };
    let places: Vec<_> = all.iter().filter(|p| straight(p)).step_by(3).copied().collect();
    let mut tried = 0;
    for (i, a) in places.iter().enumerate() {
        for (j, b) in places.iter().enumerate().skip(i + 1) {
            for c in places.iter().skip(j + 1) {
                let Some(other) = error(&[*a, *b, *c]) else { continue };
                tried += 1;
                assert!(
                    best <= other * (1.0 + 1e-9),
                    "{:?} tells less than {}, {}, {}",
                    chosen.points,
                    a.at,
                    b.at,
                    c.at
                );
            }
        }
    }
    assert!(tried > 100, "{tried}");
    let flat = exact(&[(60.0, 0.0), (200.0, 0.0)], &tool(), 0.0);
    let all: Vec<_> = (32..98).filter_map(|i| point(&flat, 2.0 * f64::from(i), TOUCH)).collect();
    let chosen = choose(&all, 3).expect("there are enough");
    assert_eq!(chosen.tells, Tells::NotX);
    let found = solve(&flat, &chosen.points, &[0.02; 3], Tells::NotX).expect("Z is told");
    assert!(found.x.is_none() && (found.z.value + 0.02).abs() < 1e-12, "{found:?}");
}

/// One touch that went wrong shows where one more was made than there are unknowns.
#[test]
fn a_wrong_touch_shows() {
    let ground = exact(&VALLEY, &tool(), 0.0);
    let at = [65.0, 110.0, 150.0, 195.0];
    let mut readings = at.map(|x| ground.touch(x).z);
    assert!(told(&ground, &at, &readings).expect("told").fits());
    readings[3] += 0.15;
    let found = told(&ground, &at, &readings).expect("told");
    assert!(!found.fits(), "{found:?}");
}

/// The turn of the made-up wheels is looked at finely enough for the readings drawn from it.
#[test]
fn the_generator_knows_its_highest_place() {
    let known = Known::of(90_001);
    let fine = |r: f64| known.turn(r, 7_200).fold(f64::NEG_INFINITY, f64::max);
    assert!((fine(200.0) - known.over_the_turn(200.0)[1]).abs() < 2.5e-4);
}
