//! False readings told from damage, both of which leave the face: by what they are among themselves.
//!
//! Metal that is gone has a floor: each reading on it lies near the line between its neighbours in radius, whatever its
//! sides are. False readings scatter, or sound ones stand between them (a second sweep found the face there). How far the
//! readings of the core of a run lie off the line between their neighbours is therefore held against the noise, and
//! against what the curvature of a floor of so few readings makes of it.
//!
//! Limits: false readings that agree with each other within the noise look like a nick; a furrowed floor of some length
//! scatters too, so that long runs are never judged by this.

use super::damage::Residual;
use crate::numeric::order::sigma_about_zero;

/// Readings that lie off by less than this share of the run's depth are its sides, not its core.
const CORE: f64 = 0.3;
/// A core of so few readings has no floor that could be measured: its depth is a mean of three.
const FEWEST: usize = 3;
/// And is told as false where it stands off by more than this, millimetres: less may be the face's own error on a wall.
const PLAIN: f64 = 0.05;
/// False readings follow each other over no more than this, millimetres; a longer run may be furrowed.
const LONGEST: f64 = 3.0;
/// Scatter beyond this many times the noise is none of noise.
const BEYOND: f64 = 4.0;
/// And beyond this, millimetres: texture, and the last digit of a coarse sensor.
const LEAST: f64 = 0.01;
/// A round floor of depth d and n readings lies off the chords between its readings: a parabola that rises by 0.7·d (the core's
/// height) over n spacings lies off each chord by `2.8·d/n²`, of which noise of `2.3·d/n²` would make as much.
const ROUND: f64 = 2.5;
/// What a floor's own unevenness may add, as a share of its depth.
const UNEVEN: f64 = 0.02;

/// Whether the readings of a run, in rising radius, are false; `side` is −1 for below the face, 1 for above.
pub(super) fn is_false(run: &[Residual], depth: f64, noise: f64, side: f64) -> bool {
    let off = |r: &Residual| side * r.left > CORE * depth;
    let (Some(first), Some(last)) = (run.iter().position(off), run.iter().rposition(off)) else {
        return true;
    };
    let core = run.get(first..=last).unwrap_or(&[]);
    let allowed = core.iter().map(|r| r.allowed).fold(0.0, f64::max);
    if core.iter().filter(|r| off(r)).count() <= FEWEST {
        let furthest = core.iter().map(|r| side * r.left).fold(0.0, f64::max);
        return furthest > PLAIN + BEYOND * noise + allowed;
    }
    let (Some(from), Some(to)) = (core.first(), core.last()) else { return true };
    if to.x - from.x > LONGEST {
        return false;
    }
    let count = core.len() as f64;
    scatter(core).is_some_and(|scatter| {
        scatter > BEYOND * noise + LEAST + allowed + (ROUND / (count * count) + UNEVEN) * depth
    })
}

/// How far readings lie off the line between their neighbours in radius, as the standard deviation that such noise has.
fn scatter(readings: &[Residual]) -> Option<f64> {
    let mut offs: Vec<f64> = readings
        .windows(3)
        .filter_map(|three| {
            let [a, b, c] = three else { return None };
            let t = if c.x > a.x { (b.x - a.x) / (c.x - a.x) } else { 0.5 };
            let off = b.left - (a.left + (c.left - a.left) * t);
            Some(off / (1.0 + t * t + (1.0 - t) * (1.0 - t)).sqrt())
        })
        .collect();
    // One reading alone may be a wild one on a floor that is otherwise even.
    if offs.len() < 4 {
        let squares: f64 = offs.iter().map(|o| o * o).sum();
        return (!offs.is_empty()).then(|| (squares / offs.len() as f64).sqrt());
    }
    sigma_about_zero(&mut offs)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::face::tests::noise;

    const NOISE: f64 = 0.008;

    fn run(n: usize, depth: impl Fn(usize, f64) -> f64) -> Vec<Residual> {
        (0..n)
            .map(|index| {
                let u = (index as f64 + 0.5) / n as f64;
                let left = -depth(index, u) + NOISE * noise(5, index);
                Residual { index, x: 100.0 + 0.1 * index as f64, left, weight: 1.0, allowed: 0.002 }
            })
            .collect()
    }

    #[test]
    fn floors_are_metal_whatever_their_sides() {
        for n in [6, 8, 12, 25] {
            for depth in [0.08, 0.3, 1.0] {
                let upright = run(n, |_, _| depth);
                let steep = run(n, |_, u| depth * (std::f64::consts::PI * u).sin().sqrt());
                let gentle = run(n, |_, u| depth * (std::f64::consts::PI * u).sin().powi(2));
                for (name, run) in [("upright", upright), ("steep", steep), ("gentle", gentle)] {
                    assert!(!is_false(&run, depth, NOISE, -1.0), "{name}, {n} readings, {depth} mm");
                }
            }
        }
    }

    #[test]
    fn readings_that_scatter_or_stand_among_sound_ones_are_false() {
        // Seven readings as a sensor over a glint gave them.
        let seven = [0.93, 1.33, 0.81, 1.21, 0.88, 1.30, 1.02];
        assert!(is_false(&run(7, |i, _| seven[i]), 1.2, NOISE, -1.0));
        // The second sweep found the face between them.
        assert!(is_false(&run(12, |i, _| if i % 2 == 0 { 0.4 } else { 0.0 }), 0.25, NOISE, -1.0));
        // One alone, and its sound neighbours.
        assert!(is_false(&run(9, |i, _| if i == 4 { 0.3 } else { 0.0 }), 0.1, NOISE, -1.0));
        let above: Vec<Residual> =
            run(7, |i, _| seven[i]).into_iter().map(|r| Residual { left: -r.left, ..r }).collect();
        assert!(is_false(&above, 1.2, NOISE, 1.0));
    }
}
